"""One thing that can be set on a machine: its scale, house value, and how the job is done."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any

from pydantic import AfterValidator, Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import PydanticCustomError, core_schema

from setupadvisor.entries.messages import mistake, shown
from setupadvisor.entries.quantity import Contradiction, Entry, Quantity
from setupadvisor.entries.texts import Line, Text

MOST_STEPS = 2000
LARGEST_NUMBER = 100_000.0


# One advice asks for the same values some hundred times.
@lru_cache(maxsize=1000)
def _on_steps(low: float, high: float, step: float) -> tuple[float, ...]:
    count = round((high - low) / step)
    return tuple(round(low + step * place, 9) for place in range(count + 1))


def _place_of(written: str, names: list[str] | None) -> float | None:
    """Find a name's place, counted from 1, forgiving about case, spaces and hyphens."""

    def plain(text: str) -> str:
        return " ".join(text.lower().replace("-", " ").replace("_", " ").split())

    places = [place for place, name in enumerate(names or (), 1) if plain(name) == plain(written)]
    return float(places[0]) if places else None


@dataclass(frozen=True)
class _InOwnUnit:
    """A number in the unit of the setting in which it stands."""

    above: float = -LARGEST_NUMBER

    def read(self, value: object, info: core_schema.ValidationInfo) -> float:
        """Read a number, with or without a unit."""
        around = info.context or info.data
        unit, names = around.get("unit") or "", around.get("names")
        if isinstance(value, str) and (place := _place_of(value, names)) is not None:
            return place
        above = f" above {self.above:g}" if self.above > -LARGEST_NUMBER else ""
        try:
            number = Quantity(unit, -LARGEST_NUMBER, LARGEST_NUMBER, "").read(value)
        except PydanticCustomError as error:
            found = (error.context or {})["found"]
            raise mistake(
                found, f"write a number{above}" + (f" in {unit}" if unit else "")
            ) from None
        if number <= self.above:
            raise mistake(f"{shown(value)} cannot be right", f"write a number{above}")
        return number

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {
            "description": "A number, in the setting's own unit or with another",
            "type": ["number", "string"],
        }


InOwnUnit = Annotated[float, _InOwnUnit()]


class House(Entry):
    """Where a setting starts: a fact that gives it, and a value when that fact is missing."""

    fact: Annotated[str, Text(80)]
    otherwise: InOwnUnit


@dataclass(frozen=True)
class _HouseReader:
    """A house value: a number, one of the setting's names, or a fact that gives it."""

    @staticmethod
    def read(value: object, info: core_schema.ValidationInfo) -> float | House:
        """Read what stands under `house`."""
        if isinstance(value, dict):
            return House.model_validate(value, context=info.data)
        names = info.data.get("names")
        if names and isinstance(value, str) and _place_of(value, names) is None:
            raise mistake(f"{shown(value)} is none of the names", f"write {_one_of(names)}")
        return _InOwnUnit().read(value, info)

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.with_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {
            "description": "A number, one of the names, or the fact that gives it",
            "anyOf": [
                {"type": ["number", "string"]},
                {
                    "type": "object",
                    "properties": {
                        "fact": {"type": "string"},
                        "otherwise": {"type": ["number", "string"]},
                    },
                    "required": ["fact", "otherwise"],
                    "additionalProperties": False,
                },
            ],
        }


def _one_of(names: list[str]) -> str:
    return f"one of {', '.join(names)}"


