"""Limits of acceleration on two wheels: front lifts, rear spins, rear lifts in braking."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.suspension import STANDARD_GRAVITY_M_S2
from setupadvisor.facts.valid_range import FloatArray, possible


def _lengths(*named: tuple[ArrayLike, str]) -> list[FloatArray]:
    return [possible(value, name, "a length is above 0 mm", above=0.0) for value, name in named]


def wheelie_limit_m_s2(
    centre_of_mass_to_rear_axle_mm: ArrayLike,
    centre_of_mass_height_mm: ArrayLike,
    gravity_m_s2: ArrayLike = STANDARD_GRAVITY_M_S2,
) -> FloatArray:
    """Acceleration at which the front wheel lifts.

    Parameters
    ----------
    centre_of_mass_to_rear_axle_mm : array_like
        Machine and rider, horizontally ahead of the rear contact, mm.
    centre_of_mass_height_mm : array_like
        Above the ground, mm.
    gravity_m_s2 : array_like, optional
        Acceleration of gravity, m/s2.

    Returns
    -------
    numpy.ndarray
        Acceleration, m/s2.

    Notes
    -----
    ``g b / h``, moment balance about the rear contact (Cossalter, Motorcycle Dynamics ch. 3;
    from memory). Air drag is left out at start speeds.

    Examples
    --------
    >>> round(float(wheelie_limit_m_s2(600.0, 650.0)), 2)
    9.05
    """
    height = _lengths((centre_of_mass_height_mm, "centre_of_mass_height_mm"))[0]
    ahead = np.asarray(centre_of_mass_to_rear_axle_mm, dtype=np.float64)
    return np.asarray(np.asarray(gravity_m_s2, dtype=np.float64) * ahead / height)


def traction_limit_m_s2(
    grip_coefficient: ArrayLike,
    wheelbase_mm: ArrayLike,
    centre_of_mass_to_rear_axle_mm: ArrayLike,
    centre_of_mass_height_mm: ArrayLike,
    *,
    rolling_resistance_coefficient: ArrayLike = 0.0,
    gravity_m_s2: ArrayLike = STANDARD_GRAVITY_M_S2,
) -> FloatArray:
    """Acceleration at which the driven rear wheel spins.

    Parameters
    ----------
    grip_coefficient : array_like
        Gross traction over wheel load at the rear.
    wheelbase_mm : array_like
        Wheelbase, mm.
    centre_of_mass_to_rear_axle_mm : array_like
        Machine and rider, horizontally ahead of the rear contact, mm.
    centre_of_mass_height_mm : array_like
        Above the ground, mm.
    rolling_resistance_coefficient : array_like, optional
        Resistance of the ground over wheel load, both wheels alike.
    gravity_m_s2 : array_like, optional
        Acceleration of gravity, m/s2.

    Returns
    -------
    numpy.ndarray
        Acceleration, m/s2. Below 0 the ground resists more than the wheel can pull; infinite
        where the load it moves to the rear wheel always out-pulls it (``mu h >= L``).

    Notes
    -----
    ``mu g (L - b) / (L - mu h)`` with b to the rear contact (Wong, Theory of Ground Vehicles
    ch. 3; Gillespie, Fundamentals of Vehicle Dynamics ch. 2); with rolling resistance c the
    same balance gives ``g (mu (L - b) - c L) / (L - mu h)``. Past the wheelie limit all weight
    is on the rear wheel and the formula no longer holds: use `launch_limit_m_s2`.

    Examples
    --------
    >>> round(float(traction_limit_m_s2(0.6, 1480.0, 700.0, 650.0)), 2)
    4.21
    """
    grip = possible(grip_coefficient, "grip_coefficient", "grip is not below 0", at_least=0.0)
    resistance = possible(
        rolling_resistance_coefficient,
        "rolling_resistance_coefficient",
        "rolling resistance is not below 0",
        at_least=0.0,
    )
    wheelbase, height = _lengths(
        (wheelbase_mm, "wheelbase_mm"), (centre_of_mass_height_mm, "centre_of_mass_height_mm")
    )
    ahead = np.asarray(centre_of_mass_to_rear_axle_mm, dtype=np.float64)
    pull = grip * (wheelbase - ahead) - resistance * wheelbase
    left = wheelbase - grip * height
    with np.errstate(divide="ignore", invalid="ignore"):
        bounded = pull / left
    unbounded = np.where(pull >= 0.0, np.inf, np.nan)
    limit = np.where(left > 0.0, bounded, np.where(left <= 0.0, unbounded, np.nan))
    return np.asarray(np.asarray(gravity_m_s2, dtype=np.float64) * limit)


def launch_limit_m_s2(
    grip_coefficient: ArrayLike,
    wheelbase_mm: ArrayLike,
    centre_of_mass_to_rear_axle_mm: ArrayLike,
    centre_of_mass_height_mm: ArrayLike,
    *,
    rolling_resistance_coefficient: ArrayLike = 0.0,
) -> FloatArray:
    """Hardest acceleration with the front on the ground and the rear gripping.

    Parameters
    ----------
    grip_coefficient : array_like
        Gross traction over wheel load at the rear.
    wheelbase_mm : array_like
        Wheelbase, mm.
    centre_of_mass_to_rear_axle_mm : array_like
        Machine and rider, horizontally ahead of the rear contact, mm.
    centre_of_mass_height_mm : array_like
        Above the ground, mm.
    rolling_resistance_coefficient : array_like, optional
        Resistance of the ground over wheel load.

    Returns
    -------
    numpy.ndarray
        The lower of wheelie limit and traction limit, m/s2.

    Examples
    --------
    >>> round(float(launch_limit_m_s2(1.2, 1480.0, 700.0, 650.0)), 2)
    10.56
    """
    wheelie = wheelie_limit_m_s2(centre_of_mass_to_rear_axle_mm, centre_of_mass_height_mm)
    traction = traction_limit_m_s2(
        grip_coefficient,
        wheelbase_mm,
        centre_of_mass_to_rear_axle_mm,
        centre_of_mass_height_mm,
        rolling_resistance_coefficient=rolling_resistance_coefficient,
    )
    return np.minimum(wheelie, traction)


def lift_limit_braking_m_s2(
    wheelbase_mm: ArrayLike,
    centre_of_mass_to_rear_axle_mm: ArrayLike,
    centre_of_mass_height_mm: ArrayLike,
) -> FloatArray:
    """Deceleration at which the rear wheel lifts.

    Parameters
    ----------
    wheelbase_mm : array_like
        Wheelbase, mm.
    centre_of_mass_to_rear_axle_mm : array_like
        Machine and rider, horizontally ahead of the rear contact, mm.
    centre_of_mass_height_mm : array_like
        Above the ground, mm.

    Returns
    -------
    numpy.ndarray
        Deceleration, m/s2.

    Notes
    -----
    ``g (L - b) / h``: the wheelie limit seen from the front contact.

    Examples
    --------
    >>> round(float(lift_limit_braking_m_s2(1480.0, 700.0, 650.0)), 2)
    11.77
    """
    wheelbase = _lengths((wheelbase_mm, "wheelbase_mm"))[0]
    to_front = wheelbase - np.asarray(centre_of_mass_to_rear_axle_mm, dtype=np.float64)
    return wheelie_limit_m_s2(to_front, centre_of_mass_height_mm)


def rear_load_n(
    mass_kg: ArrayLike,
    wheelbase_mm: ArrayLike,
    centre_of_mass_to_rear_axle_mm: ArrayLike,
    centre_of_mass_height_mm: ArrayLike,
    acceleration_m_s2: ArrayLike,
) -> FloatArray:
    """Load on the rear wheel while accelerating.

    Parameters
    ----------
    mass_kg : array_like
        Machine and rider, kg.
    wheelbase_mm : array_like
        Wheelbase, mm.
    centre_of_mass_to_rear_axle_mm : array_like
        Machine and rider, horizontally ahead of the rear contact, mm.
    centre_of_mass_height_mm : array_like
        Above the ground, mm.
    acceleration_m_s2 : array_like
        Acceleration (below 0: braking), m/s2, up to the limits at which a wheel lifts.

    Returns
    -------
    numpy.ndarray
        Load, N; the whole weight once the front has lifted, 0 once the rear has.

    Notes
    -----
    ``m g (L - b) / L + m a h / L``, moment balance about the front contact.

    Examples
    --------
    >>> round(float(rear_load_n(180.0, 1480.0, 700.0, 650.0, 4.0)))
    1247
    """
    mass = possible(mass_kg, "mass_kg", "a mass is above 0 kg", above=0.0)
    wheelbase, height = _lengths(
        (wheelbase_mm, "wheelbase_mm"), (centre_of_mass_height_mm, "centre_of_mass_height_mm")
    )
    ahead = np.asarray(centre_of_mass_to_rear_axle_mm, dtype=np.float64)
    weight = mass * STANDARD_GRAVITY_M_S2
    moved = mass * np.asarray(acceleration_m_s2, dtype=np.float64) * height / wheelbase
    return np.clip(weight * (wheelbase - ahead) / wheelbase + moved, 0.0, weight)
