"""The text of files to begin with: every key as a comment, with what it means and the question it answers.

A line `#key: value` is a key: without its `#` it counts. A line `# words` explains the one below. So a file that
has just been begun says nothing yet, and each line that is answered can be checked at once.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping

from conserve.casebook.measurements import COLUMNS
from conserve.casebook.shapes import EVENTS, shapes_of
from conserve.casebook.surveys import COLUMNS as SURVEY_COLUMNS
from conserve.shape import Field
from conserve.terms import Giver, Kind, Term, Vocabulary
from conserve.yamlfile import READ_AS_YES_OR_NO

FOLDERS = ("components", "proposals", "evidence", "surveys")
_WIDTH = 100
_NAMES_OF = {"component": "the part", "object": "the object"}

# Keys that are no terms: what each is for, and how it is written. `{…}` is filled from the vocabulary.
_OBJECT: Mapping[str, tuple[str, str]] = {
    "significance": ("Why the object matters, in your own words.", ">\n  Say here why it matters, and to whom."),
    "location": ("Where it stands.", "words"),
    "owner": ("Who owns it.", "words"),
    "maker": ("Who made it, as far as is known.", "words"),
    "number": ("Its number, the maker's or a register's.", "words"),
    "budget": (
        "How money is reckoned: the currency's ISO 4217 code, what is kept back for surprises, the project's stages.",
        "\n  currency: EUR\n  contingency: 15 %\n  stages: [survey, repair]",
    ),
    "overlays": (
        "Rules laid over the rulebook: a country's law, a kind of object, a policy. 'conserve rules list' names them.",
        "none",
    ),
    "note": ("Anything else, in your own words.", "words"),
    "people": (
        "Who is named in this casebook. The role is one of: {roles}.",
        "\n  lead:\n    name: A. Name\n    role: lead\n    competence: What they can do, and how that is known.",
    ),
    "phases": (
        "The periods of the object's life, each under an id of your own. The period is one of: {periods}.",
        "\n  as-built:\n    period: as-made\n    dates: the year it was made\n    says: What it was then.",
    ),
    "policy": (
        "What the owner has agreed may be done without asking each time, and when that is looked at again.",
        """
  says: The policy in a sentence or two.
  routine_care: [{technique}]
  holding_works: [{technique}]
  review: 2030-01-01""",
    ),
}
_COMPONENT: Mapping[str, tuple[str, str]] = {
    "phase": ("The phase of the object, an id from object.yaml, in which the part joined it.", "as-built"),
    "part_of": ("The id of the component that this one belongs to.", "frame"),
    "significance_reason": ("Why it matters as much, or as little, as the line on significance says.", "words"),
    "note": ("Anything else, in your own words.", "words"),
    "duty": (
        "The use of the part, where it is not the object's own: {duties}.",
        "\n  now: {duty}\n  wanted: {duty}",
    ),
    "history": (
        "What happened to the part, oldest first. A date may be a year. The kind, if any, is one of: {events}.",
        "\n  - date: 1900\n    says: What happened.\n    kind: altered",
    ),
    "stored": (
        "Where the part is kept while it is off the object.",
        "\n  place: shelf\n  tag: label\n  since: 2030-01-01\n  return_by: 2031-01-01\n  why: What it waits for.",
    ),
}
_THINGS: Mapping[str, tuple[str, str, str]] = {
    "surfaces": ("surface", "working-face", "The faces of the part, each under an id of your own."),
    "repairs": ("repair", "strap", "Earlier repairs on the part, each under an id of your own."),
    "defects": ("defect", "slack", "What is wrong with the part, each under an id of your own."),
    "marks": ("mark", "stamp", "What can be read on this face: stamps, scribe lines, tool marks, paint."),
}
_HOW_TO = "Take the # off a line and answer it. A line left as it is says 'not known yet', and so does 'unknown'."
_MEASURED = (
    "A measurement carries its ±, as in 0.12 ± 0.02 mm, or says what it was taken with, as in"
    " {value: 0.12 mm, instrument: depth-gauge}."
)
_ALIKE = (
    "Parts that are alike can share one file: begin it with 'alike: stud-01..stud-48', and put what is different"
    " about one of them under 'each:' and its id."
)
_SURVEYED = (
    "What is found out away from the desk may stand on a sheet instead, an answer a row, in surveys/NAME.csv or as a"
    f" table in surveys/NAME.md, with the columns {', '.join(SURVEY_COLUMNS)}."
)
_CLOSED = "Write 'none' where you have looked and there is none."


def object_text(name: str, vocabulary: Vocabulary) -> str:
    """The text of an object.yaml; the name is the folder's until somebody writes a better one."""
    return _text(
        ("The object: what it is, why it matters, who answers for it.", _HOW_TO),
        name,
        shapes_of(vocabulary).object.fields,
        "object",
        _OBJECT,
        vocabulary,
    )


def component_text(name: str, vocabulary: Vocabulary) -> str:
    """The text of a component's file; its name is made from its id until somebody writes a better one."""
    opening = ("One part of the object.", _HOW_TO, _MEASURED, _SURVEYED, _ALIKE)
    fields = [field for field in shapes_of(vocabulary).component.fields if field.name not in ("alike", "each")]
    return _text(opening, name, fields, "component", _COMPONENT, vocabulary)


