"""Every page of a session at home by name, for tests and for pictures to look at."""

from __future__ import annotations

from feedback.screens.home.pages import Busy, Page, RatingScale, Reply, Shown, Told, YesNo
from feedback.screens.home.window import PagesWindow
from feedback.texts.home import step, tell


def pages() -> dict[str, Page]:
    """The pages in the order in which they come."""
    scales: dict[str, Page] = {
        name: RatingScale(
            heading=tell(f"scale_{name}"),
            low=tell(f"scale_{name}_low"),
            high=tell(f"scale_{name}_high"),
            step=step(5),
            safety=name == "pain",
        )
        for name in ("pain", "effort", "awkwardness")
    }
    return {
        "unsigned": Told(
            heading=tell("unsigned"),
            texts=(
                tell("unsigned_means"),
                tell("unsigned_speed", speed="12.5"),
                tell("unsigned_next"),
            ),
            picture="warning",
        ),
        "first_key": Told(
            heading=tell("first_key_heading"),
            texts=(tell("first_key", groups="e5d8 2f62 afd2 fdd6"), tell("first_key_next")),
            picture="page",
        ),
        "other_name": Told(
            heading=tell("other_name", name="Kestrel"),
            texts=(
                tell("other_name_so_far", names="Heron, Plover"),
                tell("other_name_next", name="Kestrel"),
            ),
            picture="person",
        ),
        "morning": YesNo(
            heading=tell("morning"), text=tell("morning_text"), step=step(1), picture="person"
        ),
        "today": Told(
            heading=tell("today_of", place="3 of 8"),
            texts=(
                tell("today_length", minutes=22, speed="9.5"),
                tell("today_no_progress", reasons="it was very hard"),
            ),
            picture="runner",
            step=step(1),
        ),
        "camera": Told(
            heading=tell("camera"),
            texts=(tell("camera_behind"), tell("camera_next")),
            step=step(2),
            picture="camera_behind",
        ),
        "getting": Busy(
            heading=tell("getting"),
            text=tell("getting_text", what="Getting the pose model"),
            done=12_000_000,
            total=30_000_000,
            step=step(2),
            picture="fetch",
            can_cancel=True,
        ),
        "moment": Busy(heading=tell("moment"), text=tell("run_opens"), step=step(3)),
        **scales,
        "result": Told(
            heading=tell("result"),
            texts=(tell("result_how"),),
            path="/home/runner/.local/share/beltside/results/kestrel-session-3-20261125T170000.json",
            step=step(5),
            picture="send",
            last=True,
        ),
        "too_early": Told(
            heading="The rest after the last session is not over: 18 h are left.",
            texts=("Legs need the time between two sessions.", "Come back tomorrow."),
            picture="warning",
            last=True,
        ),
    }


def shown(name: str, number: int) -> Shown:
    """That page, as the program sends it."""
    return Shown(number=number, page=pages()[name])


def window(name: str, width: int = 1280, height: int = 720) -> tuple[PagesWindow, list[Reply]]:
    """A window of this size with this page; needs a running QApplication."""
    replies: list[Reply] = []
    made = PagesWindow(replies.append)
    made.resize(width, height)
    made.show_page(shown(name, 7))
    return made, replies
