"""The parts of an archive as a store to learn from: one part in memory at a time.

Each task carries the path of a part and what was learnt so far, and returns sums or a few sessions.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from setupadvisor.learning.amount_sums import FoldSums, Totals, totals
from setupadvisor.learning.amounts import Spreads
from setupadvisor.learning.even_choice import Chosen, Events
from setupadvisor.learning.in_parts_part import (
    Part,
    past_of,
    rows_of_events,
    sessions_of,
    settled_rows_of,
)
from setupadvisor.learning.many_cores import run_in_turn
from setupadvisor.learning.model import Model
from setupadvisor.learning.past_sums import lookup_without
from setupadvisor.learning.sessions import Floats, Integers
from setupadvisor.learning.stores import (
    OF_SESSIONS,
    Judged,
    SumsOverPast,
    fold_sums,
    recorded,
    sizes,
)
from setupadvisor.learning.walk_tables import WalkTable


@dataclass(frozen=True)
class OnFiles:
    """Sessions in the files of parts.

    Parameters
    ----------
    events : Events
        Events of all parts, one part after another.
    parts : tuple of Part
        The parts, at least one.
    n_jobs : int, optional
        Parts at once, in joblib's sense.
    """

    events: Events
    parts: tuple[Part, ...]
    n_jobs: int | None = 1

    def judged(self, model: Model, chosen: Chosen) -> Judged:
        """Take some settled sessions out.

        Parameters
        ----------
        model : Model
            What was learnt.
        chosen : Chosen
            Which.

        Returns
        -------
        Judged
            Those; events are numbered over the archive.
        """
        tasks = (
            {
                "part": part,
                "learnt": model,
                "chosen": Chosen(chosen.event[some] - part.first_event, chosen.place[some]),
            }
            for part, some in self._by_part(chosen.event)
        )
        found = list(run_in_turn(judged_of_part, tasks, n_jobs=self.n_jobs))
        arrays: dict[str, Any] = {
            name: np.concatenate([one[name] for one in found]) for name in found[0]
        }
        rows, worth = arrays.pop("rows"), arrays.pop("worth")
        return Judged(replace(model, **arrays), rows, worth)

    def amount_totals(self, model: Model, events: Integers) -> list[Totals]:
        """Sum up some events, for each setting.

        Parameters
        ----------
        model : Model
            What was learnt.
        events : integer array
            Which, ascending.

        Returns
        -------
        list of Totals
            One a setting.
        """
        tasks = (
            {"part": part, "learnt": model, "events": events[some] - part.first_event}
            for part, some in self._by_part(events)
        )
        listed = list(run_in_turn(totals_of_part, tasks, n_jobs=self.n_jobs))
        return [Totals.joined(of_setting) for of_setting in zip(*listed, strict=True)]

    def amount_sums(self, model: Model, spreads: Sequence[Spreads]) -> list[FoldSums]:
        """Sum up all sessions, for each setting.

        Parameters
        ----------
        model : Model
            What was learnt.
        spreads : sequence of Spreads
            One a setting.

        Returns
        -------
        list of FoldSums
            One a setting.
        """
        tasks = ({"part": part, "learnt": model, "spreads": list(spreads)} for part in self.parts)
        found = run_in_turn(sums_of_part, tasks, n_jobs=self.n_jobs)
        summed = next(found)
        for more in found:
            summed = [one + other for one, other in zip(summed, more, strict=True)]
        return summed

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
            What was learnt.
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
            {
                "part": part,
                "learnt": model,
                "function": function,
                "asked": list(asked),
                "shared": shared,
            }
            for part in self.parts
        )
        found = run_in_turn(past_of_part, tasks, n_jobs=self.n_jobs)
        summed = next(found)
        for more in found:
            summed = [one + other for one, other in zip(summed, more, strict=True)]
        return summed

    def _by_part(self, events: Integers) -> Iterator[tuple[Part, slice]]:
        """Deal ascending events by part; one part at least, so that there are sums at all."""
        some = False
        for part in self.parts:
            ends = [part.first_event, part.first_event + part.n_events]
            start, stop = np.searchsorted(events, ends).tolist()
            if stop > start:
                some = True
                yield part, slice(start, stop)
        if not some:
            yield self.parts[0], slice(0, 0)


def judged_of_part(*, part: Part, learnt: Model, chosen: Chosen) -> dict[str, Any]:
    """Take some settled sessions out of a part.

    Parameters
    ----------
    part : Part
        The part.
    learnt : Model
        What was learnt.
    chosen : Chosen
        Which, by events of the part.

    Returns
    -------
    dict of str to array
        What a model holds of them, their `rows` in the archive, and their `worth`.
    """
    rows, worth = settled_rows_of(part, chosen)
    model = sessions_of(part, learnt, rows)
    arrays = {name: getattr(model, name) for name in OF_SESSIONS}
    arrays["event"] = arrays["event"] + part.first_event
    return {**arrays, "rows": rows + part.first_session, "worth": worth}


def totals_of_part(*, part: Part, learnt: Model, events: Integers) -> list[Totals]:
    """Sum up some events of a part, for each setting.

    Parameters
    ----------
    part : Part
        The part.
    learnt : Model
        What was learnt.
    events : integer array
        Events of the part.

    Returns
    -------
    list of Totals
        One a setting.
    """
    some = sessions_of(part, learnt, rows_of_events(part, events))
    return [totals(recorded(some, s), **sizes(learnt)) for s in range(len(learnt.setting))]


def sums_of_part(*, part: Part, learnt: Model, spreads: list[Spreads]) -> list[FoldSums]:
    """Sum up a part, for each setting.

    Parameters
    ----------
    part : Part
        The part.
    learnt : Model
        What was learnt.
    spreads : list of Spreads
        One a setting.

    Returns
    -------
    list of FoldSums
        One a setting.
    """
    model = sessions_of(part, learnt)
    return [
        fold_sums(recorded=recorded(model, s), spreads=chosen, sizes=sizes(learnt))
        for s, chosen in enumerate(spreads)
    ]


def past_of_part(
    *,
    part: Part,
    learnt: Model,
    function: SumsOverPast,
    asked: list[tuple[int, WalkTable]],
    shared: dict[str, Any],
) -> list[Floats]:
    """Sum up the past sessions of a part, for walks of some folds.

    Parameters
    ----------
    part : Part
        The part.
    learnt : Model
        What was learnt.
    function, asked, shared
        As for `OnFiles.past_without_folds`.

    Returns
    -------
    list of array
        What the function gives for each of `asked`.
    """
    model = past_of(part, learnt)
    return [
        function(asked=walks, past=model.past, table=lookup_without(model, k), **shared)
        for k, walks in asked
    ]
