"""Ten invented venues and their weather: what the track walk of an invented season finds.

No such venue exists. The ground was made up in the author's head to be believable: halls of
trucked-in dirt, two sand tracks by an invented sea, and five outdoor tracks between wet clay and
stony high country. `make_season.py` beside this file rides on them.
"""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass

import numpy as np

Cell = str | float
# One jump: gap [m], drop [m], take-off angle [°], slope of the landing [°] or None for the flat.
Jump = tuple[float, float, float, float | None]

# Upper limits of cone index [kPa] for the words of the heel test, and of available water [%] for
# those of the feel test, halfway between the middles of neighbouring words.
HEEL_WORDS = ((220, "sinks_deep"), (500, "sinks"), (1050, "dents"), (2200, "marks"))
FEEL_WORDS = (
    (25, "dry"),
    (50, "slightly_moist"),
    (75, "moist"),
    (95, "very_moist"),
    (115, "wet"),
)
MONTHLY_MEAN_C = (3, 4, 7, 10, 15, 19, 22, 21, 17, 12, 7, 4)


@dataclass(frozen=True)
class Venue:
    """One invented venue, on its usual day.

    Parameters
    ----------
    kind : str
        Kind of track.
    texture, after_texture : str
        Soil of the lap, and just after the gate.
    elevation_m : float
        Elevation.
    warmer_c : float
        Air warmer than usual at this elevation.
    water_pct, water_spread_pct : float
        Available water on the usual day, and its spread from day to day.
    cone_index_dry_kpa, cone_index_wet_kpa : float
        Firmness of dry and of waterlogged ground.
    loose_depth_mm, rut_depth_mm, braking_bump_height_mm : float
        What a used track shows.
    stones : str
        Stones.
    dusty : float
        How readily dry ground makes dust, 0 to 1.
    gate : str
        Surface at the gate.
    surface_length_m : float
        How far the rear wheel stays on it.
    after_gate_firmness : float
        Cone index just after the gate over the lap's.
    straight_m : float
        From the gate to the first corner.
    first_corner : str
        First corner.
    whoops : tuple of float
        Count, spacing [m], height [mm].
    jumps : tuple of Jump
        The jumps.
    corners : tuple of float
        Flat, banked, rutted, tightest radius [m].
    lap : tuple of float
        Length [m], time [s], top speed [km/h], length of the race [min].
    hills : tuple of float
        Steepest climb and descent [°].
    """

    kind: str
    texture: str
    after_texture: str
    elevation_m: float
    warmer_c: float
    water_pct: float
    water_spread_pct: float
    cone_index_dry_kpa: float
    cone_index_wet_kpa: float
    loose_depth_mm: float
    rut_depth_mm: float
    braking_bump_height_mm: float
    stones: str
    dusty: float
    gate: str
    surface_length_m: float
    after_gate_firmness: float
    straight_m: float
    first_corner: str
    whoops: tuple[float, float, float]
    jumps: tuple[Jump, ...]
    corners: tuple[float, float, float, float]
    lap: tuple[float, float, float, float]
    hills: tuple[float, float]


