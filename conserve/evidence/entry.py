"""An entry of the register as text: whatever a person has said stays what it is, and no more than a value."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Mapping

from conserve.yamlfile import READ_AS_YES_OR_NO

REGISTER = "evidence/register.yaml"
ORDER = (
    "file", "kind", "date", "by", "about", "answers", "shows", "method", "instrument", "serial", "calibrated",
    "digest", "size", "rights", "show", "shown_as", "shown_digest",
)  # fmt: skip
_WIDE = 100
# Begins like a word or a number, and holds no sign that YAML would take for more than text.
_PLAIN = re.compile(r"[^\W_](?:[\w .,;/()'+=±-]*[\w.,;/()'+=±-])?")
_NAME = re.compile("[a-z0-9-]+(?:/[a-z0-9-]+)*")

Said = str | tuple[str, ...]


def entry_text(name: str, said: Mapping[str, Said], newline: str = "\n") -> str:
    """The lines of one entry, in the order of the register's keys."""
    lines = [f"{_scalar(name)}:"]
    for key in ORDER:
        value = said.get(key)
        if isinstance(value, str):
            lines += key_lines(key, value, "  ")
        elif value:
            lines.append(f"  {key}: {value[0] if value == ('object',) else _listed(value)}")
    return newline.join((*lines, ""))


def appended(register: bytes | None, name: str, said: Mapping[str, Said]) -> bytes:
    """The register with one entry more at its end; every byte of what is there stays as it is."""
    before = register or b""
    newline = "\r\n" if b"\r\n" in before else "\n"
    between = "" if not before or before.endswith(b"\n") else newline
    return before + (between + entry_text(name, said, newline)).encode("utf-8")


def key_lines(key: str, value: str, indent: str = "") -> list[str]:
    """The lines of a key and its text in YAML, so that any reader gives the same text back."""
    if len(value) > _WIDE and value.isprintable() and value == " ".join(value.split()):
        return [f"{indent}{key}: >", *(f"{indent}  {line}" for line in _folded(value))]
    return [f"{indent}{key}: {_scalar(value)}"]


def _folded(value: str) -> list[str]:
    return textwrap.wrap(value, _WIDE, break_long_words=False, break_on_hyphens=False)


def _listed(values: tuple[str, ...]) -> str:
    return f"[{', '.join(value if _NAME.fullmatch(value) else _quoted(value) for value in values)}]"


def _scalar(value: str) -> str:
    plain = _PLAIN.fullmatch(value) and value.isprintable() and value.lower() not in READ_AS_YES_OR_NO
    return value if plain else _quoted(value)


def _quoted(value: str) -> str:
    """A double-quoted scalar; what would not print, and line ends of every kind, stand as escapes."""
    return "".join(c if c.isprintable() else _escaped(c) for c in json.dumps(value, ensure_ascii=False))


def _escaped(char: str) -> str:
    return f"\\U{ord(char):08x}" if ord(char) > 0xFFFF else f"\\u{ord(char):04x}"
