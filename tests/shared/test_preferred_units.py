"""Belt speeds and heights in other units, against published conversion factors."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.preferred_units import (
    LENGTH_UNITS,
    SPEED_UNITS,
    cm_of,
    kmh_of,
    length_text,
    speed_text,
)

# NIST Special Publication 811 (2008), appendix B.8: "mile per hour (mi/h) to kilometer per hour
# (km/h): 1.609 344 E+00", "foot (ft) to meter (m): 3.048 E-01", "inch (in) to centimeter (cm):
# 2.54 E+00", all exact.
MPH_KMH, FOOT_CM, INCH_CM = 1.609344, 30.48, 2.54


@pytest.mark.parametrize(
    ("typed", "unit", "kmh"),
    [
        ("10.1", "km/h", 10.1),
        ("10,1", "km/h", 10.1),
        ("6", "mph", 6 * MPH_KMH),
        ("6:00", "min/km", 10.0),
        ("5:30", "min/km", 60 / 5.5),
        ("6", "min/km", 10.0),
        ("8:00", "min/mile", 7.5 * MPH_KMH),
        (" 12 ", "km/h", 12.0),
    ],
)
def test_a_speed_is_read_in_the_unit_it_is_typed_in(typed: str, unit: str, kmh: float) -> None:
    assert kmh_of(typed, unit) == pytest.approx(kmh, rel=1e-12)


@pytest.mark.parametrize(
    ("typed", "unit", "cm"),
    [
        ("172", "cm", 172.0),
        ("172,5", "cm", 172.5),
        ("5'8\"", "ft/in", 5 * FOOT_CM + 8 * INCH_CM),
        ("5 8", "ft/in", 5 * FOOT_CM + 8 * INCH_CM),
        ("5 ft 8 in", "ft/in", 5 * FOOT_CM + 8 * INCH_CM),
        ("5 ft 8.5 in", "ft/in", 5 * FOOT_CM + 8.5 * INCH_CM),
        ("6'", "ft/in", 6 * FOOT_CM),
        ("6", "ft/in", 6 * FOOT_CM),
    ],
)
def test_a_height_is_read_in_the_unit_it_is_typed_in(typed: str, unit: str, cm: float) -> None:
    assert cm_of(typed, unit) == pytest.approx(cm, rel=1e-12)


@pytest.mark.parametrize("unit", SPEED_UNITS)
@pytest.mark.parametrize("typed", ["", "fast", "-3", "0", "0:00", "1e3", "5:75", "nan", "10 km"])
def test_what_is_no_speed_is_none(typed: str, unit: str) -> None:
    assert kmh_of(typed, unit) is None


@pytest.mark.parametrize("unit", LENGTH_UNITS)
@pytest.mark.parametrize("typed", ["", "tall", "-3", "5'12\"", "5'8\"9", "inf"])
def test_what_is_no_height_is_none(typed: str, unit: str) -> None:
    assert cm_of(typed, unit) is None


@given(st.floats(3, 25), st.sampled_from(SPEED_UNITS))
def test_what_is_shown_can_be_typed_again(kmh: float, unit: str) -> None:
    again = kmh_of(speed_text(kmh, unit), unit)
    assert again == pytest.approx(kmh, abs={"km/h": 0.051, "mph": 0.081}.get(unit, 0.1))


@given(st.floats(120, 220), st.sampled_from(LENGTH_UNITS))
def test_a_height_that_is_shown_can_be_typed_again(cm: float, unit: str) -> None:
    again = cm_of(length_text(cm, unit), unit)
    assert again == pytest.approx(cm, abs=0.051 if unit == "cm" else INCH_CM / 4 + 0.001)


def test_paces_and_heights_read_as_people_write_them() -> None:
    assert speed_text(10.0, "min/km") == "6:00"
    assert speed_text(60 / 5.999, "min/km") == "6:00"
    assert speed_text(12.0, "mph") == "7.5"
    assert length_text(182.88, "ft/in") == "6'0\""
    assert length_text(182.6, "ft/in") == "6'0\""
    assert length_text(172.0, "cm") == "172"


def test_two_digits_alone_are_no_feet_and_inches() -> None:
    assert cm_of("62", "ft/in") is None
