"""Fields of an entry: numbers with units and possible ranges, and words of choice.

A field's title, unit and range stand once, in the model. Validation, messages, the questions
of `walk`, column names and the JSON Schema all read them from there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple, Self, get_args, get_origin

from pydantic import (
    BaseModel,
    ConfigDict,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    ValidationError,
    model_validator,
)
from pydantic.fields import FieldInfo
from pydantic_core import InitErrorDetails, core_schema

from setupadvisor.entries.messages import mistake, nearest, shown
from setupadvisor.entries.units import (
    OTHER_UNITS,
    SUFFIXES,
    NotOneNumber,
    NotThisUnit,
    number_in,
)

__all__ = [
    "Contradiction",
    "Entry",
    "EntryField",
    "Quantity",
    "Word",
    "alias_without_unit",
    "entry_fields",
    "field_kind",
    "mistake",
    "shown",
]


@dataclass(frozen=True)
class Quantity:
    """A number with a unit: what it is, and what is possible.

    Parameters
    ----------
    unit : str
        The field's own unit; a key of `units.SUFFIXES`.
    low, high : float
        The possible range, in that unit.
    title : str
        What a person calls it.
    plausible : tuple of float
        Values met in practice, lowest to highest; where the entry is missing they tell how much
        it could matter.
    whole : bool
        Whether only whole numbers make sense.
    difference : bool
        Whether it is a difference of temperatures, so that 18 °F is 10 °C.
    """

    unit: str
    low: float
    high: float
    title: str
    plausible: tuple[float, ...] = ()
    whole: bool = False
    difference: bool = False

    def read(self, value: object) -> float:
        """Read what a person wrote: a number, or a number with any unit of its kind."""
        number: float
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            raise mistake(f"{shown(value)} is no number", f"write {self.example()}")
        if isinstance(value, str):
            try:
                number = number_in(value, self.unit, difference=self.difference)
            except NotOneNumber as error:
                wrong = "is not one clear number" if str(error) else "is no number"
                mend = str(error) or f"write {self.example()}"
                raise mistake(f"{shown(value)} {wrong}", mend) from None
            except NotThisUnit as error:
                raise mistake(
                    f"{shown(value)}: {shown(str(error))} is no unit for this",
                    f"write {self.example()}",
                ) from None
        else:
            number = float(value)
        if not math.isfinite(number) or not self.low <= number <= self.high:
            raise mistake(
                f"{self._given(value, number)} cannot be right", f"write {self.example()}"
            )
        if self.whole and number != round(number):
            raise mistake(
                f"{self._given(value, number)} is no whole number", f"write {self.example()}"
            )
        return number

    def _given(self, value: object, number: float) -> str:
        plain = f"{number:.6g} {self.unit}".strip()
        if not isinstance(value, str):
            return plain
        # What a foreign unit came to shows where a unit was meant to be another.
        alike = value.strip().removesuffix(self.unit).strip() == f"{number:g}"
        return shown(value) if alike else f"{shown(value)} ({plain})"

    def example(self) -> str:
        """Say what may stand here: ``a number from 60 to 108 kPa (or psi, bar or inHg)``."""
        kind = "a whole number" if self.whole else "a number"
        unit = f" {self.unit}" if self.unit else ""
        other = f" (or {OTHER_UNITS[self.unit]})" if self.unit in OTHER_UNITS else ""
        return f"{kind} from {self.low:g} to {self.high:g}{unit}{other}"

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {
            "description": f"{self.title}: {self.example()}",
            "anyOf": [
                {
                    "type": "integer" if self.whole else "number",
                    "minimum": self.low,
                    "maximum": self.high,
                },
                {"type": "string", "pattern": r"^\s*[-+−]?[0-9.,].*$"},
            ],
        }


@dataclass(frozen=True)
class Word:
    """One word out of a list, forgiving about case, spaces and hyphens.

    Parameters
    ----------
    title : str
        What a person calls the field.
    choices : tuple of str
        The words, in their natural order where they have one.
    """

    title: str
    choices: tuple[str, ...]

    def read(self, value: object) -> str:
        """Read a word as written."""
        if isinstance(value, bool):  # YAML's true and false, where the list has yes and no
            value = "yes" if value else "no"
        word = str(value).strip().lower().replace(" ", "_").replace("-", "_")
        if isinstance(value, str) and word in self.choices:
            return word
        near = nearest(word, self.choices)
        hint = f"did you mean {near}? " if near else ""
        raise mistake(
            f"{shown(value)} is not known here", f"{hint}write one of {', '.join(self.choices)}"
        )

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"description": self.title, "enum": list(self.choices)}


def alias_without_unit(name: str) -> str:
    """Give the key a person writes for a field: its name without the unit's suffix.

    Parameters
    ----------
    name : str
        The field's name.

    Returns
    -------
    str
        The key.

    Examples
    --------
    >>> alias_without_unit("cone_index_kpa"), alias_without_unit("take_off_angle_deg")
    ('cone_index', 'take_off_angle')
    >>> alias_without_unit("venue")
    'venue'
    """
    for suffix in _LONGEST_SUFFIXES_FIRST:
        if name.endswith(suffix):
            return name.removesuffix(suffix)
    return name


_LONGEST_SUFFIXES_FIRST = sorted(
    (f"_{suffix}" for suffix in SUFFIXES.values() if suffix), key=len, reverse=True
)


class Contradiction(NamedTuple):
    """What cannot be true together with something else.

    Parameters
    ----------
    at : tuple of str and int
        The key to mend, from the entry on, as a person writes it.
    found, mend : str
        What stands there, and what to do about it.
    first : tuple of str and int
        Where the same stands already, from the entry on; empty where nothing is doubled.
    """

    at: tuple[str | int, ...]
    found: str
    mend: str
    first: tuple[str | int, ...] = ()


class Entry(BaseModel):
    """The base of all records typed by a person: no unknown keys, no changes afterwards."""

    model_config = ConfigDict(
        extra="forbid",
        defer_build=True,
        frozen=True,
        alias_generator=alias_without_unit,
        populate_by_name=False,
        validate_default=False,
        allow_inf_nan=False,
    )

    def contradictions(self) -> Iterator[Contradiction]:
        """Say which of its values cannot be true together; each kind of entry adds its own.

        Yields
        ------
        Contradiction
            Only what is impossible; what is merely unusual is the crew's own business.
        """
        yield from ()

    @model_validator(mode="after")
    def _is_possible(self) -> Self:
        wrong = [
            InitErrorDetails(
                type=mistake(one.found, one.mend, "contradiction", at=one.at, first=one.first),
                loc=one.at,
                input=None,
            )
            for one in self.contradictions()
        ]
        if wrong:
            raise ValidationError.from_exception_data(type(self).__name__, wrong)
        return self


@dataclass(frozen=True)
class EntryField:
    """One field of an entry as a column of a table.

    Parameters
    ----------
    path : str
        The column's name: ``walk.ground.cone_index_kpa``; inside a list, without the place.
    kind : Quantity, Word or None
        None for free text and dates.
    listed : bool
        Whether it stands inside a list (jumps).
    """

    path: str
    kind: Quantity | Word | None
    listed: bool

    @property
    def title(self) -> str:
        """What a person calls it."""
        return self.kind.title if self.kind else self.path.rsplit(".", 1)[-1].replace("_", " ")

    @property
    def key(self) -> str:
        """The path as a person writes it in a file: ``ground.cone_index``."""
        parts = self.path.split(".")[1:]
        return ".".join([*parts[:-1], alias_without_unit(parts[-1])])


@cache
def entry_fields(model: type[Entry], prefix: str) -> dict[str, EntryField]:
    """List the fields of an entry as columns, by path.

    Parameters
    ----------
    model : type
        The entry's model.
    prefix : str
        ``"walk"``, ``"rider"`` or ``"machine"``.

    Returns
    -------
    dict of str to EntryField
        In the model's order.
    """
    return {found.path: found for found in _fields(model, prefix, listed=False)}


def _fields(model: type[Entry], prefix: str, *, listed: bool) -> Iterator[EntryField]:
    for name, field in model.model_fields.items():
        path = f"{prefix}.{name}"
        inner, inside_list = _inner_model(field)
        if inner is not None:
            yield from _fields(inner, path, listed=listed or inside_list)
        else:
            yield EntryField(path, field_kind(field), listed or inside_list)


def _inner_model(field: FieldInfo) -> tuple[type[Entry] | None, bool]:
    for part in (field.annotation, *get_args(field.annotation)):
        if isinstance(part, type) and issubclass(part, Entry):
            return part, False
        if get_origin(part) in {list, tuple}:
            item = get_args(part)[0]
            if isinstance(item, type) and issubclass(item, Entry):
                return item, True
    return None, False


def field_kind(field: FieldInfo) -> Quantity | Word | None:
    """Find the quantity or word behind a field.

    Parameters
    ----------
    field : pydantic.fields.FieldInfo
        The model's field.

    Returns
    -------
    Quantity, Word or None
        None for free text, dates and groups.
    """
    candidates: list[Any] = [*field.metadata]
    for part in (field.annotation, *get_args(field.annotation)):
        candidates.extend(get_args(part))
    return next((kind for kind in candidates if isinstance(kind, Quantity | Word)), None)
