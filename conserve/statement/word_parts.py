"""What a Word file needs and its library does not offer: languages, links, fields, captions, fixed bytes.

Names of elements are those of ECMA-376, part 1, section 17 (WordprocessingML). Each function takes the library's own
objects, and is loaded only where the extra `word` is there.
"""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING

from docx.enum.style import WD_STYLE_TYPE
from docx.enum.text import WD_ALIGN_PARAGRAPH
from docx.oxml import OxmlElement
from docx.oxml.ns import qn
from docx.shared import Mm, Pt, RGBColor

if TYPE_CHECKING:
    from docx.document import Document as Made
    from docx.oxml.xmlchemy import BaseOxmlElement
    from docx.styles.style import ParagraphStyle
    from docx.table import Table
    from docx.text.paragraph import Paragraph
    from docx.text.run import Run

INK, SOFT, WARN, TINT = "1C1C1A", "51504B", "8C4A00", "F1EEE6"
FACE = "Arial"
_REFERENCE = "Source reference"
_EARLIEST = (1980, 1, 1, 0, 0, 0)  # the first time that a zip file can tell


def element(tag: str, **said: str) -> BaseOxmlElement:
    """An element of the `w` names with attributes of the same."""
    made: BaseOxmlElement = OxmlElement(f"w:{tag}")
    for name, value in said.items():
        made.set(qn(f"w:{name}"), value)
    return made


# ---- the whole file ------------------------------------------------------------------------------------


def set_page(made: Made) -> None:
    """A4, upright, with a margin all round."""
    page = made.sections[0]
    page.page_width, page.page_height = Mm(210), Mm(297)
    page.left_margin = page.right_margin = Mm(22)
    page.top_margin, page.bottom_margin = Mm(22), Mm(20)


def set_language(made: Made, language: str) -> None:
    """The language of every word that says no other."""
    defaults = made.styles.element.find(qn("w:docDefaults"))
    run = defaults.find(f"{qn('w:rPrDefault')}/{qn('w:rPr')}")
    for old in run.findall(qn("w:lang")):
        run.remove(old)
    run.append(element("lang", val=language, eastAsia=language, bidi=language))


def set_styles(made: Made) -> None:
    """The look of headings, running text, captions, cautions and contents; one face, ink on paper."""
    _look(made.styles["Normal"], 10.5, after=6)
    _look(made.styles["Title"], 24, bold=True, after=8)
    _look(made.styles["Heading 1"], 16, bold=True, before=20, after=6)
    _look(made.styles["Heading 2"], 12.5, bold=True, before=14, after=4)
    _look(made.styles["List Bullet"], 10.5, after=3)
    _look(made.styles["Caption"], 10, bold=True, before=8, after=4)
    for line in made.styles["Title"].element.iter(qn("w:pBdr")):
        line.getparent().remove(line)
    for level, name in enumerate(("toc 1", "toc 2")):
        style = made.styles.add_style(name, WD_STYLE_TYPE.PARAGRAPH)
        style.base_style = made.styles["Normal"]
        style.paragraph_format.left_indent = Mm(6 * level)
        style.paragraph_format.space_after = Pt(2)
    caution = made.styles.add_style("Caution", WD_STYLE_TYPE.PARAGRAPH)
    caution.base_style = made.styles["List Bullet"]
    _mark(caution.element.get_or_add_pPr())
    reference = made.styles.add_style(_REFERENCE, WD_STYLE_TYPE.CHARACTER)
    reference.font.size, reference.font.color.rgb = Pt(7.5), RGBColor.from_string(SOFT)


def _look(style: ParagraphStyle, size: float, bold: bool = False, before: float = 0, after: float = 0) -> None:
    style.font.name, style.font.size, style.font.bold, style.font.italic = FACE, Pt(size), bold, False
    style.font.color.rgb = RGBColor.from_string(INK)
    fonts = style.element.rPr.find(qn("w:rFonts"))
    for name in list(fonts.attrib):
        if name.endswith("Theme"):  # a theme's face would win over the one that is named
            del fonts.attrib[name]
    for kind in ("ascii", "hAnsi", "cs", "eastAsia"):
        fonts.set(qn(f"w:{kind}"), FACE)
    style.paragraph_format.space_before, style.paragraph_format.space_after = Pt(before), Pt(after)


