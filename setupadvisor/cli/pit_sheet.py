"""The advice as text: a sheet to hang in the pit, at most 100 columns wide."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from itertools import groupby
from textwrap import wrap as _wrap

from setupadvisor.advice.difference import Difference
from setupadvisor.advice.records import Advice, AdvisedSetting, Change, Task

WIDTH = 100
MOST_NEAREST = 3
MOST_MEASURED = 6
MOST_RULES = 12
AFTER_THE_DAY = "wear"  # the subject of rules that shorten service intervals

# An option such as --on-bike is read and typed in one piece.
wrap = partial(_wrap, break_on_hyphens=False)


def pit_sheet(advice: Advice, *, minutes: float | None = None, why: bool = False) -> str:
    """Lay out the advice as text.

    Parameters
    ----------
    advice : Advice
        The advice.
    minutes : float, optional
        The time that was asked for.
    why : bool
        Whether to show the parts of every value.

    Returns
    -------
    str
        Lines of at most 100 columns.
    """
    lines = [
        *_head(advice),
        *_changes(advice, minutes),
        *_setup(advice, why=why),
        *_together(advice),
        *_tasks("PREPARE", [t for t in advice.prepare if t.subject != AFTER_THE_DAY], why=why),
        *_tasks("WATCH", advice.watch, why=why),
        *_tasks(
            "AFTER THE DAY", [t for t in advice.prepare if t.subject == AFTER_THE_DAY], why=why
        ),
        *_left_alone(advice),
        *_unknown(advice),
        *_basis(advice),
        *_cautions(advice),
    ]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _head(advice: Advice) -> list[str]:
    place = ", ".join(part for part in (advice.event, advice.venue, advice.date) if part)
    who = f"{advice.machine}, rider {advice.rider or 'not given'}"
    return [*wrap(f"{place}  |  {who}", WIDTH), "=" * WIDTH]


def _section(title: str, note: str = "") -> list[str]:
    return ["", f"{title}  {note}".rstrip(), "-" * WIDTH]


def _changes(advice: Advice, minutes: float | None) -> list[str]:
    total = sum(change.minutes for change in advice.changes)
    asked = f" of {minutes:g}" if minutes is not None else ""
    lines = _section(
        "CHANGES WORTH MAKING",
        f"{len(advice.changes)}, {total:.0f}{asked} minutes, in working order",
    )
    if not advice.changes:
        known = any(setting.now is not None for setting in advice.settings)
        there = "what is on the motorcycle" if known else "the house setup"
        return [*lines, f"  None: {there} is as good as anything known here."]
    seen: dict[str, int] = {}
    for number, change in enumerate(advice.changes, start=1):
        lines += _change(number, change, seen)
    return lines


def _change(number: int, change: Change, seen: dict[str, int]) -> list[str]:
    time = f"{change.minutes:g} min"
    head = f"{number:>3}  {change.title}: {change.shown}"
    lines = (
        [f"{head:<{WIDTH - 9}} {time:>8}"]
        if len(head) < WIDTH - 9
        else [*_hanging("", head, 5), f"{time:>{WIDTH}}"]
    )
    lines += _hanging("why", change.why, 5)
    lines += _hanging("check", change.check, 5)
    lines += _hanging("undo", change.undo, 5)
    new = [caution for caution in change.cautions if caution not in seen]
    again = sorted({seen[caution] for caution in change.cautions if caution in seen})
    for caution in new:
        seen[caution] = number
        lines += _hanging("CARE", caution, 5)
    if again:
        lines += _hanging("CARE", f"as in {', '.join(str(place) for place in again)}", 5)
    return lines


def _hanging(label: str, text: str, indent: int) -> list[str]:
    first = f"{' ' * indent}{label:<6} " if label else ""
    rest = " " * (indent + 7)
    return wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest)


def _setup(advice: Advice, *, why: bool) -> list[str]:
    known = any(setting.now is not None for setting in advice.settings)
    lines = _section("THE SETUP", "range: ~ how firm the rules are, otherwise from past events")
    lines.append(f"{'':<46}{'set':>20}{'range':>19}{'now' if known else 'house':>15}")
    groups: dict[str, list[AdvisedSetting]] = {}
    for setting in advice.settings:
        groups.setdefault(setting.group, []).append(setting)
    for group, settings in groups.items():
        lines.append(group)
        for setting in settings:
            lines.append(_setting(setting))
            if why:
                lines += _parts(setting)
    for note in advice.drive:
        lines += wrap(note, WIDTH, initial_indent="  ", subsequent_indent="    ")
    return lines


def _setting(setting: AdvisedSetting) -> str:
    mark = "~" if setting.range_kind == "prior" else ""
    span = "" if setting.has_names else f"{mark}{_number(setting.low)} to {_number(setting.high)}"
    now = setting.shown_now if setting.has_names else setting.shown_now.split(" ")[0]
    return (
        f"  {_cut(setting.title, 43):<44}{_cut(setting.shown, 20):>20}{span:>19}{_cut(now, 14):>15}"
    )


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"


def _parts(setting: AdvisedSetting) -> list[str]:
    lines: list[str] = []
    for part in setting.parts:
        lines += wrap(
            f"{part.amount:+9.3g}  {part.source}: {part.why}",
            WIDTH,
            initial_indent=" " * 6,
            subsequent_indent=" " * 17,
        )
    return lines


def _number(value: float) -> str:
    return f"{round(value, 1):g}"


def _together(advice: Advice) -> list[str]:
    if not advice.together:
        return []
    lines = _section("WHAT THE CHANGES DO TOGETHER")
    for item in advice.together:
        change = item.after - item.before
        lines.append(
            f"  {item.name:<32}{item.before:>10.1f} → {item.after:<8.1f} {item.unit:<6}"
            f"({change:+.1f})"
        )
    return lines


def _tasks(title: str, tasks: Sequence[Task], *, why: bool) -> list[str]:
    if not tasks:
        return []
    lines = _section(title)
    for _, same in groupby(tasks, key=lambda task: task.rule):
        group = list(same)
        reason = f" ({group[0].why})" if why else ""
        lines += wrap(group[0].title + reason, WIDTH, subsequent_indent="  ")
        for task in group:
            lines += wrap(task.text, WIDTH, initial_indent="  [ ] ", subsequent_indent="      ")
        for caution in group[0].cautions:
            lines += _hanging("CARE", caution, 6)
    return lines


def _left_alone(advice: Advice) -> list[str]:
    if not advice.left_alone and not advice.passed_over:
        return []
    titles = {setting.setting: setting.title for setting in advice.settings}
    lines = _section("LEFT ALONE")
    by_reason: dict[str, list[str]] = {}
    for name, reason in advice.left_alone.items():
        sort, _, detail = reason.partition(": ")
        named = f"{titles[name]} {detail}".rstrip()
        by_reason.setdefault(sort, []).append(named)
    for reason, named_all in by_reason.items():
        lines += wrap(
            f"{reason[:1].upper()}{reason[1:]}: {'; '.join(named_all)}",
            WIDTH,
            initial_indent="  ",
            subsequent_indent="    ",
        )
    lacking = ", ".join(f"{item.title} ({len(item.rules)})" for item in advice.passed_over)
    if lacking:
        lines += wrap(
            f"Not on this machine (rules passed over): {lacking}",
            WIDTH,
            initial_indent="  ",
            subsequent_indent="    ",
        )
    return lines


def _unknown(advice: Advice) -> list[str]:
    if not advice.not_judged and not advice.worth_measuring:
        return []
    titles = {setting.setting: setting for setting in advice.settings}
    lines = _section("NOT LOOKED AT", f"{len(advice.not_judged)} rules could not be judged")
    if advice.worth_measuring:
        lines.append("  Worth going back for, the most telling first:")
    for entry, title, moves in advice.worth_measuring[:MOST_MEASURED]:
        moved = ", ".join(
            f"{titles[name].title} by {_number(amount)} {titles[name].unit}".rstrip()
            for name, amount in moves.items()
        )
        lines += wrap(
            f"{title} ({entry}) could move {moved}",
            WIDTH,
            initial_indent="  - ",
            subsequent_indent="    ",
        )
    needs = _counted(need for _, _, needed in advice.not_judged for need in needed)
    if needs:
        lines += wrap(
            "Rules wait for: " + ", ".join(f"{need} ({count})" for need, count in needs),
            WIDTH,
            initial_indent="  ",
            subsequent_indent="    ",
        )
    return lines


def _counted(words: Iterable[str]) -> list[tuple[str, int]]:
    counts: dict[str, int] = {}
    for word in words:
        counts[word] = counts.get(word, 0) + 1
    return sorted(counts.items(), key=lambda item: (-item[1], item[0]))


def _basis(advice: Advice) -> list[str]:
    basis = advice.basis
    rules = basis["rules"]
    lines = _section("WHAT THIS RESTS ON")
    lines += wrap(
        f"{rules['count']} rules; {basis['sessions']} sessions of {basis['events']} events.",
        WIDTH,
        initial_indent="  ",
        subsequent_indent="  ",
    )
    for item in basis["nearest"][:MOST_NEAREST]:
        venue = f" at {item['venue']}" if item["venue"] else ""
        lines += wrap(
            f"Like {item['event']}{venue}, {item['date']}, rider {item['rider']} "
            f"(distance {item['distance']:.2f}). Shares: {', '.join(item['shares']) or 'little'}. "
            f"Differs: {', '.join(item['differs']) or 'in nothing that was entered'}.",
            WIDTH,
            initial_indent="  - ",
            subsequent_indent="    ",
        )
    if rules["of_the_team"]:
        lines += wrap(
            f"Your own rules: {', '.join(rules['of_the_team'])}",
            WIDTH,
            initial_indent="  ",
            subsequent_indent="    ",
        )
    for item in rules["switched_off"]:
        lines.append(f"  Switched off: {item['rule']} ({item['why']})"[:WIDTH])
    return lines


def _cautions(advice: Advice) -> list[str]:
    lines = _section("CAUTIONS")
    for caution in advice.cautions:
        lines += wrap(caution, WIDTH, initial_indent="  ! ", subsequent_indent="    ")
    return lines


def difference_text(found: Difference) -> str:
    """Lay out what changes between two walks.

    Parameters
    ----------
    found : Difference
        What differs.

    Returns
    -------
    str
        Lines of at most 100 columns.
    """
    lines = ["WHAT CHANGED ON THE WALK", "-" * WIDTH]
    rows = [(item.title, item.before, item.after) for item in found.entries]
    lines += _before_after(rows) or ["  Nothing that was entered."]
    lines += _section("SETTINGS THAT FOLLOW")
    rows = [(item.title, item.before, item.after) for item in found.settings]
    lines += _before_after(rows) or ["  None."]
    if found.rules:
        lines += _section("RULES THAT SPEAK MORE OR LESS", "0 silent, 1 in full")
        for item in found.rules[:MOST_RULES]:
            before, after = (_degree(degree) for degree in (item.before, item.after))
            lines.append(f"  {_cut(item.title, 70):<71}{before:>8} → {after}")
        if len(found.rules) > MOST_RULES:
            lines.append(f"  and {len(found.rules) - MOST_RULES} more")
    return "\n".join(line.rstrip() for line in lines) + "\n\n"


def _before_after(rows: Sequence[tuple[str, str, str]]) -> list[str]:
    return [
        line
        for title, before, after in rows
        for line in wrap(
            f"{_cut(title, 48):<50} {before} → {after}",
            WIDTH,
            initial_indent="  ",
            subsequent_indent=" " * 53,
        )
    ]


def _degree(degree: float | None) -> str:
    return "not judged" if degree is None else f"{degree:.2f}"
