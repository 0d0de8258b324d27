"""Setups and sessions: what was on the motorcycle, and how the outing went."""

from __future__ import annotations

import datetime
from typing import Annotated

from pydantic import Field

from setupadvisor.entries.quantity import Entry, Quantity
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk


class Setup(Entry):
    """What is on the motorcycle now, or was."""

    machine: Annotated[str, Field(min_length=1, max_length=80)] | None = None
    rider: Annotated[str, Field(min_length=1, max_length=80)] | None = None
    date: datetime.date | None = None
    note: str | None = None
    settings: dict[str, float | str] = Field(min_length=1, max_length=200)


class Session(Entry):
    """One outing: walk, rider, machine, setup and outcome."""

    session_id: Annotated[str, Field(min_length=1, max_length=80)]
    time: str | None = None
    walk: Walk
    rider: Rider
    machine: Annotated[str, Field(min_length=1, max_length=80)]
    setup: Setup
    mark: Annotated[float, Quantity("", 1, 5, "Rider's mark, 1 to 5", whole=True)] | None = None
    best_lap_s: Annotated[float, Quantity("s", 10, 1800, "Best lap")] | None = None
    remarks: list[str] | None = Field(default=None, max_length=40)
