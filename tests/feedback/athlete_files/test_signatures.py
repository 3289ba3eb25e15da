"""The signature of prescriptions: who wrote it, and that nothing was changed since."""

from __future__ import annotations

import contextlib
import copy
import json
import stat
import tempfile
import threading
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest
import tomli_w
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from feedback.athlete_files.prescriptions import (
    check_sum,
    read_prescription,
    signed,
    signed_content,
    write_prescription,
)
from feedback.athlete_files.signatures import (
    FILE,
    is_signed,
    own_key,
    own_public,
    public_of,
    short,
    sign,
)
from shared.problems import UserError
from shared.targets import Limits, Prescription
from tests.feedback.training.making import cadence_aim, drill, plan, prescription

OLDER = Path(__file__).parent / "older" / "unsigned.toml"
KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
MADE = signed(prescription(drill(), plan((2.0,), (1.0, 1.0))), KEY)


# the key


def test_the_key_is_made_once_and_only_its_owner_can_read_it(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    assert own_public(folder) == ""
    key = own_key(folder)
    assert public_of(own_key(folder)) == public_of(key) == own_public(folder)
    assert [path.name for path in folder.iterdir()] == [FILE]
    assert stat.S_IMODE((folder / FILE).stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert own_public(tmp_path / "another") == ""


def test_two_that_make_it_at_once_have_the_same(tmp_path: Path) -> None:
    found: list[str] = []
    ready = threading.Barrier(8)

    def make() -> None:
        ready.wait(10)
        found.append(public_of(own_key(tmp_path)))

    threads = [threading.Thread(target=make) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert len(found) == 8
    assert len(set(found)) == 1


def test_a_damaged_key_is_told_and_not_made_anew(tmp_path: Path) -> None:
    other = ec.generate_private_key(ec.SECP256R1()).private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    for content in (b"", b"no key", other):
        (tmp_path / FILE).write_bytes(content)
        for ask in (own_key, own_public):
            with pytest.raises(UserError) as caught:
                ask(tmp_path)
            assert caught.value.problem.code == "signing_key_damaged"
        assert (tmp_path / FILE).read_bytes() == content


def test_a_key_is_compared_by_four_groups_of_four() -> None:
    assert len(short(public_of(KEY))) == 19
    assert short(public_of(KEY)) != short(public_of(Ed25519PrivateKey.generate()))


# the signature


def test_what_is_signed_is_as_the_readme_says(tmp_path: Path) -> None:
    # Put together once more by other means: the sorted JSON of all that stands in the file.
    plain = table_of(MADE, tmp_path)
    del plain["signature"]
    text = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    content = b"beltside prescription 1\n" + text.encode("utf-8")
    key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(MADE.signed_by))
    key.verify(bytes.fromhex(MADE.signature), content)


def table_of(made: Prescription, folder: Path) -> dict[str, Any]:
    write_prescription(made, folder / "one.toml")
    return tomllib.loads((folder / "one.toml").read_text(encoding="utf-8"))


def test_the_order_of_a_file_and_its_comments_do_not_count(tmp_path: Path) -> None:
    table = table_of(MADE, tmp_path)
    turned = {name: table[name] for name in reversed(table)}
    path = tmp_path / "turned.toml"
    path.write_text("# a comment\n" + tomli_w.dumps(turned), encoding="utf-8")
    assert read_prescription(path) == MADE


def test_a_signed_prescription_comes_back_from_its_file(tmp_path: Path) -> None:
    path = tmp_path / "heron.toml"
    write_prescription(MADE, path)
    assert read_prescription(path) == MADE
    assert MADE.signed_by == public_of(KEY)


def changed(path: Path, made: Prescription, *, sum_anew: bool) -> None:
    """Let somebody who knows the program change a limit in the file, and mend the check sum."""
    write_prescription(made, path)
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    table["limits"]["longest_min"] = 59.0
    if sum_anew:
        table["check"] = check_sum(msgspec.convert(table, Prescription))
    path.write_text(tomli_w.dumps(table), encoding="utf-8")


@pytest.mark.parametrize(
    ("made", "sum_anew", "code"),
    [
        (MADE, False, "signature_wrong"),
        (MADE, True, "signature_wrong"),
        (read_prescription(OLDER), False, "prescription_changed"),
    ],
)
def test_a_changed_prescription_is_not_run_even_with_its_sum_mended(
    tmp_path: Path, made: Prescription, sum_anew: bool, code: str
) -> None:
    path = tmp_path / "heron.toml"
    changed(path, made, sum_anew=sum_anew)
    with pytest.raises(UserError) as caught:
        read_prescription(path)
    assert caught.value.problem.code == code


@pytest.mark.parametrize(
    "changes",
    [
        {"signature": ""},
        {"signature": "0" * 128},
        {"signed_by": ""},
        {"signed_by": public_of(Ed25519PrivateKey.generate())},
        {"signed_by": "f" * 64},
    ],
)
def test_a_signature_that_does_not_fit_is_refused(tmp_path: Path, changes: dict[str, str]) -> None:
    path = tmp_path / "heron.toml"
    write_prescription(msgspec.structs.replace(MADE, **changes), path)
    with pytest.raises(UserError) as caught:
        read_prescription(path)
    assert caught.value.problem.code == "signature_wrong"


def test_another_signature_of_the_same_key_does_not_pass(tmp_path: Path) -> None:
    content = signed_content(table_of(MADE, tmp_path))
    assert is_signed(content, MADE.signature, MADE.signed_by)
    for other in (content[:-1], content + b" ", content.removeprefix(b"beltside")):
        assert not is_signed(content, sign(KEY, other), MADE.signed_by)
    assert not is_signed(content, "odd", MADE.signed_by)


def test_a_prescription_of_an_older_version_still_opens() -> None:
    made = read_prescription(OLDER)
    assert (made.signed_by, made.signature) == ("", "")
    assert made.check == check_sum(made)


# whatever is changed


def leaves(value: Any, at: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """The way to every value of a file, and to every table and list in it."""
    inside: list[tuple[str | int, ...]] = [at] if at else []
    if isinstance(value, dict):
        for name, one in value.items():
            inside += leaves(one, (*at, name))
    elif isinstance(value, list):
        for number, one in enumerate(value):
            inside += leaves(one, (*at, number))
    return inside


with tempfile.TemporaryDirectory() as _folder:
    TABLE = table_of(MADE, Path(_folder))


def table_now() -> dict[str, Any]:
    return copy.deepcopy(TABLE)


WAYS = leaves(TABLE)
VALUES = st.one_of(
    st.text(max_size=70),
    st.integers(),
    st.floats(allow_nan=True),
    st.booleans(),
    st.datetimes(),
    st.lists(st.integers(-9, 9), max_size=2),
    st.dictionaries(st.text(max_size=3), st.integers(-9, 9), max_size=2),
)


def read_again(table: dict[str, Any]) -> Prescription:
    """As from a file; UserError where it is refused, and no other failure."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "one.toml"
        path.write_text(tomli_w.dumps(table), encoding="utf-8")
        return read_prescription(path)


def around(table: Any, way: tuple[str | int, ...]) -> Any:
    for step in way[:-1]:
        table = table[step]
    return table


def same(one: Any, other: Any) -> bool:
    """Whether two values stand in a file alike: 5 and 5.0 do not."""
    return tomli_w.dumps({"x": one}) == tomli_w.dumps({"x": other})


@settings(deadline=None)  # each writes a file
@given(way=st.sampled_from(WAYS), value=VALUES, sum_anew=st.booleans())
def test_any_other_value_of_any_field_is_refused(
    way: tuple[str | int, ...], value: Any, sum_anew: bool
) -> None:
    table = table_now()
    place = around(table, way)
    assume(not same(place[way[-1]], value))
    place[way[-1]] = value
    if sum_anew and way != ("check",):
        with contextlib.suppress(msgspec.ValidationError, TypeError):
            table["check"] = check_sum(msgspec.convert(table, Prescription))
    with pytest.raises(UserError):
        read_again(table)


@settings(deadline=None)  # each writes a file
@given(ways=st.lists(st.sampled_from(WAYS), min_size=1, max_size=3), sum_anew=st.booleans())
def test_whatever_is_cut_off_it_is_refused_or_not_signed(
    ways: list[tuple[str | int, ...]], sum_anew: bool
) -> None:
    table = table_now()
    for way in ways:
        with contextlib.suppress(KeyError, IndexError):
            del around(table, way)[way[-1]]
    if sum_anew:
        with contextlib.suppress(msgspec.ValidationError):
            table["check"] = check_sum(msgspec.convert(table, Prescription))
    assume(table != TABLE)  # a sum that was cut off and worked out anew
    try:
        left = read_again(table)
    except UserError:
        return
    assert not left.signature
    assert not left.signed_by
    assert {("signature",), ("signed_by",)} <= set(ways)


def test_with_the_signature_cut_off_it_is_one_that_nobody_has_signed() -> None:
    table = table_now()
    del table["signature"], table["signed_by"]
    assert read_again(table).signature == ""


@settings(deadline=None)  # each writes a file
@given(data=st.data())
def test_no_other_byte_in_the_file_makes_another_prescription(data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "one.toml"
        write_prescription(MADE, path)
        content = bytearray(path.read_bytes())
        begin = content.index(b"format =")  # what stands before is a comment
        at = data.draw(st.integers(begin, len(content) - 1))
        content[at] ^= data.draw(st.integers(1, 255))
        path.write_bytes(content)
        try:
            assert read_prescription(path) == MADE  # a blank more or less
        except UserError:
            return


@pytest.mark.parametrize("field", ["goals", "limits", "drill", "signature", "check"])
def test_nothing_can_be_carried_over_from_another_of_the_same_clinic(field: str) -> None:
    other = signed(
        prescription(
            drill(cadence_aim(change_percent=7.5)), plan((3.0,)), Limits(pain_stop_over=3)
        ),
        KEY,
    )
    with tempfile.TemporaryDirectory() as folder:
        table, theirs = table_now(), table_of(other, Path(folder))
    table[field] = theirs[field]
    with pytest.raises(UserError, match="changed or damaged after it was signed"):
        read_again(table)


@pytest.mark.parametrize("change", [str.upper, lambda text: f"{text}\n", lambda text: f" {text}"])
def test_a_signature_has_one_way_to_be_written(change: Callable[[str], str]) -> None:
    table = table_now()
    table["signature"] = change(table["signature"])
    with pytest.raises(UserError, match="changed or damaged after it was signed"):
        read_again(table)
