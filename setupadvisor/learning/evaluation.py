"""How well a season is learnt: errors on events left out, beside those of simpler ways.

Every way is judged on the same settled setups, each predicted from the sessions of the other folds
of whole events: one event a fold up to twenty events, and twenty folds beyond.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np

from setupadvisor.learning.advised import FALLBACKS
from setupadvisor.learning.alternatives import (
    Cases,
    cases_of,
    nearest_sessions,
    random_forest,
    same_venue_last_time,
)
from setupadvisor.learning.fallback import FEWEST_EVENTS, chances_of_no_gain
from setupadvisor.learning.left_out import left_out_errors
from setupadvisor.learning.many_cores import run_each
from setupadvisor.learning.model import Model
from setupadvisor.learning.sessions import Floats, Integers, Knowledge, Sessions
from setupadvisor.learning.training import Progress, train

DESIGN = "this design"
ALTERNATIVES = (
    "rules as written",
    "rider's mean",
    "same venue last time",
    "k-nearest sessions",
    "random forest",
    "amounts only",
)
# A simpler way, asked about some sessions having seen others.
Ask: TypeAlias = Callable[..., Floats]


@dataclass(frozen=True)
class SettingErrors:
    """Errors of one setting on events left out.

    Parameters
    ----------
    setting : str
        The setting.
    settled, events : int
        Settled setups and events they come from.
    error : dict of str to float or None
        Mean absolute error of every way, in the setting's number; None where a way could not
        answer.
    beaten_by : str or None
        The simpler way with the smallest error, where that is smaller than the design's.
    chance : float or None
        Bound on the chance that it would seem so much better though no simpler way is: its
        one-sided p-value, paired over events, times the number of ways, since the best of them was
        picked. None with fewer than eight events.
    fallback : str
        What the setting fell back to; "" where the design stands.
    """

    setting: str
    settled: int
    events: int
    error: dict[str, float | None]
    beaten_by: str | None
    chance: float | None
    fallback: str


@dataclass(frozen=True)
class Evaluation:
    """Errors of the design and of simpler ways on events left out.

    Parameters
    ----------
    events, folds, settled : int
        Events, folds of whole events, and settled sessions judged.
    settings : tuple of SettingErrors
        One a setting.
    overall : dict of str to float or None
        Mean over all judged values of the absolute error in steps of the setting.
    """

    events: int
    folds: int
    settled: int
    settings: tuple[SettingErrors, ...]
    overall: dict[str, float | None]

    def to_json(self) -> dict[str, Any]:
        """Return the same as plain values that JSON can hold.

        Returns
        -------
        dict
            Keys `events`, `folds`, `settled`, `overall`, `settings`.
        """
        return {
            "events": self.events,
            "folds": self.folds,
            "settled": self.settled,
            "overall": dict(self.overall),
            "settings": [{**vars(one), "error": dict(one.error)} for one in self.settings],
        }


def evaluate(
    sessions: Sessions,
    knowledge: Knowledge,
    *,
    model: Model | None = None,
    progress: Progress | None = None,
    n_jobs: int | None = 1,
    forest: bool = True,
) -> Evaluation:
    """Leave whole events out, and measure the design and simpler ways on them.

    Parameters
    ----------
    sessions : Sessions
        A season.
    knowledge : Knowledge
        Rules and settings.
    model : Model, optional
        What `train` made of the same season and knowledge; trained here if not given.
    progress : callable, optional
        Called with what is being done, how much is done and how much there is.
    n_jobs : int, optional
        Folds at once, in joblib's sense. The result does not depend on it.
    forest : bool, optional
        Whether to ask random forests, by far the slowest.

    Returns
    -------
    Evaluation
        Errors for each setting and overall. Those of the design are before any fallback.

    Notes
    -----
    The reach of past sessions and the number of neighbours are chosen on the folds they are then
    judged on, each alike; amounts, habits, neighbours and trees of a fold never see its events.
    """
    tell = progress or (lambda what, done, total: None)
    model = train(sessions, knowledge, n_jobs=n_jobs) if model is None else model
    names = [name for name in ALTERNATIVES if forest or name != "random forest"]
    if len(sessions) == 0:
        nothing = dict.fromkeys((DESIGN, *names))
        silent = [SettingErrors(s, 0, 0, nothing, None, None, "") for s in knowledge.setting]
        return Evaluation(0, 0, 0, tuple(silent), nothing)
    left_out = left_out_errors(model, n_jobs=n_jobs)
    folds = _Folds.of(model, sessions, left_out.rows)
    errors = {
        DESIGN: left_out.design,
        "rules as written": left_out.written,
        "rider's mean": left_out.riders_mean,
        "amounts only": left_out.amounts_only,
    }
    for name in names:
        if name in _ASKED:
            left = folds.errors(name, knowledge, n_jobs, tell)
            errors[name] = left if left.ndim == 2 else _best_trials(left)
    return _evaluation(model, {name: errors[name] for name in (DESIGN, *names)}, left_out.rows)


@dataclass(frozen=True)
class _Folds:
    """Settled setups to learn from and to judge by, with their folds."""

    seen: Cases
    seen_fold: Integers
    asked: Cases
    asked_fold: Integers

    @classmethod
    def of(cls, model: Model, sessions: Sessions, rows: Integers) -> _Folds:
        """Take the folds of a model; judge by some of its sessions."""
        fold_of_event = np.zeros(len(model.event_name), dtype=np.int64)
        fold_of_event[model.event] = model.fold
        seen = cases_of(sessions)
        settled = np.where(model.settled[rows], model.target[rows], np.nan)
        return cls(
            seen=seen,
            seen_fold=fold_of_event[seen.sessions.event],
            asked=Cases(sessions.taken(rows), settled),
            asked_fold=model.fold[rows],
        )

    def errors(self, name: str, knowledge: Knowledge, n_jobs: int | None, tell: Progress) -> Floats:
        """Ask a way fold by fold; return values less its answers, all its trials if it has any."""
        folds = np.unique(self.asked_fold).tolist()

        def tasks() -> Iterator[dict[str, Any]]:
            for done, k in enumerate(folds):
                tell(name, done, len(folds))
                yield {
                    "seen": self.seen.taken(self.seen_fold != k),
                    "asked": self.asked.taken(self.asked_fold == k),
                    "knowledge": knowledge,
                }

        answers = run_each(_ASKED[name], tasks(), n_jobs=n_jobs)
        tell(name, len(folds), len(folds))
        result = np.full((*answers[0].shape[:-2], *self.asked.settled.shape), np.nan)
        for k, answer in zip(folds, answers, strict=True):
            here = self.asked_fold == k
            result[..., here, :] = self.asked.settled[here] - answer
        return result


def _ask_venue(*, seen: Cases, asked: Cases, knowledge: Knowledge) -> Floats:
    return same_venue_last_time(seen, asked.sessions)


def _ask_nearest(*, seen: Cases, asked: Cases, knowledge: Knowledge) -> Floats:
    return nearest_sessions(seen, asked, knowledge)


def _ask_forest(*, seen: Cases, asked: Cases, knowledge: Knowledge) -> Floats:
    return random_forest(seen, asked, knowledge)


_ASKED: dict[str, Ask] = {
    "same venue last time": _ask_venue,
    "k-nearest sessions": _ask_nearest,
    "random forest": _ask_forest,
}


def _best_trials(errors: Floats) -> Floats:
    """Return the errors of each setting's best trial."""
    total = np.where(np.isfinite(errors), np.abs(errors), 0.0).sum(axis=1)
    best = np.argmin(total, axis=0)
    chosen: Floats = np.take_along_axis(errors, best[None, None, :], axis=0)[0]
    return chosen


