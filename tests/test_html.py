"""The page of a record: that it stands alone, can be read by anyone, and that no text starts markup in it."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from base64 import b64decode, b64encode
from dataclasses import fields, replace
from functools import lru_cache
from hashlib import sha256
from html.parser import HTMLParser
from itertools import cycle, pairwise
from pathlib import Path
from typing import Any

import pytest
from helpers import DEMO, HOUSE, casebook_of, demo, golden, shipped_rules, weighed
from hypothesis import example, given
from hypothesis import strategies as st

from conserve.files import Folder
from conserve.record import drawings_of, write_records
from conserve.record.html import html_page
from conserve.record.markdown import place
from conserve.record.model import Page
from conserve.record.page import page_of
from conserve.weighing import weigh_all

PNG = b"\x89PNG\r\n\x1a\n and the rest"
JPEG = b"\xff\xd8\xff\xe0 and the rest"
SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><title>A plate</title><desc>Seen from the front</desc></svg>'

SHAPE = {"class", "fill", "fill-opacity", "stroke", "stroke-width", "stroke-dasharray"}
# What a page may hold, and the attributes that each may carry.
BODY = {
    "html": {"lang"}, "head": set(), "title": {"id"}, "style": set(), "body": set(), "link": {"rel", "href"},
    "meta": {"charset", "name", "content", "http-equiv"}, "main": {"id", "tabindex"}, "nav": {"aria-labelledby"},
    "footer": set(), "dl": set(), "dt": set(), "dd": set(), "h1": set(), "h2": {"id"}, "h3": {"id"}, "h4": {"id"},
    "h5": {"id"}, "h6": {"id"}, "p": {"id"}, "ul": set(), "ol": {"start"}, "li": set(), "em": set(), "strong": set(),
    "code": set(), "pre": set(), "blockquote": set(), "hr": set(), "br": set(), "a": {"href", "rel", "class"},
    "img": {"src", "alt"}, "figure": {"class"}, "figcaption": set(), "div": {"tabindex", "role", "aria-label"}, "table": {"role"}, "thead": {"role"},
    "tbody": {"role"}, "tr": {"role"}, "th": {"role", "scope"}, "td": {"role", "data-label"},
    "svg": {"xmlns", "viewbox", "width", "height", "role", "aria-labelledby", "font-family", "fill"}, "desc": {"id"},
    "g": {"class"}, "text": {"x", "y", "font-size", "text-anchor"}, "tspan": {"font-weight"}, "path": {"d", *SHAPE},
    "rect": {"x", "y", "width", "height", "rx", *SHAPE}, "line": {"x1", "y1", "x2", "y2", *SHAPE},
    "circle": {"cx", "cy", "r", *SHAPE},
}  # fmt: skip
VOID = {"meta", "link", "br", "hr", "img"}


class Seen(HTMLParser):
    """What a reader of a page comes upon."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.shape: list[str] = []
        self.comments: list[str] = []
        self.words: list[str] = []
        self.feed(page)
        self.close()
        self.text = " ".join(" ".join(self.words).split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        self.shape.append(tag)

    def handle_endtag(self, tag: str) -> None:
        self.shape.append(f"/{tag}")

    def handle_comment(self, data: str) -> None:
        self.comments.append(data)

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def all(self, tag: str) -> list[dict[str, str]]:
        return [attributes for name, attributes in self.tags if name == tag]


def page(text: str, title: str = "A record", **pictures: bytes) -> str:
    return html_page(text, title, {name.replace("_", "."): data for name, data in pictures.items()})


def harmless(html: str) -> Seen:
    """Look a page over: nothing in it that acts, fetches or hides, and nothing left open."""
    seen = Seen(html)
    for tag, attributes in seen.tags:
        assert tag in BODY, tag
        assert set(attributes) <= BODY[tag], (tag, attributes)
    assert seen.comments == []
    assert all(a["src"].startswith("data:image/") and a["alt"] for a in seen.all("img"))
    assert all(re.match(r"https?://|#", a["href"], re.IGNORECASE) for a in seen.all("a") if "href" in a)
    assert seen.all("link") == [{"rel": "icon", "href": "data:,"}]
    assert len(seen.all("h1")) == 1
    opened: list[str] = []
    for step in seen.shape:
        if step.startswith("/"):
            assert opened.pop() == step[1:]
        elif step not in VOID:
            opened.append(step)
    assert opened == []
    return seen


# ---- what any page must be ------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def demo_pages() -> dict[str, str]:
    pictures = {path.name: path.read_bytes() for path in (DEMO / "evidence").iterdir()}
    return {
        w.proposal.id: html_page(golden(w.proposal.id), w.proposal.title, pictures, drawings_of(w))
        for w in weigh_all(demo(), shipped_rules())
    }


each_page = pytest.mark.parametrize("name", [p.id for p in demo().proposals])


@each_page
def test_a_page_stands_alone_and_does_nothing_by_itself(name: str):
    html = demo_pages()[name]
    seen = harmless(html)
    assert not re.search(r"url\(|@import|<script|<iframe|<object|<embed|javascript:", html)
    for attributes in seen.all("a"):
        assert attributes["href"].startswith("#")


@each_page
def test_every_link_within_a_page_leads_somewhere_and_no_id_stands_twice(name: str):
    seen = Seen(demo_pages()[name])
    ids = [a["id"] for _, a in seen.tags if "id" in a]
    assert len(ids) == len(set(ids))
    assert {a["href"][1:] for a in seen.all("a")} <= set(ids)
    assert all(set(a["aria-labelledby"].split()) <= set(ids) for _, a in seen.tags if "aria-labelledby" in a)


@each_page
def test_a_drawing_opens_the_section_that_it_is_about(name: str):
    html = demo_pages()[name]
    for section, drawing in (("options-weighed", "ladder"), ("what-is-lost-kept-and-added", "bars")):
        opened = re.search(rf'<h2 id="{section}">[^<]*</h2>\s*<figure class="drawn"><div [^>]*><svg [^>]*>', html)
        assert opened and f'aria-labelledby="{drawing}_title {drawing}_told"' in opened[0]
    assert len(Seen(html).all("svg")) == 2


def test_the_markdown_record_holds_no_drawing():
    assert "<svg" not in golden("crosshead-slipper")


@each_page
def test_a_page_can_be_found_ones_way_in_by_ear(name: str):
    seen = Seen(demo_pages()[name])
    assert seen.all("html") == [{"lang": "en-GB"}]
    assert len(seen.all("main")) == 1
    assert seen.all("a")[0] == {"class": "skip", "href": "#record"}
    assert seen.all("title") and demo().proposal(name).title in seen.text  # type: ignore[union-attr]
    assert all(head.get("scope") in ("col", "row") for head in seen.all("th"))
    levels = [int(tag[1]) for tag, _ in seen.tags if re.fullmatch("h[1-6]", tag)]
    assert all(after - before <= 1 for before, after in pairwise(levels))


@each_page
def test_a_page_says_all_that_its_record_says(name: str):
    import markdown

    text = (DEMO / "records" / f"{name}.md").read_text(encoding="utf-8").split("---\n", 2)[2]
    plain = Seen(markdown.markdown(text, extensions=["tables"])).text
    told = Seen(demo_pages()[name]).text
    for word in re.findall(r"\w+", plain.replace("[x]", "").replace("[ ]", "")):
        assert word in told


def test_only_the_pages_own_style_may_be_used():
    html = page("# A\n\nb")
    style = re.search(r"<style>(.*?)</style>", html, re.DOTALL)
    assert style
    digest = b64encode(sha256(style[1].encode()).digest()).decode()
    policy = next(a["content"] for a in Seen(html).all("meta") if a.get("http-equiv") == "Content-Security-Policy")
    assert policy.startswith("default-src 'none'; img-src data:; ")
    assert f"style-src 'sha256-{digest}'" in policy


def test_the_same_record_makes_the_same_bytes_in_any_process():
    script = (
        "import hashlib, pathlib\n"
        "from conserve.record.html import html_page\n"
        "text = pathlib.Path('casebook/marrow-fen/records/pump-davit.md').read_text(encoding='utf-8')\n"
        "drawing = pathlib.Path('casebook/marrow-fen/evidence/davit-weld.svg').read_bytes()\n"
        "print(hashlib.sha256(html_page(text, 'T', {'davit-weld.svg': drawing}).encode()).hexdigest())\n"
    )
    made = {
        subprocess.run(
            [sys.executable, "-c", script], cwd=HOUSE, capture_output=True, text=True, check=True,
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": str(HOUSE)},
        ).stdout
        for seed in ("0", "1", "7")
    }  # fmt: skip
    assert len(made) == 1


# ---- headings, marks, tables, links ----------------------------------------------------------------------


def test_a_record_without_a_heading_takes_its_title():
    assert Seen(page("Only words.", "Tom & Jerry <b>")).text.count("Tom & Jerry <b>") == 2


def test_a_second_first_heading_steps_down():
    seen = harmless(page("# One\n\n# Two\n\n## Two\n\n## Record"))
    assert [a["id"] for a in seen.all("h2")] == ["two", "two-2", "record-2"]


def test_the_front_matter_stands_at_the_end_in_words():
    seen = harmless(page('---\nrecord: a-b\nas_at: "2026-05-04"\nodd: "<i>\n: no\n---\n\n# A\n'))
    assert seen.text.endswith('About this page record a-b as at 2026-05-04 odd "<i>')


def test_a_line_that_only_looks_like_front_matter_stays():
    assert "key: value" in Seen(page("# A\n\n---\nkey: value\n---\n")).text


def test_marks_of_a_check_list_are_told_in_words():
    said = Seen(page("- [x] Done.\n- [ ] Not done.\n- [y] Neither.\n\n1. [x] In a row.\n")).text
    assert said.endswith("Met: Done. Owed: Not done. [y] Neither. Met: In a row.")
    assert "Met: Spaced out." in Seen(page("- [x] Spaced out.\n\n- [ ] Too.\n")).text


def test_an_escaped_mark_is_no_mark():
    assert "Met" not in Seen(page(r"- \[x\] Not so.")).text


def test_a_table_says_what_heads_each_column_and_row():
    seen = harmless(page("| part | wear |\n| --- | --- |\n| shoe | 0.1 mm |\n"))
    assert seen.all("th") == [
        {"role": "columnheader", "scope": "col"},
        {"role": "columnheader", "scope": "col"},
        {"role": "rowheader", "scope": "row"},
    ]
    assert seen.all("td") == [{"role": "cell", "data-label": "wear"}]


def test_html_in_a_record_is_shown_as_it_is_written():
    raw = "<script>alert(1)</script> <b onclick='x'>bold</b> <!-- hidden -->"
    assert raw in Seen(page(f"# A\n\n{raw}\n\n{raw}")).text


@pytest.mark.parametrize(
    ("address", "kept"),
    [
        ("https://a.example/b?c=d", True),
        ("HTTP://a.example", True),
        ("#the-need", True),
        ("javascript:alert(1)", False),
        ("JaVaScRiPt:alert(1)", False),
        ("java&#10;script:alert(1)", False),
        ("data:text/html,x", False),
        ("vbscript:x", False),
        ("file:///etc/passwd", False),
        ("//a.example", False),
        ("../evidence/a.svg", False),
        ("mailto:a@b.example", False),
    ],
)
def test_a_link_leads_to_the_web_or_within_the_page(address: str, kept: bool):
    links = [a for a in harmless(page(f"# A\n\n[words]({address})")).all("a") if "class" not in a]
    assert [("href" in a) for a in links] in ([kept], [] if not kept else [kept])


# ---- pictures --------------------------------------------------------------------------------------------


def test_a_drawing_stands_as_a_picture_told_in_its_own_words():
    seen = harmless(page("![The plate, 1868.](../evidence/a.svg)", a_svg=SVG))
    (image,) = seen.all("img")
    assert image["alt"] == "A plate. Seen from the front."
    assert b64decode(image["src"].removeprefix("data:image/svg+xml;base64,")) == SVG
    assert "The plate, 1868." in seen.text


@pytest.mark.parametrize(("data", "kind"), [(PNG, "png"), (JPEG, "jpeg"), (SVG, "svg+xml")])
def test_a_picture_is_what_its_bytes_say(data: bytes, kind: str):
    (image,) = Seen(page("![a](../evidence/a.x)", a_x=data)).all("img")
    assert image["src"].startswith(f"data:image/{kind};base64,")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"GIF89a",
        b"<html><svg></svg></html>",
        b"<p>",
        b"\x00<svg>",
        b"\xff\xfe<\x00s\x00",
        b'<!DOCTYPE svg [<!ENTITY a "b">]><svg xmlns="http://www.w3.org/2000/svg"/>',
        b"<svgx>",
    ],
)
def test_what_is_no_picture_is_told_in_words(data: bytes):
    seen = harmless(page("![The plate.](../evidence/a.svg)", a_svg=data))
    assert seen.all("img") == []
    assert "Picture, not shown here: The plate. (evidence/a.svg)" in seen.text


