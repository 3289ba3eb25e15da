"""The same tests on both kinds of store."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.feedback.records.cluster import cluster, fresh_database

_numbers = itertools.count(1)


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    with cluster() as url:
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def store_url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'data' / 'store.sqlite'}"
    return fresh_database(request.getfixturevalue("server"), f"store{next(_numbers)}")
