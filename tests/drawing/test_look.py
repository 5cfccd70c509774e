"""Colours and sizes against the WCAG 2.1 contrast formula and plain arithmetic of scale."""

from __future__ import annotations

import pytest

from loopwright.drawing.ink import faded
from loopwright.drawing.look import DARK, LIGHT, PRINT, SERVICES, Look, box_to_units, to_metres, to_units
from loopwright.drawing.store import LAYER_STOPS, layer_colour


def luminance(colour: str) -> float:
    """WCAG 2.1, definition of relative luminance."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, two: str) -> float:
    """WCAG 2.1, definition of contrast ratio."""
    a, b = sorted((luminance(one), luminance(two)), reverse=True)
    return (a + 0.05) / (b + 0.05)


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_text_and_lines_stand_out_from_paper(palette):
    # WCAG 2.1 success criteria 1.4.3 (text 4.5) and 1.4.11 (graphics 3)
    for token in ("ink", "ink2", "ink3", "accent", "danger", "fault", "advice"):
        assert contrast(palette[token], palette["paper"]) >= 4.5, token
    for service in SERVICES.values():
        assert contrast(palette[service.token], palette["paper"]) >= 3.0, service.token


@pytest.mark.parametrize("palette", ["light", "dark"])
def test_idle_pipes_keep_three_to_one(palette):
    # WCAG 2.1 success criterion 1.4.11, on what a condition fades
    look = Look(palette=palette)
    for service in SERVICES.values():
        assert contrast(faded(look, service.token), look.colour("paper")) >= 3.0, service.token


def test_palettes_name_the_same_tokens():
    assert set(LIGHT) == set(DARK) == set(PRINT)


def test_services_of_one_colour_differ_in_dash_or_casing():
    seen = {}
    for name, service in SERVICES.items():
        key = (service.token, service.dash, service.cased)
        assert key not in seen, (name, seen[key])
        seen[key] = name


@pytest.mark.parametrize("scale", [20, 25, 50])
def test_a_metre_on_paper(scale):
    # a metre at 1 : scale is 1000/scale millimetres of paper (arithmetic of scale)
    look = Look.on_paper(scale)
    assert 100.0 / look.mm == pytest.approx(1000.0 / scale)
    assert look.pen(0.70) / look.mm == pytest.approx(0.70)


def test_pens_stay_as_they_are_between_half_and_double():
    widths = {round(Look(1.25 * zoom).pen(0.70) * 1.25 * zoom, 6) for zoom in (0.5, 0.8, 1.0, 1.5, 2.0)}
    assert len(widths) == 1
    assert Look(1.25 * 0.1).pen(0.2) * 1.25 * 0.1 >= 0.8


def test_heights_turn_over_once():
    assert to_units((1.5, 2.6)) == (150.0, -260.0)
    assert to_metres(to_units((1.234, -5.678))) == pytest.approx((1.234, -5.678))
    assert box_to_units((0.0, 1.0, 2.0, 3.0)) == (0.0, -300.0, 200.0, -100.0)


def test_layer_colours_pass_through_their_stops():
    for temperature, colour in LAYER_STOPS:
        assert layer_colour(temperature).upper() == colour
    assert layer_colour(-5) == LAYER_STOPS[0][1] and layer_colour(120) == LAYER_STOPS[-1][1]
