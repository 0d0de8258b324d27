"""Units against published conversions, and what is no unit or no single number.

NIST SP 811: A. Thompson and B. N. Taylor, Guide for the Use of the International System of Units,
NIST Special Publication 811, 2008 edition, appendix B.8 and B.9. Factors printed in bold there are
exact; the others are given to seven digits, so that 5e-7 covers their rounding. The factor of the
inch of mercury was read in a reprint of the table, the others are from memory and follow from the
definitions of inch, pound and standard gravity; pint, which has its own table, agrees below.
"""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.entries.unit_tables import EXACT, OTHER_UNITS, SPELLINGS, SUFFIXES
from setupadvisor.entries.units import (
    NotOneNumber,
    NotThisUnit,
    clock_s,
    convert,
    number_in,
    spelled,
    split,
)

# (unit, field's unit, NIST SP 811 appendix B.8 factor, whether the factor is exact)
NIST = [
    ("in", "mm", 25.4, True),
    ("in", "cm", 2.54, True),
    ("ft", "m", 0.3048, True),
    ("yd", "m", 0.9144, True),
    ("mile", "m", 1609.344, True),
    ("mph", "km/h", 1.609344, True),
    ("lb", "kg", 0.45359237, True),
    ("psi", "kPa", 6.894757, False),
    ("bar", "kPa", 100.0, True),
    ("mbar", "kPa", 0.1, True),
    ("inHg", "kPa", 3.386389, False),
    ("mmHg", "kPa", 0.1333224, False),
    ("atm", "kPa", 101.325, True),
    ("kgf/cm²", "kPa", 98.0665, True),
    ("lb/in", "N/mm", 0.1751268, False),
    ("kgf/mm", "N/mm", 9.80665, True),
    ("ft lb", "N m", 1.355818, False),
    ("hour", "min", 60.0, True),
    ("min", "s", 60.0, True),
]


@pytest.mark.parametrize(("written", "wanted", "factor", "exact"), NIST)
def test_conversion_is_the_published_one(
    written: str, wanted: str, factor: float, exact: bool
) -> None:
    assert convert(1.0, written, wanted) == pytest.approx(factor, rel=1e-12 if exact else 5e-7)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    # NIST SP 811 appendix B.9: t/°C = (t/°F - 32)/1.8. Ice point, and where the scales meet.
    [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0), (77.0, 25.0), (95.0, 35.0)],
)
def test_temperature_has_its_own_zero(fahrenheit: float, celsius: float) -> None:
    assert convert(fahrenheit, "°F", "°C") == pytest.approx(celsius, abs=1e-12)


@pytest.mark.parametrize(
    ("number", "unit", "celsius"), [(18.0, "°F", 10.0), (32.0, "°F", 160 / 9), (10.0, "K", 10.0)]
)
def test_difference_of_temperatures_has_no_zero_of_its_own(
    number: float, unit: str, celsius: float
) -> None:
    """NIST SP 811, 8.5 and B.8: a difference of 1 °F is one of 1/1.8 °C."""
    assert convert(number, unit, "°C", difference=True) == pytest.approx(celsius, rel=1e-12)


def test_kelvin_is_read_as_a_temperature() -> None:
    """0 °C is 273.15 K by definition (NIST SP 811, 8.5)."""
    assert convert(300.0, "K", "°C") == pytest.approx(26.85, abs=1e-9)


@pytest.mark.parametrize("have", EXACT)
def test_every_tabled_size_is_what_pint_says(have: str) -> None:
    """The table spares the third of a second that loading pint takes; they must never differ."""
    import pint  # noqa: PLC0415

    registry: pint.UnitRegistry = pint.UnitRegistry(cache_folder=None)
    for want in EXACT:
        if EXACT[want][0] == EXACT[have][0]:
            ours = convert(3.7, have, want)
            assert ours == pytest.approx(registry.Quantity(3.7, have).to(want).magnitude, rel=1e-9)


@pytest.mark.parametrize(
    ("rare", "wanted", "metric"),
    # NIST SP 811 appendix B.8: rod 5.029210, slug 14.59390, dyn/cm² 0.1 Pa, l 1e-3 m³, knot.
    [
        ("2 rod", "m", 10.05842),
        ("2 slug", "kg", 29.1878),
        ("0.45 L", "cc", 450.0),
        ("20 knot", "km/h", 37.04),
        ("5 m/s", "km/h", 18.0),
        ("1.2 g/cm³", "kg/m³", 1200.0),
        ("1.2 g/cm^3", "kg/m³", 1200.0),
        ("3 kN/m", "N/mm", 3.0),
        ("0.5 rad", "°", 90 / math.pi),
        ("2 g/cm³", "kg/m³", 2000.0),
    ],
)
def test_rare_units_are_converted_too(rare: str, wanted: str, metric: float) -> None:
    assert number_in(rare, wanted) == pytest.approx(metric, rel=5e-7)


