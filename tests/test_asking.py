"""What nobody has said, an answer, a change: each in words that a volunteer can act on."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers import DEMO, demo, shipped_rules

from conserve.explanation.asking import answer_in_words, change_in_words, place_of, question_of
from conserve.quantity import parse_quantity
from conserve.weighing import weigh
from conserve.weighing.model import PartWeighing
from conserve.whatif.answers import answers
from conserve.whatif.answers import tests_on as what_is_tested
from conserve.whatif.matters import idle, matters
from conserve.whatif.model import Change, Lack, Unknown, What


def bare(name: str) -> PartWeighing:
    """A proposal of the demonstration about a part of which only the things on it are written."""
    casebook = demo()
    asked = casebook.proposal(name)
    part = casebook.components[asked.components[0]]
    surfaces = tuple(replace(surface, facts={}, marks=None) for surface in part.surfaces or ())
    part = replace(part, facts={}, surfaces=surfaces, repairs=None, phase="", defects=tuple(replace(d, facts={}) for d in part.defects or ()))
    return weigh(asked, replace(casebook, components={**casebook.components, part.id: part}), shipped_rules()).worst


BARE = ("crosshead-slipper", "governor-bush", "pump-davit", "bed-rust", "slide-valve-face")


@pytest.mark.parametrize("name", BARE)
def test_every_unknown_has_a_question_a_place_and_answers_in_words(name):
    part, rulebook = bare(name), shipped_rules()
    tests, found = what_is_tested(rulebook, part), sorted(matters(part, rulebook) | idle(part, rulebook))
    assert len(found) > 20
    assert {Lack.FACT, Lack.LIST, Lack.REPORT} & {unknown.lack for unknown in found}
    for unknown in found:
        question = question_of(unknown, part, rulebook)
        assert question.endswith(("?", ".", ")"))
        assert "{" not in question
        assert "one-unwritten" not in question
        assert (DEMO / place_of(unknown, part)).exists()
        told = [answer_in_words(unknown, values, part, rulebook) for values in answers(unknown, part, rulebook, tests)]
        assert len(set(told)) == len(told)
        assert all(told)


def test_a_list_asks_for_none_by_name():
    part = bare("crosshead-slipper")
    asked = question_of(Unknown(Lack.LIST, "surface:back-face", "marks"), part, shipped_rules())
    assert asked == "Which marks are there on the back face? If there are none, say none."


def test_a_report_is_asked_of_its_role_in_the_words_of_the_rule():
    weighing = weigh(demo().proposal("pipe-lagging"), demo(), shipped_rules())
    unknown = Unknown(Lack.REPORT, "component:pipe-lagging", "safety/asbestos-disturbed")
    asked = question_of(unknown, weighing.worst, shipped_rules())
    assert asked.startswith("An asbestos surveyor must say, under local law, ")
    assert place_of(unknown, weighing.worst) == "evidence/register.yaml"


def test_what_runs_on_another_part_is_asked_and_written_there():
    weighing = weigh(demo().proposal("governor-bush"), demo(), shipped_rules())
    unknown = Unknown(Lack.FACT, "mate:governor-spindle/journal", "surface.diameter")
    assert "journal of the spindle" in question_of(unknown, weighing.worst, shipped_rules())
    assert place_of(unknown, weighing.worst) == "components/governor-spindle.yaml"


def mm(text: str) -> object:
    return parse_quantity(f"{text} mm", "mm", exact=True)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (Change(What.LEAVE_OUT, "act:shim/1", ""), "leave out act 1, shimming"),
        (Change(What.USE, "option:shim", "option.duty", ("static",)), "leave the part in a lower use: static"),
        (Change(What.ANSWER, "option:shim", "record/covers-evidence"), "answer 'Cover no face whose wear tells something without a reason' (record/covers-evidence)"),
        (Change(What.REASON, "option:shim", "leave"), "say under 'rather_than' why 'leave' is not taken"),
        (Change(What.REVIEW, "proposal", "proposal.review_set"), "set a date on which it is looked at again"),
        (Change(What.COMPETENCE, "option:shim", "option.competence_stated"), "say who is to do it and what they have done before"),
        (Change(What.CHOOSE, "act:shim/1", "act.new_work_told_by", ("dated-mark",), also=(("record-only",),)), "act 1, shimming: new work told by dated mark or record only"),
        (Change(What.CHOOSE, "act:shim/1", "act.thickness", (mm("0.45"),), (mm("0.33287"),), (mm("0.56713"),)), "act 1, shimming: thickness between 0.3329 mm and 0.5671 mm"),
    ],
)  # fmt: skip
def test_a_change_is_told_as_somebody_would_be_told_to_make_it(change, told):
    part = weigh(demo().proposal("crosshead-slipper"), demo(), shipped_rules()).worst
    assert change_in_words(change, part, shipped_rules()) == told


def test_what_is_to_be_shown_names_the_kind_of_evidence_and_the_rule():
    part = weigh(demo().proposal("crosshead-slipper"), demo(), shipped_rules()).worst
    told = change_in_words(Change(What.SHOW, "option:shim", "record/hidden-first", ("photograph",)), part, shipped_rules())
    assert told.startswith("register a photograph that answers '")
    assert told.endswith("(record/hidden-first)")
