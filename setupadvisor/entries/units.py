"""Units as written by a crew: the field's own unit at no cost, any other through pint."""

from __future__ import annotations

import re
from functools import cache
from typing import Any

NUMBER_AND_UNIT = re.compile(r"\s*([-+]?(?:\d+(?:[.,]\d*)?|\.\d+)(?:[eE][-+]?\d+)?)\s*(\S.*?)?\s*")

# How a field's unit is written at the end of a column's or fact's name.
SUFFIXES = {
    "": "",
    "%": "pct",
    "°": "deg",
    "°C": "c",
    "Hz": "hz",
    "J": "j",
    "N/mm": "n_per_mm",
    "N m": "nm",
    "N": "n",
    "bar": "bar",
    "cc": "cc",
    "cm": "cm",
    "g": "g",
    "kJ": "kj",
    "kPa": "kpa",
    "kg": "kg",
    "kg/m³": "kg_per_m3",
    "km/h": "kmh",
    "m": "m",
    "m/s": "mps",
    "m/s²": "mps2",
    "min": "min",
    "mm": "mm",
    "rpm": "rpm",
    "s": "s",
}

# What people write for units that pint spells otherwise.
_SPELLINGS = {
    "%": "percent",
    "percent": "percent",
    "°": "degree",
    "deg": "degree",
    "degrees": "degree",
    "°C": "degC",
    "C": "degC",
    "deg C": "degC",
    "°F": "degF",
    "F": "degF",
    "deg F": "degF",
    '"': "inch",
    "in": "inch",
    "inches": "inch",
    "'": "foot",
    "feet": "foot",
    "lb": "pound",
    "lbs": "pound",
    "stone": "stone",
    "st": "stone",
    "kph": "km/h",
    "kmh": "km/h",
    "km/h": "km/h",
    "mph": "mile/hour",
    "inHg": "inHg",
    "hPa": "hPa",
    "mbar": "mbar",
    "kg/m³": "kg/m**3",
    "m/s²": "m/s**2",
    "N m": "N*m",
    "Nm": "N*m",
    "ft lb": "foot*pound_force",
    "lb/in": "pound_force/inch",
    "lbs/in": "pound_force/inch",
    "lbf/in": "pound_force/inch",
    "kg/mm": "kgf/mm",
    "kgf/mm": "kgf/mm",
    "cc": "cm**3",
    "ccm": "cm**3",
    "rpm": "rpm",
    "1/min": "rpm",
    "min": "minute",
    "mins": "minute",
    "sec": "second",
}


class NotThisUnit(ValueError):
    """The written unit is unknown or measures something else."""


@cache
def _registry() -> Any:
    import pint  # noqa: PLC0415 - a third of a second, paid only when a foreign unit is written

    return pint.UnitRegistry(cache_folder=None)


def convert(number: float, written: str, wanted: str) -> float:
    """Convert a number between units.

    Parameters
    ----------
    number : float
        The number as written.
    written : str
        Its unit as written.
    wanted : str
        The field's own unit.

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
    registry = _registry()
    try:
        quantity = registry.Quantity(number, _SPELLINGS.get(written, written))
        return float(quantity.to(_SPELLINGS.get(wanted, wanted)).magnitude)
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
    match = NUMBER_AND_UNIT.fullmatch(text)
    if match is None:
        return None
    return float(match[1].replace(",", ".")), match[2] or ""
