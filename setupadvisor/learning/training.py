"""Training: a season of sessions and the rule base make a model."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any, TypeAlias

import numpy as np

from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.advised import AS_WRITTEN, RIDERS_MEAN
from setupadvisor.learning.amount_sums import FoldSums
from setupadvisor.learning.amounts import Spreads, choose_spreads, posterior
from setupadvisor.learning.even_choice import chosen_events, event_keys
from setupadvisor.learning.expected_spread import counted_touching, expected_spread
from setupadvisor.learning.fallback import chosen_fallbacks
from setupadvisor.learning.left_out import LeftOut, judged_without_fold
from setupadvisor.learning.many_cores import run_each
from setupadvisor.learning.model import LEVEL, Model, untrained
from setupadvisor.learning.one_thread import one_thread
from setupadvisor.learning.past_sessions import field_ranges
from setupadvisor.learning.ranges import folds_of_events
from setupadvisor.learning.riders_mean import means_of_sums, settled_sums
from setupadvisor.learning.sessions import Booleans, Floats, Integers, Knowledge, Sessions
from setupadvisor.learning.stores import InMemory, Store
from setupadvisor.learning.touching import (
    amount_spreads,
    degree_sums,
    usual_change,
    usual_degrees,
)
from setupadvisor.learning.tuning import chosen_reach
from setupadvisor.learning.weights import settled_setups, shares, worth

__all__ = ["Knowledge", "Progress", "Sessions", "train"]

# Called with what is being done, how much of it is done, and how much there is.
Progress: TypeAlias = Callable[[str, int, int], None]
# Events that are enough to choose the spreads by: to a few hundredths of themselves.
ENOUGH_EVENTS = 2_000


def train(
    sessions: Sessions,
    knowledge: Knowledge,
    *,
    level: float = LEVEL,
    progress: Progress | None = None,
    n_jobs: int | None = 1,
) -> Model:
    """Train a model on a season.

    Parameters
    ----------
    sessions : Sessions
        Past sessions.
    knowledge : Knowledge
        Rules and settings, with the same names in the same order.
    level : float, optional
        Coverage of the ranges.
    progress : callable, optional
        Called with what is being done, how much is done and how much there is.
    n_jobs : int, optional
        Settings fitted at once, in joblib's sense; None leaves it to `joblib.parallel_config`.
        The result does not depend on it.

    Returns
    -------
    Model
        The trained model. The same sessions give the same model.

    Raises
    ------
    InputError
        Where sessions and knowledge do not speak of the same settings, rules and fields.
    """
    check_level(level)
    check_sessions(sessions, knowledge)
    tell = progress or (lambda what, done, total: None)
    start = untrained(knowledge, level=level)
    if len(sessions) == 0:
        names = (sessions.rider_name, sessions.event_name, sessions.venue_name)
        return without_sessions(start, *names)
    key = event_keys(sessions.event_name)
    fold, n_folds = folds_of_events(key[sessions.event], sessions.day)
    target = sessions.values - sessions.house
    settled = settled_setups(sessions)
    marks = worth(sessions.mark)
    model = replace(
        start,
        rider_name=sessions.rider_name,
        event_name=sessions.event_name,
        venue_name=sessions.venue_name,
        field_range=field_ranges(sessions.fields, knowledge.field_range),
        fields=sessions.fields,
        degrees=sessions.degrees,
        target=np.where(np.isfinite(target), target, np.nan),
        weight=shares(sessions) * marks[:, None],
        settled=settled,
        rider=sessions.rider,
        event=sessions.event,
        venue=sessions.venue,
        fold=fold,
        day=sessions.day,
        last_day=float(sessions.day.max()),
        events_by_setting=events_by_setting(settled, sessions.event),
    )
    n_events, n_riders = len(sessions.event_name), len(sessions.rider_name)
    in_all = degree_sums(
        model.degrees,
        model.event,
        model.venue,
        n_events=n_events,
        n_venues=len(sessions.venue_name),
    )
    ended_on = np.where(settled, model.target, np.nan)
    of_riders = settled_sums(ended_on, model.rider, fold, n_riders=n_riders, n_folds=n_folds)
    model = with_usual(model, in_all, of_riders)
    return learnt(model, InMemory.of(model, marks, n_jobs), knowledge, tell, n_jobs)


def without_sessions(
    start: Model,
    rider_name: tuple[str, ...],
    event_name: tuple[str, ...],
    venue_name: tuple[str, ...],
) -> Model:
    """Return a model that knows names and has nothing to learn from.

    Parameters
    ----------
    start : Model
        Untrained.
    rider_name, event_name, venue_name : tuple of str
        Names.

    Returns
    -------
    Model
        The same with these names.
    """
    n_riders, n_settings = len(rider_name), len(start.setting)
    return replace(
        start,
        rider_name=rider_name,
        event_name=event_name,
        venue_name=venue_name,
        habit=np.zeros((1, n_riders, n_settings)),
        habit_variance=np.tile(start.habit_sd**2, (1, n_riders, 1)),
        usual_degree=np.zeros((len(venue_name) + 1, len(start.rule))),
        riders_means=np.zeros((1, n_riders + 1, n_settings)),
    )


def events_by_setting(settled: Booleans, event: Integers) -> Integers:
    """Count the events with a settled setup.

    Parameters
    ----------
    settled : (n, S) array of bool
        Settled setups.
    event : (n,) integer array
        Codes.

    Returns
    -------
    (S,) integer array
        Counts.
    """
    return np.array([len(np.unique(event[rows])) for rows in settled.T], dtype=np.int64)


def with_usual(model: Model, of_degrees: Floats, of_riders: Floats) -> Model:
    """Return a model that knows usual degrees and what riders usually ended on.

    Parameters
    ----------
    model : Model
        A model before it learns.
    of_degrees : (2, V + 1, R) array
        From `degree_sums`.
    of_riders : (2, K, G, S) array
        From `settled_sums`.

    Returns
    -------
    Model
        With nothing learnt yet, for K folds.
    """
    width = of_riders.shape[1] + 1
    shape = (width, len(model.rider_name), len(model.setting))
    return replace(
        model,
        usual_degree=usual_degrees(of_degrees),
        riders_means=means_of_sums(of_riders),
        rule_shift=np.zeros((width, *model.touching.shape)),
        rule_covariance=np.repeat(model.rule_covariance, width, axis=0),
        habit=np.zeros(shape),
        habit_variance=np.broadcast_to(model.habit_sd**2, shape),
    )


def learnt(
    model: Model, store: Store, knowledge: Knowledge, tell: Progress, n_jobs: int | None
) -> Model:
    """Learn from the sessions of a store.

    Parameters
    ----------
    model : Model
        From `with_usual`.
    store : Store
        Where the sessions are.
    knowledge : Knowledge
        Rules and settings.
    tell : callable
        Called as the work goes on.
    n_jobs : int, optional
        Settings at once.

    Returns
    -------
    Model
        The trained model.
    """
    with one_thread():
        tell("amounts and habits", 0, 4)
        model = _with_posterior(model, store, knowledge, n_jobs)
        tell("past sessions", 1, 4)
        model = chosen_reach(model, store)
        if np.isfinite(model.half_life):
            model = _with_posterior(model, store, knowledge, n_jobs)
        tell("events left out", 2, 4)
        judged, left_out = judged_without_fold(model, store)
        tell("ranges", 3, 4)
        fallback = chosen_fallbacks(left_out, judged.event)
        model, judged = replace(model, fallback=fallback), replace(judged, fallback=fallback)
        model = replace(
            model,
            residual=_residuals(judged, left_out),
            residual_event=judged.event,
            residual_fold=judged.fold,
        )
    tell("ranges", 4, 4)
    return model


def check_sessions(sessions: Sessions, knowledge: Knowledge) -> None:
    """Refuse sessions and knowledge that do not belong together.

    Parameters
    ----------
    sessions : Sessions
        Past sessions.
    knowledge : Knowledge
        Rules and settings.

    Raises
    ------
    InputError
        Where they do not speak of the same settings, rules and fields.
    """
    mistakes = [
        Mistake(
            f"sessions.{name}",
            "names other than those of the rule base",
            "make both from the same rule base",
        )
        for name in ("setting", "rule", "field")
        if getattr(sessions, name) != getattr(knowledge, name)
    ]
    if mistakes:
        raise InputError(mistakes)


def check_level(level: float) -> None:
    """Refuse a level that is none.

    Parameters
    ----------
    level : float
        Coverage of the ranges.

    Raises
    ------
    InputError
        Where it is not between 0 and 1.
    """
    if not 0.0 < level < 1.0:
        raise InputError(Mistake("level", f"{level:g}", "give a level between 0 and 1, as 0.8"))


def _with_posterior(model: Model, store: Store, knowledge: Knowledge, n_jobs: int | None) -> Model:
    """Fit spreads, amounts and habits of every setting, for every fold left out."""
    spread = amount_spreads(knowledge, model.touching)
    scale = usual_change(knowledge).tolist()
    some = store.amount_totals(model, chosen_events(store.events, ENOUGH_EVENTS))
    tasks: Iterable[dict[str, Any]] = (
        {"sums": sums, "amount_sd": amount_sd, "scale": one}
        for sums, amount_sd, one in zip(some, spread, scale, strict=True)
    )
    spreads = run_each(choose_spreads, tasks, n_jobs=n_jobs)
    everything = store.amount_sums(model, spreads)
    tasks = (
        {"sums": sums, "amount_sd": amount_sd, "spreads": one}
        for sums, amount_sd, one in zip(everything, spread, spreads, strict=True)
    )
    fits = run_each(_posterior, tasks, n_jobs=n_jobs)
    width = model.touching.shape[1]
    mean, of_rules, variances = (np.stack(parts, axis=1) for parts in zip(*fits, strict=True))
    return replace(
        model,
        rule_shift=mean[:, :, :width],
        rule_covariance=of_rules,
        habit=np.ascontiguousarray(mean[:, :, width:].transpose(0, 2, 1)),
        habit_variance=np.ascontiguousarray(variances.transpose(0, 2, 1)),
        noise_sd=np.array([float(one.noise) for one in spreads]),
        habit_sd=np.array([float(one.habit) for one in spreads]),
        event_sd=np.array([float(one.event) for one in spreads]),
        venue_sd=np.array([float(one.venue) for one in spreads]),
    )


def _posterior(
    *, sums: FoldSums, amount_sd: Floats, spreads: Spreads
) -> tuple[Floats, Floats, Floats]:
    """Means of amounts and habits, covariances of the amounts, variances of the habits."""
    mean, covariance = posterior(sums, amount_sd, spreads)
    n_rules = len(amount_sd)
    variances = np.diagonal(covariance, axis1=1, axis2=2)[:, n_rules:]
    return mean, covariance[:, :n_rules, :n_rules].copy(), variances.copy()


def _residuals(judged: Model, left_out: LeftOut) -> Floats:
    """Absolute errors of settled setups without their fold, over the spread expected there."""
    error = np.where(judged.fallback == AS_WRITTEN, left_out.written, left_out.design)
    error = np.where(judged.fallback == RIDERS_MEAN, left_out.riders_mean, error)
    residual = np.full(error.shape, np.nan)
    for k in range(judged.n_folds):
        some = np.flatnonzero(judged.fold == k)
        degrees = counted_touching(judged, judged.degrees[some], judged.venue[some])
        weight = left_out.weight[some].T
        spread = expected_spread(judged, k, degrees, judged.rider[some], weight)
        residual[some] = np.abs(error[some]) / spread.T
    return residual
