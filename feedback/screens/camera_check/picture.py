"""The camera's picture in the camera check: guides for the eye, and the belt's ends to move."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, pyqtSignal
from PyQt6.QtGui import (
    QColor,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
    QResizeEvent,
)
from PyQt6.QtWidgets import QAbstractSlider, QSizePolicy, QWidget

from feedback.screens.camera_check.belt_lines import BeltLines, moved
from feedback.screens.widgets import palette
from feedback.screens.widgets.design import BODY_PX, SMALL_PX
from feedback.screens.widgets.figure import draw_body
from feedback.screens.widgets.lettering import font
from feedback.screens.widgets.stop_keys import KeysBack
from feedback.screens.widgets.style import named
from feedback.texts.camera_check import tell
from shared.flow import View
from shared.pictures import Picture

STEPS: Final = 1000
"""Places of a line across the picture."""
_STEP: Final = 10
_PAGE: Final = 50
_NEAR_PX: Final = 14
_GRIP_PX: Final = 34
_RIM_PX: Final = 2.0
_HALF_WIDE: Final = {View.SIDE: 0.27, View.BEHIND: 0.19, View.FRONT: 0.19}
"""Half the width of the runner's frame, in heights of the picture."""
_FRAME_DOWN: Final = (0.08, 0.92)


