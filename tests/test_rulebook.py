"""A rulebook as a whole: what one rule cannot know of another, and of the words and sources they share."""

from __future__ import annotations

import pytest
from helpers import HOUSE, WORDS, places, rule, rulebook_of, rules_folder, shipped_rules

from conserve.files import Folder
from conserve.problem import Problem
from conserve.rulebook import read_rulebook

FORBID = rule("act", "{act.technique: milling}", "{forbid: Do not.}")
GATE = rule("act", "{act.technique: milling}", "{forbid: Do not., gate: yes}")


def problems_in(tmp_path, **rules: str) -> tuple[Problem, ...]:
    named = {f"r/{name.replace('_', '-')}": text for name, text in rules.items()}
    return read_rulebook(rules_folder(tmp_path, named))[1]


def told(problems: tuple[Problem, ...]) -> list[tuple[str, str, int, int]]:
    return [(p.where.file, *place) for p, place in zip(problems, places(problems), strict=True)]


# ---- what loads ----------------------------------------------------------------------------------


def test_the_rules_that_travel_with_the_program_load():
    rulebook, problems = read_rulebook(Folder(HOUSE / "rules"))
    assert problems == ()
    assert rulebook.digest == shipped_rules().digest
    assert [r.id for r in rulebook.rules] == sorted(r.id for r in rulebook.rules)


def test_every_shipped_rule_cites_a_clause_that_is_written_down_or_says_that_it_is_practice():
    book = shipped_rules()
    for one in book.rules:
        for cited in one.sources:
            source = book.sources[cited.source]
            assert cited.clause in source.gists if source.gists else not cited.clause, one.id


def test_only_adopted_rules_are_fired(tmp_path):
    book = rulebook_of(
        tmp_path, one=FORBID, draft=FORBID.replace("adopted", "draft"), gone=FORBID.replace("adopted", "withdrawn")
    )
    assert [r.id for r in book.rules] == ["r/draft", "r/gone", "r/one"]
    assert [r.id for r in book.programs["act"].rules] == ["r/one"]


def test_a_rule_is_found_by_its_id(tmp_path):
    book = rulebook_of(tmp_path, one=FORBID)
    assert book.rule("r/one").about == "act"
    assert book.rule("r/two") is None


def test_overlays_and_hidden_files_are_not_part_of_the_rules(tmp_path):
    folder = rules_folder(
        tmp_path, {"r/one": FORBID, "overlays/gb/two": FORBID.replace("act", "nothing"), "r/.draft": "x"}
    )
    book, problems = read_rulebook(folder)
    assert problems == ()
    assert [r.id for r in book.rules] == ["r/one"]


def test_any_change_to_a_rule_changes_the_digest(tmp_path):
    first = rulebook_of(tmp_path / "a", one=FORBID)
    assert first.digest == rulebook_of(tmp_path / "b", one=FORBID).digest
    assert first.digest != rulebook_of(tmp_path / "c", one=FORBID.replace("Do not", "Do not ever")).digest


# ---- R047: the id is the path --------------------------------------------------------------------


def test_an_id_that_is_not_the_path_is_a_problem(tmp_path):
    folder = rules_folder(tmp_path, {"r/one": FORBID})
    text = (tmp_path / "r/one.yaml").read_text().replace("id: r/one", "id: r/won")
    (tmp_path / "r/one.yaml").write_text(text)
    assert told(read_rulebook(folder)[1]) == [("rules/r/one.yaml", "R047", 1, 5)]


# ---- R048: sources -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cited", "place"),
    [
        ("[]", ("R048", 1, 5)),
        ("[common-practise]", ("R048", 6, 11)),
        ("[venice-charter 99]", ("R048", 6, 11)),
        ("[venice-charter]", ("R048", 6, 11)),
        ("[common-practice 3]", ("R048", 6, 11)),
        ("[common-practice, nowhere 1]", ("R048", 6, 28)),
    ],
)
def test_a_source_or_clause_that_is_not_written_down_is_a_problem(tmp_path, cited, place):
    assert places(problems_in(tmp_path, one=FORBID.replace("[common-practice]", cited))) == [place]


# ---- R049, R050: overriding ----------------------------------------------------------------------


def test_overriding_a_rule_that_is_not_there_is_a_problem(tmp_path):
    (problem,) = problems_in(
        tmp_path, one=FORBID, two=rule("act", "{technique.takes: skim}", "{note: Look.}", "r/onne")
    )
    assert places([problem]) == [("R049", 10, 20)]
    assert "r/one" in problem.hint


def test_only_a_gate_may_override_a_gate(tmp_path):
    spare = rule("act", "{technique.takes: skim}", "{note: Look.}", "r/gate")
    assert places(problems_in(tmp_path / "a", gate=GATE, spare=spare)) == [("R049", 10, 20)]
    lawful = rule("act", "{technique.takes: skim}", "{forbid: Do not., gate: yes}", "r/gate")
    assert problems_in(tmp_path / "b", gate=GATE, spare=lawful) == ()


