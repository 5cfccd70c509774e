"""A small section of a vessel: its body, coils and stubs with letters at their true heights. A stub can be dragged.

Owns the picture and the drag. Refuses to change anything: it says where a stub was let go.
"""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QLinearGradient, QMouseEvent, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from loopwright.catalogue import Catalogue
from loopwright.sheet.ports import number, size_of
from loopwright.sheet.values import Part, Tapping
from loopwright.window.quantities import Units
from loopwright.window.theme import Theme

SNAP_M = 0.01
_SERVICE = {
    "source_flow": "flow",
    "load_flow": "flow",
    "source_return": "ret",
    "load_return": "ret",
    "vent": "vent",
    "feed": "feed",
    "drain": "disch",
    "relief": "disch",
}


def spread(wanted: list[float], gap: float, top: float, bottom: float) -> list[float]:
    """Places at least `gap` apart, in order, as near to the wanted ones as least squares allows, within bounds.

    Pool adjacent violators: neighbouring labels that would overlap are merged and share their mean offset.
    """
    if not wanted:
        return []
    gap = min(gap, (bottom - top) / max(1, len(wanted) - 1)) if len(wanted) > 1 else gap
    blocks: list[tuple[float, int]] = []
    for i, y in enumerate(wanted):
        mean, count = y - i * gap, 1
        while blocks and blocks[-1][0] > mean:
            before, n = blocks.pop()
            mean, count = (before * n + mean * count) / (n + count), n + count
        blocks.append((mean, count))
    flat = [mean for mean, count in blocks for _ in range(count)]
    last = len(wanted) - 1
    return [min(max(y, top), bottom - last * gap) + i * gap for i, y in enumerate(flat)]


