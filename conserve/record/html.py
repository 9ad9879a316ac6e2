"""A record as one web page that stands alone: no script, nothing fetched, the same bytes every time.

The Markdown is shaped, then sanitised, and only then are pictures and drawings put in. So nothing that a casebook says
can bring in markup of its own, and no picture has to pass through the sanitiser.
"""

from __future__ import annotations

import json
import re
from base64 import b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache, partial
from hashlib import sha256
from html import escape, unescape
from typing import TYPE_CHECKING
from urllib.parse import unquote
from xml.etree.ElementTree import Element

from conserve.files import shipped
from conserve.record.drawing import Drawing, figure

if TYPE_CHECKING:
    from jinja2 import Template
    from markdown import Markdown

_FRONT = re.compile(r"---\n(.*?\n)?---(?:\n|\Z)", re.DOTALL)
_FRONT_LINE = re.compile(r"([a-z][a-z_]*): (.+)")
_MARKS = {"[x] ": "Met:", "[X] ": "Met:", "[ ] ": "Owed:"}
_HELD_BACK = re.compile("\x02[^\x03]*\x03")  # what the converter puts back only in its last step
_ONLY_PICTURES = re.compile(r'<p>((?:<img src="#\d+">\s*)+)</p>')
_PICTURE = re.compile(r'<img src="#(\d+)">')
_NO_DRAWINGS: Mapping[str, Drawing] = {}
_CONTENTS = re.compile(r'<h2 id="([a-z0-9-]+)">(.*?)</h2>', re.DOTALL)

_ROLES = {"table": "table", "thead": "rowgroup", "tbody": "rowgroup", "tr": "row", "td": "cell"}
_TAGS = {
    "h1", "h2", "h3", "h4", "h5", "h6", "p", "ul", "ol", "li", "em", "strong", "code", "pre", "blockquote", "a",
    "hr", "br", "img", "th", *_ROLES,
}  # fmt: skip
_VALUES = {  # every attribute that may stand, and what it may say; none may hold what looks like a tag
    "href": re.compile(r"(?:https?://|#)[^\s\"'<>]*", re.IGNORECASE),
    "src": re.compile(r"#[0-9]+"),
    "id": re.compile(r"[a-z0-9-]+"),
    "scope": re.compile(r"col|row"),
    "role": re.compile(r"table|rowgroup|row|columnheader|rowheader|cell"),
    "data-label": re.compile(r"[^<>]+"),
    "start": re.compile(r"[0-9]{1,6}"),
}
_ATTRIBUTES = {
    "a": {"href"},
    "img": {"src"},
    "ol": {"start"},
    "th": {"scope", "role"},
    "td": {"role", "data-label"},
    **{tag: {"role"} for tag in ("table", "thead", "tbody", "tr")},
    **{f"h{level}": {"id"} for level in range(2, 7)},
}

_SVG = re.compile(r"\s*(?:<\?xml[^>]*\?>\s*)?(?:<!--.*?-->\s*)*+(?:<!DOCTYPE[^\[>]*>\s*)?<svg[\s>]", re.DOTALL)
_SVG_SAYS = re.compile(r"<(title|desc)\b[^<>]*>([^<]+)</\1>")


@dataclass(frozen=True, slots=True)
class _Shown:
    """A picture where the text has one: its caption and the address that the text gives."""

    caption: str
    address: str


def html_page(
    markdown_text: str, title: str, pictures: Mapping[str, bytes], drawings: Mapping[str, Drawing] = _NO_DRAWINGS
) -> str:
    """Make a record's page. `pictures` are the files under `evidence/` by name; one that is not there is told in words.

    `drawings` open the sections whose ids they are named by.

    No text is refused: what is not plain Markdown is shown as it is written.
    """
    from markupsafe import Markup

    front, body = _parted(markdown_text.replace("\r\n", "\n"))
    shown: list[_Shown] = []
    said = _sanitised(_converter(shown).convert(body))
    contents = [(name, Markup(_sanitised(words, set()))) for name, words in _CONTENTS.findall(said)]
    said = _CONTENTS.sub(partial(_opened, drawings), _with_pictures(said, shown, pictures))
    head, _, rest = said.partition("<h2 ")
    return page_template("page.html.j2").render(
        title=title,
        head=Markup(head),
        rest=Markup(f"<h2 {rest}" if rest else ""),
        has_heading="<h1>" in said,
        contents=contents,
        front=front,
    )