def test_a_rule_that_establishes_takes_no_part_in_overriding(tmp_path):
    word = rule("act", "{technique.covers: yes}", "{establish: {act.hides_or_takes: yes}}")
    assert places(
        problems_in(tmp_path / "a", word=word, spare=rule("act", "{technique.takes: skim}", "{note: Look.}", "r/word"))
    ) == [("R049", 10, 20)]
    over = rule("act", "{technique.covers: yes}", "{establish: {act.hides_or_takes: yes}}", "r/one")
    assert places(problems_in(tmp_path / "b", one=FORBID, over=over)) == [("R049", 10, 20)]


def test_rules_that_override_one_another_in_a_circle_are_a_problem_that_names_them_all(tmp_path):
    around = {
        name: rule("act", "{act.technique: milling}", "{forbid: Do not.}", f"r/{other}")
        for name, other in (("a", "b"), ("b", "c"), ("c", "a"))
    }
    (problem,) = problems_in(tmp_path, **around)
    assert told((problem,)) == [("rules/r/a.yaml", "R050", 10, 20)]
    assert "r/a > r/b > r/c > r/a" in problem.message


def test_a_rule_that_overrides_itself_is_a_circle(tmp_path):
    alone = rule("act", "{act.technique: milling}", "{forbid: Do not.}", "r/alone")
    assert places(problems_in(tmp_path, alone=alone)) == [("R050", 10, 20)]


# ---- R051: clashing words ------------------------------------------------------------------------


def promise(when: str, kind: str) -> str:
    return rule("act", when, f"{{establish: {{act.promises: {kind}}}}}")


def test_two_rules_that_may_give_a_word_different_values_are_told_with_both_places(tmp_path):
    (problem,) = problems_in(
        tmp_path,
        one=promise("{act.technique: milling}", "function"),
        two=promise("{component.serviceable: no}", "safety"),
    )
    assert told((problem,)) == [("rules/r/two.yaml", "R051", 1, 5)]
    assert "rules/r/one.yaml:1:5" in problem.message


@pytest.mark.parametrize(
    ("one", "two", "clash"),
    [
        ("{act.technique: milling}", "{act.technique: drying}", False),
        ("{act.technique: milling}", "{act.technique: {not: milling}}", False),
        ("{act.technique: {any_of: [milling, drying]}}", "{act.technique: {any_of: [drying, wiping]}}", True),
        ("{component.role: bearing}", "{component.role: plate}", True),  # a part may have both roles
    ],
)
def test_rules_that_exclude_one_another_do_not_clash(tmp_path, one, two, clash):
    found = problems_in(tmp_path, one=promise(one, "function"), two=promise(two, "safety"))
    assert [p.code for p in found] == (["R051"] if clash else [])


def test_two_rules_may_give_a_word_the_same_value(tmp_path):
    same = {"one": promise("{technique.covers: yes}", "safety"), "two": promise("{technique.takes: skim}", "safety")}
    assert problems_in(tmp_path, **same) == ()


def test_a_withdrawn_rule_clashes_with_nothing(tmp_path):
    two = promise("{technique.takes: skim}", "safety").replace("adopted", "withdrawn")
    assert problems_in(tmp_path, one=promise("{technique.covers: yes}", "function"), two=two) == ()


# ---- R052: words in a circle ---------------------------------------------------------------------


def test_words_that_wait_for_one_another_are_a_problem(tmp_path):
    found = problems_in(
        tmp_path,
        one=rule("act", "{act.promises: safety}", "{establish: {act.hides_or_takes: yes}}"),
        two=promise("{act.hides_or_takes: yes}", "safety"),
    )
    assert [p.code for p in found] == ["R052"]
    assert "act.hides_or_takes" in found[0].message


# ---- R053: rules that never apply ----------------------------------------------------------------


@pytest.mark.parametrize(
    "when",
    [
        "{technique.takes: skim, technique.examines: yes}",
        "{act.technique: milling, technique.takes: nothing}",
        "{act.technique: {any_of: [drying, wiping]}, technique.abrades: yes}",
    ],
)
def test_a_rule_whose_premises_no_technique_meets_is_a_problem(tmp_path, when):
    assert places(problems_in(tmp_path, one=rule("act", when, "{forbid: Do not.}"))) == [("R053", 1, 5)]


def test_a_rule_that_some_technique_meets_is_none(tmp_path):
    when = "{act.technique: {any_of: [drying, blasting]}, technique.abrades: yes}"
    assert problems_in(tmp_path, one=rule("act", when, "{forbid: Do not.}")) == ()


# ---- all in one go -------------------------------------------------------------------------------


def test_what_is_wrong_in_several_rules_is_told_in_one_go(tmp_path):
    found = problems_in(
        tmp_path,
        one=FORBID.replace("[common-practice]", "[nowhere]"),
        two=FORBID.replace("milling", "miling"),
        three=rule("act", "{technique.takes: skim}", "{note: Look.}", "r/four"),
    )
    assert [(p.where.file, p.code) for p in found] == [
        ("rules/r/one.yaml", "R048"), ("rules/r/three.yaml", "R049"), ("rules/r/two.yaml", "R005"),
    ]  # fmt: skip


@pytest.mark.parametrize("name", sorted(WORDS))
def test_a_rulebook_without_one_of_its_word_lists_does_not_load(tmp_path, name):
    folder = rules_folder(tmp_path, {"r/one": FORBID})
    (tmp_path / name).unlink()
    book, problems = read_rulebook(folder)
    assert book is None
    assert ("R029", f"rules/{name}") in [(p.code, p.where.file) for p in problems]
