"""Place sentences in a Markdown template; every value is escaped unless a filter has made it safe."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from typing import TYPE_CHECKING
from urllib.parse import quote

from conserve.files import shipped

if TYPE_CHECKING:
    from jinja2 import Template

_ANYWHERE = re.compile(r"([\\`*_\[\]])")
_CONTROL = re.compile(
    r"[\x00-\x08\x0b-\x1f\x7f-\x9f]"
)  # Markdown takes some of them out later: nothing may hide behind one
_ENTITIES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", "|": "&#124;", "~": "&#126;"})
_AT_START = re.compile(r"^([#+=:\-]|\d+(?=[.)](?:\s|$)))")
_PLAIN_SCALAR = re.compile(r"[A-Za-z][A-Za-z0-9 ()'/_.-]*\Z")


class Ready(str):
    """Text that is Markdown already."""

    __slots__ = ()


def escaped(value: object) -> str:
    """A value as plain text in Markdown: no character of it can start markup, and it stays on one line."""
    if isinstance(value, Ready):
        return value
    return _AT_START.sub(_at_start, _inside(value))


def _inside(value: object) -> str:
    plain = _CONTROL.sub("", " ".join(str(value).split()))
    return _ANYWHERE.sub(r"\\\1", plain.translate(_ENTITIES))


def _at_start(match: re.Match[str]) -> str:
    return f"&#{ord(match[1][0])};{match[1][1:]}"


def row(cells: Iterable[object]) -> Ready:
    """A table row of escaped cells."""
    return Ready(f"| {' | '.join(_inside(cell) or '–' for cell in cells)} |")


def rule(head: Iterable[object]) -> Ready:
    """The line under a table's head."""
    return Ready(f"|{' --- |' * len(list(head))}")


def path(name: str) -> Ready:
    """A file name as it stands in a link."""
    return Ready(quote(name, safe="/"))


def front(value: object) -> Ready:
    """A scalar of YAML front matter, quoted where it is not plain."""
    import json

    text = " ".join(str(value).split())
    return Ready(text if _PLAIN_SCALAR.match(text) else json.dumps(text, ensure_ascii=False))


@lru_cache(maxsize=4)
def template(name: str) -> Template:
    """A shipped template: sandboxed, strict about names, escaping by default."""
    from jinja2 import FileSystemLoader, StrictUndefined
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    environment = ImmutableSandboxedEnvironment(
        loader=FileSystemLoader(shipped("templates")),
        undefined=StrictUndefined,
        finalize=escaped,
        trim_blocks=False,
        keep_trailing_newline=True,
        autoescape=False,
    )
    environment.filters |= {"row": row, "rule": rule, "path": path, "front": front}
    return environment.get_template(name)


def place(page: object) -> str:
    """The Markdown record of a page of sentences."""
    said = template("record.md.j2").render(page=page)
    return re.sub(r"\n{3,}", "\n\n", said).rstrip() + "\n"
