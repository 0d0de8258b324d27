"""The words of the command line. Each command's code is imported only when it runs."""

from __future__ import annotations

import argparse
import importlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from setupadvisor.cli.log_arguments import add_log_words
from setupadvisor.cli.shared_words import (
    add_jobs_and_cluster,
    add_json,
    add_leave_out,
    add_level,
    add_machine,
    add_machine_and_rules,
    level,
    minutes,
    rows,
    season,
)

Runner = Callable[[argparse.Namespace], int]

EPILOG = """\
examples:
  setupadvisor demo
  setupadvisor walk my-track.yaml
  setupadvisor advise my-track.yaml --rider me.yaml --on-bike sheet.yaml --minutes 20
  setupadvisor retrain season.csv -o team.model
"""


def _runner(module: str) -> Callable[[], Runner]:
    def load() -> Runner:
        found: Runner = importlib.import_module(f"setupadvisor.cli.{module}").run
        return found

    return load


class _Version(argparse.Action):
    def __call__(self, parser: argparse.ArgumentParser, *_: Any, **__: Any) -> None:
        from importlib.metadata import version  # noqa: PLC0415 - slow, and only for this

        print(f"setupadvisor {version('setupadvisor')}")
        parser.exit()


def build_parser() -> argparse.ArgumentParser:
    """Build the parser of the whole command.

    Returns
    -------
    argparse.ArgumentParser
        Its options carry ``run``, which loads the command's code.
    """
    parser = argparse.ArgumentParser(
        prog="setupadvisor",
        description="Starting setups and next changes for off-road race motorcycles, with reasons.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", nargs=0, action=_Version, help="show the version")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    _demo(commands)
    _walk(commands)
    _advise(commands)
    _retrain(commands)
    _weigh(commands)
    _archive(commands)
    _bulk(commands)
    _next(commands)
    _facts(commands)
    _check(commands)
    _laps(commands)
    _log(commands)
    _schema(commands)
    _sheet(commands)
    return parser


def _add(commands: Any, name: str, module: str, summary: str, more: str = "") -> Any:
    parser = commands.add_parser(
        name,
        help=summary,
        description=f"{summary[:1].upper()}{summary[1:]}. {more}".strip(),
    )
    parser.set_defaults(run=_runner(module))
    return parser


def _demo(commands: Any) -> None:
    parser = _add(
        commands,
        "demo",
        "demo",
        "show the whole job on the bundled, invented season",
        "Needs no files and writes none.",
    )
    add_json(parser)


def _walk(commands: Any) -> None:
    parser = _add(
        commands,
        "walk",
        "walk",
        "ask for the track on the spot and write a walk file",
        "The questions that matter most come first; Enter skips one.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="the walk file to write")
    parser.add_argument(
        "--all", action="store_true", help="ask everything, not only what matters most"
    )
    parser.add_argument("--replace", action="store_true", help="replace a file that is there")


def _advise(commands: Any) -> None:
    parser = _add(commands, "advise", "advise", "give the setup and the changes for a walk")
    parser.add_argument("walk", type=Path, metavar="WALK", help="walk file")
    later = parser.add_mutually_exclusive_group()
    later.add_argument(
        "--at",
        metavar="TIME",
        help="later in the day: a name under `later` in the walk file, or a time such as '3 h'",
    )
    later.add_argument(
        "--then",
        type=Path,
        metavar="WALK2",
        help="a later walk: show what changed, and the changes from the first advice to it",
    )
    add_machine_and_rules(parser)
    parser.add_argument("--rider", type=Path, metavar="FILE", help="rider file")
    source = parser.add_mutually_exclusive_group()
    source.add_argument(
        "--model", type=Path, metavar="MODEL", help="model written by retrain, a file or a folder"
    )
    source.add_argument(
        "--season", type=season, metavar="FILE", help="season or logbook to learn from now"
    )
    parser.add_argument(
        "--on-bike", type=Path, metavar="FILE", help="setup file: what is on the motorcycle now"
    )
    parser.add_argument(
        "--minutes", type=minutes, metavar="N", help="time for changes (no limit if not given)"
    )
    add_level(parser)
    parser.add_argument(
        "--why", action="store_true", help="show the parts that each value is the sum of"
    )
    add_json(parser)


def _retrain(commands: Any) -> None:
    parser = _add(
        commands,
        "retrain",
        "retrain",
        "learn from a season and measure the error by event",
    )
    parser.add_argument(
        "season", type=season, metavar="SEASON", help="CSV or Parquet, logbook, or archive folder"
    )
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
        required=True,
        metavar="MODEL",
        help="model file to write; of an archive a folder",
    )
    add_machine_and_rules(parser)
    add_leave_out(parser)
    parser.add_argument(
        "--level", type=level, default=0.8, metavar="P", help="level of the ranges (80%%)"
    )
    add_jobs_and_cluster(parser)
    parser.add_argument(
        "--no-forest", action="store_true", help="skip the random forest, the slowest peer"
    )
    add_json(parser)


