"""The ground later in the day: dried by sun and wind, wetted by the water truck and by rain.

The model, simple on purpose: the top 100 mm of the soil are one bucket, whose size follows from
the texture (Saxton & Rawls 2006); all water added comes at once and at the start, fills it up and
drains above field capacity; the weather as walked draws water all the while (FAO-56); and the cone
index follows the water by a power law of the soil group (US Army, Sullivan et al. 1997). What
wheels and machines do to the ground in the meantime (ruts, bumps, packing, ripping, dust), the
gate's own surface, and the weather's change are not in it: walk the track again to know those.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.entries import words
from setupadvisor.errors import InputError, Mistake, OutsideValidRange
from setupadvisor.facts.atmosphere import STANDARD_PRESSURE_KPA
from setupadvisor.facts.categories import look_up
from setupadvisor.facts.columns import Columns
from setupadvisor.facts.drying import (
    SKIES,
    evaporation_mm_per_h,
    sunshine_share,
    volumetric_water_after_hours,
)
from setupadvisor.facts.gaps import or_usual
from setupadvisor.facts.soil import representative_clay_pct, representative_sand_pct
from setupadvisor.facts.soil_moisture import (
    available_water_from_feel_pct,
    available_water_pct,
    volumetric_water,
)
from setupadvisor.facts.soil_strength import cone_index_at_moisture_kpa, cone_index_from_heel_kpa
from setupadvisor.facts.soil_water import saturated_conductivity_mm_per_h, water_contents
from setupadvisor.facts.table import FactTable, facts_from
from setupadvisor.facts.valid_range import FloatArray, possible

# Wind at 2 m height of each word of entries.words.WINDS (common practice, no source), and where
# none was entered: the mean of weather stations around the world (FAO-56, from memory).
_WIND_M_PER_S = np.array([0.5, 2.5, 6.0])
_USUAL_WIND_M_PER_S = 2.0
_USUAL_HUMIDITY_PCT = 50.0
# A cone index can be entered from 5 to 9000 kPa, available water from 0 to 200 %.
_CONE_LIMITS_KPA, _WATER_LIMITS_PCT = (5.0, 9000.0), (0.0, 200.0)


@dataclass(frozen=True)
class Later:
    """Conditions some hours on.

    Parameters
    ----------
    conditions : dict of str to numpy.ndarray
        All columns of the walk; those of the ground's water and strength changed.
    evaporation_mm_per_h : numpy.ndarray, shape (rows,)
        What the weather draws from wet ground, mm/h; NaN where the temperature is missing.
    notes : tuple of str
        What was assumed, what could not be worked out, and what the model leaves out.
    """

    conditions: Columns
    evaporation_mm_per_h: FloatArray
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Patch:
    """One patch of ground: its soil, its water and strength, and where these were entered."""

    sand_pct: FloatArray
    clay_pct: FloatArray
    group: FloatArray
    water_pct: FloatArray
    cone_index_kpa: FloatArray


def later(
    conditions: Mapping[str, FloatArray],
    hours: ArrayLike,
    *,
    watering_mm: ArrayLike = 0.0,
    rain_mm: ArrayLike = 0.0,
    sky: str | None = None,
) -> Later:
    """Work out the ground some hours after the walk.

    Parameters
    ----------
    conditions : mapping of str to numpy.ndarray, shape (rows,) or (rows, places)
        Walk and rider columns.
    hours : array_like
        How far ahead [h].
    watering_mm, rain_mm : array_like, optional
        Water from the truck and from the sky in that time [mm] (litres on a square metre).
    sky : str, optional
        One of `setupadvisor.facts.drying.SKIES`. Where not given: overcast with rain likely or
        falling, else partly cloudy.

    Returns
    -------
    Later
        Changed conditions, ready for `facts_from`. Where texture, moisture or temperature is
        missing, the ground stays as walked, and a note says so.

    Raises
    ------
    ImpossibleValue
        If hours or water are below 0, or an entry is impossible.
    InputError
        If the sky is unknown.

    Notes
    -----
    See the module. A cone index changes only where it and the water are known. By-feel answers
    that were entered follow to the word nearest to the new number. Water just after the gate
    can only be entered by feel, so it moves by whole words.

    Examples
    --------
    >>> walk = {
    ...     "walk.air.temperature_c": np.array([28.0]),
    ...     "walk.ground.texture": np.array([3.0]),
    ...     "walk.ground.moisture": np.array([3.0]),
    ...     "walk.ground.cone_index_kpa": np.array([600.0]),
    ... }
    >>> dried = later(walk, 5.0, sky="clear").conditions
    >>> dried["walk.ground.available_water_pct"].round().tolist()
    [64.0]
    >>> dried["walk.ground.cone_index_kpa"].round(-1).tolist()
    [740.0]
    """
    if sky is not None and sky not in SKIES:
        raise InputError(Mistake("sky", f"{sky!r} is unknown", f"write one of {', '.join(SKIES)}"))
    rows = max((len(column) for column in conditions.values()), default=1)
    span, added = (
        np.broadcast_to(possible(value, name, "0 or more", at_least=0.0), (rows,))
        for value, name in (
            (hours, "hours"),
            (np.asarray(watering_mm) + np.asarray(rain_mm), "watering_mm + rain_mm"),
        )
    )
    moves = (span > 0.0) | (added > 0.0)
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always", OutsideValidRange)
        facts = facts_from(conditions, {}, rows)
        evaporation = _evaporation(facts, sky, rows)
        lap = _Patch(
            facts["sand_share_pct"],
            facts["clay_share_pct"],
            facts["texture_group"],
            facts["available_water_pct"],
            facts["cone_index_kpa"],
        )
        gate = _at_gate(conditions, facts, lap)
        changed = dict(conditions)
        untouched = []
        for patch, where, columns in (
            (lap, "around the lap", _LAP_COLUMNS),
            (gate, "just after the gate", _GATE_COLUMNS),
        ):
            water, cone = _dried_or_wetted(patch, span, added, evaporation)
            _enter(changed, columns, np.where(moves, water, np.nan), np.where(moves, cone, np.nan))
            if np.isnan(water).any():
                untouched.append(where)
    texts = [str(warning.message) for warning in caught if warning.category is OutsideValidRange]
    notes = (
        *(() if np.isnan(evaporation).all() else _assumed(facts, sky)),
        *(_not_worked_out(where) for where in untouched),
        "Ruts, bumps, dust, packing and the gate's own surface count as walked, and so does the "
        "weather.",
        *dict.fromkeys(texts),
    )
    return Later(changed, evaporation, notes)


def _evaporation(facts: FactTable, sky: str | None, rows: int) -> FloatArray:
    wind = facts["wind"]
    known_wind = look_up(_WIND_M_PER_S, wind, "wind")
    wet = facts["rain"] >= words.RAINS.index("likely")
    code = np.where(wet, SKIES.index("overcast"), SKIES.index("partly_cloudy"))
    if sky is not None:
        code = np.full(rows, SKIES.index(sky))
    return evaporation_mm_per_h(
        facts["air_temperature_c"],
        or_usual(facts["relative_humidity_pct"], _USUAL_HUMIDITY_PCT),
        or_usual(known_wind, _USUAL_WIND_M_PER_S),
        sunshine_share(code),
        pressure_kpa=or_usual(facts["air_pressure_kpa"], STANDARD_PRESSURE_KPA),
    )


def _at_gate(conditions: Mapping[str, FloatArray], facts: FactTable, lap: _Patch) -> _Patch:
    """Take the ground just after the gate: of its own texture where that was entered."""
    own = conditions.get("walk.start.after_texture", np.full(lap.group.shape, np.nan))
    entered = ~np.isnan(own)
    return _Patch(
        np.where(entered, representative_sand_pct(own), lap.sand_pct),
        np.where(entered, representative_clay_pct(own), lap.clay_pct),
        facts["after_gate_texture_group"],
        facts["after_gate_available_water_pct"],
        facts["after_gate_cone_index_kpa"],
    )


def _dried_or_wetted(
    patch: _Patch, hours: FloatArray, added_mm: FloatArray, evaporation: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Available water and cone index then."""
    # Sand and clay that contradict each other tell nothing.
    sand = np.where(patch.sand_pct + patch.clay_pct <= 100.0, patch.sand_pct, np.nan)
    contents = water_contents(sand, patch.clay_pct)
    before = volumetric_water(patch.water_pct, *contents)
    after = volumetric_water_after_hours(
        before,
        hours,
        evaporation,
        added_mm,
        wilting_point=contents.wilting_point,
        field_capacity=contents.field_capacity,
        saturation=contents.saturation,
        saturated_conductivity_mm_per_h=saturated_conductivity_mm_per_h(sand, patch.clay_pct),
    )
    water = np.clip(available_water_pct(after, *contents), *_WATER_LIMITS_PCT)
    cone = cone_index_at_moisture_kpa(
        patch.cone_index_kpa,
        patch.group,
        np.where(before > 0.0, before, np.nan),
        np.where(after > 0.0, after, np.nan),
        field_capacity=contents.field_capacity,
        saturation=contents.saturation,
    )
    return water, np.clip(cone, *_CONE_LIMITS_KPA)


