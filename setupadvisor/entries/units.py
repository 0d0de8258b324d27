"""Units as written by a crew: everyday ones by their definition, any other through pint."""

from __future__ import annotations

import math
import re
from functools import cache
from typing import Any

from setupadvisor.entries.unit_tables import EXACT, ONLY_AS, OTHER_UNITS, SPELLINGS, SUFFIXES

__all__ = [
    "OTHER_UNITS",
    "SUFFIXES",
    "NotOneNumber",
    "NotThisUnit",
    "clock_s",
    "convert",
    "number_in",
    "spelled",
    "split",
]

_NUMBER = r"[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d{1,3})?"
NUMBER_AND_UNIT = re.compile(rf"({_NUMBER})(?:\s*([^\s\d.,].*))?")
# The patterns below are compiled when they are first needed: most numbers are plain ones.
# "5 ft 10 in", "11 st 4 lb", "2 min 6 s"
_TWO_PARTS = r"([-+]?\d+)\s*([^\s\d.,]+)\s*(\d+(?:[.,]\d*)?)\s*([^\s\d.,]+)"
_PARTS_THAT_ADD = {("foot", "inch"), ("stone", "pound"), ("minute", "second"), ("pound", "ounce")}
_CLOCK = r"(\d{1,3}):([0-5]\d(?:[.,]\d+)?)"
# "1 840 m" with any kind of space is one number; "1,840" could be two different ones.
_DIGIT_GROUPS = r"(?<=\d)\s(?=\d{3}(?!\d))"
_COMMA_OF_THOUSANDS = r"([-+]?[1-9]\d{0,2}),(\d{3})(?!\d)"
_RANGE = "(?:[-\N{EN DASH}/]|to\\b|\\.\\.)\\s*\\d"
LONGEST_NUMBER = 60

# Letters, joined by * / and -, each with at most one small power: nothing that takes time to read.
_FACTOR = r"[A-Za-zµμ°_]{1,16}(?:\*\*-?[1-3])?"
_UNIT = rf"{_FACTOR}(?:[*/ -]{_FACTOR}){{0,3}}"
_LOOKALIKES = str.maketrans(
    {"º": "°", "˚": "°", "²": "^2", "³": "^3", "·": "*", "⋅": "*"}
    | dict.fromkeys("′’‘", "'")
    | dict.fromkeys("″”“", '"')
    | {"℃": "°C", "℉": "°F"}
)


class NotThisUnit(ValueError):
    """The written unit is unknown or measures something else."""


class NotOneNumber(ValueError):
    """The text is no number, or could be more than one; its argument is the mend, if known."""


@cache
def _registry() -> Any:
    import pint  # noqa: PLC0415 - a third of a second, paid only when a rare unit is written

    return pint.UnitRegistry(cache_folder=None)


def spelled(written: str) -> str:
    """Give a unit's one spelling.

    Parameters
    ----------
    written : str
        As a person wrote it.

    Returns
    -------
    str
        As pint spells it, where it is an everyday unit.

    Examples
    --------
    >>> spelled("lbs/in"), spelled("PSI"), spelled("°f"), spelled("furlong")
    ('pound_force/inch', 'psi', 'degF', 'furlong')
    """
    text = " ".join(written.translate(_LOOKALIKES).split()).rstrip(".").replace(" / ", "/")
    text = re.sub(r"(?<=[A-Za-zµμ])\^?(-?[1-3])", r"**\1", text)
    return SPELLINGS.get(text.lower(), text)