class VesselSection(QWidget):
    """The picture beside the tapping table."""

    picked = Signal(str)
    """The letter of the stub that was clicked."""
    dropped = Signal(str, float)
    """Letter and new height in metres above the base."""
    dragging = Signal(str)
    """Words about the drag in hand, or an empty string."""

    def __init__(self, catalogue: Catalogue, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("section-view")
        self._catalogue, self._look = catalogue, look
        self._part: Part | None = None
        self._current = ""
        self._drag: tuple[str, float] | None = None
        self.units = Units()
        self.setMouseTracking(True)
        self.setAccessibleName("Section of the vessel with its tappings")

    def sizeHint(self) -> QSize:
        return QSize(98, 220)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        self.update()

    def show_part(self, part: Part, current: str) -> None:
        """Show a vessel, with one stub marked."""
        self._part, self._current = part, current
        self.update()

    # geometry

    def _body(self) -> QRectF:
        part = self._part
        if part is None:
            return QRectF()
        wide, tall = size_of(part, self._catalogue[part.kind])
        room = QRectF(30, 32, self.width() - 60, self.height() - 64)
        width = min(room.width(), max(20.0, room.height() * wide / max(tall, 0.01)))
        return QRectF(room.center().x() - width / 2, room.top(), width, room.height())

    def _tall(self) -> float:
        assert self._part is not None
        return size_of(self._part, self._catalogue[self._part.kind])[1]

    def _y(self, height_m: float) -> float:
        body = self._body()
        return body.bottom() - body.height() * height_m / max(self._tall(), 0.01)

    def _height(self, y: float) -> float:
        body = self._body()
        return max(0.0, min(self._tall(), (body.bottom() - y) / body.height() * self._tall()))

    def _stub_height(self, tap: Tapping) -> float:
        return self._drag[1] if self._drag is not None and self._drag[0] == tap.letter else tap.height_m

    def _labels(self) -> dict[str, tuple[float, float]]:
        """(y of the stub, y of its letter) by letter."""
        assert self._part is not None
        out: dict[str, tuple[float, float]] = {}
        for side in ("left", "right"):
            taps = sorted(
                (t for t in self._part.tappings if t.side == side),
                key=lambda t: (self._y(self._stub_height(t)), t.letter),
            )
            ys = [self._y(self._stub_height(t)) for t in taps]
            for tap, y, label in zip(taps, ys, spread(ys, 12.0, 10.0, self.height() - 10.0)):
                out[tap.letter] = (y, label)
        return out

    # painting

    def paintEvent(self, event: QPaintEvent) -> None:
        part = self._part
        if part is None:
            return
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            look, body = self._look, self._body()
            ink = look.colour("ink")
            lag = number(part, self._catalogue[part.kind], "insulation_mm", 0.0) or 0.0
            thick = min(12.0, body.height() / max(self._tall(), 0.01) * lag / 1000)
            dome = min(8.0, body.width() / 4)
            if thick > 1:
                painter.setPen(QPen(look.colour("line2"), 0.8))
                painter.setBrush(look.colour("ins"))
                painter.drawRoundedRect(body.adjusted(-thick, -thick, thick, thick), dome + thick / 2, dome + thick / 2)
            tint = QLinearGradient(body.topLeft(), body.bottomLeft())
            for i in range(6):  # the hottest layer is the last token
                colour = QColor(look[f"layer{5 - i}"])
                tint.setColorAt(i / 6 + 0.001, colour)
                tint.setColorAt((i + 1) / 6, colour)
            painter.setPen(QPen(ink, 1.8))
            painter.setBrush(tint)
            painter.drawRoundedRect(body, dome, dome)
            self._paint_coils(painter, part, body)
            labels = self._labels()
            font = QFont(self.font())
            font.setPixelSize(11)
            font.setWeight(QFont.Weight.DemiBold)
            painter.setFont(font)
            for tap in part.tappings:
                self._paint_tapping(painter, tap, body, thick, labels)

    def _paint_tapping(
        self, painter: QPainter, tap: Tapping, body: QRectF, thick: float, labels: dict[str, tuple[float, float]]
    ) -> None:
        current = tap.letter == self._current
        colour = self._look.colour("accent" if current else _SERVICE.get(tap.purpose, "ink"))
        painter.setPen(QPen(colour, 3.0 if current else 2.0, c=Qt.PenCapStyle.FlatCap))
        text = self._look.colour("accent" if current else "ink")
        if tap.side in ("top", "bottom"):
            up = tap.side == "top"
            x, edge = body.center().x(), body.top() if up else body.bottom()
            out = edge + (-thick - 5 if up else thick + 5)
            painter.drawLine(QPointF(x, edge), QPointF(x, out))
            painter.setPen(text)
            box = QRectF(x - 10, out - 13 if up else out, 20, 13)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, tap.letter)
            return
        left = tap.side == "left"
        y, label = labels[tap.letter]
        edge = body.left() if left else body.right()
        sign = -1 if left else 1
        end = edge + sign * (thick + 4)
        if tap.purpose == "sensor":
            painter.setPen(QPen(colour, 1.2))
            painter.drawLine(QPointF(end, y), QPointF(edge - sign * 7, y))
            painter.setBrush(self._look.colour("paper"))
            painter.drawEllipse(QPointF(edge - sign * 9, y), 2.6, 2.6)
        else:
            painter.drawLine(QPointF(edge, y), QPointF(end, y))
        letter = 4.0 if left else self.width() - 18.0
        painter.setPen(QPen(self._look.colour("accent" if current else "line2"), 0.9))
        near = letter + 13 if left else letter + 1
        painter.drawLine(QPointF(end, y), QPointF(near, label))
        painter.setPen(text)
        painter.drawText(QRectF(letter, label - 7, 14, 14), Qt.AlignmentFlag.AlignCenter, tap.letter)

    def _paint_coils(self, painter: QPainter, part: Part, body: QRectF) -> None:
        tall = self._tall()
        for coil in part.coils:
            tail = part.tapping(coil.upper)
            whole = coil.top_m - coil.bottom_m > 0.6 * tall
            left = (tail is not None and tail.side == "left") != whole
            middle = body.left() + body.width() * (0.3 if left else 0.68)
            half = body.width() * 0.17
            top, bottom = self._y(coil.top_m), self._y(coil.bottom_m)
            turns = max(3, round((bottom - top) / 9))
            path = QPainterPath(QPointF(middle, top))
            for i in range(turns):
                path.lineTo(middle + (half if i % 2 else -half), top + (bottom - top) * (i + 0.5) / turns)
            path.lineTo(middle, bottom)
            token = "hot" if "hot" in coil.purpose or "water" in coil.purpose or whole else "solar"
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(self._look.colour(token), 1.6, j=Qt.PenJoinStyle.RoundJoin))
            painter.drawPath(path)

    # dragging

    def _hit(self, at: QPointF) -> str:
        if self._part is None:
            return ""
        best, found = 14.0, ""
        body = self._body()
        for letter, (y, label) in self._labels().items():
            tap = self._part.tapping(letter)
            if tap is None or (tap.side == "left") != (at.x() < body.center().x()):
                continue
            gap = min(abs(at.y() - label) if not body.contains(at) else 99.0, abs(at.y() - y) + 2)
            if gap < best:
                best, found = gap, letter
        return found

    def mousePressEvent(self, event: QMouseEvent) -> None:
        letter = self._hit(event.position())
        if letter and event.button() == Qt.MouseButton.LeftButton and self._part is not None:
            tap = self._part.tapping(letter)
            self.picked.emit(letter)
            if tap is not None:
                self._drag = (letter, tap.height_m)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._drag is None:
            over = self._hit(event.position())
            self.setCursor(Qt.CursorShape.SizeVerCursor if over else Qt.CursorShape.ArrowCursor)
            return
        height = self._height(event.position().y())
        if not event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            height = round(round(height / SNAP_M) * SNAP_M, 4)
        self._drag = (self._drag[0], round(height, 4))
        self.dragging.emit(f"{self._drag[0]} at {self.units.height(self._drag[1])} above the base")
        self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        drag, self._drag = self._drag, None
        self.dragging.emit("")
        self.update()
        if drag is not None and self._part is not None:
            tap = self._part.tapping(drag[0])
            if tap is not None and abs(tap.height_m - drag[1]) > 1e-6:
                self.dropped.emit(*drag)
