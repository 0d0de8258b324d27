"""Progress of long work, on the terminal's error stream."""

from __future__ import annotations

import sys
import time

QUIET_SECONDS = 0.1


class Progress:
    """Shows what is being done and how far it is, on one line, where a person is looking.

    Nothing is shown when the error stream is a file or a pipe.
    """

    def __init__(self) -> None:
        self.shown = 0
        self.last = 0.0

    def __call__(self, what: str, done: int, total: int) -> None:
        """Show one step; called as often as the work likes."""
        now = time.monotonic()
        if not sys.stderr.isatty() or (done < total and now - self.last < QUIET_SECONDS):
            return
        self.last = now
        text = f"{what}: {done} of {total}"
        print(f"\r{text:<{self.shown}}", end="", file=sys.stderr, flush=True)
        self.shown = len(text)

    def done(self) -> None:
        """Clear the line."""
        if self.shown:
            print(f"\r{'':<{self.shown}}\r", end="", file=sys.stderr, flush=True)
            self.shown = 0
