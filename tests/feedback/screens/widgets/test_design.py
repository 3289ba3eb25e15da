"""Colours stand out, light and dark; appearance is as preferred; icons differ from each other."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pytest
from PyQt6.QtCore import QRectF
from PyQt6.QtGui import QImage, QPainter

import feedback.screens
from feedback.screens.widgets import design, icons, palette
from feedback.screens.widgets.design import Appearance
from feedback.screens.widgets.style import style
from feedback.storage.preferences import Preferences, save_preferences

LEAST_TEXT = 4.5
"""WCAG 2.2, success criterion 1.4.3 (the limit for text of any size)."""
LEAST_SHAPE = 3.0
"""WCAG 2.2, success criterion 1.4.11 (graphics and controls)."""


@pytest.fixture(autouse=True)
def dark_again() -> Iterator[None]:
    yield
    design.use(Appearance.DARK)


def luminance(colour: str) -> float:
    """Relative luminance of ``#RRGGBB``, 0 to 1 (WCAG 2.2, definition of relative luminance)."""
    red, green, blue = (_linear(int(colour[at : at + 2], 16) / 255) for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two ``#RRGGBB`` colours, 1 to 21 (WCAG 2.2, definition)."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else float(((channel + 0.055) / 1.055) ** 2.4)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("#000000", "#FFFFFF", 21.0),
        ("#767676", "#FFFFFF", 4.54),
        ("#777777", "#FFFFFF", 4.48),
        ("#949494", "#FFFFFF", 3.03),
        (palette.ORANGE, "#101418", 8.21),
        (palette.BLUE, "#101418", 3.57),
    ],
)
def test_contrast_agrees_with_known_ratios(one: str, other: str, ratio: float) -> None:
    assert contrast(one, other) == pytest.approx(ratio, abs=0.006)
    assert contrast(other, one) == contrast(one, other)


@pytest.mark.parametrize("appearance", Appearance)
def test_every_pair_in_use_stands_out(appearance: Appearance) -> None:
    design.use(appearance)
    short = {
        name: ratio
        for name, ink in vars(palette).items()
        if isinstance(ink, palette.Ink)
        and (ratio := contrast(ink.colour, ink.on)) < (LEAST_TEXT if ink.text else LEAST_SHAPE)
    }
    assert not short


def test_no_colour_is_used_outside_the_table() -> None:
    folder = Path(next(iter(feedback.screens.__path__)))
    looked = 0
    for path in folder.rglob("*.py"):
        if path.name != "palette.py":
            looked += 1
            assert not re.search(r"#[0-9A-Fa-f]{6}\b|GlobalColor", path.read_text()), path
    assert looked > 50
    inks = {value for value in vars(palette).values() if isinstance(value, palette.Ink)}
    assert inks == set(palette.INKS)


def test_the_style_sheet_follows_the_appearance() -> None:
    dark = style()
    design.use(Appearance.LIGHT)
    light = style()
    assert dark != light
    assert palette.CARD_TEXT.grounds[0] in dark
    assert palette.CARD_TEXT.grounds[0] not in light


def test_nothing_is_drawn_with_dashes_because_it_is_off() -> None:
    assert "dashed" not in style()


@pytest.mark.parametrize(
    ("preferred", "system", "from_afar", "wanted"),
    [
        ("system", None, False, Appearance.DARK),
        ("system", Appearance.LIGHT, False, Appearance.LIGHT),
        ("system", Appearance.LIGHT, True, Appearance.DARK),
        ("light", Appearance.DARK, False, Appearance.LIGHT),
        ("light", None, True, Appearance.LIGHT),
        ("dark", Appearance.LIGHT, False, Appearance.DARK),
    ],
)
def test_appearance_is_as_preferred(
    preferred: str, system: Appearance | None, from_afar: bool, wanted: Appearance
) -> None:
    assert design.wanted_appearance(preferred, system, from_afar=from_afar) is wanted


_ASK = """
from feedback.screens.widgets import design
from feedback.screens.widgets.application import make_app
app = make_app()
print(design.appearance(), app.palette().base().color().name())
"""


@pytest.mark.parametrize(("told", "seen"), [("", "light"), ("dark", "dark")])
def test_a_window_reads_what_is_preferred_and_is_told_by_who_starts_it(
    told: str, seen: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    save_preferences(Preferences(appearance="light"))
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen", design.APPEARANCE_VARIABLE: told}
    said = subprocess.run(
        [sys.executable, "-c", _ASK], env=environment, capture_output=True, text=True, check=True
    ).stdout.split()
    ground = palette.CARD_TEXT.grounds[seen == "light"]
    assert said == [seen, ground.lower()]


def test_sizes_grow_in_steps_that_are_seen() -> None:
    for scale in (design.TYPE_SCALE_PX, design.SPACES_PX):
        assert all(1.12 <= larger / smaller <= 2 for smaller, larger in pairwise(scale))


def test_every_icon_is_drawn_within_its_square_and_unlike_the_others() -> None:
    drawn = {}
    for name in icons.ICONS:
        image = QImage(48, 48, QImage.Format.Format_Grayscale8)
        image.fill(0)
        painter = QPainter(image)
        icons.draw_icon(painter, name, QRectF(4, 4, 40, 40), palette.GUIDE.colour)
        painter.end()
        bits = image.constBits()
        assert bits is not None
        drawn[name] = np.array(bits.asarray(48 * 48), np.uint8).reshape(48, 48)
        assert 40 < (drawn[name] > 128).sum() < 1400, name
        assert not drawn[name][[0, -1]].any(), name
        assert not drawn[name][:, [0, -1]].any(), name
    for one, other in combinations(icons.ICONS, 2):
        assert (abs(drawn[one].astype(int) - drawn[other]) > 100).sum() > 25, (one, other)
