"""Which rules touch which setting, and how much is usual there."""

from __future__ import annotations

import numpy as np

from setupadvisor.learning.sessions import Floats, Integers, Knowledge
from setupadvisor.learning.sums_by_code import sums_by_code

# Events in which a rule is taken not to have spoken, beside those that judged it anywhere, and
# events in which it spoke as usual, beside those that judged it at a venue. Choices, not published
# values.
EVENTS_WITHOUT, EVENTS_ELSEWHERE = 2.0, 1.0


def touching_rules(amounts: Floats) -> Integers:
    """List the rules that touch each setting.

    Parameters
    ----------
    amounts : (R, S) array
        Amounts as written; 0 where a rule does not touch a setting.

    Returns
    -------
    (S, Q) integer array
        Rules in order, -1 where a setting has fewer than Q.

    Examples
    --------
    >>> touching_rules(np.array([[2.0, 0.0], [0.0, 0.0], [1.0, -1.0]])).tolist()
    [[0, 2], [2, -1]]
    """
    lists = [np.flatnonzero(column) for column in amounts.T]
    width = max((len(rules) for rules in lists), default=0)
    result = np.full((len(lists), width), -1, dtype=np.int64)
    for row, rules in zip(result, lists, strict=True):
        row[: len(rules)] = rules
    return result


def touched(by_rule: Floats, touching: Integers) -> Floats:
    """Pick from an (R, S) array the entries of the rules that touch each setting.

    Parameters
    ----------
    by_rule : (R, S) array
        One number for each rule and setting.
    touching : (S, Q) integer array
        From `touching_rules`.

    Returns
    -------
    (S, Q) array
        0 where fewer than Q rules touch a setting.
    """
    if touching.shape[1] == 0:
        return np.zeros(touching.shape)
    picked = np.take_along_axis(by_rule.T, np.maximum(touching, 0), axis=1)
    return np.where(touching >= 0, picked, 0.0)


def degrees_touching(rules: Integers, degrees: Floats) -> Floats:
    """Pick the degrees of the rules that touch one setting.

    Parameters
    ----------
    rules : (Q,) integer array
        A row from `touching_rules`.
    degrees : (m, R) array
        Degrees of all rules.

    Returns
    -------
    (m, Q) array
        0 where fewer than Q rules touch the setting.
    """
    picked = np.zeros((len(degrees), len(rules)))
    picked[:, rules >= 0] = degrees[:, rules[rules >= 0]]
    return picked


def degree_sums(
    degrees: Floats, event: Integers, venue: Integers, *, n_events: int, n_venues: int
) -> Floats:
    """Sum up the mean degrees of events; those of other events may be added.

    Parameters
    ----------
    degrees : (n, R) array
        Degrees in past sessions; NaN where facts were missing.
    event, venue : (n,) integer array
        Codes; -1 for an unknown venue.
    n_events, n_venues : int
        Numbers of codes.

    Returns
    -------
    (2, n_venues + 1, R) array
        Sum of the mean degree over each venue's events that judged the rule, and how many did; last
        over all events.
    """
    known = np.isfinite(degrees)
    total = sums_by_code(event, np.where(known, degrees, 0.0), n_events)
    count = sums_by_code(event, known.astype(np.float64), n_events)
    of_event = np.full(n_events, -1)
    of_event[event] = venue
    sums = []
    for by_event in (total / np.maximum(count, 1.0), (count > 0).astype(np.float64)):
        whole = by_event.sum(axis=0, keepdims=True)
        sums.append(np.vstack([sums_by_code(of_event, by_event, n_venues), whole]))
    return np.stack(sums)


def usual_degrees(sums: Floats) -> Floats:
    """Mean degree of each rule at each venue, over the events that judged it.

    Parameters
    ----------
    sums : (2, n_venues + 1, R) array
        From `degree_sums`.

    Returns
    -------
    (n_venues + 1, R) array
        Means, drawn to that of all events by pseudo-events, and last that of all events, drawn to 0
        likewise: one or two days do not pass for what is usual.

    Notes
    -----
    It stands in where a rule could not be judged. Were the rule taken to be silent there, what it
    did unseen would count as evidence that it does less elsewhere; and so it would if the venue's
    ground were taken to be like any other's.

    Examples
    --------
    >>> some = np.array([[1.0], [0.8], [np.nan], [0.3]])
    >>> usual_degrees(degree_sums(some, np.array([0, 0, 1, 2]), np.array([0, 0, 0, 1]), n_events=3,
    ...                           n_venues=2)).round(3).tolist()
    [[0.6], [0.3], [0.3]]
    """
    total, judged = sums
    everywhere = total[-1] / (judged[-1] + EVENTS_WITHOUT)
    usual = (total[:-1] + EVENTS_ELSEWHERE * everywhere) / (judged[:-1] + EVENTS_ELSEWHERE)
    return np.vstack([usual, everywhere])


def amount_spreads(knowledge: Knowledge, touching: Integers) -> Floats:
    """Prior standard deviations of the amounts of the rules that touch each setting.

    Parameters
    ----------
    knowledge : Knowledge
        Rules and settings.
    touching : (S, Q) integer array
        From `touching_rules`.

    Returns
    -------
    (S, Q) array
        In the setting's number; 0 where fewer than Q rules touch a setting.
    """
    return touched(np.abs(knowledge.amounts) * knowledge.relative_spread[:, None], touching)


def usual_change(knowledge: Knowledge) -> Floats:
    """Return what one usual change of a setting is: a step, or half a usual rule's amount if more.

    Parameters
    ----------
    knowledge : Knowledge
        Rules and settings.

    Returns
    -------
    (S,) array
        In the setting's number. The habit and the noise are taken to be about this large until
        sessions say otherwise.
    """
    sizes = np.where(knowledge.amounts == 0, np.nan, np.abs(knowledge.amounts))
    usual = [np.nanmedian(column) if (column > 0).any() else 0.0 for column in sizes.T]
    return np.maximum(knowledge.step, 0.5 * np.array(usual))
