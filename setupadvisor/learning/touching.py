"""Which rules touch which setting, and how much is usual there."""

from __future__ import annotations

import numpy as np

from setupadvisor.learning.sessions import Floats, Integers, Knowledge


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
