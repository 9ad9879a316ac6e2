"""Why a bundle is not made."""

from __future__ import annotations


class NotPacked(Exception):
    """A bundle is not made, and nothing of it is left: one sentence, and one thing to try."""

    hint: str

    def __init__(self, sentence: str, hint: str = "") -> None:
        super().__init__(sentence)
        self.hint = hint