@pytest.mark.parametrize(
    "start", ["\ufeff", "\n ", "<?xml version='1.0'?>\n", "<!-- a -->\n<!-- b -->", "<!DOCTYPE svg>"]
)
def test_a_drawing_may_begin_as_drawings_do(start: str):
    assert Seen(page("![a](../evidence/a.svg)", a_svg=start.encode() + SVG)).all("img")


def test_a_drawing_cannot_keep_the_reader_waiting():
    drawings = (b"<!---->" * 50_000 + b"<p>", b"<svg>" + b"<title" * 200_000, b"<svg>" + b"<title>" * 200_000)
    assert [len(Seen(page("![a](../evidence/a.svg)", a_svg=data)).all("img")) for data in drawings] == [0, 1, 1]


def test_a_script_in_a_drawing_stays_where_it_cannot_run():
    drawing = b"<svg xmlns='http://www.w3.org/2000/svg' onload='x()'><script>x()</script></svg>"
    html = page("![a](../evidence/a.svg)", a_svg=drawing)
    harmless(html)
    assert "x()" not in html


def test_a_drawings_words_cannot_break_out():
    drawing = b"<svg><title>&quot;&gt;&lt;script&gt;x&lt;/script&gt;</title></svg>"
    (image,) = harmless(page("![a](../evidence/a.svg)", a_svg=drawing)).all("img")
    assert image["alt"] == '"><script>x</script>.'


