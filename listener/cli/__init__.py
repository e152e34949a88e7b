"""The command `bluethird`: arguments in, exit code out, no logic."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

from listener.cli.arguments import build_parser
from listener.errors import Exit, ListenerError


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code; every fault of input or device is one sentence on stderr."""
    options = build_parser().parse_args(arguments)
    # matrices of an ear are small: more threads of the linear algebra would only fight over the cores
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from listener.cli.commands import COMMANDS  # numpy comes with it, and --help does not need it
    from progressions.errors import ProgressionsError

    try:
        return int(COMMANDS[options.command](options))
    except ListenerError as fault:
        print(f"bluethird: {fault}", file=sys.stderr)
        return int(fault.exit_code)
    except ProgressionsError as fault:
        print(f"bluethird: {fault}", file=sys.stderr)
        return int(Exit.BAD_INPUT)
    except BrokenPipeError:
        # whoever read our output has left; there is nobody to tell, and Python must not try again at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return int(Exit.FAILED)
    except KeyboardInterrupt:
        return int(Exit.INTERRUPTED)