def _weigh(commands: Any) -> None:
    parser = _add(
        commands,
        "weigh",
        "weigh",
        "show what a season says about every rule",
        "Amount as written, amount the season supports with its range, and a verdict.",
    )
    parser.add_argument("model", type=Path, metavar="MODEL", help="model written by retrain")
    add_machine_and_rules(parser)
    parser.add_argument("--all", action="store_true", help="show silent rules too")
    parser.add_argument(
        "--level", type=level, default=0.9, metavar="P", help="level of the ranges (90%%)"
    )
    parser.add_argument(
        "--write",
        type=Path,
        metavar="FOLDER",
        help="write the supported amounts as a rule folder of your own",
    )
    parser.add_argument(
        "--plot", type=Path, metavar="FILE", help="draw them as PNG, SVG or PDF (extra plots)"
    )
    add_json(parser)


def _archive(commands: Any) -> None:
    parser = _add(
        commands,
        "archive",
        "archive",
        "make an archive of seasons, for more sessions than fit into memory",
        "A folder of Parquet files with whole events in each; retrain learns from it part by part.",
    )
    parser.add_argument(
        "seasons",
        type=Path,
        nargs="+",
        metavar="SEASON",
        help="CSV or Parquet tables, or archives, in the order in which they were ridden",
    )
    parser.add_argument(
        "-o", "--output", type=Path, required=True, metavar="FOLDER", help="the archive to make"
    )
    parser.add_argument(
        "--rows", type=rows, default=50_000, metavar="N", help="sessions of a part (50000)"
    )
    add_machine(parser)
    add_leave_out(parser)
    add_json(parser)


def _bulk(commands: Any) -> None:
    parser = _add(
        commands,
        "bulk",
        "bulk",
        "give the setup for every row of a table of walks",
        "Advised value, low and high end of each setting, in a table that is as long as need be.",
    )
    parser.add_argument(
        "table",
        type=Path,
        metavar="TABLE",
        help="walks, with columns as in a season: CSV, Parquet, or an archive's folder",
    )
    parser.add_argument(
        "-o",
        "--output",
        type=Path,
        required=True,
        metavar="OUT",
        help="table to write: CSV or Parquet by its ending, else a folder of Parquet files",
    )
    parser.add_argument(
        "--model", type=Path, required=True, metavar="MODEL", help="model written by retrain"
    )
    add_leave_out(parser)
    add_level(parser)
    add_machine_and_rules(parser)
    add_jobs_and_cluster(parser)


def _next(commands: Any) -> None:
    parser = _add(
        commands,
        "next",
        "next",
        "choose the next change after the rider's remarks",
        "One change at a time, and two behind it, by expected gain for each minute of work.",
    )
    parser.add_argument(
        "walk", type=Path, nargs="?", metavar="WALK", help="walk file; without one the logbook"
    )
    _book_day(parser)
    parser.add_argument(
        "--said",
        action="append",
        default=[],
        metavar="WORDS",
        help="the rider's own words, or a remark's id (from the logbook if not given)",
    )
    parser.add_argument(
        "--on-bike", type=Path, metavar="FILE", help="setup file: what is on the motorcycle now"
    )
    parser.add_argument(
        "--tried",
        action="append",
        default=[],
        metavar="CHANGE",
        help="what was tried today, such as 'shock_rebound_low 12 10 worse'; may be given again",
    )
    parser.add_argument("--minutes", type=minutes, metavar="N", help="time until the next outing")
    add_machine_and_rules(parser)
    add_json(parser)


