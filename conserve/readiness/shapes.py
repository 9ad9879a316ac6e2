"""What may stand in a profile's file. It serves the reader; what an ask means is told beside that."""

from __future__ import annotations

from conserve.casebook.model import Audience
from conserve.rule import EVIDENCE_KINDS
from conserve.rulebook.reading import SOURCES
from conserve.shape import Choice, Field, Identifier, Line, ListOf, MapOf, Record, Words
from conserve.terms import Vocabulary

WORDS = {
    "policy": ("says", "routine-care", "holding-works", "review"),
    "budget": ("currency", "contingency", "stages"),
    "options": ("at-least-3",),
    "costs": ("each-proposal", "with-uncertainty", "with-basis", "staged", "skills"),
    "record": ("each-decided", "reasons-first", "standing", "need-shown", "safety-shown", "reviewed", "written"),
    "work": ("as-left",),
    "register": ("rights", "audience", "digests"),
}
KINDS = ("field", "person", "statement", "evidence", *WORDS)
GRADES = ("a", "b", "c", "d", "e", "f")


def profile_shape(vocabulary: Vocabulary) -> Record:
    """What may stand in a profile's file."""
    roles = Choice(tuple(vocabulary.roles), "role")
    evidence = Record(
        (
            Field("kind", ListOf(Choice(EVIDENCE_KINDS, "kind of evidence"), lone=True)),
            Field("role", roles),
            Field("grade", Choice(GRADES, "grade"), means="At least as good as this; a is the best."),
            Field("about", Choice(("object", "each-proposal"), "subject")),
            Field("dated", Choice(("before-work",), "time"), means="Of each proposal: before its work began."),
            Field("answers", Choice(("this",), "answer"), means="It names the requirement under its own 'answers:'."),
        )
    )
    ask = Record(
        (
            Field("field", Line(), means="Such as object.significance or component.significance."),
            Field("of", Choice(("all",), "number")),
            Field("any_of", ListOf(Line())),
            Field("person", roles),
            Field("statement", Identifier(), means="'whole', or one of its sections."),
            Field("evidence", evidence),
            *(Field(kind, Choice(words, "word")) for kind, words in WORDS.items()),
        )
    )
    wanted = Record(
        (
            Field("says", Words(), required=True),
            Field("why", Words(), required=True),
            Field("source", Line(), required=True, means="A source and its clause, or common-practice."),
            Field("needed", Choice(("must", "should"), "word"), required=True),
            Field("answered_by", ListOf(ask), required=True),
        )
    )
    return Record(
        (
            Field("title", Line(), required=True),
            Field("says", Words(), required=True),
            Field("audience", Choice((Audience.ANYONE, Audience.REVIEWERS), "audience"), required=True),
            Field("sources", SOURCES, means="Of this profile alone, in the form of rules/sources.yaml."),
            Field("requires", MapOf(Identifier(), wanted), required=True),
        )
    )