class Setting(Entry):
    """One thing that can be set on this machine."""

    title: Line
    group: Line
    unit: Annotated[str, Text(20)] = ""
    range: list[InOwnUnit] | None = Field(default=None, min_length=2, max_length=2)
    step: Annotated[float, _InOwnUnit(above=0.0)] | None = None
    shelf: list[InOwnUnit] | None = Field(default=None, min_length=1, max_length=80)
    names: list[Line] | None = Field(default=None, min_length=2, max_length=20)
    up: Line
    down: Line
    house: Annotated[float | House, _HouseReader()]
    felt: Annotated[float, _InOwnUnit(above=0.0)] | None = None
    minutes: Annotated[float, Quantity("min", 0.1, 600, "How long the job takes")]
    tools: list[Line] = Field(max_length=12)
    order: Annotated[
        int, Quantity("", 0, 100_000, "Place in the working order", whole=True), AfterValidator(int)
    ]
    check: Line
    undo: Line
    cautions: list[Line] = Field(default_factory=list, max_length=8)

    def contradictions(self) -> Iterator[Contradiction]:
        """Refuse what gives no clear scale, and a house value off it."""
        scales = [self.range is not None, self.shelf is not None, self.names is not None]
        if sum(scales) != 1 or (self.step is not None) != (self.range is not None):
            mend = "give range and step, or shelf (a list of numbers), or names (a list of words)"
            yield Contradiction((), "the setting has no clear scale", mend)
            return
        wrong = [*self._wrong_range(), *self._wrong_names()]
        yield from wrong
        if self.up == self.down:
            found = f"up and down are both {self.up!r}"
            yield Contradiction(("down",), found, "give two direction words")
        house = self.fixed_house
        if not wrong and not self.lowest <= house <= self.highest:
            found = f"the house value {house:g} is outside {self.lowest:g} to {self.highest:g}"
            yield Contradiction(("house",), found, "move the house value or the range")

    def _wrong_range(self) -> Iterator[Contradiction]:
        if self.range is None or self.step is None:
            return
        low, high = self.range
        if low >= high:
            found = f"{low:g} to {high:g} is no range"
            yield Contradiction(("range",), found, "write range: [lowest, highest]")
            return
        steps = (high - low) / self.step
        if steps > MOST_STEPS:
            found = f"{steps:.3g} steps of {self.step:g} from {low:g} to {high:g}"
            yield Contradiction(("step",), found, f"write a larger step: at most {MOST_STEPS} fit")
        elif abs(steps - round(steps)) > 1e-6 or round(steps) < 1:
            below = low + self.step * math.floor(steps)
            found = f"{low:g} to {high:g} is no whole number of steps of {self.step:g}"
            mend = f"end the range on a step, at {below:g} or {below + self.step:g}"
            yield Contradiction(("range",), found, mend)

    def _wrong_names(self) -> Iterator[Contradiction]:
        for place, name in enumerate(self.names or ()):
            if _place_of(name, self.names) != place + 1:
                found = f"{name!r} stands twice"
                yield Contradiction(("names", place), found, "give each its own name")

    @property
    def low(self) -> float | None:
        """The lowest value of a range, None without one."""
        return self.range[0] if self.range else None

    @property
    def high(self) -> float | None:
        """The highest value of a range, None without one."""
        return self.range[1] if self.range else None

    @property
    def fixed_house(self) -> float:
        """The house value where no formula speaks."""
        return self.house.otherwise if isinstance(self.house, House) else self.house

    @property
    def values(self) -> tuple[float, ...]:
        """Every value that can be set, lowest first."""
        if self.shelf is not None:
            return tuple(sorted(set(self.shelf)))
        if self.names is not None:
            return tuple(float(place) for place in range(1, len(self.names) + 1))
        if self.range is None or self.step is None:
            return ()
        return _on_steps(*self.range, self.step)

    @property
    def lowest(self) -> float:
        """The lowest value that can be set."""
        return self.range[0] if self.range else self.values[0]

    @property
    def highest(self) -> float:
        """The highest value that can be set."""
        return self.range[1] if self.range else self.values[-1]

    def read(self, written: float | str) -> float:
        """Read a value of this setting as written on a sheet: number, number with unit, name.

        Raises
        ------
        pydantic_core.PydanticCustomError
            If it is no value of this setting, with the mend.
        """
        if isinstance(written, str) and (place := _place_of(written, self.names)) is not None:
            return place
        named = self.names is not None
        unit = "" if named else self.unit
        scale = Quantity(unit, self.lowest, self.highest, self.title, whole=named)
        try:
            return scale.read(written)
        except PydanticCustomError as error:
            if self.names is None:
                raise
            found = f"{shown(written)} is none of its names" if isinstance(written, str) else None
            context = error.context or {}
            raise mistake(found or context["found"], f"write {_one_of(self.names)}") from None

    def show(self, value: float) -> str:
        """Show a value as a mechanic reads it: ``12 clicks``, ``milder``, ``4.8 N/mm``."""
        if self.names is not None and value == round(value):
            place = round(value) - 1
            if 0 <= place < len(self.names):
                return self.names[place]
        number = f"{round(value, 2):g}"
        return f"{number}{'' if self.unit == '°' else ' '}{self.unit}".strip()
