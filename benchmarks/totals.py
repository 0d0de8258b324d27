"""How times grow with the number of sessions: slopes over the sizes of one family of rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from measuring import Row, Target, growth

TITLE = "Growth: the power of the size that time grows with"
# What two rounds of the same work may differ by, in the slope over a factor of ten in size.
NOISE = 0.1


def growth_rows(tables: Mapping[str, Sequence[Row]]) -> dict[str, list[Row]]:
    """Make a row for each family that has been measured at two sizes or more."""
    families: dict[str, dict[int, float]] = {}
    for rows in tables.values():
        for row in rows:
            if row.family and len(row.values):
                families.setdefault(row.family, {})[row.size] = row.median
    found = []
    for family, by_size in families.items():
        sizes = sorted(by_size)
        if len(sizes) < 2:
            continue
        slope, last, allowed = growth(sizes, [by_size[size] for size in sizes])
        found.append(
            Row(
                name=family,
                values=[last],
                unit="power",
                targets=[Target(f"n log n, {allowed:.2f}", last, allowed + NOISE)],
                note=f"{sizes[-2]:,} to {sizes[-1]:,}; from {sizes[0]:,} on {slope:.2f}",
            )
        )
    return {TITLE: found} if found else {}
