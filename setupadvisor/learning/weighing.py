"""What a season says about each rule: as written, more, less, or not at all so.

A verdict compares the amount as written with the range of amounts that rules and season together
support. What a rule of thumb gives as 2 and the season puts at 2.8, give or take 0.4, is stronger
than written.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal, TypeAlias

import numpy as np

from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.model import Model
from setupadvisor.learning.ranges import normal_half_width

Word: TypeAlias = Literal["supported", "stronger", "weaker", "contradicted", "silent"]

# Choices, not published values.
LEVEL = 0.9
# From this degree on a rule is said to have spoken in a session.
SPOKE = 0.25
# In fewer events a rule's amount is one or two days' story.
FEWEST_EVENTS = 3
# A season that leaves more than this share of the prior's spread has not spoken about a rule.
MUCH_LEFT = 0.8
# Below this share of the amount as written, or the other way, a rule is not borne out.
NOT_BORNE_OUT = 0.25


@dataclass(frozen=True)
class Verdict:
    """What a season says about one rule's amount in one setting.

    Parameters
    ----------
    rule, setting : str
        Which.
    written, supported : float
        Amount as written, and as rules and season together support it, in the setting's number.
    low, high : float
        Range of the supported amount.
    sessions, events : int
        Sessions and events in which the rule spoke and the setting was recorded.
    verdict : str
        "supported", "stronger", "weaker", "contradicted" or "silent".
    effect : float
        Mean change that the supported amount makes against the amount as written, over the
        season's sessions, in steps of the setting.
    """

    rule: str
    setting: str
    written: float
    supported: float
    low: float
    high: float
    sessions: int
    events: int
    verdict: Word
    effect: float

    def to_json(self) -> dict[str, Any]:
        """Return the same as plain values that JSON can hold.

        Returns
        -------
        dict
            One key a field.
        """
        return asdict(self)


def weigh(model: Model, *, level: float = LEVEL) -> list[Verdict]:
    """Weigh every rule against the season a model was trained on.

    Parameters
    ----------
    model : Model
        A trained or untrained model.
    level : float, optional
        Probability that the true amount is in the range, as far as the model holds.

    Returns
    -------
    list of Verdict
        One for each rule and each setting it moves, what would change most first.

    Raises
    ------
    InputError
        Where the level is not between 0 and 1.

    Notes
    -----
    In shares of the amount as written (a share below 0 is the other way):

    - silent: the rule spoke in fewer than 3 events; or the season leaves more than 0.8 of the
      spread that the rule's confidence gave it; or the range holds both 1 and 0.25, so that the
      season cannot tell the rule from one that is not borne out
    - contradicted: the whole range is below 0.25
    - weaker: the whole range is below 1
    - stronger: the whole range is above 1
    - supported: the range holds 1, and nothing down to 0.25

    A rule spoke in a session where its degree was 0.25 or more. The range is a central normal one
    of the posterior, given the spreads chosen for the setting.
    """
    if not 0.0 < level < 1.0:
        raise InputError(Mistake("level", f"{level:g}", "give a level between 0 and 1, as 0.9"))
    recorded = np.isfinite(model.target)
    supported, spread = model.posterior_amounts, model.posterior_amounts_sd
    half = normal_half_width(spread, level)
    spoke = np.nan_to_num(model.degrees, nan=0.0) >= SPOKE
    degrees = model.counted_degrees
    found = []
    for r, s in np.argwhere(model.amounts != 0).tolist():
        written = float(model.amounts[r, s])
        centre, reach = float(supported[r, s]), float(half[r, s])
        heard = spoke[:, r] & recorded[:, s]
        events = len(np.unique(model.event[heard]))
        mean_degree = degrees[recorded[:, s], r].mean() if recorded[:, s].any() else 0.0
        prior = abs(written) * model.relative_spread[r]
        undecided = events < FEWEST_EVENTS or spread[r, s] > MUCH_LEFT * prior
        found.append(
            Verdict(
                rule=model.rule[r],
                setting=model.setting[s],
                written=written,
                supported=centre,
                low=centre - reach,
                high=centre + reach,
                sessions=int(heard.sum()),
                events=events,
                verdict="silent" if undecided else _word(centre, reach, written),
                effect=float(abs(centre - written) * mean_degree / model.step[s]),
            )
        )
    return sorted(found, key=lambda one: (-one.effect, one.rule, one.setting))


def _word(centre: float, reach: float, written: float) -> Word:
    """Compare a range with the amount as written."""
    share, margin = centre / written, abs(reach / written)
    least, most = share - margin, share + margin
    if most < NOT_BORNE_OUT:
        return "contradicted"
    if most < 1.0:
        return "weaker"
    if least > 1.0:
        return "stronger"
    return "supported" if least > NOT_BORNE_OUT else "silent"
