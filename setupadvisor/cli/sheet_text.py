"""The sheet of a day as text, at most 100 columns wide."""

from __future__ import annotations

from functools import partial
from textwrap import wrap as _wrap

from setupadvisor.advice.day_laps import Lane, SetupLaps
from setupadvisor.advice.day_records import DaySheet, SheetOuting, SheetSetting
from setupadvisor.advice.next_records import RemarkTask
from setupadvisor.cli.laps_sheet import lap_text
from setupadvisor.cli.sheet_words import (
    MOST_OPEN,
    bare_number,
    basis_text,
    care_of,
    change_text,
    comparison_text,
    grouped,
    most_tasks,
    proposal_text,
    range_text,
    said_text,
    several_days,
    short_tasks,
    short_title,
    when_text,
)

WIDTH = 100
SCALE = 22
LAP_SCALE = 56
MOST_DOUBTS = 1

wrap = partial(_wrap, break_on_hyphens=False)


def sheet_text(sheet: DaySheet) -> str:
    """Lay out the sheet as text.

    Parameters
    ----------
    sheet : DaySheet
        The sheet.

    Returns
    -------
    str
        Lines of at most 100 columns.
    """
    lines = [
        *_head(sheet),
        *_setup(sheet),
        *_history(sheet),
        *_laps(sheet),
        *_next(sheet),
        *_lists(sheet),
        *_ending(sheet),
    ]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _head(sheet: DaySheet) -> list[str]:
    place = ", ".join(part for part in (sheet.event, sheet.venue, sheet.date) if part)
    who = f"{sheet.machine}, rider {sheet.rider or 'not given'}"
    return [*wrap(f"{place}  |  {who}", WIDTH), "=" * WIDTH]


def _section(title: str, note: str = "") -> list[str]:
    return ["", f"{title}  {note}".rstrip(), "-" * WIDTH]


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"


def _said(text: str, first: str = "  ", rest: str = "    ") -> list[str]:
    return wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest)


def _setup(sheet: DaySheet) -> list[str]:
    lines = _section(
        "SETUP", "O on the bike, A advised, @ both, === advised range, > not as advised"
    )
    lines.append(f"{'':<33}{'on the bike':>14}{'advised':>16}{'range':>14}")
    for group, settings in grouped(sheet.settings).items():
        lines.append(group)
        lines += [_setting(setting) for setting in settings]
    for note in sheet.drive:
        lines += _said(note)
    return lines


def _setting(setting: SheetSetting) -> str:
    mark = ">" if setting.differs else " "
    span = range_text(setting, dash="-")
    return (
        f"{mark} {_cut(short_title(setting), 30):<31}{_cut(bare_number(setting), 14):>14}"
        f"{_cut(setting.shown or '-', 15):>16}{_cut(span, 13):>14} {scale_text(setting)}"
    )


def scale_text(setting: SheetSetting) -> str:
    """Draw a setting's range with what is on the motorcycle and what is advised.

    Parameters
    ----------
    setting : SheetSetting
        The setting.

    Returns
    -------
    str
        ``|--===A==--O-------|``; empty where nothing is known.
    """
    if setting.now is None and setting.advised is None:
        return ""
    last = SCALE - 3
    width = setting.highest - setting.lowest

    def place(value: float) -> int:
        share = (value - setting.lowest) / width if width else 0.0
        return round(last * min(max(share, 0.0), 1.0))

    signs = ["-"] * (last + 1)
    if setting.low is not None and setting.high is not None:
        for at in range(place(setting.low), place(setting.high) + 1):
            signs[at] = "="
    if setting.advised is not None:
        signs[place(setting.advised)] = "A"
    if setting.now is not None:
        at = place(setting.now)
        if setting.differs and place(setting.advised or 0.0) == at:
            # Too near for one sign each: the advised one goes to its side.
            beside = at + (1 if (setting.advised or 0.0) > setting.now else -1)
            at, beside = (at, beside) if 0 <= beside <= last else (at * 2 - beside, at)
            signs[beside] = "A"
        signs[at] = "@" if setting.now == setting.advised else "O"
    return f"|{''.join(signs)}|"


def _history(sheet: DaySheet) -> list[str]:
    if not sheet.outings:
        return []
    lines = _section("THE DAY", "same letter, same setup")
    lines.append(f"{'':>3}  {'':<22}{'setup':>6}{'mark':>6}{'laps':>6}{'best':>11}{'typical':>11}")
    with_date = several_days(sheet)
    for outing in sheet.outings:
        lines += _outing(outing, with_date=with_date)
    if sheet.pending:
        lines.append(f"     {'next, not ridden yet':<22}{sheet.pending_setup or '?':>6}")
        for change in sheet.pending:
            lines += _said(f"changed  {change_text(change)}", " " * 7, " " * 16)
    return lines


def _outing(outing: SheetOuting, *, with_date: bool) -> list[str]:
    mark = "-" if outing.mark is None else f"{outing.mark:g}/5"
    best, typical = (_lap(value) for value in (outing.best_s, outing.typical_s))
    lines = [
        f"{outing.number:>3}  {_cut(when_text(outing, with_date=with_date), 21):<22}"
        f"{outing.setup or '?':>6}{mark:>6}{outing.laps or '-':>6}{best:>11}{typical:>11}"
    ]
    for change in outing.changes:
        lines += _said(f"changed  {change_text(change)}", " " * 7, " " * 16)
    if outing.said:
        lines += _said(f"said     {said_text(outing)}", " " * 7, " " * 16)
    return lines


