"""Student's t against scipy.stats, and quantiles of mixtures."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from setupadvisor.learning.student_t import mixture_cdf, mixture_quantile, t_cdf


@pytest.mark.parametrize("dof", [1.0, 1.5, 2.0, 3.0, 7.0, 20.0, 57.0, 58.0, 200.0, 1e4, 1e6])
def test_the_distribution_function_is_that_of_scipy(dof):
    """scipy.stats.t (1.17.1). 1e-9 is far below what any probability here is shown to."""
    x = np.r_[np.linspace(-40.0, 40.0, 801), np.linspace(-6.0, 6.0, 401)]
    assert t_cdf(x, dof) == pytest.approx(stats.t.cdf(x, dof), abs=1e-9)


def test_far_tails_stay_probabilities():
    x = np.array([-1e9, 1e9, -np.inf, np.inf])
    for dof in (1.0, 10.0, 1e5):
        assert t_cdf(x, dof) == pytest.approx([0.0, 1.0, 0.0, 1.0], abs=1e-8)


@pytest.mark.parametrize("probability", [0.001, 0.1, 0.5, 0.9, 0.975, 0.9999])
@pytest.mark.parametrize("dof", [1.0, 2.0, 10.0, 1e4])
def test_the_quantile_of_one_component_is_that_of_scipy(probability, dof):
    found = mixture_quantile(probability, np.ones(1), np.array([3.0]), np.array([0.2]), dof)
    wanted = stats.t.ppf(probability, dof, loc=3.0, scale=0.2)
    # The root is found to 1e-10 of a probability, which far out in the tail is a longer way.
    assert found == pytest.approx(wanted, rel=1e-5)


@given(
    st.integers(0, 10**6),
    st.floats(0.01, 0.99),
    st.floats(1.0, 100.0),
)
def test_the_quantile_undoes_the_distribution_function(draw, probability, dof):
    random = np.random.default_rng(draw)
    weight = random.dirichlet(np.ones(5))
    centre, scale = random.normal(size=5), np.exp(random.normal(0.0, 2.0, size=5))
    x = mixture_quantile(probability, weight, centre, scale, dof)
    assert mixture_cdf(x, weight, centre, scale, dof) == pytest.approx(probability, abs=1e-7)