# fmt: off
VENUES: dict[str, Venue] = {
    "Millpond Hall": Venue(
        "stadium", "clay_loam", "clay_loam", 58, 0, 34, 8, 3600, 900, 10, 35, 25, "none", 0.7,
        "metal_grid", 1.2, 0.85, 34, "tight", (11, 3.1, 650),
        ((19, 0, 36, 30), (14, 0, 38, 28), (8, 0, 32, 30), (12, -0.3, 33, 28), (6, -1.2, 38, None),
         (9, 0, 30, 26), (5, 1, 22, None)),
        (2, 6, 0, 4), (430, 49, 54, 9), (0, 0)),
    "Teasel Hall": Venue(
        "stadium", "loam", "loam", 310, 0, 55, 10, 2300, 450, 25, 90, 50, "none", 0.4,
        "dirt", 0, 0.7, 46, "medium", (9, 3.4, 520),
        ((17, 0, 34, 28), (10, 0, 33, 28), (10, 0.4, 33, 25), (7, -1, 36, None), (13, 0, 31, 27)),
        (3, 6, 2, 4.5), (520, 56, 58, 12), (0, 0)),
    "Brindle Dome": Venue(
        "stadium", "sandy_clay_loam", "sandy_clay_loam", 1240, 1, 45, 12, 2900, 600, 18, 60, 35,
        "none", 0.5, "metal_grid", 1.0, 0.6, 58, "open", (13, 2.9, 580),
        ((21, 0, 37, 32), (9, 0, 32, 28), (9, 0, 32, 28), (15, 0.5, 35, 26)),
        (4, 5, 1, 5), (560, 58, 63, 15), (0, 0)),
    "Dune Hollow": Venue(
        "sand", "sand", "sand", 12, 0, 34, 14, 200, 330, 165, 210, 230, "none", 0.1,
        "dirt", 0, 1.2, 105, "medium", (14, 3.8, 600),
        ((15, 0, 24, 20), (10, 0.5, 22, 18), (8, 1.5, 8, 15)),
        (3, 11, 4, 5.5), (1680, 126, 82, 30), (8, 9)),
    "Gannet Bar": Venue(
        "sand", "loamy_sand", "loamy_sand", 5, 1, 50, 15, 300, 480, 110, 150, 180, "none", 0.2,
        "metal_grid", 1.5, 1.1, 92, "tight", (10, 4.1, 450),
        ((18, 0, 27, 24), (12, -0.5, 26, 18), (9, 1.0, 12, 16), (7, 0, 20, 18)),
        (4, 9, 3, 5), (1540, 117, 80, 30), (6, 7)),
    "Tern Moor": Venue(
        "outdoor", "silty_clay_loam", "silty_clay_loam", 240, -1, 98, 24, 2200, 120, 70, 200, 80,
        "some", 0.2, "concrete", 1.5, 1.0, 80, "tight", (0, 0, 0),
        ((9, 0.5, 20, 20), (6, 0, 15, 12), (14, 0, 26, 22)),
        (4, 3, 8, 4), (1520, 138, 68, 25), (17, 19)),
    "Quarry Field": Venue(
        "outdoor", "loam", "loam", 300, 0, 58, 18, 2000, 260, 60, 115, 110, "some", 0.4,
        "concrete", 1.5, 1.15, 88, "medium", (7, 3.2, 510),
        ((18.5, 0, 27, 24), (10.5, -1.5, 30, 5), (6.5, 1.2, 6, None)),
        (5, 8, 4, 5.2), (1690, 114, 88, 30), (13, 15)),
    "Fallow Bank": Venue(
        "outdoor", "sandy_clay_loam", "sandy_clay_loam", 180, 0, 66, 20, 2400, 240, 55, 95, 70,
        "none", 0.4, "concrete", 1.5, 1.1, 90, "medium", (6, 4.0, 400),
        ((18, 0, 26, 24), (11, 0, 25, 22), (9, 2, 8, 18)),
        (4, 9, 3, 5), (1710, 118, 86, 30), (14, 16)),
    "Ember Flat": Venue(
        "outdoor", "clay", "clay_loam", 420, 5, 22, 10, 4300, 380, 12, 45, 95, "some", 0.9,
        "concrete", 1.5, 0.8, 128, "open", (5, 4.4, 300),
        ((24, 0, 28, 26), (16, 1.5, 18, 22), (13, 0, 24, 24), (20, -1, 30, 14)),
        (9, 5, 0, 7), (1960, 122, 101, 30), (5, 6)),
    "Larch Ridge": Venue(
        "outdoor", "sandy_loam", "sandy_loam", 1840, 7, 26, 14, 2500, 420, 28, 65, 130, "heavy",
        0.8, "dirt", 0, 0.8, 118, "open", (0, 0, 0),
        ((20, 3.5, 14, 26), (12, -1, 26, 8), (17, 0, 25, 24), (6, 1.2, 5, None)),
        (7, 8, 2, 6), (1880, 128, 96, 35), (22, 24)),
}
CALENDAR = (  # month and day of each event, one year after the other
    (1, 11, "Millpond Hall"), (1, 25, "Teasel Hall"), (2, 8, "Brindle Dome"),
    (2, 22, "Millpond Hall"), (3, 8, "Dune Hollow"), (3, 22, "Teasel Hall"),
    (4, 5, "Gannet Bar"), (4, 13, "Brindle Dome"), (4, 27, "Quarry Field"),
    (5, 11, "Tern Moor"), (5, 25, "Fallow Bank"), (6, 8, "Ember Flat"), (6, 22, "Larch Ridge"),
    (7, 6, "Gannet Bar"), (7, 20, "Quarry Field"), (8, 3, "Ember Flat"), (8, 17, "Larch Ridge"),
    (8, 31, "Fallow Bank"), (9, 14, "Dune Hollow"), (9, 28, "Tern Moor"),
)
# fmt: on


