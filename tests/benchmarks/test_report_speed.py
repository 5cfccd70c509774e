"""How long fifty reports take in a batch, and how much memory. Timed only with `--benchmark-enable`.

The figures stand in the table that `pytest tests/benchmarks --benchmark-enable -s` prints. Aims: a report as PDF of the
three-source house, some 65 parts, in one second on one core of an ordinary desk machine, and no more memory after fifty
than after five, give or take a tenth (aims of this project, no source).
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SHEETS = sorted((ROOT / "samples").glob("*/*.loopwright"))
COUNT, AIM_S, LOOSE = 50, 1.0, 4.0
"""A shared or slow machine may take so many times the aim before the test fails."""

WORK = """
import resource, sys
from pathlib import Path
from loopwright.files.folders import sheets_in
from loopwright.reports.batch import Task, many, targets
source, target, form, count = Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3], int(sys.argv[4])
sheets = sheets_in([source])[:count]
pairs = zip(sheets, targets(sheets, target, form))
for done in many([Task(source=str(s), target=str(t), form=form) for s, t in pairs]):
    assert not done.refused, done.refused
used = resource.getrusage(resource.RUSAGE_SELF)
print(used.ru_utime + used.ru_stime, used.ru_maxrss)
"""


def fifty(folder: Path) -> Path:
    """Fifty sheets of the samples under names of their own."""
    source = folder / "sheets"
    source.mkdir()
    for k in range(COUNT):
        shutil.copy(SHEETS[k % len(SHEETS)], source / f"{k:02}-{SHEETS[k % len(SHEETS)].name}")
    return source


def in_a_process(source: Path, target: Path, form: str, count: int) -> tuple[float, float]:
    """Seconds of one core, and megabytes, of a fresh process that reports so many sheets."""
    target.mkdir(exist_ok=True)
    words = [sys.executable, "-c", WORK, str(source), str(target), form, str(count)]
    done = subprocess.run(words, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    seconds, memory = map(float, done.stdout.split())
    return seconds, memory / (1024 if sys.platform != "darwin" else 1024**2)


@pytest.mark.parametrize("form", ["pdf", "html"])
def test_fifty_reports(benchmark, measured, tmp_path, form):
    if benchmark.disabled:
        pytest.skip("timed only with --benchmark-enable")
    source = fifty(tmp_path)
    few_s, few_mb = in_a_process(source, tmp_path / "few", form, 5)
    found: list[tuple[float, float]] = []

    def all_of_them() -> None:
        found.append(in_a_process(source, tmp_path / "all", form, COUNT))

    benchmark.pedantic(all_of_them, rounds=1)
    took, most_mb = found[-1]
    each = (took - few_s) / (COUNT - 5)
    size = sum(p.stat().st_size for p in (tmp_path / "all").iterdir()) / COUNT / 1024
    benchmark.extra_info.update(each_s=round(each, 2), most_mb=round(most_mb), kilobytes=round(size))
    note = f"{COUNT} in {took:.1f} s, {size:.0f} kB each, {most_mb:.0f} MB at most ({few_mb:.0f} MB after 5)"
    measured(f"report as {form}, each of a batch", each, AIM_S, "s", note)
    assert len(list((tmp_path / "all").iterdir())) == COUNT
    assert most_mb < 1.1 * few_mb + 10, "memory grows with the number of sheets"
    assert each < LOOSE * AIM_S
    measured.judge()


def test_fifty_reports_by_the_command_with_two_jobs(benchmark, measured, tmp_path):
    if benchmark.disabled:
        pytest.skip("timed only with --benchmark-enable")
    source = fifty(tmp_path)
    words = [sys.executable, "-m", "loopwright", "report", str(source), "-o", str(tmp_path / "out"), "--jobs", "2"]
    done = benchmark.pedantic(subprocess.run, args=(words,), kwargs={"capture_output": True, "text": True}, rounds=1)
    assert f"{COUNT} of {COUNT} reports written" in done.stdout
    measured(f"{COUNT} reports by the command, two jobs", benchmark.stats.stats.min, None, "s", "by the clock")
