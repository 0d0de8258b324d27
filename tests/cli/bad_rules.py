"""Broken rule files, each with what a person must be told."""

from __future__ import annotations

from tests.cli.bad_entries import Broken


def rule(changed: str = "", *said: tuple[str, str, str], **lines: str) -> Broken:
    """A sound rule with some of its lines replaced."""
    parts = {
        "title": "title: Ours",
        "when": "when: [soft_ground]",
        "change": "change: {fork_height: 2 lower}",
        "confidence": "confidence: usual",
        "why": "why: it pushed",
        "look_for": "look_for: less pushing",
        "source": "source: common practice, no source",
    } | lines
    body = "".join(f"    {line}\n" for line in parts.values() if line)
    return Broken(f"subject: start\nrules:\n  ours:\n{body}{changed}", said)


def term(text: str, *said: tuple[str, str, str]) -> Broken:
    """A file of terms."""
    return Broken(f"terms:\n{text}", said)


RULES = {
    "unknown term": rule(
        "",
        ("ours.yaml:5 rules.ours.when", "there is no term 'soft_grund'", "soft_ground"),
        when="when: [soft_grund]",
    ),
    "unknown setting": rule(
        "",
        ("ours.yaml:6 rules.ours.change.fork_hight", "no such setting", "fork_height"),
        change="change: {fork_hight: 2 lower}",
    ),
    "unknown direction": rule(
        "",
        ("ours.yaml:6 rules.ours.change.fork_height", "'stiffer' is no direction", "'lower'"),
        change="change: {fork_height: 2 stiffer}",
    ),
    "no direction": rule(
        "",
        ("ours.yaml:6 rules.ours.change.fork_height", "2 has no direction", "'2 lower'"),
        change="change: {fork_height: 2}",
    ),
    "moves nothing": rule(
        "",
        ("ours.yaml:6 rules.ours.change.fork_height", "0 moves nothing", "above 0"),
        change="change: {fork_height: 0 lower}",
    ),
    "more than the range": rule(
        "",
        ("ours.yaml:6 rules.ours.change.fork_height", "99 is more than", "smaller"),
        change="change: {fork_height: 99 lower}",
    ),
    "wrong unit": rule(
        "",
        ("ours.yaml:6 rules.ours.change.fork_height", "kPa", "'lower' or 'higher'"),
        change="change: {fork_height: 2 kPa lower}",
    ),
    "no effect": rule(
        "",
        ("ours.yaml:3 rules.ours", "the rule does nothing", "add change, prepare or watch"),
        change="",
        confidence="",
        look_for="",
    ),
    "no condition": rule("", ("ours.yaml:5 rules.ours.when", "", ""), when="when: []"),
    "unknown key": rule(
        "    becuase: so\n", ("ours.yaml:11 rules.ours.becuase", "unknown", "known here")
    ),
    "unknown confidence": rule(
        "",
        ("ours.yaml:7 rules.ours.confidence", "'sure'", "'firm', 'usual' or 'loose'"),
        confidence="confidence: sure",
    ),
    "no source": rule("", ("ours.yaml:3 rules.ours.source", "missing", ""), source=""),
    "twice": rule("    why: again\n", ("ours.yaml:11 rules.ours.why", "stands twice", "keep one")),
    "two mistakes": rule(
        "",
        ("ours.yaml:5 rules.ours.when", "there is no term", ""),
        ("ours.yaml:6 rules.ours.change.seat", "no such setting", ""),
        when="when: [hovering]",
        change="change: {seat: 2 lower}",
    ),
    "unknown fact": term(
        "  ours:\n    fact: cone_indx_kpa\n    points: [[300, 1], [700, 0]]\n    why: x\n",
        ("ours.yaml:3 terms.ours.fact", "cone_indx_kpa", "cone_index_kpa"),
    ),
    "empty term": term(
        "  ours: {why: later}\n", ("ours.yaml:2 terms.ours", "about nothing", "add fact, or when")
    ),
    "term of no points": term(
        "  ours:\n    fact: cone_index_kpa\n    points: []\n    why: x\n",
        ("ours.yaml:4 terms.ours.points", "", ""),
    ),
    "term on itself": term(
        "  ours:\n    when: [ours]\n    why: x\n",
        ("ours.yaml:3 terms.ours.when", "the term stands on itself", "break the circle"),
    ),
    "circle of terms": term(
        "  one:\n    when: [two]\n    why: x\n  two:\n    when: [not one]\n    why: x\n",
        ("ours.yaml:", "the term stands on itself: ", "break the circle"),
    ),
    "unknown top key": Broken("rulez: {}\n", (("ours.yaml:1 rulez", "unknown", "rules?"),)),
    "empty file": Broken("", (("ours.yaml", "the file is empty", "subject"),)),
    "truncated": Broken("rules: {ours: [\n", (("ours.yaml:", "YAML", "bracket"),)),
    "not UTF-8": Broken(b"subject: caf\xe9\n", (("ours.yaml:1", "not UTF-8", "UTF-8"),)),
    "anchors made to explode": Broken(
        "a: &a [x, x]\nb: &b [*a, *a]\nrules: *b\n", (("ours.yaml:1 a", "anchor or alias", "out"),)
    ),
}
