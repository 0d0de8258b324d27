"""The sheet as HTML: well-formed, escaped, alone in the world, and true to the advice."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setupadvisor.advice.day_next import remarks_of
from setupadvisor.advice.day_records import DaySheet, SheetSetting
from setupadvisor.advice.day_sheet import day_sheet, setups_of
from setupadvisor.advice.next_change import next_change
from setupadvisor.advice.next_records import Tried
from setupadvisor.advice.workshop import situations
from setupadvisor.cli.sheet_html import sheet_html
from setupadvisor.cli.sheet_plots import SCALE_WIDTH_MM, lap_plot, range_plot, safe
from setupadvisor.entries.logbook.records import Day, RiderRemark
from setupadvisor.facts.columns import columns_from_entries
from tests.advice.invented import WALKS, advice, bundled_rider, bundled_walk, workshop
from tests.cli.invented_day import MACHINE, SETUP, WALK, day_of, long_day, ridden

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</style></title></svg><b>",
    "&lt;b&gt; &amp; ]]> <!-- -->",
    "' onload='alert(1)",
    "javascript:alert(1)",
)


def whole_sheet(day: Day, *, minutes: float | None = 20.0) -> DaySheet:
    """The sheet with everything on it that belongs to a day."""
    found = advice(WALK, on_bike=setups_of(MACHINE, day).now, rider=bundled_rider("north"))
    proposed = None
    if day.outings:
        remarks, _ = remarks_of(day.outings[-1].remarks, workshop().rulebase.remarks)
        if remarks:
            proposed = next_change(
                workshop(),
                situations(workshop(), columns_from_entries(WALK, None), 1),
                setups_of(MACHINE, day).now,
                remarks,
                tried=[Tried("shock_rebound_low", 12.0, 10.0, "worse")],
                minutes=minutes,
            )
    return day_sheet(MACHINE, advice=found, day=day, proposed=proposed)


def parsed(html: str) -> ElementTree.Element:
    """The document as a tree; anything that is not well-formed fails here."""
    assert html.startswith("<!DOCTYPE html>\n")
    return ElementTree.fromstring(html)


def words(element: ElementTree.Element) -> str:
    return " ".join(" ".join(element.itertext()).split())


def kinds(tree: ElementTree.Element) -> set[tuple[str, str]]:
    """Every element and attribute that occurs."""
    return {
        (element.tag, attribute) for element in tree.iter() for attribute in [*element.attrib, ""]
    }


DAYS = {
    "no outing": day_of([]),
    "one outing": day_of([ridden(1)]),
    "one outing without laps": day_of([ridden(1, laps=())]),
    "one outing without anything": day_of([ridden(1, {}, laps=(), remarks=(), mark=None, time="")]),
    "four outings": long_day(4),
    "twelve outings": long_day(12),
    "two days": day_of([ridden(1), ridden(2, date="2026-03-23")]),
}


@pytest.mark.parametrize("name", DAYS)
def test_every_day_gives_a_well_formed_page(name: str) -> None:
    day = DAYS[name]
    tree = parsed(sheet_html(whole_sheet(day)))
    assert tree.tag == "html"
    assert len(tree.findall(".//table[@class='setup']/tbody/tr/td[@class='plot']")) == len(
        MACHINE.settings
    )
    rows = tree.findall(".//table[@class='day']/tbody/tr")
    assert len(rows) >= len(day.outings)
    assert len({len(row) for row in rows}) <= 1
    assert "None" not in words(tree)
    assert "nan" not in words(tree).lower().split()


@pytest.mark.parametrize("name", WALKS)
def test_every_bundled_walk_gives_a_well_formed_page(name: str) -> None:
    found = advice(bundled_walk(name))
    tree = parsed(sheet_html(day_sheet(MACHINE, advice=found)))
    assert found.event in words(tree)


def test_a_page_without_advice_and_without_a_setup_is_still_a_page() -> None:
    tree = parsed(sheet_html(day_sheet(MACHINE)))
    assert tree.findall(".//td[@class='plot']/svg") == []
    assert "?" in [words(cell) for cell in tree.findall(".//td[@class='now']")]
    assert "nothing is advised" in words(tree)
    assert "service manual" in words(tree)


@pytest.mark.parametrize("name", DAYS)
def test_the_page_loads_nothing_and_runs_nothing(name: str) -> None:
    html = sheet_html(whole_sheet(DAYS[name]))
    for wrong in ("http:", "https:", "url(", "@import", "<script", "<link", "<img", "src=", "href"):
        assert wrong not in html.lower()
    assert not re.search(r"<[^>]*\son\w+=", html)
    assert "default-src 'none'" in html


@pytest.mark.parametrize("hostile", HOSTILE)
def test_whatever_a_person_types_stays_text(hostile: str) -> None:
    outings = [ridden(n, time=hostile, remarks=(RiderRemark(hostile),)) for n in (1, 2)]
    outings = [
        replace(one, outing=replace(one.outing, session_id=f"{hostile}-{n}"))
        for n, one in enumerate(outings)
    ]
    plain = sheet_html(whole_sheet(day_of([ridden(1), ridden(2)])))
    sheet = replace(
        whole_sheet(day_of(outings)),
        event=hostile,
        venue=hostile,
        rider=hostile,
        machine=hostile,
        notes=(hostile,),
        cautions=(hostile,),
        drive=(hostile,),
    )
    sheet = replace(
        sheet,
        settings=tuple(
            replace(one, title=hostile, group=hostile, unit=hostile, shown=hostile)
            for one in sheet.settings
        ),
        prepare=tuple(replace(task, text=hostile, cautions=(hostile,)) for task in sheet.prepare),
    )
    tree = parsed(sheet_html(sheet))
    assert kinds(tree) <= kinds(parsed(plain)) | kinds(parsed(sheet_html(DAYS_SHEET)))
    shown = " ".join(hostile.split())
    assert words(tree).count(shown) > len(MACHINE.settings)
    assert shown in words(tree.find("head/title"))


DAYS_SHEET = whole_sheet(long_day(4))


@given(st.text(max_size=60))
def test_any_text_comes_back_as_it_was_typed(text: str) -> None:
    tree = ElementTree.fromstring(f'<p a="{safe(text)}">{safe(text)}</p>')
    printable = re.sub(
        "[\x00-\x08\x0b-\x1f\x7f-\x9f\ufffe\uffff\u2028-\u202e\u2066-\u2069]", "�", text
    )
    assert (tree.text or "") == printable
    assert tree.get("a") == re.sub("[\t\n]", " ", printable)


def test_the_page_shows_the_same_values_as_the_advice() -> None:
    found = advice(WALK, on_bike=SETUP)
    told = found.to_json()
    groups = list(dict.fromkeys(one["group"] for one in told["settings"]))
    by_group = sorted(told["settings"], key=lambda one: groups.index(one["group"]))
    tree = parsed(sheet_html(day_sheet(MACHINE, advice=found, setup=dict(SETUP))))
    rows = [
        row
        for row in tree.findall(".//table[@class='setup']/tbody/tr")
        if row.find("td") is not None
    ]
    assert len(rows) == len(told["settings"])
    for row, one in zip(rows, by_group, strict=True):
        _, now, advised, *_ = [words(cell) for cell in row]
        assert advised == one["shown"]
        assert one["shown_now"].startswith(now)
        boxed = row.find(".//b[@class='box']") is not None
        assert boxed == (one["value"] != one["now"])
        label = row.find(".//svg").get("aria-label")
        assert label == f"{one['title']}: on the bike {one['shown_now']}; advised {one['shown']}"
        assert words(row.find("td")).lower() in one["title"].lower()
    shown = words(tree)
    for change in told["changes"][:5]:
        assert change["shown"] in shown


def test_what_is_dangerous_about_the_next_change_stands_beside_it() -> None:
    sheet = DAYS_SHEET
    assert sheet.proposed is not None
    (first, *_) = sheet.proposed.proposals
    assert first.moves
    shown = words(parsed(sheet_html(sheet)))
    for move in first.moves:
        assert move.check in shown
        assert move.undo in shown
        assert all(caution in shown for caution in move.cautions)
    for caution in sheet.cautions:
        assert caution in shown


def test_every_outing_stands_in_its_row() -> None:
    sheet = whole_sheet(long_day(12))
    rows = parsed(sheet_html(sheet)).findall(".//table[@class='day']/tbody/tr")
    for row, one in zip(rows, sheet.outings, strict=False):
        cells = [words(cell) for cell in row]
        assert cells[0] == str(one.number)
        assert cells[1] == one.time
        assert cells[2] == one.setup
        assert all(change.title in cells[3] for change in one.changes)
        assert all(change.verdict in cells[3] for change in one.changes)
        assert cells[4] == "3/5"
        assert cells[5] == one.said[0]
        assert cells[6] == f"{one.laps} of {one.laps + one.set_aside}"


def test_a_very_long_remark_is_cut_and_says_so() -> None:
    day = day_of([ridden(1, remarks=(RiderRemark("slow " * 700),))])
    tree = parsed(sheet_html(whole_sheet(day)))
    (said,) = tree.findall(".//td[@class='said']")
    assert words(said).endswith("…")
    assert len(words(said)) < 230


SETTINGS = day_sheet(MACHINE, advice=advice(WALK), setup=dict(SETUP)).settings
EDGE_MM = 1.5


def tips(plot: str) -> list[float]:
    """Where the marks' tips are: the advised one's first."""
    polygons = ElementTree.fromstring(plot).findall("polygon")
    return [float(found.get("points").split(",")[0]) for found in polygons]


@given(st.sampled_from(SETTINGS), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_marks_stand_where_their_values_are(
    setting: SheetSetting, share: float, other: float
) -> None:
    width = setting.highest - setting.lowest
    now, advised = (setting.lowest + width * part for part in (share, other))
    drawn = tips(range_plot(replace(setting, now=now, advised=advised)))
    length = SCALE_WIDTH_MM - 2 * EDGE_MM
    assert drawn == pytest.approx([EDGE_MM + length * other, EDGE_MM + length * share], abs=0.006)


def test_a_value_off_the_scale_is_drawn_at_its_end() -> None:
    far = replace(SETTINGS[0], now=1e9, advised=-1e9)
    assert tips(range_plot(far)) == [EDGE_MM, SCALE_WIDTH_MM - EDGE_MM]


def test_nothing_is_drawn_of_what_is_not_known() -> None:
    one = replace(SETTINGS[0], now=None)
    assert len(tips(range_plot(one))) == 1
    assert range_plot(replace(one, advised=None)) == ""


@given(st.sampled_from(SETTINGS))
def test_hatching_stays_inside_the_range(setting: SheetSetting) -> None:
    tree = ElementTree.fromstring(range_plot(setting))
    box = tree.find("rect")
    left, width = float(box.get("x")), float(box.get("width"))
    top, height = float(box.get("y")), float(box.get("height"))
    lines = re.findall(r"M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)", tree.find("path").get("d"))
    assert bool(lines) == (width > 0)
    for line in lines:
        x0, y0, x1, y1 = map(float, line)
        assert left - 0.02 <= x0 <= x1 <= left + width + 0.02
        assert top - 0.02 <= y1 <= y0 <= top + height + 0.02


def test_every_lap_that_counts_is_a_circle_in_the_order_of_its_time() -> None:
    sheet = whole_sheet(long_day(3))
    tree = ElementTree.fromstring(lap_plot(sheet.laps))
    times = [lap for found in sheet.laps for lane in found.lanes for lap in lane.lap_s]
    places = [float(found.get("cx")) for found in tree.findall("circle")]
    assert len(places) == len(times) == 21
    by_time = [place for _, place in sorted(zip(times, places, strict=True))]
    assert by_time == sorted(by_time)
    low, high = (float(place) for place in (22.0, 76.0))
    assert all(low <= place <= high for place in places)


@pytest.mark.parametrize("usual_s", [12.0, 104.0, 4000.0])
def test_laps_all_of_one_time_can_be_drawn(usual_s: float) -> None:
    from setupadvisor.advice.day_laps import Lane, by_setup  # noqa: PLC0415

    tree = ElementTree.fromstring(lap_plot(by_setup([Lane(1, "A", (usual_s,) * 5, 0)])))
    assert len(tree.findall("circle")) == 5


def test_no_lap_that_counts_gives_no_plot() -> None:
    assert lap_plot(()) == ""
    assert lap_plot(whole_sheet(day_of([ridden(1, laps=())])).laps) == ""


def pages(html: str, size: str, folder: Path) -> int:
    """Print with a browser, and count the pages."""
    page, pdf = folder / "sheet.html", folder / "sheet.pdf"
    assert "@page {" in html
    page.write_text(html.replace("@page {", f"@page {{ size: {size};"), encoding="utf-8")
    quiet = ["gpu", "quic", "background-networking", "component-update", "sync"]
    subprocess.run(
        [
            str(CHROMIUM),
            "--headless",
            "--no-sandbox",
            "--no-first-run",
            *(f"--disable-{what}" for what in quiet),
            f"--user-data-dir={folder / 'profile'}",
            "--no-pdf-header-footer",
            f"--print-to-pdf={pdf}",
            page.as_uri(),
        ],
        check=True,
        capture_output=True,
        timeout=120,
    )
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf.read_bytes()))


@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here to print with")
@pytest.mark.parametrize("size", ["A4", "Letter"])
@pytest.mark.parametrize(("outings", "most"), [(0, 1), (1, 1), (5, 1), (12, 2)])
def test_the_day_fits_on_its_pages(size: str, outings: int, most: int, tmp_path: Path) -> None:
    """One page for a usual day, two for a long one."""
    assert 1 <= pages(sheet_html(whole_sheet(long_day(outings))), size, tmp_path) <= most


@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium here to print with")
def test_a_check_before_any_change_leaves_the_day_on_its_page(tmp_path: Path) -> None:
    day = long_day(5)
    said = (RiderRemark("straight-headshake"), RiderRemark("whoops-swaps-rear"))
    last = replace(day.outings[-1], remarks=said)
    sheet = whole_sheet(replace(day, outings=(*day.outings[:-1], last)))
    assert sheet.proposed is not None
    assert sheet.proposed.checks
    assert pages(sheet_html(sheet), "A4", tmp_path) == 1
