"""Rules of thumb: when, what they change, how sure, why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from setupadvisor.entries.quantity import shown
from setupadvisor.entries.yaml_file import KeyPath
from setupadvisor.rulebook.conditions import Condition, read_condition
from setupadvisor.rulebook.forms import RuleForm
from setupadvisor.rulebook.reading import Origin, Reading, check_shape, good_name, group
from setupadvisor.rulebook.settings import Change, SettingWords, read_changes

# The prior's spread as a share of the amount: how far a team's own number may lie from the
# rule's before the rule is surprised. The design's choice.
SPREADS = {"firm": 0.25, "usual": 0.5, "loose": 1.0}


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule of thumb.

    Parameters
    ----------
    id : str
        Its name in the rule base.
    subject : str
        The file's subject.
    title : str
        What a mechanic would call it.
    when : Condition
        Where it applies.
    changes : tuple of Change
        What it moves at full degree.
    confidence : str
        ``"firm"``, ``"usual"`` or ``"loose"``; a key of `SPREADS`.
    why, look_for, source, caution : str
        Texts; `look_for` and `caution` may be empty.
    balances : tuple of str
        Rules it knowingly pulls against.
    prepare, watch : tuple of str
        Preparation tasks and things to watch.
    origin : Origin
        Where it stands.
    """

    id: str
    subject: str
    title: str
    when: Condition
    changes: tuple[Change, ...]
    confidence: str
    why: str
    look_for: str
    source: str
    caution: str
    balances: tuple[str, ...]
    prepare: tuple[str, ...]
    watch: tuple[str, ...]
    origin: Origin

    @property
    def spread(self) -> float:
        """The prior's spread as a share of each amount."""
        return SPREADS[self.confidence]


def read_rules(
    reading: Reading, subject: str, settings: Mapping[str, SettingWords]
) -> dict[str, Rule | None]:
    """Read the rules of one document.

    Parameters
    ----------
    reading : Reading
        The document; takes mistakes and references.
    subject : str
        The file's subject.
    settings : mapping of str to SettingWords
        The settings there are.

    Returns
    -------
    dict of str to Rule or None
        By id, in the order of the file; None where anything is wrong.
    """
    content = group(
        reading, ("rules",), reading.document.content["rules"], "a rule's id and its keys"
    )
    return {
        name: _read_rule(reading, subject, settings, name, rule) for name, rule in content.items()
    }


def _read_rule(
    reading: Reading, subject: str, settings: Mapping[str, SettingWords], name: str, content: Any
) -> Rule | None:
    path: KeyPath = ("rules", name)
    before = len(reading.mistakes)
    good_name(reading, path, name)
    form = check_shape(reading, path, content, RuleForm)
    if not isinstance(content, dict):
        return None
    when = None
    if "when" in content:
        when = read_condition(reading, (*path, "when"), content["when"])
    changes: tuple[Change, ...] = ()
    if "change" in content:
        changes = read_changes(reading, (*path, "change"), content["change"], settings)
        for key, why in (
            ("confidence", "firm, usual or loose"),
            ("look_for", "what to look for once it is changed"),
        ):
            if content.get(key) is None:
                reading.wrong((*path, key), "the key is missing", f"add it: {why}")
    elif "prepare" not in content and "watch" not in content:
        reading.wrong(path, "the rule does nothing", "add change, prepare or watch")
    _check_balances(reading, (*path, "balances"), name, content.get("balances"))
    if form is None or when is None or len(reading.mistakes) > before:
        return None
    return Rule(
        id=name,
        subject=subject,
        title=form.title,
        when=when,
        changes=changes,
        confidence=form.confidence or "usual",
        why=form.why,
        look_for=form.look_for or "",
        source=form.source,
        caution=form.caution or "",
        balances=tuple(form.balances or ()),
        prepare=tuple(form.prepare or ()),
        watch=tuple(form.watch or ()),
        origin=reading.origin(path),
    )


def _check_balances(reading: Reading, path: KeyPath, name: str, written: Any) -> None:
    if not isinstance(written, list):
        return
    for place, other in enumerate(written):
        if other == name:
            reading.wrong((*path, place), "a rule cannot balance itself", "name the other rule")
        elif isinstance(other, str):
            reading.refer("rule", other, (*path, place))
        if other in written[:place]:
            reading.wrong((*path, place), f"{shown(other)} stands twice", "keep it once")
