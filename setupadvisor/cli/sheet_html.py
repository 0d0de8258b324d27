"""The sheet of a day as one HTML file that needs nothing else, to print on A4 or Letter."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from setupadvisor.advice.day_records import DaySheet, SheetOuting, SheetSetting
from setupadvisor.advice.next_records import Move, Proposal, RemarkTask
from setupadvisor.advice.records import Change, Task
from setupadvisor.cli.laps_sheet import lap_text
from setupadvisor.cli.sheet_plots import (
    advised_mark,
    bike_mark,
    lap_plot,
    range_mark,
    range_plot,
    safe,
    svg,
)
from setupadvisor.cli.sheet_style import STYLE
from setupadvisor.cli.sheet_words import (
    MOST_OPEN,
    bare_number,
    basis_text,
    care_of,
    change_text,
    comparison_cells,
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
from setupadvisor.learning.laps import Comparison

# Characters of a title that fit on one line of the table.
_ONE_LINE = 28
# How much higher a row of two lines is.
_TWO_LINES = 1.3
# Lines left for the pen, and up to how many outings there is room for them.
_MOST_PEN_LINES = 4
_ROWS_WITH_ROOM = 5
_DAY_HEADS = ("", "time", "setup", "changed before it", "mark", "the rider said", "laps", "best")
_MOST_LANES_BESIDE = 6
_MOST_DOUBTS = 1
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def sheet_html(sheet: DaySheet) -> str:
    """Lay out the sheet as HTML.

    Parameters
    ----------
    sheet : DaySheet
        The sheet.

    Returns
    -------
    str
        A whole document, well-formed as XML too; it loads nothing.
    """
    body = "\n".join(
        part
        for part in (
            _head(sheet),
            _setup(sheet),
            _history(sheet),
            *_below(sheet),
        )
        if part
    )
    title = safe(" ".join(part for part in (sheet.event, sheet.date, sheet.rider) if part))
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8"/>
<meta http-equiv="Content-Security-Policy" content="{_POLICY}"/>
<meta name="viewport" content="width=device-width"/>
<title>{title or "Setup sheet"}</title>
<style>{STYLE}</style>
</head>
<body>
<main>
{body}
</main>
</body>
</html>
"""


def _head(sheet: DaySheet) -> str:
    place = ", ".join(part for part in (sheet.venue, sheet.date) if part)
    return (
        f"<header><div><h1>{safe(sheet.event)}</h1><p>{safe(place)}</p></div>"
        f'<div class="who"><p><b>{safe(sheet.rider or "rider not given")}</b></p>'
        f"<p>{safe(sheet.machine)}</p></div></header>"
    )


def _row(*sections: str) -> str:
    """Put sections side by side, as many as there are."""
    there = "".join(section for section in sections if section)
    return f'<div class="row">{there}</div>' if there else ""


def _setup(sheet: DaySheet) -> str:
    columns = "".join(
        f'<table class="setup">{_SETUP_HEAD}{"".join(_group(name, rows) for name, rows in half)}'
        "</table>"
        for half in _halves(list(grouped(sheet.settings).items()))
    )
    rests = "; ".join(text for text in (*sheet.drive[:1], basis_text(sheet)) if text)
    notes = f'<p class="note">{safe(rests)}</p>' if rests else ""
    return f'<section><h2>Setup{_key()}</h2><div class="columns">{columns}</div>{notes}</section>'


_SETUP_HEAD = (
    "<colgroup>"
    + "".join(f'<col class="{name}"/>' for name in ("t", "u", "b", "a", "r", "p"))
    + '</colgroup><thead><tr><th colspan="2"></th><th>on bike</th><th>advised</th>'
    "<th>range</th><th></th></tr></thead>"
)


def _key() -> str:
    marks = (
        (bike_mark(1.5, 0.6), "on the bike"),
        (advised_mark(1.5, 2.4), "advised"),
        (range_mark(0.2, 4.6), "range"),
    )
    shown = "".join(
        f"<span>{svg(5.0 if word == 'range' else 3.0, 3.2, [mark], word)} {word}</span>"
        for mark, word in marks
    )
    return f'<span class="key">{shown}<span><b class="box">12</b> not as advised</span></span>'


def _halves(
    groups: Sequence[tuple[str, list[SheetSetting]]],
) -> list[list[tuple[str, list[SheetSetting]]]]:
    """Split the groups over two columns of about the same height, in their order."""
    heights = [1 + sum(_lines(setting) for setting in rows) for _, rows in groups]
    split = min(
        range(1, len(groups) + 1),
        key=lambda at: max(sum(heights[:at]), sum(heights[at:])),
    )
    return [half for half in (list(groups[:split]), list(groups[split:])) if half]


def _lines(setting: SheetSetting) -> float:
    return _TWO_LINES if len(short_title(setting)) > _ONE_LINE else 1.0