def _parted(text: str) -> tuple[list[tuple[str, str]], str]:
    """Part the front matter from the text, as names and values in words."""
    found = _FRONT.match(text)
    if found is None:
        return [], text
    lines = (_FRONT_LINE.fullmatch(line) for line in (found[1] or "").splitlines())
    return [(line[1].replace("_", " "), _scalar(line[2])) for line in lines if line], text[found.end() :]


def _scalar(value: str) -> str:
    if not value.startswith('"'):
        return value
    try:
        return str(json.loads(value))
    except ValueError:
        return value


# ---- shaping -------------------------------------------------------------------------------------------


def _converter(shown: list[_Shown]) -> Markdown:
    """A converter that shows raw HTML as text and gives headings and tables what a screen reader needs."""
    from markdown import Markdown
    from markdown.treeprocessors import Treeprocessor

    class Marks(Treeprocessor):
        def run(self, root: Element) -> None:
            for item in root.iter("li"):
                _tell_mark(item)

    class Shapes(Treeprocessor):
        def run(self, root: Element) -> None:
            _shape_headings(root)
            for table in root.iter("table"):
                _shape_table(table)
            for image in root.iter("img"):
                shown.append(_Shown(_in_words(unescape(image.get("alt", ""))), image.get("src", "")))
                image.attrib = {"src": f"#{len(shown) - 1}"}

    converter = Markdown(extensions=["tables"], output_format="html")
    converter.preprocessors.deregister("html_block")
    converter.inlinePatterns.deregister("html")
    converter.inlinePatterns.deregister("automail")
    # Marks are told before escapes are undone, so that no text can pass for a mark; the rest is shaped after.
    converter.treeprocessors.register(Marks(converter), "marks", 5)
    converter.treeprocessors.register(Shapes(converter), "shapes", -5)
    return converter


def _tell_mark(item: Element) -> None:
    """Put the mark of a check list in words, since a box says nothing when it is read aloud."""
    first = item[0] if len(item) and item[0].tag == "p" and not (item.text or "").strip() else item
    for mark, word in _MARKS.items():
        if (first.text or "").startswith(mark):
            told = Element("strong")
            told.text, told.tail = word, f" {(first.text or '')[len(mark) :]}"
            first.text = ""
            first.insert(0, told)
            return


def _shape_headings(root: Element) -> None:
    """One first heading, and an id for every other, made from its words."""
    taken = {"record", "contents", "about"}
    headings = [e for e in root.iter() if re.fullmatch(r"h[1-6]", e.tag)]
    first = next((e for e in headings if e.tag == "h1"), None)
    for heading in (e for e in headings if e is not first):
        heading.tag = "h2" if heading.tag == "h1" else heading.tag
        words = _HELD_BACK.sub("", "".join(heading.itertext()))
        name = stem = re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-") or "part"
        number = 1
        while name in taken:
            number += 1
            name = f"{stem}-{number}"
        taken.add(name)
        heading.set("id", name)


def _shape_table(table: Element) -> None:
    """Say what heads each column and each row. The roles stay where a narrow screen lays rows out as blocks."""
    for part in table.iter():
        if part.tag in _ROLES:
            part.set("role", _ROLES[part.tag])
    heads = [_in_words("".join(head.itertext())) for head in table.iter("th")]
    for head in table.iter("th"):
        head.attrib = {"scope": "col", "role": "columnheader"}
    for row in table.iter("tr"):
        for number, cell in enumerate(row.findall("td")):
            if number == 0:
                cell.tag, cell.attrib = "th", {"scope": "row", "role": "rowheader"}
            elif number < len(heads) and heads[number]:
                cell.set("data-label", heads[number])


