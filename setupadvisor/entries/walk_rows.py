"""Many walks as rows of a table: what is to be ridden, not what was."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from setupadvisor.entries.machine import Machine
from setupadvisor.entries.messages import shown
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.season import add_riders
from setupadvisor.entries.season_reader import FloatArray, Names, SeasonReader
from setupadvisor.errors import InputError, Mistake

if TYPE_CHECKING:
    import pandas as pd

NEEDED_OF_A_WALK = ("event", "date")
# Copied from a table of walks beside what is advised for them.
NAMED = ("session_id", "event", "date", "venue", "rider")


@dataclass(frozen=True)
class WalkRows:
    """Walks as columns of equal length.

    Parameters
    ----------
    names : dict of str to numpy.ndarray of str, shape (n,)
        Those of `NAMED` that the table has.
    venue, rider : numpy.ndarray of str, shape (n,)
        Empty where not entered.
    day : numpy.ndarray, shape (n,)
        Days since 1970-01-01.
    conditions : dict of str to numpy.ndarray
        Walk and rider columns, as in `Season`.
    notices : tuple of str
        What was ignored.
    """

    names: dict[str, Names]
    venue: Names
    rider: Names
    day: FloatArray
    conditions: dict[str, FloatArray]
    notices: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.day)

    def take(self, rows: NDArray[np.bool_]) -> WalkRows:
        """Keep some rows.

        Parameters
        ----------
        rows : numpy.ndarray of bool, shape (n,)
            Which.

        Returns
        -------
        WalkRows
            With those rows.
        """
        return replace(
            self,
            names={name: column[rows] for name, column in self.names.items()},
            venue=self.venue[rows],
            rider=self.rider[rows],
            day=self.day[rows],
            conditions={path: column[rows] for path, column in self.conditions.items()},
        )


def read_walks(
    frame: pd.DataFrame,
    source: str,
    machine: Machine,
    riders: Mapping[str, Rider],
    known_riders: Iterable[str] = (),
) -> tuple[WalkRows, list[Mistake]]:
    """Read walks from rows of a table; what was set and how it went may stand there too.

    Parameters
    ----------
    frame : pandas.DataFrame
        Columns as in a season; of them only event and date must be there.
    source : str
        The name to use in messages.
    machine : Machine
        What is to be set up; rows that name another one are faulty.
    riders : mapping of str to Rider
        Riders by name.
    known_riders : iterable of str
        Further riders whose names are right, such as those of a model.

    Returns
    -------
    tuple of WalkRows and list of Mistake
        The sound rows, and what is wrong with the others, one for each cell.

    Raises
    ------
    InputError
        If a column that is needed is not there.
    """
    absent = [name for name in NEEDED_OF_A_WALK if name not in frame.columns]
    if absent:
        needed = " and ".join(NEEDED_OF_A_WALK)
        found = f"no column {', '.join(absent)}"
        raise InputError(Mistake(source, found, f"a table of walks needs {needed}"))
    reader = SeasonReader(frame, source, (*NAMED, "machine"))
    reader.used |= {name for name in frame.columns if name.startswith("setup.")}
    reader.text("event")
    venue = reader.text("venue", needed=False)
    rider = reader.text("rider", needed=False)
    day = reader.days()
    conditions = reader.conditions()
    told = reader.riders_in_table(rider, conditions)
    reader.refuse_unknown(
        rider,
        {**riders, **dict.fromkeys(told), **dict.fromkeys(known_riders)},
        "rider",
        "add the rider's file, or columns rider.mass_kg and so on, or leave the cell empty",
    )
    _refuse_other_machines(reader, machine)
    add_riders(conditions, rider, riders)
    walks = WalkRows(
        names={name: reader.cells(name) for name in NAMED if name in frame.columns},
        venue=venue,
        rider=rider,
        day=day,
        conditions=conditions,
        notices=reader.notices(),
    )
    return walks.take(~reader.faulty), reader.mistakes


def _refuse_other_machines(reader: SeasonReader, machine: Machine) -> None:
    if "machine" not in reader.frame.columns:
        return
    cells = reader.cells("machine")
    for row in np.flatnonzero((cells != "") & (cells != machine.name)):
        reader.blame(
            int(row),
            "machine",
            f"the walk is of {shown(cells[row])}, the model's machine is {machine.name}",
            "leave the row out, or give that machine and a model for it",
        )