def event_of(place: int, first_year: int) -> tuple[str, datetime.date, str]:
    """Name the event at one place of the endless calendar.

    Parameters
    ----------
    place : int
        0 for the first event.
    first_year : int
        Its year.

    Returns
    -------
    tuple of str, datetime.date and str
        Event, date and venue.

    Examples
    --------
    >>> event_of(4, 2025)
    ('Dune Hollow March 2025', datetime.date(2025, 3, 8), 'Dune Hollow')
    """
    years, turn = divmod(place, len(CALENDAR))
    month, day, venue = CALENDAR[turn]
    date = datetime.date(first_year + years, month, day)
    # A month's name without the locale of whoever runs this.
    months = "January February March April May June July August September October November"
    name = (*months.split(), "December")[month - 1]
    return f"{venue} {name} {date.year}", date, venue


def track_walk(venue: Venue, date: datetime.date, random: np.random.Generator) -> dict[str, Cell]:
    """Walk a venue on one day and write everything down.

    Parameters
    ----------
    venue : Venue
        Where.
    date : datetime.date
        When.
    random : numpy.random.Generator
        The day's weather and the track builder's mood.

    Returns
    -------
    dict of str to str or float
        Cells of the season's table by column. What is not there (whoops of a track without any)
        is left out.
    """
    indoors = venue.kind == "stadium"
    wetness = random.normal()
    water = float(np.clip(venue.water_pct + venue.water_spread_pct * wetness, 3, 160))
    dryness = 1.0 - min(water, 120.0) / 120.0
    by_water = math.log(venue.cone_index_wet_kpa / venue.cone_index_dry_kpa) * (1.0 - dryness)
    firmness = venue.cone_index_dry_kpa * math.exp(by_water + 0.1 * random.normal())
    after = firmness * venue.after_gate_firmness * math.exp(0.15 * random.normal())
    wear = ("fresh", "used", "rough")[
        int(random.choice(3, p=(0.6, 0.35, 0.05) if indoors else (0.25, 0.45, 0.3)))
    ]
    roughness = {"fresh": 0.5, "used": 1.0, "rough": 1.45}[wear]
    wet_ruts = 1.0 + max(0.0, water - 70.0) / 90.0
    damp = "wet" if water > 90 else "damp" if water > 50 else "dry"
    dust = venue.dusty * dryness * 1.4 + 0.15 * random.normal()
    cells: dict[str, Cell] = {"walk.kind": venue.kind}
    cells |= _air(venue, date, wetness, random)
    cells |= {
        "walk.ground.texture": venue.texture,
        "walk.ground.moisture": _word(FEEL_WORDS, water, "waterlogged"),
        "walk.ground.firmness": _word(HEEL_WORDS, firmness, "no_mark"),
        "walk.ground.cone_index_kpa": _to(firmness, 10 if firmness < 1000 else 50),
        "walk.ground.loose_depth_mm": _to(venue.loose_depth_mm * random.uniform(0.7, 1.35), 5),
        "walk.ground.rut_depth_mm": _to(
            venue.rut_depth_mm * wet_ruts * (0.4 + 0.6 * roughness) * random.uniform(0.8, 1.2), 10
        ),
        "walk.ground.braking_bump_height_mm": _to(
            venue.braking_bump_height_mm * roughness * random.uniform(0.75, 1.3), 10
        ),
        "walk.ground.stones": venue.stones,
        "walk.ground.dust": "heavy" if dust > 0.95 else "some" if dust > 0.45 else "none",
        "walk.ground.wear": wear,
        "walk.start.surface": venue.gate,
        "walk.start.condition": "dusty" if damp == "dry" and dust > 0.7 else damp,
        "walk.start.surface_length_m": venue.surface_length_m,
        "walk.start.after_texture": venue.after_texture,
        "walk.start.after_firmness": _word(HEEL_WORDS, after, "no_mark"),
        "walk.start.after_cone_index_kpa": _to(after, 10 if after < 1000 else 50),
        "walk.start.after_moisture": _word(
            FEEL_WORDS, max(3.0, water + 12.0 * random.normal()), "waterlogged"
        ),
        "walk.start.straight_length_m": _to(venue.straight_m + random.normal(0, 3), 1),
        "walk.start.first_corner": venue.first_corner,
    }
    return cells | _lap(venue, water, firmness, random)


