"""Facts about the lap: whoops, jumps, corners, speed, hills and the length of the race."""

from __future__ import annotations

import numpy as np

from setupadvisor.entries import words
from setupadvisor.facts.fact import Fact, entered
from setupadvisor.facts.gaps import first_known, or_usual
from setupadvisor.facts.landings import equivalent_fall_height_of_gap_m, largest_over_jumps
from setupadvisor.facts.track import (
    mean_lap_speed_m_per_s,
    wheelbase_to_spacing_ratio,
    whoop_passing_frequency_hz,
    whoop_speed_m_per_s,
)
from setupadvisor.facts.valid_range import FloatArray

# Slope of a built landing, where only "slope" was entered (common practice, no source).
USUAL_LANDING_SLOPE_DEG = 24.0


def fall_heights_m(
    gap: FloatArray, drop: FloatArray, angle: FloatArray, landing: FloatArray, slope: FloatArray
) -> FloatArray:
    """Work out how hard every jump of a track lands.

    Parameters
    ----------
    gap, drop : numpy.ndarray, shape (rows, places)
        [m]; a missing drop counts as level.
    angle : numpy.ndarray, shape (rows, places)
        Take-off angle [°].
    landing : numpy.ndarray, shape (rows, places)
        Code into `setupadvisor.entries.words.LANDINGS`.
    slope : numpy.ndarray, shape (rows, places)
        Angle of the landing below level [°].

    Returns
    -------
    numpy.ndarray, shape (rows, places)
        Equivalent fall height [m]; NaN where no jump or not enough of it was entered. Without
        places where no row has jumps.

    Examples
    --------
    >>> flat, slope = 1.0, 0.0
    >>> columns = ([[15.0, 8.0]], [[0.0, 0.0]], [[30.0, 25.0]], [[slope, flat]], [[np.nan, np.nan]])
    >>> fall_heights_m(*(np.array(column) for column in columns)).round(2).tolist()
    [[0.09, 0.93]]
    """
    if gap.ndim < 2:
        return np.full((*gap.shape, 0), np.nan)
    shape = gap.shape
    drops, kinds, slopes, lips = (
        _by_place(column, shape) for column in (drop, landing, slope, angle)
    )
    flat = kinds == words.LANDINGS.index("flat")
    sloped = kinds == words.LANDINGS.index("slope")
    built = first_known(slopes, np.where(sloped, USUAL_LANDING_SLOPE_DEG, np.nan))
    below, steep = or_usual(drops, 0.0), np.where(flat, 0.0, built)
    flown = equivalent_fall_height_of_gap_m(np.where(gap > 0.0, gap, np.nan), lips, below, steep)
    # A step down without a gap is a fall from its height.
    stepped = np.maximum(below, 0.0) * np.cos(np.radians(steep)) ** 2
    return np.where(gap == 0.0, stepped, flown)


def _hardest(*jumps: FloatArray) -> FloatArray:
    return largest_over_jumps(fall_heights_m(*jumps))


