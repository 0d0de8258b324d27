"""Cases laid out as rows: facts, degrees, wishes and sheets of all of them at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from setupadvisor.advice.consult import DEGREE_OF_A_TASK
from setupadvisor.advice.fitting import fit_all
from setupadvisor.advice.workshop import Situations, Workshop, rules_alone, situations
from setupadvisor.facts.columns import Columns, columns_from_entries
from setupadvisor.facts.table import FactTable
from setupadvisor.facts.valid_range import FloatArray
from setupadvisor.rulebook.cases import Case


@dataclass(frozen=True)
class Bench:
    """Cases of one machine laid out as rows.

    Parameters
    ----------
    workshop : Workshop
        The machine and its rules.
    conditions : list of dict of str to numpy.ndarray
        One row's columns for each case.
    found : Situations
        Facts, degrees and house values, a row for each case.
    wishes : numpy.ndarray, shape (cases, settings)
        House values and rules as written, before fitting.
    """

    workshop: Workshop
    conditions: list[Columns]
    found: Situations
    wishes: FloatArray
    _sheets: dict[tuple[int, bool], dict[str, float]] = field(default_factory=dict)

    def sheet(self, row: int, *, of_house: bool) -> dict[str, float]:
        """Fit a row's wishes, or its house values, to what can be set."""
        key = (row, of_house)
        if key not in self._sheets:
            values = (self.found.house if of_house else self.wishes)[row].tolist()
            wishes = dict(zip(self.workshop.settings, values, strict=True))
            self._sheets[key] = fit_all(self.workshop.machine, wishes)[0]
        return self._sheets[key]

    def alone(self, row: int) -> Situations:
        """Give one row's situation by itself."""
        found, one = self.found, slice(row, row + 1)
        facts = FactTable(found.facts.values[:, one], ())
        return Situations(facts, found.low[:, one], found.high[:, one], found.house[one])

    def tasks(self, row: int, kind: str) -> dict[str, str]:
        """Give what is asked for in a row: each task with the rule that asks."""
        asked = np.flatnonzero(self.found.low[:, row] >= DEGREE_OF_A_TASK)
        rules = [self.workshop.rulebase.rules[place] for place in asked]
        return {
            text: rule.id
            for rule in rules
            for text in (rule.prepare if kind == "prepare" else rule.watch)
        }


def lay_out(workshop: Workshop, cases: Sequence[Case]) -> Bench:
    """Work out facts, degrees and wishes of cases, all at once.

    Parameters
    ----------
    workshop : Workshop
        Their machine and its rules.
    cases : sequence of Case
        The cases.

    Returns
    -------
    Bench
        A row for each case.
    """
    conditions = [columns_from_entries(case.walk, case.rider) for case in cases]
    found = situations(workshop, stacked(conditions), len(cases))
    return Bench(workshop, conditions, found, rules_alone(workshop, found))


def stacked(rows: Sequence[Columns]) -> Columns:
    """Put rows of columns under each other.

    Parameters
    ----------
    rows : sequence of dict of str to numpy.ndarray
        Columns of length one each, with any number of places in lists.

    Returns
    -------
    dict of str to numpy.ndarray
        Columns of their number; NaN where a row has nothing.

    Examples
    --------
    >>> stacked([{"walk.jumps.gap_m": np.array([[4.0, 9.0]])}, {}])["walk.jumps.gap_m"].tolist()
    [[4.0, 9.0], [nan, nan]]
    """
    result: Columns = {}
    for path in dict.fromkeys(path for row in rows for path in row):
        shape = max(row[path].shape[1:] for row in rows if path in row)
        column = np.full((len(rows), *shape), np.nan)
        for place, row in enumerate(rows):
            if path in row:
                values = row[path][0]
                if column.ndim > 1:
                    column[place, : len(values)] = values
                else:
                    column[place] = values
        result[path] = column
    return result
