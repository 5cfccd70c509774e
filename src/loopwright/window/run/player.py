"""The row under a run: play, to the start, to the end, the clock, how fast, and the time line.

Owns the time that is shown and how it moves on. Refuses to know what is shown at it.
"""

from __future__ import annotations

from time import monotonic

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QAbstractButton, QComboBox, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from loopwright.window.run.story import Moment, clock
from loopwright.window.run.timeline import TimeLine
from loopwright.window.theme import Theme

FRAME_MS = 40
SPEEDS = (1, 10, 60, 180, 720, 1440, 3600)
USUAL = {"day": 1440, "power cut": 180, "short cut": 1}
MINUTE_S, HOUR_S = 60.0, 3600.0
HINTS = (
    "Space plays, arrows step one minute,\nShift and arrows step an hour.",
    "Space plays, arrows step one second,\nShift and arrows step ten.",
)


class RoundButton(QAbstractButton):
    """A round button with a sign: `play`, `pause`, `start`, `end`."""

    def __init__(self, sign: str, look: Theme, px: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._sign, self._look, self._px = sign, look, px
        self.setFixedSize(px + 6, px + 6)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)

    def sizeHint(self) -> QSize:
        return QSize(self._px + 6, self._px + 6)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        self.update()

    def set_sign(self, sign: str) -> None:
        """Another sign."""
        if sign != self._sign:
            self._sign = sign
            self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        look, main = self._look, self._sign in ("play", "pause")
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            middle, r = QPointF(self.width() / 2.0, self.height() / 2.0), self._px / 2.0
            usable = self.isEnabled()
            painter.setPen(QPen(look.colour("accent" if main and usable else "line2" if usable else "line"), 1.2))
            hover = usable and self.underMouse() and not main
            painter.setBrush(look.colour("accent" if main and usable else "accent_soft" if hover else "field"))
            painter.drawEllipse(middle, r, r)
            if self.hasFocus():
                painter.setPen(QPen(look.colour("accent"), 2.0))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawEllipse(middle, r + 2.0, r + 2.0)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(look.colour("on_accent" if main and usable else "ink" if usable else "ink3"))
            s = r * 0.42
            x, y = middle.x(), middle.y()
            if self._sign == "play":
                painter.drawPolygon(_triangle(x, y, s))
            elif self._sign == "pause":
                for side in (-1.0, 0.25):
                    painter.drawRect(QRectF(x + side * s * 0.85, y - s, s * 0.6, 2.0 * s))
            else:
                way = -1.0 if self._sign == "start" else 1.0
                painter.drawPolygon(
                    QPolygonF([QPointF(x - way * s, y - s), QPointF(x + way * s * 0.6, y), QPointF(x - way * s, y + s)])
                )
                painter.drawRect(QRectF(x + way * s * 0.9 - 1.2, y - s, 2.4, 2.0 * s))


