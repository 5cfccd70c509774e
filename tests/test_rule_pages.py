"""The explanation pages of the rules and the table of published figures they lean on.

The pages are held to their form and to the table. Figures that can be worked out are held to outside
references: water properties to the international steam tables (IAPWS-IF97, library `iapws`), pipe contents to
plain geometry. The figures most relied on are held to the published page named beside each.
"""

from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from iapws import IAPWS97

from loopwright.resources import resource_root

RULES = resource_root() / "rules"
PAGES = sorted(RULES.glob("*/*.md"))
FACTS: dict[str, dict[str, Any]] = tomllib.loads((resource_root() / "sources.toml").read_text(encoding="utf-8"))
SECTIONS = ["What is looked at", "Why it matters", "Example", "Repair", "Limits"]
SORTS = {"power cut", "valve shut", "one pump alone", "all idle"}
"""Conditions that `loopwright.rules.replay` can play."""
THEMES = {
    "solid-fuel", "gravity-loop", "vent-and-feed", "order", "sealed", "tapping", "circuit", "domestic",
    "discharge", "underfloor", "control", "solar", "sizing",
}  # fmt: skip
STANDARD_GRAVITY_M_S2 = 9.80665


def split_page(path: Path) -> tuple[dict[str, Any], dict[str, str]]:
    """Front matter and the text under each heading, in order."""
    blank, front, body = path.read_text(encoding="utf-8").split("+++\n", 2)
    assert blank == ""
    parts = re.split(r"^## (.+)\n", body, flags=re.M)
    assert parts[0].strip() == ""
    return tomllib.loads(front), {name: text.strip() for name, text in zip(parts[1::2], parts[2::2])}


def density_kg_m3(temp_c: float) -> float:
    """Liquid water at 5 bar, so that it stays liquid up to 110 degC; from IAPWS-IF97."""
    return float(IAPWS97(T=temp_c + 273.15, P=0.5).rho)


def slug(path: Path) -> str:
    return f"{path.parent.name}/{path.stem}"


def test_every_theme_has_pages() -> None:
    assert {path.parent.name for path in PAGES} == THEMES


@pytest.mark.parametrize("path", PAGES, ids=slug)
def test_page_has_its_front_matter_and_sections(path: Path) -> None:
    front, sections = split_page(path)
    assert set(front) - {"when"} == {"title", "severity", "sources", "view"}
    assert set(front.get("when", "").split(", ")) <= SORTS | {""}
    assert front["severity"] in {"danger", "fault", "advice"}
    assert front["title"] and front["title"][0].isupper() and not front["title"].endswith(".")
    assert front["view"]
    assert list(sections) == SECTIONS
    assert all(sections.values())
    assert re.fullmatch(r"Wrong: .+\n\nRight: .+", sections["Example"]), "Wrong: one sentence, a blank line, Right: one"


@pytest.mark.parametrize("path", PAGES, ids=slug)
def test_page_is_short_and_free_of_code_words(path: Path) -> None:
    _, sections = split_page(path)
    text = "\n".join(sections.values())
    assert 100 <= len(text.split()) <= 270, "a page has 100 to 270 words"
    assert "`" not in text and "_" not in text
    assert not re.search(r"\b[a-z]+-[a-z]+/[a-z-]+\b", text), "a rule's short name is no trade word"
    assert "degC" not in text


def trust(fact: dict[str, Any]) -> str:
    """How far a figure is to be trusted, as a page says it."""
    return {
        "practice": "Common practice, no source.",
        "recalled": f"Recalled, to be confirmed: {fact['source']}.",
        "seen": f"Seen: {fact['source']}.",
    }[fact["confidence"]]


@pytest.mark.parametrize("path", PAGES, ids=slug)
def test_limits_state_each_figure_as_the_table_does(path: Path) -> None:
    front, sections = split_page(path)
    limits = sections["Limits"]
    bullets = [line for line in limits.splitlines() if line.startswith("- ")]
    assert len(set(front["sources"])) == len(front["sources"])
    wanted = [(FACTS[key]["says"], trust(FACTS[key])) for key in front["sources"]]
    fits = len(bullets) == len(wanted) and all(a in line and b in line for (a, b), line in zip(wanted, bullets))
    assert fits, "Limits should be:\n" + "\n".join(f"- {says} {trusted}" for says, trusted in wanted)


@pytest.mark.parametrize("path", PAGES, ids=slug)
def test_no_danger_or_fault_rests_on_unsourced_practice_alone(path: Path) -> None:
    front, sections = split_page(path)
    seen = {FACTS[key]["confidence"] for key in front["sources"]}
    rests_on_drawing = not sections["Limits"].startswith("- ")
    enough = {"danger": {"seen"}, "fault": {"seen", "recalled"}, "advice": {"seen", "recalled", "practice"}}
    wanted = enough[front["severity"]]
    assert rests_on_drawing or seen & wanted, f"a {front['severity']} needs a source that is {' or '.join(wanted)}"


def test_titles_are_told_apart() -> None:
    titles = [split_page(path)[0]["title"] for path in PAGES]
    assert len(set(titles)) == len(titles)


