"""Draws the runner and the room with OpenGL on the processor (Mesa's EGL), one picture a time."""

from dataclasses import dataclass

import moderngl
import numpy as np
import numpy.typing as npt

from tests.rendered import shaders
from tests.rendered.body import SIDES, Body, Floats, Mesh, skinned
from tests.rendered.camera import Camera
from tests.rendered.room import FLOOR, FRAME, Furniture, room
from tests.rendered.shaders import BELT_PERIOD_M

Picture = npt.NDArray[np.uint8]
Colour = tuple[float, float, float]
SAMPLES = 4
NEAR_M, FAR_M = 0.15, 30.0
DISTORTION_MARGIN = 0.86  # drawn this much wider, so that bending leaves no empty corners


@dataclass(frozen=True)
class Look:
    """Colours (0..1) and clothes. `lower` is "shorts", "long_shorts" or "tights"; `sleeve` is
    "none", "short" or "long"."""

    skin: Colour = (0.80, 0.62, 0.52)
    hair: Colour = (0.22, 0.14, 0.09)
    shirt: Colour = (0.16, 0.45, 0.62)
    shorts: Colour = (0.12, 0.12, 0.16)
    shoes: Colour = (0.85, 0.35, 0.20)
    accent: Colour = (0.90, 0.80, 0.25)
    wall: Colour = (0.74, 0.75, 0.72)
    lower: str = "shorts"
    sleeve: str = "short"
    tape: Colour | None = None
    light: float = 1.35
    console: bool = True
    long_rails: bool = False  # hand rails reach back past the runner's hands
    more_rails: tuple[float, ...] = ()  # the rest of what a treadmill has: `room.Furniture`
    console_m: tuple[float, float] = (1.06, 1.24)
    panel_m: tuple[float, float, float, float] | None = None
    socks: Colour = (0.86, 0.86, 0.86)
    midsole: Colour = (0.92, 0.92, 0.92)
    shirt_below_waist_m: float = 0.05


class Figure:
    """The vertex buffers of one body and the parts of them that never change."""

    def __init__(
        self, ctx: moderngl.Context, programs: dict[str, moderngl.Program], body: Body
    ) -> None:
        self.body = body
        self.meshes = {"skin": body.skin, "shoes": body.shoes, "tail": _pony_tail(body)}
        self.dynamic: dict[str, moderngl.Buffer] = {}
        self.arrays: dict[str, moderngl.VertexArray] = {}
        self.shadows: list[moderngl.VertexArray] = []
        for name, mesh in self.meshes.items():
            parts = self._parts(name, mesh)
            rest = np.concatenate([mesh.vertices, parts], axis=1)
            self.dynamic[name] = ctx.buffer(reserve=len(mesh.vertices) * 24, dynamic=True)
            fixed = ctx.buffer(rest.astype("f4").tobytes())
            for layer, wanted in self._layers(name, mesh, parts[:, 0]).items():
                faces = ctx.buffer(mesh.faces[wanted[mesh.faces].any(axis=1)].astype("i4"))
                content = [
                    (self.dynamic[name], "3f 3f", "position", "normal"),
                    (fixed, "3f 2f", "rest", "part"),
                ]
                program = programs["hair" if layer == "tail" else layer]
                self.arrays[layer] = ctx.vertex_array(
                    program, content, index_buffer=faces, skip_errors=True
                )
            faces = ctx.buffer(mesh.faces.astype("i4"))
            self.shadows.append(
                ctx.vertex_array(
                    programs["shadow"],
                    [(self.dynamic[name], "3f 12x", "position")],
                    index_buffer=faces,
                )
            )

    def _layers(self, name: str, mesh: Mesh, part: Floats) -> dict[str, npt.NDArray[np.bool_]]:
        """Which vertices each layer drawn from a mesh can show."""
        every = np.ones(len(mesh.vertices), dtype=bool)
        if name != "skin":
            return {name: every}
        z = mesh.vertices[:, 2]
        hips, ankle = self.body.rest("pelvis")[2], self.body.rest("left_ankle")[2]
        return {
            "skin": z > 0.5 * ankle,
            "shorts": (part == 0) & (z > ankle) & (z < 1.25 * hips),
            "shirt": (part == 1) | ((part == 0) & (z > 0.85 * hips)),
            "hair": part == 2,
        }

    def _parts(self, name: str, mesh: Mesh) -> Floats:
        """Which part a vertex belongs to (0 trunk and legs, 1 arm, 2 head, 3 pony tail) and how
        far down its arm it is (m, negative on the trunk)."""
        body = self.body
        out = np.stack([np.zeros(len(mesh.vertices)), np.full(len(mesh.vertices), -1.0)], axis=1)
        if name == "tail":
            out[:, 0] = 3
        if name == "skin":
            head = mesh.weights[:, [body.index("head")]].sum(axis=1) > 0.5
            for side in SIDES:
                joints = ("shoulder", "elbow", "wrist")
                share = mesh.weights[:, [body.index(f"{side}_{j}") for j in joints]].sum(axis=1)
                shoulder, elbow = body.rest(f"{side}_shoulder"), body.rest(f"{side}_elbow")
                along = (elbow - shoulder) / np.linalg.norm(elbow - shoulder)
                mine = mesh.vertices[:, 1] * shoulder[1] > 0
                out[mine, 1] = ((mesh.vertices - shoulder) @ along)[mine]
                out[share > 0.5, 0] = 1
            out[head, 0] = 2
        return out

    def pose(self, rotations: Floats, positions: Floats) -> None:
        for name, mesh in self.meshes.items():
            vertices, normals = skinned(mesh, self.body.joints, rotations, positions)
            self.dynamic[name].write(np.concatenate([vertices, normals], axis=1).astype("f4"))


