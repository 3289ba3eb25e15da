"""The project's own papers: packages, wheel, and what the texts name."""

from __future__ import annotations

import ast
import os
import re
import shlex
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Iterator
from functools import cache
from importlib import metadata
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from feedback.cli.main import build_parser
from feedback.help import TOPICS

ROOT = Path(__file__).resolve().parents[1]
PROJECT: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
GROUPS: dict[str, list[str]] = PROJECT["dependency-groups"]
RUNTIME = [Requirement(line) for line in PROJECT["project"]["dependencies"] + GROUPS["build"]]
CHECKS = [
    Requirement(line) for name in ("dev", "rendered", "outside", "speech") for line in GROUPS[name]
]
PACKAGES: list[str] = PROJECT["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"]
RUNTIME_FILE = ROOT / "requirements.txt"
CHECKS_FILE = ROOT / ".ci" / "requirements.txt"
WRITTEN_WHEN_IT_WAS_SO = {"CHANGELOG.md"}
"""What this names was there then, and need not be any more."""
TEXTS = sorted(
    path.relative_to(ROOT).as_posix()
    for folder in (ROOT, *(ROOT / name for name in (*PACKAGES, "tests")))
    for path in (folder.glob("*.md") if folder == ROOT else folder.rglob("*.md"))
    if path.name not in WRITTEN_WHEN_IT_WAS_SO
)
"""Every document, by its path."""
FIRST_LINES_OF_WHAT_IS_SIGNED = {"prescription 1", "result 1"}
"""They begin as a command does, but nobody types them."""
MOST_WORDS = {"README.md": 1600, "DEVELOPERS.md": 1400}
ASKED_AS_A_PROGRAM = {"pip"}
"""Needed at run time, but started as a process and so never imported."""


# packages


def pins(file: Path) -> list[Requirement]:
    """The pinned requirements of a file, without their hashes."""
    text = file.read_text(encoding="utf-8").replace("\\\n", " ")
    lines = [line.split("#")[0].strip() for line in text.splitlines()]
    return [Requirement(line.split(" --hash=")[0]) for line in lines if line]


def supported_environments() -> Iterator[dict[str, str]]:
    """Each Python and system that the packages must be pinned for."""
    for python, system in product(("3.11", "3.12", "3.13"), ("linux", "darwin", "win32")):
        yield {
            "python_version": python,
            "python_full_version": f"{python}.1",
            "sys_platform": system,
        }


@pytest.mark.parametrize(("file", "wanted"), [(RUNTIME_FILE, RUNTIME), (CHECKS_FILE, CHECKS)])
def test_pins_fit_what_the_project_asks_for(file: Path, wanted: list[Requirement]) -> None:
    pinned = pins(file)
    for requirement, environment in product(wanted, supported_environments()):
        if requirement.marker and not requirement.marker.evaluate(environment):
            continue
        fitting = [
            pin
            for pin in pinned
            if plain_name(pin.name) == plain_name(requirement.name)
            and (pin.marker is None or pin.marker.evaluate(environment))
        ]
        assert len(fitting) == 1, (requirement, environment["python_version"])
        (version,) = (spec.version for spec in fitting[0].specifier)
        assert version in requirement.specifier, fitting[0]


@pytest.mark.parametrize("file", [RUNTIME_FILE, CHECKS_FILE])
def test_every_pin_is_exact_and_hashed_and_names_no_address(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    assert "://" not in text
    assert "index" not in re.sub(r"(?m)^\s*#.*$", "", text)
    entries = re.split(r"(?m)^(?=[a-z])", text)[1:]
    assert len(entries) == len(pins(file))
    for entry in entries:
        assert re.match(r"[a-z0-9-]+==\S+ ", entry), entry
        assert "--hash=sha256:" in entry, entry


def test_both_files_pin_the_same_versions() -> None:
    runtime = {(pin.name, str(pin.marker)): str(pin.specifier) for pin in pins(RUNTIME_FILE)}
    for pin in pins(CHECKS_FILE):
        known = runtime.get((pin.name, str(pin.marker)))
        assert known in (None, str(pin.specifier)), pin


@pytest.mark.parametrize(("file", "wanted"), [(RUNTIME_FILE, RUNTIME), (CHECKS_FILE, CHECKS)])
def test_nothing_is_missing_from_the_pins_and_nothing_is_left_over(
    file: Path, wanted: list[Requirement]
) -> None:
    here = {plain_name(pin.name) for pin in pins(file) if applies(pin)}
    assert here == closure(wanted)


def applies(requirement: Requirement, extra: str = "") -> bool:
    return requirement.marker is None or requirement.marker.evaluate({"extra": extra})


def closure(wanted: list[Requirement]) -> set[str]:
    """Names of all packages that the ones asked for bring along, as installed here."""
    found: set[str] = set()
    waiting = [(one.name, extra) for one in wanted if applies(one) for extra in extras(one)]
    while waiting:
        name, extra = waiting.pop()
        found.add(plain_name(name))
        for line in metadata.requires(name) or ():
            needed = Requirement(line)
            if applies(needed, extra) and plain_name(needed.name) not in found:
                waiting += [(needed.name, more) for more in extras(needed)]
    return found


def extras(requirement: Requirement) -> set[str]:
    return {"", *requirement.extras}


def imported(folders: list[str]) -> dict[str, set[str]]:
    """Modules of others that the Python files in the folders import, each with the packages
    that it can come from."""
    modules: set[str] = set()
    for folder in folders:
        for path in (ROOT / folder).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Import):
                    modules.update(name.name.split(".")[0] for name in node.names)
                elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
                    modules.add(node.module.split(".")[0])
    others = modules - sys.stdlib_module_names - {*PACKAGES, "tests"}
    owners = metadata.packages_distributions()
    return {name: set(map(plain_name, owners.get(name, [name]))) for name in others}


