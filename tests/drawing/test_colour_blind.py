"""What differs to an eye without one sort of cone: dash, casing and shape tell apart what colour does not.

Simulation: "A Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE Transactions on
Visualization and Computer Graphics 15 (6), 2009, matrices of full severity, in linear sRGB (from memory). Distance:
OKLab, published 2020 (from memory); in hundredths of the way from black to white, four is what an eye still tells
apart on a line (common practice, no source).
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from loopwright.drawing.look import CONTROL, PALETTES, SERVICES, ServiceLook
from loopwright.drawing.store import LAYER_STOPS
from loopwright.drawing.writing import flag_shape

EYES = {
    "usual": np.eye(3),
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
TO_CONES = [[0.4122214708, 0.5363325363, 0.0514459929], [0.2119034982, 0.6806995451, 0.1073969566],
            [0.0883024619, 0.2817188376, 0.6299787005]]  # fmt: skip
TO_LAB = [[0.2104542553, 0.7936177850, -0.0040720468], [1.9779984951, -2.4285922050, 0.4505937099],
          [0.0259040371, 0.7827717662, -0.8086757660]]  # fmt: skip
LEAST = 4.0
LINES = {**SERVICES, "control": CONTROL}


def seen(colour: str, eye: str) -> np.ndarray:
    """Linear sRGB of a colour as an eye sees it."""
    parts = np.array([int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return np.clip(np.array(EYES[eye]) @ linear, 0.0, 1.0)


def apart(one: str, two: str, eye: str) -> float:
    """Distance of two colours in OKLab, times a hundred."""
    labs = [np.array(TO_LAB) @ np.cbrt(np.array(TO_CONES) @ seen(colour, eye)) for colour in (one, two)]
    return float(100.0 * np.linalg.norm(labs[0] - labs[1]))


def contrast(one: str, two: str, eye: str) -> float:
    """WCAG 2.1 contrast ratio of two colours as an eye sees them."""
    a, b = sorted((float(np.dot((0.2126, 0.7152, 0.0722), seen(c, eye))) for c in (one, two)), reverse=True)
    return (a + 0.05) / (b + 0.05)


def drawn_alike(one: ServiceLook, two: ServiceLook) -> bool:
    """Whether two lines would be one without their colour: neither casing nor dash tells them apart."""
    if one.cased != two.cased or len(one.dash) != len(two.dash):
        return False
    if not one.dash:
        return True
    longer, shorter = sorted((max(line.dash[::2]) * line.mm for line in (one, two)), reverse=True)
    return longer < 1.4 * shorter


@pytest.mark.parametrize("eye", EYES)
@pytest.mark.parametrize("palette", ["light", "dark"])
def test_every_two_services_differ_in_more_than_colour_or_clearly_in_it(palette, eye):
    colours = PALETTES[palette]
    for (name, one), (other, two) in combinations(LINES.items(), 2):
        if drawn_alike(one, two):
            assert apart(colours[one.token], colours[two.token], eye) >= LEAST, (name, other)
            assert one.arrow != two.arrow, (name, other)  # a pipe that is not known has no arrow, and a question mark


@pytest.mark.parametrize("eye", EYES)
@pytest.mark.parametrize("palette", ["light", "dark"])
def test_flow_and_return_are_never_one_colour_and_all_lines_stand_out(palette, eye):
    colours = PALETTES[palette]
    assert apart(colours["flow"], colours["ret"], eye) >= 20.0
    for service in LINES.values():
        assert contrast(colours[service.token], colours["paper"], eye) >= 3.0, service.words  # WCAG 2.1, 1.4.11
    for token in ("ink", "ink2", "danger", "fault", "advice", "accent"):
        assert contrast(colours[token], colours["paper"], eye) >= 4.5, token  # WCAG 2.1, 1.4.3


def test_severities_differ_by_shape():
    shapes = {s: len(flag_shape(s, (0.0, 0.0), 1.0)) for s in ("danger", "fault", "advice", "not assessed")}
    assert shapes["danger"] == 8 and shapes["fault"] == 4 and shapes["advice"] > 12
    square, diamond = flag_shape("not assessed", (0.0, 0.0), 1.0), flag_shape("fault", (0.0, 0.0), 1.0)
    assert {abs(x) == abs(y) for x, y in square} == {True} and {x == 0.0 or y == 0.0 for x, y in diamond} == {True}


@pytest.mark.parametrize("eye", EYES)
def test_layers_go_from_cold_to_hot_without_two_alike(eye):
    for (_, cold), (_, warm) in combinations(LAYER_STOPS, 2):
        assert apart(cold, warm, eye) >= LEAST
