"""A trained model: what a season taught, as plain arrays."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from setupadvisor.learning.advised import Parts, with_fallbacks
from setupadvisor.learning.amounts import START_EVENT, START_HABIT, START_NOISE, START_VENUE
from setupadvisor.learning.distinct import DistinctWalks, distinct_walks
from setupadvisor.learning.past_sessions import Reals, conditions
from setupadvisor.learning.range_search import FoldResiduals, fold_residuals
from setupadvisor.learning.sessions import Booleans, Floats, Integers, Knowledge
from setupadvisor.learning.touching import (
    amount_spreads,
    degrees_touching,
    touched,
    touching_rules,
    usual_change,
)
from setupadvisor.learning.walk_tables import Comparison, WalkTable, field_weights

LEVEL = 0.8
# Where past sessions start from until events can be left out: a quarter of the conditions' range,
# three pseudo-sessions at zero, the same venue five times. Choices, not published values.
BANDWIDTH, KAPPA, VENUE_FACTOR, UNREAD_WEIGHT = 0.25, 3.0, 5.0, 0.3


@dataclass(frozen=True)
class Model:
    """What a season taught: arrays over S settings, R rules, F fields, n sessions, K folds.

    Every array whose first axis is K + 1 holds the model without each fold, and last the model
    with every session. Q is the largest number of rules that touch one setting; `touching` says
    which, -1 where there are fewer.

    Parameters
    ----------
    setting, rule, field, rider_name, event_name, venue_name : tuple of str
        Names behind the columns and codes.
    amounts : (R, S) array
        Amounts as written, in the setting's number.
    relative_spread : (R,) array
        Prior standard deviation of an amount over its size.
    step, low, high : (S,) array
        The setting's step and limits.
    reads : (S, F) array of bool
        Whether some rule that moves the setting reads the field.
    field_is_category : (F,) array of bool
        Fields whose difference is 0 or 1.
    field_range : (F,) array
        Range of each field.
    touching : (S, Q) integer array
        Rules that touch each setting.
    rule_shift : (K + 1, S, Q) array
        Posterior amount less the amount as written.
    rule_covariance : (K + 1, S, Q, Q) array
        Posterior covariance of the amounts.
    habit : (K + 1, G, S) array
        Posterior mean of each rider's habit.
    habit_variance : (K + 1, G, S) array
        Posterior variance of each rider's habit.
    noise_sd, habit_sd, event_sd, venue_sd : (S,) array
        Spreads chosen by marginal likelihood, in the setting's number.
    fields : (n, F) array
        Entered conditions of the past sessions.
    degrees : (n, R) array
        Degrees of the rules in the past sessions; NaN where not judged.
    target : (n, S) array
        Value less house value; NaN where not recorded.
    weight : (n, S) array
        Weight of a session whatever the walk: its share of its rider's event, times its worth.
    settled : (n, S) array of bool
        Whether the day ended on this value.
    rider, event, venue, fold : (n,) integer array
        Codes.
    day : (n,) array
        Days since a fixed date.
    bandwidth, kappa : (S,) array
        Bandwidth of the similarity and pseudo-sessions at zero.
    venue_factor, half_life, unread_weight : float
        How often the same venue counts, days to half weight, weight of a field no rule reads.
    residual : (q, S) array
        Absolute errors of q sessions under the model without their fold, over the spread that
        model expected; NaN where the value is not a settled setup.
    residual_event, residual_fold : (q,) integer array
        Event and fold of each.
    usual_degree : (V + 1, R) array
        Usual degree of each rule at each venue, and last at any other.
    riders_means : (K + 1, G + 1, S) array
        What riders usually ended on, and last one never seen.
    events_by_setting : (S,) integer array
        Events with a settled setup of the setting.
    last_day : float
        Day of the last session.
    fallback : (S,) integer array
        What does clearly better than learning: 0 nothing, 1 the rules as written, 2 the rider's
        mean. Amounts, habits and kappa are those that were learnt all the same.
    level : float
        Coverage of the ranges unless another is asked for.
    """

    setting: tuple[str, ...]
    rule: tuple[str, ...]
    field: tuple[str, ...]
    rider_name: tuple[str, ...]
    event_name: tuple[str, ...]
    venue_name: tuple[str, ...]
    amounts: Floats
    relative_spread: Floats
    step: Floats
    low: Floats
    high: Floats
    reads: Booleans
    field_is_category: Booleans
    field_range: Floats
    touching: Integers
    rule_shift: Floats
    rule_covariance: Floats
    habit: Floats
    habit_variance: Floats
    noise_sd: Floats
    habit_sd: Floats
    event_sd: Floats
    venue_sd: Floats
    fields: Floats
    degrees: Floats
    target: Floats
    weight: Floats
    settled: Booleans
    rider: Integers
    event: Integers
    venue: Integers
    fold: Integers
    day: Floats
    bandwidth: Floats
    kappa: Floats
    venue_factor: float
    half_life: float
    unread_weight: float
    residual: Floats
    residual_event: Integers
    residual_fold: Integers
    usual_degree: Floats
    riders_means: Floats
    events_by_setting: Integers
    last_day: float
    fallback: Integers
    level: float

    @property
    def n_folds(self) -> int:
        """Number of folds of whole events."""
        return len(self.rule_shift) - 1

    @cached_property
    def posterior_amounts(self) -> Floats:
        """(R, S) array: amounts that rules and sessions together support."""
        result = self.amounts.copy()
        for s, rules in enumerate(self.touching):
            spoken = rules >= 0
            result[rules[spoken], s] += self.rule_shift[-1, s, spoken]
        return result

    @cached_property
    def posterior_amounts_sd(self) -> Floats:
        """(R, S) array: standard deviations of the supported amounts; 0 where not touched."""
        result = np.zeros_like(self.amounts)
        for s, rules in enumerate(self.touching):
            spoken = rules >= 0
            variance = np.diagonal(self.rule_covariance[-1, s])[spoken]
            result[rules[spoken], s] = np.sqrt(variance)
        return result

    @cached_property
    def comparison(self) -> Comparison:
        """How walks are compared: for each of S settings, and last as a whole."""
        return Comparison(
            weights=field_weights(self.reads, self.unread_weight),
            agree_or_not=self.agree_or_not,
            bandwidth=np.append(self.bandwidth, np.median(self.bandwidth)),
            venue_factor=self.venue_factor,
            half_life=self.half_life,
        )

    @cached_property
    def agree_or_not(self) -> Booleans:
        """(F,) array of bool: fields whose difference is 0 or 1."""
        return self.field_is_category | ~(self.field_range > 0)

    @cached_property
    def walks(self) -> DistinctWalks:
        """The U distinct walks of the past sessions."""
        return distinct_walks(self.fields, self.venue, self.day)

    @cached_property
    def past(self) -> WalkTable:
        """The U distinct walks, ready to be compared with."""
        return self.walk_table(
            self.fields[self.walks.first], self.walks.venue, self.day[self.walks.first]
        )

    def walk_table(self, fields: Floats, venue: Integers, day: Floats) -> WalkTable:
        """Make walks ready to be compared with the past ones.

        Parameters
        ----------
        fields, venue, day : (m, F), (m,), (m,) array
            The walks, in the model's codes.

        Returns
        -------
        WalkTable
            The walks.
        """
        entered = conditions(fields, self.field_is_category, self.field_range)
        return WalkTable(entered, venue, day)

    @cached_property
    def fitted_amounts(self) -> Floats:
        """(K + 1, S, Q) array: amounts without each fold and with everything."""
        return touched(self.amounts, self.touching) + self.rule_shift

    @cached_property
    def advised(self) -> Parts:
        """What predictions are the sum of: what was learnt, or what a setting falls back to."""
        width, n_settings = len(self.habit), len(self.setting)
        unseen = np.zeros((width, 1, n_settings))
        variance = np.broadcast_to(self.habit_sd**2, unseen.shape)
        written = touched(self.amounts, self.touching)
        spread = np.abs(self.amounts) * self.relative_spread[:, None]
        return with_fallbacks(
            Parts(
                amounts=self.posterior_amounts,
                touched=self.fitted_amounts,
                covariance=self.rule_covariance,
                habits=np.concatenate([self.habit, unseen], axis=1),
                habit_variances=np.concatenate([self.habit_variance, variance], axis=1),
                usual=self.riders_means,
                kappa=self.kappa,
            ),
            self.fallback,
            written=self.amounts,
            written_touched=written,
            written_variance=touched(spread, self.touching) ** 2,
            habit_variance=self.habit_sd**2,
        )

    @cached_property
    def lookup(self) -> Reals:
        """(S, 2 (K + 1), U) array: weight * left-over, then weight, without each fold in turn.

        Summed over the sessions of each distinct walk.
        """
        n, width = len(self.rider), self.n_folds + 1
        table = np.zeros((len(self.setting), 2 * width, len(self.walks.first)), dtype=np.float32)
        kept = np.ones((n, width), dtype=bool)
        kept[np.arange(n), self.fold] = False
        by_walk = np.argsort(self.walks.of_session, kind="stable")
        starts = np.searchsorted(self.walks.of_session[by_walk], np.arange(table.shape[2]))
        for s in range(len(self.setting)):
            recorded = np.isfinite(self.target[:, s])
            weight = np.where(recorded, self.weight[:, s], 0.0)[:, None] * kept
            gap = np.where(recorded, self.target[:, s], 0.0)[:, None]
            gap = (
                gap
                - degrees_touching(self.touching[s], self.counted_degrees)
                @ self.fitted_amounts[:, s].T
            )
            gap -= self.habit[:, self.rider, s].T
            for half, column in ((slice(0, width), weight * gap), (slice(width, None), weight)):
                if n:
                    table[s, half] = np.add.reduceat(column[by_walk], starts, axis=0).T
        return table

    @cached_property
    def settled_at_all(self) -> Booleans:
        """(n,) array of bool: whether the day ended on any of the session's values."""
        return np.asarray(self.settled.any(axis=1))

    @cached_property
    def overall_weight(self) -> Floats:
        """(n,) array: weight of a session whatever the setting and the walk."""
        weight: Floats = self.weight.max(axis=1, initial=0.0)
        return weight

    @cached_property
    def residuals_by_setting(self) -> tuple[FoldResiduals, ...]:
        """For each setting residuals with their folds and masses; an event has mass 1 in all."""
        result = []
        for column in self.residual.T:
            rows = np.flatnonzero(np.isfinite(column))
            of_row = self.residual_event[rows]
            _, event, count = np.unique(of_row, return_inverse=True, return_counts=True)
            masses = 1.0 / count[event]
            result.append(
                fold_residuals(column[rows], self.residual_fold[rows], masses, self.n_folds)
            )
        return tuple(result)

    @cached_property
    def counted_degrees(self) -> Floats:
        """(n, R) array: degrees in the past sessions, usual ones where not judged."""
        return np.where(np.isnan(self.degrees), self.usual_degree[self.venue], self.degrees)


