"""The tables of a logbook as they are after the newest migration.

What has a name stands once in a table of its own (`event`, `rider`, `outing`, ...); what was
written about it stands in rows that are only ever added, each with its version and the writing it
belongs to. The row with the highest version counts.
"""

from __future__ import annotations

from sqlalchemy import (
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData()


def _named(name: str) -> Table:
    return Table(
        name,
        metadata,
        Column("id", Integer, primary_key=True, autoincrement=False),
        Column("name", Text, nullable=False, unique=True),
    )


def _writing() -> Column[int]:
    return Column("writing_id", Integer, ForeignKey("writing.id"), nullable=False)


def _key(table: str) -> Column[int]:
    return Column(
        f"{table}_id", Integer, ForeignKey(f"{table}.id"), primary_key=True, autoincrement=False
    )


def _number(name: str) -> Column[int]:
    return Column(name, Integer, primary_key=True, autoincrement=False)


def _versions_of(table: str) -> Table:
    return Table(
        f"{table}_version",
        metadata,
        _key(table),
        _number("version"),
        Column("content", Text, nullable=False),
        _writing(),
    )


schema_version = Table(
    "schema_version",
    metadata,
    _number("version"),
    Column("applied_at", Text, nullable=False),
)
writing = Table(
    "writing",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("who", Text, nullable=False),
    Column("written_at", Text, nullable=False),
)
event = _named("event")
rider = _named("rider")
machine = _named("machine")
setup = _named("setup")
# The settings of a setup in order, as a JSON list, so that a setup need not repeat their names.
setup_form = _named("setup_form")
rider_version = _versions_of("rider")
machine_version = _versions_of("machine")
setup_version = _versions_of("setup")
walk = Table(
    "walk",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("event_id", Integer, ForeignKey("event.id"), nullable=False),
    Column("date", Text, nullable=False),
    Column("part", Text, nullable=False),
    UniqueConstraint("event_id", "date", "part"),
)
walk_version = _versions_of("walk")
outing = Table(
    "outing",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("session_id", Text, nullable=False, unique=True),
)
outing_version = Table(
    "outing_version",
    metadata,
    _key("outing"),
    _number("version"),
    Column("event_id", Integer, ForeignKey("event.id"), nullable=False),
    Column("rider_id", Integer, ForeignKey("rider.id"), nullable=False),
    Column("machine_id", Integer, ForeignKey("machine.id"), nullable=False),
    Column("walk_id", Integer, ForeignKey("walk.id")),
    Column("date", Text, nullable=False),
    Column("time", Text, nullable=False),
    Column("setup_form_id", Integer, ForeignKey("setup_form.id"), nullable=False),
    Column("setup", Text, nullable=False),
    Column("further", Text, nullable=False),
    Column("withdrawn", Integer, nullable=False),
    _writing(),
    Index("outing_version_day", "event_id", "rider_id"),
    Index("outing_version_rider", "rider_id", "date"),
    Index("outing_version_last", "date", "outing_id"),
)
outcome = Table(
    "outcome",
    metadata,
    _key("outing"),
    _number("version"),
    Column("mark", Float),
    Column("best_lap_s", Float),
    _writing(),
    CheckConstraint("mark BETWEEN 1 AND 5"),
    CheckConstraint("best_lap_s > 0"),
)
remark = Table(
    "remark",
    metadata,
    _key("outing"),
    _number("place"),
    _number("version"),
    Column("text", Text, nullable=False),
    Column("remarks", Text, nullable=False),
    _writing(),
)
lap = Table(
    "lap",
    metadata,
    _key("outing"),
    _number("lap"),
    _number("version"),
    Column("lap_s", Float),
    Column("clock_s", Float),
    Column("flag", Integer, nullable=False),
    _writing(),
    CheckConstraint("lap_s > 0"),
)
setting_change = Table(
    "setting_change",
    metadata,
    _key("outing"),
    Column("setting", Text, primary_key=True),
    _number("version"),
    Column("start_value", Float, nullable=False),
    Column("to_value", Float, nullable=False),
    Column("reason", Text, nullable=False),
    Column("remark", Text, nullable=False),
    Column("verdict", Text, nullable=False),
    _writing(),
    CheckConstraint("verdict IN ('', 'better', 'same', 'worse')"),
)
season_import = Table(
    "season_import",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("source", Text, nullable=False),
    Column("columns", Text, nullable=False),
    Column("arrow_schema", Text, nullable=False),
    _writing(),
)
