"""Where the logbook is: a file, a team's server, or the user's own data folder."""

from __future__ import annotations

import os
import sys
from pathlib import Path

BOOK_VARIABLE = "SETUPADVISOR_BOOK"
SUFFIX = ".book"


def is_server(where: str | Path) -> bool:
    """Say whether a book is on a server.

    Parameters
    ----------
    where : str or pathlib.Path
        A path or an address.

    Returns
    -------
    bool
        True for an address such as ``postgresql://server/team``.

    Examples
    --------
    >>> is_server("postgresql://server/team"), is_server("season.book")
    (True, False)
    """
    return isinstance(where, str) and "://" in where


def is_book(where: str | Path) -> bool:
    """Say whether something named on the command line is a logbook, without opening it.

    Parameters
    ----------
    where : str or pathlib.Path
        A path or an address.

    Returns
    -------
    bool
        True for addresses of servers and for names that end in ``.book``.

    Examples
    --------
    >>> is_book("team.book"), is_book("season.csv")
    (True, False)
    """
    return is_server(where) or Path(where).suffix.lower() == SUFFIX


def chosen_book(where: str | Path | None) -> str | Path:
    """Choose the book: the one named, else the environment's, else the user's own.

    Parameters
    ----------
    where : str, pathlib.Path or None
        As given with ``--book``.

    Returns
    -------
    str or pathlib.Path
        An address, or a path.
    """
    named = where or os.environ.get(BOOK_VARIABLE) or _data_folder() / f"logbook{SUFFIX}"
    return named if is_server(named) else Path(named).expanduser()


def _data_folder() -> Path:
    """Where the platform keeps a user's data (XDG Base Directory Specification on Linux)."""
    home = Path.home()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = home / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_DATA_HOME") or home / ".local" / "share")
    return base / "setupadvisor"
