"""A few hundred spoiled inputs of every sort at each run; `python -m tests.hostile.many` feeds a million.

None may give a traceback, take more than two seconds of the processor, or swell the memory.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopwright.catalogue.reader import load_catalogue, user_catalogue
from loopwright.drawing.svg_paths import flatten
from loopwright.drawing.symbols import parse_symbol, symbol
from loopwright.engineering.pages import page as computation_page
from loopwright.errors import FileError, KindError, LessonError, LoopwrightError, ValueRefused
from loopwright.files.reader import load, loads
from loopwright.lessons.reader import lesson_named, read_lesson
from loopwright.reports.batch import targets as report_targets
from loopwright.resources import resource_root
from loopwright.rules.registry import page as rule_page
from loopwright.units import parse

from .targets import SVG_TRICKS, targets
from .watch import Watch, alarm

MANY = {
    "command line": 12,
    "sheet in use": 10,
    "kind in use": 10,
    "kind file": 15,
    "kind file text": 15,
    "lesson file": 25,
    "day file": 30,
}


@pytest.fixture
def alarmed():
    kept = [(s, signal.getsignal(s)) for s in (signal.SIGALRM, signal.SIGPROF)]
    alarm()
    yield
    for one, handler in kept:
        signal.signal(one, handler)


@pytest.mark.parametrize("target", targets(), ids=lambda t: t.name.replace(" ", "-"))
def test_spoiled_input_is_taken_or_refused_by_name(target, tmp_path, alarmed):
    r, watch = Random(20), Watch()
    for _ in range(MANY.get(target.name, 60)):
        watch.feed(target, r, tmp_path)
    assert not watch.defects, "\n\n".join(watch.defects)
    assert sum(watch.counts.values()) == MANY.get(target.name, 60)


HEAD = b'{"format":"loopwright-sheet","version":1,"title":"x","levels":[{"name":"a","height_m":0}],"pipes":[],'
FULL = {
    "lists in a list": lambda: HEAD + b'"parts":[' + b"[]," * 6_600_000 + b"[]]}",
    "records in a list": lambda: HEAD + b'"parts":[' + b"{}," * 6_600_000 + b"{}]}",
    "numbers": lambda: HEAD + b'"parts":[' + b"1.5," * 4_900_000 + b"1]}",
    "one long text": lambda: HEAD.replace(b'"x"', b'"' + b"x" * 19_000_000 + b'"') + b'"parts":[]}',
    "escapes": lambda: HEAD.replace(b'"x"', b'"' + b"\\u0041" * 3_200_000 + b'"') + b'"parts":[]}',
    "one long number": lambda: HEAD + b'"parts":[' + b"9" * 19_000_000 + b"]}",
    "one long fraction": lambda: HEAD + b'"parts":[0.' + b"9" * 19_000_000 + b"]}",
    "blanks": lambda: HEAD + b" " * 19_000_000 + b'"parts":3}',
    "lines": lambda: HEAD + b"\n" * 19_000_000 + b'"parts":3}',
    "deep": lambda: b"[" * 20_000_000,
    "keys": lambda: HEAD + b'"parts":[],"limits":{' + b",".join(b'"k%d":1' % k for k in range(1_200_000)) + b"}}",
    "a key twice at the end": lambda: (
        HEAD + b'"limits":{' + b",".join(b'"k%d":1' % k for k in range(700_000)) + b',"k0":1}}'
    ),
}
MEASURED = """
import re, sys, time
from loopwright.errors import FileError
from loopwright.files.reader import load
before = time.process_time()
from loopwright.catalogue import standard_catalogue
standard_catalogue()
before = time.process_time()
try:
    load(sys.argv[1])
    print("taken", end=" ")
except FileError as bad:
    print("refused", end=" ")
