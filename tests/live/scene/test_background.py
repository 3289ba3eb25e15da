"""The camera watch: a camera that is moved is told; lamps, noise and passers-by are not."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from live.camera.opencv import cv2
from live.scene.background import HEIGHT, STILL_NS, WIDTH, Box, CameraWatch
from shared.flow import FloatArray
from shared.units import NS_PER_S

EVERY_NS = NS_PER_S // 10
BODY: Box = (0.4, 0.15, 0.62, 0.95)
Picture = np.ndarray[tuple[int, ...], np.dtype[np.uint8]]
Change = Callable[[Picture, int], Picture]


def room(seed: int = 3) -> Picture:
    """A wall with frames and a skirting, a floor, and soft uneven light; 640 x 480, grey."""
    rng = np.random.default_rng(seed)
    picture = np.full((480, 640), 170, np.uint8)
    picture[340:] = 90
    for _ in range(14):
        x, y = int(rng.integers(0, 600)), int(rng.integers(0, 420))
        wide, high = int(rng.integers(20, 90)), int(rng.integers(20, 90))
        picture[y : y + high, x : x + wide] = int(rng.integers(30, 230))
    light = np.linspace(0.8, 1.1, 640)[None]
    lit = np.asarray(cv2.GaussianBlur(picture, (5, 5), 0), np.float64) * light
    return np.clip(lit, 0, 255).astype(np.uint8)


def moved(dx: float = 0.0, dy: float = 0.0, turn_deg: float = 0.0, zoom: float = 1.0) -> Change:
    def change(picture: Picture, _: int) -> Picture:
        matrix = cv2.getRotationMatrix2D((320, 240), turn_deg, zoom)
        matrix[:, 2] += np.array([dx, dy])
        shown = cv2.warpAffine(picture, matrix, (640, 480), borderMode=cv2.BORDER_REFLECT)
        return np.asarray(shown).astype(np.uint8)

    return change


def lamp(picture: Picture, _: int) -> Picture:
    return np.clip(picture.astype(np.float64) * 1.25 + 12.0, 0, 255).astype(np.uint8)


def grain(picture: Picture, number: int) -> Picture:
    noise = np.random.default_rng(number).normal(0.0, 12.0, picture.shape)
    return np.clip(picture + noise, 0, 255).astype(np.uint8)


def passer_by(picture: Picture, number: int) -> Picture:
    """Somebody two thirds as high as the picture walks through it."""
    picture = picture.copy()
    x = number * 12 % 800 - 120
    picture[130:460, max(0, x) : max(0, x + 90)] = 45
    return picture


def tremble(picture: Picture, number: int) -> Picture:
    """The floor shakes with the steps: the camera sways by 2 pixels and comes back."""
    return moved(2.0 * np.sin(2.1 * number), 1.5 * np.sin(1.3 * number))(picture, number)


class Look:
    """A camera watch that is shown a room for 10 s, and then the room changed."""

    def __init__(self) -> None:
        self.watch = CameraWatch()
        self.number = 0
        self.show(100)

    def show(self, count: int, change: Change | None = None) -> list[bool]:
        told = []
        for _ in range(count):
            picture = room() if change is None else change(room(), self.number)
            picture = picture.copy()
            picture[72:456, 256:397] = 40 + 30 * (self.number % 5)  # the runner
            self.watch.look(tiny(picture), BODY, self.number * EVERY_NS)
            self.number += 1
            told.append(self.watch.standing.moved)
        return told


def tiny(picture: Picture) -> FloatArray:
    small = cv2.resize(picture, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float64)


@pytest.mark.parametrize("change", [None, lamp, grain, passer_by, tremble, moved(1.0, 0.0)])
def test_what_leaves_the_camera_where_it_is_is_not_told(change: Change | None) -> None:
    look = Look()
    assert not any(look.show(150, change))
    assert not look.watch.standing.elsewhere


@pytest.mark.parametrize(
    "change",
    [moved(6.0), moved(0.0, 6.0), moved(-15.0, 4.0), moved(80.0), moved(turn_deg=2.0),
     moved(zoom=1.04), moved(zoom=0.95)],
)  # fmt: skip
def test_a_moved_camera_is_told_within_a_second_until_it_has_stood_still(change: Change) -> None:
    look = Look()
    told = look.show(120, change)
    assert not look.watch.standing.moved
    assert look.watch.standing.elsewhere
    first, last = told.index(True), len(told) - told[::-1].index(True)
    assert first <= 10
    assert last - first >= STILL_NS // EVERY_NS
    assert all(told[first:last])


def test_a_camera_that_goes_on_moving_stays_doubtful() -> None:
    look = Look()
    told = [look.show(1, moved(8.0 + 4.0 * (n // 5)))[0] for n in range(150)]
    assert all(told[12:])


def test_a_camera_put_back_in_time_stands_where_it_stood() -> None:
    look = Look()
    assert look.show(20, moved(20.0))[-1]
    look.show(10)
    assert (look.watch.standing.moved, look.watch.standing.elsewhere) == (False, False)


def test_a_bare_wall_tells_nothing() -> None:
    watch = CameraWatch()
    for number in range(60):
        wall = np.full((HEIGHT, WIDTH), 120.0 if number < 30 else 60.0)
        watch.look(wall, BODY, number * EVERY_NS)
    assert not watch.standing.moved


def test_without_a_body_the_whole_picture_counts() -> None:
    watch = CameraWatch()
    for number in range(40):
        picture = room() if number < 20 else moved(12.0)(room(), number)
        watch.look(tiny(picture), None, number * EVERY_NS)
    assert watch.standing.moved


def test_pictures_that_come_fast_are_passed_over() -> None:
    watch = CameraWatch()
    assert watch.is_due(0)
    watch.look(tiny(room()), BODY, 0)
    assert not watch.is_due(33_000_000)
    assert watch.is_due(100_000_000)