def _evaluation(model: Model, errors: dict[str, Floats], rows: Integers) -> Evaluation:
    """Sum the errors up."""
    event = model.event[rows]
    return Evaluation(
        events=len(np.unique(model.event)),
        folds=model.n_folds,
        settled=len(rows),
        settings=tuple(
            _of_setting(
                setting,
                {name: error[:, [s]] for name, error in errors.items()},
                event,
                FALLBACKS[model.fallback[s]],
            )
            for s, setting in enumerate(model.setting)
        ),
        overall={name: _mean(np.abs(error) / model.step) for name, error in errors.items()},
    )


def _of_setting(
    setting: str, errors: dict[str, Floats], event: Integers, fallback: str
) -> SettingErrors:
    """Sum the errors of one setting up."""
    mean = {name: _mean(np.abs(error)) for name, error in errors.items()}
    known = np.isfinite(errors[DESIGN][:, 0])
    events = len(np.unique(event[known]))
    size = {name: np.inf if value is None else value for name, value in mean.items()}
    best = min(size, key=lambda name: size[name])
    beaten = size[best] < size[DESIGN]
    chance = None
    if beaten and events >= FEWEST_EVENTS:
        alone = float(chances_of_no_gain(errors[DESIGN], errors[best], event)[0])
        chance = min(1.0, alone * (len(errors) - 1))
    return SettingErrors(
        setting=setting,
        settled=int(known.sum()),
        events=events,
        error=mean,
        beaten_by=best if beaten else None,
        chance=chance,
        fallback=fallback,
    )


def _mean(values: Floats) -> float | None:
    """Mean of what is known; None where nothing is."""
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else None
