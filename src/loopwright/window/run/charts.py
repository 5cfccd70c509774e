"""Three charts of a run on one time axis: temperatures, heat, and the layers of a store.

Owns the plots and what is drawn in them. Refuses to know how a run is made or played: it is told a time and tells one.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QFont, QMouseEvent, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QWidget

from loopwright.drawing.store import layer_colour
from loopwright.window.run.axes import EndAxis, Named, Tag, TimeAxis, ValueAxis
from loopwright.window.run.curves import busy, contour, figure_spot, smoothed, widened
from loopwright.window.run.reading import Curve, Reading
from loopwright.window.run.story import clock, when
from loopwright.window.theme import Theme

HEAD_PX, LEFT_PX, FOOT_PX = 24, 44, 26
OVER_PX = 6.0
"""Between a heading and its chart, for the topmost figure beside it."""
END_PX = ((560, 108), (330, 98), (0, 62))
"""Room for the names at the ends of the lines, from these widths on."""
COLUMNS = 480
FIGURE_PX = 42.0
"""What the figure of a contour takes along the time axis, with air."""
SHARES = (40, 26, 32)
CONTOUR_STEP_C = 10
MOST_LABELS = 3


class Charts(pg.GraphicsLayoutWidget):
    """The charts of one run."""

    wanted = Signal(float)
    """A time that was clicked, seconds."""
    said = Signal(str)
    """The figures of a curve that was clicked."""

    def __init__(self, look: Theme, parent: QWidget | None = None, title: str = "") -> None:
        self._tag: Tag | None = None  # before the base class resizes itself
        super().__init__(parent=parent)
        self._look, self._store = look, ""
        self._reading: Reading | None = None
        self._time_s, self._title, self._end_s = 0.0, title, 60.0
        self._curves: list[tuple[pg.PlotItem, Curve]] = []
        self._cursors: list[pg.InfiniteLine] = []
        self._rings: list[tuple[pg.ScatterPlotItem, Curve]] = []
        self._plots: list[pg.PlotItem] = []
        self._drawn: list[tuple[pg.PlotDataItem, str]] = []
        self._layer_items: list[pg.GraphicsObject] = []
        self._held: list[tuple[float, float]] = []
        self.setFrameShape(self.Shape.NoFrame)
        self.setAntialiasing(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setMinimumSize(200, 300)
        self.setAccessibleName("Charts of the run")
        self.ci.layout.setSpacing(0.0)
        self.ci.layout.setContentsMargins(10.0, 6.0, 2.0, 4.0)

    # ---- what is shown

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        self._build()

    def show_reading(self, reading: Reading | None, store: str, title: str = "", end_s: float = 0.0) -> None:
        """Show a run, and of its stores this one; the time axis goes to `end_s` at least."""
        self._end_s = max(end_s, reading.end_s if reading is not None else 0.0, 1.0)
        self._reading, self._store, self._title, self._held = reading, store, title, []
        self._build()

    def grow(self, reading: Reading, store: str, end_s: float) -> None:
        """Show what there is so far of a run that goes to about `end_s`.

        The axes stand from the first time on, as wide as the run is likely to want them, and the lines grow along them.
        """
        same = bool(self._held) and store == self._store and end_s == self._end_s and not self._title
        self._reading, self._store, self._title, self._end_s = reading, store, "", end_s
        if not self._held:
            self._held = [reading.likely_celsius(store), (-0.05 * reading.likely_kw, 1.08 * reading.likely_kw)]
        warm, heats = reading.temperatures(store), reading.heats()
        for k, curves in enumerate((warm, heats)):
            self._held[k] = widened(self._held[k], [c.values for c in curves], (10.0, 5.0)[k])
        if not same or [c.name for c in (*warm, *heats)] != [name for _, name in self._drawn]:
            self._build()
            return
        for plot, span in zip(self._plots, self._held):
            plot.setYRange(*span, padding=0.0)
        times = reading.run.times_s
        for (item, _), curve in zip(self._drawn, (*warm, *heats)):
            item.setData(times, curve.values)
        plots = [plot for plot, _ in self._curves]
        self._curves = list(zip(plots, (*warm, *heats)))
        self._rings = [(rings, curve) for (rings, _), (_, curve) in zip(self._rings, self._curves)]
        look = self._look
        for plot, curves in zip(self._plots, (warm, heats)):
            named = [Named(float(c.values[-1]), c.name, look.colour(c.token)) for c in curves]
            if curves is warm:
                named = [Named(m.value_c, m.name, look.colour(m.token)) for m in reading.limits(store)] + named
            plot.getAxis("right").show_names(named)
        if store:
            third = self._plots[2]
            for piece in self._layer_items:
                third.removeItem(piece)
            self._paint_layers(third, reading, reading.store_now(store, 0.0).high_m)
        self.show_time(self._time_s)

    def show_time(self, time_s: float) -> None:
        """Move the cursor."""
        self._time_s = time_s
        reading = self._reading
        if reading is None:
            return
        for line in self._cursors:
            line.setPos(time_s)
        for rings, curve in self._rings:
            rings.setData([time_s], [reading.at(curve.values, time_s)])
        self._place_tag()
        self.setAccessibleDescription(self.words_at(time_s))

    @property
    def end_s(self) -> float:
        """Where the time axis ends, seconds."""
        return self._end_s

    def span_px(self) -> tuple[int, int] | None:
        """Where the time axis begins and ends, in pixels of this widget."""
        if not self._plots or self._reading is None:
            return None
        box = self._plots[0].vb
        edges = [box.mapViewToScene(QPointF(t, 0.0)) for t in (0.0, self._end_s)]
        return self.mapFromScene(edges[0]).x(), self.mapFromScene(edges[1]).x()

    def spans(self) -> list[tuple[float, float]]:
        """From where to where each chart goes upwards."""
        return [tuple(plot.vb.viewRange()[1]) for plot in self._plots]

    def set_spans(self, spans: list[tuple[float, float]]) -> None:
        """The same height for the same figure in charts side by side."""
        for plot, span in zip(self._plots, spans):
            plot.setYRange(*span, padding=0.0)

    def words_at(self, time_s: float) -> str:
        """All figures at a time, for those who do not see the charts."""
        reading = self._reading
        if reading is None:
            return ""
        unit = {0: "°C", 1: "kW"}
        told = [f"{c.name} {reading.at(c.values, time_s):.{n}f} {unit[n]}"
                for p, c in self._curves for n in (0, 1) if p is self._plots[n]]  # fmt: skip
        said = when(reading.clock, time_s)
        return f"{said[0].upper()}{said[1:]}: {', '.join(told)}."

    # ---- building

    def _build(self) -> None:
        look, reading = self._look, self._reading
        self.setBackground(look.colour("paper"))
        self.ci.clear()
        if self._tag is not None:
            self.scene().removeItem(self._tag)
            self._tag = None
        self._curves, self._cursors, self._rings, self._plots = [], [], [], []
        self._drawn, self._layer_items = [], []
        if reading is None:
            return
        warm, heats = reading.temperatures(self._store), reading.heats()
        limits = reading.limits(self._store)
        if self._title:
            self._caption()
        self._heading(1, "Temperatures", "°C", extra="" if reading.run.condition.power else "no electricity")
        values = [c.values for c in warm]
        top = max([float(v.max()) for v in values] + [m.value_c for m in limits]) if values else 100.0
        low = min(float(v.min()) for v in values) if values else 0.0
        tight = (10.0 * np.floor(low / 10.0), 10.0 * np.ceil((top + 4.0) / 10.0))
        first = self._plot(2, self._held[0] if self._held else tight)
        for limit in limits:
            line = pg.InfiniteLine(limit.value_c, 0, _pen(look, limit.token, 1.6, limit.dash))
            first.addItem(line)
        named = [Named(m.value_c, m.name, look.colour(m.token)) for m in limits]
        named += self._lines(first, warm)
        first.getAxis("right").show_names(named)
        self._heading(3, "Heat", "kW")
        most = max([float(c.values.max()) for c in heats], default=1.0)
        least = min([float(c.values.min()) for c in heats], default=0.0)
        tight = (min(-0.02 * most, least * 1.1), max(most * 1.08, 0.5))
        second = self._plot(4, self._held[1] if self._held else tight)
        second.getAxis("right").show_names(self._lines(second, heats))
        if self._store:
            high = reading.store_now(self._store, 0.0).high_m
            self._heading(5, "Store layers", "height above its base, m")
            third = self._plot(6, (0.0, high))
            self._paint_layers(third, reading, high)
        for row, share in zip((2, 4, 6), SHARES):
            self.ci.layout.setRowStretchFactor(row, share if row < 6 or self._store else 0)
        self._plots[-1].getAxis("bottom").setStyle(showValues=True)
        self._plots[-1].getAxis("bottom").setHeight(FOOT_PX)
        for plot in self._plots[1:]:
            plot.setXLink(self._plots[0])
        self._plots[0].vb.sigXRangeChanged.connect(self._place_tag)
        self._plots[-1].vb.sigResized.connect(self._place_tag)
        self._tag = Tag(look)
        self.scene().addItem(self._tag)
        self.ci.setGeometry(self.range)  # it shrank to its first heading while that stood alone
        self.show_time(self._time_s)

    def _end_px(self) -> int:
        return next(room for wide, room in END_PX if self.width() >= wide)

    def _heading(self, row: int, title: str, unit: str, extra: str = "") -> None:
        look = self._look
        said = f"<span style='font-weight:600;color:{look['ink']};font-size:13px'>{title}</span>"
        said += f"&nbsp;&nbsp;&nbsp;&nbsp;<span style='color:{look['ink3']};font-size:12px'>{unit}</span>"
        if extra:
            said += (
                f"&nbsp;&nbsp;&nbsp;<span style='color:{look['accent']};font-size:12px;font-weight:600'>{extra}</span>"
            )
        label = pg.LabelItem(said, justify="left")
        label.setMinimumHeight(HEAD_PX)
        label.setMaximumHeight(HEAD_PX)
        self.ci.addItem(label, row, 0)

    def _caption(self) -> None:
        """Whose charts these are, where there are two."""
        label = pg.LabelItem(
            f"<span style='font-weight:600;color:{self._look['accent']};font-size:13px'>{self._title}</span>",
            justify="left",
        )
        label.setMaximumHeight(HEAD_PX)
        self.ci.addItem(label, 0, 0)

    def _plot(self, row: int, span: tuple[float, float]) -> pg.PlotItem:
        look, reading = self._look, self._reading
        assert reading is not None
        axes = {
            "bottom": TimeAxis(look, reading.clock),
            "left": ValueAxis(look),
            "right": EndAxis(look, self._end_px()),
        }
        plot = pg.PlotItem(axisItems=axes, enableMenu=False)
        plot.hideButtons()
        plot.layout.setContentsMargins(0.0, OVER_PX, 0.0, 0.0)
        plot.showAxis("right")
        plot.getAxis("left").setWidth(LEFT_PX)
        plot.getAxis("bottom").setStyle(showValues=False)
        plot.getAxis("bottom").setHeight(6)
        box = plot.vb
        for side in ("left", "bottom"):
            plot.getAxis(side).setZValue(-1)  # its lines across belong under the curves
        box.setMouseEnabled(x=False, y=False)
        box.setDefaultPadding(0.0)
        box.setBorder(pg.mkPen(look.colour("line"), width=1))
        if not reading.run.condition.power:
            shade = QColor(look["accent_soft"])
            shade.setAlpha(130)
            box.setBackgroundColor(shade)
        box.setXRange(0.0, self._end_s, padding=0.0)
        box.setYRange(*span, padding=0.0)
        cursor = pg.InfiniteLine(self._time_s, 90, pg.mkPen(look.colour("ink"), width=1.4))
        cursor.setZValue(50)
        plot.addItem(cursor, ignoreBounds=True)
        self._cursors.append(cursor)
        self._plots.append(plot)
        self.ci.addItem(plot, row, 0)
        return plot

    def _lines(self, plot: pg.PlotItem, curves: list[Curve]) -> list[Named]:
        look, reading = self._look, self._reading
        assert reading is not None
        named = []
        for curve in curves:
            pen = _pen(look, curve.token, 2.4 if curve.bold else 1.8, curve.dash)
            fill, values = None, curve.values
            if curve.filled:
                soft = QColor(look[curve.token])
                soft.setAlpha(60)
                fill = pg.mkBrush(soft)
            if busy(values) and not self._held:
                low, values, top = smoothed(values)
                self._band(plot, curve, low, top)
            item = pg.PlotDataItem(
                reading.run.times_s, values, pen=pen, fillLevel=0.0 if curve.filled else None, brush=fill
            )
            plot.addItem(item)
            self._drawn.append((item, curve.name))
            rings = pg.ScatterPlotItem(
                size=8, pen=pg.mkPen(look.colour(curve.token), width=1.6), brush=pg.mkBrush(look.colour("paper"))
            )
            rings.setZValue(60)
            plot.addItem(rings, ignoreBounds=True)
            self._rings.append((rings, curve))
            self._curves.append((plot, curve))
            named.append(Named(float(curve.values[-1]), curve.name, look.colour(curve.token)))
        return named

    def _band(self, plot: pg.PlotItem, curve: Curve, low: np.ndarray, top: np.ndarray) -> None:
        """Between what a curve that goes up and down all the time has for its lows and highs."""
        assert self._reading is not None
        soft = QColor(self._look[curve.token])
        soft.setAlpha(38)
        times = self._reading.run.times_s
        edges = [pg.PlotDataItem(times, side, pen=pg.mkPen(None)) for side in (low, top)]
        band = pg.FillBetweenItem(*edges, brush=pg.mkBrush(soft))
        band.setZValue(-5)
        plot.addItem(band)

    # ---- layers

    def _paint_layers(self, plot: pg.PlotItem, reading: Reading, high: float) -> None:
        times, table = reading.run.times_s, reading.run.layers[self._store]
        even = np.linspace(0.0, reading.end_s, min(COLUMNS, max(2, len(times) * 2)))
        layers = np.column_stack([np.interp(even, times, table[:, k]) for k in range(table.shape[1])])
        picture = pg.ImageItem(layers, axisOrder="col-major", autoDownsample=False)
        picture.setLookupTable(_scale())
        picture.setLevels((20.0, 95.0))
        picture.setRect(QRectF(0.0, 0.0, max(reading.end_s, 1.0), high))
        picture.setZValue(-10)
        plot.addItem(picture)
        self._layer_items = [picture]
        steps = range(10 * int(layers.min() // 10 + 1), int(layers.max()) + 1, CONTOUR_STEP_C)
        marked: list[tuple[float, float]] = []
        room = self._end_s * FIGURE_PX / max(200.0, self.width() - LEFT_PX - 110.0)
        for level in steps:
            heights = contour(layers, float(level), high)
            if np.isfinite(heights).sum() < 2:
                continue
            ink = QColor("#1D2226")
            line = pg.PlotDataItem(even, heights, pen=pg.mkPen(ink, width=1.0), connect="finite")
            plot.addItem(line)
            self._layer_items.append(line)
            if self._held:
                continue  # a figure that moves on with every look would be no help
            spot = figure_spot(even, heights, high, marked, room)
            if spot is not None and len(marked) < MOST_LABELS * 2:
                marked.append(spot)
                words = pg.TextItem(f"{level}", color=ink, anchor=(0.5, 0.5), fill=pg.mkBrush(252, 251, 248, 225))
                words.setFont(_small(QFont.Weight.DemiBold))
                words.textItem.document().setDocumentMargin(2.0)
                words.updateTextPos()
                words.setPos(*spot)
                words.setZValue(20)
                plot.addItem(words)
                self._layer_items.append(words)

    # ---- cursor

    def _place_tag(self, *_: object) -> None:
        if self._tag is None or not self._plots or self._reading is None:
            return
        box = self._plots[0].vb
        at = box.mapViewToScene(QPointF(self._time_s, 0.0)).x()
        area = self._plots[-1].vb.sceneBoundingRect()
        self._tag.show_words(clock(self._reading.clock, self._time_s), at, area.bottom(), area.left(), area.right())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if self._tag is not None:  # built
            for plot in self._plots:
                plot.getAxis("right").setWidth(self._end_px())
        self._place_tag()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._take(event, told=True)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if event.buttons() & Qt.MouseButton.LeftButton:
            self._take(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        event.accept()

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()

    def _take(self, event: QMouseEvent, *, told: bool = False) -> None:
        if not self._plots or event.buttons() != Qt.MouseButton.LeftButton or self._reading is None:
            return
        spot = self.mapToScene(event.position().toPoint())
        time_s = self._plots[0].vb.mapSceneToView(spot).x()
        time_s = min(max(0.0, time_s), self._end_s)
        self.wanted.emit(time_s)
        if told:
            self.said.emit(self._told(spot, time_s) or self.words_at(time_s))

    def _told(self, spot: QPointF, time_s: float) -> str:
        """The nearest curve within reach, and its value."""
        reading, best, said = self._reading, 8.0, ""
        assert reading is not None
        for plot, curve in self._curves:
            if not plot.vb.sceneBoundingRect().contains(spot):
                continue
            value = reading.at(curve.values, time_s)
            gap = abs(plot.vb.mapViewToScene(QPointF(time_s, value)).y() - spot.y())
            if gap < best:
                best = gap
                warm = plot is self._plots[0]
                figure = f"{value:.0f} °C" if warm else f"{value:.2f} kW"
                said = f"{curve.name[0].upper()}{curve.name[1:]} {when(reading.clock, time_s)}: {figure}."
        return said


@cache
def _scale() -> np.ndarray:
    """Colours of layers from 20 to 95 degC. (256, 4)"""
    return np.array([QColor(layer_colour(20.0 + 75.0 * i / 255.0)).getRgb() for i in range(256)], dtype=np.ubyte)


def _small(weight: QFont.Weight = QFont.Weight.Normal) -> QFont:
    from loopwright.window.theme import base_font

    font = base_font()
    font.setPixelSize(11)
    font.setWeight(weight)
    return font


def _pen(look: Theme, token: str, width: float, dash: tuple[float, ...]) -> object:
    pen = pg.mkPen(look.colour(token), width=width)
    if dash:
        pen.setDashPattern([d / width * 1.8 for d in dash])
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    return pen
