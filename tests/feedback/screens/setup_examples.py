"""Every state of the camera check's screen by name, for tests and for pictures to look at."""

from __future__ import annotations

from pathlib import Path

import cv2

from feedback.link.client_state import LinkState, LinkStatus
from feedback.screens.camera_check.window import SetupWindow
from live.setup_checks import all_pass
from shared.clock import now_ns
from shared.flow import View
from shared.messages import Request
from shared.pictures import BeltEdges, Check, CheckReport, CheckState, Picture
from tests.accuracy.tracks import poses_of

CLIPS = Path(__file__).parents[2] / "rendered" / "clips"
DEMO = Path(__file__).parents[3] / "feedback" / "demo"
KEYS = (
    "camera", "still", "frame_rate", "light", "blur", "person", "view", "whole_body", "distance",
    "level", "square", "belt_edges",
)  # fmt: skip
_ADVICE = {
    "camera": "no_picture", "still": "stand_still", "frame_rate": "faster", "light": "lighter",
    "blur": "clean_lens", "person": "step_in", "view": "view_side", "whole_body": "tilt_up",
    "distance": "nearer", "level": "raise_right", "square": "to_front",
    "belt_edges": "draw_edges",
}  # fmt: skip
_VALUES = {
    "frame_rate": (30.0, "/s"),
    "distance": (76.0, "%"),
    "level": (-0.3, "deg"),
    "square": (11.7, "deg"),
}
EDGES = BeltEdges(rear=0.22, front=0.8)


def picture(view: View, number: int = 90, turn_deg: float = 0.0) -> Picture:
    """A picture of the drawn runner with what the model found in it, by a camera so tilted."""
    clip = DEMO / f"{'side' if view is View.SIDE else 'behind'}.mp4"
    video = cv2.VideoCapture(str(clip))
    video.set(cv2.CAP_PROP_POS_FRAMES, number)
    ok, image = video.read()
    video.release()
    assert ok
    pose = poses_of(clip)[number]
    size = (pose.width_px, pose.height_px)
    matrix = cv2.getRotationMatrix2D((size[0] / 2, size[1] / 2), turn_deg, 1.0)
    image = cv2.warpAffine(image, matrix, size, borderMode=cv2.BORDER_REPLICATE)
    encoded = cv2.imencode(".jpg", image)[1]
    xy = ((pose.xy_px @ matrix[:, :2].T + matrix[:, 2]) / size).ravel()
    return Picture(
        captured_ns=1 + number,
        width_px=pose.width_px,
        height_px=pose.height_px,
        jpeg=encoded.tobytes(),
        xy=tuple(float(value) for value in xy),
    )


def report(
    *to_do: str,
    unknown: tuple[str, ...] = (),
    view: View = View.SIDE,
    at_s: float = 10.0,
    edges: BeltEdges | None = EDGES,
    more: tuple[Check, ...] = (),
    advice: dict[str, str] | None = None,
) -> CheckReport:
    """A report in which these are to do or not known, and all others have passed."""
    if edges is None:
        to_do = (*to_do, "belt_edges")
    told = _ADVICE | (advice or {})
    checks = []
    for key in KEYS:
        value, unit = _VALUES.get(key, (None, ""))
        standing = CheckState.PASS
        if key in to_do:
            standing = CheckState.TO_DO
        elif key in unknown:
            standing, value = CheckState.UNKNOWN, None
        why = told[key] if standing is CheckState.TO_DO else ""
        if standing is CheckState.UNKNOWN and key in ("level", "square") and "view" not in unknown:
            why = f"{key}_by_eye"
        if standing is CheckState.TO_DO and key == "level":
            value = 6.2
        if standing is CheckState.TO_DO and key == "square":
            value = -14.0
        elif key == "square" and value is not None and view is not View.SIDE:
            value = 1.4
        checks.append(Check(key=key, standing=standing, advice=why, value=value, unit=unit))
    checks.extend(more)
    return CheckReport(
        number=round(at_s * 10),
        at_ns=round(at_s * 1e9),
        view=view,
        checks=tuple(checks),
        all_pass=all_pass(tuple(checks)),
        held_s=0.0,
        edges=edges,
        remembered=any(check.key == "place" for check in more),
    )


NOBODY = ("view", "whole_body", "distance", "square")


def states() -> dict[str, tuple[CheckReport | None, ...]]:
    """The reports that lead to each state, oldest first."""
    behind = View.BEHIND
    good, later = report(at_s=10.0), report(at_s=12.0)
    no_edges = report(at_s=10.0, edges=None), report(at_s=12.0, edges=None)
    as_last = Check(key="place", standing=CheckState.PASS)
    elsewhere = Check(key="place", standing=CheckState.UNKNOWN, advice="place_changed")
    unseen = Check(key="steps", standing=CheckState.TO_DO, advice="steps_legs_alike")
    return {
        "joining": (None,),
        "looking": (report(unknown=KEYS[2:-1], edges=None),),
        "nobody": (report("person", unknown=NOBODY, edges=None),),
        "several": (report("person", edges=None, advice={"person": "others_out"}),),
        "many": (report("light", "whole_body", "distance", "level", "square", edges=None),),
        "tilted": (report("level", edges=None),),
        "turned": (report("square"),),
        "behind_wrong": (
            report(
                "view",
                "square",
                view=behind,
                edges=None,
                advice={"view": "view_behind", "square": "to_left"},
            ),
        ),
        "by_eye": (report(unknown=("level", "square"), edges=None),),
        "no_picture": (report("camera", unknown=KEYS[2:-1]),),
        "moved": (*no_edges, report("still", at_s=13.0, edges=None)),
        "lines_left": no_edges,
        "lines_left_walked_off": (
            *no_edges,
            report("person", unknown=NOBODY, at_s=14.0, edges=None),
        ),
        "good": (good, later),
        "good_walked_off": (good, later, report("person", unknown=NOBODY, at_s=14.0)),
        "good_behind": tuple(
            report(view=behind, at_s=at, edges=BeltEdges(rear=0.26, front=0.19))
            for at in (10.0, 12.0)
        ),
        "as_last_time": tuple(report(at_s=at, more=(as_last,)) for at in (10.0, 12.0)),
        "unmeasured": (report(edges=None, more=(unseen,)),),
        "elsewhere": (report(edges=None, more=(elsewhere,)),),
    }


class StillSetupLink:
    """A link that knows one thing and notes what it is asked."""

    def __init__(self) -> None:
        self.known = LinkStatus(LinkState.CONNECTING, "", None, None, False)
        self.asked: list[Request] = []
        self.pings = 0
        self.closed = False

    def know(self, report: CheckReport | None, picture: Picture | None = None) -> None:
        """Know this report and picture from now on."""
        state = LinkState.CONNECTING if report is None else LinkState.JOINED
        shown = self.known.picture if picture is None else picture
        self.known = LinkStatus(state, "", None, now_ns(), False, picture=shown, report=report)

    def status(self) -> LinkStatus:
        return self.known

    def ask(self, request: Request) -> None:
        self.asked.append(request)

    def ping(self) -> None:
        self.pings += 1

    def close(self) -> None:
        self.closed = True


def window(name: str, width: int = 1280, height: int = 720) -> tuple[SetupWindow, StillSetupLink]:
    """A window of this size in this state; needs a running QApplication."""
    link = StillSetupLink()
    made = SetupWindow(link)
    made.resize(width, height)
    for one in states()[name]:
        shown = None
        if one is not None and name not in ("no_picture",):
            shown = picture(one.view, turn_deg=6.2 if name == "tilted" else 0.0)
        link.know(one, shown)
        made._on_tick()
    return made, link
