"""A view as a picture: SVG with lines that stay lines, or PNG at twice the screen's size."""

from __future__ import annotations

import re
from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QPoint, QRectF, QSize
from PySide6.QtGui import QImage, QPainter
from PySide6.QtSvg import QSvgGenerator
from PySide6.QtWidgets import QGraphicsView, QWidget

from app.canvas import as_lines
from app.i18n import tr
from app.jobs import Progress, Stop
from app.stages.base import Stage

_PNG_SCALE = 2.0
_FAMILY = re.compile(rb'font-family="([^"]*)"')


def view_of(centre: QWidget) -> QWidget:
    """What is looked at in the middle of a stage: its drawing if there is one in view."""
    views = [v for v in centre.findChildren(QGraphicsView) if v.isVisible()]
    return max(views, key=lambda v: v.width() * v.height()) if views else centre


def save_view(stage: Stage) -> None:
    """Ask where to, and write a picture of what is looked at on a stage."""
    chosen = stage.ask.save_file(
        tr("Save picture of this view"),
        tr("Drawings (*.svg);;Pictures (*.png)"),
        suggestion=f"{stage.document.project.name}.svg",
    )
    if not chosen:
        return
    path = Path(chosen)
    path = path if path.suffix else path.with_suffix(".svg")
    data = picture_of(view_of(stage.centre), path, stage.document.title)

    def work(_progress: Progress, _stop: Stop) -> Path:
        from core.atomic import write_atomically

        write_atomically(path, data)
        return path

    def done(written: Path) -> None:
        stage.message.emit("note", tr("Written: {path}").format(path=written))

    stage.jobs.start(tr("Saving the picture"), work, done=done, lane="export")


def picture_of(widget: QWidget, path: Path, title: str) -> bytes:
    """The widget as it is on screen, in the format of the path's ending: .png, else SVG."""
    area = widget.viewport() if isinstance(widget, QGraphicsView) else widget
    size = area.size()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    drawn = path.suffix.lower() != ".png"
    if not drawn:
        image = QImage(size * _PNG_SCALE, QImage.Format.Format_RGB32)
        image.setDevicePixelRatio(_PNG_SCALE)
        image.fill(area.palette().window().color())
        painter = QPainter(image)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        _paint(widget, painter, size)
        painter.end()
        image.save(buffer, "PNG")  # type: ignore[call-overload]
    else:
        drawing = QSvgGenerator()
        drawing.setOutputDevice(buffer)
        drawing.setResolution(area.logicalDpiX())  # or texts come out smaller than on screen
        drawing.setSize(size)
        drawing.setViewBox(QRectF(0, 0, size.width(), size.height()))
        drawing.setTitle(title)
        painter = QPainter(drawing)
        painter.fillRect(0, 0, size.width(), size.height(), area.palette().window())
        with as_lines.picture():
            _paint(widget, painter, size)
        painter.end()
    made: QByteArray = buffer.data()
    data = bytes(made.data())
    # A reader without that very font takes one with serifs, unless told better.
    return _FAMILY.sub(rb'font-family="\1, sans-serif"', data) if drawn else data


def _paint(widget: QWidget, painter: QPainter, size: QSize) -> None:
    if isinstance(widget, QGraphicsView):
        whole = QRectF(0, 0, size.width(), size.height())
        widget.render(painter, whole, whole.toRect())
    else:
        widget.render(painter, QPoint(0, 0))
