"""The parts that advice is given by, where some settings fall back to something simpler."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from setupadvisor.learning.sessions import Floats, Integers

# What the numbers in `Model.fallback` stand for.
FALLBACKS = ("", "rules as written", "rider's mean")
LEARNT, AS_WRITTEN, RIDERS_MEAN = range(3)


@dataclass(frozen=True)
class Parts:
    """What a prediction is the sum of, without each of K folds and last with everything.

    Parameters
    ----------
    amounts : (R, S) array
        Amounts of the model with everything.
    touched : (K + 1, S, Q) array
        Amounts of the rules that touch each setting.
    covariance : (K + 1, S, Q, Q) array
        What is not known of them.
    habits, habit_variances : (K + 1, G + 1, S) array
        Habits and what is not known of them; the last rider is one never seen.
    usual : (K + 1, G + 1, S) array
        What past sessions say whatever the walk: what a rider usually ended on, or 0.
    kappa : (S,) array
        Pseudo-sessions at zero; infinite where similar sessions say nothing.
    """

    amounts: Floats
    touched: Floats
    covariance: Floats
    habits: Floats
    habit_variances: Floats
    usual: Floats
    kappa: Floats


def with_fallbacks(
    learnt: Parts,
    fallback: Integers,
    *,
    written: Floats,
    written_touched: Floats,
    written_variance: Floats,
    habit_variance: Floats,
) -> Parts:
    """Put something simpler in the place of what was learnt, setting by setting.

    Parameters
    ----------
    learnt : Parts
        What was learnt; its `usual` holds what riders usually ended on.
    fallback : (S,) integer array
        Into `FALLBACKS`.
    written : (R, S) array
        Amounts as written.
    written_touched, written_variance : (S, Q) array
        Those of the rules that touch each setting, and how firm they are.
    habit_variance : (S,) array
        Variance of habits.

    Returns
    -------
    Parts
        Rules as written: amounts and their spread as before any session, no habit, no similar
        sessions. Rider's mean: no rules and no habit; past sessions say what the rider usually
        ended on.
    """
    as_written, plain = fallback == AS_WRITTEN, fallback == RIDERS_MEAN
    simpler = as_written | plain
    prior = written_variance[:, :, None] * np.eye(written_variance.shape[1])
    silent = plain[:, None, None]
    return Parts(
        amounts=np.where(plain, 0.0, np.where(as_written, written, learnt.amounts)),
        touched=np.where(
            plain[:, None],
            0.0,
            np.where(as_written[:, None], written_touched, learnt.touched),
        ),
        covariance=np.where(
            silent, 0.0, np.where(as_written[:, None, None], prior, learnt.covariance)
        ),
        habits=np.where(simpler, 0.0, learnt.habits),
        habit_variances=np.where(as_written, habit_variance, learnt.habit_variances),
        usual=np.where(plain, learnt.usual, 0.0),
        kappa=np.where(simpler, np.inf, learnt.kappa),
    )
