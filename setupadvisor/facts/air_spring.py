"""Air as a spring: polytropic force, rate and energy of a closed column, and the oil level."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.valid_range import FloatArray, possible

STANDARD_PRESSURE_KPA = 101.325
"""Standard sea-level pressure, ISO 2533."""

ADIABATIC_EXPONENT = 1.4
"""Ratio of specific heats of dry air; 1.0 is an isothermal (slow) compression."""


def polytropic_pressure_kpa(
    absolute_pressure_kpa: ArrayLike,
    volume_ratio: ArrayLike,
    exponent: ArrayLike = ADIABATIC_EXPONENT,
) -> FloatArray:
    """Pressure of a closed amount of gas after compression.

    Parameters
    ----------
    absolute_pressure_kpa : array_like
        Absolute pressure before, kPa.
    volume_ratio : array_like
        Volume before over volume after.
    exponent : array_like, optional
        Polytropic exponent: 1.4 for fast strokes, 1.0 for a slow push in the workshop.

    Returns
    -------
    numpy.ndarray
        Absolute pressure after, kPa.

    Notes
    -----
    ``p2 = p1 r^n``, ideal gas (any thermodynamics text; from memory).

    Examples
    --------
    >>> round(float(polytropic_pressure_kpa(101.325, 1.5)), 2)
    178.75
    """
    pressure = possible(
        absolute_pressure_kpa, "absolute_pressure_kpa", "absolute pressure is above 0", above=0.0
    )
    ratio = possible(volume_ratio, "volume_ratio", "a volume ratio is above 0", above=0.0)
    power = possible(exponent, "exponent", "a polytropic exponent is at least 0", at_least=0.0)
    return np.asarray(pressure * ratio**power)


def gas_spring_force_n(
    stroke_mm: ArrayLike,
    gauge_pressure_kpa: ArrayLike,
    column_mm: ArrayLike,
    bore_mm: ArrayLike,
    *,
    exponent: ArrayLike = ADIABATIC_EXPONENT,
    ambient_pressure_kpa: ArrayLike = STANDARD_PRESSURE_KPA,
) -> FloatArray:
    """Force of an air column against the outside air.

    Parameters
    ----------
    stroke_mm : array_like
        Compression from full extension, mm.
    gauge_pressure_kpa : array_like
        Pressure above the outside air at full extension, kPa (0 after bleeding).
    column_mm : array_like
        Length of the air column at full extension, mm.
    bore_mm : array_like
        Diameter of the column, mm.
    exponent : array_like, optional
        Polytropic exponent.
    ambient_pressure_kpa : array_like, optional
        Outside air, absolute, kPa.

    Returns
    -------
    numpy.ndarray
        Force, N.

    Raises
    ------
    ImpossibleValue
        When the stroke reaches the column's length: the oil would have no air left above it.

    Notes
    -----
    ``F = (p1 (V1/V)^n - p_ambient) A``; polytropic gas, from memory. A second (negative) air
    chamber is not modelled.

    Examples
    --------
    >>> round(float(gas_spring_force_n(150.0, 200.0, 300.0, 43.0)), 1)
    1007.6
    """
    pressure, _, area, ambient = _state(
        stroke_mm,
        gauge_pressure_kpa,
        column_mm,
        bore_mm,
        exponent=exponent,
        ambient_pressure_kpa=ambient_pressure_kpa,
    )
    return np.asarray((pressure - ambient) * area * 1e-3)


def gas_spring_rate_n_per_mm(
    stroke_mm: ArrayLike,
    gauge_pressure_kpa: ArrayLike,
    column_mm: ArrayLike,
    bore_mm: ArrayLike,
    *,
    exponent: ArrayLike = ADIABATIC_EXPONENT,
    ambient_pressure_kpa: ArrayLike = STANDARD_PRESSURE_KPA,
) -> FloatArray:
    """Rate of an air column at a stroke.

    Parameters
    ----------
    stroke_mm : array_like
        Compression from full extension, mm.
    gauge_pressure_kpa : array_like
        Pressure above the outside air at full extension, kPa.
    column_mm : array_like
        Length of the air column at full extension, mm.
    bore_mm : array_like
        Diameter of the column, mm.
    exponent : array_like, optional
        Polytropic exponent.
    ambient_pressure_kpa : array_like, optional
        Outside air, absolute, kPa.

    Returns
    -------
    numpy.ndarray
        Rate, N/mm.

    Notes
    -----
    ``k = n p A / (column - stroke)``: the derivative of `gas_spring_force_n`.

    Examples
    --------
    >>> round(float(gas_spring_rate_n_per_mm(150.0, 200.0, 300.0, 43.0)), 2)
    10.78
    """
    pressure, left, area, _ = _state(
        stroke_mm,
        gauge_pressure_kpa,
        column_mm,
        bore_mm,
        exponent=exponent,
        ambient_pressure_kpa=ambient_pressure_kpa,
    )
    return np.asarray(np.asarray(exponent, dtype=np.float64) * pressure * area * 1e-3 / left)


def gas_spring_energy_j(
    from_stroke_mm: ArrayLike,
    to_stroke_mm: ArrayLike,
    *,
    gauge_pressure_kpa: ArrayLike,
    column_mm: ArrayLike,
    bore_mm: ArrayLike,
    exponent: ArrayLike = ADIABATIC_EXPONENT,
    ambient_pressure_kpa: ArrayLike = STANDARD_PRESSURE_KPA,
) -> FloatArray:
    """Energy an air column takes up between two strokes.

    Parameters
    ----------
    from_stroke_mm, to_stroke_mm : array_like
        Compression from full extension before and after, mm.
    gauge_pressure_kpa : array_like
        Pressure above the outside air at full extension, kPa.
    column_mm : array_like
        Length of the air column at full extension, mm.
    bore_mm : array_like
        Diameter of the column, mm.
    exponent : array_like, optional
        Polytropic exponent.
    ambient_pressure_kpa : array_like, optional
        Outside air, absolute, kPa.

    Returns
    -------
    numpy.ndarray
        Energy, J.

    Notes
    -----
    The integral of `gas_spring_force_n`: ``(p V at the end - p V at the start) / (n - 1)`` less
    the work of the outside air, and ``p V ln(V1/V2)`` where n is 1.

    Examples
    --------
    >>> energy = gas_spring_energy_j(
    ...     0.0, 150.0, gauge_pressure_kpa=200.0, column_mm=300.0, bore_mm=43.0
    ... )
    >>> round(float(energy), 1)
    82.8
    """
    power = np.asarray(exponent, dtype=np.float64)
    (first_pressure, first_left, area, ambient), (last_pressure, last_left, _, _) = (
        _state(
            stroke,
            gauge_pressure_kpa,
            column_mm,
            bore_mm,
            exponent=exponent,
            ambient_pressure_kpa=ambient_pressure_kpa,
        )
        for stroke in (from_stroke_mm, to_stroke_mm)
    )
    isothermal = np.abs(power - 1.0) < 1e-9
    with np.errstate(divide="ignore", invalid="ignore"):
        polytropic = (last_pressure * last_left - first_pressure * first_left) / (power - 1.0)
    slow = first_pressure * first_left * np.log(first_left / last_left)
    work = np.where(isothermal, slow, polytropic)
    return np.asarray((work - ambient * (first_left - last_left)) * area * 1e-6)


def _state(
    stroke_mm: ArrayLike,
    gauge_pressure_kpa: ArrayLike,
    column_mm: ArrayLike,
    bore_mm: ArrayLike,
    *,
    exponent: ArrayLike,
    ambient_pressure_kpa: ArrayLike,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Absolute pressure (kPa), column left (mm), area (mm2), ambient pressure (kPa)."""
    column = possible(column_mm, "column_mm", "an air column is longer than 0 mm", above=0.0)
    bore = possible(bore_mm, "bore_mm", "a bore is wider than 0 mm", above=0.0)
    ambient = possible(
        ambient_pressure_kpa, "ambient_pressure_kpa", "absolute pressure is above 0", above=0.0
    )
    left = possible(
        column - np.asarray(stroke_mm, dtype=np.float64),
        "air column left at this stroke, mm",
        "the column must stay longer than the stroke; lower the oil level",
        above=0.0,
    )
    start = ambient + np.asarray(gauge_pressure_kpa, dtype=np.float64)
    pressure = polytropic_pressure_kpa(start, column / left, exponent)
    return pressure, left, np.asarray(np.pi / 4.0 * bore**2), ambient