def measurements_text() -> str:
    """The head of a measurements.csv, to which readings are added a row each."""
    return f"{','.join(COLUMNS)}\n"


# ---- laying a file out ------------------------------------------------------------------------------


def _text(
    opening: Iterable[str],
    name: str,
    fields: Iterable[Field],
    owner: str,
    others: Mapping[str, tuple[str, str]],
    vocabulary: Vocabulary,
) -> str:
    """A whole file: its opening, its name, and a block for every other key."""
    filling = _filling(vocabulary)
    blocks = ["\n".join(line for words in opening for line in _said(words)), f"name: {_as_words(name)}"]
    for field in sorted(fields, key=lambda field: _turn(field, owner, vocabulary)):
        term = vocabulary.terms.get(f"{owner}.{field.name}")
        if field.name in _THINGS:
            blocks.append("\n".join(_things(field.name, vocabulary)))
        elif term is not None and field.name not in others:
            blocks.append("\n".join((*_asked(term, _NAMES_OF[owner], vocabulary), *_key(term))))
        elif field.name != "name":
            means, example = others.get(field.name, (field.means or "In your own words.", "unknown"))
            said = _said(means.format_map(filling))
            blocks.append("\n".join((*said, *_commented(_written(field.name, example.format_map(filling))))))
    return "\n\n".join(blocks) + "\n"


def _turn(field: Field, owner: str, vocabulary: Vocabulary) -> int:
    """Short answers come first, then what rules ask about, then what takes several lines."""
    if field.name in ("significance", "location", "owner", "overlays", "phase", "part_of"):
        return 0
    return 1 if f"{owner}.{field.name}" in vocabulary.terms else 2


def _filling(vocabulary: Vocabulary) -> dict[str, str]:
    return {
        "roles": ", ".join(vocabulary.roles),
        "periods": ", ".join(vocabulary.terms["component.period"].values),
        "duties": ", ".join(vocabulary.duties),
        "duty": vocabulary.duties[0],
        "technique": next(iter(vocabulary.techniques)),
        "events": ", ".join(EVENTS),
    }


def _as_words(name: str) -> str:
    """An id as a name; in quotes where YAML might take it for something else, such as digits."""
    words = "".join(char if char.isprintable() and char not in "-_" else " " for char in name).strip()
    words = f"{words[:1].upper()}{words[1:]}" or "Without a name yet"
    plain = words.replace(" ", "").isalpha() and words.lower() not in (*READ_AS_YES_OR_NO, "none", "unknown")
    return words if plain else "'" + words.replace("'", "''") + "'"


def _written(key: str, value: str) -> str:
    return f"{key}:{value}" if value.startswith("\n") else f"{key}: {value}"


def _commented(text: str) -> Iterator[str]:
    return (f"#{line}" for line in text.split("\n"))


def _said(words: str, indent: str = "") -> list[str]:
    """Words as comment lines: one space after the mark tells them from keys."""
    return [f"{indent}# {line}" for line in textwrap.wrap(words, _WIDTH - len(indent), break_on_hyphens=False)]


def _asked(term: Term, owner: str, vocabulary: Vocabulary, indent: str = "") -> list[str]:
    """What a term means, the question it answers, and what may be written."""
    ask = term.ask.replace("{object}", "the object").replace(f"{{{term.owner}}}", owner)
    return [
        line
        for words in (term.means, ask.replace("{component}", "the part"), _may_be(term, vocabulary))
        for line in _said(words, indent)
    ]


def _may_be(term: Term, vocabulary: Vocabulary) -> str:
    if term.stated_by:
        return f"Stated only by a registered report from a {term.stated_by}, in evidence/register.yaml."
    if term.kind is Kind.QUANTITY:
        return f"A size or amount in {term.unit}, {'exact' if term.exact else 'with its ±'}."
    if term.kind is Kind.COUNT:
        return "A whole number."
    words = ", ".join(term.values)
    return f"A list, such as [{term.values[0]}], of: {words}; or none." if term.many else f"One of: {words}."


def _key(term: Term) -> tuple[str, ...]:
    """The line to answer; none for what only a report may state."""
    return () if term.stated_by else (f"#{term.short}: unknown",)


def _things(place: str, vocabulary: Vocabulary, indent: str = "") -> Iterator[str]:
    """A list of things under ids: one of them, with every key it may have."""
    kind, name, means = _THINGS[place]
    below = f"{indent}    "
    start = "" if indent else "#"
    yield from _said(f"{means} {_CLOSED}", indent)
    lines = [f"{indent}{place}:", f"{indent}  {name}:"]
    lines += [f"{below}name: {_as_words(name)}", f"{below}says: In your own words."]
    for term in _own(kind, vocabulary):
        lines += [*_asked(term, f"this {kind}", vocabulary, below), f"{below}{term.short}: unknown"]
    if place == "surfaces":
        lines += list(_things("marks", vocabulary, below))
    yield from (f"{start}{line}" for line in lines)


def _own(kind: str, vocabulary: Vocabulary) -> tuple[Term, ...]:
    return tuple(t for t in vocabulary.of(kind, Giver.PERSON) if not t.stated_by)
