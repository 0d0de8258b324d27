"""The analyst's estimators, after scikit-learn's conventions.

Only this module and those it is made of need scikit-learn; advice never loads them.
"""

from __future__ import annotations

from setupadvisor.learning.estimator_roles import season_frames
from setupadvisor.learning.past_sessions_regressor import PastSessionsRegressor
from setupadvisor.learning.setup_regressor import SetupRegressor

__all__ = ["PastSessionsRegressor", "SetupRegressor", "season_frames"]
