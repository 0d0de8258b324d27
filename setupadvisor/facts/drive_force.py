"""Force at the rear wheel from the engine's torque curve, the gears and a slipping clutch."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from setupadvisor.errors import ImpossibleValue
from setupadvisor.facts.valid_range import FloatArray, possible

_RPM_TO_RAD_PER_S = np.pi / 30.0


class Drive(NamedTuple):
    """Engine, gears and rear wheel of one machine.

    Attributes
    ----------
    engine_speed_rpm : array_like, shape (points,)
        Rising engine speeds of the torque curve, the last one the limiter's, rpm.
    torque_nm : array_like, shape (points,)
        Full-throttle torque at the crankshaft there, N m.
    overall_ratios : array_like, shape (gears,)
        Engine turns per rear wheel turn, the start gear first.
    wheel_radius_mm : float
        Rolling radius of the rear wheel, mm.
    clutch_slip_speed_rpm : float
        Engine speed the rider holds while the clutch slips, on the torque curve, rpm.
    efficiency : float
        Share of the crankshaft's power that reaches the rear wheel.
    """

    engine_speed_rpm: ArrayLike
    torque_nm: ArrayLike
    overall_ratios: ArrayLike
    wheel_radius_mm: float
    clutch_slip_speed_rpm: float
    efficiency: float = 0.9


def drive_force_n(speed_m_per_s: ArrayLike, drive: Drive) -> FloatArray:
    """Full-throttle force at the rear wheel, in the gear that pulls hardest.

    Parameters
    ----------
    speed_m_per_s : array_like
        Speed, m/s.
    drive : Drive
        Engine, gears and rear wheel.

    Returns
    -------
    numpy.ndarray
        Force, N; 0 beyond the limiter in the highest gear. Changing gear costs no time here.

    Raises
    ------
    ImpossibleValue
        When the torque curve is not a rising list, or does not cover the slip speed.

    Examples
    --------
    >>> engine = Drive([4000, 9000, 13000], [35, 45, 30], [19.0, 15.0], 340.0, 8000.0)
    >>> drive_force_n([0.0, 10.0, 30.0], engine).round().tolist()
    [2163.0, 2163.0, 1245.0]
    """
    engine_speed, torque, ratios = _checked(drive)
    speed = possible(speed_m_per_s, "speed_m_per_s", "a speed is not below 0", at_least=0.0)
    radius = drive.wheel_radius_mm * 1e-3
    best = np.zeros_like(speed)
    for gear, ratio in enumerate(ratios):
        turns = speed / radius * ratio / _RPM_TO_RAD_PER_S
        # Only the start gear is driven away in; in the others the clutch is not slipped.
        pulls = np.interp(np.maximum(turns, drive.clutch_slip_speed_rpm), engine_speed, torque)
        usable = turns <= engine_speed[-1]
        if gear > 0:
            usable &= turns >= drive.clutch_slip_speed_rpm
        force = np.where(usable, pulls * ratio * drive.efficiency / radius, 0.0)
        best = np.maximum(best, force)
    return np.where(np.isnan(speed), np.nan, best)


def clutch_closed_speed_m_per_s(drive: Drive) -> float:
    """Speed at which the clutch stops slipping in the start gear.

    Parameters
    ----------
    drive : Drive
        Engine, gears and rear wheel.

    Returns
    -------
    float
        Speed, m/s.

    Examples
    --------
    >>> engine = Drive([4000, 9000, 13000], [35, 45, 30], [19.0, 15.0], 340.0, 8000.0)
    >>> round(clutch_closed_speed_m_per_s(engine), 2)
    14.99
    """
    ratios = _checked(drive)[2]
    turns = drive.clutch_slip_speed_rpm * _RPM_TO_RAD_PER_S
    return float(turns * drive.wheel_radius_mm * 1e-3 / ratios[0])


def top_speed_m_per_s(drive: Drive) -> float:
    """Speed at the limiter in the highest gear.

    Parameters
    ----------
    drive : Drive
        Engine, gears and rear wheel.

    Returns
    -------
    float
        Speed, m/s.

    Examples
    --------
    >>> engine = Drive([4000, 9000, 13000], [35, 45, 30], [19.0, 15.0], 340.0, 8000.0)
    >>> round(top_speed_m_per_s(engine), 2)
    30.86
    """
    engine_speed, _, ratios = _checked(drive)
    turns = engine_speed[-1] * _RPM_TO_RAD_PER_S
    return float(turns * drive.wheel_radius_mm * 1e-3 / np.min(ratios))


def _checked(drive: Drive) -> tuple[FloatArray, FloatArray, FloatArray]:
    engine_speed = np.asarray(drive.engine_speed_rpm, dtype=np.float64)
    torque = np.asarray(drive.torque_nm, dtype=np.float64)
    ratios = possible(
        np.atleast_1d(drive.overall_ratios), "overall_ratios", "a ratio is above 0", above=0.0
    )
    possible(drive.wheel_radius_mm, "wheel_radius_mm", "a radius is above 0 mm", above=0.0)
    possible(drive.efficiency, "efficiency", "above 0, at most 1", above=0.0, at_most=1.0)
    curve = engine_speed.ndim == 1 and engine_speed.size >= 2 and engine_speed.shape == torque.shape
    if not curve or not bool(np.all(np.diff(engine_speed) > 0.0)):
        raise ImpossibleValue(
            "engine_speed_rpm",
            f"a curve of {engine_speed.size} speeds and {torque.size} torques",
            "list rising engine speeds with one torque each",
        )
    possible(
        drive.clutch_slip_speed_rpm,
        "clutch_slip_speed_rpm",
        "hold the engine at a speed the torque curve covers",
        at_least=float(engine_speed[0]),
        at_most=float(engine_speed[-1]),
    )
    return engine_speed, torque, ratios
