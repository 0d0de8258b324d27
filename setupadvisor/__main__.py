"""The command `setupadvisor`: picks the subcommand and turns errors into messages."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence

from setupadvisor.cli.arguments import build_parser
from setupadvisor.errors import InputError


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : sequence of str, optional
        The words after the command's name; those of the process when missing.

    Returns
    -------
    int
        0 done, 1 the input is at fault, 2 usage (by argparse), 130 interrupted.
    """
    if isinstance(sys.stdout, io.TextIOWrapper):
        # A terminal that lacks a sign shows another one; the advice is still advice.
        sys.stdout.reconfigure(errors="replace")
    parser = build_parser()
    options = parser.parse_args(arguments)
    if options.command is None:
        parser.print_help()
        return 2
    try:
        code: int = options.run()(options)
        sys.stdout.flush()
        return code
    except InputError as error:
        for mistake in error.mistakes:
            print(mistake, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("Stopped; nothing was written.", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # The reader (a pager, `head`) went away: not our mistake, and not worth a traceback.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        where = error.filename or "the computer says"
        print(f"{where}: {reason}; check the path, its rights and the disk", file=sys.stderr)
        return 1


if __name__ == "__main__":
    sys.exit(main())
