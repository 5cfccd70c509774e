"""How long it takes to open a sheet and to check one from the command line. Timed only with `--benchmark-enable`.

Aims (of this project, no source): a sheet of a thousand parts read in a fifth of a second; `loopwright check` on a
small sheet within 1.3 times `import networkx` in a bare Python, its own survey beside.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from time import process_time

import pytest

from benchmarks.many import side_by_side
from loopwright.catalogue import standard_catalogue
from loopwright.files import load, save
from loopwright.survey import survey

resource = pytest.importorskip("resource")
CATALOGUE = standard_catalogue()
SOUND = Path(__file__).parents[2] / "samples" / "sound"


def best_ms(work, times: int = 5) -> float:
    """Least milliseconds of the processor."""
    took = []
    for _ in range(times):
        begin = process_time()
        work()
        took.append(1000 * (process_time() - begin))
    return min(took)


@pytest.mark.parametrize("copies", [1, 15], ids=["65 parts", "975 parts"])
def test_opening_a_sheet(benchmark, measured, tmp_path, copies):
    house = load(SOUND / "three-source.loopwright", CATALOGUE)
    sheet = side_by_side(house, copies) if copies > 1 else house
    path = tmp_path / "sheet.loopwright"
    save(sheet, path)
    opened = benchmark.pedantic(load, args=(path, CATALOGUE), rounds=1)
    assert len(opened.parts) == len(sheet.parts)
    if not benchmark.disabled:
        aim = 200.0 if copies > 1 else None
        measured(f"open, {len(sheet.parts)} parts", best_ms(lambda: load(path, CATALOGUE)), aim)
        measured.judge()


def cpu_ms(words: list[str], home: str, times: int = 5) -> float:
    """Least milliseconds of the processor of a fresh process, its modules compiled before."""
    kept = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    took = []
    for _ in range(times + 1):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        done = subprocess.run(words, env={**kept, "PYTHONPYCACHEPREFIX": home}, capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        assert done.returncode == 0, done.stderr
        took.append(1000 * (after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime))
    return min(took[1:])


def test_checking_a_small_sheet_from_the_command_line(benchmark, measured, tmp_path):
    if benchmark.disabled:
        pytest.skip("timed only with --benchmark-enable")
    path = SOUND / "stove-by-gravity.loopwright"
    sheet = load(path, CATALOGUE)
    benchmark.pedantic(survey, args=(sheet, CATALOGUE), rounds=1)
    own = best_ms(lambda: survey(sheet, CATALOGUE))
    bare = cpu_ms([sys.executable, "-c", "import networkx"], str(tmp_path))
    check = cpu_ms([sys.executable, "-m", "loopwright", "check", str(path)], str(tmp_path))
    note = f"{check:.0f} ms, its survey {own:.0f} ms, networkx {bare:.0f} ms"
    measured("check on a small sheet, to importing networkx", (check - own) / bare, 1.3, "times", note)
    measured.judge()
