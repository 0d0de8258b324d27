"""Rules that would have moved what a machine lacks."""

from __future__ import annotations

from setupadvisor.advice.records import PassedOver
from setupadvisor.advice.workshop import Situations, Workshop, known_settings


def passed_over(workshop: Workshop, found: Situations) -> tuple[PassedOver, ...]:
    """Find what rules ask for on a walk and the machine has not.

    Parameters
    ----------
    workshop : Workshop
        The machine and its rules.
    found : Situations
        What follows from the walk; one row.

    Returns
    -------
    tuple of PassedOver
        In the order of the bundled machine's settings; rules that are silent here do not count.
    """
    lacking: dict[str, list[str]] = {
        name: []
        for name in known_settings(workshop.machine)
        if name not in workshop.machine.settings
    }
    for rule, degree in zip(workshop.rulebase.rules, found.high[:, 0], strict=True):
        for change in rule.changes:
            if change.setting in lacking and degree > 0:
                lacking[change.setting].append(rule.id)
    titles = {name: setting.title for name, setting in known_settings(workshop.machine).items()}
    return tuple(
        PassedOver(name, titles[name], tuple(rules)) for name, rules in lacking.items() if rules
    )
