"""The past sessions most like a walk: which, how like, what they share and what differs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.learning.model import Model
from setupadvisor.learning.past_sessions import (
    Reals,
    conditions,
    differences,
    gower,
    kernel,
    outing_weights,
)
from setupadvisor.learning.sessions import Booleans, Floats, Integers
from setupadvisor.learning.touching import degrees_touching


@dataclass(frozen=True)
class Nearest:
    """Past sessions that count most for each walk, one for a rider at an event.

    Parameters
    ----------
    session : (m, k) integer array
        Row of the session in the model's season; -1 where there are fewer than k.
    distance : (m, k) array
        Gower's distance; NaN where there is no session, or nothing is known of both.
    weight : (m, k) array
        What the session weighs, in descending order; 0 where there is none.
    """

    session: Integers
    distance: Floats
    weight: Floats


def field_differences(model: Model, fields: Floats, session: Integers) -> Floats:
    """Compare one walk with some past sessions, field by field.

    Parameters
    ----------
    model : Model
        A trained model.
    fields : (F,) array
        The walk's entered conditions.
    session : (k,) integer array
        Rows of the model's season.

    Returns
    -------
    (k, F) array
        Range-scaled differences, or 0 and 1 for categories; NaN where a side is missing.
    """
    parts = (model.field_is_category, model.field_range, np.float64)
    today = conditions(np.asarray(fields)[None], *parts)
    past = conditions(model.fields[session], *parts)
    difference = differences(today, past, model.agree_or_not)[:, 0]
    known = (today.known() > 0) & (past.known() > 0)
    return np.where(known, difference, np.nan).T.astype(np.float64)


def nearest_sessions(
    model: Model, fields: Floats, venue: Integers, day: Floats, *, setting: int, n_nearest: int = 5
) -> tuple[Nearest, Floats]:
    """List the past sessions that move one setting most for each walk.

    Parameters
    ----------
    model : Model
        A trained model.
    fields, venue, day : (m, F), (m,), (m,) array
        The walks, in the model's codes.
    setting : int
        Column of the setting.
    n_nearest : int, optional
        How many to list.

    Returns
    -------
    nearest : Nearest
        The sessions; their distance is the setting's own.
    pull : (m, k) array
        What each adds to the correction, in the setting's number.
    """
    comparison = model.comparison.of_settings(slice(setting, setting + 1))
    distance = gower(
        model.walk_table(fields, venue, day).conditions,
        model.past.conditions,
        comparison.weights,
        comparison.agree_or_not,
    )
    weight = kernel(distance.copy(), comparison.bandwidth)[0]
    outing = outing_weights(
        venue,
        day,
        venue=model.past.venue,
        day=model.past.day,
        venue_factor=model.venue_factor,
        half_life=model.half_life,
    )
    if outing is not None:
        weight *= outing
    of_session = model.walks.of_session
    own, gap = _left_over(model, setting)
    weight = weight[:, of_session] * own
    listed = heaviest(weight, distance[0][:, of_session], model.settled[:, setting], n_nearest)
    total = (weight.sum(axis=1) + model.advised.kappa[setting])[:, None]
    return listed, _picked(weight * gap, listed.session, 0.0) / total


def _left_over(model: Model, s: int) -> tuple[Floats, Floats]:
    """Weight of each past session for one setting, and what the model leaves over there."""
    recorded = np.isfinite(model.target[:, s])
    explained = (
        degrees_touching(model.touching[s], model.counted_degrees) @ model.fitted_amounts[-1, s]
    )
    explained += model.habit[-1][model.rider, s]
    weight = np.where(recorded, model.weight[:, s], 0.0)
    return weight, np.where(recorded, model.target[:, s] - explained, 0.0)


def heaviest(weight: Reals, distance: Reals, among: Booleans, k: int) -> Nearest:
    """List the heaviest sessions of each walk.

    Parameters
    ----------
    weight, distance : (m, n) array
        Weight and distance of each session for each walk.
    among : (n,) array of bool
        Sessions that may be listed.
    k : int
        How many to list.

    Returns
    -------
    Nearest
        The sessions, heaviest first.
    """
    m, n = weight.shape
    order = np.where(among, weight, -1.0)
    taken = min(k, n)
    session = np.full((m, k), -1, dtype=np.int64)
    if taken:
        top = np.argpartition(-order, taken - 1, axis=1)[:, :taken]
        ranked = np.argsort(-np.take_along_axis(order, top, axis=1), axis=1, kind="stable")
        session[:, :taken] = np.take_along_axis(top, ranked, axis=1)
    there = np.take_along_axis(order, session, axis=1) > 0 if n else session >= 0
    session = np.where(there, session, -1)
    return Nearest(
        session=session,
        distance=_picked(distance, session, np.nan),
        weight=_picked(weight, session, 0.0),
    )


def _picked(values: Reals, session: Integers, otherwise: float) -> Floats:
    """Pick the values of the listed sessions."""
    if values.shape[1] == 0:
        return np.full(session.shape, otherwise)
    picked = np.take_along_axis(values, np.maximum(session, 0), axis=1).astype(np.float64)
    return np.where(session >= 0, picked, otherwise)
