"""Coil springs and small vibrations: rate of a helical spring, springs together, frequency."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.valid_range import FloatArray, possible, within

SPRING_STEEL_SHEAR_MODULUS_GPA = 79.3
"""Carbon spring steel; Shigley's Mechanical Engineering Design ch. 10, from memory."""


def helical_spring_rate_n_per_mm(
    wire_diameter_mm: ArrayLike,
    mean_coil_diameter_mm: ArrayLike,
    active_coils: ArrayLike,
    shear_modulus_gpa: ArrayLike = SPRING_STEEL_SHEAR_MODULUS_GPA,
) -> FloatArray:
    """Rate of a cylindrical helical compression spring from its measurements.

    Parameters
    ----------
    wire_diameter_mm : array_like
        Wire diameter d, mm.
    mean_coil_diameter_mm : array_like
        Mean coil diameter D (outside diameter less one wire diameter), mm.
    active_coils : array_like
        Number n of coils that move.
    shear_modulus_gpa : array_like, optional
        Shear modulus G of the wire, GPa.

    Returns
    -------
    numpy.ndarray
        Spring rate, N/mm.

    Warns
    -----
    OutsideValidRange
        When the spring index D/d is outside 4 to 12.

    Notes
    -----
    ``k = G d^4 / (8 n D^3)``, torsion of the wire only. Shigley's Mechanical Engineering
    Design ch. 10, which recommends a spring index of 4 to 12; from memory. Check a bought
    spring against its marking: a misjudged coil end is worth several percent.

    Examples
    --------
    >>> round(float(helical_spring_rate_n_per_mm(11.0, 65.0, 5.5)), 2)
    96.08
    """
    wire = possible(wire_diameter_mm, "wire_diameter_mm", "a wire is thicker than 0 mm", above=0.0)
    coil = possible(
        mean_coil_diameter_mm, "mean_coil_diameter_mm", "a coil is wider than 0 mm", above=0.0
    )
    coils = possible(active_coils, "active_coils", "some of a coil has to move", above=0.0)
    modulus = possible(
        shear_modulus_gpa, "shear_modulus_gpa", "a shear modulus is above 0 GPa", above=0.0
    )
    within(coil / wire, "spring index", 4.0, 12.0, "", "the helical spring rate")
    return np.asarray(modulus * 1e3 * wire**4 / (8.0 * coils * coil**3))


def springs_in_parallel_n_per_mm(*rates_n_per_mm: ArrayLike) -> FloatArray:
    """Rate of springs side by side, as the two legs of a fork: the sum.

    Parameters
    ----------
    *rates_n_per_mm : array_like
        The rate of each spring, N/mm.

    Returns
    -------
    numpy.ndarray
        Rate together, N/mm.

    Notes
    -----
    Statics: same stroke, forces add. Different springs left and right are usual practice for
    a rate between two on the shelf.

    Examples
    --------
    >>> float(springs_in_parallel_n_per_mm(4.5, 5.0))
    9.5
    """
    total: FloatArray = np.zeros(())
    for rate in rates_n_per_mm:
        total = total + possible(
            rate, "rate_n_per_mm", "a spring rate is not below 0 N/mm", at_least=0.0
        )
    return np.asarray(total)


def springs_in_series_n_per_mm(*rates_n_per_mm: ArrayLike) -> FloatArray:
    """Rate of springs on top of each other: softer than the softest.

    Parameters
    ----------
    *rates_n_per_mm : array_like
        The rate of each spring, N/mm.

    Returns
    -------
    numpy.ndarray
        Rate together, N/mm.

    Notes
    -----
    Statics: same force, strokes add, ``1/k = 1/k1 + 1/k2 + ...``.

    Examples
    --------
    >>> float(springs_in_series_n_per_mm(6.0, 3.0))
    2.0
    """
    softness: FloatArray = np.zeros(())
    for rate in rates_n_per_mm:
        softness = softness + 1.0 / possible(
            rate, "rate_n_per_mm", "a spring rate is above 0 N/mm", above=0.0
        )
    return np.asarray(1.0 / softness)


def natural_frequency_hz(rate_n_per_mm: ArrayLike, mass_kg: ArrayLike) -> FloatArray:
    """Undamped natural frequency of a mass on a spring; the ride frequency of one end.

    Parameters
    ----------
    rate_n_per_mm : array_like
        Wheel rate at the ridden height, N/mm.
    mass_kg : array_like
        Sprung mass that this wheel carries, kg.

    Returns
    -------
    numpy.ndarray
        Frequency, Hz.

    Notes
    -----
    ``f = sqrt(k/m) / (2 pi)``, single degree of freedom (Rao, Mechanical Vibrations ch. 2;
    from memory). Front and rear are treated as uncoupled and the tyre as rigid.

    Examples
    --------
    >>> round(float(natural_frequency_hz(15.0, 80.0)), 3)
    2.179
    """
    rate = possible(
        rate_n_per_mm, "rate_n_per_mm", "a spring rate is not below 0 N/mm", at_least=0.0
    )
    mass = possible(mass_kg, "mass_kg", "a mass is above 0 kg", above=0.0)
    return np.asarray(np.sqrt(rate * 1e3 / mass) / (2.0 * np.pi))
