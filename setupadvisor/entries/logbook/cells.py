"""Cells of the season's table as the book keeps them: as numbers where nothing is lost by it."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from functools import cache
from typing import Any

from setupadvisor.entries.files import entry_from
from setupadvisor.entries.logbook.records import Cell
from setupadvisor.entries.quantity import Entry, alias_without_unit, entry_fields
from setupadvisor.entries.walk import Walk
from setupadvisor.entries.yaml_file import Document, KeyPath

# More digits than every number keeps are kept as text.
_MOST_DIGITS = 15
_LISTED = re.compile(r"^(.*)\.(\d+)\.([^.]+)$", re.ASCII)
_MOST_PLACES = 40
# Columns of the table by themselves, not of the walk.
_OWN_COLUMNS = {"walk.event", "walk.date", "walk.venue"}


def cell_from_text(text: str) -> Cell:
    """Read a cell of a CSV so that `text_from_cell` gives back the same text.

    Parameters
    ----------
    text : str
        As it stands in the table.

    Returns
    -------
    int, float or str
        A number where it is written as Python writes it, else the text.

    Examples
    --------
    >>> [cell_from_text(text) for text in ("19", "1.5", "1.50", "clay_loam", "inf")]
    [19, 1.5, '1.50', 'clay_loam', 'inf']
    """
    if len(text) > _MOST_DIGITS or not text[-1:].isdigit():
        return text
    for kind in (int, float):
        try:
            number = kind(text)
        except ValueError:
            continue
        if str(number) == text and math.isfinite(number):
            return number
    return text


def plain_number(cell: object) -> float:
    """Read a number that is written as nothing but a number.

    Parameters
    ----------
    cell : object
        A cell.

    Returns
    -------
    float
        NaN where it is anything else.

    Examples
    --------
    >>> plain_number("48.14"), plain_number("48.14 s"), plain_number("4_8")
    (48.14, nan, nan)
    """
    if isinstance(cell, str):
        # Python reads 4_8 and the digits of other scripts too.
        if not cell.isascii() or "_" in cell:
            return math.nan
        try:
            return float(cell)
        except ValueError:
            return math.nan
    return cell if isinstance(cell, float) else math.nan


def text_from_cell(cell: Cell | None) -> str:
    """Write a cell as text.

    Parameters
    ----------
    cell : Cell or None
        None where nothing was entered.

    Returns
    -------
    str
        As it stands in a CSV.

    Examples
    --------
    >>> [text_from_cell(cell) for cell in (19, 1.5, "clay_loam", None)]
    ['19', '1.5', 'clay_loam', '']
    """
    return "" if cell is None else str(cell)


def dumped(content: Mapping[str, Any] | list[Any] | tuple[Any, ...]) -> str:
    """Write a record as JSON, the same text for the same content.

    Parameters
    ----------
    content : mapping, list or tuple
        What JSON can hold.

    Returns
    -------
    str
        Without spaces.

    Examples
    --------
    >>> dumped({"setting": 4.0})
    '{"setting":4.0}'
    """
    return json.dumps(content, ensure_ascii=False, separators=(",", ":"))


def setup_cells(names: str, values: str) -> dict[str, Cell]:
    """Give a setup by setting.

    Parameters
    ----------
    names, values : str
        JSON lists: of the settings, and of what they were set to, null where nothing was entered.

    Returns
    -------
    dict of str to Cell
        What was entered.

    Examples
    --------
    >>> setup_cells('["fork_air","race_sag"]', "[null,104]")
    {'race_sag': 104}
    """
    named = zip(_names(names), json.loads(values), strict=True)
    return {name: cell for name, cell in named if cell is not None}


@cache
def _names(written: str) -> tuple[str, ...]:
    return tuple(json.loads(written))


def entry_content(entry: Entry) -> dict[str, Any]:
    """Give what was written in an entry, as JSON can hold it.

    Parameters
    ----------
    entry : Entry
        Any entry.

    Returns
    -------
    dict
        By the keys of its file; numbers in their fields' own units.

    Examples
    --------
    >>> entry_content(Walk.model_validate({"event": "Invented", "date": "2026-05-17"}))
    {'event': 'Invented', 'date': '2026-05-17'}
    """
    written = entry.model_dump(by_alias=True, exclude_unset=True)
    content: dict[str, Any] = json.loads(json.dumps(written, default=str))
    return content


def without_place(column: str) -> str:
    """Name the field of a column inside a list.

    Parameters
    ----------
    column : str
        A column's name.

    Returns
    -------
    str
        Without the place in the list.

    Examples
    --------
    >>> without_place("walk.jumps.2.gap_m")
    'walk.jumps.gap_m'
    """
    listed = _LISTED.match(column)
    return f"{listed[1]}.{listed[3]}" if listed else column


def is_walk_column(column: str) -> bool:
    """Say whether a column of the table belongs to the walk.

    Parameters
    ----------
    column : str
        Its name.

    Returns
    -------
    bool
        True for the fields of a walk except those that are columns by themselves.

    Examples
    --------
    >>> is_walk_column("walk.jumps.2.gap_m"), is_walk_column("walk.colour")
    (True, False)
    """
    listed = _LISTED.match(column)
    field = entry_fields(Walk, "walk").get(without_place(column))
    if field is None or field.listed != bool(listed) or column in _OWN_COLUMNS:
        return False
    return listed is None or 1 <= int(listed[2]) <= _MOST_PLACES


def walk_cells(walk: Walk) -> dict[str, Cell]:
    """Lay a walk out as cells by column.

    Parameters
    ----------
    walk : Walk
        The walk.

    Returns
    -------
    dict of str to Cell
        Without event and date, which are kept beside it.
    """
    content = walk.model_dump(exclude_none=True, exclude={"event", "date"})
    venue = content.pop("venue", None)
    cells: dict[str, Cell] = {} if venue is None else {"venue": venue}
    _lay_out("walk", content, cells)
    return cells


def _lay_out(path: str, node: Any, cells: dict[str, Cell]) -> None:
    if isinstance(node, dict):
        for name, value in node.items():
            _lay_out(f"{path}.{name}", value, cells)
    elif isinstance(node, list):
        for place, value in enumerate(node, 1):
            _lay_out(f"{path}.{place}", value, cells)
    else:
        cells[path] = int(node) if isinstance(node, float) and node.is_integer() else node


def walk_from_cells(event: str, date: str, cells: Mapping[str, Cell], source: str) -> Walk:
    """Read a walk from its cells.

    Parameters
    ----------
    event, date : str
        What stands beside the cells.
    cells : mapping of str to Cell
        By column.
    source : str
        Where they stand, for messages.

    Returns
    -------
    Walk
        The walk.

    Raises
    ------
    InputError
        If they cannot be true together; a table is not asked that.
    """
    content: dict[str, Any] = {"event": event, "date": date}
    lists: dict[str, dict[int, dict[str, Cell]]] = {}
    for column, cell in cells.items():
        if isinstance(cell, str) and not cell.strip():
            continue
        listed = _LISTED.match(column)
        if listed:
            items = lists.setdefault(listed[1].removeprefix("walk."), {})
            items.setdefault(int(listed[2]), {})[alias_without_unit(listed[3])] = cell
            continue
        *groups, name = column.removeprefix("walk.").split(".")
        node = content
        for group in groups:
            node = node.setdefault(group, {})
        node[alias_without_unit(name)] = cell
    for name, items in lists.items():
        content[name] = [items.get(place, {}) for place in range(1, max(items) + 1)]
    return entry_from(one_line_document(source, content), Walk)


def one_line_document(source: str, content: Any) -> Document:
    """Make a document of what was not read from a file of several lines.

    Parameters
    ----------
    source : str
        Where it stands, for messages.
    content : Any
        Keys and values, as read from YAML.

    Returns
    -------
    Document
        Messages name its keys.
    """
    document = Document(source, content)
    _all_on_one_line(content, (), document.lines)
    return document


def _all_on_one_line(node: Any, path: KeyPath, lines: dict[KeyPath, int]) -> None:
    """Let every key be known, so that a message can name it."""
    lines[path] = 1
    parts = node.items() if isinstance(node, dict) else enumerate(node)
    for part, value in parts:
        lines[(*path, part)] = 1
        if isinstance(value, dict | list):
            _all_on_one_line(value, (*path, part), lines)