def _by_place(column: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    return np.broadcast_to(column if column.ndim == len(shape) else column[:, np.newaxis], shape)


def _longest(gap: FloatArray) -> FloatArray:
    return gap if gap.ndim < 2 else largest_over_jumps(gap)


def _any_flat(landing: FloatArray) -> FloatArray:
    if landing.ndim < 2:
        return landing * np.nan
    flat = (landing == words.LANDINGS.index("flat")).any(axis=-1)
    return np.where(np.isnan(landing).all(axis=-1), np.nan, flat.astype(np.float64))


def _jump_count(gap: FloatArray) -> FloatArray:
    if gap.ndim < 2:
        return gap
    count = (~np.isnan(gap)).sum(axis=-1).astype(np.float64)
    return np.where(count > 0, count, np.nan)


def _corner_count(flat: FloatArray, banked: FloatArray, rutted: FloatArray) -> FloatArray:
    counted = np.stack([flat, banked, rutted])
    return np.where(np.isnan(counted).all(axis=0), np.nan, np.nansum(counted, axis=0))


def _share(some: FloatArray, every: FloatArray) -> FloatArray:
    # Corners were counted: a kind left out is a kind without corners.
    counted = np.where(np.isnan(some), 0.0, some)
    return 100.0 * counted / np.where(every > 0, every, np.nan)


def _per_km(count: FloatArray, length: FloatArray) -> FloatArray:
    return count / (length / 1000.0)


def _mean_speed(length: FloatArray, time: FloatArray) -> FloatArray:
    return 3.6 * mean_lap_speed_m_per_s(length, time)


def _whoop_frequency(count: FloatArray, mean_speed: FloatArray, spacing: FloatArray) -> FloatArray:
    passing = whoop_passing_frequency_hz(whoop_speed_m_per_s(mean_speed / 3.6), spacing)
    return np.where(count == 0, np.nan, passing)


def _whoop_ratio(wheelbase: FloatArray, spacing: FloatArray) -> FloatArray:
    return wheelbase_to_spacing_ratio(wheelbase, spacing)


def _energy_rank(height: FloatArray, count: FloatArray) -> FloatArray:
    return np.where(count == 0, 0.0, height)


_JUMPS = "walk.jumps."
JUMP_COLUMNS = (
    f"{_JUMPS}gap_m",
    f"{_JUMPS}drop_m",
    f"{_JUMPS}take_off_angle_deg",
    f"{_JUMPS}landing",
    f"{_JUMPS}landing_angle_deg",
)

TRACK_FACTS = (
    entered("whoop_count", "walk.whoops.count"),
    entered("whoop_spacing_m", "walk.whoops.spacing_m"),
    Fact(
        "whoop_height_mm",
        "Height of the whoops",
        "mm",
        0.0,
        1500.0,
        _energy_rank,
        ("walk.whoops.height_mm", "walk.whoops.count"),
        "as entered; 0 where there are no whoops",
        "entry",
    ),
    entered("lap_length_m", "walk.lap.length_m"),
    entered("lap_time_s", "walk.lap.time_s"),
    Fact(
        "mean_speed_kmh",
        "Mean speed of the lap",
        "km/h",
        1.0,
        200.0,
        _mean_speed,
        ("walk.lap.length_m", "walk.lap.time_s"),
        "length over time",
        "kinematics",
    ),
    entered("top_speed_kmh", "walk.lap.top_speed_kmh"),
    Fact(
        "whoop_frequency_hz",
        "How often a wheel meets a whoop",
        "Hz",
        0.1,
        60.0,
        _whoop_frequency,
        ("walk.whoops.count", "mean_speed_kmh", "walk.whoops.spacing_m"),
        "speed through the whoops over their spacing",
        "kinematics; speed through whoops: common practice, no source",
    ),
    Fact(
        "wheelbase_to_whoop_spacing",
        "Wheelbase over whoop spacing",
        "",
        0.05,
        4.0,
        _whoop_ratio,
        ("machine.geometry.wheelbase_mm", "walk.whoops.spacing_m"),
        "ratio of lengths",
        "geometry",
    ),
    Fact(
        "hardest_fall_height_m",
        "Equivalent fall height of the hardest landing",
        "m",
        0.0,
        20.0,
        _hardest,
        JUMP_COLUMNS,
        "ballistics; a landing entered as a slope is 24° where its angle is not entered",
        "Hubbard 2009, Journal of ASTM International 6(1)",
    ),
    Fact(
        "longest_gap_m",
        "Longest gap",
        "m",
        0.0,
        50.0,
        _longest,
        (f"{_JUMPS}gap_m",),
        "largest of the jumps",
        "entry",
    ),
    Fact(
        "flat_landing",
        "A jump that lands on the flat",
        "",
        0.0,
        1.0,
        _any_flat,
        (f"{_JUMPS}landing",),
        "any of the jumps",
        "entry",
        ("no", "yes"),
    ),
    Fact(
        "jump_count",
        "Number of jumps",
        "",
        0.0,
        40.0,
        _jump_count,
        (f"{_JUMPS}gap_m",),
        "jumps with a gap",
        "entry",
    ),
    Fact(
        "corner_count",
        "Number of corners",
        "",
        0.0,
        240.0,
        _corner_count,
        ("walk.corners.flat", "walk.corners.banked", "walk.corners.rutted"),
        "sum",
        "entry",
    ),
    *(
        Fact(
            f"{kind}_corner_share_pct",
            f"Share of {kind} corners",
            "%",
            0.0,
            100.0,
            _share,
            (f"walk.corners.{kind}", "corner_count"),
            "of all corners counted",
            "entry",
        )
        for kind in ("flat", "banked", "rutted")
    ),
    entered("tightest_radius_m", "walk.corners.tightest_radius_m"),
    Fact(
        "corners_per_km",
        "Corners a kilometre",
        "",
        0.0,
        400.0,
        _per_km,
        ("corner_count", "walk.lap.length_m"),
        "corners over length",
        "entry",
    ),
    entered("steepest_climb_deg", "walk.hills.steepest_climb_deg"),
    entered("steepest_descent_deg", "walk.hills.steepest_descent_deg"),
    entered("moto_length_min", "walk.lap.moto_min"),
)
