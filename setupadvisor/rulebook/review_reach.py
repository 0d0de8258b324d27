"""Review of how far rules move each setting together, and of settings moved one way only."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from setupadvisor.facts.fact import Fact
from setupadvisor.rulebook.findings import Finding
from setupadvisor.rulebook.ground import Grounds
from setupadvisor.rulebook.reach import Furthest, furthest
from setupadvisor.rulebook.rulebase import RuleBase, signed_amounts
from setupadvisor.rulebook.settings import SettingWords

# Corrections together should leave the crew in the region that the house value chose.
LARGEST_SHARE_OF_RANGE = 1.0 / 3.0
# A setting by names has so few places that a third of them is less than one: two are the most, and
# 1.6 is the most that can still be rounded to fewer than two and a bit.
MOST_PLACES = 1.6
_ROUNDING = 1e-5


def reach_findings(
    rulebase: RuleBase,
    facts: Mapping[str, Fact],
    settings: Mapping[str, SettingWords],
    grounds: Grounds,
    house: Mapping[str, float],
) -> Iterator[Finding]:
    """Find settings that rules together can push too far, or only one way.

    Parameters
    ----------
    rulebase : RuleBase
        The rules.
    facts : mapping of str to Fact
        The facts with their reachable ranges.
    settings : mapping of str to SettingWords
        The settings with their ranges.
    grounds : Grounds
        Of the rules' conditions, by their place.
    house : mapping of str to float
        House values, where they are known.

    Yields
    ------
    Finding
        Setting by setting.
    """
    amounts = signed_amounts(rulebase, settings)
    for column, (name, setting) in enumerate(settings.items()):
        ways = ((1.0, setting.up, setting.high), (-1.0, setting.down, setting.low))
        for sign, direction, end in ways:
            weights = {
                place: sign * float(amount)
                for place, amount in enumerate(amounts[:, column])
                if amount
            }
            reached = furthest(grounds.net, weights, grounds.roots, facts)
            yield from _too_far(rulebase, name, setting, direction, reached, weights)
            never = weights and not any(weight > 0 for weight in weights.values())
            if never and house.get(name) != end:
                yield _one_way(rulebase, name, direction, next(iter(weights)))


def largest_shift(setting: SettingWords) -> float:
    """Give how far all rules together may move a setting one way.

    Parameters
    ----------
    setting : SettingWords
        The setting.

    Returns
    -------
    float
        In its unit; in places for a setting by names.

    Examples
    --------
    >>> largest_shift(SettingWords("clicks", "softer", "stiffer", 1.0, 2.0, 26.0))
    8.0
    >>> largest_shift(SettingWords("", "sharper", "milder", None, 1.0, 4.0))
    1.6
    """
    third = (setting.high - setting.low) * LARGEST_SHARE_OF_RANGE
    by_names = not setting.unit and setting.step is None
    return max(third, MOST_PLACES) if by_names else third


def _too_far(
    rulebase: RuleBase,
    name: str,
    setting: SettingWords,
    direction: str,
    reached: Furthest,
    weights: Mapping[int, float],
) -> Iterator[Finding]:
    span = setting.high - setting.low
    limit = largest_shift(setting)
    if reached.shift <= limit + _ROUNDING * span:
        return
    pushing = sorted(
        (
            (weights[place] * degree, rulebase.rules[place])
            for place, degree in reached.degrees.items()
            if weights[place] > 0
        ),
        key=lambda part: -part[0],
    )
    unit = f" {setting.unit}" if setting.unit else " places"
    listed = ", ".join(f"{rule.id} {part:.3g}" for part, rule in pushing)
    beyond = reached.shift > span / 2
    where = f"{pushing[0][1].origin} rules.{pushing[0][1].id}.change.{name}" if pushing else name
    yield Finding(
        "beyond its range" if beyond else "too far",
        "serious" if beyond else "worth a look",
        where,
        f"rules together can move {name} {reached.shift:.4g}{unit} {direction}, "
        + (
            f"past its end even from the middle of its range ({setting.low:g} to {setting.high:g})"
            if beyond
            else f"more than {limit:.4g}{unit}"
        )
        + (f": {listed}" if listed else ""),
        "lower an amount, or part the conditions",
    )


def _one_way(rulebase: RuleBase, name: str, direction: str, place: int) -> Finding:
    rule = rulebase.rules[place]
    return Finding(
        "one way",
        "worth a look",
        f"{rule.origin} rules.{rule.id}.change.{name}",
        f"no rule moves {name} {direction}",
        f"add a rule for the ground that asks for {direction}",
    )
