"""The command line as a person uses it: exit codes, one clear line for bad input, answers as text and JSON."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from loopwright.cli import cli
from typed import typed

ROOT = Path(__file__).resolve().parents[1]
SOUND = ROOT / "samples" / "sound" / "three-source.loopwright"
FAULTY = ROOT / "samples" / "faulty" / "check-in-heat-leak.loopwright"


def run(*words: object) -> subprocess.CompletedProcess[str]:
    """The same as `typed`, by an interpreter of its own, without a screen."""
    clean = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")}
    return subprocess.run(
        [sys.executable, "-m", "loopwright", *map(str, words)],
        capture_output=True,
        text=True,
        env=clean,
        timeout=60,
        check=False,
    )


def test_sound_sample_is_clear():
    done = run("check", SOUND)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "no danger" in done.stdout and "competent person" in done.stdout


WAYS_OUT = {"found": FAULTY, "refused": "nowhere.loopwright", "usage": "--wrong"}


@pytest.mark.parametrize("word", WAYS_OUT.values(), ids=WAYS_OUT)
def test_the_program_ends_as_the_command_does(word):
    done, said = run("check", word), typed("check", word)
    assert (done.returncode, done.stdout) == (said.returncode, said.stdout)
    assert done.stderr.splitlines()[-1:] == said.stderr.splitlines()[-1:]  # a usage before it names the program


def test_json_carries_every_answer():
    done = typed("check", SOUND, "--format", "json")
    (answer,) = json.loads(done.stdout)
    slugs = {a["rule"] for a in answer["answers"]}
    from loopwright.rules import all_rules

    assert slugs == set(all_rules())


@pytest.mark.parametrize("file", sorted((ROOT / "samples" / "faulty").glob("*.loopwright"))[:2], ids=lambda p: p.stem)
def test_faulty_sample_exits_one(file):
    assert typed("check", file).returncode == 1
    assert typed("check", file, "--fail-on", "never").returncode == 0


def test_what_is_about_the_same_part_stands_under_the_gravest():
    file = ROOT / "samples" / "faulty" / "stove-swapped-at-store.loopwright"
    text = typed("check", file).stdout
    assert text.index(" 1. ") < text.index("Advice, also about the return pipe") < text.index(" 2. ")
    (answer,) = json.loads(typed("check", file, "--format", "json").stdout)
    first, second = answer["findings"]
    assert first["cause"] is None and second["cause"] == first["number"] and second["shared"].startswith("the return")


def test_repair_writes_a_clear_sheet_and_says_what_it_did(tmp_path):
    faulty, new = ROOT / "samples" / "faulty" / "valve-on-feed.loopwright", tmp_path / "new.loopwright"
    before = faulty.read_bytes()
    done = typed("check", faulty, "--repair", "-o", new)
    assert done.returncode == 0, done.stdout + done.stderr
    for said in ("Take the stop valve between Cistern and Stove out", "solid-fuel/feed-can-close", "no danger"):
        assert said in done.stdout
    assert faulty.read_bytes() == before
    assert typed("check", new).returncode == 0
    again = typed("check", faulty, "--repair", "-o", tmp_path / "other.loopwright", "--format", "json")
    (answer,) = json.loads(again.stdout)
    assert answer["repaired"][0]["rule"] == "solid-fuel/feed-can-close"
    assert answer["counts"]["danger"] == 0


def test_repair_leaves_what_needs_a_choice_and_exits_one(tmp_path):
    faulty = ROOT / "samples" / "faulty" / "no-mixing-valve.loopwright"
    done = typed("check", faulty, "--repair", "-o", tmp_path / "new.loopwright")
    assert done.returncode == 1 and "domestic/scald-risk" in done.stdout


REFUSED = {
    "no file": ("--repair",),
    "no repair": ("-o", "x.loopwright"),
    "there already": ("--repair", "-o", SOUND),
    "two sheets": (SOUND, "--repair", "-o", "x.loopwright"),
}


@pytest.mark.parametrize("words", REFUSED.values(), ids=REFUSED)
def test_repair_refuses_what_it_cannot_mean(words):
    done = typed("check", SOUND, *words)
    assert done.returncode == 2 and len(done.stderr.strip().splitlines()) == 1


HOSTILE = {
    "truncated": SOUND.read_bytes()[:500] if SOUND.exists() else b"{",
    "empty": b"",
    "not json": b"hello",
    "array": b"[]",
    "other format": b'{"format": "something", "version": 1}',
    "newer": b'{"format": "loopwright-sheet", "version": 99, "title": "x"}',
    "nan": b'{"format": "loopwright-sheet", "version": 1, "title": "x", "levels": [], "parts": '
    b'[{"id": "a", "kind": "tee", "x_m": NaN, "height_m": 0}], "pipes": [], "links": []}',
    "wrong type": b'{"format": "loopwright-sheet", "version": 1, "title": 5}',
    "dangling": b'{"format": "loopwright-sheet", "version": 1, "title": "x", "parts": [], '
    b'"pipes": [{"id": "p", "a": ["x", "y"], "b": ["z", "w"]}]}',
    "binary": bytes(range(256)) * 40,
    "deep": b"[" * 100_000,
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_file_gives_one_clear_line_and_exit_two(tmp_path, name):
    bad = tmp_path / "bad.loopwright"
    bad.write_bytes(HOSTILE[name])
    done = typed("check", bad)
    assert done.returncode == 2, done.stdout + done.stderr
    lines = done.stderr.strip().splitlines()
    assert len(lines) == 1 and lines[0].startswith("loopwright: ") and "Traceback" not in done.stderr


def test_fifty_megabytes_of_junk_are_refused(tmp_path):
    bad = tmp_path / "junk.loopwright"
    bad.write_bytes(b"x" * 50_000_000)
    done = run("check", bad)
    assert done.returncode == 2 and len(done.stderr.strip().splitlines()) == 1


@pytest.mark.parametrize(
    "words",
    [
        ("check", "nowhere.loopwright"),
        ("check",),
        ("kinds", "no_such_kind"),
        ("rules", "no/such"),
        ("new", "no-such-starter", "-o", "x"),
        ("check", "--wrong"),
        ("picture", str(SOUND), "-o", "x.doc"),
        ("rules", "../../pyproject"),
    ],
)
def test_bad_usage_exits_two_without_a_traceback(words):
    done = typed(*words)
    assert done.returncode == 2 and "Traceback" not in done.stderr and done.stderr.strip()


def test_rules_and_kinds_explain_themselves():
    assert "gravity-loop/isolating-valve" in typed("rules").stdout
    assert "Repair" in typed("rules", "gravity-loop/isolating-valve").stdout
    assert "Sources" in typed("rules", "gravity-loop/isolating-valve").stdout
    assert "store_return" in typed("kinds", "loading_unit_4").stdout
    kinds = json.loads(typed("kinds", "--format", "json").stdout)
    assert len(kinds) >= 80


def test_new_writes_a_starter_that_checks_clear(tmp_path):
    listed = typed("new").stdout.split()
    out = tmp_path / "job.loopwright"
    assert typed("new", listed[0], "-o", out).returncode == 0
    assert typed("check", out).returncode in (0, 1)
    assert typed("new", listed[0], "-o", out).returncode == 2  # never writes over a file unasked


def test_no_screen_prints_the_survey_and_says_so():
    done = run(SOUND)
    assert done.returncode == 0
    assert "No screen" in done.stderr and "rules answered" in done.stdout


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_picture_draws_each_form(tmp_path, ending):
    out = tmp_path / f"sheet.{ending}"
    done = run("picture", SOUND, "-o", out)
    assert done.returncode == 0, done.stderr
    head = out.read_bytes()[:200]
    assert {"svg": b"<svg", "png": b"\x89PNG", "pdf": b"%PDF"}[ending] in head


def test_figures_are_listed_with_equation_and_source():
    text = typed("figures", SOUND).stdout
    assert "Water content" in text and "EN 12828" in text
    rows = json.loads(typed("figures", SOUND, "--format", "json").stdout)
    assert all(r.get("equation") or r.get("missing") for r in rows)


def test_figures_of_the_flow_follow_the_condition():
    """Pumps stand without power; a fire goes on (plain reason)."""
    normal = json.loads(typed("figures", SOUND, "--format", "json").stdout)
    cut = json.loads(typed("figures", SOUND, "--condition", "power-cut", "--format", "json").stdout)
    assert any(f["name"] == "Head at the duty point" for f in normal)
    assert not any(f["name"] == "Head at the duty point" for f in cut)
    assert any(f["name"] == "Flow temperature" and "power cut" in f["group"] for f in cut)


def test_check_works_out_the_flow_only_when_asked():
    asked = typed("check", "--computed", SOUND, "--format", "json")
    assert asked.returncode == 0, asked.stderr
    slow = {a["rule"] for a in json.loads(asked.stdout)[0]["answers"]}
    fast = {a["rule"] for a in json.loads(typed("check", SOUND, "--format", "json").stdout)[0]["answers"]}
    assert "gravity-loop/too-weak" in slow and "gravity-loop/too-weak" not in fast


def test_many_sheets_are_checked_at_once_with_a_summary(tmp_path):
    """A folder with a sound, a faulty and a damaged sheet: one line each, in two processes as in one."""
    for sort, name in (("sound", "log-boiler"), ("faulty", "low-vent")):
        (tmp_path / f"{name}.loopwright").write_bytes((ROOT / "samples" / sort / f"{name}.loopwright").read_bytes())
    (tmp_path / "torn.loopwright").write_text("{")
    one = typed("check", str(tmp_path), "--summary")
    two = typed("check", str(tmp_path), "--summary", "--jobs", "2")
    assert one.returncode == two.returncode == 2
    assert one.stdout == two.stdout and "2 checked" in one.stdout and "1 refused" in one.stdout
    assert one.stderr.count("loopwright:") == 1


def test_a_file_name_that_is_no_text_ends_in_words():
    """A name with a byte that is no UTF-8 reaches the program as half a letter."""
    from click.testing import CliRunner

    done = CliRunner().invoke(cli, ["mark", "S1", "\udcff.loopwright"])
    assert done.exception is None or isinstance(done.exception, SystemExit)
    assert "cannot be read" in done.output
