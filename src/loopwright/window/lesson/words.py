"""Words of the trade in running text: explained under the pointer, and led to the glossary of the Help.

Owns setting them in HTML and the label that shows them, and what a lesson allows in words. What a word means is asked
of `lessons.glossary`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape, unescape
from typing import TYPE_CHECKING
from urllib.parse import quote

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QCursor
from PySide6.QtWidgets import QLabel, QSizePolicy, QToolTip, QWidget

from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from loopwright.catalogue import Catalogue
    from loopwright.lessons.lesson import Allowed
    from loopwright.sheet.values import Sheet

_TAG = re.compile(r"(<[^>]*>)")
_CLOSED = ("a", "b", "code")
"""Elements whose words are left alone: links, figures, equations."""


def with_words(html: str, *, link: bool = False) -> str:
    """The same HTML with each trade word explained where it is first used: under the pointer, or by a link besides."""
    from loopwright.lessons.glossary import terms_in

    out: list[str] = []
    seen: set[str] = set()
    inside = 0
    skip = False
    for piece in _TAG.split(html):
        if piece.startswith("<"):
            name = piece.strip("</>").split(" ")[0].lower()
            if name in _CLOSED:
                inside += -1 if piece.startswith("</") else 1
            elif name == "p":
                skip = 'class="title"' in piece or 'class="head"' in piece
            out.append(piece)
            continue
        if inside > 0 or skip or not piece.strip():
            out.append(piece)
            continue
        text, at = unescape(piece), 0
        for found in terms_in(text):
            if found.term.name in seen:
                continue
            seen.add(found.term.name)
            word = escape(text[found.start : found.end])
            out.append(escape(text[at : found.start], quote=False))
            if link:
                out.append(f'<a class="word" href="word:{quote(found.term.name)}">{word}</a>')
            else:
                says = escape(_wrapped(said_of(found.term.name)), quote=True)
                out.append(f'<span class="word" title="{says}">{word}</span>')
            at = found.end
        out.append(escape(text[at:], quote=False))
    return "".join(out)


def said_of(word: str) -> str:
    """What a word means, in a sentence or two."""
    from loopwright.lessons.glossary import lookup

    term = lookup(word)
    return f"{term.name[:1].upper()}{term.name[1:]}: {term.says}" if term is not None else ""


class Words(QLabel):
    """Text that wraps, with its trade words explained under the pointer."""

    wanted = Signal(str)
    """A page of the Help."""

    def __init__(self, parent: QWidget | None = None, *, name: str = "") -> None:
        super().__init__(parent)
        self._plain = ""
        self._html, self._lit = False, True
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.RichText)
        self.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.LinksAccessibleByMouse
        )
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        if name:
            self.setObjectName(name)
        self.linkHovered.connect(self._hovered)
        self.linkActivated.connect(self._followed)

    def say(self, text: str, look: Theme, *, html: bool = False, lit: bool = True) -> None:
        """Show a text; with `html` it is taken as it is. Trade words are underlined where they are `lit`."""
        self._plain, self._html, self._lit = text, html, lit
        body = with_words(text if html else escape(text, quote=False), link=True)
        ink = look[{"hint": "ink3", "lesson-follows": "ink2"}.get(self.objectName(), "ink")]
        style = f'style="color: {ink}; text-decoration: {"underline" if lit else "none"};"'
        body = body.replace("<b>", '<span style="font-weight: 600;">').replace("</b>", "</span>")
        self.setText(body.replace('class="word"', style))
        self.setAccessibleName(re.sub(r"<[^>]*>", "", unescape(text)) if html else text)

    def set_look(self, look: Theme) -> None:
        """The same text in another theme."""
        if self._plain:
            self.say(self._plain, look, html=self._html, lit=self._lit)

    @property
    def plain(self) -> str:
        """The text without its dress."""
        return self._plain

    def _hovered(self, link: str) -> None:
        if link.startswith("word:"):
            QToolTip.showText(QCursor.pos(), _wrapped(said_of(_word(link))), self)
        else:
            QToolTip.hideText()

    def _followed(self, link: str) -> None:
        if link.startswith("word:"):
            self.wanted.emit(f"glossary#{_word(link)}")
        elif link.startswith("help:"):
            self.wanted.emit(link.removeprefix("help:"))


def _word(link: str) -> str:
    from urllib.parse import unquote

    return unquote(link.partition(":")[2])


def _wrapped(text: str) -> str:
    """As rich text, which a tool tip breaks into lines."""
    return f"<qt>{escape(text)}</qt>"


# -- what a lesson allows ---------------------------------------------------------------------------------------------


def allowed_words(allowed: Allowed, sheet: Sheet, catalogue: Catalogue) -> list[str]:
    """What may be changed, one sentence a sort of change."""
    if allowed.anything:
        return ["Everything on the sheet may be changed."]
    return [*_allowed(allowed, sheet, catalogue), "Pipes, tees and caps are always free."]


def _allowed(allowed: Allowed, sheet: Sheet, catalogue: Catalogue) -> Iterator[str]:
    from loopwright.waterways.naming import kind_words

    def names(ids: tuple[str, ...]) -> str:
        return ", ".join("everything" if i == "*" else called(sheet, catalogue, i) for i in ids)

    if allowed.place:
        every = "*" in allowed.place
        kinds = (kind_words(catalogue[k].name) for k in allowed.place if k != "*" and k in catalogue)
        yield f"Add: {'any part' if every else ', '.join(kinds)}."
    if allowed.move:
        yield f"Move: {names(allowed.move)}."
    if allowed.remove:
        yield f"Take out: {names(allowed.remove)}."
    whole = tuple(part for part, props in allowed.change.items() if "*" in props and part not in allowed.remove)
    if whole:
        yield f"Change whatever you like of {names(whole)}."
    for part, props in allowed.change.items():
        if "*" not in props:
            who = "any part" if part == "*" else called(sheet, catalogue, part)
            kind = catalogue[sheet.parts[part].kind] if part in sheet.parts else None
            specs = [kind.prop(p) if kind is not None else None for p in props]
            labels = [s.label.lower() if s else p.replace("_", " ") for s, p in zip(specs, props, strict=True)]
            yield f"Change of {who}: {', '.join(labels)}."
    if allowed.tappings:
        yield f"Tappings and coils of {names(allowed.tappings)} may be changed."
    if allowed.pipes:
        which = "every pipe" if "*" in allowed.pipes else _pipes(allowed.pipes, sheet, catalogue)
        yield f"Size, material and lagging of {which} may be changed."
    if allowed.links:
        yield "Control links may be changed."


def _pipes(ids: tuple[str, ...], sheet: Sheet, catalogue: Catalogue) -> str:
    """Some pipes for people: how many, and at which vessels, fires and radiators. They have no name on the sheet."""
    at: dict[str, None] = {}
    for pipe in (sheet.pipes[i] for i in ids if i in sheet.pipes):
        for part in (pipe.a.part, pipe.b.part):
            if catalogue[sheet.parts[part].kind].large:
                at[called(sheet, catalogue, part)] = None
    count = "a pipe" if len(ids) == 1 else f"{len(ids)} pipes"
    return f"{count} at {', '.join(at)}" if at else count


def called(sheet: Sheet, catalogue: Catalogue, name: str) -> str:
    """A part or pipe for people: its name, else its kind and id; a pipe by what it joins."""
    ident, _, stub = name.partition("/")
    part = sheet.parts.get(ident)
    if part is None:
        from loopwright.waterways.graph import Waterways
        from loopwright.waterways.naming import called as named

        return named(Waterways(sheet, catalogue), ident).removeprefix("the ")
    alone = sum(p.kind == part.kind for p in sheet.parts.values()) == 1
    kind = catalogue[part.kind].name
    base = part.name or (kind if alone else f"{kind.lower()} {ident}")
    return f"{base}, {stub}" if stub else base
