"""Running cases: what a rule base makes of partial walks, held against what must come out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from setupadvisor.advice.case_bench import Bench, lay_out
from setupadvisor.advice.fitting import fit
from setupadvisor.advice.measuring import not_judged
from setupadvisor.advice.workshop import Workshop, house_machine, open_workshop
from setupadvisor.entries.files import bundled, load_entry
from setupadvisor.entries.machine import Machine
from setupadvisor.entries.setting import Setting
from setupadvisor.errors import Mistake
from setupadvisor.facts.columns import Columns
from setupadvisor.rulebook.cases import Case, load_cases
from setupadvisor.rulebook.cases_sentences import (
    RuleSentence,
    Sentence,
    SettingSentence,
    TaskSentence,
)

# What no mechanic would call a difference: a tenth of the smallest step that can be set.
SHARE_OF_A_STEP = 0.1
# A rule that speaks fully: a little less than 1, as entries are round numbers.
FULL_DEGREE = 0.95
MOST_RULES_NAMED = 4
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Outcome:
    """One sentence of a case, and whether it holds.

    Parameters
    ----------
    case : Case
        The case.
    sentence : Sentence
        One of what it expects.
    where : str
        Where the sentence stands.
    holds : bool
        Whether it is true of what came out.
    came_out : str
        What came out, in words.
    """

    case: Case
    sentence: Sentence
    where: str
    holds: bool
    came_out: str

    def as_mistake(self) -> Mistake:
        """Say what was expected and what came out, as a mistake in the file of the case."""
        return Mistake(
            self.where,
            f"expected '{self.sentence.text}', but {self.came_out}",
            "mend the rules, or the case if it asks too much",
        )


@dataclass(frozen=True)
class _Place:
    bench: Bench
    row: int


def is_bundled(folder: Path) -> bool:
    """Tell whether a folder is the bundled rule base.

    Parameters
    ----------
    folder : pathlib.Path
        A rule folder.

    Returns
    -------
    bool
        Whether it is.
    """
    return folder.resolve() == bundled("rules").resolve()


def bundled_machines() -> dict[str, Machine]:
    """Load the machines that ship with the package.

    Returns
    -------
    dict of str to Machine
        By name.
    """
    paths = sorted(bundled("datasets", "machines").glob("*.yaml"))
    return {machine.name: machine for machine in (load_entry(path, Machine) for path in paths)}


def read_cases(
    folder: Path, machine: Machine, rules: Collection[str] | None = None
) -> dict[str, Case]:
    """Read a folder's cases, with the bundled ones they may stand on.

    Parameters
    ----------
    folder : pathlib.Path
        The bundled rules, or a team's own, which stand on top of the bundled ones.
    machine : Machine
        The machine of a team's cases that name none.
    rules : collection of str, optional
        Ids of the rules; not looked up when missing.

    Returns
    -------
    dict of str to Case
        By id.

    Raises
    ------
    InputError
        With every mistake of every case.
    """
    home = house_machine().name
    machines = {**bundled_machines(), machine.name: machine}
    if is_bundled(folder):
        return load_cases([folder], machines, [home], rules)
    return load_cases([bundled("rules"), folder], machines, [home, machine.name], rules)


def check_cases(folder: Path, machine: Machine, rules: Collection[str]) -> list[Outcome]:
    """Read and run the cases of one rule folder.

    Parameters
    ----------
    folder : pathlib.Path
        The bundled rules, or a team's own, which stand on top of the bundled ones.
    machine : Machine
        The machine of a team's cases that name none.
    rules : collection of str
        Ids of the rules.

    Returns
    -------
    list of Outcome
        One for each sentence of the folder's own cases.

    Raises
    ------
    InputError
        With every mistake of every case.
    """
    cases = read_cases(folder, machine, rules)
    own = [case for case in cases.values() if case.origin.folder == str(folder)]
    if not own:
        return []
    machines = {**bundled_machines(), machine.name: machine}
    folders = () if is_bundled(folder) else (folder,)
    workshops = {
        name: open_workshop(machines[name], folders)
        for name in dict.fromkeys(case.machine for case in cases.values())
    }
    return run_cases(own, cases, workshops)


def run_cases(
    wanted: Iterable[Case], cases: Mapping[str, Case], workshops: Mapping[str, Workshop]
) -> list[Outcome]:
    """Run cases.

    Parameters
    ----------
    wanted : iterable of Case
        The cases to run.
    cases : mapping of str to Case
        All cases, for those a sentence is held against.
    workshops : mapping of str to Workshop
        By machine.

    Returns
    -------
    list of Outcome
        One for each sentence, in the order of the cases.
    """
    places: dict[str, _Place] = {}
    for name, workshop in workshops.items():
        own = [case for case in cases.values() if case.machine == name]
        if own:
            bench = lay_out(workshop, own)
            places.update({case.id: _Place(bench, row) for row, case in enumerate(own)})
    return [
        Outcome(case, sentence, where, *_judged(sentence, places[case.id], places))
        for case in wanted
        for sentence, where in zip(case.expect, case.wheres, strict=True)
    ]


def _judged(sentence: Sentence, place: _Place, places: Mapping[str, _Place]) -> tuple[bool, str]:
    if isinstance(sentence, SettingSentence):
        return _setting(sentence, place, places)
    if isinstance(sentence, TaskSentence):
        return _task(sentence, place)
    if sentence.verdict == "not judged":
        return _not_judged(sentence, place)
    return _rule(sentence, place)


def _setting(
    sentence: SettingSentence, place: _Place, places: Mapping[str, _Place]
) -> tuple[bool, str]:
    setting = place.bench.workshop.machine.settings[sentence.setting]
    value = _value(sentence, place, of_house=False)
    by = _pulling(sentence.setting, place)
    if sentence.relation in {"at", "least", "most"}:
        fitted = fit(setting, value)
        holds = {
            "at": fitted == sentence.amount,
            "least": fitted >= sentence.amount,
            "most": fitted <= sentence.amount,
        }[sentence.relation]
        return holds, f"it is {_shown(setting, value)}, which fits to {setting.show(fitted)}{by}"
    other = places[sentence.other] if sentence.other else place
    held_against = _value(sentence, other, of_house=not sentence.other)
    against = f"on case {sentence.other}" if sentence.other else "the house value"
    text = f"it is {_shown(setting, value)}, {against} {_shown(setting, held_against)}{by}"
    return _holds(sentence, setting, value - held_against), text


def _value(sentence: SettingSentence, place: _Place, *, of_house: bool) -> float:
    bench, row = place.bench, place.row
    if sentence.on_sheet:
        return bench.sheet(row, of_house=of_house)[sentence.setting]
    column = bench.workshop.settings.index(sentence.setting)
    return float((bench.found.house if of_house else bench.wishes)[row, column])


def _holds(sentence: SettingSentence, setting: Setting, difference: float) -> bool:
    nothing = SHARE_OF_A_STEP * smallest_step(setting)
    beyond = sentence.sign * difference
    return {
        "beyond": beyond > nothing,
        "not beyond": beyond <= nothing,
        "by at least": beyond >= sentence.amount - _ROUNDING,
        "by at most": beyond <= sentence.amount + _ROUNDING,
        "unchanged": abs(difference) <= nothing,
        "within": abs(difference) <= sentence.amount + _ROUNDING,
    }[sentence.relation]


def smallest_step(setting: Setting) -> float:
    """Give the smallest change of a setting.

    Parameters
    ----------
    setting : Setting
        The setting.

    Returns
    -------
    float
        Its step, or the smallest distance on the shelf; 1 for named values.
    """
    if setting.step is not None:
        return setting.step
    values = setting.values
    return min((high - low for low, high in pairwise(values)), default=1.0)


def _shown(setting: Setting, value: float) -> str:
    return f"{round(value, 2):g} {setting.unit}".rstrip()


def _pulling(name: str, place: _Place) -> str:
    """Name the rules that move a setting the most in a row."""
    bench, row = place.bench, place.row
    low, high = bench.found.low[:, row], bench.found.high[:, row]
    amounts = bench.workshop.amounts[:, bench.workshop.settings.index(name)]
    moves = [
        (float(degree * amount), rule.id)
        for rule, amount, degree, most in zip(
            bench.workshop.rulebase.rules, amounts, low, high, strict=True
        )
        if degree == most and degree * amount
    ]
    moves.sort(key=lambda move: -abs(move[0]))
    told = [f"{rule} {move:+.2g}" for move, rule in moves[:MOST_RULES_NAMED]]
    more = [f"{len(moves) - MOST_RULES_NAMED} more"] if len(moves) > MOST_RULES_NAMED else []
    return f" (moved by {', '.join(told + more)})" if told else " (no rule moved it)"


def _rule(sentence: RuleSentence, place: _Place) -> tuple[bool, str]:
    bench, row = place.bench, place.row
    number = _number(sentence.rule, bench)
    low, high = float(bench.found.low[number, row]), float(bench.found.high[number, row])
    if low < high:
        return False, f"the rule cannot be judged: needs {_needed(sentence.rule, place)}"
    holds = {
        "speaks": low > 0.0,
        "speaks fully": low >= FULL_DEGREE,
        "silent": high == 0.0,
    }[sentence.verdict]
    return holds, f"its degree is {round(low, 3):g}"


def _not_judged(sentence: RuleSentence, place: _Place) -> tuple[bool, str]:
    waiting = dict(not_judged(place.bench.workshop, place.bench.alone(place.row), _columns(place)))
    if sentence.rule:
        if sentence.rule not in waiting:
            number = _number(sentence.rule, place.bench)
            return False, f"it is judged: {place.bench.found.low[number, place.row]:.3g}"
        needs = waiting[sentence.rule]
        return set(sentence.needs) <= set(needs), f"it needs {', '.join(needs)}"
    holds = any(set(sentence.needs) <= set(needs) for needs in waiting.values())
    return holds, f"{len(waiting)} rules are not judged, none of them for want of it"


def _needed(rule: str, place: _Place) -> str:
    waiting = dict(not_judged(place.bench.workshop, place.bench.alone(place.row), _columns(place)))
    return ", ".join(waiting.get(rule, []))


def _columns(place: _Place) -> Columns:
    return place.bench.conditions[place.row]


def _number(rule: str, bench: Bench) -> int:
    return next(
        place for place, found in enumerate(bench.workshop.rulebase.rules) if found.id == rule
    )


def _task(sentence: TaskSentence, place: _Place) -> tuple[bool, str]:
    tasks = place.bench.tasks(place.row, sentence.kind)
    mentioning = [rule for text, rule in tasks.items() if sentence.words in text.lower()]
    if mentioning:
        return sentence.mentioned, f"rule {mentioning[0]} asks for it"
    asking = ", ".join(dict.fromkeys(tasks.values())) or "no rule"
    return not sentence.mentioned, f"nothing mentions it (asked for by {asking})"