def _pony_tail(body: Body) -> Mesh:
    """A small hanging ellipsoid at the back of the head."""
    turns, rings = 14, 10
    size = body.height_m / 1.66
    u, v = np.meshgrid(np.linspace(0, np.pi, rings), np.arange(turns) / turns * 2 * np.pi)
    unit = np.stack([np.sin(u) * np.cos(v), np.sin(u) * np.sin(v), np.cos(u)], axis=-1)
    ball = unit.reshape(-1, 3)
    back = body.skin.vertices[body.skin.weights[:, body.index("head")] > 0.5][:, 0].min()
    centre = np.array([back - 0.022 * size, 0.0, body.eyes[0, 2] - 0.035 * size])
    taper = 1 - 0.35 * np.clip(-ball[:, [2]], 0, 1)
    vertices = centre + ball * np.array([0.032, 0.030, 0.095]) * size * taper
    vertices[:, 0] -= 0.25 * (centre[2] - vertices[:, 2]) * (vertices[:, 2] < centre[2])
    faces = []
    for i in range(turns):
        for j in range(rings - 1):
            a, b = i * rings + j, ((i + 1) % turns) * rings + j
            faces += [(a, a + 1, b), (b, a + 1, b + 1)]
    weights = np.zeros((len(vertices), len(body.joint_names)))
    weights[:, body.index("head")] = 1.0
    return Mesh(vertices, ball, np.array(faces), weights)


