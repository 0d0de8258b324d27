"""The amounts that a season supports, written as a team's own rule folder."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import yaml

from setupadvisor.advice.workshop import Workshop
from setupadvisor.learning.weighing import Verdict
from setupadvisor.rulebook.conditions import Condition
from setupadvisor.rulebook.rules import Rule

SILENT = "silent"
# An amount smaller than this share of what was written is no rule any more.
NOTHING_LEFT = 0.1
# Spread over amount up to which a learnt amount counts as firm, or as usual.
FIRM_UP_TO, USUAL_UP_TO = 0.3, 0.7
_NORMAL_90 = 1.6449  # half of a central 90 % range of a normal distribution, in deviations

HEADER = """\
# Written by `setupadvisor weigh`: amounts that a season supports, in place of the written ones.
# Learnt from {season}: {sessions} sessions of {events} events on {machine}.
# A season already in these amounts must not be learnt from again on top of them: retrain on later
# sessions only, or without this folder.
"""


def supported_rules(
    workshop: Workshop, verdicts: Sequence[Verdict], provenance: Mapping[str, Any]
) -> str:
    """Write the supported amounts as YAML of a rule folder.

    Rules that were silent in every setting they move stay as they are and are left out.

    Parameters
    ----------
    workshop : Workshop
        The machine and the rules that were weighed.
    verdicts : sequence of Verdict
        What the season says.
    provenance : mapping
        Where the model came from.

    Returns
    -------
    str
        The text of one file; rules with nothing left are switched off with the reason.
    """
    by_rule: dict[str, list[Verdict]] = {}
    for verdict in verdicts:
        by_rule.setdefault(verdict.rule, []).append(verdict)
    rules: dict[str, Any] = {}
    switched_off: dict[str, str] = {}
    for name, found in by_rule.items():
        if all(verdict.verdict == SILENT for verdict in found):
            continue
        rule = workshop.rulebase.by_id[name]
        changes = _changes(workshop, rule, found)
        if changes or rule.prepare or rule.watch:
            rules[name] = _as_yaml(rule, changes, found, provenance)
        else:
            switched_off[name] = f"{provenance.get('season')} leaves nothing of its amounts"
    content: dict[str, Any] = {"subject": "amounts that a season supports"}
    if rules:
        content["rules"] = rules
    if switched_off:
        content["switch_off"] = switched_off
    header = HEADER.format(
        season=provenance.get("season"),
        sessions=provenance.get("sessions"),
        events=provenance.get("events"),
        machine=provenance.get("machine"),
    )
    return header + yaml.safe_dump(content, sort_keys=False, allow_unicode=True, width=96)


def _changes(workshop: Workshop, rule: Rule, found: Sequence[Verdict]) -> dict[str, str]:
    learnt = {verdict.setting: verdict for verdict in found}
    changes: dict[str, str] = {}
    for change in rule.changes:
        verdict = learnt.get(change.setting)
        setting = workshop.machine.settings.get(change.setting)
        if verdict is None or setting is None or verdict.verdict == SILENT:
            changes[change.setting] = f"{change.amount:g} {change.direction}"
            continue
        if abs(verdict.supported) < NOTHING_LEFT * abs(verdict.written):
            continue
        most = setting.highest - setting.lowest
        amount = float(f"{min(abs(verdict.supported), most):.3g}")
        changes[change.setting] = (
            f"{amount:g} {setting.up if verdict.supported > 0 else setting.down}"
        )
    return changes


def _as_yaml(
    rule: Rule,
    changes: Mapping[str, str],
    found: Sequence[Verdict],
    provenance: Mapping[str, Any],
) -> dict[str, Any]:
    heard = [verdict for verdict in found if verdict.verdict != SILENT]
    told = "; ".join(
        f"{verdict.setting} {verdict.verdict} ({verdict.written:+g} written, "
        f"{verdict.supported:+.3g} supported, {verdict.events} events)"
        for verdict in heard
    )
    record: dict[str, Any] = {"title": rule.title, "when": _written(rule.when)}
    if changes:
        record["change"] = dict(changes)
        record["confidence"] = _confidence(heard)
    record["why"] = rule.why
    if rule.look_for or changes:
        record["look_for"] = rule.look_for or "What the written rule looks for."
    record["source"] = f"{rule.source}; amounts from {provenance.get('season')}: {told}"
    if rule.caution:
        record["caution"] = rule.caution
    for name in ("balances", "prepare", "watch"):
        listed = getattr(rule, name)
        if listed:
            record[name] = list(listed)
    return record


def _confidence(heard: Sequence[Verdict]) -> str:
    """Say how firm the learnt amounts are: the loosest of them."""
    widest = max(
        (verdict.high - verdict.low) / (2.0 * _NORMAL_90) / max(abs(verdict.supported), 1e-9)
        for verdict in heard
    )
    if widest <= FIRM_UP_TO:
        return "firm"
    return "usual" if widest <= USUAL_UP_TO else "loose"


def _written(condition: Condition) -> Any:
    if condition.kind == "term":
        return condition.term
    parts = [_written(part) for part in condition.parts]
    if condition.kind == "not":
        return f"not {parts[0]}" if isinstance(parts[0], str) else {"not": parts[0]}
    return {condition.kind: parts}
