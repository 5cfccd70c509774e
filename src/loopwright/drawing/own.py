"""A person's own kinds with the drawings beside them: one folder of kind files (TOML) and symbols (SVG).

Owns that whatever in it cannot be used is told and harms nothing else. What a kind file may
say is the catalogue's, what a symbol may hold `symbols`'.
"""

from __future__ import annotations

from pathlib import Path

from loopwright.catalogue import Catalogue, Kind, standard_catalogue, user_catalogue
from loopwright.catalogue.own import kinds_folder
from loopwright.drawing.symbols import adopt, read_symbol, shipped
from loopwright.errors import KindError


def own_kinds_here() -> tuple[Catalogue, tuple[KindError, ...]]:
    """As `own_kinds`, of the folder that is the person's own."""
    try:
        folder = kinds_folder()
    except KindError as bad:
        return standard_catalogue(), (bad,)
    return own_kinds(folder)


def own_kinds(folder: Path | None) -> tuple[Catalogue, tuple[KindError, ...]]:
    """The shipped kinds and those of the folder, their symbols taken on, and what was left out, with the reason."""
    refused: list[KindError] = []
    try:
        if folder is None or not folder.is_dir() or not any(folder.glob("*.toml")):
            return standard_catalogue(), ()
        kinds = user_catalogue(folder, refused)
    except OSError as bad:
        why = KindError(
            "The folder of your own kinds cannot be read", where=f"{folder}: {bad.strerror}", do="Check its rights"
        )
        return standard_catalogue(), (why,)
    for kind in kinds:
        if kind.id in standard_catalogue():
            continue
        try:
            _draw(kind, folder)
        except KindError as bad:
            refused.append(bad)
    return kinds, tuple(refused)


def own_kinds_or_raise(folder: Path | None) -> Catalogue:
    """As `own_kinds`, for whoever wants all or nothing. Raises the first KindError."""
    kinds, refused = own_kinds(folder)
    if refused:
        raise refused[0]
    return kinds


def _draw(kind: Kind, folder: Path) -> None:
    """Take on the drawing beside the kind's file. Without one, a shipped symbol or a plain box serves."""
    path = folder / f"{kind.symbol}.svg"
    if not path.exists() and not path.is_symlink():
        if kind.symbol != kind.id and not shipped(kind.symbol):
            raise KindError(
                f"Kind “{kind.id}” has the symbol “{kind.symbol}”, which is neither shipped nor beside it",
                where=path.name,
                do="Put the drawing beside the kind file, or name a shipped symbol",
            )
        return
    if shipped(kind.symbol):
        raise KindError(
            f"The symbol “{kind.symbol}” of “{kind.id}” has the name of a shipped one",
            where=path.name,
            do="Give the drawing another name, and the kind that symbol",
        )
    if not path.is_file() or not path.resolve().is_relative_to(folder.resolve()):
        raise KindError("A symbol is a link to another folder, or no file", where=path.name, do="Copy the file itself")
    drawn = read_symbol(path)
    if drawn.stretched != kind.large:
        box = "0 0 100 100, which is stretched to its size" if kind.large else "-12 -12 24 24, about its centre"
        raise KindError(f"The symbol of “{kind.id}” is not drawn in its box", where=path.name, do=f"Use viewBox {box}")
    adopt(kind.symbol, drawn)