seconds = time.process_time() - before
held = re.search(r"VmHWM:\\s+(\\d+)", open("/proc/self/status").read())  # since this program began
print(seconds, int(held[1]) * 1024)
"""


@pytest.mark.parametrize("sort", FULL)
def test_twenty_megabytes_of_nothing(sort, tmp_path):
    """Memory is measured in a process of its own, which holds nothing else."""
    if not Path("/proc/self/status").exists():
        pytest.skip("memory is read as Linux tells it")
    path = tmp_path / "big.loopwright"
    path.write_bytes(FULL[sort]()[:20_000_000])
    ran = subprocess.run([sys.executable, "-c", MEASURED, str(path)], capture_output=True, text=True, timeout=60)
    assert not ran.stderr
    said, seconds, memory = ran.stdout.split()
    assert said == "refused"
    assert float(seconds) < 2.0
    assert int(memory) < 500_000_000


@pytest.mark.parametrize("trick", SVG_TRICKS, ids=lambda t: t[:24].decode())
def test_a_symbol_with_a_trick_in_it_is_refused_or_is_only_lines(trick):
    good = (resource_root() / "symbols" / "pump.svg").read_bytes()
    at = good.index(b">") + 1
    try:
        found = parse_symbol(good[:at] + trick + good[at:], "own.svg")
    except KindError as bad:
        assert bad.do
    else:
        assert sum(len(s.points) for s in found.shapes) <= 20_000
        assert all(len(s.text) <= 4 for s in found.shapes)


@pytest.mark.parametrize(
    "word", [b"script", b"image", b"use", b"style", b"foreignObject", b"a", b"animate", b"set", b"g"]
)
def test_no_element_but_shapes_is_taken(word):
    with pytest.raises(KindError, match="element"):
        parse_symbol(b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><' + word + b"/></svg>")


def test_entities_do_not_swell():
    bomb = b'<!DOCTYPE s [<!ENTITY a "aaaaaaaa">' + b"".join(
        b'<!ENTITY b%d "%s">' % (k, (b"&b%d;" % (k - 1) if k else b"&a;") * 10) for k in range(12)
    )
    with pytest.raises(KindError, match="entities"):
        parse_symbol(bomb + b"]><svg>&b11;</svg>")


@settings(max_examples=60, deadline=2000)
@given(st.text("MLHVCSQAZmlhvcsqaz0123456789.,-+eE ", max_size=200))
def test_path_data(data):
    with contextlib.suppress(ValueError, OverflowError):
        assert sum(len(line) for line, _ in flatten(data, 0.1)) < 200_000


@settings(max_examples=80, deadline=2000)
@given(st.text(max_size=70), st.sampled_from(["mm", "degC", "l/min", "", "K", "kW"]))
def test_anything_typed_for_a_quantity(text, unit):
    try:
        assert abs(parse(text, unit)) < float("inf")
    except ValueRefused as bad:
        assert bad.what and bad.do


NAMES = [
    "../x",
    "..",
    "/etc/passwd",
    "a/../../b",
    "//x",
    "a\\..\\b",
    "C:\\x",
    "x\x00y",
    "",
    ".",
    "~",
    "a/b/c",
    "é",
    "*",
]


@pytest.mark.parametrize("name", NAMES)
def test_names_that_lead_elsewhere_find_nothing(name, tmp_path):
    for ask in (rule_page, computation_page, symbol, lambda n: lesson_named(n, tmp_path)):
        with pytest.raises(LoopwrightError):
            ask(name)


def test_a_rule_is_not_read_from_the_root_of_the_disk():
    with pytest.raises(LoopwrightError, match="no rule"):
        rule_page(f"/{'README'}")
    inside = (resource_root() / "rules").resolve()
    with pytest.raises(LoopwrightError, match="no rule"):
        rule_page(str(inside / "circuit" / "pump-backwards"))


def test_a_lesson_does_not_take_its_sheet_from_elsewhere(tmp_path):
    text = (resource_root() / "lessons" / "S1.toml").read_text(encoding="utf-8")
    (tmp_path / "secret").mkdir()
    (tmp_path / "secret" / "x.loopwright").write_bytes((resource_root() / "lessons" / "S1.loopwright").read_bytes())
    folder = tmp_path / "lessons"
    folder.mkdir()
    for sheet in ("../secret/x.loopwright", str(tmp_path / "secret" / "x.loopwright"), "linked.loopwright"):
        (folder / "S1.toml").write_text(f'sheet = "{sheet}"\n' + text, encoding="utf-8")
        if sheet.startswith("linked"):
            (folder / sheet).symlink_to(tmp_path / "secret" / "x.loopwright")
        with pytest.raises(LessonError, match="not a file beside it"):
            read_lesson(folder / "S1.toml")


def test_a_kind_file_is_no_link_to_elsewhere_and_no_pipe(tmp_path):
    (tmp_path / "elsewhere.toml").write_text("[own]\n", encoding="utf-8")
    folder = tmp_path / "kinds"
    folder.mkdir()
    (folder / "own.toml").symlink_to(tmp_path / "elsewhere.toml")
    with pytest.raises(KindError, match="link"):
        user_catalogue(folder)
    (folder / "own.toml").unlink()
    os.mkfifo(folder / "own.toml")
    began = time.monotonic()
    with pytest.raises(KindError, match="no file"):
        load_catalogue([folder])
    assert time.monotonic() - began < 2.0


def test_a_device_without_end_is_no_sheet():
    if not Path("/dev/zero").exists():
        pytest.skip("a device of some systems")
    with pytest.raises(FileError, match="MB large"):
        load("/dev/zero")


def test_reports_stay_in_their_folder(tmp_path):
    sheets = [tmp_path / "a" / "..loopwright", tmp_path / "b" / "..loopwright", tmp_path / "x .loopwright"]
    for target in report_targets(sheets, tmp_path / "out", "pdf"):
        assert target.resolve().parent == (tmp_path / "out").resolve()


def test_half_letters_are_refused_with_their_line():
    with pytest.raises(FileError, match="half a letter") as caught:
        loads(HEAD.replace(b'"x"', b'\n"\\ud83d"') + b'"parts":[]}')
    assert caught.value.where == "line 2"
    sheet = loads(HEAD.replace(b'"x"', b'"\\ud83d\\udd25"') + b'"parts":[]}')
    assert sheet.title == "🔥"


def test_half_letters_on_the_screen_are_no_traceback(tmp_path):
    """A file name that is no UTF-8, and a screen that knows only ASCII."""
    env = {**os.environ, "PYTHONIOENCODING": "ascii", "LC_ALL": "C"}
    for args in (["check", b"\xff.loopwright"], ["glossary"], ["rules"]):
        ran = subprocess.run([sys.executable, "-m", "loopwright", *args], capture_output=True, env=env, timeout=60)
        assert b"Traceback" not in ran.stderr
        assert ran.returncode in (0, 2)
