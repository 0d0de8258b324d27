"""The scan of past sessions as compiled code: the optional extra `fast`.

One pass over the past walks does everything that `past_sums` and `trial_sums` do plainly in
several: differences of the fields, distances for every setting, similarities, sums. A block of
past walks stays in the core's own memory while all queries and settings ask it. The answers are
those of the plain way but for the rounding of single precision.

A setting's fields weigh one of two numbers, so a distance is the common one times the sum over all
fields, and more or less times the sum over a list of them; fields that are listed for the same
settings are summed up once for all. What is known of both sides is counted as bits.

Only imported where it is used, since it brings numba.
"""

from __future__ import annotations

import numpy as np
from numba import njit, types
from numba.extending import intrinsic

# Past walks held near the core at once, fields in one word of bits, words counted at once.
BLOCK, WORD, WORDS_AT_ONCE = 2048, 32, 2
# Additions may be done in any order and as fused steps; what is not a number stays so, since that
# is how a missing condition is told.
LOOSE = {"reassoc", "contract", "nsz", "arcp"}
# Coefficients of 2^x around 1/2, by interpolation at Chebyshev's points: on [0, 1) the error is
# below 3e-7.
LOG2_E = np.float32(np.log2(np.e))
DEGREE = 5
POLYNOMIAL = (
    np.polynomial.Chebyshev.interpolate(lambda x: 2.0 ** (x + 0.5), DEGREE, domain=[-0.5, 0.5])
    .convert(kind=np.polynomial.Polynomial)
    .coef.astype(np.float32)
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
    _array(types.int64, 1),  # group, agree_or_not
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
    """Count the bits that are set in a word of 32."""

    def generate(context, builder, signature, arguments):  # type: ignore[no-untyped-def]
        return builder.ctpop(arguments[0])

    return types.uint32(types.uint32), generate


@intrinsic
def _with_bits(typing_context, bits):  # type: ignore[no-untyped-def]
    """Take 32 bits as a number of single precision."""

    def generate(context, builder, signature, arguments):  # type: ignore[no-untyped-def]
        return builder.bitcast(arguments[0], context.get_value_type(types.float32))

    return types.float32(types.int32), generate


@njit(cache=True, nogil=True, fastmath=LOOSE, error_model="numpy")
def _differences(asked, past, start, count, fields, group, agree_or_not, difference, words):  # type: ignore[no-untyped-def]
    """Sum a block's differences by group, 0 where missing; set bits where known."""
    for place in range(len(fields)):
        difference[group[fields[place]]] = np.float32(0.0)
    words[:] = np.uint32(0)
    for place in range(len(fields)):
        f = fields[place]
        today, row, word = asked[f], difference[group[f]], words[place // WORD]
        bit = np.uint32(1) << np.uint32(place % WORD)
        column, either = past[f, start : start + count], agree_or_not[f]
        for b in range(count):
            gap = abs(column[b] - today)
            there = gap == gap  # noqa: PLR0124 - not so where missing
            if either:
                gap = np.float32(1.0) if gap != np.float32(0.0) else np.float32(0.0)
            gap = gap if there else np.float32(0.0)
            row[b] += gap
            word[b] |= bit if there else np.uint32(0)


@njit(cache=True, nogil=True, fastmath=LOOSE, error_model="numpy")
def _listed_sums(difference, groups, n_listed, result):  # type: ignore[no-untyped-def]
    """Sum the differences of the listed groups, six at a time while there are so many."""
    result[:] = np.float32(0.0)
    k = 0
    while k + 6 <= n_listed:
        d0, d1, d2 = difference[groups[k]], difference[groups[k + 1]], difference[groups[k + 2]]
        d3, d4, d5 = difference[groups[k + 3]], difference[groups[k + 4]], difference[groups[k + 5]]
        for b in range(len(result)):
            result[b] += (d0[b] + d1[b] + d2[b]) + (d3[b] + d4[b] + d5[b])
        k += 6
    while k + 2 <= n_listed:
        d0, d1 = difference[groups[k]], difference[groups[k + 1]]
        for b in range(len(result)):
            result[b] += d0[b] + d1[b]
        k += 2
    if k < n_listed:
        d0 = difference[groups[k]]
        for b in range(len(result)):
            result[b] += d0[b]


@njit(cache=True, nogil=True, fastmath=LOOSE, error_model="numpy")
def _counts(words, mask, result):  # type: ignore[no-untyped-def]
    """Count the fields of a mask that are known."""
    result[:] = np.float32(0.0)
    for w in range(len(words)):
        word, of_word = words[w], mask[w]
        for b in range(len(result)):
            result[b] += np.float32(np.int32(_bits_set(word[b] & of_word)))  # type: ignore[call-arg]


@njit(cache=True, nogil=True, fastmath=LOOSE, error_model="numpy")
def _power_of_two(exponent):  # type: ignore[no-untyped-def]
    """Give 2^x for x at most 0, as a polynomial times a power made of bits; 0 far below."""
    exponent = exponent if exponent > np.float32(-127.0) else np.float32(-127.0)
    whole = np.floor(exponent)
    x = exponent - whole - np.float32(0.5)
    value = POLYNOMIAL[DEGREE]
    for k in range(DEGREE - 1, -1, -1):
        value = value * x + POLYNOMIAL[k]
    bits = np.int32(np.int32(whole) + np.int32(127)) << np.int32(23)
    return value * _with_bits(np.int32(bits))  # type: ignore[call-arg]


@njit(cache=True, nogil=True, fastmath=LOOSE, error_model="numpy")
def _similarities(  # type: ignore[no-untyped-def]
    everything, there, words, mask, further, base, more, scale, older, distance, weight
):
    """Turn sums over the listed fields into distances, and these into weights.

    A weight is exp(scale * distance^2), scale at most 0, halved for each half-life of `older`; 0
    where nothing is known of both.
    """
    scale = scale * LOG2_E
    one, of_one, other, of_other = words[0], mask[0], words[1], mask[1]
    for b in range(len(distance)):
        known: int = _bits_set(one[b] & of_one) + _bits_set(other[b] & of_other)  # type: ignore[call-arg]
        of_all = base * there[b] + more * (np.float32(np.int32(known)) + further[b])
        far = (base * everything[b] + more * distance[b]) / of_all
        distance[b] = far
        exponent = far * far * scale - older[b]
        # The comparison is not so for what is not a number.
        exponent = exponent if of_all > np.float32(0.0) else np.float32(-np.inf)
        weight[b] = _power_of_two(exponent)


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
def _outing(day, venue, past_day, past_venue, half_lives, older, aged, same):  # type: ignore[no-untyped-def]
    """Fill a block's ages; mark the same venue, and say where it is.

    With one half-life, ages are told in half-lives; with several, `aged` is the weight by each.
    """
    first, beyond = len(past_day), 0
    for b in range(len(past_day)):
        here = venue >= 0 and past_venue[b] == venue
        same[b] = np.float32(1.0) if here else np.float32(0.0)
        if here:
            first, beyond = min(first, b), b + 1
    for place in range(len(half_lives)):
        rate = 1.0 / half_lives[place]
        row = older if len(aged) == 0 else aged[place]
        for b in range(len(past_day)):
            row[b] = np.float32(abs(day - past_day[b]) * rate)
        if len(aged):
            for b in range(len(past_day)):
                row[b] = _power_of_two(-row[b])
    return first, beyond


@njit(SIGNATURE, cache=True, nogil=True, error_model="numpy")
def scan(  # type: ignore[no-untyped-def]  # noqa: PLR0912, PLR0915
    asked, venue, day, past, past_venue, past_day, base, more, listed, group, agree_or_not, scale,
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
    listed : (S, G) array of bool
        The groups of fields that are listed.
    group : (F,) array
        The group of each field: fields that are listed for the same settings.
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
        Receive distance and similarity by the last setting's weights, the similarity less by age
        where one half-life and one bandwidth are asked for.
    """
    n_fields, n_settings = len(past), len(base)
    difference = np.zeros((listed.shape[1], BLOCK), dtype=np.float32)
    words = np.zeros((max(WORDS_AT_ONCE, (n_fields + WORD - 1) // WORD), BLOCK), dtype=np.uint32)
    # Each an array of its own: rows of one array could overlap for all the compiler knows.
    everything = np.zeros(BLOCK, dtype=np.float32)
    there = np.zeros(BLOCK, dtype=np.float32)
    distance = np.zeros(BLOCK, dtype=np.float32)
    further = np.zeros(BLOCK, dtype=np.float32)
    weight = np.zeros(BLOCK, dtype=np.float32)
    counted = np.zeros(BLOCK, dtype=np.float32)
    same = np.zeros(BLOCK, dtype=np.float32)
    older = np.zeros(BLOCK, dtype=np.float32)
    alone = n_bandwidths == 1 and len(half_lives) == 1
    aged = np.ones((0 if alone else len(half_lives), BLOCK), dtype=np.float32)
    groups = np.zeros((n_settings + 1, listed.shape[1]), dtype=np.int64)
    n_listed = np.zeros(n_settings + 1, dtype=np.int64)
    # The last list is of everything.
    masks = np.zeros((n_settings + 1, len(words)), dtype=np.uint32)
    for i in range(len(asked)):
        entered = np.flatnonzero(~np.isnan(asked[i]))
        n_listed[:] = 0
        masks[:] = np.uint32(0)
        for place in range(len(entered)):
            g = group[entered[place]]
            bit = np.uint32(1) << np.uint32(place % WORD)
            for s in range(n_settings + 1):
                if s == n_settings or listed[s, g]:
                    masks[s, place // WORD] |= bit
                    if g not in groups[s, : n_listed[s]]:
                        groups[s, n_listed[s]] = g
                        n_listed[s] += 1
        for start in range(begin, end, BLOCK):
            count = min(BLOCK, end - start)
            block = slice(start, start + count)
            _differences(
                asked[i], past, start, count, entered, group, agree_or_not, difference, words
            )
            _listed_sums(difference, groups[n_settings], n_listed[n_settings], everything)
            _counts(words, masks[n_settings], there)
            first, beyond = _outing(
                day[i],
                venue[i],
                past_day[block],
                past_venue[block],
                half_lives,
                older,
                aged,
                same,
            )
            for s in range(n_settings):
                _listed_sums(difference, groups[s], n_listed[s], distance)
                if len(words) > WORDS_AT_ONCE:
                    _counts(words[WORDS_AT_ONCE:], masks[s, WORDS_AT_ONCE:], further)
                _similarities(
                    everything,
                    there,
                    words,
                    masks[s],
                    further,
                    base[s],
                    more[s],
                    scale[s],
                    older,
                    distance,
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
                        if not alone and half_lives[place] < np.inf:
                            _times(weight, aged[place], counted)
                            outing = counted
                        _add(outing, table[s], start, count, into[0])
                        if first < beyond:
                            here = slice(first, beyond)
                            _times(outing[here], same[here], counted[here])
                            _add(counted[here], table[s], start + first, beyond - first, into[1])
