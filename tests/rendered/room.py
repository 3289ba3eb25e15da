"""The room: a treadmill, floor and wall as plain boxes with a material number each."""

from dataclasses import dataclass

import numpy as np

from tests.rendered.body import Floats

BELT, FLOOR, WALL, FRAME, RAIL, CONSOLE, SCREEN, SKIRTING, POSTER = range(20, 29)
BELT_FROM_M, BELT_TO_M, BELT_HALF_M = -0.85, 0.72, 0.25
DECK_HEIGHT_M = 0.16
RAIL_SHORT_M, RAIL_LONG_M, RAIL_WHOLE_M = 0.42, -0.25, -0.70
WALL_SIDE_M, WALL_FRONT_M, WALL_BACK_M = 2.3, 2.9, 3.6


@dataclass(frozen=True)
class Triangles:
    """Loose triangles: positions and normals (n, 3), material (n,)."""

    positions: Floats
    normals: Floats
    materials: Floats


def box(low: tuple[float, ...], high: tuple[float, ...], material: int) -> Triangles:
    """An upright box between two corners (m)."""
    a, b = np.array(low), np.array(high)
    positions, normals = [], []
    for axis in range(3):
        for sign in (-1.0, 1.0):
            u, v = (axis + 1) % 3, (axis + 2) % 3
            corners = []
            for du, dv in ((0, 0), (1, 0), (1, 1), (0, 0), (1, 1), (0, 1)):
                p = np.zeros(3)
                p[axis] = b[axis] if sign > 0 else a[axis]
                p[u] = b[u] if du else a[u]
                p[v] = b[v] if dv else a[v]
                corners.append(p)
            normal = np.zeros(3)
            normal[axis] = sign
            positions += corners
            normals += [normal] * 6
    return Triangles(np.array(positions), np.array(normals), np.full(36, float(material)))


@dataclass(frozen=True)
class Furniture:
    """What the treadmill has about the runner.

    `long_rails`: hand rails reach back past the hands. `more_rails`: heights (m) of further rails
    on both sides that reach back behind the runner. `console_m`: from and to which height the
    console stands, None for none. `panel_m`: a board on both rails, from and to (m) forward and
    up.
    """

    long_rails: bool = False
    more_rails: tuple[float, ...] = ()
    console_m: tuple[float, float] | None = (1.06, 1.24)
    panel_m: tuple[float, float, float, float] | None = None


def _furniture(given: Furniture) -> list[Triangles]:
    parts = []
    back = RAIL_LONG_M if given.long_rails else RAIL_SHORT_M
    for y in (-0.38, 0.33):
        parts.append(box((BELT_TO_M + 0.08, y, -0.02), (BELT_TO_M + 0.14, y + 0.05, 1.08), FRAME))
        parts.append(box((back, y, 0.90), (BELT_TO_M + 0.14, y + 0.05, 0.945), RAIL))
        for up in given.more_rails:
            parts.append(box((RAIL_WHOLE_M, y, up), (BELT_TO_M + 0.1, y + 0.05, up + 0.05), RAIL))
            parts.append(box((RAIL_WHOLE_M, y, -0.02), (RAIL_WHOLE_M + 0.05, y + 0.05, up), FRAME))
        if given.panel_m:
            x0, x1, low, high = given.panel_m
            parts.append(box((x0, y, low), (x1, y + 0.05, high), CONSOLE))
    if given.console_m:
        low, high = given.console_m
        x = BELT_TO_M + 0.06
        parts.append(box((x, -0.38, low), (x + 0.10, 0.38, high), CONSOLE))
        parts.append(box((x - 0.015, -0.17, low + 0.03), (x, 0.17, high - 0.03), SCREEN))
    return parts


def room(camera_m: Floats, furniture: Furniture) -> Triangles:
    """The whole room, belt surface at height 0, without the walls the camera looks through."""
    floor = -DECK_HEIGHT_M
    parts = [
        box((BELT_FROM_M, -BELT_HALF_M, -0.02), (BELT_TO_M, BELT_HALF_M, 0.0), BELT),
        box((BELT_FROM_M - 0.05, -0.36, floor + 0.03), (BELT_TO_M + 0.35, 0.36, -0.021), FRAME),
        box((-7.0, -7.0, floor - 0.02), (7.0, 7.0, floor), FLOOR),
        box((BELT_TO_M, -0.3, -0.02), (BELT_TO_M + 0.33, 0.3, 0.06), FRAME),
    ]
    for y in (-0.35, 0.26):
        parts.append(box((BELT_FROM_M - 0.03, y, -0.02), (BELT_TO_M + 0.3, y + 0.09, 0.012), RAIL))
    parts += _furniture(furniture)
    for sign in (-1.0, 1.0):
        if sign * camera_m[1] < WALL_SIDE_M - 0.1:
            for depth, top, material in ((0.0, 3.2, WALL), (0.02, floor + 0.1, SKIRTING)):
                y0, y1 = sorted((sign * (WALL_SIDE_M - depth), sign * (WALL_SIDE_M + 0.05)))
                parts.append(box((-7, y0, floor), (7, y1, top), material))
            y0, y1 = sorted((sign * (WALL_SIDE_M - 0.02), sign * WALL_SIDE_M))
            parts.append(box((-1.75, y0, 0.95), (-1.05, y1, 1.75), POSTER))
    for sign, away in ((1.0, WALL_FRONT_M), (-1.0, WALL_BACK_M)):
        if sign * camera_m[0] < away - 0.1:
            for depth, top, material in ((0.0, 3.2, WALL), (0.02, floor + 0.1, SKIRTING)):
                x0, x1 = sorted((sign * (away - depth), sign * (away + 0.05)))
                parts.append(box((x0, -7, floor), (x1, 7, top), material))
            x0, x1 = sorted((sign * (away - 0.02), sign * away))
            parts.append(box((x0, 0.75, 1.0), (x1, 1.45, 1.7), POSTER))
    return Triangles(
        np.concatenate([p.positions for p in parts]),
        np.concatenate([p.normals for p in parts]),
        np.concatenate([p.materials for p in parts]),
    )