def untrained(knowledge: Knowledge, *, level: float = LEVEL) -> Model:
    """Return the model before any session: rules as written, and how firm they are.

    Parameters
    ----------
    knowledge : Knowledge
        Rules and settings.
    level : float, optional
        Coverage of the ranges.

    Returns
    -------
    Model
        A model without sessions.
    """
    n_settings, n_rules, n_fields = (
        len(knowledge.setting),
        len(knowledge.rule),
        len(knowledge.field),
    )
    touching = touching_rules(knowledge.amounts)
    variance = amount_spreads(knowledge, touching) ** 2
    scale = usual_change(knowledge)
    return Model(
        setting=knowledge.setting,
        rule=knowledge.rule,
        field=knowledge.field,
        rider_name=(),
        event_name=(),
        venue_name=(),
        amounts=knowledge.amounts,
        relative_spread=knowledge.relative_spread,
        step=knowledge.step,
        low=knowledge.low,
        high=knowledge.high,
        reads=knowledge.reads,
        field_is_category=knowledge.field_is_category,
        field_range=np.nan_to_num(knowledge.field_range),
        touching=touching,
        rule_shift=np.zeros((1, *touching.shape)),
        rule_covariance=(variance[:, :, None] * np.eye(touching.shape[1]))[None],
        habit=np.zeros((1, 0, n_settings)),
        habit_variance=np.zeros((1, 0, n_settings)),
        noise_sd=START_NOISE * scale,
        habit_sd=START_HABIT * scale,
        event_sd=START_EVENT * scale,
        venue_sd=START_VENUE * scale,
        fields=np.zeros((0, n_fields)),
        degrees=np.zeros((0, n_rules)),
        target=np.zeros((0, n_settings)),
        weight=np.zeros((0, n_settings)),
        settled=np.zeros((0, n_settings), dtype=bool),
        rider=np.zeros(0, dtype=np.int64),
        event=np.zeros(0, dtype=np.int64),
        venue=np.zeros(0, dtype=np.int64),
        fold=np.zeros(0, dtype=np.int64),
        day=np.zeros(0),
        bandwidth=np.full(n_settings, BANDWIDTH),
        kappa=np.full(n_settings, KAPPA),
        venue_factor=VENUE_FACTOR,
        half_life=np.inf,
        unread_weight=UNREAD_WEIGHT,
        residual=np.zeros((0, n_settings)),
        residual_event=np.zeros(0, dtype=np.int64),
        residual_fold=np.zeros(0, dtype=np.int64),
        usual_degree=np.zeros((1, n_rules)),
        riders_means=np.zeros((1, 1, n_settings)),
        events_by_setting=np.zeros(n_settings, dtype=np.int64),
        last_day=0.0,
        fallback=np.zeros(n_settings, dtype=np.int64),
        level=level,
    )
