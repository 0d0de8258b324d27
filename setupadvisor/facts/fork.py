"""Front suspension: coil springs and air in two fork legs, along the raked fork axis.

Stroke counts along the fork from full extension; loads are vertical at the wheel.
"""

from __future__ import annotations

from typing import NamedTuple, TypedDict

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.air_spring import (
    ADIABATIC_EXPONENT,
    STANDARD_PRESSURE_KPA,
    gas_spring_energy_j,
    gas_spring_force_n,
    gas_spring_rate_n_per_mm,
)
from setupadvisor.facts.valid_range import FloatArray, possible


class Fork(NamedTuple):
    """A fork's springs; every field one value or one a row.

    Attributes
    ----------
    spring_rate_n_per_mm : array_like
        Coil rate of one leg, N/mm; 0 for a fork on air alone.
    preload_mm : array_like
        Preload of one leg's coil, mm.
    travel_mm : array_like
        Stroke to the stop, mm.
    air_column_mm : array_like
        Air column of one leg at full extension, mm, longer than the travel (any such length
        where no leg holds air).
    bore_mm : array_like
        Diameter of the air column, mm.
    air_gauge_pressure_kpa : array_like
        Air pressure at full extension above the outside, kPa.
    spring_legs, air_legs : array_like
        How many legs hold a coil and a closed air column.
    exponent : array_like
        Polytropic exponent of the air.
    ambient_pressure_kpa : array_like
        Outside air, absolute, kPa.
    """

    spring_rate_n_per_mm: ArrayLike
    preload_mm: ArrayLike
    travel_mm: ArrayLike
    air_column_mm: ArrayLike
    bore_mm: ArrayLike
    air_gauge_pressure_kpa: ArrayLike = 0.0
    spring_legs: ArrayLike = 2
    air_legs: ArrayLike = 2
    exponent: ArrayLike = ADIABATIC_EXPONENT
    ambient_pressure_kpa: ArrayLike = STANDARD_PRESSURE_KPA


class _Air(TypedDict):
    gauge_pressure_kpa: ArrayLike
    column_mm: ArrayLike
    bore_mm: ArrayLike
    exponent: ArrayLike
    ambient_pressure_kpa: ArrayLike


def _air(fork: Fork) -> _Air:
    return {
        "gauge_pressure_kpa": fork.air_gauge_pressure_kpa,
        "column_mm": fork.air_column_mm,
        "bore_mm": fork.bore_mm,
        "exponent": fork.exponent,
        "ambient_pressure_kpa": fork.ambient_pressure_kpa,
    }


def _legs(value: ArrayLike, quantity: str) -> FloatArray:
    return possible(value, quantity, "a fork has 0 to 2 of them", at_least=0.0, at_most=2.0)


def coils(fork: Fork) -> tuple[FloatArray, FloatArray]:
    """Rate of all coils of a fork together, and their preload.

    Parameters
    ----------
    fork : Fork
        The fork's springs.

    Returns
    -------
    tuple of numpy.ndarray
        Rate, N/mm, and preload, mm.

    Examples
    --------
    >>> rate, preload = coils(Fork(4.8, 5.0, 300.0, 420.0, 43.0))
    >>> float(rate), float(preload)
    (9.6, 5.0)
    """
    rate = possible(
        fork.spring_rate_n_per_mm, "spring_rate_n_per_mm", "not below 0 N/mm", at_least=0.0
    )
    preload = possible(fork.preload_mm, "preload_mm", "preload is not below 0 mm", at_least=0.0)
    return rate * _legs(fork.spring_legs, "spring_legs"), preload


def air_force_n(stroke_mm: ArrayLike, fork: Fork) -> FloatArray:
    """Force of all air columns of a fork together.

    Parameters
    ----------
    stroke_mm : array_like
        Stroke along the fork, mm.
    fork : Fork
        The fork's springs.

    Returns
    -------
    numpy.ndarray
        Force along the fork, N.

    Examples
    --------
    >>> round(float(air_force_n(300.0, Fork(4.8, 5.0, 300.0, 420.0, 43.0))))
    1406
    """
    legs = _legs(fork.air_legs, "air_legs")
    return np.asarray(legs * gas_spring_force_n(stroke_mm, **_air(fork)))


def air_rate_n_per_mm(stroke_mm: ArrayLike, fork: Fork) -> FloatArray:
    """Rate of all air columns of a fork together.

    Parameters
    ----------
    stroke_mm : array_like
        Stroke along the fork, mm.
    fork : Fork
        The fork's springs.

    Returns
    -------
    numpy.ndarray
        Rate along the fork, N/mm.

    Examples
    --------
    >>> round(float(air_rate_n_per_mm(300.0, Fork(4.8, 5.0, 300.0, 420.0, 43.0))), 1)
    19.8
    """
    legs = _legs(fork.air_legs, "air_legs")
    return np.asarray(legs * gas_spring_rate_n_per_mm(stroke_mm, **_air(fork)))


def possible_stroke_mm(stroke_mm: ArrayLike, fork: Fork) -> FloatArray:
    """Refuse strokes outside a fork's travel.

    Parameters
    ----------
    stroke_mm : array_like
        Stroke along the fork, mm.
    fork : Fork
        The fork.

    Returns
    -------
    numpy.ndarray
        The stroke as floats, mm.

    Examples
    --------
    >>> float(possible_stroke_mm(60, Fork(4.8, 5.0, 300.0, 420.0, 43.0)))
    60.0
    """
    travel = possible(fork.travel_mm, "travel_mm", "a fork's travel is above 0 mm", above=0.0)
    stroke = possible(stroke_mm, "stroke_mm", "a stroke is not below 0 mm", at_least=0.0)
    possible(
        travel - stroke, "travel left at this stroke, mm", "stay within the travel", at_least=0.0
    )
    return stroke