@pytest.mark.parametrize("address", ["https://a.example/b.svg", "a.svg", "/a.svg", "#0", "data:image/png;base64,AA"])
def test_a_picture_from_elsewhere_is_never_fetched(address: str):
    seen = harmless(page(f"![The plate.]({address})", a_svg=SVG))
    assert seen.all("img") == []
    assert "The plate." in seen.text


def test_two_pictures_in_one_paragraph_are_two_figures_and_one_in_a_sentence_is_words():
    text = "![a](../evidence/a.svg)\n![b](../evidence/b.svg)\n\nSee ![c](../evidence/a.svg) here."
    seen = harmless(page(text, a_svg=SVG, b_svg=PNG))
    assert len(seen.all("figure")) == 2
    assert "See Picture, not shown here: c (evidence/a.svg) here." in seen.text


def test_a_name_with_a_space_finds_its_file():
    assert Seen(html_page("![a](../evidence/a%20%28b%29.svg)", "t", {"a (b).svg": SVG})).all("img")


def test_a_caption_keeps_its_signs():
    assert (
        "| <a> [b] & * &lt;"
        in Seen(page(r"![&#124; &lt;a&gt; \[b\] &amp; \* &amp;lt;](../evidence/a.svg)", a_svg=SVG)).text
    )


# ---- no text starts markup -------------------------------------------------------------------------------