def _group(name: str, rows: Sequence[SheetSetting]) -> str:
    head = f'<tr class="group"><th colspan="6">{safe(name)}</th></tr>'
    return f"<tbody>{head}{''.join(_setting(setting) for setting in rows)}</tbody>"


def _setting(setting: SheetSetting) -> str:
    shown = safe(setting.shown or "-")
    advised = f'<b class="box">{shown}</b>' if setting.differs else shown
    title, now = safe(short_title(setting)), safe(bare_number(setting))
    span = safe(range_text(setting, dash="–"))
    plot = f'<td class="plot">{range_plot(setting)}</td>'
    if setting.has_names:
        return (
            f'<tr><td>{title}</td><td colspan="2" class="now">{now}</td>'
            f'<td colspan="2" class="name">{advised}</td>{plot}</tr>'
        )
    return (
        f'<tr><td colspan="2">{title}</td><td class="now">{now}</td><td class="to">{advised}</td>'
        f'<td class="span">{span}</td>{plot}</tr>'
    )


def _history(sheet: DaySheet) -> str:
    with_date = several_days(sheet)
    rows = [_outing(outing, with_date=with_date) for outing in sheet.outings]
    if sheet.pending:
        changes = _listed(change_text(change) for change in sheet.pending)
        setup = safe(sheet.pending_setup or "?")
        known = (
            f'<td></td><td>next</td><td class="letter">{setup}</td><td class="changed">{changes}'
        )
        rows.append(f"<tr>{known}</td>{'<td></td>' * (len(_DAY_HEADS) - 4)}</tr>")
    empty = "<td></td>" * len(_DAY_HEADS)
    rows += [f'<tr class="pen">{empty}</tr>'] * _lines_for_the_pen(len(rows))
    heads = "".join(f"<th>{head}</th>" for head in _DAY_HEADS)
    return (
        f'<section><h2>The day</h2><table class="day"><thead><tr>{heads}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></section>"
    )


def _lines_for_the_pen(rows: int) -> int:
    if rows == 0:
        return _MOST_PEN_LINES
    return max(_ROWS_WITH_ROOM - rows, 0 if rows > _ROWS_WITH_ROOM else 1)


def _listed(texts: Iterable[str]) -> str:
    return "<br/>".join(safe(text) for text in texts)


def _outing(outing: SheetOuting, *, with_date: bool) -> str:
    mark = "" if outing.mark is None else f"{outing.mark:g}/5"
    cells = (
        f"<td>{outing.number}</td>",
        f"<td>{safe(when_text(outing, with_date=with_date))}</td>",
        f'<td class="letter">{safe(outing.setup or "?")}</td>',
        f'<td class="changed">{_listed(change_text(change) for change in outing.changes)}</td>',
        f'<td class="mark">{mark}</td>',
        f'<td class="said">{safe(said_text(outing))}</td>',
        f'<td class="number">{_counted(outing)}</td>',
        f'<td class="number"><b>{_lap(outing.best_s)}</b></td>',
    )
    return f"<tr>{''.join(cells)}</tr>"


def _lap(seconds: float | None) -> str:
    return "" if seconds is None else lap_text(seconds)


def _counted(outing: SheetOuting) -> str:
    ridden = outing.laps + outing.set_aside
    return f"{outing.laps} of {ridden}" if outing.set_aside else str(ridden or "")


def _below(sheet: DaySheet) -> list[str]:
    """Stand two columns beside each other where the laps are few, else all across the page."""
    lanes = sum(len(found.lanes) for found in sheet.laps)
    most = most_tasks(sheet)
    prepare, watch = _tasks("Prepare", sheet.prepare, most), _tasks("Watch", sheet.watch, most)
    following, cautions = _next(sheet), _cautions(sheet)
    if sheet.proposed is None or lanes > _MOST_LANES_BESIDE:
        return [_laps(sheet, wide=True), following, _row(prepare, watch, cautions)]
    left = _laps(sheet, wide=False) + prepare + watch
    return [_row(f"<div>{left}</div>", f"<div>{following}{cautions}</div>")]


def _laps(sheet: DaySheet, *, wide: bool) -> str:
    plot = lap_plot(sheet.laps)
    if not plot:
        return ""
    key = "circle: lap, bar: setup's typical, time: outing's"
    compared = _compared(sheet.comparisons)
    body = f'<div class="row"><div>{plot}</div><div>{compared}</div></div>' if wide else None
    return (
        f'<section><h2>Laps by setup<span class="key">{key}</span></h2>'
        f"{body or plot + compared}</section>"
    )


