"""What several commands take on the command line: kinds of words, and shared options."""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import Any

MOST_MINUTES = 100_000
MOST_ROWS = 10_000_000


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return math.nan


def minutes(text: str) -> float:
    """Read minutes.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    float
        From 0 to `MOST_MINUTES`.
    """
    value = _number(text)
    if not 0 <= value <= MOST_MINUTES:
        raise argparse.ArgumentTypeError(
            f"{text!r} minutes cannot be; give a number from 0 to {MOST_MINUTES}"
        )
    return value


def level(text: str) -> float:
    """Read the level of a range.

    Parameters
    ----------
    text : str
        As typed, a share or a percentage.

    Returns
    -------
    float
        From 0.5 to 0.99.
    """
    value = _number(text.rstrip("%")) / (100.0 if text.endswith("%") else 1.0)
    if not 0.5 <= value <= 0.99:
        raise argparse.ArgumentTypeError(f"{text!r} cannot be; give a level from 50% to 99%")
    return value


def jobs(text: str) -> int:
    """Read a number of processes.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    int
        1 or more, or -1 for all cores.
    """
    value = _number(text)
    if value != -1 and not (value >= 1 and value.is_integer()):
        raise argparse.ArgumentTypeError(f"{text!r} processes cannot be; give 1 or more, or -1")
    return int(value)


def rows(text: str) -> int:
    """Read a number of rows.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    int
        From 1 to `MOST_ROWS`.
    """
    count = int(text) if text.isdecimal() else 0
    if not 1 <= count <= MOST_ROWS:
        raise argparse.ArgumentTypeError(f"{text!r} rows cannot be; give 1 to {MOST_ROWS}")
    return count


def season(text: str) -> str | Path:
    """Read where a season is.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    str or pathlib.Path
        A server's address as it is: a path would make one stroke of the two in it.
    """
    return text if "://" in text else Path(text)


def add_machine(parser: Any) -> None:
    """Add the option that names the machine.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        The command's parser.
    """
    parser.add_argument(
        "--machine", type=Path, metavar="FILE", help="machine file (the bundled works-450)"
    )


def add_machine_and_rules(parser: Any) -> None:
    """Add the options that name the machine and a team's own rules.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        The command's parser.
    """
    add_machine(parser)
    parser.add_argument(
        "--rules",
        type=Path,
        action="append",
        default=[],
        metavar="FOLDER",
        help="your own rules on top of the bundled ones; may be given again",
    )


def add_level(parser: Any) -> None:
    """Add the option that asks for another level than the model's own.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        The command's parser.
    """
    parser.add_argument(
        "--level", type=level, metavar="P", help="level of the ranges, such as 80%% (the model's)"
    )


def add_leave_out(parser: Any) -> None:
    """Add the option that goes on without faulty rows.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        The command's parser.
    """
    parser.add_argument(
        "--leave-out-bad-rows",
        action="store_true",
        help="list faulty rows and go on without them, instead of stopping",
    )


def add_jobs_and_cluster(parser: Any) -> None:
    """Add the options that spread work over processes and machines.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        The command's parser.
    """
    parser.add_argument(
        "--jobs", type=jobs, default=1, metavar="N", help="processes to use (1; -1 for all cores)"
    )
    parser.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="Dask scheduler to send work to, or 'local' to start one here (extra cluster)",
    )


def add_json(parser: Any) -> None:
    """Add the option that prints JSON.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        The command's parser.
    """
    parser.add_argument("--json", action="store_true", help="print one JSON object")
