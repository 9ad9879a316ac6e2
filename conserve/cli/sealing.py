"""What the commands that seal have in common: when, with which key, and what is said afterwards."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from conserve.cli.reading import Refused, how_to_install
from conserve.cli.showing import wrapped

if TYPE_CHECKING:
    from conserve.seal import Entry, NotSealed, Signature

_CLOCKS_DIFFER = timedelta(hours=1)
_WRITE_IT_DOWN = (
    "Write it down where nobody here can change it: on the paper copy, in a letter. "
    "It shows later whether the chain was written anew."
)


def when(given: argparse.Namespace) -> str:
    """The moment that was given; otherwise that of this machine's clock, with its zone.

    One that has not come is refused: after a year that was mistyped, nothing could be sealed until it has.
    """
    now = datetime.now().astimezone().replace(microsecond=0)
    with suppress(ValueError, TypeError):  # what is no moment is told by who reads it
        if given.at and datetime.fromisoformat(given.at) > now + _CLOCKS_DIFFER:
            raise Refused(f"{given.at} has not come yet, by the clock of this machine", "correct it, or the clock")
    return given.at or now.isoformat()


def key_of(given: argparse.Namespace) -> Callable[[bytes], Signature] | None:
    """What signs, where a key was given."""
    if given.sign is None:
        return None
    from pathlib import Path

    from conserve.seal import CannotSign, signer

    try:
        return signer(Path(given.sign))
    except CannotSign as error:
        raise Refused(str(error), how_to_install(error.extra) if error.extra else error.hint) from None


def refused(error: NotSealed, done: str = "written") -> Refused:
    """Everything that is against a seal, told at once, and that nothing was `done`."""
    (first, hint), *more = error.all
    if not more:
        return Refused(f"{first}. Nothing was {done}", hint)
    lines = "".join(f"\n  - {said} ({todo})" for said, todo in error.all)
    return Refused(f"this cannot be sealed, and nothing was {done}:{lines}")


def witness_told(last: Entry) -> Iterator[str]:
    """The witness code of a chain that ends with this entry, and what it is for."""
    from conserve.seal import witness_of

    yield f"Witness code: {witness_of(last)}"
    yield wrapped(_WRITE_IT_DOWN)