def _mark(properties: BaseOxmlElement) -> None:
    """A bar at the left and a tint, so that cautions are seen first. Their heading says the same."""
    border = element("pBdr")
    border.append(element("left", val="single", sz="24", space="8", color=WARN))
    shade = element("shd", val="clear", color="auto", fill=TINT)
    properties.insert_element_before(border, "w:shd", "w:tabs", "w:spacing", "w:ind", "w:contextualSpacing", "w:jc")
    properties.insert_element_before(shade, "w:tabs", "w:spacing", "w:ind", "w:contextualSpacing", "w:jc")


def as_bytes(made: Made) -> bytes:
    """The file, packed with one fixed time and in the order of names, so that its bytes are the same every time.

    Nothing is made smaller: how small differs from one release of the packing library to the next.
    """
    first = io.BytesIO()
    made.save(first)
    last = io.BytesIO()
    with zipfile.ZipFile(first) as packed, zipfile.ZipFile(last, "w") as again:
        for name in sorted(packed.namelist(), key=lambda name: (name != "[Content_Types].xml", name)):
            told = zipfile.ZipInfo(name, _EARLIEST)
            told.compress_type, told.create_system = zipfile.ZIP_STORED, 3
            again.writestr(told, packed.read(name))
    return last.getvalue()


# ---- parts of it ---------------------------------------------------------------------------------------


def add_bookmark(paragraph: Paragraph, name: str, number: int) -> None:
    """A place that links lead to, around what the paragraph says so far."""
    inside = paragraph._p
    begin = element("bookmarkStart", id=str(number), name=name)
    inside.insert(1 if inside.pPr is not None else 0, begin)
    inside.append(element("bookmarkEnd", id=str(number)))


def add_link(paragraph: Paragraph, words: str, place: str, small: bool = False) -> None:
    """Words that lead to a bookmark."""
    run = add_small(paragraph, words) if small else paragraph.add_run(words)
    link = element("hyperlink", anchor=place, history="1")
    link.append(run._r)
    paragraph._p.append(link)


def add_small(paragraph: Paragraph, words: str) -> Run:
    """Words in the look of a source reference."""
    run = paragraph.add_run(words)
    run._r.style = _REFERENCE.replace(" ", "")  # by its id: looking it up by name takes long, and a statement has many
    return run


def add_field(paragraph: Paragraph, says: str, until_then: str) -> None:
    """A field that Word works out, with what stands there until it has."""
    begin_field(paragraph, says)
    paragraph.add_run(until_then)
    end_field(paragraph)


def begin_field(paragraph: Paragraph, says: str) -> None:
    paragraph.add_run()._r.append(element("fldChar", fldCharType="begin"))
    instruction = element("instrText")
    instruction.set(qn("xml:space"), "preserve")
    instruction.text = f" {says} "
    paragraph.add_run()._r.append(instruction)
    paragraph.add_run()._r.append(element("fldChar", fldCharType="separate"))


def end_field(paragraph: Paragraph) -> None:
    paragraph.add_run()._r.append(element("fldChar", fldCharType="end"))


def add_page_numbers(made: Made) -> None:
    """The page, and how many there are, at the foot of each."""
    foot = made.sections[0].footer.paragraphs[0]
    foot.alignment = WD_ALIGN_PARAGRAPH.CENTER
    foot.add_run("Page ")
    add_field(foot, "PAGE", "1")
    foot.add_run(" of ")
    add_field(foot, "NUMPAGES", "1")


def head_table(table: Table, title: str) -> None:
    """Mark the first row as heading each column and repeat it on every page; name the table; keep rows whole."""
    table.style = "Table Grid"
    properties = table._tbl.tblPr
    for old in properties.findall(qn("w:tblLook")):
        properties.remove(old)
    look = {"firstRow": "1", "lastRow": "0", "firstColumn": "0", "lastColumn": "0", "noHBand": "1", "noVBand": "1"}
    properties.append(element("tblLook", val="0620", **look))
    properties.append(element("tblCaption", val=title))
    for at, row in enumerate(table.rows):
        kept = row._tr.get_or_add_trPr()
        kept.append(element("cantSplit"))
        if at == 0:
            kept.append(element("tblHeader"))


def shade(cell_properties: BaseOxmlElement) -> None:
    """Tint a cell."""
    cell_properties.append(element("shd", val="clear", color="auto", fill=TINT))
