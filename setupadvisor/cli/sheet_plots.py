"""Small plots of the sheet as SVG, in millimetres; black lines and shapes, no colour."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Sequence
from html import escape

from setupadvisor.advice.day_laps import SetupLaps
from setupadvisor.advice.day_records import SheetSetting
from setupadvisor.cli.laps_sheet import lap_text

SCALE_WIDTH_MM, SCALE_HEIGHT_MM = 17.5, 3.8
_EDGE_MM = 1.5
_MIDDLE_MM = 1.9
_BAND_MM = 0.7
_MARK_MM = 1.15
_HATCH_MM = 0.9
LAPS_WIDTH_MM = 96.0
LANE_MM, NARROW_LANE_MM = 4.2, 3.5
_MOST_WIDE_LANES = 4
_LAPS_LEFT_MM, _LAPS_RIGHT_MM = 22.0, 20.0
_DOT_MM = 0.85
_AXIS_MM = 5.5
_STEPS_S = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0)
_MOST_TICKS = 5
# No browser may be made to show a text in another order than it was typed.
_UNPRINTABLE = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)


def safe(text: object) -> str:
    """Make a text safe to stand in HTML and SVG, in an element or in a quoted attribute.

    Parameters
    ----------
    text : object
        Anything; shown as text.

    Returns
    -------
    str
        Escaped, without control characters.

    Examples
    --------
    >>> safe('<b> & "quotes"')
    '&lt;b&gt; &amp; &quot;quotes&quot;'
    """
    return escape(_UNPRINTABLE.sub("\ufffd", str(text)))


def range_plot(setting: SheetSetting) -> str:
    """Draw what can be set, the advised range, what is advised and what is on the motorcycle.

    Parameters
    ----------
    setting : SheetSetting
        The setting.

    Returns
    -------
    str
        An SVG element; empty where neither is known.
    """
    if setting.now is None and setting.advised is None:
        return ""
    width = setting.highest - setting.lowest
    length = SCALE_WIDTH_MM - 2 * _EDGE_MM

    def place(value: float) -> float:
        share = (value - setting.lowest) / width if width else 0.5
        return _EDGE_MM + length * min(max(share, 0.0), 1.0)

    right = SCALE_WIDTH_MM - _EDGE_MM
    drawn = [
        _line(_EDGE_MM, _MIDDLE_MM, right, _MIDDLE_MM, 0.3),
        *(_tick(at, 1.0, 0.4) for at in (_EDGE_MM, right)),
        *(_tick(place(value), 0.5, 0.2) for value in setting.places[1:-1]),
    ]
    if setting.low is not None and setting.high is not None:
        drawn.append(_band(place(setting.low), place(setting.high)))
    if setting.advised is not None:
        drawn.append(advised_mark(place(setting.advised), _MIDDLE_MM))
    if setting.now is not None:
        drawn.append(bike_mark(place(setting.now), _MIDDLE_MM))
    told = "; ".join(
        text
        for text in (
            f"on the bike {setting.shown_now}" if setting.shown_now else "",
            f"advised {setting.shown}" if setting.shown else "",
        )
        if text
    )
    return svg(SCALE_WIDTH_MM, SCALE_HEIGHT_MM, drawn, f"{setting.title}: {told}")


def _tick(at: float, half_mm: float, width: float) -> str:
    return _line(at, _MIDDLE_MM - half_mm, at, _MIDDLE_MM + half_mm, width)


def svg(width_mm: float, height_mm: float, drawn: Sequence[str], label: str) -> str:
    """Put shapes into a picture.

    Parameters
    ----------
    width_mm, height_mm : float
        Its size.
    drawn : sequence of str
        SVG elements.
    label : str
        What it shows, for those who cannot see it.

    Returns
    -------
    str
        An SVG element.
    """
    size = f'width="{_n(width_mm)}mm" height="{_n(height_mm)}mm"'
    box = f'viewBox="0 0 {_n(width_mm)} {_n(height_mm)}"'
    return f'<svg {size} {box} role="img" aria-label="{safe(label)}">{"".join(drawn)}</svg>'


def bike_mark(x: float, y: float) -> str:
    """Draw the full triangle below the line: on the motorcycle.

    Parameters
    ----------
    x, y : float
        Where its tip is, in mm.

    Returns
    -------
    str
        An SVG element.
    """
    points = _points((x, y), (x - _MARK_MM, y + 1.8), (x + _MARK_MM, y + 1.8))
    return f'<polygon points="{points}" fill="#000" stroke="#fff" stroke-width="0.15"/>'


def advised_mark(x: float, y: float) -> str:
    """Draw the open triangle above the line: advised.

    Parameters
    ----------
    x, y : float
        Where its tip is, in mm.

    Returns
    -------
    str
        An SVG element.
    """
    points = _points((x, y), (x - _MARK_MM, y - 1.75), (x + _MARK_MM, y - 1.75))
    return f'<polygon points="{points}" fill="#fff" stroke="#000" stroke-width="0.3"/>'


def range_mark(left: float, right: float) -> str:
    """Draw the hatched band: the advised range.

    Parameters
    ----------
    left, right : float
        Its ends, in mm.

    Returns
    -------
    str
        SVG elements.
    """
    return _band(left, right)


def _band(left: float, right: float) -> str:
    top, bottom = _MIDDLE_MM - _BAND_MM, _MIDDLE_MM + _BAND_MM
    height = bottom - top
    lines = []
    for number in range(math.ceil((right - left + height) / _HATCH_MM)):
        start = left - height + number * _HATCH_MM
        enter, leave = max(0.0, (left - start) / height), min(1.0, (right - start) / height)
        if leave > enter:
            x0, y0 = start + enter * height, bottom - enter * height
            x1, y1 = start + leave * height, bottom - leave * height
            lines.append(f"M{_n(x0)} {_n(y0)}L{_n(x1)} {_n(y1)}")
    box = (
        f'<rect x="{_n(left)}" y="{_n(top)}" width="{_n(right - left)}" height="{_n(height)}" '
        'fill="#fff" stroke="#000" stroke-width="0.2"/>'
    )
    return f'{box}<path d="{"".join(lines)}" stroke="#000" stroke-width="0.2" fill="none"/>'


def lap_plot(laps: Sequence[SetupLaps]) -> str:
    """Draw every lap that counts: a lane for each outing, outings with one setup together.

    Parameters
    ----------
    laps : sequence of SetupLaps
        By setup.

    Returns
    -------
    str
        An SVG element; empty where no lap counts.
    """
    times = [lap for found in laps for lane in found.lanes for lap in lane.lap_s]
    if not times:
        return ""
    ticks, low, high = _ticks(min(times), max(times))
    left, right = _LAPS_LEFT_MM, LAPS_WIDTH_MM - _LAPS_RIGHT_MM

    def place(seconds: float) -> float:
        return left + (right - left) * (seconds - low) / (high - low)

    lanes = sum(len(found.lanes) for found in laps)
    lane_mm = LANE_MM if lanes <= _MOST_WIDE_LANES else NARROW_LANE_MM
    bottom = lane_mm * lanes
    drawn = [_line(place(tick), 0.0, place(tick), bottom + 1.0, 0.15) for tick in ticks]
    drawn.append(_line(left, bottom, right, bottom, 0.4))
    tenths = any(abs(tick - round(tick)) > 1e-6 for tick in ticks)
    drawn += [
        _text(place(tick), bottom + 4.2, _tick_text(tick, tenths=tenths), "middle")
        for tick in ticks
    ]
    top = 0.0
    for found in laps:
        drawn.extend(_setup_lanes(found, top, lane_mm, place))
        top += lane_mm * len(found.lanes)
    return svg(LAPS_WIDTH_MM, bottom + _AXIS_MM, drawn, "Lap times by setup")


def _setup_lanes(
    found: SetupLaps, top: float, lane_mm: float, place: Callable[[float], float]
) -> Iterator[str]:
    bottom = top + lane_mm * len(found.lanes)
    if top:
        yield _line(0.0, top, LAPS_WIDTH_MM, top, 0.25)
    yield _text(0.3, top + lane_mm / 2 + 1.3, found.setup or "?", "start", size=3.8, bold=True)
    for number, lane in enumerate(found.lanes):
        middle = top + lane_mm * (number + 0.5)
        yield _text(6.0, middle + 1.0, f"outing {lane.outing}", "start")
        for count, lap in enumerate(lane.lap_s):
            y = middle + (count % 3 - 1) * 0.7
            yield (
                f'<circle cx="{_n(place(lap))}" cy="{_n(y)}" r="{_DOT_MM}" fill="#fff" '
                'fill-opacity="0.6" stroke="#000" stroke-width="0.35"/>'
            )
        if lane.typical_s is not None:
            yield _text(
                LAPS_WIDTH_MM - 0.3, middle + 1.0, lap_text(lane.typical_s), "end", bold=True
            )
    if found.typical_s is not None:
        yield _line(place(found.typical_s), top + 0.3, place(found.typical_s), bottom - 0.3, 0.7)


def _ticks(low: float, high: float) -> tuple[list[float], float, float]:
    """Choose round times that span the laps."""
    step = next(
        (step for step in _STEPS_S if (high - low) / step <= _MOST_TICKS - 1),
        max(_STEPS_S[-1], (high - low) / (_MOST_TICKS - 1)),
    )
    first = math.floor(low / step)
    last = max(math.ceil(high / step), first + 1)
    ticks = [number * step for number in range(first, last + 1)]
    return ticks, ticks[0], ticks[-1]


def _tick_text(seconds: float, *, tenths: bool) -> str:
    whole = lap_text(seconds)
    return whole[:-2] if tenths else whole[:-4]


def _text(
    x: float, y: float, text: str, anchor: str, *, size: float = 2.9, bold: bool = False
) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(size)}" text-anchor="{anchor}"{weight}>'
        f"{safe(text)}</text>"
    )


def _line(x0: float, y0: float, x1: float, y1: float, width: float) -> str:
    return (
        f'<line x1="{_n(x0)}" y1="{_n(y0)}" x2="{_n(x1)}" y2="{_n(y1)}" stroke="#000" '
        f'stroke-width="{_n(width)}"/>'
    )


def _points(*places: tuple[float, float]) -> str:
    return " ".join(f"{_n(x)},{_n(y)}" for x, y in places)


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
