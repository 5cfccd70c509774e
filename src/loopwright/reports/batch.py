"""Many sheets reported one after the other or side by side: which files, where to, what came of each.

Owns the naming of the files, the processes and how they are stopped. A report is written whole or not at all. Refuses
to know how reports look and how progress is shown.
"""

from __future__ import annotations

import multiprocessing
import signal
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any, Literal

import msgspec

from loopwright import reports
from loopwright.catalogue import Catalogue, standard_catalogue
from loopwright.drawing.own import own_kinds_or_raise
from loopwright.engineering.runs.result import Run
from loopwright.errors import FileError, LoopwrightError
from loopwright.files.reader import load
from loopwright.files.writer import write_bytes
from loopwright.reports.model import Paper
from loopwright.reports.stop import Cancel, Cancelled, ask
from loopwright.waterways import Waterways

Form = Literal["pdf", "html"]
POWER_CUT = "power-cut"


class Task(msgspec.Struct, frozen=True, kw_only=True):
    """One sheet to report: from, to, and how. `tables` is the folder for its tables, empty for none."""

    source: str
    target: str
    form: Form = "pdf"
    paper: Paper = "A4"
    computed: bool = False
    tables: str = ""
    table_form: Literal["csv", "json"] = "csv"
    runs: tuple[str, ...] = ()
    """Runs to play and print: “power-cut”, or the name of a day."""
    kinds: str = ""
    """Folder of a person's own kinds, empty for none."""


class Done(msgspec.Struct, frozen=True, kw_only=True):
    """What came of a sheet. `refused` is the sentence of a refusal; then nothing was written."""

    source: str
    target: str
    title: str = ""
    worst: str = ""
    counts: dict[str, int] = {}
    pages: int | None = None
    seconds: float = 0.0
    refused: str = ""


def targets(sheets: Sequence[Path], folder: Path, form: Form) -> list[Path]:
    """A file a sheet in a folder: its own name; where two are alike, that of the folder it lies in before it."""
    stems = [s.stem for s in sheets]
    out: list[Path] = []
    taken: set[str] = set()
    for sheet in sheets:
        stem = sheet.stem if stems.count(sheet.stem) == 1 else f"{sheet.resolve().parent.name}-{sheet.stem}"
        name, k = stem, 2
        while name.lower() in taken:  # some file systems do not tell capitals apart
            name, k = f"{stem}-{k}", k + 1
        taken.add(name.lower())
        out.append(folder / f"{name}.{form}")
    return out


def one(task: Task, progress: Callable[[str], None] | None = None, cancel: Cancel | None = None) -> Done:
    """Report one sheet. Raises LoopwrightError; Cancelled when `cancel` says so. All is made before any is written."""
    begin = time.perf_counter()

    def step(words: str) -> None:
        ask(cancel)
        if progress is not None:
            progress(words)

    catalogue = _catalogue(task.kinds)
    sheet = load(task.source, catalogue)
    runs = tuple(_played(Waterways(sheet, catalogue), what, step, cancel) for what in task.runs)
    report = reports.build(sheet, catalogue, paper=task.paper, computed=task.computed, runs=runs, progress=step)
    pages: int | None = None
    if task.form == "html":
        data = reports.html(report).encode()
    else:
        data, pages = reports.pdf_and_pages(report, step, cancel)
    tables = reports.tables(report, task.table_form) if task.tables else {}
    ask(cancel)
    for name, content in tables.items():
        folder = Path(task.tables)
        make_folder(folder)
        write_bytes(folder / name, content)
    write_bytes(task.target, data)
    return Done(
        source=task.source,
        target=task.target,
        title=report.title,
        worst=report.worst,
        counts=dict(report.counts),
        pages=pages,
        seconds=time.perf_counter() - begin,
    )


def _played(ways: Waterways, what: str, step: Callable[[str], None], cancel: Cancel | None) -> Run:
    """A run of a sheet. Raises FigureError where a figure is missing, and Cancelled."""
    from loopwright.engineering.runs.cut import power_cut
    from loopwright.engineering.runs.day import day_named, run_day

    step(f"run: {what}")
    run = power_cut(ways, cancel=cancel) if what == POWER_CUT else run_day(ways, day_named(what), cancel=cancel)
    ask(cancel)
    return run


def make_folder(folder: Path) -> None:
    """The folder, made if it is not there. Raises FileError."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as bad:
        raise FileError(
            f"The folder {folder} cannot be made", where=bad.strerror or str(bad), do="Choose another place"
        ) from None


def _catalogue(kinds: str) -> Catalogue:
    return own_kinds_or_raise(Path(kinds)) if kinds else standard_catalogue()


def _tried(task: Task, cancel: Cancel | None) -> Done:
    """One sheet of many: a refusal is an answer, so that the others go on."""
    try:
        return one(task, cancel=cancel)
    except Cancelled:
        raise
    except LoopwrightError as bad:
        return Done(source=task.source, target=task.target, refused=bad.sentence)


def many(tasks: Sequence[Task], workers: int = 1, cancel: Cancel | None = None) -> Iterator[Done]:
    """What came of each sheet, as it is finished. Raises Cancelled when stopped; what is written by then is whole.

    `workers` processes work side by side. A process that dies (out of memory) refuses the sheets it had.
    """
    if workers <= 1 or len(tasks) <= 1:
        for task in tasks:
            ask(cancel)
            yield _tried(task, cancel)
        return
    context = multiprocessing.get_context("spawn")
    stop = context.Event()
    pool = ProcessPoolExecutor(min(workers, len(tasks)), context, _begin, (stop,))
    waiting: dict[Future[Done], Task] = {pool.submit(_in_process, task): task for task in tasks}
    try:
        while waiting:
            ready, _ = wait(waiting, timeout=0.2, return_when=FIRST_COMPLETED)
            ask(cancel)
            for future in ready:
                task = waiting.pop(future)
                try:
                    yield future.result()
                except BrokenProcessPool:
                    yield Done(
                        source=task.source,
                        target=task.target,
                        refused="The process that wrote this report was ended. Try again with fewer --jobs.",
                    )
    except BaseException:
        stop.set()
        raise
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


_stop: Any = threading.Event()
"""In a process that writes reports: set when somebody stops them all."""


def _begin(stop: Any) -> None:
    """A process of the pool: it is stopped by the first process, not by the keyboard, so that it ends between pages."""
    global _stop
    _stop = stop
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _in_process(task: Task) -> Done:
    return _tried(task, _stop.is_set)