def _book_day(parser: Any) -> None:
    parser.add_argument("--book", metavar="BOOK", help="logbook: a file, or a server's address")
    parser.add_argument("--event", metavar="NAME", help="event in the logbook")
    parser.add_argument(
        "--rider", metavar="NAME or FILE", help="rider in the logbook; with WALK a rider file"
    )


def _facts(commands: Any) -> None:
    parser = _add(
        commands,
        "facts",
        "facts",
        "show every fact of a walk: value, formula, source, and what it came from",
        "A missing fact is shown with the entries that would give it.",
    )
    parser.add_argument("walk", type=Path, metavar="WALK", help="walk file")
    parser.add_argument("--rider", type=Path, metavar="FILE", help="rider file")
    add_machine(parser)
    add_json(parser)


def _check(commands: Any) -> None:
    parser = _add(
        commands,
        "check",
        "check",
        "validate entries, seasons, models and rules",
        "Lists every mistake; without arguments checks the bundled rules.",
    )
    parser.add_argument(
        "paths", type=Path, nargs="*", metavar="FILE or FOLDER", help="what to check"
    )
    parser.add_argument("--machine", type=Path, metavar="FILE", help="machine file")
    parser.add_argument(
        "--strict", action="store_true", help="fail on findings of the review of rules too"
    )


def _schema(commands: Any) -> None:
    parser = _add(
        commands,
        "schema",
        "schema",
        "print the JSON Schema of a kind of file, for editors",
        "Without a name prints all of them as one object.",
    )
    parser.add_argument(
        "name",
        nargs="?",
        choices=["walk", "rider", "machine", "setup", "rules"],
        help="the kind of file",
    )
    parser.add_argument(
        "--machine", type=Path, metavar="FILE", help="machine file, for the settings of rules"
    )


def _laps(commands: Any) -> None:
    parser = _add(
        commands,
        "laps",
        "laps",
        "compare setups from lap times, to see whether a change helped",
        "The table is a CSV with one row a lap: setup, lap_s (seconds or m:ss.mmm) and run or "
        "session_id; where known also rider, lap, clock, flag (in, out, fall, stop), event, date.",
    )
    parser.add_argument("table", type=Path, nargs="?", metavar="TABLE", help="lap table")
    parser.add_argument(
        "--compare", nargs=2, metavar=("A", "B"), help="two setups (all against the first ridden)"
    )
    parser.add_argument(
        "--minutes", type=minutes, metavar="N", help="plan a further test in this time"
    )
    parser.add_argument(
        "--lap-time", metavar="TIME", help="usual lap, to plan a test before there is a table"
    )
    parser.add_argument(
        "--level", type=level, default=0.8, metavar="P", help="level of the interval (80%%)"
    )
    add_leave_out(parser)
    add_json(parser)


def _log(commands: Any) -> None:
    parser = _add(
        commands,
        "log",
        "log",
        "keep the team's book: walks, outings, marks, remarks, laps",
        "Nothing in the book is overwritten: a correction is a new version.",
    )
    add_log_words(parser)


def _sheet(commands: Any) -> None:
    parser = _add(
        commands,
        "sheet",
        "sheet",
        "print the setup and the day's history as one page",
        "From a walk file and its setup, or from the logbook: --event and --rider.",
    )
    parser.add_argument("walk", type=Path, nargs="?", metavar="WALK", help="walk file")
    _book_day(parser)
    parser.add_argument(
        "--on-bike", type=Path, metavar="FILE", help="setup file: what is on the motorcycle now"
    )
    parser.add_argument("--model", type=Path, metavar="FILE", help="model written by retrain")
    parser.add_argument("--minutes", type=minutes, metavar="N", help="time for changes")
    parser.add_argument(
        "--html", type=Path, metavar="FILE", help="write a page to print, on A4 or Letter"
    )
    parser.set_defaults(season=None)
    add_machine_and_rules(parser)
    add_json(parser)
