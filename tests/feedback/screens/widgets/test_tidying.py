"""Python's tidying up happens in the window's thread, between its events."""

from __future__ import annotations

import subprocess
import sys

CHECK = """
import gc, os, threading
os.environ["QT_QPA_PLATFORM"] = "offscreen"
from PyQt6.QtCore import QCoreApplication, QTimer
from feedback.screens.widgets.tidying import tidy_between_events

app = QCoreApplication([])
tidy_between_events(app)
where = []

class Loop:
    def __init__(self):
        self.itself = self
    def __del__(self):
        where.append(threading.current_thread().name)

def make():
    for _ in range(5000):
        Loop()

maker = threading.Thread(target=make, name="link")
maker.start()
maker.join()
assert where == [], "tidied up in the other thread"
QTimer.singleShot(1500, app.quit)
app.exec()
assert len(where) == 5000, len(where)
assert set(where) == {"MainThread"}
"""


def test_what_another_thread_leaves_is_tidied_up_in_the_windows_thread() -> None:
    done = subprocess.run(
        [sys.executable, "-c", CHECK], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr
