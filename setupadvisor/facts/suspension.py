"""Rear suspension through its linkage: load, rate, sag, preload and energy at the wheel.

Wheel travel counts from the topped-out position, vertically at the rear axle. The linkage is
one machine's curve; all other arguments may hold one value or a million rows.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.valid_range import FloatArray, possible

STANDARD_GRAVITY_M_S2 = 9.80665
"""Conventional value, ISO 80000-3."""


class Linkage(NamedTuple):
    """A rear linkage: straight lines between the given motion ratios.

    Attributes
    ----------
    wheel_travel_mm : numpy.ndarray, shape (points,)
        Wheel travel from topped out to the stop, mm.
    motion_ratio : numpy.ndarray, shape (points,)
        Shock travel per wheel travel there.
    shock_stroke_mm : numpy.ndarray, shape (points,)
        Shock stroke there, mm.
    """

    wheel_travel_mm: FloatArray
    motion_ratio: FloatArray
    shock_stroke_mm: FloatArray


def linkage(wheel_travel_mm: ArrayLike, motion_ratio: ArrayLike) -> Linkage:
    """Check a linkage curve and add up its shock stroke.

    Parameters
    ----------
    wheel_travel_mm : array_like, shape (points,)
        Rising wheel travels from 0 to the stop, mm.
    motion_ratio : array_like, shape (points,)
        Shock travel per wheel travel at these, between 0 and 1.

    Returns
    -------
    Linkage
        The curve with its shock stroke.

    Raises
    ------
    ImpossibleValue
        When the travels do not rise from 0, or a ratio is missing or not between 0 and 1.

    Examples
    --------
    >>> float(linkage([0.0, 300.0], [0.40, 0.50]).shock_stroke_mm[-1])
    135.0
    """
    travel = np.asarray(wheel_travel_mm, dtype=np.float64)
    ratio = np.asarray(motion_ratio, dtype=np.float64)
    usable = travel.ndim == 1 and travel.size >= 2 and travel.shape == ratio.shape
    if not usable or travel[0] != 0.0 or not bool(np.all(np.diff(travel) > 0.0)):
        raise ImpossibleValue(
            "wheel_travel_mm",
            f"a curve of shape {travel.shape} with ratios of shape {ratio.shape}",
            "list rising wheel travels from 0 mm to the stop with one motion ratio each",
        )
    if not bool(np.all((ratio > 0.0) & (ratio <= 1.0))):
        raise ImpossibleValue(
            "motion_ratio",
            f"{float(ratio[~((ratio > 0.0) & (ratio <= 1.0))][0]):g}",
            "give shock travel per wheel travel, between 0 and 1 (a lever ratio of 2.5 is 0.4)",
        )
    steps = np.diff(travel) * (ratio[1:] + ratio[:-1]) / 2.0
    return Linkage(travel, ratio, np.concatenate(([0.0], np.cumsum(steps))))


def _along(wheel_travel_mm: ArrayLike, curve: Linkage) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Shock stroke, motion ratio and its slope per mm at wheel travels."""
    travel = possible(
        wheel_travel_mm,
        "wheel_travel_mm",
        f"wheel travel is between 0 and {curve.wheel_travel_mm[-1]:g} mm on this linkage",
        at_least=0.0,
        at_most=float(curve.wheel_travel_mm[-1]),
    )
    slopes = np.diff(curve.motion_ratio) / np.diff(curve.wheel_travel_mm)
    index = np.clip(
        np.searchsorted(curve.wheel_travel_mm, travel, side="right") - 1, 0, slopes.size - 1
    )
    past = travel - curve.wheel_travel_mm[index]
    ratio = curve.motion_ratio[index] + slopes[index] * past
    stroke = curve.shock_stroke_mm[index] + (curve.motion_ratio[index] + ratio) / 2.0 * past
    return np.asarray(stroke), np.asarray(ratio), np.where(np.isnan(travel), np.nan, slopes[index])


def motion_ratio_at(wheel_travel_mm: ArrayLike, curve: Linkage) -> FloatArray:
    """Shock travel per wheel travel at a wheel travel.

    Parameters
    ----------
    wheel_travel_mm : array_like
        Wheel travel from topped out, mm.
    curve : Linkage
        The machine's linkage.

    Returns
    -------
    numpy.ndarray
        Motion ratio.

    Examples
    --------
    >>> round(float(motion_ratio_at(150.0, linkage([0.0, 300.0], [0.40, 0.50]))), 3)
    0.45
    """
    return _along(wheel_travel_mm, curve)[1]


def shock_stroke_mm(wheel_travel_mm: ArrayLike, curve: Linkage) -> FloatArray:
    """Shock stroke at a wheel travel: the integral of the motion ratio.

    Parameters
    ----------
    wheel_travel_mm : array_like
        Wheel travel from topped out, mm.
    curve : Linkage
        The machine's linkage.

    Returns
    -------
    numpy.ndarray
        Shock stroke, mm.

    Examples
    --------
    >>> round(float(shock_stroke_mm(150.0, linkage([0.0, 300.0], [0.40, 0.50]))), 2)
    63.75
    """
    return _along(wheel_travel_mm, curve)[0]


def _spring(spring_rate_n_per_mm: ArrayLike, preload_mm: ArrayLike) -> tuple[FloatArray, ...]:
    rate = possible(
        spring_rate_n_per_mm, "spring_rate_n_per_mm", "a spring rate is above 0 N/mm", above=0.0
    )
    preload = possible(
        preload_mm, "preload_mm", "preload is not below 0 mm; take a softer spring", at_least=0.0
    )
    return rate, preload


def rear_wheel_load_n(
    wheel_travel_mm: ArrayLike,
    spring_rate_n_per_mm: ArrayLike,
    preload_mm: ArrayLike,
    curve: Linkage,
) -> FloatArray:
    """Load at the rear wheel that the spring carries at a wheel travel.

    Parameters
    ----------
    wheel_travel_mm : array_like
        Wheel travel from topped out, mm.
    spring_rate_n_per_mm : array_like
        Shock spring rate, N/mm.
    preload_mm : array_like
        How much shorter than free the spring is when topped out, mm.
    curve : Linkage
        The machine's linkage.

    Returns
    -------
    numpy.ndarray
        Vertical load at the wheel, N.

    Notes
    -----
    Virtual work: wheel load is spring force times motion ratio. Friction, the shock's gas
    force and the top-out spring are left out.

    Examples
    --------
    >>> arm = linkage([0.0, 300.0], [0.40, 0.50])
    >>> round(float(rear_wheel_load_n(100.0, 48.0, 8.0, arm)))
    1033
    """
    rate, preload = _spring(spring_rate_n_per_mm, preload_mm)
    stroke, ratio, _ = _along(wheel_travel_mm, curve)
    return np.asarray(rate * (preload + stroke) * ratio)


def rear_wheel_rate_n_per_mm(
    wheel_travel_mm: ArrayLike,
    spring_rate_n_per_mm: ArrayLike,
    preload_mm: ArrayLike,
    curve: Linkage,
) -> FloatArray:
    """Rate at the rear wheel: how fast its load rises with travel.

    Parameters
    ----------
    wheel_travel_mm : array_like
        Wheel travel from topped out, mm.
    spring_rate_n_per_mm : array_like
        Shock spring rate, N/mm.
    preload_mm : array_like
        Preload, mm.
    curve : Linkage
        The machine's linkage.

    Returns
    -------
    numpy.ndarray
        Wheel rate, N/mm.

    Notes
    -----
    Derivative of `rear_wheel_load_n`: rate times ratio squared, plus spring force times the
    linkage's progression.

    Examples
    --------
    >>> arm = linkage([0.0, 300.0], [0.40, 0.50])
    >>> round(float(rear_wheel_rate_n_per_mm(100.0, 48.0, 8.0, arm)), 2)
    9.81
    """
    rate, preload = _spring(spring_rate_n_per_mm, preload_mm)
    stroke, ratio, slope = _along(wheel_travel_mm, curve)
    return np.asarray(rate * (ratio**2 + (preload + stroke) * slope))


def rear_spring_energy_j(
    from_wheel_travel_mm: ArrayLike,
    to_wheel_travel_mm: ArrayLike,
    spring_rate_n_per_mm: ArrayLike,
    preload_mm: ArrayLike,
    curve: Linkage,
) -> FloatArray:
    """Energy the rear spring takes up between two wheel travels, as from sag to the stop.

    Parameters
    ----------
    from_wheel_travel_mm, to_wheel_travel_mm : array_like
        Wheel travel from topped out before and after, mm.
    spring_rate_n_per_mm : array_like
        Shock spring rate, N/mm.
    preload_mm : array_like
        Preload, mm.
    curve : Linkage
        The machine's linkage.

    Returns
    -------
    numpy.ndarray
        Energy, J. The bump stop and the damper come on top.

    Examples
    --------
    >>> arm = linkage([0.0, 300.0], [0.40, 0.50])
    >>> round(float(rear_spring_energy_j(100.0, 300.0, 48.0, 8.0, arm)))
    432
    """
    rate, preload = _spring(spring_rate_n_per_mm, preload_mm)
    first = preload + _along(from_wheel_travel_mm, curve)[0]
    last = preload + _along(to_wheel_travel_mm, curve)[0]
    return np.asarray(rate / 2.0 * (last**2 - first**2) * 1e-3)


def sprung_load_n(
    machine_mass_kg: ArrayLike,
    machine_share: ArrayLike,
    unsprung_mass_kg: ArrayLike,
    rider_mass_kg: ArrayLike = 0.0,
    rider_share: ArrayLike = 0.5,
) -> FloatArray:
    """Load that the spring of one wheel carries at rest on level ground.

    Parameters
    ----------
    machine_mass_kg : array_like
        Machine with fuel, without rider, kg.
    machine_share : array_like
        Share of it on this wheel, 0 to 1.
    unsprung_mass_kg : array_like
        Mass at this wheel the spring does not carry, kg.
    rider_mass_kg : array_like, optional
        Rider with gear, kg; 0 for the static sag.
    rider_share : array_like, optional
        Share of the rider on this wheel, 0 to 1.

    Returns
    -------
    numpy.ndarray
        Vertical load at the wheel, N.

    Raises
    ------
    ImpossibleValue
        When the wheel carries less than its own unsprung mass.

    Examples
    --------
    >>> round(float(sprung_load_n(112.0, 0.52, 18.0, 85.0, 0.7)))
    978
    """
    machine = possible(machine_mass_kg, "machine_mass_kg", "a mass is above 0 kg", above=0.0)
    rider = possible(rider_mass_kg, "rider_mass_kg", "a mass is not below 0 kg", at_least=0.0)
    shares = [
        possible(share, name, "a share is between 0 and 1", at_least=0.0, at_most=1.0)
        for share, name in ((machine_share, "machine_share"), (rider_share, "rider_share"))
    ]
    unsprung = possible(unsprung_mass_kg, "unsprung_mass_kg", "not below 0 kg", at_least=0.0)
    carried = possible(
        machine * shares[0] + rider * shares[1] - unsprung,
        "sprung mass on this wheel, kg",
        "the unsprung mass cannot exceed what the wheel carries",
        at_least=0.0,
    )
    return np.asarray(carried * STANDARD_GRAVITY_M_S2)


def energy_to_absorb_j(
    landing_energy_j: ArrayLike, sprung_mass_kg: ArrayLike, further_travel_mm: ArrayLike
) -> FloatArray:
    """Energy one end has to absorb until its wheel stops, gravity on the way down included.

    Parameters
    ----------
    landing_energy_j : array_like
        This end's share of the energy at touchdown, J.
    sprung_mass_kg : array_like
        Sprung mass that this end catches, kg.
    further_travel_mm : array_like
        Vertical wheel travel used in catching it, mm.

    Returns
    -------
    numpy.ndarray
        Energy, J.

    Notes
    -----
    ``E + m g travel``. The rider's arms and legs take a part of it; that part is not known
    here, so the number is an upper bound.

    Examples
    --------
    >>> round(float(energy_to_absorb_j(392.0, 80.0, 200.0)))
    549
    """
    energy = possible(
        landing_energy_j, "landing_energy_j", "an energy is not below 0 J", at_least=0.0
    )
    mass = possible(sprung_mass_kg, "sprung_mass_kg", "a mass is above 0 kg", above=0.0)
    further = np.asarray(further_travel_mm, dtype=np.float64) * 1e-3
    return np.asarray(energy + mass * STANDARD_GRAVITY_M_S2 * further)


def bottoming_margin(
    energy_available_j: ArrayLike, energy_to_absorb_j: ArrayLike, damped_j: ArrayLike = 0.0
) -> FloatArray:
    """How far the energy up to the stop exceeds what has to be absorbed.

    Parameters
    ----------
    energy_available_j : array_like
        Energy of the springs from the ridden height to the stop, J.
    energy_to_absorb_j : array_like
        Energy of the landing, J.
    damped_j : array_like, optional
        Energy the damper takes on the way, J.

    Returns
    -------
    numpy.ndarray
        Fraction: 0 just touches the stop, 0.2 has a fifth to spare, below 0 bottoms.

    Examples
    --------
    >>> round(float(bottoming_margin(660.0, 550.0)), 2)
    0.2
    """
    needed = possible(
        energy_to_absorb_j, "energy_to_absorb_j", "an energy to absorb is above 0 J", above=0.0
    )
    available = np.asarray(energy_available_j, dtype=np.float64)
    damped = np.asarray(damped_j, dtype=np.float64)
    return np.asarray((available + damped) / needed - 1.0)
