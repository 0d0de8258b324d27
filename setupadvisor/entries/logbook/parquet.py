"""Parquet tables as columns of cells, and back with the types they had."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from setupadvisor.entries.logbook.cells import text_from_cell
from setupadvisor.entries.logbook.records import Cell
from setupadvisor.errors import InputError, Mistake

if TYPE_CHECKING:
    import pyarrow as pa

ENDINGS = {".parquet", ".pq"}
_NUMBERS = ("walk.", "setup.", "rider.", "mark", "best_lap_s")


def read_parquet(path: Path) -> tuple[dict[str, list[Cell | None]], str]:
    """Read a Parquet table.

    Parameters
    ----------
    path : pathlib.Path
        The table; known to be readable.

    Returns
    -------
    tuple of dict and str
        Cells by column, and the columns' types for `write_parquet`.

    Raises
    ------
    InputError
        If a column holds what the book cannot give back.
    """
    import pyarrow.parquet as pq  # noqa: PLC0415 - an extra, and slow

    table = pq.ParquetFile(path).read()
    names = [str(name) for name in table.column_names]
    columns, mistakes = {}, []
    for name, column in zip(names, table.columns, strict=True):
        try:
            columns[name] = _cells(column)
        except Exception as error:  # pyarrow raises many kinds
            found = f"cells of type {column.type} cannot be kept ({str(error).splitlines()[0]})"
            mend = "write it as text or numbers, or leave it out"
            mistakes.append(Mistake(f"{path} {name}", found, mend))
    if mistakes:
        raise InputError(mistakes)
    schema = table.schema.serialize().to_pybytes()
    return columns, base64.b64encode(schema).decode("ascii")


def _cells(column: pa.ChunkedArray) -> list[Cell | None]:
    import pyarrow as pa  # noqa: PLC0415
    import pyarrow.compute  # noqa: PLC0415

    kind, kept = column.type, column
    if pa.types.is_dictionary(kind):
        kept = column.cast(kind.value_type)
    plain = (pa.types.is_integer, pa.types.is_floating, pa.types.is_boolean, pa.types.is_null)
    if not any(is_plain(kept.type) for is_plain in plain):
        kept = kept.cast(pa.string())
        if not kept.cast(kind).equals(column):
            raise ValueError("they would change")
    if pa.types.is_floating(kept.type):
        kept = pa.compute.if_else(pa.compute.is_nan(kept), None, kept)
    cells: list[Cell | None] = kept.to_pylist()
    return cells


def write_parquet(path: Path, columns: Mapping[str, Sequence[Cell | None]], schema: str) -> bytes:
    """Write columns of cells as a Parquet table.

    Parameters
    ----------
    path : pathlib.Path
        Its name, for messages.
    columns : mapping of str to sequence of Cell or None
        Cells by column.
    schema : str
        The types that columns had when they were read, from `read_parquet`; may be empty.

    Returns
    -------
    bytes
        The file.

    Raises
    ------
    InputError
        If pyarrow is missing.
    """
    try:
        import pyarrow as pa  # noqa: PLC0415
        import pyarrow.parquet as pq  # noqa: PLC0415
    except ImportError:
        mend = "pip install setupadvisor[parquet], or use CSV"
        raise InputError(Mistake(str(path), "writing Parquet needs pyarrow", mend)) from None
    read = pa.ipc.read_schema(pa.py_buffer(base64.b64decode(schema))) if schema else pa.schema([])
    known = {str(field.name): field.type for field in read}
    arrays = {name: _array(name, cells, known.get(name)) for name, cells in columns.items()}
    sink = pa.BufferOutputStream()
    table = pa.table(arrays)
    if all(name in arrays and arrays[name].type == kind for name, kind in known.items()):
        table = table.replace_schema_metadata(read.metadata)  # says what pandas makes of them
    pq.write_table(table, sink)
    content: bytes = sink.getvalue().to_pybytes()
    return content


def _array(name: str, cells: Sequence[Cell | None], kind: pa.DataType | None) -> pa.Array:
    import pyarrow as pa  # noqa: PLC0415

    if kind is not None:
        try:
            return _as_it_was(cells, kind)
        except (pa.ArrowException, ValueError, TypeError, OverflowError):
            pass  # a later writing put in what the column could not hold before
    return _by_content(name, cells)


def _as_it_was(cells: Sequence[Cell | None], kind: pa.DataType) -> pa.Array:
    import pyarrow as pa  # noqa: PLC0415

    if pa.types.is_dictionary(kind):
        inner = _as_it_was(cells, kind.value_type)
        return inner.dictionary_encode().cast(kind)
    texts = [cell for cell in cells if isinstance(cell, str)]
    if texts or pa.types.is_string(kind) or pa.types.is_large_string(kind):
        written = [None if cell is None else text_from_cell(cell) for cell in cells]
        return pa.array(written, pa.string()).cast(kind)
    # Straight into a type of whole numbers, the rest of a number would be cut off silently.
    return pa.array(cells).cast(kind)


def _by_content(name: str, cells: Sequence[Cell | None]) -> pa.Array:
    import pyarrow as pa  # noqa: PLC0415

    found = {type(cell) for cell in cells if cell is not None}
    if found == {bool}:
        return pa.array(cells, pa.bool_())
    if found and found <= {int, float}:
        whole = found == {int} and all(cell is None or abs(cell) < 2**63 for cell in cells)  # type: ignore[arg-type]
        return pa.array(cells, pa.int64() if whole else pa.float64())
    if found and name.startswith(_NUMBERS):
        try:
            numbers = [None if cell is None else float(cell) for cell in cells]
            return pa.array(numbers, pa.float64())
        except ValueError:
            pass
    return pa.array([None if cell is None else text_from_cell(cell) for cell in cells], pa.string())