@given(
    st.sampled_from(
        [(one, two) for one in EXACT for two in EXACT if EXACT[one][0] == EXACT[two][0]]
    ),
    st.floats(-1e6, 1e6).filter(lambda number: number == 0 or abs(number) > 1e-6),
)
def test_there_and_back_is_where_it_began(units: tuple[str, str], number: float) -> None:
    one, two = units
    assert convert(convert(number, one, two), two, one) == pytest.approx(number, rel=1e-12)


@given(st.floats(-200, 500))
def test_fahrenheit_there_and_back(number: float) -> None:
    assert 1.8 * convert(number, "°F", "°C") + 32 == pytest.approx(number, abs=1e-9)


@given(st.sampled_from(sorted(SUFFIXES)), st.floats(-1e9, 1e9))
def test_a_number_in_the_fields_own_unit_stays_exactly_as_it_is(unit: str, number: float) -> None:
    assert number_in(f"{number!r} {unit}".strip(), unit) == number
    assert number_in(repr(number), unit) == number


@given(st.sampled_from(sorted(EXACT)), st.floats(0.001, 1e4), st.floats(1.001, 10))
def test_more_stays_more(unit: str, number: float, times: float) -> None:
    metric = {
        "length": "mm",
        "mass": "kg",
        "speed": "km/h",
        "pressure": "kPa",
        "stiffness": "N/mm",
        "time": "s",
    }[EXACT[unit][0]]
    assert convert(number * times, unit, metric) > convert(number, unit, metric)


# Spellings.


@pytest.mark.parametrize(
    ("text", "wanted", "value"),
    [
        ("13 PSI", "kPa", 89.63184),
        ("1.1 Bar", "kPa", 110.0),
        ("120kpa", "kPa", 120.0),
        ("1013 hPa", "kPa", 101.3),
        ("78 F", "°C", 25.55556),
        ("78 ºF", "°C", 25.55556),
        ("78 ℉", "°C", 25.55556),
        ("25 C", "°C", 25.0),
        ("25 degrees", "°", 25.0),
        ("4.5 inches", "mm", 114.3),
        ("4.5 in.", "mm", 114.3),
        ('4.5"', "mm", 114.3),
        ("4.5″", "mm", 114.3),
        ("11'", "m", 3.3528),
        ("11 Feet", "m", 3.3528),
        ("175 lbs", "kg", 79.37866),
        ("26 lbs/in", "N/mm", 4.553298),
        ("0.47 kg/mm", "N/mm", 4.609126),
        ("55 kph", "km/h", 55.0),
        ("1 click", "clicks", 1.0),
        ("1 link", "links", 1.0),
        ("1 tooth", "teeth", 1.0),
        ("30 ft-lbs", "N m", 40.67454),
        ("1.1 kg/cm2", "kPa", 107.8732),
    ],
)
def test_everyday_spellings_are_understood(text: str, wanted: str, value: float) -> None:
    """Factors as in the table above."""
    assert number_in(text, wanted) == pytest.approx(value, rel=1e-6)


def test_every_spelling_is_written_in_small_letters() -> None:
    """They are looked up that way, so a capital would never be found."""
    assert all(name == name.lower() for name in SPELLINGS)


def test_every_unit_of_a_field_is_its_own_spelling_s_equal() -> None:
    for unit in SUFFIXES:
        assert convert(5.0, spelled(unit), unit) == 5.0


@pytest.mark.parametrize("unit", OTHER_UNITS)
def test_units_named_in_messages_are_understood(unit: str) -> None:
    """`°F` in `a number from -25 to 55 °C (or °F)`."""
    named = OTHER_UNITS[unit].split(", as in")[0].replace(" and ", ", ").replace(" or ", ", ")
    for other in named.split(", "):
        assert convert(1.0, other, unit) != 1.0


# Numbers as people write them.