_LAP_COLUMNS = {
    "water": "walk.ground.available_water_pct",
    "moisture": "walk.ground.moisture",
    "cone": "walk.ground.cone_index_kpa",
    "heel": "walk.ground.firmness",
}
_GATE_COLUMNS = {
    "moisture": "walk.start.after_moisture",
    "cone": "walk.start.after_cone_index_kpa",
    "heel": "walk.start.after_firmness",
}


def _enter(
    conditions: Columns, columns: Mapping[str, str], water: FloatArray, cone: FloatArray
) -> None:
    """Put new numbers in, and the nearest words where words had been entered."""
    moisture = _nearest(water, available_water_from_feel_pct(np.arange(len(words.MOISTURES))))
    # Strengths are told apart by their ratio.
    heels = cone_index_from_heel_kpa(np.arange(len(words.HEELS)))
    heel = _nearest(np.log(cone), np.log(heels))
    for kind, values in (("water", water), ("cone", cone), ("moisture", moisture), ("heel", heel)):
        path = columns.get(kind)
        own = conditions.get(path, np.full(values.shape, np.nan)) if path else values
        changes = ~np.isnan(values)
        if kind in {"moisture", "heel"}:
            changes &= ~np.isnan(own)
        if path and changes.any():
            conditions[path] = np.where(changes, values, own)


def _nearest(values: FloatArray, classes: FloatArray) -> FloatArray:
    place = np.abs(values[:, None] - classes).argmin(axis=1).astype(np.float64)
    return np.where(np.isnan(values), np.nan, place)


def _assumed(facts: FactTable, sky: str | None) -> list[str]:
    notes = []
    if np.isnan(facts["wind"]).any():
        notes.append(f"Wind was not entered: {_USUAL_WIND_M_PER_S:g} m/s assumed.")
    if np.isnan(facts["relative_humidity_pct"]).any():
        notes.append(f"Humidity was not entered: {_USUAL_HUMIDITY_PCT:g} % assumed.")
    if sky is None:
        notes.append("The sky was not given: partly cloudy assumed, overcast where rain is likely.")
    return notes


def _not_worked_out(where: str) -> str:
    return (
        f"How the ground {where} dries or takes water was not worked out and counts as walked: "
        "enter air temperature, soil texture and moisture."
    )