def _lap(seconds: float | None) -> str:
    return "-" if seconds is None else lap_text(seconds)


def _laps(sheet: DaySheet) -> list[str]:
    times = [lap for found in sheet.laps for lane in found.lanes for lap in lane.lap_s]
    if not times:
        return []
    low, high = min(times), max(times)
    lines = _section("LAPS BY SETUP", "each sign a lap: . one, : two, a digit more, | typical")
    for found in sheet.laps:
        lines += [_lane(found, lane, low, high) for lane in found.lanes]
    ends = f"{lap_text(low)}{lap_text(high):>{LAP_SCALE - len(lap_text(low))}}"
    lines.append(f"{'':<16}{ends}")
    for comparison in sheet.comparisons:
        lines += _said(comparison_text(comparison))
    for doubt in sheet.comparisons[-1].doubts[:MOST_DOUBTS] if sheet.comparisons else ():
        lines += _said(doubt, "  - ", "    ")
    return lines


def _lane(found: SetupLaps, lane: Lane, low: float, high: float) -> str:
    def place(seconds: float) -> int:
        return round((LAP_SCALE - 1) * (seconds - low) / (high - low)) if high > low else 0

    counts: dict[int, int] = {}
    for lap in lane.lap_s:
        counts[place(lap)] = counts.get(place(lap), 0) + 1
    signs = [" "] * LAP_SCALE
    if found.typical_s is not None:
        signs[place(found.typical_s)] = "|"
    for at, count in counts.items():
        signs[at] = {1: ".", 2: ":"}.get(count, str(min(count, 9)))
    aside = f"{lane.set_aside} set aside" if lane.set_aside else ""
    first = lane is found.lanes[0]
    head = f"  {found.setup or '?' if first else '':<4}outing {lane.outing:<3}"
    return f"{head}{''.join(signs)}  {_lap(lane.typical_s):>9} {aside}"


def _next(sheet: DaySheet) -> list[str]:
    lines = _proposed(sheet)
    if sheet.open_changes and not lines:
        total = sum(change.minutes for change in sheet.open_changes)
        lines = _section(
            "ADVISED, NOT ON THE BIKE YET",
            f"{len(sheet.open_changes)}, {total:.0f} minutes, in working order",
        )
        for change in sheet.open_changes[:MOST_OPEN]:
            lines += _said(
                f"[ ] {change.title}: {change.shown}, {change.minutes:g} min", "  ", "      "
            )
            for caution in change.cautions[:1]:
                lines += _said(f"CARE  {caution}", " " * 6, " " * 12)
        if len(sheet.open_changes) > MOST_OPEN:
            lines.append(f"  and {len(sheet.open_changes) - MOST_OPEN} more")
        lines += _said("Checks, how to undo, and every caution: setupadvisor advise.")
    return lines


def _proposed(sheet: DaySheet) -> list[str]:
    found = sheet.proposed
    if found is None:
        return []
    lines = _section("NEXT CHANGE", "one at a time; the others wait behind it")
    for task in found.checks:
        lines += _to_do(task, "Check before any change: ")
    for move in found.go_back:
        lines += _said(f"Go back first: {move.title}: {move.shown}, {move.minutes:g} min")
        lines += _said(f"check {move.check}", " " * 5, " " * 11)
    for caution in care_of(found.go_back):
        lines += _said(f"CARE  {caution}", " " * 5, " " * 11)
    for number, proposal in enumerate(found.proposals, start=1):
        text = proposal_text(proposal)
        lines += _said(
            f"{number}  {text} ({proposal.minutes:g} min, {proposal.chance:.0%} to help)",
            "  ",
            "     ",
        )
        lines += _said(f"for {proposal.complaint}", " " * 5, " " * 9)
        if number == 1:
            for label, text in (
                *(("check", move.check) for move in proposal.moves),
                *(("undo", move.undo) for move in proposal.moves),
                *(("also", task) for task in proposal.prepare),
                ("feel", proposal.look_for),
                *(("note", note) for note in proposal.notes),
                *(("CARE", caution) for caution in proposal.cautions),
            ):
                if text:
                    lines += _said(f"{label:<6}{text}", " " * 5, " " * 11)
    if not found.proposals:
        lines += _said("No setting to change that fits.")
    for task in found.prepare:
        lines += _to_do(task, "Moves no setting, when there is time: ")
    return lines


def _to_do(task: RemarkTask, head: str) -> list[str]:
    lines = _said(f"[ ] {head}{'; '.join(task.tasks)}", "  ", "      ")
    lines += _said(f"for {task.complaint}", " " * 5, " " * 9)
    for caution in task.cautions:
        lines += _said(f"CARE  {caution}", " " * 5, " " * 11)
    return lines


def _lists(sheet: DaySheet) -> list[str]:
    lines = []
    for title, tasks in (("PREPARE", sheet.prepare), ("WATCH", sheet.watch)):
        short, rest = short_tasks(tasks, most=most_tasks(sheet))
        if short:
            lines += _section(title, f"{rest} more in the whole advice" if rest else "")
        for task in short:
            lines += _said(f"[ ] {task.text}", "  ", "      ")
            for caution in task.cautions:
                lines += _said(f"CARE  {caution}", " " * 6, " " * 12)
    return lines


def _ending(sheet: DaySheet) -> list[str]:
    lines = _section("CAUTIONS")
    for caution in (*sheet.cautions, *sheet.notes):
        lines += _said(caution, "  ! ", "    ")
    basis = basis_text(sheet)
    return [*lines, *(_said(f"{basis[:1].upper()}{basis[1:]}.") if basis else [])]
