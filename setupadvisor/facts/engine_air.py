"""What the air of the day does to an engine: power, fuel, and gearing to make up for it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.facts.valid_range import FloatArray, possible, within

# SAE J1349 (JUN90): 25 °C and 99 kPa of dry air, temperatures rounded to 273 and 298 K as printed
REFERENCE_DRY_PRESSURE_KPA = 99.0
REFERENCE_TEMPERATURE_K = 298.0
# The printed 1.18 and 0.18 are 1/efficiency and 1/efficiency - 1
JUN90_MECHANICAL_EFFICIENCY = 1.0 / 1.18


def power_correction_factor(
    dry_air_pressure_kpa: ArrayLike,
    temperature_c: ArrayLike,
    mechanical_efficiency: ArrayLike = JUN90_MECHANICAL_EFFICIENCY,
) -> FloatArray:
    """Factor from power measured today to power on the standard day.

    Parameters
    ----------
    dry_air_pressure_kpa : array_like
        Absolute pressure without the water vapour's share, in kPa (`air.dry_air_pressure_kpa`).
    temperature_c : array_like
        Temperature of the air the engine draws in, in °C.
    mechanical_efficiency : array_like, optional
        Share of the indicated power that reaches the crankshaft on the standard day. Left out it
        gives the printed JUN90 form ``1.18 (99/p) sqrt((t + 273)/298) - 0.18``.

    Returns
    -------
    numpy.ndarray
        Correction factor, above 1 in thin air; the inputs' broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a pressure of 0 or less, below absolute zero, or an efficiency not in (0, 1].

    Warns
    -----
    OutsideValidRange
        Outside -40 to 60 °C or 45 to 110 kPa.

    Notes
    -----
    SAE J1349 for naturally aspirated spark-ignition engines. Indicated power follows the dry-air
    pressure and the root of the absolute temperature; friction does not change with the weather.
    The standard itself only certifies corrections of up to some per cent (from memory, 7 %);
    beyond that, at high elevation, the same law is an estimate.

    Examples
    --------
    >>> round(float(power_correction_factor(90.0, 20.0)), 4)
    1.1071
    """
    pressure = possible(
        dry_air_pressure_kpa, "dry_air_pressure_kpa", "a dry-air pressure is above 0 kPa", above=0.0
    )
    within(pressure, "dry-air pressure", 45.0, 110.0, "kPa", "SAE J1349 as used here")
    temperature = possible(
        temperature_c, "temperature_c", "a temperature is above -273 °C", above=-273.0
    )
    within(temperature, "air temperature", -40.0, 60.0, "°C", "SAE J1349 as used here")
    efficiency = possible(
        mechanical_efficiency,
        "mechanical_efficiency",
        "a mechanical efficiency is above 0 and at most 1",
        above=0.0,
        at_most=1.0,
    )
    indicated = (REFERENCE_DRY_PRESSURE_KPA / pressure) * np.sqrt(
        (temperature + 273.0) / REFERENCE_TEMPERATURE_K
    )
    return (indicated - (1.0 - efficiency)) / efficiency


def power_ratio(
    dry_air_pressure_kpa: ArrayLike,
    temperature_c: ArrayLike,
    mechanical_efficiency: ArrayLike = JUN90_MECHANICAL_EFFICIENCY,
) -> FloatArray:
    """Engine power today over engine power on the standard day (25 °C, 99 kPa of dry air).

    Parameters
    ----------
    dry_air_pressure_kpa : array_like
        Absolute pressure without the water vapour's share, in kPa (`air.dry_air_pressure_kpa`).
    temperature_c : array_like
        Temperature of the air the engine draws in, in °C.
    mechanical_efficiency : array_like, optional
        As in `power_correction_factor`.

    Returns
    -------
    numpy.ndarray
        Ratio, below 1 in thin air; the inputs' broadcast shape. Missing (NaN) where the law
        leaves no power at all, far outside its range.

    Raises
    ------
    ImpossibleValue
        As `power_correction_factor`.

    Warns
    -----
    OutsideValidRange
        As `power_correction_factor`.

    Notes
    -----
    The reciprocal of SAE J1349's factor. Two days compare by dividing their ratios. It holds for
    an engine whose mixture is right on both days; see `fuel_trim_pct`.

    Examples
    --------
    >>> round(float(power_ratio(90.0, 20.0)), 4)
    0.9033
    """
    factor = power_correction_factor(dry_air_pressure_kpa, temperature_c, mechanical_efficiency)
    return 1.0 / np.where(factor > 0.0, factor, np.nan)


def fuel_trim_pct(density_kg_per_m3: ArrayLike, mapped_density_kg_per_m3: ArrayLike) -> FloatArray:
    """Fuel to add (or take away) on an engine that does not measure the air's pressure.

    Parameters
    ----------
    density_kg_per_m3 : array_like
        Density of today's air in kg/m3 (`air.air_density_kg_per_m3`).
    mapped_density_kg_per_m3 : array_like
        Density of the air in which the mixture was last known to be right, in kg/m3.

    Returns
    -------
    numpy.ndarray
        Change of fuel in %, positive = richer, negative = leaner; the broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a density of 0 or less.

    Notes
    -----
    The engine draws in the same volume, so the mass of air, and with it the fuel for the same
    mixture, goes with the density. Only for an engine without correction for pressure and
    temperature: most fuel injection measures both and needs no trim. Humidity is counted as air,
    which errs to the rich side, by some 4 % of fuel at 35 °C and saturation. A lean engine can be
    destroyed: the machine's service manual has the last word.

    Examples
    --------
    >>> round(float(fuel_trim_pct(1.05, 1.2)), 1)
    -12.5
    """
    mend = "a density is above 0 kg/m3"
    density = possible(density_kg_per_m3, "density_kg_per_m3", mend, above=0.0)
    mapped = possible(mapped_density_kg_per_m3, "mapped_density_kg_per_m3", mend, above=0.0)
    return (density / mapped - 1.0) * 100.0


def gearing_teeth_to_keep_pull(
    power_ratio: ArrayLike, rear_sprocket_teeth: ArrayLike
) -> FloatArray:
    """Rear-sprocket teeth that give back, in each gear, the pull which the air took.

    Parameters
    ----------
    power_ratio : array_like
        Power today over power on the day the gearing was right, above 0 (two results of
        `power_ratio` divided by each other).
    rear_sprocket_teeth : array_like
        Teeth of the rear sprocket on that day.

    Returns
    -------
    numpy.ndarray
        Teeth to add (positive) or take off (negative), not rounded; the broadcast shape.

    Raises
    ------
    ImpossibleValue
        For a ratio of 0 or less, or fewer than 1 tooth.

    Notes
    -----
    Plain mechanics. The air scales the engine's torque by the same ratio over the whole speed
    range. Pull at the wheel is torque times overall ratio over wheel radius, so at the same
    engine speed it is kept by an overall ratio larger by 1/ratio, with a rear sprocket larger
    likewise. Its limits: every gear then ends at a road speed lower by the ratio, so the rider
    shifts earlier and the top speed is down; and power is not given back, so at a road speed where
    the best gear was already at full power the pull stays down. It is the whole compensation, an
    upper bound: common practice (no source) takes a part of it, one or two teeth.

    Examples
    --------
    >>> round(float(gearing_teeth_to_keep_pull(0.96, 50)), 1)
    2.1
    """
    ratio = possible(power_ratio, "power_ratio", "a power ratio is above 0", above=0.0)
    teeth = possible(
        rear_sprocket_teeth, "rear_sprocket_teeth", "count the teeth of the sprocket", at_least=1.0
    )
    return teeth * (1.0 / ratio - 1.0)
