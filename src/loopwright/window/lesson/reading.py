"""What to read next, as links: rules, computations, sources and words open in the Help, jobs in the order of work.

Owns finding the title and the page of each. Refuses to judge what is worth reading.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from loopwright.window.desk import Desk
from loopwright.window.lesson.words import Words

if TYPE_CHECKING:
    from loopwright.lessons.lesson import Lesson


def page_of(sort: str, key: str) -> tuple[str, str]:
    """Title and page of the Help for what a lesson names; a page that is empty opens the order of work."""
    if sort == "rule":
        from loopwright.rules.registry import page

        return page(key).title, f"rule/{key}"
    if sort == "computation":
        from loopwright.engineering import pages

        return pages.page(key).title, f"computation/{key}"
    if sort == "fact":
        from loopwright.rules.registry import facts

        return facts()[key].says, f"sources#{key}"
    if sort == "step":
        from loopwright.lessons.order_steps import steps

        title = next(s.title for s in steps().step if s.key == key)
        return f"Order of work: {title}", ""
    return f"The word “{key}”", f"glossary#{key}"


class Reading(Words):
    """Links to what a lesson names."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.pages: list[tuple[str, str]] = []
        self.wanted.connect(self._open)
        self.hide()

    def show_next(self, lesson: Lesson | None, page: str = "") -> None:
        """Link what a lesson names, or one rule's page alone; nothing for no lesson."""
        if lesson is None:
            self.hide()
            return
        named = (("rule", page),) if page else lesson.next
        self.pages = [page_of(*one) for one in named]
        links = [f'<a href="help:{escape(where or "order")}">{escape(title)}</a>' for title, where in self.pages]
        self.say("<b>Read next</b><br>" + "<br>".join(links), self._desk.look, html=True)
        self.show()

    def _open(self, page: str) -> None:
        if page == "order":
            self._desk.open("order")
        else:
            self._desk.help(page)
