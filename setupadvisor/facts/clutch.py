"""Clutch: what torque its springs and plates can hold, and the heat of letting it in.

Torques of the clutch are at the clutch itself, behind the primary drive.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.valid_range import FloatArray, possible


def spring_clamp_force_n(
    rate_n_per_mm: ArrayLike, compression_mm: ArrayLike, springs: ArrayLike
) -> FloatArray:
    """Force with which the clutch springs press the plates together.

    Parameters
    ----------
    rate_n_per_mm : array_like
        Rate of one spring in N/mm.
    compression_mm : array_like
        Free length less installed length of a spring, in mm.
    springs : array_like
        Number of springs.

    Returns
    -------
    numpy.ndarray
        Clamp force in N, the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a negative rate, compression or number.

    Notes
    -----
    Springs in parallel: ``number * rate * compression``.

    Examples
    --------
    >>> float(spring_clamp_force_n(25.0, 12.0, 6))
    1800.0
    """
    rate = possible(rate_n_per_mm, "rate_n_per_mm", "a spring rate is 0 N/mm or more", at_least=0.0)
    compression = possible(
        compression_mm,
        "compression_mm",
        "an installed spring is shorter than a free one",
        at_least=0.0,
    )
    number = possible(springs, "springs", "a number of springs is 0 or more", at_least=0.0)
    return number * rate * compression


def friction_faces(friction_plates: ArrayLike) -> FloatArray:
    """Faces that transmit torque in a pack of friction and plain plates.

    Parameters
    ----------
    friction_plates : array_like
        Number of lined plates, each with a plain plate, hub or pressure plate on either side.

    Returns
    -------
    numpy.ndarray
        Number of faces: two a lined plate; same shape.

    Raises
    ------
    ImpossibleValue
        For less than one plate.

    Examples
    --------
    >>> float(friction_faces(8))
    16.0
    """
    plates = possible(
        friction_plates, "friction_plates", "a clutch has 1 friction plate or more", at_least=1.0
    )
    return 2.0 * plates


def torque_capacity_nm(
    clamp_force_n: ArrayLike,
    friction_coefficient: ArrayLike,
    outer_diameter_mm: ArrayLike,
    inner_diameter_mm: ArrayLike,
    faces: ArrayLike,
) -> FloatArray:
    """Torque a run-in clutch holds before it slips (uniform wear).

    Parameters
    ----------
    clamp_force_n : array_like
        Force pressing the plates together, in N (`spring_clamp_force_n`).
    friction_coefficient : array_like
        Coefficient of friction of the lining in use; in oil, hot and worn it is lower than new.
    outer_diameter_mm, inner_diameter_mm : array_like
        Diameters of the lined ring in mm.
    faces : array_like
        Number of rubbing faces (`friction_faces`).

    Returns
    -------
    numpy.ndarray
        Torque in N m, the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a negative force, friction or number of faces, or an inner diameter that is not
        smaller than the outer.

    Notes
    -----
    Uniform wear, ``N f F (D + d)/4``: Budynas & Nisbett, Shigley's Mechanical Engineering Design,
    ch. 16. Linings wear until pressure times radius is the same all over; this is the lower,
    cautious one of the two usual assumptions (see `torque_capacity_new_plates_nm`).

    Examples
    --------
    >>> round(float(torque_capacity_nm(1800.0, 0.12, 150.0, 120.0, 16)), 1)
    233.3
    """
    force, friction, outer, inner, number = _plates(
        clamp_force_n, friction_coefficient, outer_diameter_mm, inner_diameter_mm, faces
    )
    return number * friction * force * (outer + inner) / 4.0 / 1000.0


def torque_capacity_new_plates_nm(
    clamp_force_n: ArrayLike,
    friction_coefficient: ArrayLike,
    outer_diameter_mm: ArrayLike,
    inner_diameter_mm: ArrayLike,
    faces: ArrayLike,
) -> FloatArray:
    """Torque a clutch with new, flat plates holds before it slips (uniform pressure).

    Parameters
    ----------
    clamp_force_n : array_like
        Force pressing the plates together, in N (`spring_clamp_force_n`).
    friction_coefficient : array_like
        Coefficient of friction of the lining in use.
    outer_diameter_mm, inner_diameter_mm : array_like
        Diameters of the lined ring in mm.
    faces : array_like
        Number of rubbing faces (`friction_faces`).

    Returns
    -------
    numpy.ndarray
        Torque in N m, the inputs' broadcast shape; never below `torque_capacity_nm`.

    Raises
    ------
    ImpossibleValue
        As `torque_capacity_nm`.

    Notes
    -----
    Uniform pressure, ``N f F (D^3 - d^3) / (3 (D^2 - d^2))``: Shigley, ch. 16. The cubes are
    divided out here, so that a narrow ring loses no digits.

    Examples
    --------
    >>> round(float(torque_capacity_new_plates_nm(1800.0, 0.12, 150.0, 120.0, 16)), 1)
    234.2
    """
    force, friction, outer, inner, number = _plates(
        clamp_force_n, friction_coefficient, outer_diameter_mm, inner_diameter_mm, faces
    )
    arm_mm = (outer**2 + outer * inner + inner**2) / (3.0 * (outer + inner))
    return number * friction * force * arm_mm / 1000.0


def torque_margin_pct(
    capacity_nm: ArrayLike, engine_torque_nm: ArrayLike, primary_ratio: ArrayLike
) -> FloatArray:
    """Share of torque that the clutch holds beyond the engine's largest.

    Parameters
    ----------
    capacity_nm : array_like
        Torque capacity at the clutch in N m.
    engine_torque_nm : array_like
        Largest torque at the crankshaft in N m.
    primary_ratio : array_like
        Crankshaft turns for each turn of the clutch (driven over driving teeth).

    Returns
    -------
    numpy.ndarray
        Margin in %: 0 just holds, negative slips at full torque; the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a negative capacity, or a torque or ratio of 0 or less.

    Notes
    -----
    Plain mechanics: the torque at the clutch is the crankshaft's times the primary ratio. The
    engine's single pulses and a rear wheel that lands spinning load the clutch higher than its
    mean torque.

    Examples
    --------
    >>> round(float(torque_margin_pct(230.0, 50.0, 2.8)), 1)
    64.3
    """
    capacity = possible(
        capacity_nm, "capacity_nm", "a torque capacity is 0 N m or more", at_least=0.0
    )
    torque = possible(
        engine_torque_nm, "engine_torque_nm", "an engine's largest torque is above 0 N m", above=0.0
    )
    ratio = possible(
        primary_ratio, "primary_ratio", "a primary ratio is driven over driving teeth", above=0.0
    )
    return (capacity / (torque * ratio) - 1.0) * 100.0


def machine_inertia_at_clutch_kg_m2(
    mass_kg: ArrayLike, rolling_radius_mm: ArrayLike, clutch_to_wheel_ratio: ArrayLike
) -> FloatArray:
    """Inertia which machine and rider present to the clutch.

    Parameters
    ----------
    mass_kg : array_like
        Machine and rider in kg.
    rolling_radius_mm : array_like
        Rolling radius of the rear wheel in mm.
    clutch_to_wheel_ratio : array_like
        Clutch turns for each turn of the rear wheel (gear times final drive).

    Returns
    -------
    numpy.ndarray
        Moment of inertia in kg m2, the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a mass, radius or ratio of 0 or less.

    Notes
    -----
    Equal kinetic energy, ``m r^2 / i^2``; the wheels' own inertia and wheel slip are left out.

    Examples
    --------
    >>> round(float(machine_inertia_at_clutch_kg_m2(185.0, 330.0, 6.7)), 3)
    0.449
    """
    mass = possible(mass_kg, "mass_kg", "a mass is above 0 kg", above=0.0)
    radius = possible(
        rolling_radius_mm, "rolling_radius_mm", "a wheel's radius is above 0 mm", above=0.0
    )
    ratio = possible(
        clutch_to_wheel_ratio, "clutch_to_wheel_ratio", "a ratio is above 0", above=0.0
    )
    return mass * (radius / 1000.0 / ratio) ** 2


def engagement_heat_j(
    driving_inertia_kg_m2: ArrayLike,
    driven_inertia_kg_m2: ArrayLike,
    driving_speed_rad_per_s: ArrayLike,
    driven_speed_rad_per_s: ArrayLike,
) -> FloatArray:
    """Heat of one engagement between two free inertias (throttle closed).

    Parameters
    ----------
    driving_inertia_kg_m2, driven_inertia_kg_m2 : array_like
        Moments of inertia on the two sides, both at the clutch's speed, in kg m2.
    driving_speed_rad_per_s, driven_speed_rad_per_s : array_like
        Angular speeds before the clutch bites, in rad/s.

    Returns
    -------
    numpy.ndarray
        Heat in J, the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For an inertia of 0 or less.

    Notes
    -----
    ``I1 I2 (w1 - w2)^2 / (2 (I1 + I2))``: Shigley, ch. 16, energy considerations. It does not
    depend on how fast the clutch is let in. With the engine pulling meanwhile, as at a start, the
    heat is larger: `start_heat_j`.

    Examples
    --------
    >>> round(float(engagement_heat_j(0.02, 0.5, 500.0, 100.0)), 1)
    1538.5
    """
    mend = "a moment of inertia is above 0 kg m2"
    driving = possible(driving_inertia_kg_m2, "driving_inertia_kg_m2", mend, above=0.0)
    driven = possible(driven_inertia_kg_m2, "driven_inertia_kg_m2", mend, above=0.0)
    slip = np.asarray(driving_speed_rad_per_s, dtype=np.float64) - np.asarray(
        driven_speed_rad_per_s, dtype=np.float64
    )
    return driving * driven * slip**2 / (2.0 * (driving + driven))


def start_heat_j(
    time_s: ArrayLike,
    clutch_torque_nm: ArrayLike,
    driving_speed_rad_per_s: ArrayLike,
    driven_speed_rad_per_s: ArrayLike,
) -> FloatArray:
    """Heat put into the clutch over a start, from its torque and slip over time.

    Parameters
    ----------
    time_s : array_like, shape (..., n_samples)
        Time of the samples in s, not falling.
    clutch_torque_nm : array_like, shape (..., n_samples)
        Torque carried by the clutch in N m.
    driving_speed_rad_per_s, driven_speed_rad_per_s : array_like, shape (..., n_samples)
        Angular speeds of the two sides in rad/s.

    Returns
    -------
    numpy.ndarray, shape (...)
        Heat in J; missing (NaN) if any sample is, or if there are fewer than two.

    Raises
    ------
    ImpossibleValue
        If the time falls.

    Notes
    -----
    Power is torque times slip speed (mechanics), summed by the trapezium rule. Friction turns work
    into heat whichever side turns faster.

    Examples
    --------
    >>> float(start_heat_j([0.0, 1.0], [60.0, 60.0], [300.0, 300.0], [0.0, 300.0]))
    9000.0
    """
    time, torque, driving, driven = np.broadcast_arrays(
        *(
            np.atleast_1d(np.asarray(samples, dtype=np.float64))
            for samples in (
                time_s,
                clutch_torque_nm,
                driving_speed_rad_per_s,
                driven_speed_rad_per_s,
            )
        )
    )
    if time.shape[-1] < 2:
        return np.full(time.shape[:-1], np.nan)
    step = possible(
        np.diff(time, axis=-1), "step of time_s", "list the samples in order of time", at_least=0.0
    )
    power_w = np.abs(torque * (driving - driven))
    heat: FloatArray = np.sum(step * (power_w[..., 1:] + power_w[..., :-1]) / 2.0, axis=-1)
    return heat


def _plates(
    clamp_force_n: ArrayLike,
    friction_coefficient: ArrayLike,
    outer_diameter_mm: ArrayLike,
    inner_diameter_mm: ArrayLike,
    faces: ArrayLike,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    force = possible(clamp_force_n, "clamp_force_n", "a clamp force is 0 N or more", at_least=0.0)
    friction = possible(
        friction_coefficient,
        "friction_coefficient",
        "a coefficient of friction is 0 or more",
        at_least=0.0,
    )
    inner = possible(
        inner_diameter_mm, "inner_diameter_mm", "an inner diameter is 0 mm or more", at_least=0.0
    )
    outer = possible(
        outer_diameter_mm, "outer_diameter_mm", "an outer diameter is above 0 mm", above=0.0
    )
    possible(
        outer - inner,
        "outer_diameter_mm - inner_diameter_mm",
        "the outer diameter is larger than the inner",
        above=0.0,
    )
    number = possible(faces, "faces", "a number of faces is 0 or more", at_least=0.0)
    return force, friction, outer, inner, number