@pytest.mark.parametrize("key", FACTS)
def test_every_figure_has_source_and_confidence(key: str) -> None:
    fact = FACTS[key]
    assert {"says", "unit", "source", "confidence"} <= set(fact)
    assert set(fact) <= {"says", "value", "formula", "unit", "source", "confidence", "computed", "doubt"}
    assert not {"value", "formula"} <= set(fact), "either a number or a formula"
    assert fact["confidence"] in {"seen", "recalled", "practice"}
    assert fact["source"].strip() and fact["says"].strip().endswith(".")
    assert (fact["confidence"] == "practice") == (fact["source"] == "common practice, no source")
    if "value" in fact:
        numbers = fact["value"] if isinstance(fact["value"], list) else [fact["value"]]
        assert numbers and all(isinstance(n, (int, float)) and not isinstance(n, bool) for n in numbers)
        assert fact["unit"]


@pytest.mark.parametrize("key", [key for key in FACTS if re.fullmatch(r"exp\.\d+", key)])
def test_expansion_of_water_agrees_with_the_steam_tables(key: str) -> None:
    # IAPWS-IF97; the table is for water at its own pressure, 5 bar changes the density by about 0.02 %
    temp_c = float(key.removeprefix("exp."))
    percent = (density_kg_m3(10.0) / density_kg_m3(temp_c) - 1.0) * 100.0
    assert FACTS[key]["value"] == pytest.approx(percent, abs=0.03)


@pytest.mark.parametrize("flow_c, return_c", [(80, 60), (75, 55), (70, 50), (90, 70)])
def test_gravity_drive_agrees_with_the_steam_tables(flow_c: float, return_c: float) -> None:
    low, high = FACTS["sf.primary.drive"]["value"]
    drive = (density_kg_m3(return_c) - density_kg_m3(flow_c)) * STANDARD_GRAVITY_M_S2  # Pa per metre
    assert low - 1.0 <= drive <= high + 1.0


def test_heat_content_agrees_with_the_steam_tables() -> None:
    water = IAPWS97(T=273.15 + 20.0, P=0.1)
    assert FACTS["store.heat"]["value"] == pytest.approx(water.cp / 3.6 * water.rho / 1000.0, rel=0.01)


@pytest.mark.parametrize("key", [key for key in FACTS if FACTS[key]["unit"] == "mm (OD, wall, bore)"])
def test_bore_and_content_follow_from_diameter_and_wall(key: str) -> None:
    outside_mm, wall_mm, bore_mm = FACTS[key]["value"]
    assert bore_mm == pytest.approx(outside_mm - 2.0 * wall_mm, abs=0.11)
    stated = re.search(r"holds ([\d.]+) l", FACTS[key]["says"])
    assert stated is not None
    assert float(stated[1]) == pytest.approx(math.pi * (bore_mm / 1000.0) ** 2 / 4.0 * 1000.0, abs=0.002)


@pytest.mark.parametrize(
    "key, figure",
    [
        ("sf.vent.od.min", 22),  # plumbing textbook figure for a vent, solid fuel included
        ("sf.feed.od.min", 15),  # plumbing textbook; boiler manuals
        ("sf.primary.od.min", 28),  # three stove installation manuals
        ("sf.leak.kw.min_dhw", 1.0),  # stove manual
        ("sf.leak.kw.min_nodhw", 1.25),  # the same stove manual
        ("sf.plastic.copper_first", 1),  # gas boiler manual
        ("sf.vented.pmax", 2),  # scope of EN 16510-2-4
        ("vent.rise.base", 150),  # guidance to the Water Fittings Regulations, G20.3
        ("vent.rise.per_m", 40),  # the same
        ("vent.rise.practice", 450),  # home-plumbing page
        ("vent.bore.min", 19),  # Approved Document G, from memory
        ("vent.feed.gap.max", 150),  # plumbing textbook
        ("fe.overflow.bore", 19),  # home-plumbing page; guidance to the Water Fittings Regulations
        ("g3.stored.max", 100),  # Building Regulations, requirement G3(3)
        ("g3.bath", 48),  # Building Regulations, requirement G3(4)
        ("g3.d1.len.max", 600),  # Approved Document G diagrams in two manuals
        ("g3.d2.drop", 300),  # Approved Document G 3.56 in manuals
        ("leg.store.min", 60),  # HSG274 part 2
        ("store.en303_5.min", 300),  # EN 303-5, from memory
        ("tmv.bath", 44),  # mixing valve tables in three manuals
        ("ctl.ufh.limit", 55),  # EN 1264, by a floor heating page
    ],
)
def test_the_limits_most_relied_on(key: str, figure: float) -> None:
    assert FACTS[key]["value"] == figure


def test_discharge_pipe_table_passes_its_worked_example() -> None:
    # worked example to Approved Document G in manuals: G 1/2, 7 m, four bends; 22 mm fails, 28 mm passes
    for key, passes in (("g3.d2.h9", False), ("g3.d2.h18", True)):
        _, _, greatest_m, each_bend_m = FACTS[key]["value"]
        assert (7.0 + 4 * each_bend_m <= greatest_m) is passes