def air_column_mm(
    oil_level_mm: ArrayLike,
    travel_mm: ArrayLike,
    bore_mm: ArrayLike,
    spring_volume_ml: ArrayLike = 0.0,
) -> FloatArray:
    """Air column of an open fork leg at full extension, from the oil level.

    Parameters
    ----------
    oil_level_mm : array_like
        From the top of the tube down to the oil, leg fully compressed and spring out, mm:
        more millimetres is less oil.
    travel_mm : array_like
        Stroke of the leg, mm.
    bore_mm : array_like
        Diameter of the air column, mm.
    spring_volume_ml : array_like, optional
        Volume of the spring and spacer that stand in the air once built in, ml.

    Returns
    -------
    numpy.ndarray
        Air column at full extension, mm, of which `travel_mm` is used at the stop.

    Notes
    -----
    Plane geometry with one bore all the way; what the damper rod displaces is left out.
    The way of measuring is common practice, no source. Keep inside the service manual's
    oil-level range: too much oil can burst seals or lock the leg before the stop.

    Examples
    --------
    >>> float(air_column_mm(110.0, 300.0, 43.0))
    410.0
    """
    bore = possible(bore_mm, "bore_mm", "a bore is wider than 0 mm", above=0.0)
    taken = np.asarray(spring_volume_ml, dtype=np.float64) * 1e3 / (np.pi / 4.0 * bore**2)
    travel = possible(travel_mm, "travel_mm", "a fork's travel is above 0 mm", above=0.0)
    column = np.asarray(oil_level_mm, dtype=np.float64) + travel - taken
    return possible(
        column, "air column, mm", "an air column is longer than 0 mm; lower the oil", above=0.0
    )