def axis_cosine(rake_deg: ArrayLike) -> FloatArray:
    """Vertical travel per stroke of a raked fork.

    Parameters
    ----------
    rake_deg : array_like
        Fork angle from the vertical, deg.

    Returns
    -------
    numpy.ndarray
        Cosine of the rake.

    Examples
    --------
    >>> round(float(axis_cosine(27.0)), 3)
    0.891
    """
    rake = possible(rake_deg, "rake_deg", "rake is 0 to 60 deg", at_least=0.0, at_most=60.0)
    return np.asarray(np.cos(np.radians(rake)))


def fork_force_n(stroke_mm: ArrayLike, fork: Fork) -> FloatArray:
    """Force of both legs along the fork at a stroke.

    Parameters
    ----------
    stroke_mm : array_like
        Stroke along the fork from full extension, mm.
    fork : Fork
        The fork's springs.

    Returns
    -------
    numpy.ndarray
        Force along the fork, N: coils in parallel plus air.

    Examples
    --------
    >>> fork = Fork(4.8, 5.0, travel_mm=300.0, air_column_mm=420.0, bore_mm=43.0)
    >>> fork_force_n([60.0, 300.0], fork).round().tolist()
    [695.0, 4334.0]
    """
    rate, preload = coils(fork)
    stroke = possible_stroke_mm(stroke_mm, fork)
    return np.asarray(rate * (preload + stroke) + air_force_n(stroke, fork))


def fork_rate_n_per_mm(stroke_mm: ArrayLike, fork: Fork) -> FloatArray:
    """Rate of both legs along the fork at a stroke.

    Parameters
    ----------
    stroke_mm : array_like
        Stroke along the fork from full extension, mm.
    fork : Fork
        The fork's springs.

    Returns
    -------
    numpy.ndarray
        Rate along the fork, N/mm.

    Examples
    --------
    >>> fork = Fork(4.8, 5.0, travel_mm=300.0, air_column_mm=420.0, bore_mm=43.0)
    >>> round(float(fork_rate_n_per_mm(60.0, fork)), 2)
    11.02
    """
    return np.asarray(coils(fork)[0] + air_rate_n_per_mm(possible_stroke_mm(stroke_mm, fork), fork))


def front_wheel_load_n(stroke_mm: ArrayLike, fork: Fork, rake_deg: ArrayLike) -> FloatArray:
    """Vertical load at the front wheel that the fork carries at a stroke.

    Parameters
    ----------
    stroke_mm : array_like
        Stroke along the fork, mm.
    fork : Fork
        The fork's springs.
    rake_deg : array_like
        Fork angle from the vertical, deg.

    Returns
    -------
    numpy.ndarray
        Vertical load, N.

    Notes
    -----
    Along the fork acts the load's component ``N cos(rake)``. Friction is left out.

    Examples
    --------
    >>> fork = Fork(4.8, 5.0, travel_mm=300.0, air_column_mm=420.0, bore_mm=43.0)
    >>> round(float(front_wheel_load_n(60.0, fork, 27.0)))
    780
    """
    return np.asarray(fork_force_n(stroke_mm, fork) / axis_cosine(rake_deg))


def front_wheel_rate_n_per_mm(stroke_mm: ArrayLike, fork: Fork, rake_deg: ArrayLike) -> FloatArray:
    """Vertical rate at the front wheel at a stroke.

    Parameters
    ----------
    stroke_mm : array_like
        Stroke along the fork, mm.
    fork : Fork
        The fork's springs.
    rake_deg : array_like
        Fork angle from the vertical, deg.

    Returns
    -------
    numpy.ndarray
        Wheel rate, N/mm.

    Notes
    -----
    ``k / cos(rake)^2``: load over cosine, travel times cosine (Cossalter, Motorcycle Dynamics
    ch. 5, reduced stiffness of the front; from memory).

    Examples
    --------
    >>> fork = Fork(4.8, 5.0, travel_mm=300.0, air_column_mm=420.0, bore_mm=43.0)
    >>> round(float(front_wheel_rate_n_per_mm(60.0, fork, 27.0)), 2)
    13.88
    """
    return np.asarray(fork_rate_n_per_mm(stroke_mm, fork) / axis_cosine(rake_deg) ** 2)


def fork_energy_j(from_stroke_mm: ArrayLike, to_stroke_mm: ArrayLike, fork: Fork) -> FloatArray:
    """Energy the fork's coils and air take up between two strokes, as from sag to the stop.

    Parameters
    ----------
    from_stroke_mm, to_stroke_mm : array_like
        Stroke along the fork before and after, mm.
    fork : Fork
        The fork's springs.

    Returns
    -------
    numpy.ndarray
        Energy, J; the same along the fork and at the wheel.

    Examples
    --------
    >>> fork = Fork(4.8, 5.0, travel_mm=300.0, air_column_mm=420.0, bore_mm=43.0)
    >>> round(float(fork_energy_j(60.0, 300.0, fork)))
    537
    """
    rate, preload = coils(fork)
    first, last = possible_stroke_mm(from_stroke_mm, fork), possible_stroke_mm(to_stroke_mm, fork)
    coil_energy = rate / 2.0 * ((preload + last) ** 2 - (preload + first) ** 2) * 1e-3
    legs = _legs(fork.air_legs, "air_legs")
    return np.asarray(coil_energy + legs * gas_spring_energy_j(first, last, **_air(fork)))
