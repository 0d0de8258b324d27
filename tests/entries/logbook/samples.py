"""Invented walks, outings and people for the tests of the book."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.logbook.book import Book
from setupadvisor.entries.logbook.records import Cell, LapEntry, Outing
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.rider import Rider
from setupadvisor.entries.walk import Walk
from setupadvisor.errors import InputError

DATA = bundled("datasets")
MACHINES = {
    name: load_entry(DATA / "machines" / f"{name}.yaml", Machine)
    for name in ("works-450", "works-250")
}
RIDERS = {
    name: load_entry(DATA / "riders" / f"{name}.yaml", Rider) for name in ("north", "south", "east")
}
MORNING = load_entry(DATA / "walks" / "morning.yaml", Walk)
EVENT, DATE = MORNING.event, MORNING.date.isoformat()
SETUP: dict[str, Cell] = {"shock_rebound_low": 11, "fork_compression_low": 10.5}
OUTING = Outing(
    event=EVENT, date=DATE, rider="north", machine="works-450", setup=SETUP, session_id="M1"
)
LAPS = (LapEntry(1, 121.4, 33000.5, "out"), LapEntry(2, 118.25), LapEntry(3, None, None, "fall"))


def outing(session_id: str, **different: Any) -> Outing:
    """An outing of the morning, under another name."""
    return replace(OUTING, session_id=session_id, **different)


def write(book: Book, *outings: Outing, who: str = "crew") -> None:
    """Write outings at one moment."""
    with book.writing(who) as page:
        for one in outings:
            page.add_outing(one)


def refused(error: InputError) -> list[str]:
    """The mistakes as a person reads them."""
    return [str(mistake) for mistake in error.mistakes]
