"""Setups and sessions: what was on the motorcycle, and how the outing went."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import core_schema

from setupadvisor.entries.messages import mistake, shown
from setupadvisor.entries.quantity import Entry, Quantity
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.texts import Day, Line, Name, Note, Text
from setupadvisor.entries.walk import Walk


@dataclass(frozen=True)
class _Written:
    """A value as it stands on a sheet; the machine's setting says later what it means."""

    @staticmethod
    def read(value: object) -> float | str:
        """Read a number or a short text."""
        if isinstance(value, str):
            return Text(80).read(value)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise mistake(
                f"{shown(value)} is no value of a setting",
                "write a number or a name, or take the key out",
            )
        return float(value)

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"type": ["number", "string"], "minLength": 1, "maxLength": 80}


class Setup(Entry):
    """What is on the motorcycle now, or was."""

    machine: Name | None = None
    rider: Name | None = None
    date: Day | None = None
    note: Note | None = None
    settings: dict[str, Annotated[float | str, _Written()]] = Field(min_length=1, max_length=200)


class Session(Entry):
    """One outing: walk, rider, machine, setup and outcome."""

    session_id: Name
    time: Name | None = None
    walk: Walk
    rider: Rider
    machine: Name
    setup: Setup
    mark: Annotated[float, Quantity("", 1, 5, "Rider's mark, 1 to 5", whole=True)] | None = None
    best_lap_s: Annotated[float, Quantity("s", 10, 1800, "Best lap")] | None = None
    remarks: list[Line] | None = Field(default=None, max_length=40)
