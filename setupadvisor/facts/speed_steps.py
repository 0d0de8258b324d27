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


class SpeedSteps(NamedTuple):
    """Steps of speed, and what is the same for every ride over them.

    Attributes
    ----------
    speed_m_per_s : numpy.ndarray, shape (speeds,)
        Rising speeds from 0 to the highest, m/s.
    width_m_per_s, middle_m_per_s : numpy.ndarray, shape (steps,)
        Width and middle of each step, m/s.
    slip_m_per_s : numpy.ndarray, shape (slipping steps,)
        Slip of the clutch at the wheel in the first steps, m/s; in the others it is closed.
    closed_m_per_s : float
        Speed from which the clutch does not slip, m/s; one of the speeds.
    """

    speed_m_per_s: FloatArray
    width_m_per_s: FloatArray
    middle_m_per_s: FloatArray
    slip_m_per_s: FloatArray
    closed_m_per_s: float


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
    """Running sums over the steps of speed.

    Attributes
    ----------
    pace : numpy.ndarray, shape (rows, steps)
        Time over change of speed, s2/m; 0 where the motorcycle cannot ride through.
    way, time : numpy.ndarray, shape (rows, speeds)
        Way, m, and time, s, up to each speed.
    driving : numpy.ndarray, shape (rows, slipping steps)
        Thrust over mass, m/s2.
    work : numpy.ndarray, shape (rows, slipping steps + 1)
        Slip work over mass up to each speed, m2/s2.
    """

    pace: FloatArray
    way: FloatArray
    time: FloatArray
    driving: FloatArray
    work: FloatArray


def speed_steps(highest_m_per_s: float, closed_m_per_s: float, count: int) -> SpeedSteps:
    """Cut the speeds of a machine into steps.

    Parameters
    ----------
    highest_m_per_s : float
        Highest speed, m/s.
    closed_m_per_s : float
        Speed from which the clutch does not slip, m/s.
    count : int
        How many even steps beyond that speed. Below it, where the engine's pull does not change,
        steps twice as wide do.

    Returns
    -------
    SpeedSteps
        The steps.

    Examples
    --------
    >>> speed_steps(4.0, 1.0, 2).speed_m_per_s.tolist()
    [0.0, 1.0, 2.5, 4.0]
    """
    width = (highest_m_per_s - closed_m_per_s) / count
    slipping = int(np.ceil(closed_m_per_s / (2.0 * width)))
    speeds = np.concatenate(
        [
            np.linspace(0.0, closed_m_per_s, slipping, endpoint=False),
            np.linspace(closed_m_per_s, highest_m_per_s, count + 1),
        ]
    )
    middle = (speeds[1:] + speeds[:-1]) / 2.0
    return SpeedSteps(
        speeds, np.diff(speeds), middle, closed_m_per_s - middle[:slipping], closed_m_per_s
    )


