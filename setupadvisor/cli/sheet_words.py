"""The words of the sheet, the same in its text and its HTML."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

from setupadvisor.advice.day_records import DaySheet, SheetChange, SheetOuting, SheetSetting
from setupadvisor.advice.next_records import Move, Proposal
from setupadvisor.advice.records import Task
from setupadvisor.learning.laps import Comparison

MOST_TASKS, FEWER_TASKS = 3, 2
_MANY_OUTINGS = 5
MOST_OPEN = 8
MOST_SAID = 220
# Below this a difference is none on any stopwatch.
_SMALLEST_SHOWN_S = 0.005


def grouped(settings: Iterable[SheetSetting]) -> dict[str, list[SheetSetting]]:
    """Put settings under their groups.

    Parameters
    ----------
    settings : iterable of SheetSetting
        In the order of the machine's file.

    Returns
    -------
    dict of str to list of SheetSetting
        Groups in the order in which they first appear.
    """
    groups: dict[str, list[SheetSetting]] = {}
    for setting in settings:
        groups.setdefault(setting.group, []).append(setting)
    return groups


def short_title(setting: SheetSetting) -> str:
    """Leave out of a title the group that stands above it.

    Parameters
    ----------
    setting : SheetSetting
        The setting.

    Returns
    -------
    str
        ``Low-speed compression`` for the fork's, under the heading Fork.
    """
    rest = setting.title.removeprefix(f"{setting.group} ")
    return rest[:1].upper() + rest[1:]


def bare_number(setting: SheetSetting) -> str:
    """Give what is on the motorcycle without its unit.

    Parameters
    ----------
    setting : SheetSetting
        The setting.

    Returns
    -------
    str
        A number or a name; ``?`` where it is not known.
    """
    if setting.now is None:
        return "?"
    if setting.has_names or not setting.unit:
        return setting.shown_now
    return setting.shown_now.removesuffix(setting.unit).rstrip()


def range_text(setting: SheetSetting, *, dash: str) -> str:
    """Give the advised range.

    Parameters
    ----------
    setting : SheetSetting
        The setting.
    dash : str
        What stands between its ends, where neither is below 0.

    Returns
    -------
    str
        Empty for names and without advice; ``~`` before a range that shows only how firm the
        rules are.
    """
    if setting.has_names or setting.low is None or setting.high is None:
        return ""
    mark = "~" if setting.range_kind == "prior" else ""
    between = dash if setting.low >= 0 else " to "
    return f"{mark}{_three_digits(setting.low)}{between}{_three_digits(setting.high)}"


def _three_digits(value: float) -> str:
    return f"{round(value, 0 if abs(value) >= 100 else 1):g}"


def change_text(change: SheetChange) -> str:
    """Give a change with what came of it.

    Parameters
    ----------
    change : SheetChange
        The change.

    Returns
    -------
    str
        On one line.
    """
    verdict = f": {change.verdict}" if change.verdict else ""
    return f"{change.title} {change.shown}{verdict}"


def when_text(outing: SheetOuting, *, with_date: bool) -> str:
    """Say when an outing began.

    Parameters
    ----------
    outing : SheetOuting
        The outing.
    with_date : bool
        Whether the sheet has more than one day.

    Returns
    -------
    str
        Its time, else its name.
    """
    when = outing.time or outing.name
    return f"{outing.date} {when}" if with_date else when


def several_days(sheet: DaySheet) -> bool:
    """Say whether the outings are of more than one date.

    Parameters
    ----------
    sheet : DaySheet
        The sheet.

    Returns
    -------
    bool
        True for two dates or more.
    """
    return len({outing.date for outing in sheet.outings}) > 1


def said_text(outing: SheetOuting) -> str:
    """Give the rider's words, cut where they run on.

    Parameters
    ----------
    outing : SheetOuting
        The outing.

    Returns
    -------
    str
        One line; all of it is in the book.
    """
    said = " / ".join(" ".join(text.split()) for text in outing.said)
    return said if len(said) <= MOST_SAID else f"{said[: MOST_SAID - 1]}…"


def comparison_cells(found: Comparison) -> tuple[str, str, str, str, str]:
    """Say how a setup did against the one before it, as a row of a table.

    Parameters
    ----------
    found : Comparison
        The comparison.

    Returns
    -------
    tuple of str
        Pair, difference, interval, probability of an improvement, and whether it is settled.
    """
    pair = f"{found.second.setup} against {found.first.setup}"
    if not found.known:
        return pair, "the laps cannot tell", "", "", ""
    same = abs(found.difference_s) < _SMALLEST_SHOWN_S
    return (
        pair,
        "as quick" if same else _signed(found.difference_s),
        _interval(found.low_s, found.high_s),
        _percent(found.probability_better),
        "settled" if found.settled else "not settled",
    )


def comparison_text(found: Comparison) -> str:
    """Say in a sentence how a setup did against the one before it.

    Parameters
    ----------
    found : Comparison
        The comparison.

    Returns
    -------
    str
        One sentence.
    """
    pair, difference, interval, chance, settled = comparison_cells(found)
    counts = f"{found.second.laps} and {found.first.laps} laps"
    if not found.known:
        return f"{pair}: {difference} ({counts})."
    return (
        f"{pair}: {difference} a lap ({100 * found.level:.0f} % sure: {interval}); better with a "
        f"probability of {chance}; {settled}, {counts}."
    )


def _signed(difference_s: float) -> str:
    return f"{abs(difference_s):.2f} s {'quicker' if difference_s < 0 else 'slower'}"


def _interval(low_s: float, high_s: float) -> str:
    """Give both ends with a word each, or one word for both."""
    low, high = _signed(low_s), _signed(high_s)
    if low.split()[-1] == high.split()[-1]:
        smaller, larger = sorted([abs(low_s), abs(high_s)])
        return f"{smaller:.2f} to {larger:.2f} s {high.split()[-1]}"
    return f"{abs(low_s):.2f} s quicker to {abs(high_s):.2f} s slower"


def _percent(probability: float) -> str:
    if probability > 0.995:
        return "over 99 %"
    return "under 1 %" if probability < 0.005 else f"{100 * probability:.0f} %"


def proposal_text(proposal: Proposal) -> str:
    """Say what a proposal does.

    Parameters
    ----------
    proposal : Proposal
        The proposal.

    Returns
    -------
    str
        Its moves.
    """
    return "; ".join(f"{move.title}: {move.shown}" for move in proposal.moves)


def care_of(moves: Iterable[Move]) -> tuple[str, ...]:
    """Name what is dangerous about moving settings.

    Parameters
    ----------
    moves : iterable of Move
        The moves.

    Returns
    -------
    tuple of str
        Each once.
    """
    return tuple(dict.fromkeys(text for move in moves for text in move.cautions))


def most_tasks(sheet: DaySheet) -> int:
    """Say how many tasks the sheet has room for.

    Parameters
    ----------
    sheet : DaySheet
        The sheet.

    Returns
    -------
    int
        Fewer late in the day, when most are done.
    """
    late = sheet.proposed is not None or len(sheet.outings) > _MANY_OUTINGS
    return FEWER_TASKS if late else MOST_TASKS


def short_tasks(tasks: Iterable[Task], *, most: int) -> tuple[list[Task], int]:
    """Shorten a list of tasks to the first one of each of the most fitting rules.

    Parameters
    ----------
    tasks : iterable of Task
        Those of the most fitting rules first.
    most : int
        How many to keep.

    Returns
    -------
    tuple of list of Task and int
        The short list, and how many are not in it.
    """
    whole = list(tasks)
    firsts = [next(same) for _, same in groupby(whole, key=lambda task: task.rule)]
    return firsts[:most], len(whole) - len(firsts[:most])


def basis_text(sheet: DaySheet) -> str:
    """Say what the advice rests on and what its ranges mean.

    Parameters
    ----------
    sheet : DaySheet
        The sheet.

    Returns
    -------
    str
        Empty without advice.
    """
    if not sheet.basis:
        return ""
    kinds = {setting.range_kind for setting in sheet.settings}
    ranges = "; ranges from past events left out" if "cv+" in kinds else ""
    if "prior" in kinds:
        ranges += "; ~ shows how firm the rules are"
    return (
        f"advised from {sheet.basis['rules']['count']} rules and {sheet.basis['sessions']} "
        f"sessions of {sheet.basis['events']} events{ranges}"
    )
