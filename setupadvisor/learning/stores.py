"""Where a model's sessions are while it learns: in memory, or in the parts of an archive.

All that learning needs of many sessions are sums over them and some of them. A store gives both;
what is made of them does not know where they came from.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np

from setupadvisor.learning.amount_sums import FoldSums, Recorded, Totals, totals
from setupadvisor.learning.amounts import Spreads, integrated
from setupadvisor.learning.even_choice import Chosen, Events, event_keys, events_of, settled_rows
from setupadvisor.learning.many_cores import run_each
from setupadvisor.learning.model import Model
from setupadvisor.learning.past_sums import lookup_without
from setupadvisor.learning.sessions import Floats, Integers
from setupadvisor.learning.touching import degrees_touching, touched
from setupadvisor.learning.walk_tables import WalkTable
from setupadvisor.learning.weights import age

# What a model holds of each session.
OF_SESSIONS = (
    "fields",
    "degrees",
    "target",
    "weight",
    "settled",
    "rider",
    "event",
    "venue",
    "fold",
    "day",
)
# `past_sums` or `trial_sums`: called with `asked`, `past`, `table` and more.
SumsOverPast = Callable[..., Floats]


@dataclass(frozen=True)
class Judged:
    """Sessions that a model is judged by: q of them.

    Parameters
    ----------
    model : Model
        The model with these sessions alone.
    rows : (q,) integer array
        Their rows in the store, ascending.
    worth : (q,) array
        What the rider's mark is worth.
    """

    model: Model
    rows: Integers
    worth: Floats


class Store(Protocol):
    """Sessions to learn from.

    Parameters
    ----------
    events : Events
        Their events.
    """

    @property
    def events(self) -> Events:
        """Their events."""

    def judged(self, model: Model, chosen: Chosen) -> Judged:
        """Take some settled sessions out."""

    def amount_totals(self, model: Model, events: Integers) -> list[Totals]:
        """Sum up some events, for each setting."""

    def amount_sums(self, model: Model, spreads: Sequence[Spreads]) -> list[FoldSums]:
        """Sum up all sessions, for each setting."""

    def past_without_folds(
        self,
        function: SumsOverPast,
        model: Model,
        asked: Sequence[tuple[int, WalkTable]],
        shared: dict[str, Any],
    ) -> list[Floats]:
        """Sum up the past sessions of the other folds, for walks of some folds."""


@dataclass(frozen=True)
class InMemory:
    """The sessions that the model itself holds.

    Parameters
    ----------
    events : Events
        Their events.
    worth : (n,) array
        What the rider's mark is worth.
    n_jobs : int, optional
        Settings or folds at once, in joblib's sense.
    """

    events: Events
    worth: Floats
    n_jobs: int | None = 1

    @classmethod
    def of(cls, model: Model, worth: Floats | None = None, n_jobs: int | None = 1) -> InMemory:
        """Look at the sessions of a model.

        Parameters
        ----------
        model : Model
            A model with its sessions.
        worth : (n,) array, optional
            What the rider's mark is worth; 1 if not given.
        n_jobs : int, optional
            Settings or folds at once.

        Returns
        -------
        InMemory
            The store.
        """
        events = events_of(
            key=event_keys(model.event_name),
            event=model.event,
            day=model.day,
            settled=model.settled_at_all,
            walk=model.walks.of_session,
        )
        return cls(events, np.ones(len(model.day)) if worth is None else worth, n_jobs)

    def judged(self, model: Model, chosen: Chosen) -> Judged:
        """Take some settled sessions out.

        Parameters
        ----------
        model : Model
            The model.
        chosen : Chosen
            Which.

        Returns
        -------
        Judged
            Those.
        """
        rows = np.sort(settled_rows(chosen, model.event, model.day, model.settled_at_all))
        return Judged(with_sessions(model, model, rows), rows, self.worth[rows])

    def amount_totals(self, model: Model, events: Integers) -> list[Totals]:
        """Sum up some events, for each setting.

        Parameters
        ----------
        model : Model
            The model.
        events : integer array
            Which.

        Returns
        -------
        list of Totals
            One a setting.
        """
        among = np.zeros(len(self.events.key), dtype=bool)
        among[events] = True
        rows = among[model.event]
        some = model if rows.all() else with_sessions(model, model, np.flatnonzero(rows))
        tasks = ({"recorded": recorded(some, s), **sizes(model)} for s in range(len(model.setting)))
        return run_each(totals, tasks, n_jobs=self.n_jobs)

    def amount_sums(self, model: Model, spreads: Sequence[Spreads]) -> list[FoldSums]:
        """Sum up all sessions, for each setting.

        Parameters
        ----------
        model : Model
            The model.
        spreads : sequence of Spreads
            One a setting.

        Returns
        -------
        list of FoldSums
            One a setting.
        """
        tasks = (
            {"recorded": recorded(model, s), "spreads": chosen, "sizes": sizes(model)}
            for s, chosen in enumerate(spreads)
        )
        return run_each(fold_sums, tasks, n_jobs=self.n_jobs)

    def past_without_folds(
        self,
        function: SumsOverPast,
        model: Model,
        asked: Sequence[tuple[int, WalkTable]],
        shared: dict[str, Any],
    ) -> list[Floats]:
        """Sum up the past sessions of the other folds, for walks of some folds.

        Parameters
        ----------
        function : callable
            `past_sums` or `trial_sums`.
        model : Model
            The model.
        asked : sequence of int and WalkTable
            Folds, and the walks asked about.
        shared : dict
            What else the function is called with.

        Returns
        -------
        list of array
            What it gives for each of `asked`.
        """
        tasks = (
            {"asked": walks, "past": model.past, "table": lookup_without(model, k), **shared}
            for k, walks in asked
        )
        return run_each(function, tasks, n_jobs=self.n_jobs)


def with_sessions(model: Model, source: Model, rows: Integers | slice) -> Model:
    """Return a model with other sessions.

    Parameters
    ----------
    model : Model
        What was learnt.
    source : Model
        Where the sessions are.
    rows : integer array or slice
        Which of them.

    Returns
    -------
    Model
        What the one learnt, and the sessions of the other.
    """
    arrays: dict[str, Any] = {name: getattr(source, name)[rows] for name in OF_SESSIONS}
    return replace(model, **arrays)


def sizes(model: Model) -> dict[str, int]:
    """Say how many riders, folds and venues there are.

    Parameters
    ----------
    model : Model
        A model.

    Returns
    -------
    dict
        What `totals` is called with.
    """
    return {
        "n_riders": len(model.rider_name),
        "n_folds": model.n_folds,
        "n_venues": len(model.venue_name),
    }


def recorded(model: Model, s: int) -> Recorded:
    """Pick the sessions in which a setting was recorded.

    Parameters
    ----------
    model : Model
        A model with sessions.
    s : int
        The setting.

    Returns
    -------
    Recorded
        Those, with what the rules as written leave over.
    """
    degrees = degrees_touching(model.touching[s], model.counted_degrees)
    written = touched(model.amounts, model.touching)[s]
    of_all = Recorded(
        degrees=degrees,
        target=model.target[:, s] - degrees @ written,
        weight=model.weight[:, s] * age(model.last_day - model.day, model.half_life),
        rider=model.rider,
        event=model.event,
        venue=model.venue,
        fold=model.fold,
    )
    return of_all.taken(np.isfinite(of_all.target) & (of_all.weight > 0))


def fold_sums(*, recorded: Recorded, spreads: Spreads, sizes: dict[str, int]) -> FoldSums:
    """Sum up one setting, with its spreads chosen.

    Parameters
    ----------
    recorded : Recorded
        Sessions.
    spreads : Spreads
        Spreads.
    sizes : dict
        From `sizes`.

    Returns
    -------
    FoldSums
        What its posterior needs.
    """
    return integrated(totals(recorded, **sizes), spreads)
