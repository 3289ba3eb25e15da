"""A plan on a narrow terminal: a line a session, and no digit under another."""

from __future__ import annotations

import pytest

from feedback.cli.main import main


@pytest.mark.parametrize("width", [40, 50, 75])
def test_a_plan_fits_a_narrow_terminal(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], width: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    assert main(["plan", "five_short"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert sum(line.split(":")[0].isdigit() for line in lines) == len(lines) - 1
    assert max(map(len, lines)) <= max(width, 60)


def test_on_a_wider_one_it_is_a_table(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["plan", "five_short"]) == 0
    assert "cued min" in capsys.readouterr().out
