"""The scan of past sessions as compiled code: the optional extra `fast`.

One pass over the past walks does everything that `past_sums` and `trial_sums` do plainly in
several: differences of the fields, distances for every setting, similarities, sums. A block of
past walks stays in the core's own memory while all queries and settings ask it. The answers are
those of the plain way but for the rounding of single precision.

A setting's fields weigh one of two numbers, so a distance is the common one times the sum over all
fields, and more or less times the sum over a list of fields; and what is known of both sides is
counted as bits.

Only imported where it is used, since it brings numba.
"""

from __future__ import annotations

import numpy as np
from numba import njit, types
from numba.extending import intrinsic

# Past walks held near the core at once, and fields in one word of bits.
BLOCK, WORD = 1024, 64
# Additions may be done in any order and as fused steps; what is not a number stays so, since that
# is how a missing condition is told.
LOOSE = {"reassoc", "contract", "nsz", "arcp"}
# Coefficients of 2^x around 1/2 (Taylor: powers of ln 2 over factorials); on [0, 1) the error is
# below 1e-7.
LOG2_E = np.float32(np.log2(np.e))
POLYNOMIAL = np.array(
    [np.sqrt(2.0) * np.log(2.0) ** k / float(np.prod(np.arange(1, k + 1))) for k in range(7)],
    dtype=np.float32,
)


def _array(kind: types.Type, axes: int) -> types.Type:
    """Describe an array that is read only, and so any."""
    return types.Array(kind, axes, "C", readonly=True)


# One signature, so that the scan is compiled once and not again for arrays of other kinds.
SIGNATURE = types.void(
    _array(types.float32, 2),  # asked
    _array(types.int64, 1),
    _array(types.float64, 1),
    _array(types.float32, 2),  # past
    _array(types.int64, 1),
    _array(types.float64, 1),
    _array(types.float32, 1),  # base, more, listed
    _array(types.float32, 1),
    _array(types.boolean, 2),
    _array(types.boolean, 1),
    _array(types.float32, 1),  # scale
    types.int64,
    _array(types.float64, 1),
    _array(types.float32, 3),  # table
    types.int64,
    types.int64,
    types.float64[:, :, :, :, ::1],  # sums, far, near
    types.float32[:, ::1],
    types.float32[:, ::1],
)


@intrinsic
def _bits_set(typing_context, word):  # type: ignore[no-untyped-def]
    """Count the bits that are set in a word of 64."""

    def generate(context, builder, signature, arguments):  # type: ignore[no-untyped-def]
        return builder.ctpop(arguments[0])

    return types.uint64(types.uint64), generate


