"""How far settled setups are expected to be from what a model says."""

from __future__ import annotations

import numpy as np

from setupadvisor.learning.advised import LEARNT
from setupadvisor.learning.model import Model
from setupadvisor.learning.sessions import Floats, Integers
from setupadvisor.learning.touching import degrees_touching


def counted_touching(model: Model, degrees: Floats, venue: Integers) -> Floats:
    """Pick the degrees that advice counts, of the rules that touch each setting.

    Parameters
    ----------
    model : Model
        A trained model.
    degrees : (m, R) array
        Degrees; NaN where not judged.
    venue : (m,) integer array
        Codes; -1 for a venue never seen.

    Returns
    -------
    (S, m, Q) array
        Usual degrees where not judged, but 0 for a setting that fell back to something simpler;
        and 0 where fewer than Q rules touch a setting.
    """
    counted = np.where(np.isnan(degrees), model.usual_degree[venue], degrees)
    silent = np.nan_to_num(degrees, nan=0.0)
    return np.stack(
        [
            degrees_touching(rules, counted if code == LEARNT else silent)
            for rules, code in zip(model.touching, model.fallback.tolist(), strict=True)
        ]
    )


def expected_spread(
    model: Model, which: int, degrees: Floats, rider: Integers, weight: Floats
) -> Floats:
    """Return the standard deviation that the model expects of a settled setup.

    Parameters
    ----------
    model : Model
        A trained model.
    which : int
        Which of the K + 1 models to ask.
    degrees : (S, m, Q) array
        Degrees of the rules that touch each setting, from `counted_touching`.
    rider : (m,) integer array
        Codes; the number of riders stands for a rider never seen.
    weight : (S, m) array
        Weight of the past sessions.

    Returns
    -------
    (S, m) array
        Square root of the variance of noise and event, widened by what pseudo-sessions and past
        sessions leave open (one over their weight); of the venue, as far as past sessions do not
        speak for it; of the amounts; and of the habit.
        Far from all experience, under rules that never spoke, or for a rider never seen, it
        grows; the ranges grow with it.
    """
    parts = model.advised
    of_rules = ((degrees @ parts.covariance[which]) * degrees).sum(axis=-1)
    of_habit = parts.habit_variances[which][rider].T
    of_outing = (model.noise_sd**2 + model.event_sd**2)[:, None]
    of_outing = of_outing * (1.0 + 1.0 / (weight + parts.kappa[:, None]))
    of_venue = model.venue_sd[:, None] ** 2 / (1.0 + weight / parts.kappa[:, None])
    spread: Floats = np.sqrt(of_outing + of_venue + of_rules + of_habit)
    return spread