class Player(QWidget):
    """The row under the charts."""

    moved = Signal(float)
    """The time shown now, seconds."""
    playing_changed = Signal(bool)

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("run-player")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setFixedHeight(84)
        self._kind, self._end_s, self.time_s = "day", 0.0, 0.0
        self._growing = False
        self._clock = QTimer(self)
        self._clock.setInterval(FRAME_MS)
        self._clock.timeout.connect(self._tick)
        self._last = 0.0
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 0, 14, 0)
        row.setSpacing(4)
        self.start = RoundButton("start", look, 30, self)
        self.play = RoundButton("play", look, 42, self)
        self.end = RoundButton("end", look, 30, self)
        for button, words, key in (
            (self.start, "To the start", "Home"),
            (self.play, "Play", "Space"),
            (self.end, "To the end", "End"),
        ):
            button.setAccessibleName(words)
            button.setToolTip(f"{words}  {key}")
            row.addWidget(button)
        self.start.clicked.connect(self.to_start)
        self.end.clicked.connect(self.to_end)
        self.play.clicked.connect(self.toggle)
        told = QVBoxLayout()
        told.setSpacing(0)
        self.now = QLabel("", self)
        self.now.setObjectName("run-clock")
        self.now.setMinimumWidth(58)
        self.now.setAccessibleName("Time shown")
        self.rate = QLabel("", self)
        self.rate.setObjectName("hint")
        told.addStretch(1)
        told.addWidget(self.now)
        told.addWidget(self.rate)
        told.addStretch(1)
        row.addSpacing(2)
        row.addLayout(told)
        self.speed = QComboBox(self)
        self.speed.setAccessibleName("Speed")
        self.speed.setFixedWidth(78)
        for times in SPEEDS:
            self.speed.addItem(f"× {times}", times)
        self.speed.currentIndexChanged.connect(self._say_rate)
        row.addWidget(self.speed)
        self.line = TimeLine(look, self)
        self.line.wanted.connect(self.go)
        row.addWidget(self.line, 1)
        self.hint = QLabel(HINTS[False], self)
        self.hint.setObjectName("hint")
        row.addSpacing(10)
        row.addWidget(self.hint)
        self.show_run("day", 0.0, [])

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        for piece in (self.start, self.play, self.end, self.line):
            piece.set_look(look)

    def show_run(self, kind: str, end_s: float, moments: list[Moment]) -> None:
        """A run of this length; 0 for none. It stands at its start, or where it stood while it was under way."""
        self.stop()
        along, stays_s = self._growing and self.time_s >= self._end_s, self.time_s if self._growing else 0.0
        self._kind, self._end_s, self._growing = kind, end_s, False
        for widget in (self.start, self.play, self.end, self.speed):
            widget.setEnabled(end_s > 0.0)
        self.speed.setCurrentIndex(SPEEDS.index(USUAL.get(kind, 720)))
        self.line.show_run(kind, end_s, moments)
        self.hint.setText(HINTS[kind == "short cut"])
        self._say_rate()
        self.go(end_s if along else stays_s)

    def forget(self) -> None:
        """What comes next is another run."""
        self._growing = False

    def grow(self, kind: str, done_s: float, end_s: float, moments: list[Moment]) -> None:
        """So much of a run that goes to about `end_s` is done. The time shown goes along with it until it is moved."""
        first = not self._growing
        along = first or self.time_s >= self._end_s
        if first:
            self.show_run(kind, done_s, moments)
            self._growing = True
        self._end_s = done_s
        now = done_s if along else self.time_s
        self.line.show_run(kind, end_s, moments, done_s)
        self.go(now)

    @property
    def playing(self) -> bool:
        """Whether time moves on by itself."""
        return self._clock.isActive()

    def toggle(self) -> None:
        """Play, from the start again once the end is reached; or stop."""
        if self.playing:
            self.stop()
        elif self._end_s > 0.0:
            if self.time_s >= self._end_s - 1.0:
                self.go(0.0)
            self._last = monotonic()
            self._clock.start()
            self._show_playing()

    def stop(self) -> None:
        """Stop where it is."""
        if self.playing:
            self._clock.stop()
            self._show_playing()

    def _show_playing(self) -> None:
        self.play.set_sign("pause" if self.playing else "play")
        self.play.setAccessibleName("Pause" if self.playing else "Play")
        self.playing_changed.emit(self.playing)

    def go(self, time_s: float) -> None:
        """Show a time."""
        self.time_s = min(max(0.0, time_s), self._end_s)
        self.now.setText(clock(self._kind, self.time_s) if self._end_s > 0.0 else "")
        self.line.show_time(self.time_s)
        self.moved.emit(self.time_s)

    def to_start(self) -> None:
        """Show the start."""
        self.go(0.0)

    def to_end(self) -> None:
        """Show the end."""
        self.go(self._end_s)

    def step(self, seconds: float) -> None:
        """So many seconds on, or back."""
        self.go(self.time_s + seconds)

    def _strides(self) -> tuple[float, float]:
        """How far arrows go, without Shift and with it."""
        return (1.0, 10.0) if self._kind == "short cut" else (MINUTE_S, HOUR_S)

    def feed_key(self, key: int, shifted: bool) -> bool:
        """A key that plays or moves. False for any other."""
        far = self._strides()[shifted]
        if self._end_s <= 0.0:
            return False
        if key == Qt.Key.Key_Space:
            self.toggle()
        elif key in (Qt.Key.Key_Left, Qt.Key.Key_Down):
            self.step(-far)
        elif key in (Qt.Key.Key_Right, Qt.Key.Key_Up):
            self.step(far)
        elif key == Qt.Key.Key_Home:
            self.go(0.0)
        elif key == Qt.Key.Key_End:
            self.go(self._end_s)
        else:
            return False
        return True

    def _tick(self) -> None:
        now = monotonic()
        passed, self._last = min(0.25, now - self._last), now
        self.go(self.time_s + passed * float(self.speed.currentData()))
        if self.time_s >= self._end_s:
            self.stop()

    def _say_rate(self) -> None:
        hour_s = HOUR_S / float(self.speed.currentData() or 1)
        said = f"1 h in {hour_s:.0f} s" if hour_s >= 1.5 else f"1 h in {hour_s:.1f} s"
        if hour_s > 600.0:
            said = f"1 min in {hour_s / 60.0:.0f} s"
        self.rate.setText(said if self._end_s > 0.0 else "")


def _triangle(x: float, y: float, size: float) -> QPolygonF:
    return QPolygonF([QPointF(x - size * 0.7, y - size), QPointF(x + size, y), QPointF(x - size * 0.7, y + size)])
