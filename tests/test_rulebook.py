"""A rulebook as a whole: what one rule cannot know of another, and of the words and sources they share."""

from __future__ import annotations

import pytest
from helpers import HOUSE, OVERLAYS, WORDS, places, rule, rulebook_of, rules_folder, rules_in, shipped_rules

from conserve.files import Folder
from conserve.problem import Problem
from conserve.rule import Status
from conserve.rulebook import overlays_of, read_rulebook

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


# ---- overlays ------------------------------------------------------------------------------------

OVERLAY = "title: A law\nsays: What it adds.\nwithdraws: {}\n"
LAW = rule("act", "{act.technique: milling}", "{forbid: Do not., gate: yes}")


def laid(tmp_path, withdraws: str = "none", files: dict[str, str] | None = None, **rules: str) -> Folder:
    """A rulebook of `r/one` with the overlay `gb` on offer, and more files under that overlay."""
    folder = rules_folder(tmp_path, {"r/one": FORBID, **{f"r/{name}": text for name, text in rules.items()}})
    for name, text in {"overlay.yaml": OVERLAY.format(withdraws), **(files or {})}.items():
        path = tmp_path / "overlays/gb" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


def law(name: str, text: str = LAW) -> dict[str, str]:
    return {f"{name.partition('/')[2]}.yaml": f"id: {name}\n{text}"}


def test_an_overlay_on_offer_is_laid_only_where_it_is_named(tmp_path):
    folder = laid(tmp_path, files=law("gb/safety/two"))
    assert overlays_of(folder) == ("gb",)
    assert [r.id for r in rules_in(folder).rules] == ["r/one"]
    book = rules_in(folder, "gb")
    assert {r.id: (r.overlay, r.principle) for r in book.rules} == {
        "gb/safety/two": ("gb", "safety"), "r/one": ("", "r"),
    }  # fmt: skip
    assert [overlay.title for overlay in book.overlays] == ["A law"]
    assert book.digest != rules_in(folder).digest


def test_the_id_of_an_overlays_rule_is_its_path_below_the_overlays(tmp_path):
    folder = laid(tmp_path, files={"safety/two.yaml": f"id: safety/two\n{LAW}"})
    assert told(read_rulebook(folder, ("gb",))[1]) == [("rules/overlays/gb/safety/two.yaml", "R047", 1, 5)]


def test_an_overlay_brings_its_own_sources(tmp_path):
    source = "an-act:\n  title: An Act\n  clauses:\n    s1: {gist: Do not., read: no}\n"
    cited = law("gb/safety/two", LAW.replace("[common-practice]", "[an-act s1]"))
    book = rules_in(laid(tmp_path / "a", files={"sources.yaml": source, **cited}), "gb")
    assert book.sources["an-act"].gists == {"s1": ("Do not.", "no")}
    lacking = laid(tmp_path / "b", files=cited)
    assert [p.code for p in read_rulebook(lacking, ("gb",))[1]] == ["R048"]


def test_a_source_is_not_written_twice(tmp_path):
    again = "venice-charter:\n  title: Again\n  clauses: none\n"
    folder = laid(tmp_path, files={"sources.yaml": again})
    problems = read_rulebook(folder, ("gb",))[1]
    assert [p.code for p in problems if p.where.file == "rules/sources.yaml" or "gb" in p.where.file] == ["R048"]


def test_an_overlay_may_withdraw_a_rule_and_says_why(tmp_path):
    book = rules_in(laid(tmp_path, "[{rule: r/one, why: It is not done here.}]"), "gb")
    assert book.rule("r/one").status is Status.WITHDRAWN
    assert book.programs["act"].rules == ()
    assert [edge.why for edge in book.overlays[0].withdraws] == ["It is not done here."]


@pytest.mark.parametrize(("named", "place"), [("r/onne", ("R054", 3, 20)), ("r/gate", ("R054", 3, 20))])
def test_an_overlay_withdraws_no_gate_and_nothing_that_is_not_there(tmp_path, named, place):
    folder = laid(tmp_path, f"[{{rule: {named}, why: so}}]", gate=GATE)
    problems = read_rulebook(folder, ("gb",))[1]
    assert told(problems) == [("rules/overlays/gb/overlay.yaml", *place)]


def test_an_overlay_overrides_by_name_and_never_a_gate(tmp_path):
    spare = rule("act", "{technique.takes: skim}", "{note: Look.}", "r/one")
    assert rules_in(laid(tmp_path / "a", files=law("gb/safety/two", spare)), "gb").rule("gb/safety/two").overrides
    over = law("gb/safety/two", spare.replace("r/one", "r/gate"))
    assert [p.code for p in read_rulebook(laid(tmp_path / "b", files=over, gate=GATE), ("gb",))[1]] == ["R049"]


def test_an_overlay_without_its_own_file_is_not_on_offer(tmp_path):
    folder = rules_folder(tmp_path, {"r/one": FORBID, "overlays/gb/safety/two": LAW})
    assert overlays_of(folder) == ()


def test_the_shipped_overlays_load_together():
    book = shipped_rules(*OVERLAYS)
    assert [overlay.name for overlay in book.overlays] == list(OVERLAYS) == sorted(OVERLAYS)
    assert {r.id for r in shipped_rules().rules} < {r.id for r in book.rules}


LAWS = [name for name in OVERLAYS if len(name) == 2]  # named by their country


@pytest.mark.parametrize("name", LAWS)
def test_the_law_of_a_country_withdraws_nothing_and_rests_on_published_clauses(name):
    book = shipped_rules(name)
    assert not book.overlays[0].withdraws
    for one in (r for r in book.rules if r.overlay):
        assert all(cited.clause for cited in one.sources), one.id


@pytest.mark.parametrize("name", LAWS)
def test_the_rules_of_a_countrys_law_stand_among_the_hazards(name):
    assert {r.principle for r in shipped_rules(name).rules if r.overlay} == {"safety"}


def test_the_neutral_rules_name_no_countrys_law():
    for one in shipped_rules().rules:
        if one.principle in ("safety", "people"):
            assert not any(cited.source.startswith(("gb-", "us-osha", "us-pressure")) for cited in one.sources), one.id


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