def plain_name(name: str) -> str:
    return str(canonicalize_name(name))


def declared(*groups: str) -> set[str]:
    """Names of the packages that the program and the named groups ask for."""
    lines: list[str] = list(PROJECT["project"]["dependencies"])
    lines += [line for group in groups for line in GROUPS[group]]
    return {plain_name(Requirement(line).name) for line in lines}


def test_the_program_imports_what_it_declares_and_nothing_else() -> None:
    found = imported(PACKAGES)
    undeclared = [name for name, owners in found.items() if not owners & declared()]
    assert undeclared == []
    assert declared() - ASKED_AS_A_PROGRAM <= set().union(*found.values())


def test_the_tests_import_only_what_is_declared() -> None:
    found = imported(["tests"])
    assert [name for name, owners in found.items() if not owners & declared(*GROUPS)] == []


TELL_WRITTEN_TIMES = {
    "feedback.records.history",
    "feedback.records.summarise",
    "feedback.records.wording",
    "feedback.records.result_limits",
    "feedback.records.answers",
}
"""They put times that were written down into words and ask no clock."""


def _imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{name.name}" for name in node.names)


def test_every_module_that_calls_itself_pure_imports_nothing_impure() -> None:
    contracts = PROJECT["tool"]["importlinter"]["contracts"]
    (pure,) = (one for one in contracts if one["name"].startswith("Pure rooms"))
    called, wrong = 0, []
    for path in (path for package in PACKAGES for path in (ROOT / package).rglob("*.py")):
        words = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
        if not re.search(r"\(pure\)|; pure\b", words):
            continue
        called += 1
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        allowed = {"datetime"} if name in TELL_WRITTEN_TIMES else set()
        bad = [
            one
            for one in _imports(path)
            for root in {*pure["forbidden_modules"]} - allowed
            if one == root or one.startswith(f"{root}.")
        ]
        wrong += [(name, bad)] if bad else []
    assert wrong == []
    assert called > 80


# the wheel


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (path,) = folder.glob("*.whl")
    return path


