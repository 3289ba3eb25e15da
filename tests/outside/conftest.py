"""The landmarks here lie on the joints themselves, so nothing is to be put right."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from live.measures import calibration


@pytest.fixture(autouse=True, scope="module")
def _plain_readings() -> Iterator[None]:
    """Take away the corrections, which are learnt for where the pose model puts landmarks."""
    learnt = dict(calibration.CORRECTIONS)
    calibration.CORRECTIONS.clear()
    yield
    calibration.CORRECTIONS.update(learnt)
