"""The demonstration's clock as it was sealed: whoever audits it finds nothing altered."""

from __future__ import annotations

from helpers import CLOCK, HOUSE, clock, clock_rules, read

from conserve.audit.looking import audit_of
from conserve.audit.model import Asked
from conserve.files import Folder
from conserve.notes import unanswered
from conserve.seal import read_seals
from conserve.truth import Truth


def test_every_sealed_decision_is_made_again_to_the_byte_and_nothing_was_altered():
    casebook = read(Folder(CLOCK), clock_rules())
    audit = audit_of(
        Folder(CLOCK), casebook, clock_rules(), Folder(HOUSE / "rules"), casebook.as_at.replace(month=6), "c", "test"
    )
    assert [point for point in audit.points if point.kind.alters] == [], "see DEVELOPERS: How a decision is sealed"
    sealed = [one for one in audit.decisions if one.sealed]
    assert [one.proposal for one in sealed] == ["bell-blow", "fly-pivot"]
    for one in sealed:
        answers = {answer.asked: answer.truth for answer in one.answers}
        assert answers[Asked.REMADE] is answers[Asked.CHECKER] is Truth.YES
        assert answers[Asked.EVIDENCE] is not Truth.NO


def test_a_query_waits_for_its_answer():
    seals = read_seals(Folder(CLOCK), clock(), "c")
    assert seals.problems == () and len(seals.chain.entries) == 5
    assert [note.id for note in unanswered(seals.notes)] == ["fly-pivot-1"]
    assert seals.sealed_notes == {note.id for note in seals.notes}