def _in_words(text: str) -> str:
    return " ".join(text.split())


# ---- sanitising ----------------------------------------------------------------------------------------


def _sanitised(html: str, tags: set[str] | None = None) -> str:
    import nh3

    return nh3.clean(
        html,
        tags=_TAGS if tags is None else tags,
        attributes=_ATTRIBUTES if tags is None else {},
        attribute_filter=_allowed,
        url_schemes={"http", "https"},
        link_rel="noopener noreferrer",
    )


def _allowed(tag: str, attribute: str, value: str) -> str | None:
    return value if attribute in _VALUES and _VALUES[attribute].fullmatch(value) else None


# ---- pictures ------------------------------------------------------------------------------------------


def _with_pictures(html: str, shown: list[_Shown], pictures: Mapping[str, bytes]) -> str:
    """Put the pictures where the text marks them: those that stand alone as figures, any other in words."""

    def figures(match: re.Match[str]) -> str:
        return "\n".join(_figure(shown[int(number)], pictures) for number in _PICTURE.findall(match[1]))

    def words(match: re.Match[str]) -> str:
        return _told(shown[int(match[1])])

    return _PICTURE.sub(words, _ONLY_PICTURES.sub(figures, html))


def _opened(drawings: Mapping[str, Drawing], heading: re.Match[str]) -> str:
    """A heading, and the drawing that opens its section."""
    return heading[0] + (figure(drawings[heading[1]]) if heading[1] in drawings else "")


def _figure(one: _Shown, pictures: Mapping[str, bytes]) -> str:
    data = pictures.get(unquote(one.address.removeprefix("../evidence/")), b"")
    kind = picture_kind(data) if one.address.startswith("../evidence/") else ""
    if not kind:
        return f"<p>{_told(one)}</p>"
    seen = (_described(data) if kind == "svg+xml" else "") or one.caption or "A picture without a caption."
    source = f"data:image/{kind};base64,{b64encode(data).decode('ascii')}"
    caption = f"<figcaption>{escape(one.caption)}</figcaption>" if one.caption else ""
    return f'<figure><img src="{source}" alt="{escape(seen)}">{caption}</figure>'


def _told(one: _Shown) -> str:
    """A picture in words: what it shows, and where it is kept."""
    return f"Picture, not shown here: {escape(one.caption)} ({escape(unquote(one.address).removeprefix('../'))})"


def picture_kind(data: bytes) -> str:
    """What a picture's own bytes say that it is; nothing for what is not a picture that a page may hold.

    A drawing that declares entities of its own is refused: they can grow without end.
    """
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "png"
    if data.startswith(b"\xff\xd8\xff"):
        return "jpeg"
    try:
        return "svg+xml" if _SVG.match(data.decode("utf-8-sig")) else ""
    except UnicodeDecodeError:
        return ""


def _described(data: bytes) -> str:
    """What a drawing says of itself for those who cannot see it: its own title and description."""
    found: dict[str, str] = {}
    for name, words in _SVG_SAYS.findall(data.decode("utf-8-sig")):
        found.setdefault(name, _in_words(unescape(words)))
    return " ".join(f"{words.rstrip('.')}." for name in ("title", "desc") if (words := found.get(name, "")))


# ---- the page ------------------------------------------------------------------------------------------


@lru_cache(maxsize=2)
def page_template(name: str) -> Template:
    """A shipped page: sandboxed, strict about names, escaping by default."""
    from jinja2 import FileSystemLoader, StrictUndefined
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    environment = ImmutableSandboxedEnvironment(
        loader=FileSystemLoader(shipped("templates")),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["digest"] = _digest
    return environment.get_template(name)


def _digest(style: str) -> str:
    """The digest by which the page's own style, and no other, may be used."""
    return f"sha256-{b64encode(sha256(style.encode('utf-8')).digest()).decode('ascii')}"
