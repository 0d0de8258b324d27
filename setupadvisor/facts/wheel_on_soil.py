"""A wheel on ground that yields: wheel numeric, and shear and sinkage where they are known."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.valid_range import FloatArray, possible, within

_WISMER_LUTH = "the wheel numeric of Wismer & Luth 1974"
# Below this the formula's motion resistance alone eats a quarter of the load.
_LEAST_WHEEL_NUMERIC = 5.0


def wheel_numeric(
    cone_index_kpa: ArrayLike,
    wheel_width_mm: ArrayLike,
    wheel_diameter_mm: ArrayLike,
    wheel_load_n: ArrayLike,
) -> FloatArray:
    """Strength of the ground against the load of a wheel: Cn = CI b d / W.

    Parameters
    ----------
    cone_index_kpa : array_like
        Cone index of the ground [kPa].
    wheel_width_mm : array_like
        Section width of the unloaded tyre [mm].
    wheel_diameter_mm : array_like
        Outside diameter of the unloaded tyre [mm].
    wheel_load_n : array_like
        Load on the wheel [N].

    Returns
    -------
    numpy.ndarray
        Wheel numeric [-].

    Raises
    ------
    ImpossibleValue
        If any argument is not above 0.

    References
    ----------
    Wismer & Luth 1974, Transactions of the ASAE 17:8 (first given as ASAE paper 72-619);
    ASAE D497; from memory.

    Examples
    --------
    >>> float(wheel_numeric(500, 110, 640, 1400).round(1))
    25.1
    """
    strength = possible(cone_index_kpa, "cone_index_kpa", "above 0 kPa", above=0.0)
    width = possible(wheel_width_mm, "wheel_width_mm", "above 0 mm", above=0.0)
    diameter = possible(wheel_diameter_mm, "wheel_diameter_mm", "above 0 mm", above=0.0)
    load = possible(wheel_load_n, "wheel_load_n", "above 0 N", above=0.0)
    return np.asarray(strength * width * diameter / load * 1e-3)


def gross_traction_ratio(wheel_numeric: ArrayLike, slip: ArrayLike) -> FloatArray:
    """Thrust of a driven wheel over its load, before its own motion resistance.

    Parameters
    ----------
    wheel_numeric : array_like
        Wheel numeric Cn [-].
    slip : array_like
        Slip of the driven wheel [-], 0 to 1.

    Returns
    -------
    numpy.ndarray
        Gross traction ratio [-], below 0.75.

    Raises
    ------
    ImpossibleValue
        If the wheel numeric is not above 0 or slip outside 0 to 1.

    Notes
    -----
    Found for tractor tyres on soil that is not very compactible: width over diameter about
    0.3, deflection about a fifth of the section height, rolling radius 0.475 of the diameter.
    A motorcycle's tyre is narrower (0.15 to 0.2) with taller knobs: read it as a trend.

    References
    ----------
    Wismer & Luth 1974, Transactions of the ASAE 17:8; ASAE D497; from memory.

    Examples
    --------
    >>> float(gross_traction_ratio(30, 0.2).round(3))
    0.626
    """
    numeric = possible(wheel_numeric, "wheel_numeric", "above 0", above=0.0)
    share = possible(slip, "slip", "a share from 0 to 1", at_least=0.0, at_most=1.0)
    return np.asarray(0.75 * (1.0 - np.exp(-0.3 * numeric * share)))


def motion_resistance_ratio(wheel_numeric: ArrayLike) -> FloatArray:
    """Force to roll a wheel over its load.

    Parameters
    ----------
    wheel_numeric : array_like
        Wheel numeric Cn [-], 5 or more.

    Returns
    -------
    numpy.ndarray
        Motion resistance ratio [-].

    Raises
    ------
    ImpossibleValue
        If the wheel numeric is not above 0.

    Warns
    -----
    OutsideValidRange
        If the wheel numeric is below 5: ground too soft for the formula.

    Notes
    -----
    For tractor tyres, as `gross_traction_ratio`.

    References
    ----------
    Wismer & Luth 1974, Transactions of the ASAE 17:8; ASAE D497; from memory.

    Examples
    --------
    >>> float(motion_resistance_ratio(30).round(3))
    0.08
    """
    numeric = possible(wheel_numeric, "wheel_numeric", "above 0", above=0.0)
    within(numeric, "wheel numeric", _LEAST_WHEEL_NUMERIC, np.inf, "", _WISMER_LUTH)
    return np.asarray(1.2 / numeric + 0.04)


def net_traction_ratio(wheel_numeric: ArrayLike, slip: ArrayLike) -> FloatArray:
    """Pull of a driven wheel over its load: thrust less motion resistance.

    Parameters
    ----------
    wheel_numeric : array_like
        Wheel numeric Cn [-], 5 or more.
    slip : array_like
        Slip of the driven wheel [-], 0 to 1. Tractors work best at 0.1 to 0.2; a motorcycle
        getting away in the soft uses 0.2 to 0.3 and more (common practice, no source).

    Returns
    -------
    numpy.ndarray
        Net traction ratio [-]; negative where the wheel cannot even move itself.

    Raises
    ------
    ImpossibleValue
        If the wheel numeric is not above 0 or slip outside 0 to 1.

    Warns
    -----
    OutsideValidRange
        If the wheel numeric is below 5.

    References
    ----------
    Wismer & Luth 1974, Transactions of the ASAE 17:8; ASAE D497; from memory.

    Examples
    --------
    >>> float(net_traction_ratio(30, 0.2).round(3))
    0.546
    """
    return np.asarray(
        gross_traction_ratio(wheel_numeric, slip) - motion_resistance_ratio(wheel_numeric)
    )


def largest_shear_force_n(
    contact_area_m2: ArrayLike,
    cohesion_kpa: ArrayLike,
    wheel_load_n: ArrayLike,
    friction_angle_deg: ArrayLike,
) -> FloatArray:
    """Greatest thrust that the ground under a contact patch can take: A c + W tan(phi).

    Parameters
    ----------
    contact_area_m2 : array_like
        Area of the contact patch [m2].
    cohesion_kpa : array_like
        Cohesion of the ground [kPa].
    wheel_load_n : array_like
        Load on the patch [N].
    friction_angle_deg : array_like
        Angle of internal friction [°].

    Returns
    -------
    numpy.ndarray
        Greatest thrust [N].

    Raises
    ------
    ImpossibleValue
        If an argument is negative or the angle 90 ° and above.

    References
    ----------
    Mohr-Coulomb, as Bekker uses it; Wong, Theory of Ground Vehicles, 4th ed. 2008, chapter 2.

    Examples
    --------
    >>> float(largest_shear_force_n(0.01, 1.04, 1500, 28).round(1))
    808.0
    """
    area = possible(contact_area_m2, "contact_area_m2", "0 m2 or more", at_least=0.0)
    cohesion = possible(cohesion_kpa, "cohesion_kpa", "0 kPa or more", at_least=0.0)
    load = possible(wheel_load_n, "wheel_load_n", "0 N or more", at_least=0.0)
    angle = possible(
        friction_angle_deg, "friction_angle_deg", "0 to 89 °", at_least=0.0, at_most=89.0
    )
    return np.asarray(area * cohesion * 1000.0 + load * np.tan(np.deg2rad(angle)))


def shear_fraction(
    slip: ArrayLike, contact_length_mm: ArrayLike, shear_deformation_mm: ArrayLike
) -> FloatArray:
    """Share of the greatest thrust that is used at a slip.

    Parameters
    ----------
    slip : array_like
        Slip [-], 0 to 1.
    contact_length_mm : array_like
        Length of the contact patch [mm].
    shear_deformation_mm : array_like
        Shear deformation modulus K of the ground [mm]: about 10 firm, 25 loose sand (Wong).

    Returns
    -------
    numpy.ndarray
        Share [-], 0 at no slip, towards 1.

    Raises
    ------
    ImpossibleValue
        If slip is outside 0 to 1 or a length not above 0.

    Notes
    -----
    For pressure spread evenly along the patch.

    References
    ----------
    Janosi & Hanamoto 1961; Wong, Theory of Ground Vehicles, 4th ed. 2008, chapter 2.

    Examples
    --------
    >>> float(shear_fraction(0.2, 200, 25).round(3))
    0.501
    """
    share = possible(slip, "slip", "a share from 0 to 1", at_least=0.0, at_most=1.0)
    length = possible(contact_length_mm, "contact_length_mm", "above 0 mm", above=0.0)
    deformation = possible(shear_deformation_mm, "shear_deformation_mm", "above 0 mm", above=0.0)
    shear = share * length / deformation
    with np.errstate(invalid="ignore", divide="ignore"):
        fraction = 1.0 + np.expm1(-shear) / shear
    # Below this the subtraction above loses its digits; the series' first term is exact there.
    return np.where(shear < 1e-6, 0.5 * shear, fraction)


def sinkage_mm(
    pressure_kpa: ArrayLike,
    patch_width_mm: ArrayLike,
    sinkage_exponent: ArrayLike,
    cohesive_modulus: ArrayLike,
    frictional_modulus: ArrayLike,
) -> FloatArray:
    """How deep a loaded plate or patch sinks: z = (p / (kc / b + kphi))^(1/n).

    Parameters
    ----------
    pressure_kpa : array_like
        Pressure under the patch [kPa].
    patch_width_mm : array_like
        The patch's smaller side [mm].
    sinkage_exponent : array_like
        Exponent n [-].
    cohesive_modulus : array_like
        Modulus kc [kN/m^(n+1)].
    frictional_modulus : array_like
        Modulus kphi [kN/m^(n+2)].

    Returns
    -------
    numpy.ndarray
        Sinkage [mm].

    Raises
    ------
    ImpossibleValue
        If the pressure or a modulus is negative, or width, exponent or stiffness not above 0.

    References
    ----------
    Bekker 1956, 1969; Wong, Theory of Ground Vehicles, 4th ed. 2008, chapter 2, with terrain
    values in its Table 2.3.

    Examples
    --------
    >>> float(sinkage_mm(50, 100, 1.1, 0.99, 1528.43).round(1))
    44.4
    """
    pressure = possible(pressure_kpa, "pressure_kpa", "0 kPa or more", at_least=0.0)
    exponent = possible(sinkage_exponent, "sinkage_exponent", "above 0", above=0.0)
    stiffness = _stiffness(patch_width_mm, cohesive_modulus, frictional_modulus)
    return np.asarray((pressure / stiffness) ** (1.0 / exponent) * 1000.0)


def compaction_resistance_n(
    sinkage_mm: ArrayLike,
    wheel_width_mm: ArrayLike,
    sinkage_exponent: ArrayLike,
    cohesive_modulus: ArrayLike,
    frictional_modulus: ArrayLike,
) -> FloatArray:
    """Force to press the rut that a wheel leaves: b (kc / b + kphi) z^(n+1) / (n+1).

    Parameters
    ----------
    sinkage_mm : array_like
        Depth of the rut [mm].
    wheel_width_mm : array_like
        Width of the rut [mm].
    sinkage_exponent : array_like
        Exponent n [-].
    cohesive_modulus : array_like
        Modulus kc [kN/m^(n+1)].
    frictional_modulus : array_like
        Modulus kphi [kN/m^(n+2)].

    Returns
    -------
    numpy.ndarray
        Compaction resistance [N].

    Raises
    ------
    ImpossibleValue
        If the depth or a modulus is negative, or width, exponent or stiffness not above 0.

    References
    ----------
    Bekker 1956, 1969; Wong, Theory of Ground Vehicles, 4th ed. 2008, chapter 2; from memory.

    Examples
    --------
    >>> float(compaction_resistance_n(44.4, 100, 1.1, 0.99, 1528.43).round(0))
    106.0
    """
    depth = possible(sinkage_mm, "sinkage_mm", "0 mm or more", at_least=0.0) / 1000.0
    exponent = possible(sinkage_exponent, "sinkage_exponent", "above 0", above=0.0)
    stiffness = _stiffness(wheel_width_mm, cohesive_modulus, frictional_modulus)
    width = np.asarray(wheel_width_mm, dtype=np.float64) / 1000.0
    return np.asarray(1000.0 * width * stiffness * depth ** (exponent + 1.0) / (exponent + 1.0))


def _stiffness(
    width_mm: ArrayLike, cohesive_modulus: ArrayLike, frictional_modulus: ArrayLike
) -> FloatArray:
    """Bekker's kc / b + kphi [kN/m^(n+2)]."""
    width = possible(width_mm, "width_mm", "above 0 mm", above=0.0) / 1000.0
    cohesive = possible(cohesive_modulus, "cohesive_modulus", "0 or more", at_least=0.0)
    frictional = possible(frictional_modulus, "frictional_modulus", "0 or more", at_least=0.0)
    return possible(
        cohesive / width + frictional,
        "cohesive and frictional modulus",
        "one is above 0",
        above=0.0,
    )