def _air(
    venue: Venue, date: datetime.date, wetness: float, random: np.random.Generator
) -> dict[str, Cell]:
    outside = MONTHLY_MEAN_C[date.month - 1] - 0.0065 * venue.elevation_m + venue.warmer_c
    outside += random.normal(0, 4.0) - 1.5 * wetness
    indoors = venue.kind == "stadium"
    temperature = 19.0 + random.normal(0, 1.5) if indoors else max(outside, -3.0)
    standard = 101.325 * (1.0 - 2.25577e-5 * venue.elevation_m) ** 5.25588
    humid = 48.0 if indoors else 78.0 - 1.2 * max(0.0, temperature - 8.0)
    rain = wetness + 0.6 * random.normal()
    rains = "raining" if rain > 1.4 else "likely" if rain > 0.9 else "possible"
    winds = ("calm", "light", "strong")
    gale = (0.1, 0.4, 0.5) if venue.kind == "sand" else (0.35, 0.5, 0.15)
    return {
        "walk.air.temperature_c": _to(temperature, 1),
        "walk.air.pressure_kpa": _to(standard + random.normal(0, 0.7), 0.1),
        "walk.air.elevation_m": venue.elevation_m,
        "walk.air.humidity_pct": _to(float(np.clip(humid + 9.0 * wetness, 15, 98)), 1),
        "walk.air.rain": "none" if indoors or rain < 0.1 else rains,
        "walk.air.wind": "calm" if indoors else winds[int(random.choice(3, p=gale))],
    }


def _lap(
    venue: Venue, water: float, firmness: float, random: np.random.Generator
) -> dict[str, Cell]:
    count, spacing, height = venue.whoops
    flat, banked, rutted, radius = venue.corners
    length, time, top, moto = venue.lap
    going = 1.0 + 0.15 * max(0.0, 1.0 - firmness / 400.0) + 0.0012 * max(0.0, water - 80.0)
    newly_rutted = min(banked, round(max(0.0, water - 75.0) / 25.0))
    cells: dict[str, Cell] = {"walk.whoops.count": count}
    if count:
        cells = {
            "walk.whoops.count": count + int(random.integers(-1, 2)),
            "walk.whoops.spacing_m": _to(spacing + random.normal(0, 0.12), 0.1),
            "walk.whoops.height_mm": _to(height * random.uniform(0.85, 1.15), 10),
        }
    for place, (gap, drop, angle, slope) in enumerate(venue.jumps, start=1):
        start = f"walk.jumps.{place}"
        cells[f"{start}.gap_m"] = _to(gap * random.uniform(0.95, 1.05), 0.5)
        cells[f"{start}.drop_m"] = drop
        cells[f"{start}.take_off_angle_deg"] = _to(angle + random.normal(0, 1), 1)
        cells[f"{start}.landing"] = "flat" if slope is None else "slope"
        if slope is not None:
            cells[f"{start}.landing_angle_deg"] = _to(slope + random.normal(0, 1), 1)
    return cells | {
        "walk.corners.flat": flat,
        "walk.corners.banked": banked - newly_rutted,
        "walk.corners.rutted": rutted + newly_rutted,
        "walk.corners.tightest_radius_m": _to(radius * random.uniform(0.92, 1.08), 0.5),
        "walk.lap.length_m": _to(length * random.uniform(0.98, 1.02), 10),
        "walk.lap.time_s": _to(time * going * random.uniform(0.985, 1.015), 1),
        "walk.lap.top_speed_kmh": _to(top / going, 1),
        "walk.lap.moto_min": moto,
        "walk.hills.steepest_climb_deg": venue.hills[0],
        "walk.hills.steepest_descent_deg": venue.hills[1],
    }


def _word(limits: tuple[tuple[float, str], ...], value: float, otherwise: str) -> str:
    return next((word for limit, word in limits if value < limit), otherwise)


def _to(value: float, step: float) -> float:
    """Round as a person writes it down."""
    return round(round(value / step) * step, 3)