def oil_level_change_mm(oil_added_ml: ArrayLike, bore_mm: ArrayLike) -> FloatArray:
    """Change of the oil level when oil is added to one leg.

    Parameters
    ----------
    oil_added_ml : array_like
        Oil added, ml (below 0: taken out).
    bore_mm : array_like
        Inside diameter of the tube at the oil's surface, mm.

    Returns
    -------
    numpy.ndarray
        Change of the level, mm; below 0 when oil is added, since the level is measured down.

    Examples
    --------
    >>> round(float(oil_level_change_mm(10.0, 43.0)), 1)
    -6.9
    """
    bore = possible(bore_mm, "bore_mm", "a bore is wider than 0 mm", above=0.0)
    return np.asarray(-np.asarray(oil_added_ml, dtype=np.float64) * 1e3 / (np.pi / 4.0 * bore**2))


def oil_level_force_change_n(
    stroke_mm: ArrayLike,
    level_change_mm: ArrayLike,
    column_mm: ArrayLike,
    bore_mm: ArrayLike,
    *,
    gauge_pressure_kpa: ArrayLike = 0.0,
    exponent: ArrayLike = ADIABATIC_EXPONENT,
) -> FloatArray:
    """Extra force of one leg at a stroke after the oil level was changed.

    Parameters
    ----------
    stroke_mm : array_like
        Compression from full extension, mm.
    level_change_mm : array_like
        Change of the oil level, mm; below 0 is more oil.
    column_mm : array_like
        Air column at full extension before the change, mm.
    bore_mm : array_like
        Diameter of the column, mm.
    gauge_pressure_kpa : array_like, optional
        Pressure above the outside air at full extension, kPa.
    exponent : array_like, optional
        Polytropic exponent.

    Returns
    -------
    numpy.ndarray
        Extra force of the leg, N. Small in the first half of the stroke, large near the stop:
        the oil level is a setting against bottoming.

    Examples
    --------
    >>> round(float(oil_level_force_change_n(300.0, -10.0, 410.0, 43.0)))
    96
    """
    column = np.asarray(column_mm, dtype=np.float64)
    before = gas_spring_force_n(stroke_mm, gauge_pressure_kpa, column, bore_mm, exponent=exponent)
    shorter = column + np.asarray(level_change_mm, dtype=np.float64)
    after = gas_spring_force_n(stroke_mm, gauge_pressure_kpa, shorter, bore_mm, exponent=exponent)
    return np.asarray(after - before)
