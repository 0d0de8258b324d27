"""The mistakes of a whole table, told so that a person reads them to the end."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from setupadvisor.errors import Mistake

# The same mistake in more rows than this is told once, with the other lines.
MOST_ALIKE = 3
MOST_LINES = 5
# Of more different mistakes in one column nobody reads the end.
MOST_A_COLUMN = 20


def listed(mistakes: Iterable[Mistake], source: str) -> list[Mistake]:
    """Order a table's mistakes by line, and tell once what stands in many rows.

    Parameters
    ----------
    mistakes : iterable of Mistake
        One for each faulty cell or row, in the order in which they were noticed.
    source : str
        The table's name, with which each place begins.

    Returns
    -------
    list of Mistake
        By line; each column's first `MOST_A_COLUMN`, and how many come on top of those.

    Examples
    --------
    >>> rows = [Mistake(f"season.csv:{line} mark", "'9' cannot be right", "write 1 to 5")
    ...         for line in range(2, 30)]
    >>> print(*listed(rows, "season.csv"))
    season.csv:2 mark: '9' cannot be right (also on lines 3, 4, 5, 6, 7 and 22 more); write 1 to 5
    """
    alike: dict[tuple[str, str, str], list[_Told]] = {}
    for order, mistake in enumerate(mistakes):
        line, column = _place(mistake.where, source)
        same = (column, mistake.found, mistake.mend)
        alike.setdefault(same, []).append(((line, order), mistake))
    columns: dict[str, list[_Told]] = {}
    for (column, _, _), group in alike.items():
        columns.setdefault(column, []).extend(_together(sorted(group, key=_by_line)))
    result: list[_Told] = []
    rest: list[Mistake] = []
    for column, found in columns.items():
        found.sort(key=_by_line)
        result.extend(found[:MOST_A_COLUMN])
        if len(found) > MOST_A_COLUMN:
            words = f"{len(found) - MOST_A_COLUMN} further mistakes are not listed"
            rest.append(Mistake(f"{source} {column}".rstrip(), words, "mend these first"))
    return [mistake for _, mistake in sorted(result, key=_by_line)] + rest


# Line and order of notice, and the mistake.
_Told = tuple[tuple[int, int], Mistake]


def _by_line(told: _Told) -> tuple[int, int]:
    return told[0]


def _together(group: list[_Told]) -> list[_Told]:
    if len(group) <= MOST_ALIKE:
        return group
    (place, first), *others = group
    lines = ", ".join(str(line) for (line, _), _ in others[:MOST_LINES])
    more = f" and {len(others) - MOST_LINES} more" if len(others) > MOST_LINES else ""
    word = "in rows" if " row " in first.where else "on lines"
    return [(place, replace(first, found=f"{first.found} (also {word} {lines}{more})"))]


def _place(where: str, source: str) -> tuple[int, str]:
    place = re.fullmatch(r"(?::| row )(\d+)(?: (.*))?", where.removeprefix(source), re.DOTALL)
    return (int(place[1]), place[2] or "") if place else (0, where)
