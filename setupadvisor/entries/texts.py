"""Fields of an entry that are neither number nor word of a list: short texts, notes and days."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, PlainValidator, WithJsonSchema
from pydantic_core import core_schema

from setupadvisor.entries.messages import mistake, shown

_DAY = re.compile(r"(\d{4})-(\d{2})-(\d{2})", re.ASCII)
# Control characters, halves of characters, and marks that reverse the writing direction could
# rewrite what stands on the reader's screen.
_NEVER = "\\x00-\\x08\\x0b-\\x1f\\x7f-\\x9f\\u2028-\\u202e\\u2066-\\u2069\\ud800-\\udfff"
_UNPRINTABLE = f"[{_NEVER}]"
_UNPRINTABLE_ON_ONE_LINE = f"[{_NEVER}\\t\\n]"
EARLIEST, LATEST = date(1950, 1, 1), date(2150, 1, 1)


@dataclass(frozen=True)
class Text:
    """A text typed by a person, safe to print.

    Parameters
    ----------
    longest : int
        The most characters.
    lines : bool
        Whether it may run over several lines.
    """

    longest: int
    lines: bool = False

    def read(self, value: object) -> str:
        """Read a text as written, without the spaces around it."""
        if not isinstance(value, str):
            quoted = f', in quotes: "{value}"' if isinstance(value, int | float) else ""
            raise mistake(f"{shown(value)} is no text", f"write text{quoted}")
        text = value.strip()
        if not text:
            raise mistake("the text is empty", "write something, or take the key out")
        if len(text) > self.longest:
            raise mistake(
                f"{shown(text)} is {len(text)} characters long",
                f"write at most {self.longest} characters",
            )
        if text.isprintable():
            return text
        wrong = re.search(_UNPRINTABLE if self.lines else _UNPRINTABLE_ON_ONE_LINE, text)
        if wrong and wrong[0] == "\n":
            raise mistake("the text runs over several lines", "write it on one line")
        if wrong:
            found = f"the text holds a character that cannot be printed (U+{ord(wrong[0]):04X})"
            raise mistake(found, "take it out")
        return text

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"type": "string", "minLength": 1, "maxLength": self.longest}


def read_day(value: object) -> date:
    """Read a day as written, so that a bare number is no count of seconds since 1970.

    Parameters
    ----------
    value : object
        As read from the file.

    Returns
    -------
    datetime.date
        The day.

    Raises
    ------
    pydantic_core.PydanticCustomError
        If it is none, with the mend.

    Examples
    --------
    >>> read_day("2026-05-17")
    datetime.date(2026, 5, 17)
    """
    if isinstance(value, date):
        return value
    mend = "write year-month-day, as in 2026-05-17"
    match = _DAY.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        raise mistake(f"{shown(value)} is no date", mend)
    try:
        day = date(*map(int, match.groups()))
    except ValueError:
        raise mistake(f"{shown(value)} is not in the calendar", mend) from None
    if not EARLIEST <= day < LATEST:
        raise mistake(f"the year {day.year} cannot be right", mend)
    return day


Day = Annotated[
    date,
    PlainValidator(read_day),
    WithJsonSchema({"type": "string", "format": "date", "pattern": r"^\s*\d{4}-\d{2}-\d{2}\s*$"}),
]
Name = Annotated[str, Text(80)]
Line = Annotated[str, Text(400)]
Note = Annotated[str, Text(4000, lines=True)]
