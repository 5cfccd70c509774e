"""Pages on the screen as they will be printed: a PDF, page below page, with its bookmarks beside it.

Owns the scrolling and the zoom. The pages are made by the library that reads PDF, so that what is shown is what is
saved. Refuses to know what the pages say.
"""

from __future__ import annotations

from collections.abc import Callable

import pypdfium2
from PySide6.QtCore import QEvent, QObject, QSize, Qt, Signal
from PySide6.QtGui import QImage, QKeyEvent, QPainter, QPaintEvent, QPixmap, QWheelEvent
from PySide6.QtWidgets import QHBoxLayout, QListWidget, QListWidgetItem, QScrollArea, QVBoxLayout, QWidget

GAP_PX = 18
DOTS_A_POINT = 2.0
"""How finely a page is made before it is scaled to the screen: 144 dots an inch."""
PLACE = Qt.ItemDataRole.UserRole
PX_A_DOT = 1.25 / DOTS_A_POINT
"""Pixels of the screen a dot of a page at zoom 1."""
ZOOMS = (0.5, 0.67, 0.8, 1.0, 1.25, 1.5, 2.0)


class Pages:
    """The pages of a PDF as pictures, and its bookmarks as (title, depth, page)."""

    def __init__(self, data: bytes, progress: Callable[[float], object] | None = None) -> None:
        self.data = data
        self.images: list[QImage] = []
        document = pypdfium2.PdfDocument(data)
        try:
            for number in range(len(document)):
                page = document[number]
                made = page.render(scale=DOTS_A_POINT, rev_byteorder=True)
                form = QImage.Format.Format_RGB888 if made.n_channels == 3 else QImage.Format.Format_RGBA8888
                image = QImage(bytes(made.buffer), made.width, made.height, made.stride, form)
                self.images.append(image.copy())
                page.close()
                if progress is not None:
                    progress((number + 1) / len(document))
            self.bookmarks = [
                (mark.get_title(), mark.level, dest.get_index())
                for mark in document.get_toc()
                if (dest := mark.get_dest()) is not None
            ]
        finally:
            document.close()


class _Sheet(QWidget):
    """One page."""

    def __init__(self, image: QImage, number: int, parent: QWidget) -> None:
        super().__init__(parent)
        self._image = image
        self._scaled: QPixmap | None = None
        self.setAccessibleName(f"Page {number}")

    def set_zoom(self, zoom: float) -> None:
        """Points of the page a pixel of the screen."""
        size = self._image.size() * (zoom * PX_A_DOT)
        self.setFixedSize(size)
        self._scaled = None
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        ratio = self.devicePixelRatioF()
        if self._scaled is None:
            scaled = self._image.scaled(
                QSize(round(self.width() * ratio), round(self.height() * ratio)),
                Qt.AspectRatioMode.IgnoreAspectRatio,
                Qt.TransformationMode.SmoothTransformation,
            )
            self._scaled = QPixmap.fromImage(scaled)
            self._scaled.setDevicePixelRatio(ratio)
        with QPainter(self) as painter:
            painter.drawPixmap(0, 0, self._scaled)
            painter.setPen(self.palette().mid().color())
            painter.drawRect(self.rect().adjusted(0, 0, -1, -1))


class PaperView(QWidget):
    """Bookmarks at the left, pages at the right."""

    page_changed = Signal(int, int)
    """Page in front and how many there are, counted from 1."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._sheets: list[_Sheet] = []
        self._zoom = 0.0
        """Chosen to suit the widest page at the first showing."""
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        self.contents = QListWidget(self)
        self.contents.setAccessibleName("Sections")
        self.contents.setObjectName("contents")
        self.contents.setFixedWidth(230)
        self.contents.setTextElideMode(Qt.TextElideMode.ElideRight)
        self.contents.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.contents.itemActivated.connect(self._go)
        self.contents.currentItemChanged.connect(lambda now, _before: self._go(now))
        row.addWidget(self.contents)
        self.area = QScrollArea(self)
        self.area.setObjectName("paper-area")
        self.area.setAccessibleName("Pages")
        self.area.setWidgetResizable(True)
        self.area.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        self.area.verticalScrollBar().valueChanged.connect(self._scrolled)
        self.area.viewport().installEventFilter(self)
        row.addWidget(self.area, 1)

    def show_pages(self, pages: Pages) -> None:
        """Show other pages, at the place where the reader was if there is one."""
        place = self.area.verticalScrollBar().value()
        if not self._zoom:
            room = self.area.viewport().width() - 2 * GAP_PX - self.area.verticalScrollBar().sizeHint().width()
            widest = max((image.width() for image in pages.images), default=1) * PX_A_DOT
            self._zoom = min(max(room / widest, ZOOMS[0]), 1.0)
        host = QWidget(self.area)
        host.setObjectName("paper-host")
        column = QVBoxLayout(host)
        column.setContentsMargins(GAP_PX, GAP_PX, GAP_PX, GAP_PX)
        column.setSpacing(GAP_PX)
        self._sheets = [_Sheet(image, number + 1, host) for number, image in enumerate(pages.images)]
        for sheet in self._sheets:
            sheet.set_zoom(self._zoom)
            column.addWidget(sheet, 0, Qt.AlignmentFlag.AlignHCenter)
        column.addStretch(1)
        self.area.setWidget(host)
        self.contents.blockSignals(True)
        self.contents.clear()
        for title, depth, page in pages.bookmarks:
            item = QListWidgetItem("    " * depth + title)
            item.setToolTip(title)
            item.setData(PLACE, page)
            self.contents.addItem(item)
        self.contents.blockSignals(False)
        self.area.verticalScrollBar().setValue(place)
        self._scrolled()

    def zoom_by(self, step: int) -> None:
        """One step nearer (1) or farther (-1)."""
        beyond = [zoom for zoom in ZOOMS if (zoom - self._zoom) * step > 0.01]
        self._zoom = (min(beyond) if step > 0 else max(beyond)) if beyond else self._zoom
        for sheet in self._sheets:
            sheet.set_zoom(self._zoom)

    @property
    def zoom(self) -> float:
        """1 is the page at its size on a usual screen."""
        return self._zoom or 1.0

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Ctrl and the wheel: nearer or farther, as on the sheet."""
        if isinstance(event, QWheelEvent) and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            if event.angleDelta().y():
                self.zoom_by(1 if event.angleDelta().y() > 0 else -1)
            return True
        return False

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom_by(1)
        elif event.key() == Qt.Key.Key_Minus:
            self.zoom_by(-1)
        else:
            super().keyPressEvent(event)

    def _go(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            number = item.data(PLACE)
            if number < len(self._sheets):
                self.area.verticalScrollBar().setValue(self._sheets[number].y() - GAP_PX)

    def _scrolled(self, *_: object) -> None:
        top = self.area.verticalScrollBar().value() + self.area.viewport().height() // 3
        front = max((n for n, sheet in enumerate(self._sheets) if sheet.y() <= top), default=0)
        self.page_changed.emit(front + 1, len(self._sheets))
