"""Why something is not sealed, and why what was kept cannot be had."""

from __future__ import annotations

from collections.abc import Iterable


class NotSealed(Exception):
    """Nothing is sealed: a sentence for people, and one thing to try; `all` has every such pair."""

    all: tuple[tuple[str, str], ...]

    def __init__(self, sentence: str, hint: str = "", more: Iterable[tuple[str, str]] = ()) -> None:
        super().__init__(sentence)
        self.hint = hint
        self.all = ((sentence, hint), *more)


class NotKept(Exception):
    """What was kept at a seal is gone or altered; why, as a sentence."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason
