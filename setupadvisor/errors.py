"""One family of errors: each says where, what was found, and the mend.

A mistake is a value that can be listed; an `InputError` carries all the mistakes found in one
input, so that a person mends a file once and not line by line.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Mistake:
    """One thing wrong in what a person gave us.

    Parameters
    ----------
    where : str
        File, line and the key's path, as far as they are known: ``"walk.yaml:12 air.pressure"``.
    found : str
        What stands there.
    mend : str
        What to do about it.

    Examples
    --------
    >>> print(Mistake("walk.yaml:12 air.pressure", "'13 apples' is not a pressure", "write 90 kPa"))
    walk.yaml:12 air.pressure: '13 apples' is not a pressure; write 90 kPa
    """

    where: str
    found: str
    mend: str

    def __str__(self) -> str:
        return f"{self.where}: {self.found}; {self.mend}"


class SetupAdvisorError(Exception):
    """The base of every error this package raises on purpose."""


class InputError(SetupAdvisorError):
    """The input is at fault; nothing was written.

    Parameters
    ----------
    mistakes : Mistake or iterable of Mistake
        All mistakes found, in the order of the file.

    Examples
    --------
    >>> error = InputError(Mistake("bike.yaml", "no such file", "check the path"))
    >>> len(error.mistakes)
    1
    """

    def __init__(self, mistakes: Mistake | Iterable[Mistake]) -> None:
        listed = (mistakes,) if isinstance(mistakes, Mistake) else tuple(mistakes)
        self.mistakes: tuple[Mistake, ...] = listed
        super().__init__("\n".join(str(mistake) for mistake in listed))

    def __reduce__(self) -> tuple[Any, ...]:
        # An error of a worker process comes home pickled, with its mistakes whole.
        return _input_error, (type(self), self.mistakes)


def _input_error(kind: type[InputError], mistakes: tuple[Mistake, ...]) -> InputError:
    error = kind.__new__(kind)
    InputError.__init__(error, mistakes)
    return error


class ImpossibleValue(InputError):
    """A physically impossible quantity reached a formula (a negative mass, 0 K and below).

    Parameters
    ----------
    quantity : str
        The quantity's name, with its unit at the end.
    found : str
        What was given.
    mend : str
        What would be possible.

    Examples
    --------
    >>> print(ImpossibleValue("mass_kg", "-3.0", "a mass is above 0 kg"))
    mass_kg: -3.0 is impossible; a mass is above 0 kg
    """

    def __init__(self, quantity: str, found: str, mend: str) -> None:
        super().__init__(Mistake(quantity, f"{found} is impossible", mend))


class OutsideValidRange(UserWarning):
    """A formula was used outside the range its source states; the value is less certain."""
