"""Arrays of a part of an archive on disk: written once, and mapped into memory where asked for.

A mapped array takes no memory of its own: the operating system reads what is touched and lets go of
it again when memory is wanted, and processes of one machine share it.

References
----------
The safetensors format: an 8-byte length, a JSON header, raw arrays.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from setupadvisor.errors import InputError, Mistake

# What the format calls the kinds of numbers that parts hold.
KINDS = {"F64": "<f8", "F32": "<f4", "I64": "<i8", "I32": "<i4", "BOOL": "?"}
RETRAIN = "train it again from the archive"
MISSING = "this part of the model is missing"
DAMAGED = "a part of a model that is damaged or cut short"
BLOCK_BYTES = 1 << 22


def write_arrays(
    path: Path, arrays: Mapping[str, NDArray[Any]], words: Mapping[str, Any] | None = None
) -> None:
    """Write arrays to a file.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    arrays : mapping of str to array
        Arrays by name.
    words : mapping, optional
        What JSON can hold, to stand beside them.
    """
    from safetensors.numpy import save_file  # noqa: PLC0415

    told = {"words": json.dumps(words or {}, sort_keys=True, ensure_ascii=False)}
    save_file({name: np.ascontiguousarray(one) for name, one in arrays.items()}, path, told)


def mapped_arrays(path: Path) -> tuple[dict[str, NDArray[Any]], dict[str, Any]]:
    """Map the arrays of a file into memory.

    Parameters
    ----------
    path : pathlib.Path
        A file from `write_arrays`.

    Returns
    -------
    arrays : dict of str to array
        Arrays by name, not to be written to.
    words : dict
        What stands beside them.

    Raises
    ------
    InputError
        Where the file is missing, damaged or cut short.
    """
    try:
        content = np.memmap(path, dtype=np.uint8, mode="r").view(np.ndarray)
        start = 8 + int(content[:8].view("<u8")[0])
        header = json.loads(content[8:start].tobytes())
        words = json.loads(header.pop("__metadata__")["words"])
        arrays = {}
        for name, one in header.items():
            first, last = one["data_offsets"]
            if start + last > len(content):
                raise ValueError(name)
            raw = content[start + first : start + last]
            arrays[name] = raw.view(KINDS[one["dtype"]]).reshape(one["shape"])
    except FileNotFoundError as error:
        raise InputError(
            Mistake(str(path), "this part of the model is missing", RETRAIN)
        ) from error
    except (OSError, ValueError, KeyError, TypeError, IndexError) as error:
        raise InputError(
            Mistake(str(path), "a part that is damaged or cut short", RETRAIN)
        ) from error
    return arrays, words


def digest_of(path: Path) -> str:
    """Return the SHA-256 of a file.

    Parameters
    ----------
    path : pathlib.Path
        The file.

    Returns
    -------
    str
        In hexadecimal.
    """
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(BLOCK_BYTES):
            digest.update(block)
    return digest.hexdigest()
