"""Many reports, what to buy, and the commands: files are whole or not there, refusals are one clear line."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from loopwright import draw
from loopwright.cli.parts_list import parts_list
from loopwright.cli.report import report
from loopwright.errors import FileError, LoopwrightError
from loopwright.reports import batch
from loopwright.reports.buying import order
from loopwright.reports.stop import Cancelled

from .conftest import CATALOGUE, ROOT

SOUND = ROOT / "samples" / "sound" / "stove-by-gravity.loopwright"
FAULTY = ROOT / "samples" / "faulty" / "valve-on-heat-leak.loopwright"


def call(command, *args: object):
    return CliRunner().invoke(command, [str(a) for a in args], standalone_mode=False)


def test_one_report(tmp_path):
    out = tmp_path / "a.pdf"
    got = call(report, FAULTY, "-o", out)
    assert got.exception is None and "1 danger" in got.output
    assert PdfReader(out).pages
    got = call(report, FAULTY, "-o", tmp_path / "a.html", "--tables", tmp_path / "t", "--table-format", "json")
    assert got.exception is None
    assert (tmp_path / "a.html").read_text().startswith("<!DOCTYPE html>")
    assert json.loads((tmp_path / "t" / "findings.json").read_text())[0]["severity"] == "danger"


def test_many_in_a_folder_with_one_damaged(tmp_path):
    for name in ("a", "b"):
        shutil.copy(SOUND, tmp_path / f"{name}.loopwright")
    (tmp_path / "bad.loopwright").write_text("{")
    out = tmp_path / "out"
    got = call(report, tmp_path, "-o", out, "--format", "html")
    assert got.return_value == 2
    assert "2 of 3 reports written" in got.output and "bad.loopwright" in got.output and "not JSON" in got.output
    assert sorted(p.name for p in out.iterdir()) == ["a.html", "b.html"]


def test_side_by_side_processes(tmp_path):
    tasks = [batch.Task(source=str(SOUND), target=str(tmp_path / f"{k}.html"), form="html") for k in range(2)]
    done = list(batch.many(tasks, workers=2))
    assert len(done) == 2 and not any(d.refused for d in done)
    assert {d.target for d in done} == {t.target for t in tasks}


def test_refusals(tmp_path):
    with pytest.raises(LoopwrightError, match="is one file, and 2 sheets are named"):
        raise call(report, SOUND, FAULTY, "-o", tmp_path / "a.pdf").exception
    with pytest.raises(LoopwrightError, match="There is no folder"):
        raise call(report, SOUND, "-o", tmp_path / "none" / "a.pdf").exception
    with pytest.raises(LoopwrightError, match="ends in no known form"):
        raise call(report, SOUND, "-o", tmp_path / "a.doc").exception
    with pytest.raises(FileError, match="cannot be read"):
        raise call(report, tmp_path / "gone.loopwright", "-o", tmp_path / "a.pdf").exception
    (tmp_path / "empty").mkdir()
    with pytest.raises(FileError, match="There is no sheet in the folder"):
        raise call(report, tmp_path / "empty", "-o", tmp_path / "x").exception
    (tmp_path / "file").write_text("")
    with pytest.raises(FileError, match="cannot be made"):
        raise call(report, SOUND, FAULTY, "-o", tmp_path / "file" / "out").exception
    assert sorted(p.name for p in tmp_path.iterdir()) == ["empty", "file"]


def test_a_target_that_cannot_be_written(tmp_path):
    (tmp_path / "a.html").mkdir()
    with pytest.raises(FileError, match="is a folder"):
        batch.one(batch.Task(source=str(SOUND), target=str(tmp_path / "a.html"), form="html"))


def test_stopped_half_way_leaves_nothing(tmp_path):
    asked = []

    def cancel() -> bool:
        asked.append(1)
        return len(asked) > 25  # somewhere among the pages

    task = batch.Task(source=str(FAULTY), target=str(tmp_path / "a.pdf"), tables=str(tmp_path / "t"))
    with pytest.raises(Cancelled):
        batch.one(task, cancel=cancel)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(os.name != "posix", reason="signals are sent as POSIX has them")
def test_keyboard_stops_a_batch_and_every_file_is_whole(tmp_path):
    for k in range(30):
        shutil.copy(FAULTY, tmp_path / f"s{k:02}.loopwright")
    out = tmp_path / "out"
    work = subprocess.Popen(
        [sys.executable, "-m", "loopwright", "report", str(tmp_path), "-o", str(out), "--jobs", "2"],
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    try:
        until = time.monotonic() + 30
        while not (out.is_dir() and any(out.glob("*.pdf"))) and time.monotonic() < until:
            time.sleep(0.05)
        os.killpg(work.pid, signal.SIGINT)
        _, said = work.communicate(timeout=30)
    finally:
        if work.poll() is None:
            work.kill()
    assert work.returncode == 2 and "nothing is half written" in said and "Traceback" not in said
    written = list(out.iterdir())
    assert 0 < len(written) < 30
    for path in written:
        assert path.suffix == ".pdf" and len(PdfReader(path).pages) > 10


def test_names_never_clash(tmp_path):
    sheets = [
        tmp_path / "a" / "Plan.loopwright",
        tmp_path / "b" / "Plan.loopwright",
        tmp_path / "b" / "plan.loopwright",
    ]
    names = [t.name.lower() for t in batch.targets(sheets, tmp_path, "pdf")]
    assert len(set(names)) == 3


# ---- what to buy


def simple():
    """Two radiators alike, one pump there already; 28 mm of 2.0 m and 1.0 m, 22 mm of 1.5 m, all drawn by hand."""
    s = draw.sheet("to buy")
    one = s.add("isolating_valve", "V1", x_m=1.0, height_m=1.0)
    two = s.add("isolating_valve", "V2", x_m=3.24, height_m=1.0)
    three = s.add("isolating_valve", "V3", x_m=4.48, height_m=1.0)
    four = s.add("isolating_valve", "V4", x_m=6.22, height_m=1.0)
    ports = [p.name for p in CATALOGUE["isolating_valve"].ports]
    s.pipe(one[ports[1]], two[ports[0]], size="28")
    s.pipe(two[ports[1]], three[ports[0]], size="28")
    s.pipe(three[ports[1]], four[ports[0]], size="22")
    return s.done()


def test_lengths_and_counts():
    """Sums by hand: 2.0 m + 1.0 m of 28 mm, 1.5 m of 22 mm; a tenth more is 3.3 m and 1.65 m, bought as 1.7 m."""
    bought = order(simple(), CATALOGUE)
    assert [(p.size, p.count, p.drawn_m, p.order_m) for p in bought.pipes] == [("28", 2, 3.0, 3.3), ("22", 1, 1.5, 1.7)]
    assert sum(line.count for line in bought.parts) == 4
    assert order(simple(), CATALOGUE, allowance_percent=0).pipes[0].order_m == 3.0


def test_every_part_is_bought_or_there(sound):
    bought = order(sound, CATALOGUE)
    assert sum(line.count for line in bought.parts) + bought.existing == len(sound.parts)
    assert sorted(i for line in bought.parts for i in line.ids) == sorted(sound.parts)


def test_what_is_there_is_not_bought(sound):
    import msgspec

    parts = {k: msgspec.structs.replace(p, existing=k == "store") for k, p in sound.parts.items()}
    bought = order(msgspec.structs.replace(sound, parts=parts), CATALOGUE)
    assert bought.existing == 1 and not any("store" in line.ids for line in bought.parts)


def test_parts_command(tmp_path):
    got = call(parts_list, SOUND)
    assert "Pipe, with 10 % on top" in got.output
    call(parts_list, SOUND, "-o", tmp_path / "p.csv", "--allowance", "0")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "p.csv").read_text(), newline="")))
    pipe = next(r for r in rows if r["group"] == "Pipe")
    assert float(pipe["quantity"]) >= float(pipe["drawn_m"]) - 1e-9
    call(parts_list, SOUND, "-o", tmp_path / "p.json")
    assert json.loads((tmp_path / "p.json").read_text())["allowance_percent"] == 10
    with pytest.raises(LoopwrightError, match="ends in no known form"):
        raise call(parts_list, SOUND, "-o", tmp_path / "p.xls").exception
    assert isinstance(Path(SOUND), Path)
