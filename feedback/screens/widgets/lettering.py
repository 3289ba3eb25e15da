"""Text that is set as large as its place allows, in as few rows as it takes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import combinations
from typing import Final

from PyQt6.QtCore import QPointF, Qt
from PyQt6.QtGui import QColor, QFont, QFontMetricsF, QPainter

from feedback.screens.widgets.text_box import LINE_PITCH, Box, block_height

FAMILIES: Final = ["Noto Sans", "DejaVu Sans", "Segoe UI", "Helvetica Neue", "Arial"]
_TRIAL_PX: Final = 200


def font(px: float, *, bold: bool = False) -> QFont:
    """The screen's face; digits all have one width where the font can do that."""
    made = QFont()
    made.setFamilies(FAMILIES)
    made.setStyleHint(QFont.StyleHint.SansSerif)
    made.setPixelSize(max(1, int(px)))
    made.setWeight(QFont.Weight.Bold if bold else QFont.Weight.Normal)
    made.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    made.setFeature(QFont.Tag.fromString("tnum") or QFont.Tag(), 1)
    return made


@cache
def _trial(bold: bool) -> tuple[QFontMetricsF, float]:
    """Metrics at a trial size, and the height of a capital in pixels of font size."""
    metrics = QFontMetricsF(font(_TRIAL_PX, bold=bold))
    return metrics, metrics.capHeight() / _TRIAL_PX


@dataclass(frozen=True, slots=True)
class Fitted:
    """A text divided into rows, at the size that fits."""

    rows: tuple[str, ...]
    cap_px: float
    bold: bool

    @property
    def height(self) -> float:
        """From the top of the first row's capitals to below the last row."""
        return self.cap_px * block_height(len(self.rows))

    @property
    def width(self) -> float:
        """Width of the widest row."""
        return max(width(row, self.cap_px, bold=self.bold) for row in self.rows)


def width(text: str, cap_px: float, *, bold: bool = False) -> float:
    """How wide a text is when its capitals are ``cap_px`` high."""
    metrics, cap = _trial(bold)
    return metrics.horizontalAdvance(text) * cap_px / (cap * _TRIAL_PX)


def fit(
    text: str, box_width: float, box_height: float, cap_px: float, rows: int, *, bold: bool = False
) -> Fitted:
    """Set ``text`` with capitals of ``cap_px``, or as near below as fits in at most ``rows``."""
    best: Fitted | None = None
    for count in range(1, rows + 1):
        divided = _divide(text, count, bold)
        if len(divided) < count:
            break
        widest = max(width(row, 1.0, bold=bold) for row in divided)
        cap = min(cap_px, box_width / max(widest, 1e-6), box_height / block_height(count))
        if best is None or cap > best.cap_px * 1.01:
            best = Fitted(divided, cap, bold)
        if cap >= cap_px:
            break
    assert best is not None  # noqa: S101 - one row always fits at some size
    return best


@cache
def _divide(text: str, count: int, bold: bool) -> tuple[str, ...]:
    """The words in ``count`` rows as even as can be; fewer rows where there are fewer words."""
    parts = text.split()
    if len(parts) <= count:
        return tuple(parts) or ("",)
    choices = (
        tuple(
            " ".join(parts[start:end])
            for start, end in zip((0, *cuts), (*cuts, len(parts)), strict=True)
        )
        for cuts in combinations(range(1, len(parts)), count - 1)
    )
    return min(choices, key=lambda rows: max(width(row, 1.0, bold=bold) for row in rows))


def draw(
    painter: QPainter,
    fitted: Fitted,
    box: Box,
    colour: str,
    align: Qt.AlignmentFlag = Qt.AlignmentFlag.AlignHCenter,
) -> None:
    """Draw in the middle of the box's height; ``align`` places the rows across."""
    _, cap = _trial(fitted.bold)
    painter.setFont(font(fitted.cap_px / cap, bold=fitted.bold))
    painter.setPen(QColor(colour))
    block = fitted.cap_px * (1.0 + (len(fitted.rows) - 1) * LINE_PITCH)
    baseline = box.y + (box.height - block) / 2 + fitted.cap_px
    for row in fitted.rows:
        free = box.width - width(row, fitted.cap_px, bold=fitted.bold)
        share = {Qt.AlignmentFlag.AlignLeft: 0.0, Qt.AlignmentFlag.AlignRight: 1.0}.get(align, 0.5)
        painter.drawText(QPointF(box.x + share * free, baseline), row)
        baseline += fitted.cap_px * LINE_PITCH
