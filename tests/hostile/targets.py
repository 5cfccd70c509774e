"""What is fed with spoiled input: each target makes one input from a seed and feeds it to one door of the program.

Owns the doors and the good input that is spoiled. `watch` judges what comes of it. A command may take longer than
two seconds: where its words happen to be right, it solves flows and writes reports.
"""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

from loopwright.catalogue import Catalogue, standard_catalogue
from loopwright.catalogue.reader import build_kind, load_catalogue
from loopwright.drawing.symbols import parse_symbol
from loopwright.engineering.runs.day import load_day
from loopwright.errors import FileError, LoopwrightError
from loopwright.files.reader import load, loads
from loopwright.files.writer import dumps
from loopwright.lessons.progress import Progress
from loopwright.lessons.reader import read_lesson, starting_sheet
from loopwright.resources import resource_root
from loopwright.units import parse, show

from .spoil import TOKENS, spoil_bytes, spoil_text, spoil_tree, toml_of

ROOT = Path(__file__).parents[2]


@dataclass
class Target:
    """One door: `make` an input from chance and what was interesting before; `feed` it. Feeding raises LoopwrightError
    for a refusal, anything else for a defect."""

    name: str
    make: Callable[[Random, Any], Any]
    feed: Callable[[Any, Path], object]
    seeds: Callable[[], list[Any]]
    share: float
    """Part of all inputs that go to it."""
    longest_s: float = 2.0
    traced: bool = True
    """Whether inputs are kept by the lines that they reach; what is slow in itself is not."""
    found: list[Any] = field(default_factory=list)
    """Inputs that led somewhere new, to be spoiled further."""

    def draw(self, r: Random) -> Any:
        """The next input."""
        good = self.found if self.found and r.random() < 0.5 else self.seeds()
        while True:
            try:
                return self.make(r, r.choice(good))
            except (RecursionError, OverflowError, ValueError):  # spoiled so far that we cannot write it ourselves
                good = self.seeds()


# -- sheets -----------------------------------------------------------------------------------------------------------


