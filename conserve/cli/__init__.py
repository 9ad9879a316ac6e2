"""The command line: it reads what is asked, lets the layers below do the work, and prints what they say.

Nothing heavy is imported before a command needs it, so that help comes at once.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence
from contextlib import suppress

DONE, DOES_NOT_PASS, BROKEN, DISAGREE = 0, 1, 2, 3
INTERRUPTED, PIPE_CLOSED = 130, 141  # as shells count them: 128 and the signal


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and give its exit code: 0 done, 1 does not pass, 2 broken input, 3 the engines differ."""
    _mend_streams()
    if argv is None:  # a command of its own, and a short one: what it reads stays, and weighing leaves no circles
        gc.disable()
    try:
        code = _run(sys.argv[1:] if argv is None else list(argv))
        sys.stdout.flush()
    except BrokenPipeError:
        return _leave_the_pipe()
    except KeyboardInterrupt:
        return INTERRUPTED
    except OSError as error:  # a full disk shows only now
        return _said(f"what there is to say cannot be written: {error.strerror}", "", BROKEN)
    return code


def _mend_streams() -> None:
    """A stream that a shell has closed goes nowhere; one that cannot write ± shows its number instead."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        with suppress(AttributeError, ValueError):
            getattr(sys, name).reconfigure(errors="backslashreplace")


def _run(argv: list[str]) -> int:
    from conserve.cli.parser import parser_for

    try:
        parser = parser_for(argv)
        given, more = parser.parse_known_args(argv)
        if more and (any(word.startswith("-") for word in more) or not hasattr(given, "given")):
            parser.error(f"unrecognized arguments: {' '.join(more)}")
        if more:  # a list that an option stood in the middle of
            given.given += more
        return int(given.run(given))
    except SystemExit as end:  # help was asked for, or the command makes no sense: argparse has said so
        return end.code if isinstance(end.code, int) else BROKEN
    except (BrokenPipeError, KeyboardInterrupt):
        raise
    except Exception as error:
        code = _told(error)
        if code is None:
            raise
        return code


def _told(error: Exception) -> int | None:
    """Tell a person of an error that is expected, and give its exit code; None for one that is a fault of ours."""
    from conserve.cli.reading import Broken, Refused
    from conserve.files import FileRefused

    if isinstance(error, Broken):
        print(error.shown(), file=sys.stdout if error.is_the_answer else sys.stderr)
        return BROKEN
    if isinstance(error, Refused):
        return _said(str(error), error.hint, BROKEN)
    if isinstance(error, FileRefused):
        return _said(error.reason, "", BROKEN)
    if isinstance(error, OSError):
        return _said(f"{error.filename or 'the system'}: {error.strerror or error}", "", BROKEN)
    from conserve.engine import Disagreement, EngineFault

    if isinstance(error, Disagreement):
        rule = f"It is about rule {error.rule}. " if error.rule and error.rule not in str(error) else ""
        return _said(f"{error} {rule}Nothing was weighed and nothing was written.", "report this as a fault", DISAGREE)
    if isinstance(error, EngineFault):
        return _said(f"{error} Nothing was weighed and nothing was written.", "report this as a fault", DISAGREE)
    return None


def _said(sentence: str, hint: str, code: int) -> int:
    print(f"conserve: {sentence}", file=sys.stderr)
    if hint:
        print(f"    hint: {hint}", file=sys.stderr)
    return code


def _leave_the_pipe() -> int:
    """Nobody reads any more: let Python's last flush go nowhere, without a word."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return PIPE_CLOSED


__all__ = ["main"]
