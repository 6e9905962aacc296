"""The command line. Heavy imports wait inside the commands, so that help is instant.

Exit status: 0 done; 1 results cannot be written; 2 what was given cannot be used, be it an option, a file or what is in
it; 3 no trustworthy equilibrium was found; 130 interrupted. 1 is also what Python gives when a program breaks off, so
nothing that the reader can put right in the input has it.
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence

UNWRITTEN, INPUT, UNSOLVED, INTERRUPTED, CLOSED = 1, 2, 3, 130, 141
"""Exit statuses other than 0; CLOSED when the reader of a pipe has gone."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line (sys.argv unless `arguments` are given) and return the exit status."""
    # systems here are small and banded: threads of the linear algebra only wait for each other
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal that lacks a letter shows a question mark

    import click

    from biomech.cli.commands import biomech
    from biomech.errors import BiomechError, InputError, SolveError

    try:
        biomech.main(None if arguments is None else list(arguments), "biomech", standalone_mode=False)
        sys.stdout.flush()
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        print("\nstopped; nothing half-written is left", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # what is still buffered goes nowhere, quietly
        return CLOSED
    except BiomechError as error:
        print(f"biomech: {error}", file=sys.stderr)
        return INPUT if isinstance(error, InputError) else UNSOLVED if isinstance(error, SolveError) else UNWRITTEN
    return 0