def test_the_wheel_holds_every_module_profile_and_clip(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        held = set(archive.namelist())
    wanted = {
        path.relative_to(ROOT).as_posix()
        for package in PACKAGES
        for path in (ROOT / package).rglob("*")
        if path.suffix in {".py", ".toml", ".mp4", ".wav", ".md"}
    }
    assert wanted <= held
    assert {"feedback/demo/side.mp4", "feedback/demo/behind.mp4"} <= held
    assert any(re.fullmatch(r"profiles/athletes/\w+\.toml", name) for name in held)
    assert {f"feedback/help/{topic}.md" for topic in TOPICS} <= held
    assert any(name.endswith("/licenses/LICENSE") for name in held)
    assert not [name for name in held if name.startswith(("tests", ".")) or "__pycache__" in name]


def test_the_installed_wheel_works_far_from_the_checkout(wheel: Path, tmp_path: Path) -> None:
    installed = tmp_path / "installed"
    install = f"-m pip install --quiet --no-index --no-deps --target {installed} {wheel}"
    subprocess.run([sys.executable, *shlex.split(install)], check=True, capture_output=True)
    shown = subprocess.run(
        [sys.executable, "-W", "error", "-m", "feedback.cli.main", "athletes"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (shown.returncode, shown.stderr) == (0, "")
    for profile in (ROOT / "profiles" / "athletes").glob("*.toml"):
        assert profile.stem in shown.stdout
    read = subprocess.run(
        [sys.executable, "-W", "error", "-m", "feedback.cli.main", "help", "camera"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (read.returncode, read.stderr) == (0, "")
    assert "hip height" in read.stdout
    where = subprocess.run(
        [sys.executable, "-c", "import feedback, live, profiles, shared; print(feedback.__file__)"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert Path(where.stdout.strip()).is_relative_to(installed)


# the texts


def named_commands() -> list[tuple[str, str]]:
    """Every ``./run ...`` and ``beltside ...`` in the texts, with the words that follow."""
    found = []
    for name in TEXTS:
        text = (ROOT / name).read_text(encoding="utf-8")
        blocks = re.findall(r"(?ms)^```\w*\n(.*?)^```", text)
        lines = [line.strip() for block in blocks for line in block.splitlines()]
        prose = re.sub(r"(?ms)^```.*?^```", "", text)
        lines += [" ".join(span.split()) for span in re.findall(r"`([^`]+)`", prose)]
        for line in lines:
            match = re.match(r"(?:\./run|(?:\S*[/\\])?beltside)(?: (.+))?$", line.split("  #")[0])
            if match:
                found.append((name, match[1] or ""))
    return found


@pytest.mark.parametrize(("text", "words"), sorted(set(named_commands())))
def test_the_texts_name_only_commands_that_exist(text: str, words: str) -> None:
    arguments = shlex.split(words.replace("...", ""))
    if arguments[:1] in ([], ["test"]) or words in FIRST_LINES_OF_WHAT_IS_SIGNED:
        return
    try:
        build_parser().parse_args(arguments)
    except SystemExit as ended:
        if ended.code or arguments[-1:] != ["--help"]:
            pytest.fail(f"{text} names {words!r}, which the program does not take")


def test_every_room_of_the_documents_is_looked_at() -> None:
    assert {"README.md", "DEVELOPERS.md", "profiles/README.md"} <= {*TEXTS}
    assert {"feedback/link/README.md", "feedback/safety/README.md"} <= {*TEXTS}
    assert {"tests/bench/README.md", "tests/accuracy/README.md"} <= {*TEXTS}
    assert {f"feedback/help/{topic}.md" for topic in TOPICS} <= {*TEXTS}


@pytest.mark.parametrize(("text", "most"), MOST_WORDS.items())
def test_the_first_documents_to_be_read_stay_short(text: str, most: int) -> None:
    assert len((ROOT / text).read_text(encoding="utf-8").split()) <= most


def test_the_map_of_rooms_lists_each_once_and_from_the_top_floor_down() -> None:
    content = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    listed = re.findall(r"(?m)^\| `([\w/]+)/` \|", content)
    rooms = {path.parent.relative_to(ROOT).as_posix() for path in ROOT.glob("feedback/*/*.py")}
    assert sorted(listed) == sorted({*rooms, "live", "shared"})
    (floors,) = (
        one["layers"]
        for one in PROJECT["tool"]["importlinter"]["contracts"]
        if one["name"].startswith("No room imports")
    )
    floor_of = {
        room.strip().replace(".", "/"): number
        for number, rooms in enumerate(floors)
        for room in rooms.split("|")
    }
    numbers = [floor_of[room] for room in listed]
    assert numbers == sorted(numbers)


def spans(text: str) -> list[str]:
    """What stands in backquotes, outside blocks of commands."""
    prose = re.sub(r"(?ms)^ *```.*?^ *```", "", (ROOT / text).read_text(encoding="utf-8"))
    return [" ".join(span.split()) for span in re.findall(r"`([^`]+)`", prose)]


def is_there(name: str, text: str) -> bool:
    """Whether a document's name for a file means one: from the top, or from where it lies."""
    nearby = (ROOT / text).parent
    if "/" not in name:
        return any(nearby.rglob(name)) or (nearby.parent / name).exists()
    return (ROOT / name).exists() or (nearby / name).exists()


@pytest.mark.parametrize("text", TEXTS)
def test_the_texts_name_only_files_that_exist(text: str) -> None:
    rooms = "|".join((*PACKAGES, "tests", r"\.ci"))
    named = [
        span.split("::")[0]
        for span in spans(text)
        if re.fullmatch(rf"(?:{rooms})/[\w./-]*(?:::\w+)?|[\w./-]+\.(?:py|md)(?:::\w+)?", span)
    ]
    assert [name for name in named if not is_there(name, text)] == []
    content = (ROOT / text).read_text(encoding="utf-8")
    linked = re.findall(r"\]\((?!https?://)([^)#]+)\)", content)
    assert [link for link in linked if not ((ROOT / text).parent / link).exists()] == []


@pytest.mark.parametrize("text", TEXTS)
def test_the_texts_name_only_tests_and_modules_that_exist(text: str) -> None:
    content = (ROOT / text).read_text(encoding="utf-8")
    for path, function in re.findall(r"\b(tests/[\w/]+\.py)::(\w+)", content):
        assert f"def {function}(" in (ROOT / path).read_text(encoding="utf-8"), function
    for module in re.findall(r"python -m ((?:tests|feedback)[\w.]*\w)", content):
        place = ROOT.joinpath(*module.split("."))
        assert place.with_suffix(".py").exists() or (place / "__main__.py").exists(), module


@pytest.mark.parametrize("text", TEXTS)
def test_the_texts_name_only_classes_that_exist(text: str) -> None:
    """Names such as ``Pipeline.settle`` are those of the code, as it is now."""
    words = code_words()
    named = [span for span in spans(text) if re.fullmatch(r"[A-Z][a-z]\w*(?:\.\w+)*", span)]
    missing = [span for span in named if not words.issuperset(span.split("."))]
    assert missing == []


@cache
def code_words() -> frozenset[str]:
    files = (path for name in (*PACKAGES, "tests") for path in (ROOT / name).rglob("*.py"))
    return frozenset(
        word for path in files for word in re.findall(r"\w+", path.read_text(encoding="utf-8"))
    )