def ride_stretch(
    steps: SpeedSteps, riding: Riding, begin_m_per_s: FloatArray, length_m: FloatArray
) -> Stretch:
    """Ride a stretch from a speed at its begin.

    Parameters
    ----------
    steps : SpeedSteps
        The machine's steps of speed.
    riding : Riding
        What drives and slows.
    begin_m_per_s : numpy.ndarray, shape (rows,)
        Speed at the begin, m/s.
    length_m : numpy.ndarray, shape (rows,)
        Length, m.

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
    >>> steps = speed_steps(40.0, 0.0, 80)
    >>> even = Riding(np.full((1, 81), 5.0), np.zeros(1), np.zeros(1))
    >>> ridden = ride_stretch(steps, even, np.zeros(1), np.full(1, 10.0))
    >>> ridden.time_s.round(9).tolist(), ridden.speed_m_per_s.round(9).tolist()
    ([2.0], [10.0])
    """
    steps, thrust = _within_reach(steps, riding.thrust_m_s2, begin_m_per_s, length_m)
    row, speeds = np.arange(len(length_m)), steps.speed_m_per_s
    acceleration = thrust - riding.resistance_m_s2[:, None] - riding.drag_per_m[:, None] * speeds**2
    mean = (acceleration[:, 1:] + acceleration[:, :-1]) / 2.0
    first = np.searchsorted(speeds, begin_m_per_s, side="right") - 1
    first = np.minimum(first, mean.shape[1] - 1)
    rises = mean[row, first] > 0.0
    sign = np.where(rises, 1.0, -1.0)
    course = _course(steps, mean if rises.all() else sign[:, None] * mean, thrust)
    way, time, work = _at_speed(steps, course, row, first, begin_m_per_s)

    last = _last_speed(course.pace == 0.0, row, first, rises)
    left = length_m - sign * (course.way[row, last] - way)
    steady = left > 0.0
    target = way + sign * length_m
    step = np.count_nonzero(course.way[:, 1:] < target[:, None], axis=1)
    step = np.minimum(step, mean.shape[1] - 1)
    begins, pace = speeds[step], course.pace[row, step]
    with np.errstate(divide="ignore", invalid="ignore"):
        further = np.where(pace > 0.0, 2.0 * (target - course.way[row, step]) / pace, 0.0)
    reached = np.sqrt(np.maximum(begins**2 + further, 0.0))
    _, end_time, end_work = _at_speed(steps, course, row, step, reached)
    slip_end = end_time
    if steady.any():
        terminal = _terminal_speed(speeds, acceleration, row, last)
        slip = np.maximum(steps.closed_m_per_s - terminal, 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            waits = left / terminal
            drives = riding.resistance_m_s2 + riding.drag_per_m * terminal**2
            waiting_work = np.where(slip > 0.0, drives * slip * waits, 0.0)
        reached = np.where(steady, terminal, reached)
        here = course.time[row, last]
        end_time = np.where(steady, here + sign * waits, end_time)
        slip_end = np.where(steady, here + sign * np.where(slip > 0.0, waits, 0.0), slip_end)
        end_work = np.where(steady, _work_up_to(course, row, last) + sign * waiting_work, end_work)
    closing = course.time[:, course.driving.shape[1]]
    # A machine that waits with a slipping clutch never reaches the closing speed.
    closing = np.where(steady & (reached < steps.closed_m_per_s), np.inf, closing)
    slipping = np.minimum(slip_end, closing) - np.minimum(time, closing)
    known = np.where(np.isnan(acceleration[:, 0] + begin_m_per_s + length_m), np.nan, 0.0)
    return Stretch(
        np.abs(end_time - time) + known,
        reached + known,
        np.abs(end_work - work) + known,
        np.abs(slipping) + known,
    )


def _within_reach(
    steps: SpeedSteps, thrust: FloatArray, begin_m_per_s: FloatArray, length_m: FloatArray
) -> tuple[SpeedSteps, FloatArray]:
    """Leave out speeds that no row can reach at its hardest thrust."""
    fastest, hardest, longest = (
        np.fmax.reduce(part, axis=None, initial=0.0) for part in (begin_m_per_s, thrust, length_m)
    )
    reach = np.sqrt(fastest**2 + 2.0 * hardest * longest)
    count = int(np.searchsorted(steps.speed_m_per_s, reach)) + 2
    cut = SpeedSteps(
        steps.speed_m_per_s[:count],
        steps.width_m_per_s[: count - 1],
        steps.middle_m_per_s[: count - 1],
        steps.slip_m_per_s[: count - 1],
        steps.closed_m_per_s,
    )
    return cut, thrust[:, :count]


def _course(steps: SpeedSteps, forward: FloatArray, thrust: FloatArray) -> _Course:
    """Add up way, time and slip work along the steps that the motorcycle can ride through."""
    with np.errstate(divide="ignore", invalid="ignore"):
        pace = np.where(forward > 0.0, 1.0 / forward, 0.0)
    way, time = np.zeros((2, *thrust.shape))
    times = steps.width_m_per_s * pace
    np.cumsum(steps.middle_m_per_s * times, axis=1, out=way[:, 1:])
    np.cumsum(times, axis=1, out=time[:, 1:])
    slipping = steps.slip_m_per_s.size
    driving = (thrust[:, 1 : slipping + 1] + thrust[:, :slipping]) / 2.0
    driving = np.maximum(driving, 0.0)
    work = np.zeros((len(thrust), slipping + 1))
    np.cumsum(steps.slip_m_per_s * driving * times[:, :slipping], axis=1, out=work[:, 1:])
    return _Course(pace, way, time, driving, work)


def _at_speed(
    steps: SpeedSteps, course: _Course, row: IndexArray, step: IndexArray, speed: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Way, time and slip work up to a speed inside a step."""
    begins, pace = steps.speed_m_per_s[step], course.pace[row, step]
    middle, lasts = (begins + speed) / 2.0, (speed - begins) * pace
    work = _work_up_to(course, row, step)
    slipping = course.driving.shape[1]
    if slipping:
        slip = np.where(step < slipping, steps.closed_m_per_s - middle, 0.0)
        work = work + slip * course.driving[row, np.minimum(step, slipping - 1)] * lasts
    return course.way[row, step] + middle * lasts, course.time[row, step] + lasts, work


def _work_up_to(course: _Course, row: IndexArray, place: IndexArray) -> FloatArray:
    work: FloatArray = course.work[row, np.minimum(place, course.work.shape[1] - 1)]
    return work


def _last_speed(
    blocked: NDArray[np.bool_], row: IndexArray, first: IndexArray, rises: NDArray[np.bool_]
) -> IndexArray:
    """Place of the speed at which no step leads on, upward or downward from the first step."""
    places = np.arange(blocked.shape[1])
    upper = blocked.argmax(axis=1)
    upper = np.where(blocked[row, upper], upper, places.size)
    if not (rises & (upper >= first)).all():
        above = blocked & (places >= first[:, None])
        upper = np.where(above.any(axis=1), above.argmax(axis=1), places.size)
        below = blocked & (places < first[:, None])
        lower = np.where(below.any(axis=1), places.size - below[:, ::-1].argmax(axis=1), 0)
        upper = np.where(rises, upper, lower)
    return upper


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