@njit(cache=True, nogil=True, fastmath=LOOSE, error_model="numpy")
def _differences(asked, past, start, count, fields, agree_or_not, difference, words):  # type: ignore[no-untyped-def]
    """Fill a block's differences, 0 where missing, their sum, and bits of what is known."""
    everything = difference[len(fields)]
    everything[:] = np.float32(0.0)
    words[:] = np.uint64(0)
    for place in range(len(fields)):
        f = fields[place]
        today, row, word = asked[f], difference[place], words[place // WORD]
        bit = np.uint64(1) << np.uint64(place % WORD)
        column = past[f, start : start + count]
        for b in range(count):
            gap = abs(column[b] - today)
            there = gap == gap  # noqa: PLR0124 - not so where missing
            row[b] = gap if there else np.float32(0.0)
            word[b] |= bit if there else np.uint64(0)
        if agree_or_not[f]:
            for b in range(count):
                row[b] = np.float32(1.0) if row[b] != np.float32(0.0) else np.float32(0.0)
        for b in range(count):
            everything[b] += row[b]


@njit(cache=True, nogil=True, fastmath=LOOSE, error_model="numpy")
def _listed_sums(difference, fields, n_listed, result):  # type: ignore[no-untyped-def]
    """Sum the differences of the listed fields, four at a time."""
    result[:] = np.float32(0.0)
    k = 0
    while k + 4 <= n_listed:
        d0, d1 = difference[fields[k]], difference[fields[k + 1]]
        d2, d3 = difference[fields[k + 2]], difference[fields[k + 3]]
        for b in range(len(result)):
            result[b] += (d0[b] + d1[b]) + (d2[b] + d3[b])
        k += 4
    while k < n_listed:
        d0 = difference[fields[k]]
        for b in range(len(result)):
            result[b] += d0[b]
        k += 1


@njit(cache=True, nogil=True, fastmath=LOOSE, error_model="numpy")
def _counts(words, mask, result):  # type: ignore[no-untyped-def]
    """Count the fields of a mask that are known."""
    result[:] = np.float32(0.0)
    for w in range(len(words)):
        word = words[w]
        for b in range(len(result)):
            result[b] += np.float32(_bits_set(word[b] & mask[w]))  # type: ignore[call-arg]


@njit(cache=True, nogil=True, fastmath=LOOSE, error_model="numpy")
def _powers_of_two(exponents, bits, result):  # type: ignore[no-untyped-def]
    """Fill 2^x for x at most 0, as a polynomial times a power made of bits; 0 far below."""
    powers = bits.view(np.float32)
    for b in range(len(exponents)):
        exponent = exponents[b]
        exponent = exponent if exponent > np.float32(-127.0) else np.float32(-127.0)
        whole = np.floor(exponent)
        x = exponent - whole - np.float32(0.5)
        value = POLYNOMIAL[6]
        for k in range(5, -1, -1):
            value = value * x + POLYNOMIAL[k]
        bits[b] = (np.int32(whole) + np.int32(127)) << np.int32(23)
        result[b] = value
    for b in range(len(exponents)):
        result[b] *= powers[b]


@njit(cache=True, nogil=True, fastmath=LOOSE, error_model="numpy")
def _similarities(everything, there, base, more, scale, distance, total, exponents, bits, weight):  # type: ignore[no-untyped-def]
    """Turn sums over the listed fields into distances, and these into exp(scale * distance^2).

    The scale is at most 0; the similarity is 0 where nothing is known of both.
    """
    scale = scale * LOG2_E
    for b in range(len(distance)):
        of_all = base * there[b] + more * total[b]
        far = (base * everything[b] + more * distance[b]) / of_all
        distance[b] = far
        # Nothing in common is infinitely far; the comparison is not so for what is not a number.
        exponents[b] = far * far * scale if of_all > np.float32(0.0) else np.float32(-np.inf)
    _powers_of_two(exponents, bits, weight)


@njit(cache=True, nogil=True, fastmath=LOOSE, error_model="numpy")
def _add(weight, table, start, count, sums):  # type: ignore[no-untyped-def]
    """Add to `sums` what a block says, once for each row of the table; two rows at a time."""
    for c in range(0, table.shape[0] - 1, 2):
        one, other = table[c, start : start + count], table[c + 1, start : start + count]
        of_one, of_other = np.float32(0.0), np.float32(0.0)
        for b in range(count):
            of_one += weight[b] * one[b]
            of_other += weight[b] * other[b]
        sums[c] += of_one
        sums[c + 1] += of_other
    if table.shape[0] % 2:
        last = table[-1, start : start + count]
        of_last = np.float32(0.0)
        for b in range(count):
            of_last += weight[b] * last[b]
        sums[-1] += of_last


@njit(cache=True, nogil=True, fastmath=LOOSE, error_model="numpy")
def _times(one, other, result):  # type: ignore[no-untyped-def]
    """Multiply."""
    for b in range(len(result)):
        result[b] = one[b] * other[b]


@njit(cache=True, nogil=True, error_model="numpy")
def _outing(day, venue, past_day, past_venue, half_lives, exponents, bits, aged, same):  # type: ignore[no-untyped-def]
    """Fill a block's weights by age for each half-life; mark the same venue, and say where."""
    first, beyond = len(past_day), 0
    for b in range(len(past_day)):
        here = venue >= 0 and past_venue[b] == venue
        same[b] = np.float32(1.0) if here else np.float32(0.0)
        if here:
            first, beyond = min(first, b), b + 1
    for place in range(len(half_lives)):
        rate = -1.0 / half_lives[place]
        if rate != 0.0:
            for b in range(len(past_day)):
                exponents[b] = np.float32(abs(day - past_day[b]) * rate)
            _powers_of_two(exponents, bits, aged[place])
    return first, beyond


@njit(SIGNATURE, cache=True, nogil=True, error_model="numpy")
def scan(  # type: ignore[no-untyped-def]  # noqa: PLR0912
    asked, venue, day, past, past_venue, past_day, base, more, listed, agree_or_not, scale,
    n_bandwidths, half_lives, table, begin, end, sums, far, near,
):  # fmt: skip
    """Scan the past walks from `begin` to `end` for m walks and S settings.

    Parameters
    ----------
    asked : (m, F) array of float32
        Conditions of the walks; NaN where missing.
    venue, day : (m,) arrays
        Their venues and days.
    past : (F, U) array of float32
        Conditions of the past walks; NaN where missing.
    past_venue, past_day : (U,) arrays
        Their venues and days.
    base, more : (S,) array of float32
        What every field weighs, and what the listed fields weigh beyond that.
    listed : (S, F) array of bool
        The listed fields.
    agree_or_not : (F,) array of bool
        Fields whose difference is 0 or 1.
    scale : (S,) array of float32
        -1 / (2 h^2) for the first bandwidth h of each setting.
    n_bandwidths : int
        Each further bandwidth is the one before over the square root of 2.
    half_lives : (L,) array
        Days to half weight.
    table : (T, w, U) array of float32
        What is to be summed, for the first T settings.
    sums : (H * L, T, m, 2, w) array
        Receives the sums over all past walks, and over those at the same venue.
    far, near : (m, U) arrays, or of no rows
        Receive distance and similarity by the last setting's weights.
    """
    n_fields, n_settings = len(past), len(base)
    difference = np.zeros((n_fields + 1, BLOCK), dtype=np.float32)
    words = np.zeros(((n_fields + WORD - 1) // WORD, BLOCK), dtype=np.uint64)
    # Each an array of its own: rows of one array could overlap for all the compiler knows.
    there = np.zeros(BLOCK, dtype=np.float32)
    distance = np.zeros(BLOCK, dtype=np.float32)
    total = np.zeros(BLOCK, dtype=np.float32)
    weight = np.zeros(BLOCK, dtype=np.float32)
    counted = np.zeros(BLOCK, dtype=np.float32)
    same = np.zeros(BLOCK, dtype=np.float32)
    bits = np.zeros(BLOCK, dtype=np.int32)
    aged = np.ones((len(half_lives), BLOCK), dtype=np.float32)
    fields = np.zeros((n_settings, n_fields), dtype=np.int64)
    n_listed = np.zeros(n_settings, dtype=np.int64)
    masks = np.zeros((n_settings + 1, len(words)), dtype=np.uint64)
    for i in range(len(asked)):
        entered = np.flatnonzero(~np.isnan(asked[i]))
        n_listed[:] = 0
        masks[:] = np.uint64(0)
        for place in range(len(entered)):
            bit = np.uint64(1) << np.uint64(place % WORD)
            masks[n_settings, place // WORD] |= bit
            for s in range(n_settings):
                if listed[s, entered[place]]:
                    fields[s, n_listed[s]] = place
                    n_listed[s] += 1
                    masks[s, place // WORD] |= bit
        for start in range(begin, end, BLOCK):
            count = min(BLOCK, end - start)
            block = slice(start, start + count)
            _differences(asked[i], past, start, count, entered, agree_or_not, difference, words)
            _counts(words, masks[n_settings], there)
            first, beyond = _outing(
                day[i],
                venue[i],
                past_day[block],
                past_venue[block],
                half_lives,
                counted,
                bits,
                aged,
                same,
            )
            for s in range(n_settings):
                _listed_sums(difference, fields[s], n_listed[s], distance)
                _counts(words, masks[s], total)
                _similarities(
                    difference[len(entered)],
                    there,
                    base[s],
                    more[s],
                    scale[s],
                    distance,
                    total,
                    counted,
                    bits,
                    weight,
                )
                if s == n_settings - 1 and len(far):
                    far[i, block] = distance[:count]
                    near[i, block] = weight[:count]
                if s >= len(table):
                    continue
                for h in range(n_bandwidths):
                    if h > 0:
                        _times(weight, weight, weight)
                    for place in range(len(half_lives)):
                        into = sums[h * len(half_lives) + place, s, i]
                        outing = weight
                        if half_lives[place] < np.inf:
                            _times(weight, aged[place], counted)
                            outing = counted
                        _add(outing, table[s], start, count, into[0])
                        if first < beyond:
                            here = slice(first, beyond)
                            _times(outing[here], same[here], counted[here])
                            _add(counted[here], table[s], start + first, beyond - first, into[1])
