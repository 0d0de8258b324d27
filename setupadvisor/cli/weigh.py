"""The command `weigh`: what a season says about every rule."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from setupadvisor.advice.supported_rules import supported_rules
from setupadvisor.advice.workshop import Workshop, open_workshop
from setupadvisor.cli.advise import check_model
from setupadvisor.cli.inputs import read_machine
from setupadvisor.entries.files import write_atomic
from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.model_file import load_model
from setupadvisor.learning.weighing import Verdict, weigh

WIDTH = 100
SUPPORTED_FILE = "supported.yaml"


def run(options: argparse.Namespace) -> int:
    """Weigh the rules, print the verdicts, and write or draw them where asked.

    Parameters
    ----------
    options : argparse.Namespace
        The command line.

    Returns
    -------
    int
        0.

    Raises
    ------
    InputError
        If the model belongs to other rules, or the folder holds other files.
    """
    workshop = open_workshop(read_machine(options.machine), options.rules)
    if options.model.is_dir():
        found = "this is a folder, and the model of an archive cannot be weighed yet"
        mend = "weigh the model of a season: setupadvisor retrain SEASON -o MODEL"
        raise InputError(Mistake(str(options.model), found, mend))
    model, provenance = load_model(options.model)
    check_model(options.model, provenance, workshop)
    verdicts = weigh(model, level=options.level)
    if options.write:
        _write(options.write, supported_rules(workshop, verdicts, provenance))
    if options.plot:
        from setupadvisor.cli.weigh_plot import draw  # noqa: PLC0415 - brings matplotlib

        draw(verdicts, workshop.machine, options.plot)
    if options.json:
        told = {"model": provenance, "verdicts": [verdict.to_json() for verdict in verdicts]}
        json.dump(told, sys.stdout, allow_nan=False, indent=1)
        print()
        return 0
    print("\n".join(_lines(verdicts, workshop, provenance, everything=options.all)))
    for path, said in ((options.write, "the supported amounts"), (options.plot, "the plot")):
        if path:
            print(f"Wrote {said} to {path}.")
    return 0


def _lines(
    verdicts: Sequence[Verdict],
    workshop: Workshop,
    provenance: Mapping[str, Any],
    *,
    everything: bool,
) -> list[str]:
    heard = [verdict for verdict in verdicts if verdict.verdict != "silent"]
    counts = {
        word: sum(verdict.verdict == word for verdict in verdicts)
        for word in ("supported", "stronger", "weaker", "contradicted", "silent")
    }
    lines = [
        f"WHAT THE SEASON SAYS OF THE RULES  {provenance.get('season')}, "
        f"{provenance.get('sessions')} sessions, {provenance.get('events')} events",
        "=" * WIDTH,
        ", ".join(f"{count} {word}" for word, count in counts.items())
        + " (once for each setting a rule moves)",
        "",
        f"{'rule':<32}{'setting':<22}{'written':>8}{'season':>8}{'range':>16} verdict",
        "-" * WIDTH,
    ]
    for verdict in verdicts if everything else heard:
        unit = workshop.machine.settings[verdict.setting].unit
        span = f"{verdict.low:.2g} to {verdict.high:.2g}"
        lines.append(
            f"{_cut(verdict.rule, 31):<32}{_cut(f'{verdict.setting} {unit}', 21):<22}"
            f"{verdict.written:>+8.3g}{verdict.supported:>+8.2g}{span:>16} {verdict.verdict}"
        )
    if not heard:
        lines.append("No rule spoke often enough to be weighed.")
    lines += [
        "",
        "Sorted by what it would change. In each setting's number; + is its own `up` word.",
    ]
    return lines


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"


def _write(folder: Path, text: str) -> None:
    if folder.exists():
        if not folder.is_dir():
            raise InputError(Mistake(str(folder), "this is a file", "name a folder"))
        others = [found.name for found in folder.iterdir() if found.name != SUPPORTED_FILE]
        if others:
            raise InputError(
                Mistake(
                    str(folder),
                    f"the folder holds other files ({others[0]} ...)",
                    "name a new folder, so that nothing of yours is touched",
                )
            )
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            Mistake(str(folder), (error.strerror or "it cannot be made").lower(), "choose another")
        ) from None
    write_atomic(folder / SUPPORTED_FILE, text.encode())
