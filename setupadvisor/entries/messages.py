"""What messages are made of: the mistake itself, what was found, and the nearest known word."""

from __future__ import annotations

from collections.abc import Iterable
from typing import LiteralString

from pydantic_core import PydanticCustomError


def mistake(
    found: str, mend: str, kind: LiteralString = "mistake", **more: object
) -> PydanticCustomError:
    """Make the error a field's validation raises: what was found and the mend.

    Parameters
    ----------
    found : str
        What stands there.
    mend : str
        What to do about it.
    kind : str
        The error's type.
    **more : object
        Further parts of the error's context.

    Returns
    -------
    pydantic_core.PydanticCustomError
        To be raised; files.py turns it into a `Mistake`.
    """
    # Passed as context, not as template: what was found may hold braces.
    return PydanticCustomError(kind, "{found}; {mend}", {"found": found, "mend": mend, **more})


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Find the known word that a wrong one was probably meant to be.

    Parameters
    ----------
    word : str
        As written.
    known : iterable of str
        The words there are.

    Returns
    -------
    str or None
        None where none is near.

    Examples
    --------
    >>> nearest("temprature", ["temperature", "humidity"]), nearest("wind", ["humidity"])
    ('temperature', None)
    """
    from difflib import get_close_matches  # noqa: PLC0415 - only for a message

    words = list(known)
    # Comparing takes time in the square of the length, and no key is longer than this.
    near = get_close_matches(word[:60], words, n=1)
    begun = [whole for whole in words if len(word) >= 3 and whole.startswith(word)]
    return next(iter([*near, *begun]), None)


def shown(value: object) -> str:
    """Show what a person wrote, short enough for a message.

    Parameters
    ----------
    value : object
        As read from the file.

    Returns
    -------
    str
        The value, quoted when it is text.

    Examples
    --------
    >>> shown("13 apples"), shown([1, 2]), shown(None)
    ("'13 apples'", 'a list', 'nothing')
    """
    if value is None:
        return "nothing"
    if isinstance(value, bool):  # as it is written in YAML
        return str(value).lower()
    if isinstance(value, list):
        return "a list"
    if isinstance(value, dict):
        return "a group of keys"
    text = repr(value)
    return text if len(text) <= 48 else f"{text[:44]}...{text[-1]}"
