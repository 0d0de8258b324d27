"""The words of the command `log`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

KINDS = ("walk", "rider", "machine", "setup")
VERDICTS = ("better", "same", "worse")


def add_log_words(parser: Any) -> None:
    """Add what can be said after `setupadvisor log`.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of the command.
    """
    parts = parser.add_subparsers(
        dest="part", metavar="WHAT", required=True, help="what to do with the book"
    )
    _entries(parts)
    _outing(parts)
    _note(parts)
    _withdraw(parts)
    _laps(parts)
    _show(parts)
    _exchange(parts)


def _part(parts: Any, name: str, summary: str, *, writes: bool = True) -> Any:
    parser = parts.add_parser(
        name, help=summary, description=f"{summary[:1].upper()}{summary[1:]}."
    )
    parser.add_argument(
        "--book",
        metavar="FILE|URL",
        help="the book: a file, or postgresql://user@server/database (SETUPADVISOR_BOOK, else "
        "logbook.book in your data folder)",
    )
    if writes:
        parser.add_argument("--who", metavar="NAME", help="who writes (your name on this computer)")
    return parser


def _entries(parts: Any) -> None:
    parser = _part(parts, "add", "write walks, riders, machines or setup sheets into the book")
    parser.add_argument("kind", choices=KINDS, help="what the files are")
    parser.add_argument("files", type=Path, nargs="+", metavar="FILE", help="entry files")
    parser.add_argument(
        "--part",
        dest="part_of_day",
        default="",
        metavar="NAME",
        help="part of the day, for a second walk of a day",
    )


def _outing(parts: Any) -> None:
    parser = _part(parts, "outing", "write one outing into the book")
    parser.add_argument("--event", metavar="NAME", help="event (that of the last walk or outing)")
    parser.add_argument("--rider", metavar="NAME", help="rider (needed where the book knows more)")
    parser.add_argument("--machine", metavar="NAME", help="machine (the rider's last)")
    parser.add_argument("--date", metavar="DAY", help="day, as in 2026-05-17 (the walk's)")
    parser.add_argument("--time", default="", metavar="TIME", help="when it began")
    parser.add_argument("--session", default="", metavar="NAME", help="its name (made up)")
    parser.add_argument(
        "--part",
        dest="part_of_day",
        default="",
        metavar="NAME",
        help="part of the day, as given with its walk",
    )
    parser.add_argument("--setup", type=Path, metavar="FILE", help="what was on the motorcycle")
    parser.add_argument(
        "--set",
        nargs="+",
        action="extend",
        default=[],
        metavar="SETTING=VALUE",
        help="what was changed since the rider's last outing",
    )
    parser.add_argument("--why", default="", metavar="TEXT", help="why it was changed")
    parser.add_argument("--for", dest="remark_id", default="", metavar="ID", help="remark or rule")
    _said_of_it(parser)
    parser.add_argument("--laps", nargs="+", default=[], metavar="TIME", help="lap times in order")
    parser.add_argument("--correct", action="store_true", help="correct an outing of that name")


def _said_of_it(parser: Any) -> None:
    parser.add_argument("--mark", type=float, metavar="N", help="the rider's mark, 1 to 5")
    parser.add_argument("--best-lap", metavar="TIME", help="best lap, seconds or m:ss.mmm")
    parser.add_argument(
        "--remark",
        action="append",
        default=[],
        metavar="TEXT",
        help="what the rider said; may be given again",
    )
    parser.add_argument(
        "--verdict", choices=VERDICTS, help="whether what was changed before it helped"
    )


def _note(parts: Any) -> None:
    parser = _part(parts, "note", "add mark, remarks or a verdict to an outing, or correct them")
    parser.add_argument("session", metavar="SESSION", help="the outing's name")
    _said_of_it(parser)
    parser.add_argument(
        "--replace-remark", type=int, metavar="N", help="put the remark in place of the Nth"
    )


def _withdraw(parts: Any) -> None:
    parser = _part(parts, "withdraw", "take outings out of the season; the book still shows them")
    parser.add_argument("sessions", nargs="+", metavar="SESSION", help="the outings' names")


def _laps(parts: Any) -> None:
    parser = _part(parts, "laps", "write a lap table into the book")
    parser.add_argument("table", type=Path, metavar="FILE", help="CSV with session_id and lap_s")
    parser.add_argument("--correct", action="store_true", help="replace the laps that are there")


def _show(parts: Any) -> None:
    parser = _part(parts, "show", "show the events, or what happened at one", writes=False)
    parser.add_argument("--event", metavar="NAME", help="one event")
    parser.add_argument("--rider", metavar="NAME", help="one rider")
    parser.add_argument(
        "--history", action="store_true", help="every version ever written: who, what, when"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def _exchange(parts: Any) -> None:
    parser = _part(parts, "import", "write a season's table into the book")
    parser.add_argument("season", type=Path, metavar="SEASON", help="CSV or Parquet table")
    parser.add_argument("--machine", type=Path, metavar="FILE", help="machine file")
    parser.add_argument(
        "--leave-out-bad-rows", action="store_true", help="list faulty rows and go on without them"
    )
    parser.add_argument(
        "--correct", action="store_true", help="correct sessions that are in the book"
    )
    parser = _part(parts, "export", "write the season as CSV or Parquet", writes=False)
    parser.add_argument("file", type=Path, metavar="FILE", help="the table to write")
    parser.add_argument(
        "--laps", action="store_true", help="the laps instead, as a table for the command laps"
    )
    parser.add_argument("--replace", action="store_true", help="replace a file that is there")
    parser = _part(parts, "backup", "copy the whole book into one file, also in use", writes=False)
    parser.add_argument("file", type=Path, metavar="FILE", help="the copy to write")
    parser.add_argument("--replace", action="store_true", help="replace a file that is there")
