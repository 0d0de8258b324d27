"""The advice: house, rider, rules and past sessions joined, fitted, ordered and explained."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np

from setupadvisor.advice.asked import Known, predicted
from setupadvisor.advice.checklist import (
    Job,
    Wish,
    jobs,
    minutes_each,
    within_minutes,
    working_order,
)
from setupadvisor.advice.fitting import (
    DRIVE_SETTINGS,
    DriveChoice,
    fit,
    fit_all,
    settable_range,
)
from setupadvisor.advice.likeness import likenesses
from setupadvisor.advice.measuring import not_judged, worth_measuring
from setupadvisor.advice.passed_over import passed_over
from setupadvisor.advice.reasons import change_why, fitting_why, house_why, in_words
from setupadvisor.advice.records import Advice, AdvisedSetting, Change, Part, Task
from setupadvisor.advice.together import together
from setupadvisor.advice.workshop import Situations, Workshop, field_values, situations
from setupadvisor.entries.files import bundled
from setupadvisor.entries.machine import House, Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.facts.columns import Columns, columns_from_entries
from setupadvisor.learning.model import Model
from setupadvisor.learning.prediction import Prediction

if TYPE_CHECKING:
    from setupadvisor.learning.in_parts import ModelInParts

# Tasks and things to watch are yes or no; from this degree on a rule's are asked for.
DEGREE_OF_A_TASK = 0.5
SMALLEST_PART = 1e-12
# A rule's caution goes with a change that it moves by this share of a felt change.
TELLING_CAUTION = 0.25
_EPOCH = date(1970, 1, 1)

STANDING_CAUTIONS = (
    "Starting points from rules of thumb and past sessions, not a guarantee: ride the first laps "
    "easily and feel each change before full speed.",
    "The machine's service manual has the last word on torques, limits, fluids and intervals; the "
    "event's rules and officials on what may be changed.",
    "Work on brakes, axles, springs, gas-charged dampers and fuel belongs to people who are "
    "qualified for it.",
)


def consult(
    workshop: Workshop,
    walk: Walk,
    model: Model | ModelInParts,
    *,
    conditions: Columns | None = None,
    rider: Rider | None = None,
    on_bike: Mapping[str, float] | None = None,
    minutes: float | None = None,
    level: float | None = None,
    provenance: Mapping[str, Any] | None = None,
    notes: Sequence[str] = (),
) -> Advice:
    """Give the advice for one walk.

    Parameters
    ----------
    workshop : Workshop
        The machine and its rules.
    walk : Walk
        What the crew chief saw.
    model : Model or ModelInParts
        Trained on a season or an archive, or untrained.
    conditions : dict of str to numpy.ndarray, optional
        The walk's columns where they are no longer as entered (later in the day).
    rider : Rider, optional
        Who rides.
    on_bike : mapping of str to float, optional
        What is on the motorcycle now, by setting.
    minutes : float, optional
        Time for changes; no limit when missing.
    level : float, optional
        Level of the ranges; the model's own when missing.
    provenance : mapping, optional
        Where the model came from.
    notes : sequence of str
        More cautions, about the conditions.

    Returns
    -------
    Advice
        Settings with parts that sum exactly, changes, tasks, and what was not known.

    Raises
    ------
    InputError
        Where something physically impossible was entered.
    """
    if conditions is None:
        conditions = columns_from_entries(walk, rider)
    found = situations(workshop, conditions, 1)
    fields = field_values(workshop, conditions, found.facts)
    prediction, known = predicted(
        model,
        found.degrees,
        found.house,
        rider=[rider.name if rider else None],
        fields=fields,
        venue=[walk.venue],
        day=np.array([float((walk.date - _EPOCH).days)]),
        level=level,
    )
    wishes = dict(zip(workshop.settings, prediction.value[0].tolist(), strict=True))
    now = dict(on_bike or {})
    fitted, drive = fit_all(workshop.machine, wishes, now)
    settings = tuple(
        _advised(workshop, found, prediction, place, fitted[name], now.get(name))
        for place, name in enumerate(workshop.settings)
    )
    spreads = (prediction.high[0] - prediction.low[0]) / 2.0
    chosen, alone, left_over = _chosen_jobs(
        workshop.machine,
        [
            Wish(
                advised.setting,
                _start(advised, workshop.machine),
                advised.value,
                float(spread),
                raw=None if advised.setting in DRIVE_SETTINGS else wishes[advised.setting],
                asked=_is_asked(advised, workshop.machine),
            )
            for advised, spread in zip(settings, spreads, strict=True)
        ],
        minutes,
    )
    changes = _changes(workshop, chosen, {setting.setting: setting for setting in settings})
    before = {s.setting: _start(s, workshop.machine) for s in settings}
    after = {**before, **{change.setting: change.to for change in changes}}
    prepare, watch = _tasks(workshop, found)
    rules = workshop.rulebase.by_id
    return Advice(
        event=walk.event,
        date=str(walk.date),
        venue=walk.venue,
        rider=rider.name if rider else None,
        machine=workshop.machine.name,
        settings=settings,
        changes=changes,
        prepare=prepare,
        watch=watch,
        left_alone={**alone, **left_over},
        not_judged=tuple(
            (rule, rules[rule].title, tuple(needs))
            for rule, needs in not_judged(workshop, found, conditions)
        ),
        worth_measuring=tuple(
            (item.entry, item.title, item.moves) for item in worth_measuring(workshop, conditions)
        ),
        passed_over=passed_over(workshop, found),
        together=together(workshop.machine, before, after, conditions, found.facts),
        drive=_drive_notes(drive),
        basis=_basis(workshop, known, prediction, fields[0], provenance),
        cautions=(
            *STANDING_CAUTIONS,
            *notes,
            *found.facts.warnings,
            *_missing_cautions(rider, on_bike),
            *_range_cautions(prediction, known, known.model.level if level is None else level),
        ),
    )


def _advised(
    workshop: Workshop,
    found: Situations,
    prediction: Prediction,
    place: int,
    value: float,
    now: float | None,
) -> AdvisedSetting:
    name = workshop.settings[place]
    setting = workshop.machine.settings[name]
    parts = [Part("house", float(found.house[0, place]), house_why(setting, found))]
    if abs(prediction.rider[0, place]) > SMALLEST_PART:
        parts.append(
            Part("rider", float(prediction.rider[0, place]), "this rider's habit in past sessions")
        )
    spoken = prediction.degrees[0] * prediction.amounts[:, place]
    for which in np.flatnonzero(np.abs(spoken) > SMALLEST_PART):
        rule = workshop.rulebase.rules[which]
        parts.append(Part(f"rule:{rule.id}", float(spoken[which]), f"{rule.title}: {rule.why}"))
    if abs(prediction.past[0, place]) > SMALLEST_PART:
        parts.append(
            Part(
                "past_sessions",
                float(prediction.past[0, place]),
                "what the most similar past sessions say beyond the rules",
            )
        )
    rest = value - math.fsum(part.amount for part in parts)
    if abs(rest) > SMALLEST_PART:
        parts.append(Part("fitting", rest, fitting_why(name, setting)))
    low, high = settable_range(
        setting, float(prediction.low[0, place]), float(prediction.high[0, place])
    )
    return AdvisedSetting(
        setting=name,
        title=setting.title,
        group=setting.group,
        unit=setting.unit,
        value=value,
        low=min(low, value),
        high=max(high, value),
        range_kind=prediction.range_kind[place],
        now=now,
        house=float(found.house[0, place]),
        shown=setting.show(value),
        shown_now=setting.show(fit(setting, setting.fixed_house) if now is None else now),
        has_names=setting.names is not None,
        parts=tuple(parts),
    )


def _start(setting: AdvisedSetting, machine: Machine) -> float:
    """Take what is on the motorcycle, or the house value that can be set."""
    if setting.now is not None:
        return setting.now
    own = machine.settings[setting.setting]
    return fit(own, own.fixed_house)


def _is_asked(advised: AdvisedSetting, machine: Machine) -> bool:
    """Say whether anything of this walk or this rider asks for the value."""
    house = machine.settings[advised.setting].house
    spoken = any(part.source not in {"house", "fitting"} for part in advised.parts)
    return advised.now is None or spoken or isinstance(house, House)


def _chosen_jobs(
    machine: Machine, wishes: Sequence[Wish], minutes: float | None
) -> tuple[list[Job], dict[str, str], dict[str, str]]:
    candidates, alone = jobs(machine, wishes)
    chosen = within_minutes(candidates, minutes)
    late = sorted((job for job in candidates if job not in chosen), key=lambda job: -job.worth)
    left_over = {
        wish.setting: f"no time left: {in_words(machine.settings[wish.setting], wish)}, "
        f"{job.minutes:g} min"
        for job in late
        for wish in job.wishes
    }
    return chosen, alone, left_over


def _changes(
    workshop: Workshop, chosen: list[Job], settings: Mapping[str, AdvisedSetting]
) -> tuple[Change, ...]:
    minutes = minutes_each(chosen, workshop.machine)
    changes = []
    for wish in working_order(workshop.machine, chosen):
        setting = workshop.machine.settings[wish.setting]
        advised = settings[wish.setting]
        least = TELLING_CAUTION * (setting.felt or setting.step or 1.0)
        rules = [
            workshop.rulebase.by_id[part.source.removeprefix("rule:")]
            for part in advised.parts
            if part.source.startswith("rule:") and abs(part.amount) >= least
        ]
        cautions = dict.fromkeys(
            [*setting.cautions, *(rule.caution for rule in rules if rule.caution)]
        )
        counted = "" if advised.now is not None else " (counted from the house value)"
        changes.append(
            Change(
                setting=wish.setting,
                title=setting.title,
                unit=setting.unit,
                start=wish.now,
                to=wish.value,
                shown=in_words(setting, wish),
                minutes=minutes[wish.setting],
                why=change_why(advised, wish) + counted,
                check=setting.check,
                undo=f"Back to {setting.show(wish.now)}: {setting.undo}",
                cautions=tuple(cautions),
            )
        )
    return tuple(changes)


def _tasks(workshop: Workshop, found: Situations) -> tuple[tuple[Task, ...], tuple[Task, ...]]:
    prepare: dict[str, Task] = {}
    watch: dict[str, Task] = {}
    asked = sorted(
        np.flatnonzero(found.low[:, 0] >= DEGREE_OF_A_TASK),
        key=lambda place: (-found.low[place, 0], place),
    )
    for place in asked:
        rule = workshop.rulebase.rules[place]
        cautions = (rule.caution,) if rule.caution else ()
        for text in rule.prepare:
            prepare.setdefault(
                text, Task(text, rule.why, rule.title, cautions, rule.id, rule.subject)
            )
        for text in rule.watch:
            watch.setdefault(
                text, Task(text, rule.why, rule.title, cautions, rule.id, rule.subject)
            )
    return tuple(prepare.values()), tuple(watch.values())


def _drive_notes(drive: DriveChoice | None) -> tuple[str, ...]:
    if drive is None:
        return ()
    if drive.best is None:
        return ("No sprockets and chain on the shelf fit the axle slot: check the machine file.",)
    notes = [
        f"{drive.best.front_teeth:g}/{drive.best.rear_teeth:g} with {drive.best.links:g} links: "
        f"axle at {drive.best.axle_position_mm:.0f} mm (wished "
        f"{drive.wanted_axle_position_mm:.0f}), ratio {drive.best.final_drive:.3f} (wished "
        f"{drive.wanted_final_drive:.3f})"
    ]
    if drive.runner_up is not None:
        other = drive.runner_up
        notes.append(
            f"Next best {other.front_teeth:g}/{other.rear_teeth:g} with {other.links:g} links: "
            f"axle {other.position_error_mm:+.0f} mm and ratio {other.ratio_error_pct:+.1f} % "
            "off the wish"
        )
    return tuple(notes)


def _basis(
    workshop: Workshop,
    known: Known,
    prediction: Prediction,
    fields: Any,
    provenance: Mapping[str, Any] | None,
) -> dict[str, Any]:
    rulebase, ours = workshop.rulebase, str(bundled("rules"))
    support = prediction.support[0]
    return {
        "sessions": known.sessions,
        "events": known.events,
        "nearest": [
            {**asdict(item), "shares": list(item.shares), "differs": list(item.differs)}
            for item in likenesses(known.model, prediction.nearest, fields)
        ],
        "support": round(float(support.max()), 3) if len(support) else 0.0,
        "model": dict(provenance) if provenance else None,
        "rules": {
            "count": len(rulebase.rules),
            "digest": rulebase.digest[:16],
            "of_the_team": sorted(rule.id for rule in rulebase.rules if rule.origin.folder != ours),
            "switched_off": [
                {"rule": item.rule.id, "why": item.reason} for item in rulebase.switched_off
            ],
        },
    }


def _missing_cautions(rider: Rider | None, on_bike: Mapping[str, float] | None) -> list[str]:
    cautions = []
    if rider is None:
        cautions.append(
            "No rider was given: springs and sag stay at house values, and loads are those of a "
            "rider of 78 kg. Give --rider."
        )
    if on_bike is None:
        cautions.append(
            "What is on the motorcycle was not given: changes are counted from the house values. "
            "Give --on-bike."
        )
    return cautions


def _range_cautions(prediction: Prediction, known: Known, level: float) -> list[str]:
    if not known.sessions:
        return [
            "No past sessions: ranges show how firm the rules are, not how well they did.",
        ]
    if "prior" in prediction.range_kind:
        count = known.events
        return [
            f"{count} event{' is' if count == 1 else 's are'} too few for ranges of "
            f"{level:.0%} in some settings: those show how firm the rules are."
        ]
    if prediction.support.max() < 0.5:
        return ["This walk is unlike any past session: past sessions hardly correct the rules."]
    return []
