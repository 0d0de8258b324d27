"""How far past sessions reach: bandwidth, pseudo-sessions, venue, age, unread fields.

Each is chosen by leaving out whole events: every settled setup is predicted from the sessions of
the other folds, with the amounts and habits those folds support.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from setupadvisor.learning.even_choice import chosen_settled
from setupadvisor.learning.model import BANDWIDTH, KAPPA, VENUE_FACTOR, Model
from setupadvisor.learning.past_sessions import Reals
from setupadvisor.learning.past_sums import explained_without_fold, walks_by_fold
from setupadvisor.learning.sessions import Floats
from setupadvisor.learning.stores import Judged, Store
from setupadvisor.learning.trial_sums import trial_sums
from setupadvisor.learning.walk_tables import field_weights

# Fewest events from which past sessions' reach is chosen at all.
FEWEST_EVENTS = 3
# Each bandwidth is the one before over the square root of 2, so that its weights are the squares.
WIDEST, N_BANDWIDTHS = 0.5, 7
BANDWIDTHS = WIDEST / np.sqrt(2.0) ** np.arange(N_BANDWIDTHS)
KAPPAS = np.array([0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, np.inf])
VENUE_FACTORS = np.array([1.0, 3.0, 10.0, 30.0, 100.0, 300.0])
# The logarithms of bandwidth, venue factor and pseudo-sessions have normal priors around their
# starts, since a few events say little about how far they reach: this many times away costs half a
# unit of log likelihood, in which every event counts as one finding. No correction at all is as far
# away as so many pseudo-sessions.
TIMES_AWAY = {"bandwidth": 2.0, "venue_factor": 10.0, "kappa": 8.0}
MOST_PSEUDO_SESSIONS = 64.0
UNREAD_WEIGHTS = (0.1, 0.3, 1.0)
HALF_LIVES = (np.inf, 1095.0, 547.5, 273.75)
# A setting's own sessions count against all settings' together as these many pseudo-sessions.
SHARED = 30.0
# What a choice away from the usual one must gain, as a share of the squared error.
WORTHWHILE = 0.01
# Settled setups that are enough to choose by, and how many pairs more may be: of single sessions,
# and of distinct walks.
ENOUGH_SETTLED, ENOUGH_PAIRS, ENOUGH_PAIRS_OF_WALKS = 300, 3_000_000, 20_000_000


@dataclass(frozen=True)
class _Reach:
    """A choice, and its squared error as a share of that without past sessions."""

    loss: float
    bandwidth: float
    kappa: Floats
    venue_factor: float
    half_life: float
    unread_weight: float


@dataclass(frozen=True)
class _Search:
    """Settled sessions to choose by: their left-over without their fold, and its weight."""

    model: Model
    store: Store
    judged: Model
    error: Floats
    weight: Floats

    def try_out(
        self, best: _Reach | None, bandwidths: Floats, unread: float, half_lives: tuple[float, ...]
    ) -> _Reach:
        """Return the best of some trials, or the one before unless the gain is worthwhile."""
        weights = field_weights(self.model.reads, unread)[:-1]
        sums = self._sums(weights, bandwidths, half_lives)
        n_events = int(np.isfinite(self.store.events.first_day).sum())
        doubt = _doubt(np.repeat(bandwidths, len(half_lives))) / n_events
        losses, kappas, factors = _losses(sums, self.error, self.weight, doubt)
        here = int(np.argmin(losses))
        if best is not None and losses[here] >= best.loss * (1.0 - WORTHWHILE):
            return best
        return _Reach(
            loss=float(losses[here]),
            bandwidth=float(bandwidths[here // len(half_lives)]),
            kappa=kappas[here],
            venue_factor=float(factors[here]),
            half_life=half_lives[here % len(half_lives)],
            unread_weight=unread,
        )

    def _sums(self, weights: Reals, bandwidths: Floats, half_lives: tuple[float, ...]) -> Floats:
        """Return sums over the other folds for every bandwidth and half-life.

        (H * L, q, S, 4) array: left-over and weight of all sessions, then of those at the same
        venue.
        """
        q = len(self.judged.day)
        folds = list(walks_by_fold(self.judged, np.arange(q)))
        shared = {
            "weights": weights,
            "agree_or_not": self.model.agree_or_not,
            "bandwidths": bandwidths,
            "half_lives": half_lives,
        }
        asked = [(k, self.judged.past.taken(walks)) for k, _, walks, _ in folds]
        found = self.store.past_without_folds(trial_sums, self.model, asked, shared)
        n_trials = len(bandwidths) * len(half_lives)
        result = np.zeros((n_trials, q, len(self.model.setting), 4))
        for (_, where, _, walk), sums in zip(folds, found, strict=True):
            result[:, where] = sums[:, :, walk].transpose(0, 2, 1, 3)
        return result


def chosen_reach(model: Model, store: Store) -> Model:
    """Choose the reach of past sessions by leaving out whole events.

    Parameters
    ----------
    model : Model
        Model with amounts and habits for every fold; its bandwidth, pseudo-sessions, venue
        factor, half-life and weight of unread fields are where the search starts.
    store : Store
        Where the sessions are. Errors on well marked setups count more.

    Returns
    -------
    Model
        The model with its reach chosen, or as it was with fewer than three events.
    """
    if np.isfinite(store.events.first_day).sum() < FEWEST_EVENTS:
        return model
    enough = max(ENOUGH_SETTLED, ENOUGH_PAIRS_OF_WALKS // int(store.events.walks.sum()))
    judged = store.judged(model, chosen_settled(store.events, enough))
    error, weight = _errors_without_past(judged)
    search = _Search(model, store, judged.model, error, weight)
    best = search.try_out(None, BANDWIDTHS, model.unread_weight, (model.half_life,))
    for value in UNREAD_WEIGHTS:
        if value != model.unread_weight:
            around = _around(best.bandwidth)
            best = search.try_out(best, around, value, (model.half_life,))
    others = tuple(value for value in HALF_LIVES if value != best.half_life)
    best = search.try_out(best, np.array([best.bandwidth]), best.unread_weight, others)
    return replace(
        model,
        bandwidth=np.full(len(model.setting), best.bandwidth),
        kappa=best.kappa,
        venue_factor=best.venue_factor,
        half_life=best.half_life,
        unread_weight=best.unread_weight,
    )


def _errors_without_past(judged: Judged) -> tuple[Floats, Floats]:
    """Left-over of the sessions without their fold, and their weight; 0 where not settled."""
    model = judged.model
    error = model.target - explained_without_fold(model, np.arange(len(judged.rows)))
    counted = model.settled & np.isfinite(error)
    return np.where(counted, error, 0.0), np.where(counted, judged.worth[:, None], 0.0)


def _doubt(bandwidths: Floats) -> Floats:
    """Squared distances from where the search starts: (H, venue factors, kappas) array."""
    kappas = np.where(np.isinf(KAPPAS), MOST_PSEUDO_SESSIONS, KAPPAS)
    away = [
        np.log(values / start) / np.log(TIMES_AWAY[name])
        for name, values, start in (
            ("bandwidth", bandwidths, BANDWIDTH),
            ("venue_factor", VENUE_FACTORS, VENUE_FACTOR),
            ("kappa", kappas, KAPPA),
        )
    ]
    doubt: Floats = away[0][:, None, None] ** 2 + away[1][:, None] ** 2 + away[2] ** 2
    return doubt


def _losses(
    sums: Floats, error: Floats, weight: Floats, doubt: Floats
) -> tuple[Floats, Floats, Floats]:
    """Smallest pooled loss of each bandwidth, with its (H, S) kappas and (H,) venue factors."""
    n_bandwidths, _, n_settings, _ = sums.shape
    without = (weight * error**2).sum(axis=0)
    counts = (weight > 0).sum(axis=0).astype(np.float64)
    judged = (without > 0) & (counts > 0)
    losses = np.ones((n_bandwidths, len(VENUE_FACTORS), len(KAPPAS), n_settings))
    for v, factor in enumerate(VENUE_FACTORS):
        total = sums[..., :2] + (factor - 1.0) * sums[..., 2:]
        for c, kappa in enumerate(KAPPAS[:-1]):
            gap = error - total[..., 0] / (total[..., 1] + kappa)
            squared = (weight * gap**2).sum(axis=1)
            losses[:, v, c] = np.where(judged, squared / np.where(judged, without, 1.0), 1.0)
    pooled = losses @ counts / max(counts.sum(), 1.0)
    pooled *= np.exp(doubt)
    flat = pooled.reshape(n_bandwidths, -1)
    best = np.argmin(flat, axis=1)
    factor_index = best // len(KAPPAS)
    rows = np.arange(n_bandwidths)
    own = losses[rows, factor_index]
    together = pooled[rows, factor_index]
    blended = (own * counts + SHARED * together[:, :, None]) / (counts + SHARED)
    kappas = KAPPAS[np.argmin(blended, axis=1)]
    return flat[rows, best], kappas, VENUE_FACTORS[factor_index]


def _around(bandwidth: float) -> Floats:
    """Three bandwidths around the chosen one, widest first."""
    around: Floats = bandwidth * np.sqrt(2.0) ** np.array([1.0, 0.0, -1.0])
    return around
