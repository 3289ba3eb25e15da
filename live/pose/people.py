"""Notice a second person: now and then the whole picture is searched, beside the live work."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import Final

from live.pose.landmarker import open_landmarker, to_model_image
from live.pose.quiet import quiet_stderr
from shared.cores import threads
from shared.flow import Frame
from shared.problems import UserError
from shared.threads import step_aside
from shared.units import NS_PER_MS, NS_PER_S

LOOK_EVERY_NS: Final = NS_PER_S
LOOK_TAKES_NS: Final = 250 * NS_PER_MS
"""When the answer is asked for, by the stamps of the frames: ten times what a search takes. Of a
file it is waited for then, so that it gives the same answers at any speed of the computer."""
LATE_NS: Final = 3 * NS_PER_S
"""A search that takes longer is told: a second person would be known after twice that only."""
LEAST_CONFIDENCE: Final = 0.3
"""At the library's 0.5 somebody who stands beside the belt is missed in 5 of 7 pictures of a
rendered case; at 0.3 in none, and nobody is seen who is not there (366 pictures)."""
POLITE: Final = 10
"""Steps of niceness: a tenth of the processor's time where others want it too. A search takes as
long as two frames, and the frames beside it would wait for it."""


class PeopleCounter:
    """Says whether more than one person is in the picture; two searches in a row must agree.

    The model that follows the runner looks at one body only and would not see a second one. A
    search takes longer than following and so runs in a thread of its own. A second person is
    known after 0.5 to 1.5 s.
    """

    def __init__(self, path: Path) -> None:
        """Load the ``.task`` file. Raises UserError (``model_missing``, ``model_unusable``)."""
        before = threads()
        self._thread = ThreadPoolExecutor(
            1, thread_name_prefix="people", initializer=step_aside, initargs=(POLITE,)
        )
        # Loaded in that thread, so that the library's own threads step aside as well.
        loading = self._thread.submit(
            open_landmarker, path, num_poses=2, min_pose_detection_confidence=LEAST_CONFIDENCE
        )
        try:
            self._model = loading.result()
        except UserError:
            self._thread.shutdown()
            raise
        self.threads = threads() - before
        """Those that search, by the system's numbers."""
        self.waits = True
        """Whether ``several`` waits for a search that takes longer than it should; whoever must
        not be held up, as the work thread, goes on with what was known before."""
        self.late = False
        """Whether a search has been under way for so long that somebody may be there unseen."""
        self._search: Future[bool] | None = None
        self._waiting: Frame | None = None
        self._asked_ns: int | None = None
        self._several = False
        self._doubted = False

    def several(self, frame: Frame) -> bool:
        """Whether more than one person is known to be there; call it with every frame."""
        self.settle()
        at_ns = frame.captured_ns
        since_ns = None if self._asked_ns is None else at_ns - self._asked_ns
        search = self._search
        if search is not None and since_ns is not None and since_ns >= LOOK_TAKES_NS:
            if self.waits or search.done():
                if self._take(search.result()):
                    since_ns = None  # search again at once
                self._search = None
            self.late = self._search is not None and since_ns is not None and since_ns >= LATE_NS
        if self._search is None and (since_ns is None or since_ns >= LOOK_EVERY_NS):
            self._waiting, self._asked_ns = frame, at_ns
        return self._several

    def _take(self, found: bool) -> bool:
        """Take in what was found; whether it is new, so that another search has to agree."""
        changed = found != self._several
        if changed and self._doubted:
            self._several = found
        self._doubted = changed and not self._doubted
        return self._doubted

    def settle(self) -> None:
        """Begin a search that is due; the next ``several`` does it too."""
        if self._waiting is not None:
            self._search = self._thread.submit(self._look, self._waiting)
            self._waiting = None

    def start_anew(self) -> None:
        """Forget what was seen so far."""
        if self._search is not None:
            self._search.result()
        self._search, self._waiting, self._asked_ns = None, None, None
        self._several = self._doubted = self.late = False

    def _look(self, frame: Frame) -> bool:
        return len(self._model.detect(to_model_image(frame.image)).pose_landmarks) > 1

    def close(self) -> None:
        """Wait for a search under way and let go of the model."""
        self._thread.shutdown(cancel_futures=True)
        with quiet_stderr():
            self._model.close()
