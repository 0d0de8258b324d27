"""Student's t distribution, and mixtures of it, with numpy alone.

scipy.stats has the same and takes a third of a second to import, which a command that must
answer in the pit lane would pay each time. The values are checked against it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache

import numpy as np

from setupadvisor.learning.sessions import Floats

_NODES = 32
# Beyond this many standard deviations of the angle nothing is left to integrate.
_FARTHEST = 12.0
_MOST_STEPS = 200
_CLOSE = 1e-9


@cache
def _gauss_legendre() -> tuple[Floats, Floats]:
    """Nodes and weights on 0 to 1 (Golub and Welsch 1969, from memory)."""
    n = np.arange(1, _NODES)
    beside = n / np.sqrt(4.0 * n**2 - 1.0)
    nodes, vectors = np.linalg.eigh(np.diag(beside, 1) + np.diag(beside, -1))
    return (nodes + 1.0) / 2.0, vectors[0] ** 2


def t_cdf(x: Floats, dof: float) -> Floats:
    """Distribution function of Student's t.

    Parameters
    ----------
    x : array
        Where.
    dof : float
        Degrees of freedom, 1 or more.

    Returns
    -------
    array
        Probability of a value up to `x`.

    Notes
    -----
    With x = sqrt(dof) tan(a), the density becomes proportional to cos(a)^(dof - 1), smooth on a
    bounded interval, and is integrated by Gauss-Legendre quadrature.

    Examples
    --------
    >>> t_cdf(np.array([0.0, 2.228]), 10.0).round(4).tolist()
    [0.5, 0.975]
    """
    nodes, weights = _gauss_legendre()
    farthest = min(math.pi / 2.0, _FARTHEST / math.sqrt(dof))
    angle = np.minimum(np.arctan(np.abs(x) / math.sqrt(dof)), farthest)
    power = np.cos(np.asarray(angle)[..., None] * nodes) ** (dof - 1.0)
    log_scale = math.lgamma((dof + 1.0) / 2.0) - math.lgamma(dof / 2.0)
    area = math.exp(log_scale) / math.sqrt(math.pi) * angle * (power @ weights)
    result: Floats = 0.5 + np.sign(x) * np.minimum(area, 0.5)
    return result


def mixture_cdf(x: float, weight: Floats, centre: Floats, scale: Floats, dof: float) -> float:
    """Distribution function of a mixture of shifted and scaled t distributions.

    Parameters
    ----------
    x : float
        Where.
    weight, centre, scale : (k,) array
        Of each component; the weights sum to 1, the scales are above 0.
    dof : float
        Degrees of freedom of all components.

    Returns
    -------
    float
        Probability of a value up to `x`.

    Examples
    --------
    >>> one = np.ones(1)
    >>> round(mixture_cdf(2.0, one, 2.0 * one, one, 5.0), 6)
    0.5
    """
    return min(float(weight @ t_cdf((x - centre) / scale, dof)), 1.0)


def mixture_quantile(
    probability: float, weight: Floats, centre: Floats, scale: Floats, dof: float
) -> float:
    """Quantile of a mixture of shifted and scaled t distributions.

    Parameters
    ----------
    probability : float
        Above 0 and below 1.
    weight, centre, scale : (k,) array
        Of each component, as in `mixture_cdf`.
    dof : float
        Degrees of freedom of all components.

    Returns
    -------
    float
        The value below which the mixture lies with that probability.

    Examples
    --------
    >>> one = np.ones(1)
    >>> round(mixture_quantile(0.975, one, 0.0 * one, one, 10.0), 3)
    2.228
    """

    def above(x: float) -> float:
        return mixture_cdf(x, weight, centre, scale, dof) - probability

    width = float(scale.max())
    middle = float(weight @ centre)
    low, high = middle - width, middle + width
    while above(low) > 0:
        low -= 2.0 * (middle - low)
    while above(high) < 0:
        high += 2.0 * (high - middle)
    return _root(above, low, high, _CLOSE * width)


def _root(function: Callable[[float], float], low: float, high: float, close: float) -> float:
    """Root between two ends of unlike sign, by the Illinois variant of false position."""
    at_low, at_high = function(low), function(high)
    side = 0
    for _ in range(_MOST_STEPS):
        if abs(high - low) <= close or at_low == at_high:
            break
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        value = function(middle)
        if abs(value) < _CLOSE:
            return middle
        if (value > 0) == (at_high > 0):
            high, at_high = middle, value
            at_low = at_low / 2.0 if side > 0 else at_low
            side = 1
        else:
            low, at_low = middle, value
            at_high = at_high / 2.0 if side < 0 else at_high
            side = -1
    return (low + high) / 2.0