class Painter:
    """One open drawing context for one camera and one look; `draw` gives a picture."""

    def __init__(
        self,
        body: Body,
        camera: Camera,
        look: Look,
        bystander: tuple[Body, Look] | None = None,
    ) -> None:
        self.camera, self.look = camera, look
        self.ctx = moderngl.create_context(standalone=True, backend="egl")  # type: ignore[arg-type]
        self.ctx.enable(moderngl.DEPTH_TEST)
        self.programs = {
            layer: self.ctx.program(shaders.SOLID_VERTEX, shaders.fragment(layer))
            for layer in shaders.LAYERS
        }
        self.programs["shadow"] = self.ctx.program(shaders.SHADOW_VERTEX, shaders.SHADOW_FRAGMENT)
        size = (camera.width, camera.height)
        self.still = self.ctx.simple_framebuffer(size, components=4, samples=SAMPLES)
        self.multi = self.ctx.simple_framebuffer(size, components=4, samples=SAMPLES)
        self.plain = self.ctx.simple_framebuffer(size, components=4)
        self.shadow = self.ctx.texture((256, 256), 1)
        self.shadow.repeat_x = self.shadow.repeat_y = False
        self.shadow_target = self.ctx.framebuffer([self.shadow])
        self.figure = Figure(self.ctx, self.programs, body)
        self.bystander = bystander
        self.other = Figure(self.ctx, self.programs, bystander[0]) if bystander else None
        self.bend = _bending(camera)
        self._settle()
        self._dress(body, look)
        self.moving = self._room(moving=True)
        self.still.use()
        self.ctx.clear(0.5, 0.5, 0.5, 1.0)
        self._room(moving=False).render()

    def close(self) -> None:
        self.ctx.release()

    def _room(self, moving: bool) -> moderngl.VertexArray:
        """What must be drawn anew each picture (belt, and what shadows fall on), or the rest."""
        look = self.look
        console = look.console_m if look.console else None
        furniture = Furniture(look.long_rails, look.more_rails, console, look.panel_m)
        parts = room(self.camera.position_m, furniture)
        wanted = (parts.materials <= FRAME) & (parts.materials != FLOOR)
        pick = wanted if moving else ~wanted
        piece = np.stack([parts.materials, np.zeros(len(parts.materials))], axis=1)
        data = np.concatenate([parts.positions, parts.normals, parts.positions, piece], axis=1)
        buffer = self.ctx.buffer(data[pick].astype("f4").tobytes())
        return self.ctx.vertex_array(
            self.programs["room"],
            [(buffer, "3f 3f 3f 2f", "position", "normal", "rest", "part")],
            skip_errors=True,
        )

    def _set(self, name: str, value: object, layer: str | None = None) -> None:
        for program in [self.programs[layer]] if layer else self.programs.values():
            if name in program:
                program[name].value = value  # type: ignore[union-attr]

    def _settle(self) -> None:
        """Set what is the same for everyone in the picture."""
        matrix = _view_matrix(self.camera).T.astype("f4").tobytes()
        for layer in shaders.LAYERS:
            self.programs[layer]["view"].write(matrix)  # type: ignore[union-attr]
        self._set("eye", tuple(self.camera.position_m))
        self._set("light", self.look.light)
        self._set("wall", self.look.wall)
        self._set("shadow", 0)
        self._set("hem", (0.0, 1.0))
        for layer, inflate in (("shorts", 0.006), ("shirt", 0.010), ("hair", 0.008)):
            self._set("inflate", inflate, layer)

    def _dress(self, body: Body, look: Look) -> None:
        """Set colours and hems for one figure."""
        scale = body.height_m / 1.66
        waist = float(body.rest("lumbar")[2] + 0.035 * body.height_m)
        hips, knee = float(body.rest("pelvis")[2]), float(body.rest("left_knee")[2])
        low = {
            "shorts": hips - 0.5 * (hips - knee),
            "long_shorts": knee + 0.03,
            "tights": float(body.rest("left_ankle")[2]) + 0.03,
        }[look.lower]
        shirt_from = waist - (0.005 if look.tape else look.shirt_below_waist_m)
        values: dict[str, object] = {
            "skin": look.skin,
            "hair": look.hair,
            "accent": look.accent,
            "socks": look.socks,
            "midsole": look.midsole,
            "eyes": tuple(body.eyes[0]),
            "size": scale,
            "tape": look.tape or (0.0, 0.0, 0.0),
            "taped": 1.0 if look.tape else 0.0,
            "collar": (float(body.rest("neck")[2] + 0.015 * scale), -0.75),
            "sleeve": {"none": 0.02, "short": 0.17, "long": 0.47}[look.sleeve],
        }
        for name, value in values.items():
            self._set(name, value)
        self._set("hem", (low, waist), "shorts")
        self._set("cloth", look.shorts, "shorts")
        self._set("flare", 0.0 if look.lower == "tights" else 0.005, "shorts")
        self._set("hem", (shirt_from, waist + 0.3), "shirt")
        self._set("flare", 0.012 if look.shirt_below_waist_m > 0.05 else 0.0, "shirt")
        self._set("cloth", look.shirt, "shirt")
        self._set("cloth", look.shoes, "shoes")

    def _draw_figure(self, figure: Figure) -> None:
        for layer in ("skin", "shorts", "shirt", "shoes", "hair"):
            figure.arrays[layer].render()
        if figure.body.name == "female":
            figure.arrays["tail"].render()

    def draw(
        self,
        rotations: Floats,
        positions: Floats,
        belt_m: float,
        other: tuple[Floats, Floats] | None = None,
    ) -> Picture:
        """One picture (height, width, 3) RGB of a pose; `belt_m` is how far the belt has run;
        `other` is the bystander's pose, if they are there."""
        self.figure.pose(rotations, positions)
        self.shadow_target.use()
        self.ctx.clear()
        for array in self.figure.shadows:
            array.render()
        self.ctx.copy_framebuffer(self.multi, self.still)
        self.multi.use()
        self.shadow.use(0)
        self._set("belt_m", belt_m % BELT_PERIOD_M, "room")
        self.moving.render()
        self._draw_figure(self.figure)
        if other is not None and self.other is not None and self.bystander is not None:
            self.other.pose(*other)
            self._dress(*self.bystander)
            self._draw_figure(self.other)
            self._dress(self.figure.body, self.look)
        self.ctx.copy_framebuffer(self.plain, self.multi)
        raw = np.frombuffer(self.plain.read(components=3), dtype=np.uint8)
        picture = raw.reshape(self.camera.height, self.camera.width, 3)[::-1]
        return picture if self.bend is None else _bent(picture, self.bend)


