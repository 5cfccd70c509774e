"""A consequence played on the sheet as well as in its picture: the store's layers, and the power cut it happens in.

Owns what the sheet shows meanwhile, and putting it back. The picture itself is `picture`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from loopwright.window.desk import Desk
from loopwright.window.lesson.picture import Picture

if TYPE_CHECKING:
    from loopwright.lessons.playing import Consequence


class Played(Picture):
    """The picture of a consequence, and its echo on the sheet."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(desk.look, parent)
        self._desk = desk
        self._dark = False
        self.moved.connect(self._layers)

    def put(self, cons: Consequence | None) -> None:
        """Play a consequence; None puts the sheet back."""
        from loopwright.waterways.views import NORMAL, Condition

        dark = cons is not None and cons.show == "cut"
        if dark and cons is not None:
            self._desk.show_condition(Condition(power=False, shut=frozenset(cons.blocked)))
        elif self._dark:
            self._desk.show_condition(NORMAL)
        self._dark = dark
        self.show_consequence(cons)

    def put_back(self) -> None:
        """Stop, and show the sheet as it normally runs; the picture stays."""
        from loopwright.waterways.views import NORMAL

        self.stop()
        self._desk.show_layers({})
        if self._dark:
            self._desk.show_condition(NORMAL)
            self._dark = False

    def _layers(self, at: int) -> None:
        """The layers of the moment, on the sheet as well."""
        cons = self.cons
        if cons is not None and cons.store and cons.layers_c:
            self._desk.show_layers({cons.store: cons.layers_c[min(at, len(cons.layers_c) - 1)]})
