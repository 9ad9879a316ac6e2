"""What has tried each rule: its own examples, the casebooks it has weighed, and the sources it stands on."""

from __future__ import annotations

import pytest
from helpers import HOUSE, demo, rules_folder, rules_in, shipped_rules, weighed

from conserve.cli import main
from conserve.search.coverage import clause_uses, coverage

RULE = """\
title: A rule
status: adopted
since: 2026-01-01
about: act
sources: [common-practice]
because: So.
when:
  technique.takes: {any_of: [skim, bore]}
  act.depth: {above: 1 mm}
then: {forbid: Do not.}
examples:
  - {name: deep, given: {technique.takes: skim, act.depth: 2.0 ± 0.1 mm}, expect: forbid}
  - {name: nothing taken, given: {technique.takes: nothing, act.depth: 2.0 ± 0.1 mm}, expect: silent}
  - {name: not known, given: {technique.takes: skim}, expect: open}
"""


def untried(tmp_path, text: str) -> list[tuple[str, str]]:
    book = rules_in(rules_folder(tmp_path, {"r/one": text}))
    return [(one.premise.term if one.premise else "", one.what) for one in coverage(book, ()).untried]


def test_what_no_example_tries_is_named_premise_by_premise(tmp_path):
    assert untried(tmp_path, RULE) == [
        ("technique.takes", "unknown"), ("technique.takes", "bore"), ("act.depth", "no"),
    ]  # fmt: skip


def test_examples_that_try_everything_leave_nothing(tmp_path):
    more = """\
  - {name: shallow, given: {technique.takes: skim, act.depth: 0.5 ± 0.1 mm}, expect: silent}
  - {name: either cut, given: {act.depth: 2.0 ± 0.1 mm}, each: {technique.takes: [skim, bore]}, expect: forbid}
  - {name: nothing is known, given: {}, expect: open}
"""
    assert untried(tmp_path, RULE + more) == []


def test_a_rule_that_no_example_makes_certain_is_named(tmp_path):
    assert ("", "yes") not in untried(tmp_path / "sure", RULE)
    never = RULE.replace("2.0 ± 0.1 mm}, expect: forbid", "2 mm}, expect: forbid")  # no ±, and so not known
    assert ("", "yes") in untried(tmp_path / "never", never)


def test_a_casebook_counts_as_a_trial():
    weighing = weighed(demo(), "crosshead-slipper")
    plain, with_it = coverage(shipped_rules(), ()), coverage(shipped_rules(), [weighing])
    assert len(with_it.untried) <= len(plain.untried)
    assert with_it.decisions["record/hidden-first"] == {("Marrow Fen drainage engine", "crosshead-slipper")}


def test_a_proposal_about_many_parts_is_one_decision_however_many_rules_stand_on_a_clause():
    tries = coverage(shipped_rules(), [weighed(demo(), "cover-studs")])
    assert max(len(found) for found in tries.decisions.values()) == 1
    assert max(use.decisions for use in clause_uses(shipped_rules(), tries)) == 1


def test_each_clause_tells_its_rules_their_examples_and_the_decisions_they_bore_on():
    tries = coverage(shipped_rules(), [weighed(demo(), "crosshead-slipper")])
    uses = {(use.source, use.clause): use for use in clause_uses(shipped_rules(), tries)}
    cited = {(c.source, c.clause) for rule in shipped_rules().rules for c in rule.sources}
    assert cited <= set(uses)
    hidden_first = shipped_rules().rule("record/hidden-first")
    for cited_by in hidden_first.sources:
        use = uses[cited_by.source, cited_by.clause]
        assert "record/hidden-first" in use.rules
        assert use.examples >= len(hidden_first.examples)
        assert use.decisions >= 1


@pytest.mark.parametrize("command", ["sources", "coverage"])
def test_the_commands_tell_it_in_words_and_as_json(capsys, command):
    assert main(["rules", command]) == 0
    assert capsys.readouterr().out.strip()
    assert main(["rules", command, "--json"]) == 0
    assert capsys.readouterr().out.startswith(("[", "{"))


def test_nothing_of_a_shipped_rule_is_left_untried():
    left = [(u.rule.id, u.premise.term if u.premise else "", u.what) for u in coverage(shipped_rules(), ()).untried]
    assert left == []


def test_an_overlays_rules_are_asked_about_where_it_is_named(capsys):
    assert main(["rules", "coverage", "--overlay", "turret-clock"]) == 0
    told = capsys.readouterr().out
    assert int(told.split(" rules, ")[0].split()[-1]) > len(shipped_rules().rules)


def test_a_casebook_that_is_named_twice_counts_once(capsys):
    book = str(HOUSE / "casebook" / "sallow-wharf")
    assert main(["rules", "sources", book, "--json"]) == 0
    once = capsys.readouterr().out
    assert main(["rules", "sources", book, f"{book}/", "--json"]) == 0
    assert capsys.readouterr().out == once


def test_a_casebook_that_is_not_there_is_named(capsys):
    assert main(["rules", "coverage", "nowhere"]) == 2
    assert "there is no folder 'nowhere'" in capsys.readouterr().err
