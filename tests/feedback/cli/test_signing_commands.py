"""Signing and who is believed, as it is asked for on the command line."""

from __future__ import annotations

import io
import re
import tomllib
from pathlib import Path

import msgspec
import pytest
import tomli_w

from feedback.athlete_files.prescriptions import check_sum, read_prescription
from feedback.storage.settings import data_folder
from shared.targets import Prescription
from tests.feedback.records.command_line import run as run_command
from tests.feedback.training.making import baseline


class Computer:
    """The program within this process, with folders of its own."""

    def __init__(
        self, folder: Path, patch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        self.folder, self._patch, self._capsys = folder, patch, capsys

    def run(self, *words: str, typed: str = "") -> tuple[int, str, str]:
        """Exit code, and what was said on stdout and on stderr."""
        for name in ("XDG_DATA_HOME", "XDG_STATE_HOME"):
            self._patch.setenv(name, str(self.folder / name))
        assert self.folder in data_folder().parents
        self._patch.setattr("sys.stdin", io.StringIO(typed))
        return run_command(self._capsys, *words)

    def good(self, *words: str, typed: str = "") -> str:
        code, out, err = self.run(*words, typed=typed)
        assert (code, err) == (0, "")
        return out

    def told(self, *words: str, what: str, to_do: str, typed: str = "") -> None:
        code, _, err = self.run(*words, typed=typed)
        assert code == 1
        first, second = err.splitlines()
        assert what in first
        assert to_do in second

    def prescription(self) -> Path:
        self.run("clinics")  # makes this computer's folders the ones in use
        folder = data_folder() / "baselines"
        folder.mkdir(parents=True)
        (folder / "heron-side-1.json").write_bytes(msgspec.json.encode(baseline()))
        path = self.folder / "heron.toml"
        self.good("prescribe", "--athlete", "heron", "--drill", "quick_steps",
                  "--plan", "eight_sessions", "--out", str(path))  # fmt: skip
        return path


@pytest.fixture
def clinic(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Computer:
    return Computer(tmp_path / "clinic", monkeypatch, capsys)


@pytest.fixture
def home(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Computer:
    return Computer(tmp_path / "home", monkeypatch, capsys)


def cut_off(path: Path, **limits: float) -> Path:
    """The file without its signature, its limits changed and its sum mended: anyone can do that."""
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    del table["signature"], table["signed_by"]
    table["limits"].update(limits)
    table["check"] = check_sum(msgspec.convert(table, Prescription))
    made = path.with_name("cut.toml")
    made.write_text(tomli_w.dumps(table), encoding="utf-8")
    return made


@pytest.mark.parametrize("command", ["home", "session", "plan"])
def test_what_nobody_has_signed_is_run_and_planned_with_on_demand_only(
    clinic: Computer, command: str
) -> None:
    path = str(cut_off(clinic.prescription()))
    live = () if command == "plan" else ("--camera", "0", "--headless")
    clinic.told(command, path, *live, what="is not signed", to_do="--accept-unsigned")
    out = clinic.good(command, path, *live, "--accept-unsigned", typed="n\n")
    assert "NOT SIGNED" in out
    assert ("session 1." if command == "plan" else "Nothing was started.") in out


@pytest.mark.parametrize("command", ["home", "session", "plan"])
def test_what_another_key_has_signed_is_not_run_with_any_option(
    clinic: Computer, home: Computer, command: str
) -> None:
    home.prescription()
    path = str(clinic.prescription())
    live = ("--camera", "0", "--headless", "--now", "--earlier") if command != "plan" else ()
    for more in ((), ("--accept-unsigned",)):
        what = "signed with a key that is not known here"
        home.told(command, path, *live, *more, what=what, to_do="beltside clinics --accept")
    good = clinic.good(command, path, *live, typed="n\n")
    assert "Signed by this station" in good


def test_a_rehearsal_of_an_unsigned_one_says_so(clinic: Computer) -> None:
    assert "is not signed" in clinic.good("rehearse", str(cut_off(clinic.prescription())))


def test_another_clinics_key_is_named_and_accepted_by_a_person_alone(
    clinic: Computer, home: Computer
) -> None:
    path = str(clinic.prescription())
    out = home.good("plan", path)
    assert "the first one used on this computer" in out
    groups = re.search(r"key ((?:[0-9a-f]{4} ?){4}),", out)
    assert groups is not None
    assert groups[1] in clinic.good("clinics")
    assert "No key is known here yet" in home.good("clinics")
    home.prescription()  # its own key is known from here on
    home.told("plan", path, what=groups[1], to_do="beltside clinics --accept")
    for typed in ("n\n", "", "perhaps\n"):
        out = home.good("clinics", "--accept", path, typed=typed)
        assert groups[1] in out
        assert "this computer's own" in out
        assert "Nothing was changed." in out
    home.told("plan", path, what=groups[1], to_do="beltside clinics --accept")
    home.good("clinics", "--accept", path, typed="y\n")
    assert f"Signed with a known key: {groups[1]}" in home.good("plan", path)
    assert f"{groups[1]}  accepted, " in home.good("clinics")
    assert "already known here" in home.good("clinics", "--accept", path)
    home.good("clinics", "--remove", groups[1])
    home.told("plan", path, what=groups[1], to_do="beltside clinics --accept")


def test_a_forged_file_makes_no_key_known(clinic: Computer, home: Computer) -> None:
    path = clinic.prescription()
    home.told("clinics", "--accept", str(cut_off(path)), "--yes", what="not signed", to_do="Ask")
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("pain_stop_over = 5", "pain_stop_over = 4"), encoding="utf-8")
    home.told("clinics", "--accept", str(path), "--yes", what="changed or damaged", to_do="Ask")
    assert "No key is known here yet" in home.good("clinics")


def test_what_a_clinician_changed_by_hand_is_shown_and_signed_anew(clinic: Computer) -> None:
    path = clinic.prescription()
    before = read_prescription(path)
    text = path.read_text(encoding="utf-8")
    assert "You need not do anything" in clinic.good("sign", str(path))
    path.write_text(text.replace("pain_stop_over = 5", "pain_stop_over = 4"), encoding="utf-8")
    clinic.told("plan", str(path), what="changed or damaged", to_do="beltside sign")
    out = clinic.good("sign", str(path), typed="n\n")
    assert "limits.pain_stop_over: 5 -> 4" in out
    assert "Nothing was signed" in out
    clinic.told("plan", str(path), what="changed or damaged", to_do="beltside sign")
    out = clinic.good("sign", str(path), typed="y\n")
    assert [line for line in out.splitlines() if "->" in line] == [
        "  limits.pain_stop_over: 5 -> 4"
    ]
    after = read_prescription(path)
    assert after.limits == msgspec.structs.replace(before.limits, pain_stop_over=4)
    assert after.signed_by == before.signed_by
    assert after.written_utc > before.written_utc
    assert after.check != before.check
    assert "Signed by this station" in clinic.good("plan", str(path))
    kept = [read_prescription(file) for file in (data_folder() / "prescriptions").iterdir()]
    assert after in kept  # so that the answer to it is known


def test_what_is_beyond_the_limits_is_not_signed_either(clinic: Computer) -> None:
    path = clinic.prescription()
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("beat_spm = 168.0", "beat_spm = 200.0"), encoding="utf-8")
    clinic.told("sign", str(path), "--yes", what="at most 10 % over", to_do="Choose")
    path.write_text(text.replace("pain_stop_over = 5", "pain_stop_over = 6"), encoding="utf-8")
    clinic.told("sign", str(path), "--yes", what="pain_stop_over is 6", to_do="0 to 5")


def test_one_of_an_older_version_is_signed_at_the_clinic(
    clinic: Computer, home: Computer, tmp_path: Path
) -> None:
    older = str(Path(__file__).parents[1] / "athlete_files" / "older" / "unsigned.toml")
    home.told("plan", older, what="is not signed", to_do="beltside sign")
    new = str(tmp_path / "new.toml")
    assert "Written to" in clinic.good("sign", older, "--out", new, "--yes")
    assert "the first one used" in home.good("plan", new)