class Grip(QAbstractSlider):
    """The handle of one line; keys and screen readers know it as a slider."""

    def __init__(self, parent: QWidget, key: str) -> None:
        super().__init__(parent)
        self.key = key
        self.setRange(0, STEPS)
        self.setSingleStep(_STEP)
        self.setPageStep(_PAGE)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.resize(_GRIP_PX, _GRIP_PX)
        named(self, tell(f"{key}_end"), tell(f"{key}_about"))

    def event(self, event: QEvent | None) -> bool:
        """Its own keys move the line, whatever else they do in this window."""
        if not isinstance(event, QKeyEvent) or event.type() is not QEvent.Type.ShortcutOverride:
            return super().event(event)
        if event.key() not in self._steps():
            return super().event(event)
        event.accept()
        return True

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 - Qt's name
        """Arrows move the line the way they point; with Shift in small steps."""
        if event is None:
            return
        way = self._steps().get(event.key())
        if way is None:
            event.ignore()
            return
        small = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        self.setValue(self.value() + way * (1 if small else _STEP))

    def _steps(self) -> dict[int, int]:
        return {
            Qt.Key.Key_Left: -1,
            Qt.Key.Key_Right: 1,
            Qt.Key.Key_Up: -1 if self.orientation() is Qt.Orientation.Vertical else 1,
            Qt.Key.Key_Down: 1 if self.orientation() is Qt.Orientation.Vertical else -1,
            Qt.Key.Key_PageUp: -5,
            Qt.Key.Key_PageDown: 5,
        }

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """A plate with the end's letter; ringed while it has the keys."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        plate = QRectF(self.rect()).adjusted(3, 3, -3, -3)
        rim = palette.KEY_FOCUS if self.hasFocus() else palette.BELT_LINE
        painter.setPen(QPen(QColor(rim.colour), 4 if self.hasFocus() else 2))
        painter.setBrush(QColor(palette.BELT_LINE.on))
        painter.drawRoundedRect(plate, 6, 6)
        painter.setPen(QColor(palette.BELT_LINE.colour))
        painter.setFont(font(BODY_PX + 2, bold=True))
        painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, tell(f"{self.key}_letter"))
        painter.end()


class SetupPicture(QWidget):
    """Shows the newest picture with its guides; tells when a line was moved by hand."""

    lines_moved = pyqtSignal()

    def __init__(self, view: View) -> None:
        super().__init__()
        self._view = view
        self._picture: Picture | None = None
        self._image = QImage()
        self._roll_deg: float | None = None
        self._drawn = False
        self._dragged: Grip | None = None
        self._setting = False
        self.lines = BeltLines(0.15, 0.85)
        self.setMinimumSize(QSize(320, 240))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMouseTracking(True)
        named(self, tell("picture"), tell("picture_about"))
        self.setToolTip("")
        self.rear, self.front = Grip(self, "rear"), Grip(self, "front")
        for grip in (self.rear, self.front):
            grip.setOrientation(
                Qt.Orientation.Horizontal if view is View.SIDE else Qt.Orientation.Vertical
            )
            grip.valueChanged.connect(self._on_grip)
            KeysBack(grip, self)  # a presenter's key then goes on again
        self.set_lines(self.lines)

    def set_view(self, view: View) -> None:
        """The view is known once the first report is there."""
        if view is self._view:
            return
        self._view = view
        for grip in (self.rear, self.front):
            grip.setOrientation(
                Qt.Orientation.Horizontal if view is View.SIDE else Qt.Orientation.Vertical
            )
        self._place_grips()
        self.update()

    def show_picture(self, picture: Picture | None) -> None:
        """Take in a picture; one that is the same as before costs nothing."""
        if picture is self._picture:
            return
        self._picture = picture
        self._image = QImage() if picture is None else QImage.fromData(picture.jpeg, "JPG")
        self._place_grips()
        self.update()

    def show_guides(self, roll_deg: float | None, *, drawn: bool) -> None:
        """How the room leans, and whether the belt's lines are set."""
        if (roll_deg, drawn) != (self._roll_deg, self._drawn):
            self._roll_deg, self._drawn = roll_deg, drawn
            self.update()

    def set_lines(self, lines: BeltLines) -> None:
        """Lay the lines there; nobody is told."""
        self.lines = lines
        self._setting = True
        self.rear.setValue(round(lines.rear * STEPS))
        self.front.setValue(round(lines.front * STEPS))
        self._setting = False
        self._place_grips()
        self.update()

    @property
    def held(self) -> bool:
        """Whether a line is held by the mouse: it lies where it is meant to once it is let go."""
        return self._dragged is not None

    @property
    def place(self) -> QRectF:
        """Where the picture lies in the widget."""
        wide, high = 4.0, 3.0
        if not self._image.isNull():
            wide, high = float(self._image.width()), float(self._image.height())
        scale = min(self.width() / wide, self.height() / high)
        return QRectF(
            (self.width() - scale * wide) / 2,
            (self.height() - scale * high) / 2,
            scale * wide,
            scale * high,
        )

    # ---- what Qt calls

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """Lay the grips anew."""
        self._place_grips()
        super().resizeEvent(event)

    def mousePressEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 - Qt's name
        """Take hold of the line under the mouse."""
        if event is not None:
            self._dragged = self._grip_at(event.position())
            if self._dragged is not None:
                self._dragged.setFocus()

    def mouseMoveEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 - Qt's name
        """Move the line that is held."""
        if event is None:
            return
        if self._dragged is not None:
            self._dragged.setValue(round(self._share_at(event.position()) * STEPS))
            return
        side = self._view is View.SIDE
        shape = Qt.CursorShape.SplitHCursor if side else Qt.CursorShape.SplitVCursor
        over = self._grip_at(event.position()) is not None
        self.setCursor(shape if over else Qt.CursorShape.ArrowCursor)

    def mouseReleaseEvent(self, event: QMouseEvent | None) -> None:  # noqa: ARG002, N802
        """Let go; the keys stay with the line, to move it a little more."""
        if self._dragged is not None:
            self._dragged.setFocus()
        self._dragged = None

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """Draw picture, runner, guides and lines."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(palette.CARD_TEXT.on))
        place = self.place
        if self._image.isNull() or self._picture is None:
            painter.setPen(QColor(palette.CARD_TEXT.colour))
            painter.setFont(font(BODY_PX, bold=True))
            painter.drawText(place, Qt.AlignmentFlag.AlignCenter, tell("joining"))
            painter.end()
            return
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.drawImage(place, self._image)
        if self._picture.xy:
            draw_body(painter, self._picture.xy, place)
        self._guides(painter, place)
        self._belt(painter, place)
        painter.end()

    # ---- drawing

    def _guides(self, painter: QPainter, place: QRectF) -> None:
        """The runner's frame with upright sides, and a level line that shows how the room leans."""
        middle = place.center()
        half, (top, bottom) = _HALF_WIDE[self._view] * place.height(), _FRAME_DOWN
        frame = QRectF(
            middle.x() - half,
            place.y() + top * place.height(),
            2 * half,
            (bottom - top) * place.height(),
        )
        pen = QPen(QColor(palette.GUIDE.colour), 2)
        pen.setStyle(Qt.PenStyle.DashLine)
        for rim in (QPen(QColor(palette.GUIDE.on), 4), pen):
            painter.setPen(rim)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(frame)
        self._word(painter, QPointF(middle.x(), frame.y() - 2), tell("stand_here"))
        self._level(painter, place)

    def _level(self, painter: QPainter, place: QRectF) -> None:
        """A fixed mark and a bar that leans as the room does: in line when the camera is level."""
        half = 0.11 * place.height()
        at = QPointF(place.right() - half - 14, place.y() + half + 14)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(palette.GUIDE.on))
        painter.drawEllipse(at, half + 6, half + 6)
        painter.setPen(QPen(QColor(palette.GUIDE.colour), 2))
        for way in (-1, 1):
            painter.drawLine(
                QPointF(at.x() + way * half, at.y()), QPointF(at.x() + way * 0.72 * half, at.y())
            )
        painter.setFont(font(SMALL_PX, bold=True))
        words = tell("level_line") if self._roll_deg is None else f"{self._roll_deg:+.0f}°"
        words = words.replace("+0°", "0°").replace("-0°", "0°")
        painter.drawText(
            QRectF(at.x() - half, at.y() + 4, 2 * half, half), Qt.AlignmentFlag.AlignCenter, words
        )
        if self._roll_deg is None:
            return
        painter.save()
        painter.translate(at)
        painter.rotate(-self._roll_deg)  # Qt turns clockwise; the room leans to the left
        painter.setPen(QPen(QColor(palette.GUIDE.colour), 5))
        painter.drawLine(QPointF(-0.62 * half, 0), QPointF(0.62 * half, 0))
        painter.restore()

    def _belt(self, painter: QPainter, place: QRectF) -> None:
        for grip, share in ((self.rear, self.lines.rear), (self.front, self.lines.front)):
            if self._view is View.SIDE:
                x = place.x() + share * place.width()
                ends = (QPointF(x, place.y()), QPointF(x, place.bottom()))
            else:
                y = place.y() + share * place.height()
                ends = (QPointF(place.x(), y), QPointF(place.right(), y))
            pen = QPen(QColor(palette.BELT_LINE.on), 3 + 2 * _RIM_PX)
            painter.setPen(pen)
            painter.drawLine(*ends)
            pen = QPen(QColor(palette.BELT_LINE.colour), 3)
            if not self._drawn:
                pen.setStyle(Qt.PenStyle.DashLine)
            painter.setPen(pen)
            painter.drawLine(*ends)
            self._wedges(painter, ends, grip is self.rear)
            at = grip.geometry().center()
            self._word(painter, self._beside(QPointF(at), share), tell(f"{grip.key}_end"))

    def _wedges(self, painter: QPainter, ends: tuple[QPointF, QPointF], rear: bool) -> None:
        """Small wedges on the line point to where the belt lies, so that no colour is needed."""
        mine, other = self.lines.rear, self.lines.front
        if not rear:
            mine, other = other, mine
        way = 1.0 if other > mine else -1.0
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(palette.BELT_LINE.colour))
        for part in (0.35, 0.65):
            x = ends[0].x() + part * (ends[1].x() - ends[0].x())
            y = ends[0].y() + part * (ends[1].y() - ends[0].y())
            if self._view is View.SIDE:
                points = [QPointF(x, y - 8), QPointF(x, y + 8), QPointF(x + way * 11, y)]
            else:
                points = [QPointF(x - 8, y), QPointF(x + 8, y), QPointF(x, y + way * 11)]
            painter.drawPolygon(QPolygonF(points))

    def _beside(self, at: QPointF, share: float) -> QPointF:
        """Where the name of a line stands: beside its grip, on the side that has room."""
        if self._view is View.SIDE:
            return QPointF(at.x() + (72 if share < 0.5 else -72), at.y() + 10)
        return QPointF(at.x() - 84, at.y() - 6)

    def _word(self, painter: QPainter, under: QPointF, text: str) -> None:
        """A word on a plate, its lower middle at ``under``."""
        painter.setFont(font(SMALL_PX, bold=True))
        metrics = painter.fontMetrics()
        wide, high = metrics.horizontalAdvance(text) + 12.0, metrics.height() + 4.0
        x = min(max(under.x() - wide / 2, 0.0), self.width() - wide)
        plate = QRectF(x, max(under.y() - high, 0.0), wide, high)
        painter.fillRect(plate, QColor(palette.GUIDE.on))
        painter.setPen(QColor(palette.GUIDE_WORD.colour))
        painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, text)

    # ---- the lines

    def _place_grips(self) -> None:
        place = self.place
        for grip, share in ((self.rear, self.lines.rear), (self.front, self.lines.front)):
            if self._view is View.SIDE:
                at = QPointF(place.x() + share * place.width(), place.bottom() - _GRIP_PX / 2 - 2)
            else:
                at = QPointF(place.right() - _GRIP_PX / 2 - 2, place.y() + share * place.height())
            x = min(max(at.x() - _GRIP_PX / 2, 0.0), self.width() - float(_GRIP_PX))
            y = min(max(at.y() - _GRIP_PX / 2, 0.0), self.height() - float(_GRIP_PX))
            grip.move(round(x), round(y))
            grip.setVisible(not self._image.isNull())

    def _on_grip(self) -> None:
        grip = self.sender()
        if self._setting or not isinstance(grip, Grip):
            return
        rear = grip is self.rear
        self.set_lines(moved(self.lines, rear, grip.value() / STEPS))
        self.lines_moved.emit()

    def _share_at(self, at: QPointF) -> float:
        place = self.place
        if self._view is View.SIDE:
            return (at.x() - place.x()) / place.width()
        return (at.y() - place.y()) / place.height()

    def _grip_at(self, at: QPointF) -> Grip | None:
        place = self.place
        size = place.width() if self._view is View.SIDE else place.height()
        share = self._share_at(at)
        far = {
            self.rear: abs(share - self.lines.rear) * size,
            self.front: abs(share - self.lines.front) * size,
        }
        nearest = min(far, key=lambda grip: far[grip])
        return nearest if far[nearest] <= _NEAR_PX else None
