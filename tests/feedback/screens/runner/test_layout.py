"""Sizes follow the eye, and no place lies over another."""

from __future__ import annotations

import math
from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.screens.runner.layout import (
    FALLBACK_PX_PER_MM,
    LINE_ARCMIN,
    NUMBER_ARCMIN,
    Places,
    Sight,
    arrange,
    height_mm,
    is_large_enough,
    px_per_mm,
)
from feedback.screens.widgets.text_box import Box, block_height

DESK_24_INCH = (1920, 1080, 1920 / 531)
LAPTOP_14_INCH = (1920, 1080, 1920 / 310)
LAPTOP_15_INCH = (1366, 768, 1366 / 345)
TV_43_INCH = (3840, 2160, 3840 / 952)
ROOMY = [DESK_24_INCH, LAPTOP_14_INCH, LAPTOP_15_INCH, TV_43_INCH]


@pytest.mark.parametrize(
    ("arcmin", "distance_m", "expected_mm"),
    # computed by hand from h = 2 d tan(a / 2)
    [(16, 1.5, 7.0), (22, 2.0, 12.8), (40, 2.0, 23.3), (60, 1.5, 26.2), (60, 2.0, 34.9)],
)
def test_height_follows_the_visual_angle(
    arcmin: float, distance_m: float, expected_mm: float
) -> None:
    assert height_mm(arcmin, distance_m) == pytest.approx(expected_mm, abs=0.05)


@pytest.mark.parametrize(("width", "height", "scale"), ROOMY)
@pytest.mark.parametrize("distance_m", [1.0, 2.0])
def test_number_and_line_are_large_enough_for_the_distance(
    width: int, height: int, scale: float, distance_m: float
) -> None:
    places = arrange(width, height, Sight(scale, distance_m))

    def angle(px: float) -> float:
        return 60 * math.degrees(2 * math.atan(px / scale / 2_000 / distance_m))

    assert angle(places.number_cap_px) >= NUMBER_ARCMIN - 1e-6
    assert places.number_cap_px <= places.number.height, "and there is room for it"
    assert angle(places.line_cap_px) >= LINE_ARCMIN - 1e-6


TABLET_11_INCH = (1366, 768, 1366 / 244)
LAPTOP_13_INCH = (1920, 1080, 1920 / 286)


@pytest.mark.parametrize(
    ("width", "height", "scale", "distance_m"),
    [
        *((*screen, 2.0) for screen in (TABLET_11_INCH, LAPTOP_13_INCH, LAPTOP_14_INCH)),
        (*LAPTOP_15_INCH, 3.0),
        (*DESK_24_INCH, 4.0),
        (*TV_43_INCH, 5.0),
    ],
)
def test_the_number_gets_its_height_before_gauge_and_line_get_theirs(
    width: int, height: int, scale: float, distance_m: float
) -> None:
    sight = Sight(scale, distance_m)
    places = arrange(width, height, sight)
    assert is_large_enough(places, sight)
    assert places.number.height >= sight.px(NUMBER_ARCMIN)
    # and the words are not lost for it: 16 arcmin at least (ISO 9241-3), in two rows
    assert places.line.height / block_height(2) >= sight.px(16)


@pytest.mark.parametrize(("width", "height", "scale"), [TABLET_11_INCH, LAPTOP_13_INCH])
def test_a_screen_that_is_too_small_for_the_distance_is_known(
    width: int, height: int, scale: float
) -> None:
    sight = Sight(scale, 4.0)
    assert not is_large_enough(arrange(width, height, sight), sight)


@pytest.mark.parametrize(
    ("width_px", "width_mm"),
    [(1920, 0), (1920, -5), (1920, 16), (1920, math.nan), (0, 500), (1920, 20_000), (8000, 100)],
)
def test_an_impossible_screen_size_gives_the_fallback(width_px: float, width_mm: float) -> None:
    assert px_per_mm(width_px, width_mm) == FALLBACK_PX_PER_MM


def test_a_true_screen_size_is_used() -> None:
    assert px_per_mm(1920, 531) == pytest.approx(3.616, abs=0.001)


@given(
    st.integers(160, 8_000),
    st.integers(120, 5_000),
    st.floats(0.8, 20.0),
    st.floats(0.5, 5.0),
)
def test_places_stay_inside_and_apart_in_any_window(
    width: int, height: int, scale: float, distance_m: float
) -> None:
    places = arrange(width, height, Sight(scale, distance_m))
    boxes = [
        getattr(places, field.name)
        for field in fields(Places)
        if isinstance(getattr(places, field.name), Box) and field.name not in ("message", "action")
    ]
    assert len(boxes) == 7
    assert places.action.right <= places.stop.x, "both buttons can be there at once"
    for box in (*boxes, places.action):
        assert box.width > 0
        assert box.height > 0
        assert box.x >= 0
        assert box.y >= 0
        assert box.right <= width + 1e-6
        assert box.bottom <= height + 1e-6
    for index, one in enumerate(boxes):
        for other in boxes[index + 1 :]:
            apart = (
                one.right <= other.x + 1e-6
                or other.right <= one.x + 1e-6
                or one.bottom <= other.y + 1e-6
                or other.bottom <= one.y + 1e-6
            )
            assert apart, (one, other)


@pytest.mark.parametrize(("width", "height", "scale"), ROOMY)
def test_the_stop_button_is_large(width: int, height: int, scale: float) -> None:
    stop = arrange(width, height, Sight(scale, 2.0)).stop
    assert stop.width / scale >= 55
    assert stop.height / scale >= 18
