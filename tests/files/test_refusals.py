"""Every way a file can be wrong gives one FileError that says what, where and what to do."""

from __future__ import annotations

import json
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopwright import draw
from loopwright.errors import FileError
from loopwright.files.places import line_of, walk
from loopwright.files.reader import load, loads
from loopwright.files.writer import dumps


def changed(sheet, change) -> bytes:
    plain = json.loads(dumps(sheet))
    change(plain)
    return json.dumps(plain, indent=1).encode()


def _set(path, value):
    """A change that puts `value` at a path like parts.0.kind."""

    def change(plain):
        *way, last = [int(p) if p.isdigit() else p for p in path.split(".")]
        for step in way:
            plain = plain[step]
        plain[last] = value

    return change


def _twin(field, k=0):
    return lambda plain: plain[field].append(dict(plain[field][k]))


CASES = [
    (_set("format", "other"), "not a sheet", "$.format"),
    (_set("version", 2), "newer loopwright", "$.version"),
    (_set("version", 0), "no longer be read", "$.version"),
    (_set("version", "1"), "no version number", "$.version"),
    (_set("colour", 1), "unknown key “colour”", "$"),
    (_set("parts.1.colour", 1), "unknown key “colour”", "$.parts[1]"),
    (_set("pipes.0.colour", 1), "unknown key “colour”", "$.pipes[0]"),
    (_set("parts.0.tappings.0.colour", 1), "unknown key", "$.parts[0].tappings[0]"),
    (_set("parts.0.coils.0.colour", 1), "unknown key", "$.parts[0].coils[0]"),
    (_set("levels.0.colour", 1), "unknown key", "$.levels[0]"),
    (_set("parts.1.x_m", "far"), "There should be a number, but there is text", "$.parts[1].x_m"),
    (_set("parts.1.x_m", None), "nothing", "$.parts[1].x_m"),
    (_set("parts", {}), "a list in []", "$.parts"),
    (_set("pipes.0.a", ["stove"]), "length 2", "$.pipes[0].a"),
    (_set("pipes.0.graded", "c"), "not one of those allowed", "$.pipes[0].graded"),
    (_set("parts.1.kind", "rocket"), "unknown kind “rocket”", "$.parts[1].kind"),
    (_set("parts.1.x_m", 1e9), "within 1000", "$.parts[1]"),
    (_set("parts.1.turn", 7), "turned by 7", "$.parts[1]"),
    (_set("pipes.0.points.0", [0.0, 1e9]), "no place on a sheet", "$.pipes[0]"),
    (_set("parts.1.props.power_kw", 9e5), "at most 500 kW", "$.parts[1].props.power_kw"),
    (_set("parts.1.props.power_kw", "much"), "cannot be “much”", "$.parts[1].props.power_kw"),
    (_set("parts.1.props.warp", 9), "no property “warp”", "$.parts[1].props.warp"),
    (_set("parts.0.tappings.0.height_m", 9), "body is", "$.parts[0].tappings"),
    (_set("parts.0.tappings.1.letter", "A"), "two tappings or ports called A", "$.parts[0].tappings"),
    (_set("parts.0.coils.0.lower", "Q"), "no tapping", "$.parts[0].tappings"),
    (_set("parts.1.id", "store"), "there twice", "$.parts[1].id"),
    (_set("parts.1.id", ""), "cannot be an id", "$.parts[1].id"),
    (_set("pipes.1.id", "store"), "there twice", "$.pipes[1].id"),
    (_set("pipes.0.a", ["ghost", "flow"]), "no part of the sheet", "$.pipes[0].a"),
    (_set("pipes.0.a", ["stove", "chimney"]), "no port “chimney”", "$.pipes[0].a"),
    (_set("pipes.0.a", ["store", "C"]), "sensor pocket", "$.pipes[0].a"),
    (_set("pipes.0.a", ["stove", "return"]), "holds two pipes", "$.pipes[2].b"),
    (_set("pipes.0.b", ["stove", "flow"]), "both ends on one port", "$.pipes[0]"),
    (_set("pipes.0.size", "23"), "not listed in size “23”", "$.pipes[0]"),
    (_set("pipes.0.material", "wood"), "no pipe material “wood”", "$.pipes[0]"),
    (_set("pipes.0.insulation_mm", 1e6), "of insulation", "$.pipes[0]"),
    (_set("pipes.0.extra_length_m", -3), "out of the section", "$.pipes[0]"),
    (_set("pipes.0.held", [9]), "not there", "$.pipes[0]"),
    (_set("pipes.0.joint", True), "do not meet", "$.pipes[0]"),
    (_set("links.0.sensor", "ghost"), "no part “ghost”", "$.links[0]"),
    (_set("links.0.sensor", "store/Q"), "no tapping or pocket “Q”", "$.links[0]"),
    (_set("links.0.setting_c", 1e5), "setting_c", "$.links[0]"),
    (_set("notes.0.x_m", 1e5), "off the sheet", "$.notes[0]"),
    (_set("levels", []), "at least one floor", "$.levels"),
    (_set("title", ""), "title needs", "$.title"),
    (_set("limits.leak_kw", 1e300), "limit leak_kw", "$.limits.leak_kw"),
    (_set("facts.load", 1e300), "fact load", "$.facts.load"),
    (lambda plain: plain["parts"][1].pop("kind"), "“kind” is missing", "$.parts[1]"),
    (lambda plain: plain.pop("pipes"), "“pipes” is missing", "$"),
    (_twin("parts"), "there twice", "$.parts[4].id"),
    (_twin("notes"), "there twice", "$.notes[1].id"),
]