def _view_matrix(camera: Camera) -> Floats:
    """OpenGL clip matrix (4, 4) of the pinhole part of a camera."""
    focal = camera.focal_px * (DISTORTION_MARGIN if camera.k1 else 1.0)
    turn = np.eye(4)
    turn[:3, :3] = camera.axes * np.array([[1.0], [-1.0], [-1.0]])
    turn[:3, 3] = -turn[:3, :3] @ camera.position_m
    clip = np.zeros((4, 4))
    clip[0, 0] = 2 * focal / camera.width
    clip[1, 1] = 2 * focal / camera.height
    clip[2, 2] = -(FAR_M + NEAR_M) / (FAR_M - NEAR_M)
    clip[2, 3] = -2 * FAR_M * NEAR_M / (FAR_M - NEAR_M)
    clip[3, 2] = -1.0
    return clip @ turn


def _bending(camera: Camera) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.float32]] | None:
    """For each pixel of the bent picture, where it lies in the straight one."""
    if not camera.k1:
        return None
    x, y = np.meshgrid(np.arange(camera.width) + 0.5, np.arange(camera.height) + 0.5)
    bent = np.stack([x - camera.cx, y - camera.cy], axis=-1) / camera.focal_px
    straight = bent.copy()
    for _ in range(12):
        straight = bent / (1 + camera.k1 * (straight**2).sum(axis=-1, keepdims=True))
    focal = camera.focal_px * DISTORTION_MARGIN
    source = straight * focal + (camera.cx - 0.5, camera.cy - 0.5)
    return source[..., 0].astype(np.float32), source[..., 1].astype(np.float32)


def _bent(
    picture: Picture, maps: tuple[npt.NDArray[np.float32], npt.NDArray[np.float32]]
) -> Picture:
    import cv2

    return np.asarray(
        cv2.remap(picture, *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE),
        dtype=np.uint8,
    )
