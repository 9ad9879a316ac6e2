"""A text as a scalar of YAML: plain where nothing could take it for something else, otherwise in double quotes."""

from __future__ import annotations

import re

from conserve.yamlfile import READ_AS_YES_OR_NO

_PLAIN = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9 ./±°µ²³%()+'-]*[A-Za-z0-9.%)²³])?")
_LOOKS_OTHERWISE = re.compile(r"[0-9._]+|[0-9.]+[eE][0-9]+|0[xob][0-9A-Fa-f]+")  # as a number


def scalar(text: str) -> str:
    """A text on one line of YAML, in a block or in braces. Any reader of YAML 1.1 or 1.2 reads the same text.

    The words that casebooks write bare, `yes`, `no` and numbers with a unit among them, stay bare.
    """
    bare = text in ("yes", "no") or text.lower() not in READ_AS_YES_OR_NO
    if bare and _PLAIN.fullmatch(text) and not _LOOKS_OTHERWISE.fullmatch(text):
        return text
    return '"' + "".join(map(_escaped, text)) + '"'


def _escaped(char: str) -> str:
    named = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t"}
    if char in named:
        return named[char]
    if char.isprintable():
        return char
    return f"\\u{ord(char):04x}" if ord(char) < 0x10000 else f"\\U{ord(char):08x}"
