"""Training: a season of sessions and the rule base make a model."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

import numpy as np

from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.advised import AS_WRITTEN, RIDERS_MEAN
from setupadvisor.learning.amounts import Spreads, choose_spreads, posterior, totals
from setupadvisor.learning.fallback import chosen_fallbacks
from setupadvisor.learning.left_out import LeftOut, left_out_errors
from setupadvisor.learning.many_cores import run_each
from setupadvisor.learning.model import LEVEL, Model, untrained
from setupadvisor.learning.one_thread import one_thread
from setupadvisor.learning.past_sessions import field_ranges
from setupadvisor.learning.prediction import counted_touching, expected_spread
from setupadvisor.learning.ranges import folds_of_events
from setupadvisor.learning.sessions import Floats, Integers, Knowledge, Sessions
from setupadvisor.learning.touching import amount_spreads, degrees_touching, touched, usual_change
from setupadvisor.learning.tuning import chosen_reach
from setupadvisor.learning.weights import age, settled_setups, shares, worth

__all__ = ["Knowledge", "Progress", "Sessions", "train"]

# Called with what is being done, how much of it is done, and how much there is.
Progress: TypeAlias = Callable[[str, int, int], None]


@dataclass(frozen=True)
class _Fit:
    """Posterior of one setting: without each fold, and last with everything."""

    spreads: Spreads
    mean: Floats
    covariance: Floats


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
    _check(sessions, knowledge, level)
    tell = progress or (lambda what, done, total: None)
    start = untrained(knowledge, level=level)
    if len(sessions) == 0:
        return replace(
            start,
            rider_name=sessions.rider_name,
            event_name=sessions.event_name,
            venue_name=sessions.venue_name,
            habit=np.zeros((1, len(sessions.rider_name), len(start.setting))),
            habit_variance=np.tile(start.habit_sd**2, (1, len(sessions.rider_name), 1)),
        )
    fold, _ = folds_of_events(sessions.event, sessions.day)
    target = sessions.values - sessions.house
    settled = settled_setups(sessions)
    model = replace(
        start,
        rider_name=sessions.rider_name,
        event_name=sessions.event_name,
        venue_name=sessions.venue_name,
        field_range=field_ranges(sessions.fields, knowledge.field_range),
        fields=sessions.fields,
        degrees=sessions.degrees,
        target=np.where(np.isfinite(target), target, np.nan),
        weight=shares(sessions) * worth(sessions.mark)[:, None],
        settled=settled,
        rider=sessions.rider,
        event=sessions.event,
        venue=sessions.venue,
        fold=fold,
        day=sessions.day,
        residual=np.full(settled.shape, np.nan),
    )
    with one_thread():
        tell("amounts and habits", 0, 4)
        model = _with_posterior(model, knowledge, n_jobs)
        tell("past sessions", 1, 4)
        model = chosen_reach(model, sessions.mark, n_jobs=n_jobs)
        if np.isfinite(model.half_life):
            model = _with_posterior(model, knowledge, n_jobs)
        tell("events left out", 2, 4)
        left_out = left_out_errors(model, n_jobs=n_jobs)
        tell("ranges", 3, 4)
        fallback = chosen_fallbacks(left_out, model.event[left_out.rows])
        model = replace(model, fallback=fallback)
        model = replace(model, residual=_residuals(model, left_out))
    tell("ranges", 4, 4)
    return model


def _check(sessions: Sessions, knowledge: Knowledge, level: float) -> None:
    """Refuse sessions and knowledge that do not belong together."""
    mistakes = [
        Mistake(
            f"sessions.{name}",
            "names other than those of the rule base",
            "make both from the same rule base",
        )
        for name in ("setting", "rule", "field")
        if getattr(sessions, name) != getattr(knowledge, name)
    ]
    if not 0.0 < level < 1.0:
        mistakes.append(Mistake("level", f"{level:g}", "give a level between 0 and 1, as 0.8"))
    if mistakes:
        raise InputError(mistakes)


def _with_posterior(model: Model, knowledge: Knowledge, n_jobs: int | None) -> Model:
    """Fit spreads, amounts and habits of every setting, for every fold left out."""
    spread = amount_spreads(knowledge, model.touching)
    written = touched(model.amounts, model.touching)
    scale = usual_change(knowledge)
    aged = age(model.day.max() - model.day, model.half_life)

    def task(s: int) -> dict[str, Any]:
        spoken = degrees_touching(model.touching[s], model.counted_degrees)
        return {
            "degrees": spoken,
            "target": model.target[:, s] - spoken @ written[s],
            "weight": model.weight[:, s] * aged,
            "rider": model.rider,
            "event": model.event,
            "venue": model.venue,
            "fold": model.fold,
            "n_riders": len(model.rider_name),
            "n_folds": int(model.fold.max()) + 1,
            "amount_sd": spread[s],
            "scale": float(scale[s]),
        }

    tasks = (task(s) for s in range(len(model.setting)))
    fits = run_each(_fit, tasks, n_jobs=n_jobs)
    width = model.touching.shape[1]
    mean = np.stack([fit.mean for fit in fits], axis=1)
    variances = np.stack([np.diagonal(fit.covariance, axis1=1, axis2=2) for fit in fits], axis=1)
    return replace(
        model,
        rule_shift=mean[:, :, :width],
        rule_covariance=np.stack([fit.covariance[:, :width, :width] for fit in fits], axis=1),
        habit=np.ascontiguousarray(mean[:, :, width:].transpose(0, 2, 1)),
        habit_variance=np.ascontiguousarray(variances[:, :, width:].transpose(0, 2, 1)),
        noise_sd=np.array([float(fit.spreads.noise) for fit in fits]),
        habit_sd=np.array([float(fit.spreads.habit) for fit in fits]),
        event_sd=np.array([float(fit.spreads.event) for fit in fits]),
        venue_sd=np.array([float(fit.spreads.venue) for fit in fits]),
    )


def _fit(
    *,
    degrees: Floats,
    target: Floats,
    weight: Floats,
    rider: Integers,
    event: Integers,
    venue: Integers,
    fold: Integers,
    n_riders: int,
    n_folds: int,
    amount_sd: Floats,
    scale: float,
) -> _Fit:
    """Fit one setting."""
    rows = np.isfinite(target) & (weight > 0)
    sums = totals(
        degrees[rows],
        target[rows],
        weight[rows],
        rider=rider[rows],
        event=event[rows],
        venue=venue[rows],
        fold=fold[rows],
        n_riders=n_riders,
        n_folds=n_folds,
    )
    spreads = choose_spreads(sums, amount_sd, scale)
    mean, covariance = posterior(sums, amount_sd, spreads)
    return _Fit(spreads, mean, covariance)


def _residuals(model: Model, left_out: LeftOut) -> Floats:
    """Absolute errors of settled setups without their fold, over the spread expected there."""
    rows = left_out.rows
    error = np.where(model.fallback == AS_WRITTEN, left_out.written, left_out.design)
    error = np.where(model.fallback == RIDERS_MEAN, left_out.riders_mean, error)
    residual = np.full(model.target.shape, np.nan)
    for k in range(model.n_folds):
        where = model.fold[rows] == k
        some = rows[where]
        degrees = counted_touching(model, model.degrees[some], model.venue[some])
        weight = left_out.weight[where].T
        spread = expected_spread(model, k, degrees, model.rider[some], weight)
        residual[some] = np.abs(error[where]) / spread.T
    return residual
