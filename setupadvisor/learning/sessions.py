"""What the learning floor is told: past sessions as arrays, and what is known without any."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from setupadvisor.errors import InputError, Mistake

Floats: TypeAlias = NDArray[np.float64]
Integers: TypeAlias = NDArray[np.int64]
Booleans: TypeAlias = NDArray[np.bool_]


@dataclass(frozen=True)
class Sessions:
    """A season of n sessions over S settings, R rules and F entered conditions.

    Parameters
    ----------
    setting, rule, field : tuple of str
        Names of the columns of the arrays below.
    rider_name, event_name, venue_name : tuple of str
        What the codes of `rider`, `event` and `venue` stand for.
    values : (n, S) array
        What was on the motorcycle, in the setting's number; NaN where not recorded.
    house : (n, S) array
        The house value of that session, in the setting's number.
    degrees : (n, R) array
        Degree of each rule, 0 to 1; NaN where facts were missing. A rule that cannot be judged
        does not speak.
    rider, event, venue : (n,) integer array
        Codes into the names; a missing venue is -1.
    day : (n,) array
        Days since any fixed date.
    order : (n,) array
        Order of the sessions within the day.
    mark : (n,) array
        The rider's mark, 1 to 5; NaN where missing.
    fields : (n, F) array
        Entered conditions: numbers, or codes of categories; NaN where missing.

    Raises
    ------
    InputError
        Where an array has the wrong shape or a value that cannot be.
    """

    setting: tuple[str, ...]
    rule: tuple[str, ...]
    field: tuple[str, ...]
    rider_name: tuple[str, ...]
    event_name: tuple[str, ...]
    venue_name: tuple[str, ...]
    values: Floats
    house: Floats
    degrees: Floats
    rider: Integers
    event: Integers
    venue: Integers
    day: Floats
    order: Floats
    mark: Floats
    fields: Floats

    def __post_init__(self) -> None:
        n = len(self.rider)
        _as_arrays(
            self,
            {
                "values": (n, len(self.setting)),
                "house": (n, len(self.setting)),
                "degrees": (n, len(self.rule)),
                "fields": (n, len(self.field)),
                "day": (n,),
                "order": (n,),
                "mark": (n,),
            },
        )
        for name, names, lowest in (
            ("rider", self.rider_name, 0),
            ("event", self.event_name, 0),
            ("venue", self.venue_name, -1),
        ):
            _as_codes(self, name, n, lowest, len(names))
        mistakes = []
        if np.isnan(self.day).any():
            mistakes.append(Mistake("sessions.day", "a session without a day", "leave the row out"))
        with np.errstate(invalid="ignore"):
            if ((self.degrees < 0) | (self.degrees > 1)).any():
                mistakes.append(
                    Mistake("sessions.degrees", "a degree outside 0 to 1", "give 0 to 1 or NaN")
                )
            if ((self.mark < 1) | (self.mark > 5)).any():
                mistakes.append(
                    Mistake("sessions.mark", "a mark outside 1 to 5", "give 1 to 5 or NaN")
                )
        if mistakes:
            raise InputError(mistakes)

    def __len__(self) -> int:
        return len(self.rider)

    def taken(self, rows: Integers | Booleans) -> Sessions:
        """Return the sessions of some rows, with all names and codes kept.

        Parameters
        ----------
        rows : integer or boolean array
            Which sessions to keep, in this order.

        Returns
        -------
        Sessions
            The same columns with fewer rows.
        """
        arrays = {
            part.name: getattr(self, part.name)[rows]
            for part in fields(self)
            if isinstance(getattr(self, part.name), np.ndarray)
        }
        return replace(self, **arrays)


@dataclass(frozen=True)
class Knowledge:
    """What is known without any session.

    Parameters
    ----------
    setting, rule, field : tuple of str
        Names, in the order of the arrays.
    amounts : (R, S) array
        Each rule's amount as written, signed, in the setting's number; 0 where the rule does not
        touch the setting.
    relative_spread : (R,) array
        Standard deviation of an amount over its size: 0.25 firm, 0.5 usual, 1.0 loose.
    reads : (S, F) array of bool
        Whether some rule that moves the setting reads the field.
    field_is_category : (F,) array of bool
        Whether the field's numbers are codes of categories.
    field_range : (F,) array
        Range that scales a difference of the field; NaN to take it from the sessions.
    step : (S,) array
        The setting's step, in the setting's number.
    low, high : (S,) array
        The setting's limits.

    Raises
    ------
    InputError
        Where an array has the wrong shape or a value that cannot be.
    """

    setting: tuple[str, ...]
    rule: tuple[str, ...]
    field: tuple[str, ...]
    amounts: Floats
    relative_spread: Floats
    reads: Booleans
    field_is_category: Booleans
    field_range: Floats
    step: Floats
    low: Floats
    high: Floats

    def __post_init__(self) -> None:
        n_settings, n_rules, n_fields = len(self.setting), len(self.rule), len(self.field)
        _as_arrays(
            self,
            {
                "amounts": (n_rules, n_settings),
                "relative_spread": (n_rules,),
                "field_range": (n_fields,),
                "step": (n_settings,),
                "low": (n_settings,),
                "high": (n_settings,),
            },
        )
        _as_arrays(
            self, {"reads": (n_settings, n_fields), "field_is_category": (n_fields,)}, np.bool_
        )
        for name, wrong, mend in (
            ("amounts", ~np.isfinite(self.amounts), "give 0 where a rule does not touch a setting"),
            ("relative_spread", ~(self.relative_spread > 0), "give a spread above 0"),
            ("step", ~(self.step > 0), "give a step above 0"),
            ("field_range", self.field_range < 0, "give a range of 0 or more, or NaN"),
        ):
            if wrong.any():
                raise InputError(Mistake(f"knowledge.{name}", "a value that cannot be", mend))


def _as_arrays(owner: object, shapes: dict[str, tuple[int, ...]], kind: type = np.float64) -> None:
    """Turn the named attributes into arrays of one kind and check their shapes."""
    mistakes = []
    for name, shape in shapes.items():
        array: NDArray[Any] = np.asarray(getattr(owner, name), dtype=kind)
        if array.shape != shape:
            mistakes.append(
                Mistake(
                    f"{type(owner).__name__.lower()}.{name}",
                    f"an array of shape {array.shape}",
                    f"give shape {shape}, one row a session or a name",
                )
            )
        object.__setattr__(owner, name, array)
    if mistakes:
        raise InputError(mistakes)


def _as_codes(owner: object, name: str, n: int, lowest: int, n_names: int) -> None:
    """Turn an attribute into integer codes and check that each stands for a name."""
    codes = np.asarray(getattr(owner, name), dtype=np.int64)
    if codes.shape != (n,) or ((codes < lowest) | (codes >= n_names)).any():
        raise InputError(
            Mistake(
                f"{type(owner).__name__.lower()}.{name}",
                "codes that stand for no name",
                f"give {n} codes from {lowest} to {n_names - 1}",
            )
        )
    object.__setattr__(owner, name, codes)
