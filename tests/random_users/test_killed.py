"""A process killed in mid-edit (SIGKILL, which nothing can catch): the file is never damaged, at most one edit is lost.

Four times at each run; LOOPWRIGHT_KILLS=20 for more.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from random import Random

import pytest

from loopwright.catalogue import standard_catalogue
from loopwright.files.reader import load

KILLS = int(os.environ.get("LOOPWRIGHT_KILLS", "4"))
VICTIM = Path(__file__).with_name("victim.py")

pytestmark = pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system cannot kill so")


@pytest.mark.parametrize("seed", range(KILLS))
def test_a_kill_loses_at_most_the_last_edit(seed, tmp_path):
    file, folder, said = tmp_path / "sheet.loopwright", tmp_path / "unsaved", tmp_path / "said"
    with said.open("wb") as out:
        victim = subprocess.Popen([sys.executable, str(VICTIM), str(file), str(folder), str(seed)], stdout=out)
    end = time.monotonic() + 60
    while not re.search(rb"edit \d+\n", said.read_bytes()) and time.monotonic() < end:
        time.sleep(0.01)
    time.sleep(Random(seed).uniform(0.0, 0.6))
    os.kill(victim.pid, signal.SIGKILL)
    assert victim.wait(timeout=30) == -signal.SIGKILL
    # the kill may have cut the last line short
    lines = [line.split() for line in said.read_text().splitlines(keepends=True) if line.endswith("\n")]
    done = max(int(number) for word, number in lines if word == "edit")
    stored = max(int(number) for word, number in lines if word == "saved")
    kinds = standard_catalogue()
    on_disk = int(load(file, kinds).title)  # a damaged file would be refused
    assert on_disk >= stored
    copies = [int(load(p, kinds).title) for p in folder.glob("*.loopwright")]
    assert max([on_disk, *copies]) >= done - 1
