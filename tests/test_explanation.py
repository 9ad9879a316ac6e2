"""What is said of a weighing: a line, a paragraph, the tree, and why a rule applies or does not."""

from __future__ import annotations

import json

import pytest
from helpers import demo, shipped_rules

from conserve import explanation
from conserve.explanation.proof import canonical_json, proof
from conserve.explanation.words import full, listed, plain, the
from conserve.weighing import Weighing, weigh
from conserve.weighing.model import NeedState


def weighed(name: str) -> Weighing:
    proposal = demo().proposal(name)
    assert proposal is not None
    return weigh(proposal, demo(), shipped_rules())


@pytest.mark.parametrize(
    ("name", "said"),
    [("Top slipper", "the top slipper"), ("The bed", "the bed"), ("LH bar", "the LH bar"), ("an arm", "an arm")],
)
def test_a_name_stands_in_a_sentence(name: str, said: str):
    assert the(name).lower() == said.lower()


def test_words_in_a_row_take_commas_and_one_and():
    said = [listed("abc"[:number]) for number in range(4)]
    assert said == ["", "a", "a and b", "a, b and c"]


def test_a_sentence_has_a_capital_and_one_stop():
    assert [full("one"), full("Two."), full("is it?")] == ["One.", "Two.", "Is it?"]


def test_an_id_is_told_as_words():
    assert plain("not-yet_shown") == "not yet shown"


def test_the_line_tells_the_verdict_and_its_one_reason():
    said = explanation.line(weighed("guide-bar-back"))
    assert said.startswith("Tidy the back of the top guide bar: justified ('leave').")


def test_a_failed_need_is_told_with_its_numbers_and_its_limit():
    said = explanation.paragraph(weighed("crosshead-slipper"))
    assert "0.70 ± 0.04 mm, wanted between 0.10 mm and 0.40 mm: certainly not" in said


def test_a_straddling_clearance_is_told_with_how_well_to_measure_it():
    said = explanation.tree(weighed("big-end-slack"), shipped_rules())
    assert "Measure the running clearance of the big end brass, cap half to within ± 0.036 mm" in said


def test_the_tree_tells_each_ground_where_it_was_written():
    said = explanation.tree(weighed("crosshead-slipper"), shipped_rules(), option="shim")
    assert "Back face, shows use: yes (components/crosshead-slipper-top.yaml:" in said
    assert "Answered by lead" in said


def test_every_open_need_or_rule_of_the_demonstration_has_a_question():
    for name in (p.id for p in demo().proposals):
        for part in weighed(name).parts:
            for option in part.options:
                if option.own == "not yet shown" and option.own_reason.step == "something open":
                    assert option.questions or option.account.untold, (name, option.option.id)


def test_a_rule_that_is_silent_is_told_by_the_premise_that_failed():
    said = explanation.why_rule(weighed("guide-bar-back"), "surface/no-abrasive-on-finish")
    assert "does not apply to" in said
    assert "abrades: no" in said


def test_a_rule_that_applies_is_told_with_all_its_grounds():
    said = explanation.why_rule(weighed("guide-bar-back"), "machining/functional-face-only")
    assert "applies to act 1 of 'mill-back'" in said
    assert "function: non-functional" in said


def test_a_rule_about_nothing_here_says_so():
    assert "about nothing" in explanation.why_rule(weighed("summer-care"), "no/such-rule")


def test_like_parts_are_told_together():
    assert "48 parts" in explanation.paragraph(weighed("cover-studs"))


def test_what_nothing_put_forward_will_do_names_the_nearest():
    weighing = weighed("pump-door")
    assert "Nothing put forward will do." in explanation.conclusion(weighing)
    assert "Nearest is 'stitch'" in explanation.conclusion(weighing)
    assert "Practice would also try: Hold it as it is" in explanation.conclusion(weighing)


def test_a_use_that_is_not_shown_to_be_met_opens_with_a_warning():
    weighing = weighed("pipe-lagging")
    assert [o.state for o in weighing.worst.out_of_use] == [NeedState.FAILED]
    assert "stays out of that use" in explanation.paragraph(weighing)


def test_the_data_holds_the_state_of_every_rule():
    weighing = weighed("crosshead-slipper")
    part = explanation.as_json(weighing)["parts"]["crosshead-slipper-top"]
    kinds = {subject.kind for subject in weighing.worst.findings.facts.today.subjects}
    assert set(part["rules"]) == {rule.id for rule in shipped_rules().rules if rule.about in kinds}
    states = {finding.partition(" ")[0] for findings in part["rules"].values() for finding in findings}
    assert states <= {"silent", "open", "applies"}


def test_parts_that_are_alike_in_everything_are_told_once():
    parts = explanation.as_json(weighed("cover-studs"))["parts"]
    full_parts = [name for name, part in parts.items() if "like" not in part]
    assert len(parts) == 48
    assert len(full_parts) < 8
    assert all(part["like"] in full_parts for part in parts.values() if "like" in part)


def test_a_proof_is_the_same_to_the_byte_and_holds_every_rule_it_used():
    one, other = (canonical_json(proof(weighed("stud-17"), shipped_rules())) for _ in range(2))
    assert one == other
    data = json.loads(one)
    used = {rule for part in data["parts"].values() for rule in part["concluded"]["rules"]}
    assert set(data["rules"]) == used
    assert data["rulebook"] == shipped_rules().digest


def test_a_proof_holds_no_floating_numbers():
    def floats(data: object) -> bool:
        if isinstance(data, dict):
            return any(map(floats, data.values()))
        return any(map(floats, data)) if isinstance(data, list) else isinstance(data, float)

    assert not any(floats(proof(weighed(p.id), shipped_rules())) for p in demo().proposals)