VECTORS = [
    "<script>alert(1)</script>", "<img src=x onerror=alert(1)>", "\"><svg onload=alert(1)>", "' onmouseover='x",
    "[a](javascript:alert(1))", "![a](javascript:alert(1))", "<!-- ", "-->", "]]>", "<![CDATA[", "<?php", "</main>",
    "</td></tr></table>", "| a | b |", "\n| --- | --- |\n", "\n# head\n", "\n## head\n", "\n---\n", "\n===\n",
    "\n- [x] met\n", "[x] ", "[ ] ", "\n\n    code\n", "```\n", "\n> quote\n", "\n1. one\n", "{: onclick=x }",
    "[a]: http://a.example\n", "[a]", "<http://a.example>", "<a@b.example>", "&lt;", "&#60;", "&#x3c;b&#x3e;", "&amp;",
    "\\", "\\\\", "`", "``", "*a*", "_a_", "**", "~~", "\x02wzxhzdk:0\x03", "\x02klzzwxh:0000\x03", "\x0291\x03",
    "\r\n", "\x00", "\u2028", "\u202e", "{{ 7*7 }}", "{% raw %}", "#0", "<img src=\"#0\">", "<h2 id=\"a\">", "<style>",
    "![a](../evidence/a.svg)", "javascript:alert(1)", "a", " b ", "é",
]  # fmt: skip
nasty = st.lists(st.sampled_from(VECTORS) | st.text(max_size=8), min_size=1, max_size=5).map("".join)
# A reader of casebooks refuses hidden controls (C010), and a sentence is never empty.
worded = nasty.map(lambda text: re.sub(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]", "", text)).filter(str.strip)


@given(nasty, nasty)
@example("> " * 400 + "deep", "")
@example("- " * 300 + "deep", "")
@example("[" * 2000, "")
@example("![" * 500 + "a](" * 500, "")
@example("*" * 3000, "")
def test_no_markdown_whatever_brings_in_what_acts(text: str, title: str):
    harmless(html_page(text, title, {"a.svg": SVG}))


@lru_cache(maxsize=1)
def full_page() -> Page:
    """A record's sentences with something in every place."""
    weighing = weighed(demo(), "crosshead-slipper")
    found = page_of(weighing, shipped_rules())
    return replace(
        found,
        opening=("An opening.",),
        hazards=("A hazard.", "Another."),
        unknown=("A question?",),
        policy="A policy.",
    )


def with_texts(value: Any, texts: cycle[str]) -> Any:
    """The same sentences with every text in them exchanged."""
    if isinstance(value, str):
        return next(texts)
    if isinstance(value, tuple):
        return tuple(with_texts(one, texts) for one in value)
    if isinstance(value, bool):
        return value
    changed = {f.name: with_texts(getattr(value, f.name), texts) for f in fields(value) if f.name != "front"}
    return replace(value, **changed)


def skeleton(record: Page) -> list[str]:
    return harmless(html_page(place(record), record.title, {})).shape


@lru_cache(maxsize=1)
def plain_skeleton() -> list[str]:
    return skeleton(with_texts(full_page(), cycle(["word"])))


@given(st.lists(worded, min_size=1, max_size=7))
@example(["[x] Met already"])
@example(["[ ]"])
def test_no_text_of_a_record_changes_the_shape_of_its_page(texts: list[str]):
    assert skeleton(with_texts(full_page(), cycle(texts))) == plain_skeleton()


@given(st.dictionaries(st.sampled_from(["record", "object", "verdict"]), nasty, min_size=1))
def test_no_front_matter_brings_in_markup(said: dict[str, str]):
    record = replace(with_texts(full_page(), cycle(["word"])), front=tuple(said.items()))
    seen = harmless(html_page(place(record), "t", {}))
    assert len(seen.all("dt")) <= len(said)


EVERYWHERE = "\"><script>alert(1)</script><!-- | `*[a](javascript:x)* {: onclick=x } ' onerror=y"


def test_a_hostile_casebook_makes_a_harmless_page(tmp_path: Path):
    said = json.dumps(EVERYWHERE)
    casebook = casebook_of(
        tmp_path,
        {
            "components/plate.yaml": f"""\
                name: {said}
                material: brass
                phase: as-built
                significance: some
                significance_reason: {said}
                note: {said}
                examined: yes
                surfaces:
                  front:
                    name: {said}
                    function: non-functional
                    marks:
                      name: {{kind: stamp, name: {said}, says: {said}, recorded: yes}}
                repairs: none
                defects:
                  dirt: {{name: {said}, kind: wear, says: {said}, seen: seen, active: no}}
                history:
                  - {{date: 2026-01-01, says: {said}}}
                """,
            "proposals/clean.yaml": f"""\
                title: {said}
                component: plate
                asked: {{date: 2026-03-02, by: {said}}}
                needs:
                  read:
                    kind: legibility
                    says: {said}
                    test: {{component.present: yes}}
                    set_by: {said}
                options:
                  leave:
                    says: {said}
                    acts: []
                preferred: leave
                decision: {{chosen: leave, by: {said}, date: 2026-03-03, reason: {said}}}
                work:
                  began: 2026-03-04
                  by: {{name: {said}, competence: {said}}}
                  differences: [{said}]
                  surprises: [{said}]
                """,
            "evidence/register.yaml": f"""\
                front:
                  file: front.svg
                  kind: photograph
                  date: 2026-03-01
                  by: {said}
                  about: [plate]
                  shows: {said}
                """,
            "evidence/front.svg": SVG.decode(),
        },
    )
    write_records(Folder(tmp_path), [weighed(casebook)], shipped_rules(), html=True)
    html = (tmp_path / "records/clean.html").read_text(encoding="utf-8")
    seen = harmless(html)
    assert len(seen.all("figure")) == 3  # the photograph, the ladder and the bars
    assert seen.text.count("<script>alert(1)</script>") > 10
