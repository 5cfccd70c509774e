"""A great many spoiled inputs, over two processes: `python -m tests.hostile.many --inputs 1000000 --seconds 900`.

Prints what came of them by target and outcome; ends with 1 if there was a traceback, a hang or too much memory.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from random import Random

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from .targets import targets
from .watch import Hang, Watch, alarm, largest_bytes

Found = tuple[Counter[tuple[str, str]], list[str], float, str, int]


def work(job: tuple[int, int, float, tuple[str, ...]]) -> Found:
    """One process's share of the inputs."""
    seed, inputs, seconds, names = job
    alarm()
    r, watch, end = Random(seed), Watch(), time.monotonic() + seconds
    doors = [t for t in targets() if not names or t.name in names]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        own = {t.name: folder / t.name.replace(" ", "-") for t in doors}
        for place in own.values():
            place.mkdir()
        for _ in range(inputs):
            target = r.choices(doors, [t.share for t in doors])[0]
            try:
                watch.feed(target, r, own[target.name])
            except Hang:  # the alarm rang as the input ended
                watch.defects.append(f"{target.name}: took as long as it may")
            if time.monotonic() > end or len(watch.defects) >= 40:
                break
    return watch.counts, watch.defects, watch.slowest_s, watch.slowest, largest_bytes()


def main() -> int:
    """Run, print the table, say whether all was well."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--inputs", type=int, default=1_000_000)
    asked.add_argument("--seconds", type=float, default=900.0)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--processes", type=int, default=2)
    asked.add_argument("--only", nargs="*", default=(), help="names of targets")
    args = asked.parse_args()
    began = time.monotonic()
    share = args.inputs // args.processes
    jobs = [(args.seed + k, share, args.seconds, tuple(args.only)) for k in range(args.processes)]
    spawn = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(args.processes, mp_context=spawn) as pool:  # one that dies is told, not waited for
        found = list(pool.map(work, jobs))
    counts: Counter[tuple[str, str]] = Counter()
    for one in found:
        counts += one[0]
    for (name, outcome), many in sorted(counts.items()):
        print(f"{name:<18} {outcome:<26} {many:>9,}")
    defects = {d.partition("  input:")[0]: d for one in found for d in one[1]}
    slow, where = max((one[2], one[3]) for one in found)
    memory = max(one[4] for one in found)
    print(f"{'all':<18} {'':<26} {sum(counts.values()):>9,}  in {time.monotonic() - began:.0f} s")
    print(f"slowest {slow:.2f} s ({where}); most memory {memory / 1e6:.0f} MB; {len(defects)} defects")
    for text in defects.values():
        print("\n" + text)
    return 1 if defects else 0


if __name__ == "__main__":
    sys.exit(main())