def convert(number: float, written: str, wanted: str, *, difference: bool = False) -> float:
    """Convert a number between units.

    Parameters
    ----------
    number : float
        The number as written.
    written : str
        Its unit as written.
    wanted : str
        The field's own unit.
    difference : bool
        Whether a temperature is a difference, so that 18 °F is 10 °C.

    Returns
    -------
    float
        The number in the wanted unit.

    Raises
    ------
    NotThisUnit
        If `written` is no unit or measures another quantity.

    Examples
    --------
    >>> round(convert(13.0, "psi", "kPa"), 2)
    89.63
    >>> convert(120.0, "kPa", "kPa")
    120.0
    """
    if written == wanted:
        return number
    have, want = spelled(written), spelled(wanted)
    if have == want:
        return number
    if want in ONLY_AS and have not in ONLY_AS[want]:
        raise NotThisUnit(written)
    if have == "degF" and want == "degC":
        return number / 1.8 if difference else (number - 32.0) / 1.8
    if have in EXACT and want in EXACT:
        (kind, factor), (wanted_kind, divisor) = EXACT[have], EXACT[want]
        if kind != wanted_kind:
            raise NotThisUnit(written)
        return number * factor / divisor
    if re.fullmatch(_UNIT, have) is None:
        raise NotThisUnit(written)
    registry = _registry()
    try:
        found = registry.Quantity(number, have)
        return float(found.to("delta_degC" if difference and want == "degC" else want).magnitude)
    except Exception as error:  # pint raises many kinds for text that is no unit
        raise NotThisUnit(written) from error


def split(text: str) -> tuple[float, str] | None:
    """Split ``"13 psi"`` into number and unit.

    Parameters
    ----------
    text : str
        As written; a comma counts as decimal point.

    Returns
    -------
    tuple of float and str, or None
        The unit is empty when none is written; None when there is no number.

    Examples
    --------
    >>> split("13.5 psi"), split("soft"), split("520m")
    ((13.5, 'psi'), None, (520.0, 'm'))
    """
    match = NUMBER_AND_UNIT.fullmatch(text.strip().replace("−", "-"))
    if match is None:
        return None
    return float(match[1].replace(",", ".")), (match[2] or "").rstrip()


def clock_s(text: str) -> float | None:
    """Read a time written as ``m:ss.mmm``.

    Parameters
    ----------
    text : str
        As written.

    Returns
    -------
    float or None
        Seconds; None where it is no such time.

    Examples
    --------
    >>> clock_s("1:52.345"), clock_s("1:75"), clock_s("112")
    (112.345, None, None)
    """
    match = re.fullmatch(_CLOCK, text.strip())
    if match is None:
        return None
    return round(60 * int(match[1]) + float(match[2].replace(",", ".")), 6)


def number_in(text: str, wanted: str, *, difference: bool = False) -> float:
    """Read a number, with or without a unit, in the wanted unit.

    Parameters
    ----------
    text : str
        As written.
    wanted : str
        The field's own unit, which a plain number is in.
    difference : bool
        Whether a temperature is a difference.

    Returns
    -------
    float
        The number in the wanted unit.

    Raises
    ------
    NotThisUnit
        If there is a number, but in no unit of its kind.
    NotOneNumber
        If there is no number or more than one; its argument is the mend where that is known.

    Examples
    --------
    >>> number_in("2:06.5", "s"), round(number_in("5 ft 10 in", "cm"), 1), number_in("7,5", "mm")
    (126.5, 177.8, 7.5)
    """
    if len(text) > LONGEST_NUMBER:
        raise NotOneNumber("")
    if "," not in text and (parts := split(text)) is not None and parts[1] in {"", wanted}:
        return parts[0]
    text = re.sub(_DIGIT_GROUPS, "", text.strip().replace("−", "-"))
    if wanted == "s" and (seconds := clock_s(text)) is not None:
        return seconds
    if (added := _two_parts(text, wanted)) is not None:
        return added
    parts = split(text)
    if parts is None:
        raise NotOneNumber("")
    number, unit = parts
    if re.match(_RANGE, unit):
        raise NotOneNumber("write one number, the usual one")
    if (grouped := re.match(_COMMA_OF_THOUSANDS, text)) is not None:
        before, after = grouped.groups()
        raise NotOneNumber(f"write {before}{after}, or {before}.{after} with a point")
    return convert(number, unit, wanted, difference=difference) if unit else number


def _two_parts(text: str, wanted: str) -> float | None:
    match = re.fullmatch(_TWO_PARTS, text)
    if match is None or (spelled(match[2]), spelled(match[4])) not in _PARTS_THAT_ADD:
        return None
    large = convert(float(match[1]), match[2], wanted)
    small = convert(float(match[3].replace(",", ".")), match[4], wanted)
    return large + math.copysign(small, large)
