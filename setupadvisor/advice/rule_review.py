"""The review of a rule base, told what stands beside the rules: entries, house values, cautions."""

from __future__ import annotations

from setupadvisor.advice.workshop import known_settings, setting_words
from setupadvisor.entries.machine import House, Machine
from setupadvisor.entries.quantity import entry_fields
from setupadvisor.facts.catalogue import FACTS
from setupadvisor.facts.columns import condition_fields
from setupadvisor.rulebook.findings import Finding
from setupadvisor.rulebook.review import review
from setupadvisor.rulebook.rulebase import RuleBase


def review_rules(rulebase: RuleBase, machine: Machine) -> list[Finding]:
    """Look a machine's rule base through.

    Parameters
    ----------
    rulebase : RuleBase
        The rules.
    machine : Machine
        The motorcycle they are for.

    Returns
    -------
    list of Finding
        Serious ones first.
    """
    settings = known_settings(machine)
    entries = {
        *condition_fields(),
        *entry_fields(Machine, "machine"),
        *(f"machine.house.{name}" for name in settings),
    }
    calculated = {
        setting.house.fact for setting in settings.values() if isinstance(setting.house, House)
    }
    # Facts that one function gives together stand or fall together.
    given_together = {FACTS[name].function for name in calculated if FACTS[name].part is not None}
    calculated |= {
        name
        for name, fact in FACTS.items()
        if fact.part is not None and fact.function in given_together
    }
    return review(
        rulebase,
        FACTS,
        setting_words(settings),
        entries=entries,
        facts_used=calculated,
        cautioned=[name for name, setting in settings.items() if setting.cautions],
        house={
            name: setting.fixed_house
            for name, setting in settings.items()
            if not isinstance(setting.house, House)
        },
    )