def _compared(comparisons: Sequence[Comparison]) -> str:
    if not comparisons:
        return ""
    heads = "".join(
        f"<th>{head}</th>"
        for head in ("", "a lap", f"{100 * comparisons[0].level:.0f} % sure", "better?", "")
    )
    rows = "".join(
        "<tr>" + "".join(f"<td>{safe(cell)}</td>" for cell in comparison_cells(found)) + "</tr>"
        for found in comparisons
    )
    doubts = "".join(
        f'<p class="small">{safe(doubt)}</p>' for doubt in comparisons[-1].doubts[:_MOST_DOUBTS]
    )
    return (
        f'<table class="laps"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>{doubts}'
    )


def _next(sheet: DaySheet) -> str:
    if sheet.proposed is not None:
        back = _go_back(sheet.proposed.go_back)
        first, *others = sheet.proposed.proposals or (None,)
        text = (
            _first(first, whole=not back)
            if first is not None
            else "<p>No setting to change that fits.</p>"
        )
        behind = "".join(f"<li>{_proposed(proposal)}</li>" for proposal in others)
        behind = (
            f'<p class="small">Behind it, never together with it:</p><ol start="2">{behind}</ol>'
            if behind
            else ""
        )
        checks = _to_do("Before any change", sheet.proposed.checks)
        besides = _to_do("When there is time", sheet.proposed.prepare)
        return f"<section><h2>Next change</h2>{checks}{back}{text}{behind}{besides}</section>"
    if not sheet.open_changes:
        return ""
    total = sum(change.minutes for change in sheet.open_changes)
    count = len(sheet.open_changes)
    key = f"{count} in working order, {total:.0f} min"
    if count > MOST_OPEN:
        key += f"; the first {MOST_OPEN} of them"
    shown = "".join(_open(change) for change in sheet.open_changes[:MOST_OPEN])
    return (
        f'<section><h2>Advised, not on the bike yet<span class="key">{key}; checks, how to undo '
        f'and every caution: setupadvisor advise</span></h2><ul class="ticks two">{shown}</ul>'
        "</section>"
    )


def _to_do(head: str, tasks: Sequence[RemarkTask]) -> str:
    items = "".join(
        f'<li class="small"><b>{head}</b> {safe("; ".join(task.tasks))}'
        + "".join(f" <b>Care</b> {safe(text)}" for text in task.cautions)
        + "</li>"
        for task in tasks
    )
    return f'<ul class="ticks">{items}</ul>' if items else ""


def _go_back(moves: Sequence[Move]) -> str:
    if not moves:
        return ""
    told = "".join(
        f'<p class="big"><b>Go back first: {safe(move.title)}: {safe(move.shown)}</b>, '
        f"{move.minutes:g} min</p><p><b>Check</b> {safe(move.check)}</p>"
        for move in moves
    )
    care = "".join(f"<p><b>Care</b> {safe(text)}</p>" for text in care_of(moves))
    return f'<div class="first">{told}{care}</div>'


def _proposed(proposal: Proposal) -> str:
    return (
        f"<b>{safe(proposal_text(proposal))}</b> ({proposal.minutes:g} min, "
        f"{100 * proposal.chance:.0f} % to help) for: {safe(proposal.complaint)}"
    )


def _first(proposal: Proposal, *, whole: bool) -> str:
    told = (
        *(("Check", move.check) for move in proposal.moves),
        *(("Undo", move.undo) for move in proposal.moves),
        *(("Also", task) for task in proposal.prepare),
        *((("Feel", proposal.look_for), ("Note", "; ".join(proposal.notes))) if whole else ()),
        *(("Care", caution) for caution in proposal.cautions),
    )
    more = "".join(f"<p><b>{label}</b> {safe(text)}</p>" for label, text in told if text)
    return f'<div class="first"><p class="big">{_proposed(proposal)}</p>{more}</div>'


def _open(change: Change) -> str:
    care = "".join(f" <b>Care</b> {safe(text)}" for text in change.cautions[:1])
    return (
        f"<li><b>{safe(change.title)}</b> {safe(change.shown)}, {change.minutes:g} min."
        f'<span class="small">{care}</span></li>'
    )


def _tasks(title: str, tasks: Sequence[Task], most: int) -> str:
    short, rest = short_tasks(tasks, most=most)
    if not short:
        return ""
    items = "".join(
        f"<li>{safe(task.text)}"
        + "".join(f'<span class="small"> <b>Care</b> {safe(text)}</span>' for text in task.cautions)
        + "</li>"
        for task in short
    )
    more = f'<span class="key">{rest} more in the whole advice</span>' if rest else ""
    return f'<section><h2>{title}{more}</h2><ul class="ticks">{items}</ul></section>'


def _cautions(sheet: DaySheet) -> str:
    items = "".join(f"<li>{safe(text)}</li>" for text in (*sheet.cautions, *sheet.notes))
    return f'<section class="wide"><h2>Cautions</h2><ul class="small">{items}</ul></section>'
