"""`loopwright picture`: a sheet as SVG, PNG or PDF."""

from __future__ import annotations

import os
from pathlib import Path

import click

from loopwright.cli import common
from loopwright.errors import LoopwrightError


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("-o", "--out", type=click.Path(path_type=Path), required=True, help="NAME.svg, .png or .pdf.")
def picture(file: Path, out: Path) -> int:
    """Draw a sheet to a file, with its findings as numbered flags.

    Example: loopwright picture barn.loopwright -o barn.svg
    """
    ending = out.suffix.lower()
    if ending not in (".svg", ".png", ".pdf"):
        raise LoopwrightError(f"{out.name} ends in no known form", do="End it in .svg, .png or .pdf")
    if not out.parent.is_dir():
        raise LoopwrightError(f"There is no folder {out.parent}", do="Make it first, or name another")
    catalogue = common.catalogue()
    sheet = common.load(file, catalogue)
    result = common.survey_of(sheet, catalogue)
    from loopwright.drawing.flags import flags_of
    from loopwright.survey import against

    turned = against(sheet, catalogue)
    flags = flags_of(result.findings)
    if ending == ".svg":
        from loopwright.drawing.svg import sheet_svg
        from loopwright.files.writer import write_bytes

        write_bytes(out, sheet_svg(sheet, catalogue, result.services, flags, against=turned).encode())
    else:
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
        from loopwright.canvas.export import application, to_pdf, to_png

        app = application()  # kept alive while the picture is drawn
        (to_pdf if ending == ".pdf" else to_png)(out, sheet, catalogue, result.services, flags, against=turned)
        del app
    return common.CLEAR
