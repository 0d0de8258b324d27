"""A picture of the rules as written beside what a season supports."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

from setupadvisor.entries.files import write_atomic
from setupadvisor.entries.machine import Machine
from setupadvisor.errors import InputError, Mistake
from setupadvisor.learning.weighing import Verdict

MOST_DRAWN = 40
MARKERS = {"supported": "o", "stronger": "^", "weaker": "v", "contradicted": "X"}


def draw(verdicts: Sequence[Verdict], machine: Machine, path: Path) -> None:
    """Draw the supported amounts with their ranges, as shares of what was written.

    Parameters
    ----------
    verdicts : sequence of Verdict
        What the season says; silent ones are left out.
    machine : Machine
        The machine, for titles.
    path : pathlib.Path
        The picture: PNG, SVG or PDF by its ending.

    Raises
    ------
    InputError
        If matplotlib is missing or the ending is not one of these.
    """
    kind = path.suffix.lower().lstrip(".")
    if kind not in {"png", "svg", "pdf"}:
        raise InputError(Mistake(str(path), "this is no picture", "end it in .png, .svg or .pdf"))
    try:
        import matplotlib as mpl  # noqa: PLC0415

        mpl.use("Agg")
        from matplotlib import pyplot as plt  # noqa: PLC0415
    except ImportError:
        raise InputError(
            Mistake("--plot", "matplotlib is missing", "pip install 'setupadvisor[plots]'")
        ) from None
    heard = [verdict for verdict in verdicts if verdict.verdict in MARKERS][:MOST_DRAWN][::-1]
    figure, axes = plt.subplots(figsize=(10, 1.6 + 0.28 * max(len(heard), 1)))
    for row, verdict in enumerate(heard):
        low, middle, high = (
            value / verdict.written for value in (verdict.low, verdict.supported, verdict.high)
        )
        axes.plot([low, high], [row, row], color="black", linewidth=1.5)
        axes.plot(middle, row, MARKERS[verdict.verdict], color="black", markersize=7)
    axes.axvline(1.0, color="black", linewidth=1.0)
    axes.axvline(0.0, color="black", linewidth=1.0, linestyle=":")
    axes.set_yticks(
        range(len(heard)),
        [f"{v.rule}: {machine.settings[v.setting].title}" for v in heard],
        fontsize=7,
    )
    axes.set_xlabel("amount the season supports, over the amount as written (1 = as written)")
    for word, marker in MARKERS.items():
        axes.plot([], [], marker, color="black", label=word)
    axes.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=len(MARKERS), fontsize=8)
    figure.tight_layout()
    buffer = io.BytesIO()
    figure.savefig(buffer, format=kind, dpi=150, metadata={"Date": None} if kind == "svg" else None)
    plt.close(figure)
    write_atomic(path, buffer.getvalue())