@cache
def _small_sheets() -> list[bytes]:
    """Sheets with everything in them, small first: a damaged large one says no more than a damaged small one."""
    found = sorted((resource_root() / "rules").glob("*/*.loopwright"), key=lambda p: p.stat().st_size)
    return [p.read_bytes() for p in found[: len(found) // 2 : 4]]


@cache
def _trees() -> list[Any]:
    return [json.loads(data) for data in _small_sheets()]


def _sheet_bytes(r: Random, data: bytes) -> bytes:
    if r.random() < 0.03:
        return _bulk(r)
    return spoil_bytes(r, data)


def _bulk(r: Random) -> bytes:
    deep = r.choice((50, 900, 5000, 100_000))
    return r.choice(
        (
            b"[" * deep,
            b'{"a":' * deep,
            b"[" * deep + b"]" * deep,
            b"9" * deep,
            b'"' + b"\\u0000" * deep + b'"',
            b'{"format":"loopwright-sheet","version":1,"title":"' + b"x" * deep + b'"}',
            b"\xef\xbb\xbf" * 3,
            b"\x00" * deep,
            b'{"format":"loopwright-sheet","version":' + b"1" * min(deep, 5000) + b"}",
            b"-" * deep,
            b"[1," * deep,
        )
    )


def _feed_sheet(data: bytes, _folder: Path) -> object:
    sheet = loads(data)
    written = dumps(sheet)
    if loads(written) != sheet:
        raise AssertionError("a sheet that was read is another one when it is written and read again")
    return sheet


def _feed_whole(data: bytes, _folder: Path) -> object:
    """What is no sheet is refused; of a sheet, however odd, everything can be said."""
    from loopwright.drawing.svg import sheet_svg
    from loopwright.lessons.order import order_of_sheet
    from loopwright.survey import survey

    sheet, kinds = loads(data), standard_catalogue()
    return survey(sheet, kinds), sheet_svg(sheet, kinds, {}), order_of_sheet(sheet, kinds)


def _sheet_tree(r: Random, tree: Any) -> bytes:
    if isinstance(tree, bytes):  # one that was interesting before
        try:
            tree = json.loads(tree)
        except (ValueError, RecursionError):
            return spoil_bytes(r, tree)
    spoiled = spoil_tree(r, tree, unreal=True)
    return json.dumps(spoiled, ensure_ascii=r.random() < 0.7).encode("utf-8", "surrogatepass")


# -- kinds and their symbols ------------------------------------------------------------------------------------------


@cache
def _kind_files() -> list[str]:
    return [p.read_text(encoding="utf-8") for p in sorted((resource_root() / "parts").glob("[a-z]*.toml"))]


@cache
def _kind_tables() -> list[Any]:
    tables = []
    for text in _kind_files():
        plain = tomllib.loads(text)
        group = plain.pop("group", "")
        for name, table in plain.items():
            tables.append({"group": group, f"own_{name}": table})
    return tables


@cache
def _kind_texts() -> list[str]:
    """Pieces of the shipped files with their ids changed, so that they could be somebody's own."""
    return [toml_of(table) for table in _kind_tables()]


def _feed_kinds(text: str, folder: Path) -> object:
    (folder / "own.toml").write_bytes(text.encode("utf-8", "surrogatepass"))
    return _own(folder)


def _own(folder: Path) -> Catalogue:
    return load_catalogue([folder])


def _raw_kinds() -> list[Any]:
    return _built()


@cache
def _built() -> list[Any]:
    from loopwright.catalogue.reader import _shared, read_kinds

    raw: dict[str, Any] = {}
    for path in sorted((resource_root() / "parts").glob("[a-z]*.toml")):
        raw |= read_kinds(path, raw, _shared("_properties.toml"))
    return list(raw.values())


def _feed_kind(table: Any, _folder: Path) -> object:
    return build_kind({**table, "id": "own"}, "own.toml")


def _feed_kind_in_use(table: Any, folder: Path) -> object:
    """A kind that is taken can be placed, piped, drawn and judged."""
    from loopwright import draw
    from loopwright.drawing.svg import sheet_svg
    from loopwright.errors import SheetError
    from loopwright.survey import survey

    kinds = Catalogue([*standard_catalogue(), _feed_kind(table, folder)])
    s = draw.sheet("Own", catalogue=kinds)
    own = s.add("own", "own1", x_m=1.0, height_m=0.5)
    other = s.add("pump", "P1", x_m=4.0, height_m=1.0)
    for port in kinds["own"].ports[:1]:
        try:
            s.pipe(own[port.name], other["a"])
        except SheetError:
            break
    sheet = s.done()
    if loads(dumps(sheet), kinds) != sheet:
        raise AssertionError("a sheet with a person's own kind is another one when it is read again")
    return survey(sheet, kinds), sheet_svg(sheet, kinds, {})


@cache
def _symbols() -> list[bytes]:
    return [p.read_bytes() for p in sorted((resource_root() / "symbols").glob("*.svg"))]


SVG_TRICKS = [
    b"<script>alert(1)</script>",
    b'<image href="http://0/x.png"/>',
    b'<use xlink:href="#a"/>',
    b'<use href="#a" id="a"/>',
    b"<style>@import url(http://0)</style>",
    b"<foreignObject><b/></foreignObject>",
    b' onload="alert(1)"',
    b'<!DOCTYPE a [<!ENTITY b "c">]>',
    b"&b;",
    b"<g>" * 400,
    b'<path d="' + b"M0 0" + b"l1 1" * 5000 + b'"/>',
    b'<path d="M0 0A1e300 1e-300 9 0 1 1e300 0"/>',
    b'<circle cx="0" cy="0" r="1e300"/>',
    b'<rect x="nan" width="inf"/>',
    b'<a href="javascript:0">',
    b'<?xml-stylesheet href="http://0"?>',
    b"<!--" + b"-" * 50,
    b"<![CDATA[<script>]]>",
    b'<path d="M0,0C1e308,1e308-1e308,9e307,1,1"/>',
    b'<text x="0" y="0" font-size="1e300" text-anchor="middle">&#0;</text>',
]


def _svg(r: Random, data: bytes) -> bytes:
    if r.random() < 0.3:
        at = data.find(b">", r.randrange(len(data) + 1))
        return data[: at + 1] + r.choice(SVG_TRICKS) + data[at + 1 :]
    return spoil_bytes(r, data)


def _feed_symbol(data: bytes, _folder: Path) -> object:
    return parse_symbol(data, "own.svg")


# -- lessons, days, progress ------------------------------------------------------------------------------------------


@cache
def _lessons() -> list[Any]:
    skip = ("courses", "misconceptions")
    return [
        tomllib.loads(p.read_text(encoding="utf-8"))
        for p in sorted((resource_root() / "lessons").glob("*.toml"))
        if p.stem not in skip
    ]


def _spoiled_toml(r: Random, tree: Any) -> str:
    if isinstance(tree, str):  # one that was interesting before
        return spoil_text(r, tree, 20_000)
    text = toml_of(spoil_tree(r, tree, unreal=True)) if r.random() < 0.8 else toml_of(tree)
    return spoil_text(r, text, 20_000) if r.random() < 0.3 else text


def _feed_lesson(text: str, folder: Path) -> object:
    path = folder / "S1.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    sheet = folder / "S1.loopwright"
    if not sheet.exists():
        sheet.write_bytes((resource_root() / "lessons" / "S1.loopwright").read_bytes())
    lesson = read_lesson(path)
    return starting_sheet(lesson)


@cache
def _lesson_one() -> list[Any]:
    return [t for t in _lessons() if t.get("id") == "S1"] * 3 + [{**t, "id": "S1"} for t in _lessons()]


@cache
def _days() -> list[Any]:
    return [tomllib.loads(p.read_text(encoding="utf-8")) for p in sorted((resource_root() / "days").glob("*.toml"))]


def _feed_day(text: str, folder: Path) -> object:
    path = folder / "day.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    return load_day(path)


PROGRESS = [{"version": 1, "lessons": {"S1": {"attempts": 1, "best": 80, "passed": True, "missed": {"a/b": 1}}}}]


def _feed_progress(data: bytes, folder: Path) -> object:
    path = folder / "progress.json"
    path.write_bytes(data)
    return Progress(path).standings


# -- units ------------------------------------------------------------------------------------------------------------

TYPED = [
    "28 mm",
    "1 1/2 in",
    "6 ft 2 in",
    "20,000 Btu/h",
    "80 °C",
    "1 h 30 min",
    "12 l/min",
    "-3",
    "½ in",
    "3 bar",
    ".5",
    "2.5e3 W",
    "18 °F",
    "55 gal",
    "0.8 m/s",
    "300 Pa/m",
    "10 %",
    "40°",
]
UNITS = [
    "mm",
    "m",
    "degC",
    "K",
    "l/min",
    "",
    "kW",
    "W",
    "bar",
    "l",
    "m²",
    "%",
    "deg",
    "h",
    "W/K",
    "kg/h",
    "m³/h",
    "kWh",
]


def _typed(r: Random, good: tuple[str, str]) -> tuple[str, str]:
    text = spoil_text(r, good[0], 90)
    return (r.choice(TOKENS) + text if r.random() < 0.1 else text, r.choice(UNITS))


def _feed_units(said: tuple[str, str], _folder: Path) -> object:
    value = parse(said[0], said[1], "imperial" if len(said[0]) % 2 else "metric")
    return show(value, said[1], "imperial"), show(value, said[1])


# -- the command line -------------------------------------------------------------------------------------------------

WORDS = [
    "check",
    "rules",
    "kinds",
    "glossary",
    "lessons",
    "conditions",
    "figures",
    "compare",
    "parts",
    "order",
    "new",
    "picture",
    "run",
    "report",
    "mark",
    "practice",
    "open",
    "--help",
    "-h",
    "--version",
    "--format",
    "json",
    "text",
    "csv",
    "-o",
    "out.svg",
    "out.pdf",
    "small.loopwright",
    "bad.loopwright",
    "none.loopwright",
    ".",
    "--severity",
    "danger",
    "--power-cut",
    "--day",
    "winter",
    "own.toml",
    "--condition",
    "shut:V1",
    "pump-stopped:",
    "--seed",
    "7",
    "-1",
    "99999999999999999999",
    "--faults",
    "0",
    "--sun",
    "nan",
    "inf",
    "1e999",
    "--beside",
    "--force",
    "--folder",
    "S1",
    "../S1",
    "/S1",
    "three-source",
    "../three-source",
    "solid-fuel/heat-leak",
    "../../README",
    "/README",
    "a/b/c",
    "..",
    "heat_store",
    "heat leak",
    "--",
    "-",
    "--width",
    "--scale",
    "--paper",
    "A4",
    "--run",
    "",
    " ",
    "\udcff",
    "é☃",
    "%s",
    "--=",
    "=",
    "-oo",
    "--out=x.svg",
    "x" * 300,
    "x" * 300 + ".loopwright",
    "x" * 300 + "/a.svg",
    "small.loopwright/a.svg",
    "/dev/null",
    "/dev/full",
]


def _argv(r: Random, good: list[str]) -> list[str]:
    args = list(good)
    for _ in range(r.choice((0, 1, 1, 2, 3, 6))):
        at = r.randrange(len(args) + 1)
        if args and r.random() < 0.4:
            args[at - 1] = r.choice(WORDS)
        else:
            args.insert(at, r.choice(WORDS))
    if r.random() < 0.1 and args:
        args[-1] = spoil_text(r, args[-1], 200).replace("\x00", "")
    return args


GOOD = [
    ["check", "small.loopwright"],
    ["rules", "solid-fuel/heat-leak-can-be-shut"],
    ["kinds", "pump"],
    ["glossary", "vent"],
    ["lessons", "S1"],
    ["figures", "small.loopwright"],
    ["parts", "small.loopwright"],
    ["order", "small.loopwright"],
    ["compare", "small.loopwright", "small.loopwright"],
    ["new", "three-source", "-o", "n.loopwright", "--force"],
    ["picture", "small.loopwright", "-o", "p.svg"],
    ["conditions", "small.loopwright"],
    ["mark", "S1", "small.loopwright"],
    ["bad.loopwright"],
    ["check", "."],
]


@contextmanager
def _inside(folder: Path):
    before, kept = Path.cwd(), {k: os.environ.pop(k, None) for k in ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY")}
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)
        os.environ.update({k: v for k, v in kept.items() if v is not None})


def _feed_cli(args: list[str], folder: Path) -> object:
    from click.testing import CliRunner

    from loopwright.cli import cli

    inside = folder / "cli"
    if not inside.is_dir():
        inside.mkdir()
        (inside / "small.loopwright").write_bytes(_small_sheets()[1])
        (inside / "bad.loopwright").write_bytes(b'{"format": "loopwright-sheet", "version": 1, "title": "\\ud800"')
        (inside / "own.toml").write_text('name = "own"\n', encoding="utf-8")
    for made in inside.iterdir():  # what an earlier input wrote is no input
        if made.name not in ("small.loopwright", "bad.loopwright", "own.toml") and made.is_file():
            made.unlink()
    with _inside(inside):
        result = CliRunner().invoke(cli, args)
    if isinstance(result.exception, LoopwrightError):
        str(result.exception.sentence).encode("utf-8", "backslashreplace")
        raise result.exception
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    if result.exit_code not in (0, 1, 2):
        raise AssertionError(f"exit code {result.exit_code}")
    if result.exit_code == 2:
        raise LoopwrightError("usage")
    return result.output


def targets() -> list[Target]:
    """Every door, cheap ones with the larger share."""
    return [
        Target("sheet bytes", _sheet_bytes, _feed_sheet, _small_sheets, 0.384),
        Target("sheet structure", _sheet_tree, _feed_sheet, lambda: _trees(), 0.14),
        Target("sheet in use", _sheet_tree, _feed_whole, lambda: _trees(), 0.003, traced=False),
        Target("units typed", _typed, _feed_units, lambda: [(t, "") for t in TYPED], 0.3),
        Target("symbol", _svg, _feed_symbol, _symbols, 0.05),
        Target("kind table", lambda r, t: spoil_tree(r, t, unreal=True), _feed_kind, _raw_kinds, 0.07),
        Target(
            "kind in use",
            lambda r, t: spoil_tree(r, t, unreal=True),
            _feed_kind_in_use,
            _raw_kinds,
            0.003,
            traced=False,
        ),
        Target("kind file", _spoiled_toml, _feed_kinds, _kind_tables, 0.004),
        Target("kind file text", lambda r, t: spoil_text(r, t, 20_000), _feed_kinds, _kind_texts, 0.004),
        Target("lesson file", _spoiled_toml, _feed_lesson, _lesson_one, 0.01),
        Target("day file", _spoiled_toml, _feed_day, _days, 0.02),
        Target("progress", _sheet_tree, _feed_progress, lambda: PROGRESS, 0.011),
        Target("command line", _argv, _feed_cli, lambda: GOOD, 0.001, longest_s=20.0, traced=False),
    ]


__all__ = ["FileError", "Target", "load", "standard_catalogue", "targets"]
