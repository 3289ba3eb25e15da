"""The skinned runner: loads an exported body, puts shoes and hair on it, and bends it to a pose.

Axes everywhere in the generator: (forward, left, up) in metres, right-handed. Only the truth file
turns them into the project's (forward, right, up).
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

FOLDER = Path(__file__).parent / "bodies"
SIDES = ("left", "right")
SOLE_M = 0.026  # running-shoe sole under the foot; common practice, no source
SHOE_WALL_M = 0.006
HIP_HALF_SHARE = 0.051  # half the distance between hip joint centres, of height; from memory


@dataclass(frozen=True)
class Mesh:
    """A skinned mesh: vertices (n, 3) m, normals (n, 3), faces (m, 3), dense weights (n, 21)."""

    vertices: Floats
    normals: Floats
    faces: Ints
    weights: Floats


@dataclass(frozen=True)
class Foot:
    """Sole points of the flat foot relative to the ankle, (forward, up) in m."""

    heel: Floats
    ball: Floats
    toe: Floats

    @property
    def ankle_height_m(self) -> float:
        return float(-self.heel[1])


@dataclass(frozen=True)
class Body:
    """One runner's body in rest pose. `joints` (21, 3) m; `foot` holds the contact points."""

    name: str
    height_m: float
    joint_names: tuple[str, ...]
    parents: tuple[int, ...]
    joints: Floats
    skin: Mesh
    shoes: Mesh
    eyes: Floats
    foot: Foot

    def index(self, name: str) -> int:
        return self.joint_names.index(name)

    def rest(self, name: str) -> Floats:
        return np.asarray(self.joints[self.index(name)])

    @property
    def thigh_m(self) -> float:
        return float(np.linalg.norm(self.rest("left_knee") - self.rest("left_hip")))

    @property
    def shank_m(self) -> float:
        return float(np.linalg.norm(self.rest("left_ankle") - self.rest("left_knee")))

    @property
    def leg_length_m(self) -> float:
        """Hip joint centre to knee to ankle to the sole's underside."""
        return self.thigh_m + self.shank_m + self.foot.ankle_height_m


def vertex_normals(vertices: Floats, faces: Ints) -> Floats:
    """Area-weighted unit normals (n, 3)."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    face_normals = np.cross(b - a, c - a)
    out = np.zeros_like(vertices)
    for k in range(3):
        np.add.at(out, faces[:, k], face_normals)
    length = np.linalg.norm(out, axis=1, keepdims=True)
    return np.asarray(out / np.maximum(length, 1e-12))


def submesh(mesh: Mesh, keep: npt.NDArray[np.bool_]) -> Mesh:
    """The part of a mesh whose faces are kept; `keep` (m,)."""
    used, inverse = np.unique(mesh.faces[keep], return_inverse=True)
    return Mesh(mesh.vertices[used], mesh.normals[used], inverse.reshape(-1, 3), mesh.weights[used])


def load_body(name: str, height_m: float | None = None) -> Body:
    """Load `bodies/<name>.npz`, scaled as a whole to `height_m` (barefoot) if given."""
    with np.load(FOLDER / f"{name}.npz") as own, np.load(FOLDER / "common.npz") as common:
        vertices = own["vertices"].astype(float)
        scale = 1.0 if height_m is None else height_m / float(np.ptp(vertices[:, 2]))
        vertices = vertices * scale
        joints = own["joints"] * scale
        eyes = own["eyes"] * scale
        faces = common["faces"].astype(np.int64)
        names = tuple(str(n) for n in common["joint_names"])
        dense = np.zeros((len(vertices), len(names)))
        rows = np.arange(len(vertices))[:, None]
        np.add.at(dense, (rows, common["weight_joint"]), common["weight"].astype(float))
        parents = tuple(int(p) for p in common["parents"])
    dense /= dense.sum(axis=1, keepdims=True)
    for side, sign in (("left", 1.0), ("right", -1.0)):
        # The source rig turns its thighs too far out; the centres of living hips are nearer.
        joints[names.index(f"{side}_hip"), 1] = sign * HIP_HALF_SHARE * np.ptp(vertices[:, 2])
    for side in SIDES:  # the forefoot bends at the sole, so that a flat forefoot stays flat
        joints[names.index(f"{side}_ball"), 2] = -SOLE_M
    skin = Mesh(vertices, vertex_normals(vertices, faces), faces, dense)
    shoes, foot = _shoes(skin, joints, names)
    return Body(
        name,
        float(np.ptp(vertices[:, 2])),
        names,
        parents,
        joints,
        skin,
        shoes,
        eyes,
        foot,
    )


def _shoes(skin: Mesh, joints: Floats, names: tuple[str, ...]) -> tuple[Mesh, Foot]:
    """A low shoe about each foot, with a flat sole bevelled at heel and toe."""
    foot_columns = [names.index(f"{s}_{j}") for s in SIDES for j in ("ankle", "ball")]
    is_foot = skin.weights[:, foot_columns].sum(axis=1) > 0.5
    ankle = joints[names.index("left_ankle")]
    ball = joints[names.index("left_ball")]
    low = skin.vertices[:, 2] < ankle[2] + 0.012
    shell = submesh(skin, (is_foot & low)[skin.faces].all(axis=1))
    v = shell.vertices + shell.normals * SHOE_WALL_M
    front, back = v[:, 0].max() + 0.008, v[:, 0].min() - 0.004
    tip = np.clip((v[:, 0] - ball[0]) / (front - ball[0]), 0, 1)
    v[:, 0] += 0.008 * tip
    v[:, 2] += 0.012 * tip * (v[:, 2] > 0.012)
    heel_x, toe_x = back + 0.014, front - 0.026
    under = (shell.normals[:, 2] < -0.35) & (shell.vertices[:, 2] < 0.03)
    bevel = 1.1 * np.maximum(heel_x - v[:, 0], 0) + 0.95 * np.maximum(v[:, 0] - toe_x, 0)
    v[under, 2] = -SOLE_M + bevel[under]
    v[:, 2] = np.maximum(v[:, 2], -SOLE_M + bevel)
    weights = np.zeros_like(shell.weights)
    forefoot = np.clip((v[:, 0] - ball[0]) / 0.012 + 0.5, 0, 1)
    for side, sign in (("left", 1.0), ("right", -1.0)):
        mine = np.sign(v[:, 1]) == sign
        weights[:, names.index(f"{side}_ball")] = forefoot * mine
        weights[:, names.index(f"{side}_ankle")] = (1 - forefoot) * mine
    floor = -SOLE_M - ankle[2]
    foot = Foot(
        heel=np.array([heel_x - ankle[0], floor]),
        ball=np.array([ball[0] - ankle[0], floor]),
        toe=np.array([toe_x - ankle[0], floor]),
    )
    return Mesh(v, vertex_normals(v, shell.faces), shell.faces, weights), foot


def skinned(
    mesh: Mesh, joints: Floats, rotations: Floats, positions: Floats
) -> tuple[Floats, Floats]:
    """Linear blend skinning: vertices and normals of a mesh in one pose.

    joints (21, 3) rest centres; rotations (21, 3, 3) from rest to pose; positions (21, 3) m.
    """
    shift = positions - np.einsum("jab,jb->ja", rotations, joints)
    blended = (mesh.weights @ np.concatenate([rotations.reshape(-1, 9), shift], axis=1)).reshape(
        -1, 12
    )
    turn = blended[:, :9].reshape(-1, 3, 3)
    vertices = np.einsum("nab,nb->na", turn, mesh.vertices) + blended[:, 9:]
    normals = np.einsum("nab,nb->na", turn, mesh.normals)
    return vertices, normals
