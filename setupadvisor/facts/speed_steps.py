"""Riding a stretch of even ground at an acceleration that depends on speed.

Where the acceleration depends on the speed alone, distance and time are integrals over speed.
They are added up over small steps of speed, all steps and all rows at once; inside a step the
acceleration is its mean, so that a constant acceleration is exact.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from setupadvisor.facts.valid_range import FloatArray

IndexArray = NDArray[np.intp]


class Riding(NamedTuple):
    """What drives and slows the motorcycle on a stretch, one value a row.

    Attributes
    ----------
    thrust_m_s2 : numpy.ndarray, shape (rows, speeds)
        Force that the clutch passes over mass, at every speed.
    resistance_m_s2 : numpy.ndarray, shape (rows,)
        Rolling resistance over mass.
    drag_per_m : numpy.ndarray, shape (rows,)
        Air drag over mass and speed squared, 1/m.
    """

    thrust_m_s2: FloatArray
    resistance_m_s2: FloatArray
    drag_per_m: FloatArray


class Stretch(NamedTuple):
    """What a stretch took, shape (rows,).

    Attributes
    ----------
    time_s : numpy.ndarray
        Time, s; infinite where the motorcycle stops on the way.
    speed_m_per_s : numpy.ndarray
        Speed at the end, m/s.
    slip_work_m2_s2 : numpy.ndarray
        Thrust over mass times slip distance at the wheel, m2/s2.
    slip_time_s : numpy.ndarray
        Time with the clutch slipping, s.
    """

    time_s: FloatArray
    speed_m_per_s: FloatArray
    slip_work_m2_s2: FloatArray
    slip_time_s: FloatArray


class _Course(NamedTuple):
    """Running sums over the steps of speed; shape (rows, speeds) or (rows, steps)."""

    pace: FloatArray
    way: FloatArray
    time: FloatArray
    work: FloatArray
    thrust: FloatArray


def ride_stretch(
    speeds_m_per_s: FloatArray,
    riding: Riding,
    begin_m_per_s: FloatArray,
    length_m: FloatArray,
    closed_m_per_s: float,
) -> Stretch:
    """Ride a stretch from a speed at its begin.

    Parameters
    ----------
    speeds_m_per_s : numpy.ndarray, shape (speeds,)
        Rising speeds from 0 to the highest, `closed_m_per_s` among them, m/s.
    riding : Riding
        What drives and slows.
    begin_m_per_s : numpy.ndarray, shape (rows,)
        Speed at the begin, m/s.
    length_m : numpy.ndarray, shape (rows,)
        Length, m.
    closed_m_per_s : float
        Speed from which the clutch does not slip, m/s.

    Returns
    -------
    Stretch
        Time, speed at the end, work and time of the slipping clutch; NaN where something is
        not known.

    Notes
    -----
    From the begin the speed rises or falls until the way is done or nothing is left that
    accelerates; from there it stays the same.

    Examples
    --------
    >>> speeds = np.linspace(0.0, 40.0, 81)
    >>> even = Riding(np.full((1, 81), 5.0), np.zeros(1), np.zeros(1))
    >>> ridden = ride_stretch(speeds, even, np.zeros(1), np.full(1, 10.0), 0.0)
    >>> ridden.time_s.round(9).tolist(), ridden.speed_m_per_s.round(9).tolist()
    ([2.0], [10.0])
    """
    row = np.arange(len(length_m))
    half_squares = speeds_m_per_s**2 / 2.0
    acceleration = (
        riding.thrust_m_s2
        - riding.resistance_m_s2[:, None]
        - (2.0 * riding.drag_per_m)[:, None] * half_squares
    )
    mean = (acceleration[:, 1:] + acceleration[:, :-1]) / 2.0
    first = np.searchsorted(speeds_m_per_s, begin_m_per_s, side="right") - 1
    first = np.minimum(first, mean.shape[1] - 1)
    rises = mean[row, first] > 0.0
    sign = np.where(rises, 1.0, -1.0)
    course = _course(speeds_m_per_s, sign[:, None] * mean, riding.thrust_m_s2, closed_m_per_s)

    past = begin_m_per_s - speeds_m_per_s[first]
    pace = course.pace[row, first]
    middle = speeds_m_per_s[first] + past / 2.0
    way = course.way[row, first] + past * middle * pace
    time = course.time[row, first] + past * pace
    work = course.work[row, first] + _slip_work(course, row, first, middle, past, closed_m_per_s)

    last = _last_speed(course.pace > 0.0, first, rises)
    room = sign * (course.way[row, last] - way)
    left = length_m - room
    steady = left > 0.0
    target = way + sign * length_m
    step = np.count_nonzero(course.way[:, 1:] < target[:, None], axis=1)
    step = np.minimum(step, mean.shape[1] - 1)
    begins, paces = speeds_m_per_s[step], course.pace[row, step]
    with np.errstate(divide="ignore", invalid="ignore"):
        further = np.where(paces > 0.0, 2.0 * (target - course.way[row, step]) / paces, 0.0)
    reached = np.sqrt(np.maximum(begins**2 + further, 0.0))
    past, middle = reached - begins, (reached + begins) / 2.0
    at_end = course.time[row, step] + past * paces
    work_at_end = course.work[row, step] + _slip_work(
        course, row, step, middle, past, closed_m_per_s
    )

    terminal = _terminal_speed(speeds_m_per_s, acceleration, row, last)
    with np.errstate(divide="ignore", invalid="ignore"):
        waits = np.where(steady, left / terminal, 0.0)
        drives = riding.resistance_m_s2 + riding.drag_per_m * terminal**2
        slips = np.maximum(closed_m_per_s - terminal, 0.0)
        waiting_work = np.where(steady & (slips > 0.0), drives * slips * waits, 0.0)
    at_end = np.where(steady, course.time[row, last], at_end)
    work_at_end = np.where(steady, course.work[row, last], work_at_end)
    closing = course.time[:, np.searchsorted(speeds_m_per_s, closed_m_per_s)]
    slipping = np.abs(np.minimum(at_end, closing) - np.minimum(time, closing))
    known = np.where(np.isnan(acceleration[:, 0] + begin_m_per_s + length_m), np.nan, 0.0)
    return Stretch(
        np.abs(at_end - time) + waits + known,
        np.where(steady, terminal, reached) + known,
        np.abs(work_at_end - work) + waiting_work + known,
        slipping + np.where(steady & (slips > 0.0), waits, 0.0) + known,
    )


def _course(speeds: FloatArray, forward: FloatArray, thrust: FloatArray, closed: float) -> _Course:
    """Add up way, time and slip work along the steps that the motorcycle can ride through."""
    with np.errstate(divide="ignore", invalid="ignore"):
        pace = np.where(forward > 0.0, 1.0 / forward, 0.0)
    step = np.diff(speeds)
    middle = (speeds[1:] + speeds[:-1]) / 2.0
    driving = np.maximum((thrust[:, 1:] + thrust[:, :-1]) / 2.0, 0.0)
    sums = np.zeros((3, *thrust.shape))
    times = step * pace
    np.cumsum(middle * times, axis=1, out=sums[0, :, 1:])
    np.cumsum(times, axis=1, out=sums[1, :, 1:])
    np.cumsum(np.maximum(closed - middle, 0.0) * driving * times, axis=1, out=sums[2, :, 1:])
    return _Course(pace, sums[0], sums[1], sums[2], driving)


def _slip_work(
    course: _Course,
    row: IndexArray,
    step: IndexArray,
    middle: FloatArray,
    past: FloatArray,
    closed: float,
) -> FloatArray:
    slip = np.maximum(closed - middle, 0.0)
    return np.asarray(slip * course.thrust[row, step] * past * course.pace[row, step])


def _last_speed(
    passable: NDArray[np.bool_], first: IndexArray, rises: NDArray[np.bool_]
) -> IndexArray:
    """Place of the speed at which no step leads on, upward or downward from the first step."""
    places = np.arange(passable.shape[1])
    above = ~passable & (places >= first[:, None])
    upper = np.where(above.any(axis=1), above.argmax(axis=1), places.size)
    if rises.all():
        return upper
    below = ~passable & (places < first[:, None])
    lower = np.where(below.any(axis=1), places.size - below[:, ::-1].argmax(axis=1), 0)
    return np.where(rises, upper, lower)


def _terminal_speed(
    speeds: FloatArray, acceleration: FloatArray, row: IndexArray, last: IndexArray
) -> FloatArray:
    """Speed at which the acceleration crosses nought, next to the last speed reached."""
    low = np.where(acceleration[row, last] > 0.0, last, last - 1)
    low = np.clip(low, 0, speeds.size - 2)
    one, other = acceleration[row, low], acceleration[row, low + 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.clip(np.nan_to_num(one / (one - other), nan=1.0), 0.0, 1.0)
    share = np.where(other > 0.0, 1.0, share)
    between = speeds[low] + share * (speeds[low + 1] - speeds[low])
    return np.where(last == 0, 0.0, between)