@pytest.mark.parametrize(("change", "words", "path"), CASES, ids=[f"{w}-{p}" for _, w, p in CASES])
def test_refused_in_words_with_a_place(sheet, change, words, path):
    data = changed(sheet, change)
    with pytest.raises(FileError) as caught:
        loads(data)
    error = caught.value
    assert words in error.sentence
    assert error.do
    assert error.where.endswith(path)
    if path.count(".") > 1 or "[" in path:  # a line is given, and what stands there is what the path says
        number = int(re.match(r"line (\d+), ", error.where)[1])
        assert number == line_of(data.decode(), path)


BYTES = [
    (b"", "is empty", ""),
    (b"  \n ", "is empty", ""),
    (b"\xff\xfe\x00", "UTF-8", "line 1"),
    (b"{\n\n\xe9}", "UTF-8", "line 3"),
    (b"PK\x03\x04", "not JSON", "line 1, column 1"),
    (b'{"format": "loopwright-sheet",\n "version": }', "not JSON", "line 2, column 13"),
    (b"[1, 2]", "not a sheet", "$.format"),
    (b"null", "not a sheet", "$.format"),
    (b"[" * 200_000, "nested too deeply", ""),
    (b'{"a":' * 200_000, "nested too deeply", ""),
    (b'{"format": "x",\n "limits": {"a": 1,\n "a": 2}}', "“a” is there twice", "line 3, $.limits.a"),
    (b'{"parts": [{"x_m": 1},\n {"x_m": NaN}]}', "“NaN” is no number", "line 2, $.parts[1].x_m"),
    (b'{"parts": [{"x_m": -Infinity}]}', "is no number", "line 1, $.parts[0].x_m"),
    (b'{"a": 0,\n"b": 1e999}', "is no number", "line 2, $.b"),
    (b'{"a": 0,\n"b": ' + b"9" * 5000 + b"}", "too long", "line 2, $.b"),
    (b" " * 20_000_001, "MB large", ""),
]


@pytest.mark.parametrize(("data", "words", "where"), BYTES, ids=[f"{w}-{p}" for _, w, p in BYTES])
def test_bytes_that_are_no_sheet(data, words, where):
    with pytest.raises(FileError) as caught:
        loads(data)
    assert words in caught.value.what
    assert caught.value.where == where
    assert caught.value.do


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_a_damaged_file_is_refused_or_is_a_sheet_but_never_a_crash(data):
    s = draw.sheet("Small")
    stove = s.add("boiler_stove", "stove", x_m=0, height_m=0)
    store = s.store("store", x_m=3, height_m=0, tappings={"in": 1.0, "out": 0.2})
    s.pipe(stove["flow"], store["in"], via=[])
    raw = bytearray(dumps(s.done()))
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(raw) - 1))
        if data.draw(st.booleans()):
            raw[at] = data.draw(st.integers(0, 255))
        else:
            del raw[at : at + data.draw(st.integers(1, 30))]
    try:
        loads(bytes(raw))
    except FileError as bad:
        assert bad.what


json_values = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.text(max_size=5), st.floats(allow_nan=False)),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(st.text("ab", max_size=3), inner, max_size=4)),
    max_leaves=20,
)


@given(json_values, st.sampled_from([None, 0, 2]))
def test_the_walk_finds_every_value_where_it_stands(value, indent):
    text = json.dumps(value, indent=indent)
    decoder = json.JSONDecoder()
    found = {}
    for place in walk(text):
        assert not place.twice
        found[place.path] = decoder.raw_decode(text, place.at)[0]

    def expect(path, entry):
        yield path, entry
        if isinstance(entry, dict):
            for key, inner in entry.items():
                yield from expect(f"{path}.{key}", inner)
        elif isinstance(entry, list):
            for k, inner in enumerate(entry):
                yield from expect(f"{path}[{k}]", inner)

    assert found == dict(expect("$", value))


def test_files_that_cannot_be_opened(tmp_path, sheet):
    with pytest.raises(FileError, match="cannot be read"):
        load(tmp_path / "none.loopwright")
    with pytest.raises(FileError, match="cannot be read"):
        load(tmp_path)
    big = tmp_path / "big.loopwright"
    with big.open("wb") as file:
        file.truncate(20_000_001)
    with pytest.raises(FileError, match="MB large"):
        load(big)
    bad = tmp_path / "bad.loopwright"
    bad.write_bytes(changed(sheet, _set("parts.1.kind", "rocket")))
    with pytest.raises(FileError, match=r"bad\.loopwright, line \d+, \$\.parts\[1\]\.kind"):
        load(bad)
