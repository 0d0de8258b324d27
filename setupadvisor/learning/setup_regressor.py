"""The whole model, rules and habits and past sessions, after scikit-learn's conventions."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import check_is_fitted

from setupadvisor.errors import InputError
from setupadvisor.learning.estimator_columns import (
    EstimatorInputError,
    Table,
    as_numbers,
    categories_of,
    category_mask,
    column_names,
    encoded,
    names_categories,
)
from setupadvisor.learning.estimator_input import checked_targets, group_codes, validated
from setupadvisor.learning.estimator_roles import (
    find_roles,
    knowledge_columns,
    learn_columns,
    walks,
)
from setupadvisor.learning.model import LEVEL
from setupadvisor.learning.prediction import Prediction, predict
from setupadvisor.learning.sessions import Booleans, Floats, Integers, Knowledge, Sessions
from setupadvisor.learning.training import train

Numbers: TypeAlias = Any
Columns: TypeAlias = Any
USUAL_SPREAD = 0.5
# A table without entered conditions has one that nobody ever entered.
NO_FIELD = "nothing entered"


class SetupRegressor(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """House value, rules whose amounts learn, the rider's habit, and past sessions.

    Columns are named by a frame's names or by numbers. On a table without any named column every
    column is an entered condition: the house value is then the mean of the targets, and past
    sessions do the rest.

    Parameters
    ----------
    house : columns, optional
        House value of each setting, in the order of `y`'s columns. None takes the mean of the
        targets, each group counting once.
    degrees : columns, optional
        Degree of each rule, 0 to 1; a missing one is a rule that could not be judged.
    fields : columns, optional
        Entered conditions, by which past sessions are found like. None takes every column that
        nothing else names.
    rider, venue : column, optional
        Who rode, and where. None is one rider, and nowhere in particular.
    day : column, optional
        Days since any fixed date; later sessions of one day have later rows.
    amounts : (n_rules, n_settings) array-like, optional
        Each rule's amount as written, in the setting's number; 0 where it does not touch the
        setting. Needed with `degrees`.
    relative_spread : float or (n_rules,) array-like, default=0.5
        Standard deviation of an amount over its size: 0.25 firm, 0.5 usual, 1.0 loose.
    reads : (n_settings, n_fields) array-like of bool, optional
        Whether some rule that moves the setting reads the field; None is everywhere.
    step : float or (n_settings,) array-like, optional
        What one usual change of a setting is at least. None takes the standard deviation of the
        targets around the house values.
    categorical_features : "from_dtype", None, or columns, default="from_dtype"
        Fields whose values either agree or not. "from_dtype" takes a frame's columns that are not
        of numbers.
    field_ranges : (n_fields,) array-like, optional
        Range that scales each field's differences; NaN, or None for all, takes it from the rows.
    level : float, default=0.8
        Coverage of the ranges.
    n_jobs : int, optional
        Settings fitted at once, in joblib's sense; the result does not depend on it.

    Attributes
    ----------
    model_ : Model
        The trained model, as `setupadvisor.learning.training.train` makes it.
    house_ : (n_settings,) array or None
        House values where no columns give them.
    amounts_, amounts_sd_ : (n_rules, n_settings) array
        Amounts that rules and sessions together support, and how sure they are.
    riders_, venues_ : tuple
        Riders and venues seen.
    categories_ : tuple
        For each field the values seen, or None for numbers.
    n_features_in_ : int
        Number of columns.
    feature_names_in_ : (n_features,) array
        Their names, if all are text.

    See Also
    --------
    setupadvisor.learning.past_sessions_regressor.PastSessionsRegressor : Past sessions alone.

    Notes
    -----
    `fit` takes two things that nobody knows beforehand, by scikit-learn's metadata routing: the
    events (`groups`), which are left out whole wherever anything is chosen, and the riders' marks.
    Without groups, rows with equal entries are one event.

    There is no `sample_weight`: in scikit-learn weight 2 is the same as the row twice, and here a
    session written down twice says nothing new. Sessions of one rider at one event share one unit
    of weight, the one the day ended on leads, and the rider's mark says what it is worth.

    Examples
    --------
    A rule says two clicks more when its degree is 1; four events say three.

    >>> import numpy as np
    >>> table = np.array([[10.0, 0.0], [10.0, 1.0], [12.0, 0.0], [12.0, 1.0]])
    >>> clicks = [10.0, 13.0, 12.0, 15.0]
    >>> regressor = SetupRegressor(house=0, degrees=1, fields=[], amounts=[[2.0]], step=1.0)
    >>> regressor = regressor.fit(table, clicks)
    >>> bool(2.0 < regressor.amounts_[0, 0] < 3.0)
    True
    >>> parts = regressor.explain(table[:1])
    >>> bool(parts.house[0, 0] + parts.rider[0, 0] + parts.past[0, 0] == parts.value[0, 0])
    True
    """

    def __init__(
        self,
        *,
        house: Columns = None,
        degrees: Columns = None,
        fields: Columns = None,
        rider: Columns = None,
        venue: Columns = None,
        day: Columns = None,
        amounts: Numbers = None,
        relative_spread: Numbers = USUAL_SPREAD,
        reads: Any = None,
        step: Numbers = None,
        categorical_features: Columns = "from_dtype",
        field_ranges: Numbers = None,
        level: float = LEVEL,
        n_jobs: int | None = None,
    ) -> None:
        self.house = house
        self.degrees = degrees
        self.fields = fields
        self.rider = rider
        self.venue = venue
        self.day = day
        self.amounts = amounts
        self.relative_spread = relative_spread
        self.reads = reads
        self.step = step
        self.categorical_features = categorical_features
        self.field_ranges = field_ranges
        self.level = level
        self.n_jobs = n_jobs

    def fit(self, X: Any, y: Any, groups: Any = None, mark: Any = None) -> SetupRegressor:
        """Learn amounts, habits, the reach of past sessions, and ranges.

        Parameters
        ----------
        X : (n, n_features) array-like or frame
            Sessions; entries may be missing.
        y : (n,) or (n, n_settings) array-like
            What was on the motorcycle; NaN where not recorded.
        groups : (n,) array-like, optional
            The event of each session.
        mark : (n,) array-like, optional
            The rider's mark, 1 to 5; NaN where missing.

        Returns
        -------
        SetupRegressor
            Itself, fitted.

        Raises
        ------
        ValueError
            Where a parameter, a table or a mark cannot be.
        """
        table = validated(self, X, with_words=self._with_words(), reset=True)
        targets = checked_targets(self, y, len(table))
        self._one_output = targets.ndim == 1
        targets = targets.reshape(len(table), -1)
        names = column_names(X)
        shape = {"n_columns": table.shape[1], "n_settings": targets.shape[1]}
        self._roles = find_roles(self._columns(), names=names, **shape)
        is_category = category_mask(
            self.categorical_features, X, names=names, n_columns=table.shape[1]
        )[self._roles.fields]
        event = _events(groups, table)
        self._seen = learn_columns(
            table, self._roles, is_category=is_category, targets=targets, event=event
        )
        settings = column_names(y) or [f"setting {s}" for s in range(targets.shape[1])]
        columns = names or [f"column {c}" for c in range(table.shape[1])]
        try:
            sessions = Sessions(
                setting=tuple(map(str, settings)),
                rule=tuple(str(columns[c]) for c in self._roles.degrees),
                field=tuple(str(columns[c]) for c in self._roles.fields) or (NO_FIELD,),
                rider_name=tuple(map(str, self._seen.riders)) or ("",),
                event_name=tuple(map(str, range(int(event.max()) + 1))),
                venue_name=tuple(map(str, self._seen.venues)),
                values=targets,
                order=np.arange(len(table), dtype=np.float64),
                event=event,
                mark=_marks(mark, len(table)),
                **walks(table, self._roles, self._seen),
            )
            knowledge = self._knowledge(sessions, is_category)
            self.model_ = train(sessions, knowledge, level=self.level, n_jobs=self.n_jobs)
        except EstimatorInputError:
            raise
        except InputError as error:
            first = error.mistakes[0]
            raise EstimatorInputError(first.where, first.found, first.mend) from error
        self.house_, self.categories_ = self._seen.house, self._seen.categories
        self.riders_, self.venues_ = self._seen.riders, self._seen.venues
        self.amounts_ = self.model_.posterior_amounts
        self.amounts_sd_ = self.model_.posterior_amounts_sd
        return self

    def predict(self, X: Any) -> Floats:
        """Predict the settings.

        Parameters
        ----------
        X : (m, n_features) array-like or frame
            Walks; entries may be missing.

        Returns
        -------
        (m,) or (m, n_settings) array
            The settings; NaN where the house value is missing.
        """
        return self._shaped(self.explain(X, ranges=False).value)

    def predict_range(self, X: Any, level: float | None = None) -> tuple[Floats, Floats]:
        """Predict a range of each setting, with whole events left out.

        Parameters
        ----------
        X : (m, n_features) array-like or frame
            Walks; entries may be missing.
        level : float, optional
            Coverage; the estimator's own if not given.

        Returns
        -------
        low, high : (m,) or (m, n_settings) array
            The range. With too few events for the level it is what the rules' confidence leaves
            open; `explain` says which.
        """
        told = self.explain(X, level=level)
        return self._shaped(told.low), self._shaped(told.high)

    def explain(self, X: Any, *, level: float | None = None, ranges: bool = True) -> Prediction:
        """Predict with all parts, ranges and nearest sessions.

        Parameters
        ----------
        X : (m, n_features) array-like or frame
            Walks; entries may be missing.
        level : float, optional
            Coverage; the estimator's own if not given.
        ranges : bool, optional
            Whether to give ranges.

        Returns
        -------
        Prediction
            The parts sum to the value.
        """
        check_is_fitted(self)
        table = validated(self, X, with_words=self._with_words())
        told = walks(table, self._roles, self._seen)
        return predict(self.model_, level=level, ranges=ranges, **told)

    @classmethod
    def from_knowledge(cls, knowledge: Knowledge, **parameters: Any) -> SetupRegressor:
        """Make an estimator for the frames of `season_frames`.

        Parameters
        ----------
        knowledge : Knowledge
            Rules and settings.
        **parameters
            Further parameters of the estimator.

        Returns
        -------
        SetupRegressor
            Not fitted yet.
        """
        is_category = knowledge.field_is_category.tolist()
        told: dict[str, Any] = {
            **knowledge_columns(knowledge),
            "amounts": knowledge.amounts,
            "relative_spread": knowledge.relative_spread,
            "reads": knowledge.reads,
            "step": knowledge.step,
            "categorical_features": [
                name for name, yes in zip(knowledge.field, is_category, strict=True) if yes
            ],
            "field_ranges": knowledge.field_range,
        }
        return cls(**{**told, **parameters})

    def __sklearn_tags__(self) -> Any:
        tags = super().__sklearn_tags__()
        tags.input_tags.allow_nan = True
        tags.target_tags.multi_output = True
        return tags

    def _columns(self) -> dict[str, Columns]:
        roles = ("house", "degrees", "fields", "rider", "venue", "day")
        return {role: getattr(self, role) for role in roles}

    def _with_words(self) -> bool:
        named = self.rider is not None or self.venue is not None
        return named or names_categories(self.categorical_features)

    def _shaped(self, values: Floats) -> Floats:
        return values[:, 0] if self._one_output else values

    def _knowledge(self, sessions: Sessions, is_category: Booleans) -> Knowledge:
        """Rules and settings as the parameters have them."""
        n_settings, n_rules = len(sessions.setting), len(sessions.rule)
        n_fields = len(sessions.field)
        if n_rules > 0 and self.amounts is None:
            raise EstimatorInputError(
                "amounts", "none for the rules in `degrees`", "give what each rule says"
            )
        return Knowledge(
            setting=sessions.setting,
            rule=sessions.rule,
            field=sessions.field,
            amounts=_given(self.amounts, (n_rules, n_settings), 0.0, "amounts"),
            relative_spread=_given(
                self.relative_spread, (n_rules,), USUAL_SPREAD, "relative_spread"
            ),
            reads=_given(self.reads, (n_settings, n_fields), True, "reads").astype(bool),
            field_is_category=is_category if len(is_category) else np.zeros(1, dtype=bool),
            field_range=_given(self.field_ranges, (n_fields,), np.nan, "field_ranges"),
            step=_given(self.step, (n_settings,), _usual_step(sessions), "step"),
            low=np.full(n_settings, -np.inf),
            high=np.full(n_settings, np.inf),
        )


def _events(groups: Any, table: Table) -> Integers:
    """Codes of the events; rows with equal entries are one where no groups are given."""
    if groups is not None:
        return group_codes(groups, table)
    columns = np.arange(table.shape[1])
    return group_codes(None, encoded(table, columns, tuple(map(categories_of, table.T))))


def _marks(mark: Any, n_rows: int) -> Floats:
    """Turn marks into numbers; NaN where missing."""
    if mark is None:
        return np.full(n_rows, np.nan)
    return as_numbers(np.asarray(mark, dtype=object), "mark")


def _given(value: Numbers, shape: tuple[int, ...], otherwise: Numbers, name: str) -> Floats:
    """Return a parameter in full: once for all, one each, or the default."""
    nothing = value is None or np.size(value) == 0
    given = np.asarray(otherwise if nothing else value, dtype=np.float64)
    if given.shape not in {(), shape}:
        raise EstimatorInputError(name, f"an array of shape {given.shape}", f"give shape {shape}")
    return np.broadcast_to(given, shape).copy()


def _usual_step(sessions: Sessions) -> Floats:
    """Return the standard deviation of each setting around its house value; 1 where it is 0."""
    target = sessions.values - sessions.house
    recorded = np.isfinite(target)
    count = np.maximum(recorded.sum(axis=0), 1)
    mean = np.where(recorded, target, 0.0).sum(axis=0) / count
    square = np.where(recorded, target - mean, 0.0) ** 2
    spread = np.sqrt(square.sum(axis=0) / count)
    return np.where(spread > 0, spread, 1.0)
