"""A person at work in a process of its own, to be killed: edits and saves as fast as they come.

`python victim.py FILE FOLDER SEED`: FILE is what is saved to, FOLDER holds the copy of unsaved work. After each edit it
says "edit N", after each save "saved N"; N stands in the title of the sheet.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from random import Random

os.environ["QT_QPA_PLATFORM"] = "offscreen"

from PySide6.QtCore import QCoreApplication

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.files.writer import save
from loopwright.sheet import edits
from loopwright.window.crash import Recovery
from loopwright.window.document import Document


def main() -> None:
    """Work until killed."""
    path, folder, r = Path(sys.argv[1]), Path(sys.argv[2]), Random(int(sys.argv[3]))
    app = QCoreApplication([])
    s = draw.sheet("0")
    for k in range(60):  # so large that writing takes a while
        s.add("radiator", f"R{k}", x_m=k % 10, height_m=k // 10)
    document = Document(s.done())
    recovery = Recovery(document, standard_catalogue(), folder)
    save(document.sheet, path)
    document.mark_saved(path)
    print("saved 0", flush=True)
    for number in range(1, 100_000):
        document.apply("Title", lambda sheet, n=number: edits.set_title(sheet, str(n)))
        print("edit", number, flush=True)
        app.processEvents()
        if r.random() < 0.4:
            save(document.sheet, path)
            print("saved", number, flush=True)
            document.mark_saved(path)
    del recovery


if __name__ == "__main__":
    main()
