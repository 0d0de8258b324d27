"""A day at an invented event, as the logbook gives it back."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence

from setupadvisor.entries.logbook.records import (
    Cell,
    ChangeEntry,
    Day,
    LapEntry,
    Outing,
    Ridden,
    RiderRemark,
)
from setupadvisor.entries.walk import Walk
from tests.advice.invented import bundled_walk, workshop

MACHINE = workshop().machine
WALK = bundled_walk("deep-sand")
EVENT, DATE, RIDER = WALK.event, str(WALK.date), "north"
SETUP: Mapping[str, Cell] = {
    name: setting.values[len(setting.values) // 2] for name, setting in MACHINE.settings.items()
}
MOVED = ("fork_compression_low", "shock_rebound_low", "front_tyre_pressure", "steering_damper")
VERDICTS = ("better", "worse", "same", "")
SAID = (
    "Front dives on the brakes into the bumps",
    "Rear kicks in the whoops",
    "Fine",
    "whoops-swaps-rear",
)


def laps(count: int, usual_s: float = 104.0, chance: int = 1) -> tuple[LapEntry, ...]:
    """An out-lap, some laps, an in-lap."""
    dice = random.Random(chance)
    timed = [round(usual_s + dice.gauss(0.0, 0.6), 3) for _ in range(count)]
    flags = ["out", *[""] * count, "in"]
    times = [usual_s + 14.0, *timed, usual_s + 11.0]
    return tuple(
        LapEntry(number, time, None, flag)
        for number, (time, flag) in enumerate(zip(times, flags, strict=True), start=1)
    )


def ridden(number: int, setup: Mapping[str, Cell] = SETUP, **others: object) -> Ridden:
    """One outing."""
    given: dict[str, object] = {
        "time": f"{8 + number}:15",
        "mark": 3.0,
        "best_lap_s": None,
        "remarks": (RiderRemark(SAID[number % len(SAID)]),),
        "laps": laps(7, 104.0 - 0.2 * number, number),
        "machine": MACHINE.name,
        "date": DATE,
        **others,
    }
    outing = Outing(
        event=EVENT,
        date=str(given["date"]),
        rider=RIDER,
        machine=str(given["machine"]),
        setup=setup,
        session_id=f"DH-{number}",
        time=str(given["time"]),
    )
    return Ridden(
        outing=outing,
        mark=given["mark"],  # type: ignore[arg-type]
        best_lap_s=given["best_lap_s"],  # type: ignore[arg-type]
        remarks=given["remarks"],  # type: ignore[arg-type]
        laps=given["laps"],  # type: ignore[arg-type]
        version=1,
        who="crew",
        written_at="2026-03-22T09:00:00+00:00",
    )


def day_of(
    outings: Sequence[Ridden], changes: Sequence[ChangeEntry] = (), walk: Walk | None = WALK
) -> Day:
    """The day of these outings."""
    return Day(EVENT, RIDER, walk, tuple(outings), tuple(changes))


def long_day(count: int) -> Day:
    """A day with a change before every outing but the first."""
    setup, outings, changes = dict(SETUP), [], []
    for number in range(1, count + 1):
        outings.append(ridden(number, dict(setup)))
        if number < count:
            name = MOVED[number % len(MOVED)]
            values = MACHINE.settings[name].values
            start = float(setup[name])
            to = values[(values.index(start) + 1) % len(values)]
            verdict = VERDICTS[number % len(VERDICTS)]
            changes.append(ChangeEntry(name, start, to, "", "", verdict, f"DH-{number}"))
            setup[name] = to
    return day_of(outings, changes)
