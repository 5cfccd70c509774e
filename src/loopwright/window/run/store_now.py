"""A store at one instant: layers coloured and figured, tappings with what moves in them, and the key of colours.

Owns the picture. Refuses to know runs: it is given a `StoreNow`.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QLinearGradient,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QPolygonF,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from loopwright.drawing.store import LAYER_STOPS, layer_colour
from loopwright.window.run.reading import StoreNow, Tap
from loopwright.window.section import spread
from loopwright.window.theme import Theme

SCALE_C = (20, 40, 60, 80, 95)
FIGURED = 4
"""Every so manieth layer carries its temperature, in a store of twenty or so."""
PALE_C = (30.0, 78.0)
"""Between these the letters on a layer are dark."""
KEY_PX = 46
STUB_PX, LEAST_BODY_PX, NARROW_PX = 5.0, 40.0, 250


def letters_on(celsius: float) -> QColor:
    """The ink that can be read on water of a temperature."""
    return QColor("#1D2226" if PALE_C[0] <= celsius <= PALE_C[1] else "#FFFFFF")


def layer_colours(look: Theme) -> list[tuple[float, QColor]]:
    """The stops of the scale, 0 to 1 from 20 to 95 degC."""
    low, high = LAYER_STOPS[0][0], LAYER_STOPS[-1][0]
    return [((t - low) / (high - low), QColor(colour)) for t, colour in LAYER_STOPS]


class StorePicture(QWidget):
    """The store now."""

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._now: StoreNow | None = None
        self.setMinimumSize(230, 260)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAccessibleName("The store now")

    def sizeHint(self) -> QSize:
        return QSize(300, 560)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        self.update()

    def show_now(self, now: StoreNow | None) -> None:
        """Show a store as it is, or nothing."""
        self._now = now
        if now is not None and len(now.layers_c):
            moving = [f"{t.name} {'in' if t.moving > 0 else 'out'}" for t in now.taps if t.moving]
            self.setAccessibleDescription(
                f"{now.name}: top {now.layers_c[-1]:.0f} °C, bottom {now.layers_c[0]:.0f} °C. "
                + (f"Water moves at {', '.join(moving)}." if moving else "No water moves at its tappings.")
            )
        self.update()

    # ---- geometry

    def _body(self) -> QRectF:
        top, bottom = 40.0, self.height() - KEY_PX - 30.0
        left, right = (self._room(side) for side in ("left", "right"))
        if (over := left + right + LEAST_BODY_PX - self.width()) > 0.0:
            left, right = left - over / 2.0, right - over / 2.0
        wide = min(96.0, max(LEAST_BODY_PX, self.width() - left - right))
        spare = max(0.0, self.width() - left - right - wide)
        return QRectF(left + spare / 2.0, top, wide, bottom - top)

    def _room(self, side: str) -> float:
        """What the names at one side take, with their leaders."""
        metrics = QFontMetricsF(_font(self.font(), 11.0, QFont.Weight.DemiBold, condensed=True))
        names = [t.name for t in _shown(self._now.taps if self._now else (), side)]
        words = max((metrics.horizontalAdvance(_capital(n)) for n in names), default=0.0)
        return max(words, 34.0) + self._thick() + STUB_PX + self._leader() + 12.0

    def _thick(self) -> float:
        """The insulation, pixels."""
        return 0.0 if self._now is None or self._now.lagging_m <= 0.0 else 7.0 if self.width() < NARROW_PX else 10.0

    def _leader(self) -> float:
        return 8.0 if self.width() < NARROW_PX else 12.0

    def _y(self, height_m: float, body: QRectF) -> float:
        assert self._now is not None
        return body.bottom() - body.height() * min(1.0, max(0.0, height_m / max(self._now.high_m, 0.01)))

    # ---- painting

    def paintEvent(self, _event: QPaintEvent) -> None:
        now = self._now
        if now is None or not len(now.layers_c):
            return
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            body = self._body()
            dome = min(14.0, body.width() / 4.0)
            thick = self._thick()
            if thick:
                painter.setPen(QPen(self._look.colour("line2"), 1.0))
                painter.setBrush(self._look.colour("ins"))
                painter.drawRoundedRect(body.adjusted(-thick, -thick, thick, thick), dome + thick, dome + thick)
            shell = QPainterPath()
            shell.addRoundedRect(body, dome, dome)
            self._paint_layers(painter, now, body, shell)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(self._look.colour("ink"), 2.2))
            painter.drawPath(shell)
            self._paint_taps(painter, now, body, thick)
            self._paint_key(painter)

    def _paint_layers(self, painter: QPainter, now: StoreNow, body: QRectF, shell: QPainterPath) -> None:
        count = len(now.layers_c)
        high = body.height() / count
        painter.save()
        painter.setClipPath(shell)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        for k, celsius in enumerate(now.layers_c):
            box = QRectF(body.left(), body.bottom() - (k + 1) * high, body.width(), high + 1.0)
            painter.fillRect(box, QColor(layer_colour(float(celsius))))
        painter.restore()
        painter.setFont(_font(self.font(), 12.5, QFont.Weight.DemiBold))
        each = max(1, round(FIGURED * count / 20.0))
        while high * each < 24.0:
            each += 1
        for k in range(count - 1 - (count - 1) % 1, -1, -each):
            celsius = float(now.layers_c[k])
            painter.setPen(letters_on(celsius))
            box = QRectF(body.left(), body.bottom() - (k + 1) * high - 12.0, body.width(), high + 24.0)
            if k == count - 1:
                box.moveTop(max(box.top(), body.top() + 2.0 - 6.0))
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, self._degrees(celsius))

    def _degrees(self, celsius: float) -> str:
        return f"{celsius:.0f} °C"

    def _paint_taps(self, painter: QPainter, now: StoreNow, body: QRectF, thick: float) -> None:
        room = self.height() - KEY_PX - 8.0
        for side in ("left", "right"):
            taps = sorted(
                _shown(now.taps, side),
                key=lambda t: (-t.height_m, t.letter),
            )
            ys = [self._y(t.height_m, body) for t in taps]
            for tap, y, label in zip(taps, ys, spread(ys, 29.0, 30.0, room - 14.0)):
                self._paint_tap(painter, tap, body, thick, y, label)
        if now.vented:
            painter.setFont(_font(self.font(), 11.0))
            painter.setPen(QPen(self._look.colour("ink3"), 2.0))
            top = body.top() - thick
            painter.drawLine(QPointF(body.center().x(), top), QPointF(body.center().x(), top - 8.0))
            box = QRectF(body.center().x() - 60, top - 24.0, 120, 14)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, "vent open")

    def _paint_tap(self, painter: QPainter, tap: Tap, body: QRectF, thick: float, y: float, label: float) -> None:
        left = tap.side == "left"
        sign = -1.0 if left else 1.0
        edge = body.left() if left else body.right()
        out = edge + sign * (thick + STUB_PX)
        moving = tap.moving != 0 and tap.celsius is not None
        colour = QColor(layer_colour(tap.celsius or 0.0)) if moving else self._look.colour("ink3")
        if moving:  # pale water is not seen against the panel: an ink edge carries it
            painter.setPen(QPen(self._look.colour("ink"), 6.0, c=Qt.PenCapStyle.FlatCap))
            painter.drawLine(QPointF(edge, y), QPointF(out, y))
        painter.setPen(QPen(colour, 4.0 if moving else 2.4, c=Qt.PenCapStyle.FlatCap))
        painter.drawLine(QPointF(edge, y), QPointF(out, y))
        painter.setPen(QPen(self._look.colour("ink"), 3.0, c=Qt.PenCapStyle.FlatCap))
        painter.drawLine(QPointF(edge, y - 6.0), QPointF(edge, y + 6.0))
        far = out + sign * self._leader()
        painter.setPen(QPen(self._look.colour("line2"), 1.0))
        painter.drawLine(QPointF(out, y), QPointF(far, label))
        if moving:
            self._paint_arrow(painter, out + sign * 1.0, y, sign if tap.moving < 0 else -sign, colour)
        edge_px = 2.0
        box = QRectF(edge_px, label - 15.0, far - 3.0 - edge_px, 15.0) if left else QRectF(
            far + 4.0, label - 15.0, self.width() - edge_px - far - 4.0, 15.0
        )  # fmt: skip
        align = (Qt.AlignmentFlag.AlignRight if left else Qt.AlignmentFlag.AlignLeft) | Qt.AlignmentFlag.AlignVCenter
        font = _font(self.font(), 11.0, QFont.Weight.DemiBold if moving else QFont.Weight.Normal, condensed=True)
        painter.setFont(font)
        painter.setPen(self._look.colour("ink" if moving else "ink3"))
        name = painter.fontMetrics().elidedText(_capital(tap.name), Qt.TextElideMode.ElideRight, int(box.width()))
        painter.drawText(box, align, name)
        painter.setFont(_font(self.font(), 11.0, condensed=True))
        painter.setPen(self._look.colour("ink2" if moving else "ink3"))
        words = self._degrees(tap.celsius) if moving and tap.celsius is not None else "idle"
        if moving:
            words += " in" if tap.moving > 0 else " out"
        painter.drawText(box.translated(0.0, 13.5), align, words)

    def _paint_arrow(self, painter: QPainter, x: float, y: float, way: float, colour: QColor) -> None:
        """A head that points the way the water goes; paper round it."""
        head = QPolygonF([QPointF(x + way * 7, y), QPointF(x - way * 4, y - 5.5), QPointF(x - way * 4, y + 5.5)])
        painter.setPen(QPen(self._look.colour("ink"), 1.2))
        painter.setBrush(colour)
        painter.drawPolygon(head)

    def _paint_key(self, painter: QPainter) -> None:
        wide = min(170.0, self.width() - 60.0)
        box = QRectF((self.width() - wide) / 2.0, self.height() - KEY_PX + 6.0, wide, 13.0)
        tint = QLinearGradient(box.topLeft(), box.topRight())
        for at, colour in layer_colours(self._look):
            tint.setColorAt(at, colour)
        painter.setPen(QPen(self._look.colour("line2"), 1.0))
        painter.setBrush(tint)
        painter.drawRect(box)
        painter.setFont(_font(self.font(), 11.0))
        for celsius in SCALE_C:
            x = box.left() + wide * (celsius - SCALE_C[0]) / (SCALE_C[-1] - SCALE_C[0])
            painter.setPen(QPen(self._look.colour("line2"), 1.0))
            painter.drawLine(QPointF(x, box.bottom()), QPointF(x, box.bottom() + 4.0))
            painter.setPen(self._look.colour("ink2"))
            last = celsius == SCALE_C[-1]
            words = self._degrees(celsius) if last else self._degrees(celsius).split(" ")[0]
            words_box = QRectF(x - 8.0 if last else x - 25.0, box.bottom() + 5.0, 50.0, 15.0)
            align = Qt.AlignmentFlag.AlignLeft if last else Qt.AlignmentFlag.AlignHCenter
            painter.drawText(words_box, align | Qt.AlignmentFlag.AlignVCenter, words)


def _shown(taps: Sequence[Tap], side: str) -> list[Tap]:
    """Tappings of a side that water may pass."""
    return [t for t in taps if t.side == side and t.purpose not in ("sensor", "drain")]


def _capital(name: str) -> str:
    return name[:1].upper() + name[1:]


def _font(base: QFont, px: float, weight: QFont.Weight = QFont.Weight.Normal, condensed: bool = False) -> QFont:
    from loopwright.drawing.look import SHEET_FAMILY

    font = QFont([SHEET_FAMILY, "DejaVu Sans Condensed"]) if condensed else QFont(base)
    font.setPixelSize(round(px))
    font.setWeight(weight)
    return font
