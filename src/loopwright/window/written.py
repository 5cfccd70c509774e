"""What can be set on words, lines and the title block: notes, dimensions, control links, and what stands on paper.

Owns their rows. Refuses to know widgets; parts and pipes are in `subjects`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, cast

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.sheet import edits
from loopwright.sheet.dimensions import measured_m
from loopwright.sheet.links import CHOICES, POWER_LOSS, driven_places, place_words, sensing_places, sentence
from loopwright.sheet.values import ControlLink, Dimension, Note, Sheet, TitleBlock
from loopwright.window.document import Edit
from loopwright.window.rows import Row, Subject

PAGES = ("A4", "A3", "A2", "A1")
SCALES = (0.0, 10.0, 20.0, 25.0, 50.0, 100.0)


def written(sheet: Sheet, chosen: frozenset[str], catalogue: Catalogue) -> Subject | None:
    """The subject when one note, dimension or control link is chosen; else None."""
    if len(chosen) != 1:
        return None
    one = next(iter(chosen))
    if one in sheet.links:
        return _of_link(sheet, sheet.links[one], catalogue)
    for note in sheet.notes:
        if note.id == one:
            return _of_note(note)
    for dimension in sheet.dimensions:
        if dimension.id == one:
            return _of_dimension(sheet, dimension, catalogue)
    return None


def _of_note(note: Note) -> Subject:
    def text(value: object) -> Edit:
        return lambda s: edits.put_note(s, msgspec.structs.replace(note, text=str(value or "")))

    return Subject(
        f"note/{note.id}",
        "Note",
        note.id,
        (Row("text", "Words", text, note.text, help="What stands on the sheet"),),
        words="Double click the note on the sheet to write in it there.",
    )


def _of_dimension(sheet: Sheet, dimension: Dimension, catalogue: Catalogue) -> Subject:
    def across(value: object) -> Edit:
        x = round(float(cast(float, value)), 3)
        return lambda s: edits.put_dimension(s, msgspec.structs.replace(dimension, x_m=x))

    def up(value: object) -> Edit:
        z = round(float(cast(float, value)), 3)
        return lambda s: edits.put_dimension(s, msgspec.structs.replace(dimension, level_m=z))

    width = dimension.level_m is not None
    height = measured_m(sheet, dimension, catalogue)
    return Subject(
        f"dimension/{dimension.id}",
        "Dimension",
        dimension.id,
        (
            Row(
                "level_m" if width else "x_m",
                "Line stands at",
                up if width else across,
                dimension.level_m if width else dimension.x_m,
                "number",
                "m",
                "Height of the line" if width else "Distance of the line from the left-hand end of the sheet",
                blank=False,
            ),
        ),
        words=f"Measures {height:.2f} m and follows what it stands on." if height is not None else "",
    )


# control links


def _of_link(sheet: Sheet, link: ControlLink, catalogue: Catalogue) -> Subject:
    def setter(name: str) -> Callable[[object], Edit]:
        def made(value: object) -> Edit:
            return lambda s: edits.put_link(s, _changed(s.links[link.id], name, value))

        return made

    def places(found: list[str], now: str) -> tuple[tuple[object, str], ...]:
        every = found if now in found or not now else [now, *found]
        return tuple((place, place_words(sheet, place, catalogue)) for place in every)

    def number(name: str, label: str, unit: str, help_text: str) -> Row:
        return Row(name, label, setter(name), getattr(link, name), "number", unit, help_text)

    sensing = sensing_places(sheet, catalogue)
    difference, clock = link.does == "difference", link.does == "schedule"
    rows = [
        Row("target", "Drives", setter("target"), link.target, "choice",
            choices=places(driven_places(sheet, catalogue), link.target), help="What runs, opens or burns"),
        Row("does", "Condition", setter("does"), link.does, "choice", choices=tuple(CHOICES.items()),
            help="When it does so"),
        Row("sensor", "Sensor", setter("sensor"), link.sensor, "choice", choices=places(sensing, link.sensor),
            help="What is felt: a part, or a pocket of a vessel"),
    ]  # fmt: skip
    if difference:
        second = (("", "not stated"), *places(sensing, link.second))
        rows.append(
            Row("second", "Above", setter("second"), link.second, "choice", choices=second, help="The colder sensor")
        )
        rows.append(number("setting_c", "Starts at", "K", "How much hotter the first sensor is when it starts"))
        rows.append(number("off_c", "Stops at", "K", "How much hotter it still is when it stops"))
    elif not clock:
        rows.append(number("setting_c", "Setting", "°C", "The temperature at which it acts"))
        rows.append(number("off_c", "Until", "°C", "The temperature at which it lets go, where that is set apart"))
        rows.append(number("hysteresis_k", "Hysteresis", "K", "How far the temperature has to come back"))
        rows.append(
            Row("manual_reset", "Reset by hand", setter("manual_reset"), link.manual_reset, "flag",
                help="Once it has acted it stays so until somebody resets it")
        )  # fmt: skip
    rows.append(
        Row("on_power_loss", "Without power", setter("on_power_loss"), link.on_power_loss, "choice",
            choices=tuple(POWER_LOSS.items()), help="What becomes of the target when electricity fails")
    )  # fmt: skip
    title = "Control link"
    return Subject(f"link/{link.id}/{link.does}", title, link.id, tuple(rows), words=sentence(sheet, link, catalogue))


def _changed(link: ControlLink, name: str, value: object) -> ControlLink:
    fresh: dict[str, Any] = {name: float(value) if isinstance(value, int) and name.endswith(("_c", "_k")) else value}
    if name == "does":
        was_k, is_k = link.does == "difference", value == "difference"
        if was_k != is_k:  # degrees are no kelvins: the old figures mean nothing now
            fresh |= {"setting_c": 6.0, "off_c": 3.0} if is_k else {"setting_c": None, "off_c": None, "second": ""}
        if value == "schedule":
            fresh |= {"setting_c": None, "off_c": None, "hysteresis_k": None}
    return msgspec.structs.replace(link, **fresh)


# paper


def paper_rows(sheet: Sheet) -> tuple[Row, ...]:
    """Rows of the title block and the page, for the sheet itself."""
    block = sheet.block

    def setter(name: str) -> Callable[[object], Edit]:
        empty = getattr(TitleBlock(), name)
        return lambda value: lambda s: edits.set_block(s, **{name: empty if value is None else value})

    def text(name: str, label: str, help_text: str) -> Row:
        return Row(name, label, setter(name), getattr(block, name), help=help_text)

    scales = tuple(dict.fromkeys((*SCALES, block.scale)))
    return (
        text("drawing", "Drawing", "What the drawing shows, under its title"),
        text("sheet", "Sheet", "Number of this sheet"),
        text("revision", "Revision", "Letter or number of this state of the drawing"),
        text("drawn_by", "Drawn by", "Who drew it"),
        text("date", "Date", "Date of this state, written as you like"),
        Row("page", "Paper", setter("page"), block.page, "choice", choices=tuple((p, p) for p in PAGES),
            help="Size of the page for PDF and print, landscape"),
        Row("scale", "Scale", setter("scale"), block.scale, "choice",
            choices=tuple((s, f"1 : {s:g}" if s else "largest that fits") for s in sorted(scales)),
            help="Of the drawing on paper"),
    )  # fmt: skip