@pytest.mark.parametrize(
    ("text", "wanted", "value"),
    [
        ("13.5", "kPa", 13.5),
        ("13,5", "kPa", 13.5),
        (".5 m", "m", 0.5),
        ("5. m", "m", 5.0),
        ("+4 m", "m", 4.0),
        ("−3 °C", "°C", -3.0),
        ("  7   mm ", "mm", 7.0),
        ("7\N{NO-BREAK SPACE}mm", "mm", 7.0),
        ("1e3 m", "m", 1000.0),
        ("1 840 m", "m", 1840.0),
        ("1\N{NARROW NO-BREAK SPACE}840 m", "m", 1840.0),
        ("0,125 m", "m", 0.125),
        ("5 ft 10 in", "cm", 177.8),
        ("5'10\"", "cm", 177.8),
        ("-1 ft 6 in", "m", -0.4572),
        ("11 st 4 lb", "kg", 71.66759),
        ("2 min 6.5 s", "s", 126.5),
        ("1:52.345", "s", 112.345),
        ("0:49", "s", 49.0),
    ],
)
def test_number_is_read_as_written(text: str, wanted: str, value: float) -> None:
    assert number_in(text, wanted) == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        ("1,840 m", "write 1840, or 1.840 with a point"),
        ("-1,500", "write -1500, or -1.500 with a point"),
        ("20-25 °C", "write one number, the usual one"),
        ("20 - 25", "write one number, the usual one"),
        ("20 to 25 °C", "write one number, the usual one"),
    ],
)
def test_what_may_mean_two_numbers_is_refused_with_both(text: str, mend: str) -> None:
    with pytest.raises(NotOneNumber) as caught:
        number_in(text, "m")
    assert str(caught.value) == mend


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "soft",
        "nan",
        ".nan",
        "inf",
        "-inf",
        "about 20",
        "m",
        "--5",
        "5..3",
        "1,840,000",
        "0x10",
        "1_000",
        "five",
        "1:75",
        "1:5",
        "9" * 100,
        "1" + " " * 10_000 + "m",
    ],
)
def test_what_is_no_number_is_refused(text: str) -> None:
    with pytest.raises((NotOneNumber, NotThisUnit)):
        number_in(text, "s")


@given(st.text(max_size=80), st.sampled_from(sorted(SUFFIXES)))
def test_any_text_is_a_number_or_refused(text: str, unit: str) -> None:
    try:
        number = number_in(text, unit)
    except (NotOneNumber, NotThisUnit):
        return
    assert not math.isnan(number)


def test_a_clock_has_two_digits_of_seconds_below_sixty() -> None:
    assert clock_s("2:06") == 126.0
    assert [clock_s(text) for text in ("2:6", "2:60", "2.06", ":06", "1:02:03")] == [None] * 5


def test_split_gives_number_and_unit() -> None:
    assert split("13 psi") == (13.0, "psi")
    assert split("61 %") == (61.0, "%")
    assert split("4.6 N / mm ") == (4.6, "N / mm")
    assert split("20") == (20.0, "")
    assert split("psi 13") is None


# What is no unit.


@pytest.mark.parametrize(
    ("written", "wanted"),
    [
        ("apples", "kPa"),
        ("mm", "kPa"),
        ("kPa", "mm"),
        ("kg", "N"),
        ("min", "m"),
        ("m", "min"),
        ("m²", "m"),
        ("%", "°"),
        ("°", "%"),
        ("percent", ""),
        ("whoops", ""),
        ("%", ""),
        ("Hz", "rpm"),
        ("rpm", "Hz"),
        ("m", "links"),
        ("mm", "clicks"),
        ("°C", "K·m"),
        ("__class__", "m"),
        ("m.__class__", "m"),
        ("; import os", "m"),
        ("m**99999999", "m"),
        ("9**9**9**9 m", "m"),
        ("m*" * 20 + "m", "m"),
        ("", "m"),
    ],
)
def test_what_is_no_unit_of_the_kind_is_refused(written: str, wanted: str) -> None:
    with pytest.raises(NotThisUnit) as caught:
        convert(1.0, written, wanted)
    assert caught.value.args == (written,)


# What is loaded.

LOADED = """
import sys
from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.walk import Walk
load_entry(bundled("datasets", "machines", "works-450.yaml"), Machine)
load_entry(bundled("datasets", "walks", {walk!r}), Walk)
print(sorted({{"pint", "pandas", "scipy", "sklearn", "difflib"}} & set(sys.modules)))
"""


@pytest.mark.parametrize("walk", ["mud.yaml", "imperial-units.yaml"])
def test_reading_sound_entries_loads_nothing_slow(walk: str) -> None:
    """Neither for the fields' own units nor for everyday ones."""
    script = LOADED.format(walk=walk)
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_a_rare_unit_loads_what_knows_it() -> None:
    script = (
        "import sys\nfrom setupadvisor.entries.units import number_in\n"
        "number_in('2 rod', 'm')\nprint('pint' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "True"
