"""Rows of the past sessions: what all settings ask of them for one walk, and for 64 at once.

Ours is `past_sums`: each setting's two sums over all sessions (weight times left-over, weight),
each setting with its own weights of the fields, gaps left out of both sides. A peer knows one
weighting at a time, so it is asked once for each distinct set of weights (41 with the bundled
rules); three of the sets are built and timed in turn, and the total is that times 41 / 3.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
from invented_sessions import Past, by_definition, invented
from measuring import NOT_INSTALLED, Row, Scale, Target, at_most, in_turns, peak_of
from memory_limit import bytes_per_second
from neighbour_peers import PEERS, TREES, filled, gower_package, weighted
from ways import going, installed

from setupadvisor.learning.one_thread import one_thread
from setupadvisor.learning.past_sessions import conditions, gower
from setupadvisor.learning.past_sums import past_sums

TITLE = "Past sessions, 43 settings at once"
SETS_TIMED = 3
BATCH = 64
# A batch that takes long is timed on so many walks, a tile of the plain path, and multiplied.
TILE = 8
LARGEST_FOR_TREES = 100_000
# From here on a scan is more than a processor holds, and reading memory is its limit.
LARGE = 1_000_000
LARGEST_FOR_BATCH_OF_ALL = 10_000
SECONDS_A_SIZE = 40.0


def parts(scale: Scale) -> list[dict[str, object]]:
    sizes = {
        "tiny": [300],
        "quick": [1_000, 10_000],
        "full": [1_000, 10_000, 100_000, 1_000_000],
    }[scale]
    ways = ["plain", "fast"]
    return [{"sessions": n, "way": way, "scale": scale} for way in ways for n in sizes]


def rows(sessions: int, way: str, scale: Scale) -> list[Row]:
    """Measure one size, by the plain way or by compiled code."""
    title = f"{sessions:,} sessions, {way}"
    if not installed(way):
        return [Row(f"one walk, {title}", [], note=f"{NOT_INSTALLED}: the extra `fast`")]
    past = invented(sessions)
    with going(way):
        # Before any peer is imported, which would count as ours.
        peaks = [peak_of(asking(past, walks)) for walks in (1, TILE)]
        check(past.first(min(sessions, 400)), way)
        if way == "fast":
            same_as_plain(past)
        limit, note = None, ""
        if sessions >= LARGE:
            rate = bytes_per_second()
            limit = bytes_touched(past) / rate
            note = f"limit: {bytes_touched(past) / 1e6:.0f} MB at {rate / 1e9:.1f} GB/s"
        peers = dict(built(past, trees=sessions <= LARGEST_FOR_TREES and way == "plain"))
        first = Row(
            name=f"one walk, {title}",
            values=[],
            limit_value=limit,
            peak_mb=peaks[0],
            note=note,
            family=f"past sessions, one walk, {way}",
            size=sessions,
            checked="sums equal the definition in double precision; peers' nearest equal ours",
        )
        batch = replace(first, peak_mb=peaks[1], limit_value=None, note="")
        return [
            *measured(first, past, peers, 1, scale, way),
            *measured(batch, past, peers, BATCH, scale, way),
        ]


def measured(
    first: Row, past: Past, peers: dict[str, object], walks: int, scale: Scale, way: str
) -> list[Row]:
    """Time some walks in turns with the peers; a row for each peer."""
    sessions = len(past.fields)
    timed_walks = walks
    if walks > 1:
        peers = {name: ask for name, ask in peers.items() if name not in TREES}
        if way == "plain" and sessions > LARGEST_FOR_BATCH_OF_ALL:
            timed_walks = TILE
    works = {"ours": asking(past, timed_walks)}
    works |= {name: ask(walks) for name, ask in peers.items() if callable(ask)}
    rounds = {"tiny": 2, "quick": 7, "full": 15 if walks == 1 else 5}[scale]
    timed = in_turns(works, rounds=rounds, at_most=SECONDS_A_SIZE, warm=walks == 1)
    times = walks / timed_walks
    if walks > 1:
        first = replace(
            first,
            name=first.name.replace("one walk", f"{walks} walks"),
            family=first.family.replace("one walk", f"{walks} walks"),
            note=f"{timed_walks} walks timed, times {times:g}" if times > 1 else "",
        )
    first = replace(first, values=[times * one for one in timed.seconds["ours"]])
    n_sets = len(past.distinct_weights)
    found = []
    for name, ask in peers.items():
        if not callable(ask):
            found.append(replace(first, peer=f"{name}: {NOT_INSTALLED}"))
            continue
        # A round of a peer asks one set of weights; which one goes round.
        row = replace(first, peer=name, peer_value=timed.median(name) * n_sets)
        found.append(replace(row, targets=targets(row, way)))
    return found


def targets(row: Row, way: str) -> list[Target]:
    """The targets of a million sessions and one walk."""
    if row.size < LARGE or not row.name.startswith("one walk"):
        return []
    if way == "plain" and row.peer == "scikit-learn brute":
        return [at_most(0.15, row, row.peer)]
    if way == "fast" and row.peer == "faiss flat L1":
        ahead = Target("ahead of faiss", row.ratio, 1.0)
        return [ahead, Target("3 times the memory's limit", row.limit_ratio, 3.0)]
    return []


def asking(past: Past, walks: int) -> Callable[[], np.ndarray]:
    """What `predict` does for some walks: lay them out, sum the past sessions up."""

    def ask() -> np.ndarray:
        with one_thread():
            return past_sums(
                asked=past.asked(walks),
                past=past.past,
                table=past.table,
                comparison=past.comparison,
            )

    return ask


def built(past: Past, *, trees: bool) -> Iterator[tuple[str, object]]:
    """Build each peer for three sets of weights; asked in turn, so that no set stays near."""
    mean = np.nanmean(past.fields, axis=0)
    columns, asked = filled(past.fields, mean), filled(past.asked_fields, mean)
    sets = past.distinct_weights[:: max(1, len(past.distinct_weights) // SETS_TIMED)][:SETS_TIMED]
    for name, make in PEERS.items():
        if name in TREES and not trees:
            continue
        try:
            ready = [(make(weighted(columns, one)), weighted(asked, one)) for one in sets]
        except ImportError:
            yield name, NOT_INSTALLED
            continue
        yield name, _in_turn(ready)


def _in_turn(ready: list[tuple[Callable[..., object], np.ndarray]]) -> Callable[..., object]:
    def ask(walks: int) -> Callable[[], None]:
        turn = iter(range(10**9))

        def work() -> None:
            peer, asked = ready[next(turn) % len(ready)]
            peer(asked[:walks])

        return work

    return ask


def bytes_touched(past: Past) -> int:
    """The least a scan must read: fields with gaps, both table columns, venue and day, 4 bytes."""
    sessions, n_fields = past.fields.shape
    return 4 * sessions * (n_fields + 2 * len(past.table) + 2)


def same_as_plain(past: Past) -> None:
    """End the run where compiled code sums another way up than the plain one, at full size."""
    fast = asking(past, TILE)()
    with going("plain"):
        plain = asking(past, TILE)()
    if not np.allclose(fast, plain, rtol=1e-4, atol=1e-4 * np.abs(plain).max()):
        raise SystemExit("the fast sums differ from the plain ones")


def check(past: Past, way: str) -> None:
    """End the run where sums, distances or neighbours differ."""
    walks = 3
    with going(way):
        sums = asking(past, walks)()
    right = by_definition(past, walks)
    if not np.allclose(sums, right, rtol=1e-4, atol=1e-4 * np.abs(right).max()):
        raise SystemExit(f"the {way} sums differ from the definition")
    ranges = np.ones(len(past.category))
    whole = filled(past.fields, np.zeros(len(ranges)))
    asked = filled(past.asked_fields[:walks], np.zeros(len(ranges)))
    sets = past.distinct_weights[::20]

    def own(queries: np.ndarray, sessions: np.ndarray) -> np.ndarray:
        sides = [conditions(side, past.category, ranges) for side in (queries, sessions)]
        return gower(*sides, sets, past.category)

    complete = own(asked, whole)
    for name, make in PEERS.items():
        for weights, distance in zip(sets, complete, strict=True):
            try:
                far, _ = make(weighted(whole, weights))(weighted(asked, weights))
            except ImportError:
                break
            if not np.allclose(far, np.sort(distance)[:, : far.shape[1]], atol=1e-5):
                raise SystemExit(f"{name}: other nearest sessions")
    few = past.fields[:20].astype(np.float64)
    gaps = past.asked_fields[:walks].astype(np.float64)
    try:
        for weights, distance, gappy in zip(sets, complete, own(gaps, few), strict=True):
            by_package = gower_package(
                asked.astype(float), whole.astype(float), weights, past.category
            )
            with_gaps = gower_package(gaps, few, weights, past.category)
            if not np.allclose(by_package, distance, atol=1e-5):
                raise SystemExit("gower: other distances")
            if not np.allclose(with_gaps, gappy, atol=1e-5):
                raise SystemExit("gower: other distances where conditions are missing")
    except ImportError:
        return
