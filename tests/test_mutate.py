"""Small changes to a rule: which its examples notice, which change nothing, and the example that would notice."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal

import pytest
from helpers import folder_of, rule, rules_folder, rules_in, shipped_rules
from hypothesis import given, settings
from hypothesis import strategies as st
from small_rules import NUMBERED, WORDY, adopted, cases, small_rulebooks

from conserve.cli import main
from conserve.inference import outcome_of, tried
from conserve.quantity import Quantity
from conserve.rule import EffectKind, Example, Rule
from conserve.rulebook import Rulebook
from conserve.search.case import as_given
from conserve.search.logic import Logic
from conserve.search.mutants import Change, ChangeKind, changes_of
from conserve.search.mutate import Changes, suggestions, try_changes

HEAD = """\
title: A rule
status: adopted
since: 2026-01-01
about: act
sources: [common-practice]
because: So.
"""


def text(when: str, *examples: str, then: str = "{forbid: Do not.}") -> str:
    return f"{HEAD}when: {when}\nthen: {then}\nexamples:\n" + "".join(f"  {line}\n" for line in examples)


def read(root, one: str, **more: str) -> Rulebook:
    return rules_in(rules_folder(root, {"r/one": one, **{f"r/{name}": other for name, other in more.items()}}))


def tried_in(rulebook: Rulebook, name: str = "r/one") -> Changes:
    one = rulebook.rule(name)
    assert one is not None
    return try_changes(one, rulebook, Logic(rulebook.rules, rulebook.vocabulary))


def unnoticed(changes: Changes) -> list[tuple[str, str, str]]:
    return [(str(u.change.kind), u.change.term, str(u.change.value)) for u in changes.unnoticed]


FLAG = "{component.serviceable: yes, technique.fusion: yes}"
APPLIES = "- {name: a, given: {component.serviceable: yes, technique.fusion: yes}, expect: forbid}"
SILENT = "- {name: b, given: {component.serviceable: no}, expect: silent}"
SILENT_TOO = "- {name: c, given: {technique.fusion: no}, expect: silent}"
OPEN = "- {name: d, given: {technique.fusion: yes}, expect: open}"


# ---- what is noticed --------------------------------------------------------------------------------


def test_examples_that_notice_every_change_leave_nothing(tmp_path):
    changes = tried_in(read(tmp_path, text(FLAG, APPLIES, SILENT, SILENT_TOO, OPEN)))
    assert changes.unnoticed == () and changes.same == ()
    # A premise left out, another value, for each of two; four other effects.
    assert changes.noticed == 8


def test_a_premise_that_no_example_needs_is_told(tmp_path):
    changes = tried_in(read(tmp_path, text(FLAG, APPLIES, SILENT, OPEN)))
    assert unnoticed(changes) == [
        ("premise left out", "technique.fusion", ""), ("value added", "technique.fusion", "no"),
    ]  # fmt: skip
    (one,) = suggestions(changes, shipped_rules().vocabulary)
    assert one.line == "- {name: fusion no, given: {technique.fusion: no}, expect: silent}"


FACES = "{technique.takes: {any_of: [skim, bore]}, surface.function: datum}"
FACE = "{technique.takes: skim, surface.function: datum}"


def test_an_accepted_value_that_no_example_uses_is_told(tmp_path):
    rulebook = read(
        tmp_path,
        text(
            FACES,
            f"- {{name: a, given: {FACE}, expect: forbid}}",
            "- {name: b, given: {technique.takes: nothing}, expect: silent}",
            "- {name: c, given: {technique.takes: skim}, expect: open}",
        ),
    )
    assert ("value left out", "technique.takes", "bore") in unnoticed(tried_in(rulebook))
    assert ("value left out", "technique.takes", "skim") not in unnoticed(tried_in(rulebook))


def test_changes_that_differ_in_one_value_share_a_line_of_examples(tmp_path):
    rulebook = read(
        tmp_path,
        text(
            FACES,
            f"- {{name: a, given: {FACE}, expect: forbid}}",
            "- {name: b, given: {technique.takes: nothing}, expect: silent}",
            "- {name: c, given: {technique.takes: skim}, expect: open}",
        ),
    )
    lines = [one.line for one in suggestions(tried_in(rulebook), rulebook.vocabulary)]
    others = [v for v in rulebook.vocabulary.terms["surface.function"].values if v != "datum"]
    wanted = f"- {{name: function, given: {{}}, each: {{surface.function: [{', '.join(others)}]}}, expect: silent}}"
    assert wanted in lines


LIMIT = "{technique.fusion: yes, act.heated_to: {above: 80 °C}}"


def with_temperatures(*told: tuple[str, str]) -> str:
    lines = [
        f"- {{name: at {t}, given: {{technique.fusion: yes, act.heated_to: {t} ± 0 °C}}, expect: {e}}}" for t, e in told
    ]
    return text(LIMIT, *lines, SILENT_TOO, OPEN)


@pytest.mark.parametrize(
    ("told", "kinds"),
    [
        ([("200", "forbid"), ("20", "silent")], {"limit moved", "limit itself let in or kept out"}),
        ([("81", "forbid"), ("80", "silent")], set()),
        ([("81", "forbid"), ("79", "silent")], {"limit moved", "limit itself let in or kept out"}),
    ],
)
def test_a_limit_needs_an_example_on_it_and_one_just_beyond(tmp_path, told, kinds):
    assert {kind for kind, _, _ in unnoticed(tried_in(read(tmp_path, with_temperatures(*told))))} == kinds


def test_an_example_of_a_limit_is_written_with_its_uncertainty(tmp_path):
    rulebook = read(tmp_path, with_temperatures(("200", "forbid"), ("20", "silent")))
    lines = " ".join(one.line for one in suggestions(tried_in(rulebook), rulebook.vocabulary))
    assert "act.heated_to: 80 ± 0 °C" in lines or "act.heated_to: [80 ± 0 °C" in lines


# ---- what changes nothing ---------------------------------------------------------------------------


def test_a_value_that_cannot_occur_with_the_other_premises_changes_nothing(tmp_path):
    when = "{act.technique: {any_of: [milling, scraping]}, technique.takes: skim}"
    changes = tried_in(
        read(
            tmp_path,
            text(
                when,
                "- {name: a, given: {technique.takes: skim}, each: {act.technique: [milling, scraping]}, expect: forbid}",
                "- {name: b, given: {act.technique: wiping}, expect: silent}",
                "- {name: c, given: {technique.takes: skim}, expect: open}",
            ),
        )
    )
    same = {(str(change.kind), change.term, str(change.value)) for change in changes.same}
    assert ("value added", "technique.takes", "coating") in same
    assert ("premise left out", "technique.takes", "") in same
    assert not any(term == "technique.takes" for _, term, _ in unnoticed(changes))


def test_a_premise_on_a_word_that_is_always_so_changes_nothing(tmp_path):
    waits = text(
        "{act.hides_or_takes: no, technique.fusion: yes}",
        "- {name: a, given: {technique.fusion: yes}, expect: forbid}",
        SILENT_TOO,
        "- {name: c, given: {}, expect: open}",
    )
    changes = tried_in(read(tmp_path, waits))
    assert ("premise left out", "act.hides_or_takes") in {(str(c.kind), c.term) for c in changes.same}


# ---- the examples that are offered ------------------------------------------------------------------


def test_with_the_examples_that_are_offered_nothing_goes_unnoticed(tmp_path):
    poor = text(
        "{technique.takes: {any_of: [skim, bore]}, component.role: {any_of: [pressure, lifting]}, act.depth: {above: {term: surface.wear}}, act.heated_to: {between: [10 °C, 20 °C]}}",
        "- {name: a, given: {technique.takes: skim, component.role: lifting, act.depth: 2 ± 0 mm, surface.wear: 1 ± 0 mm, act.heated_to: 15 ± 0 °C}, expect: forbid}",
        "- {name: b, given: {technique.takes: nothing}, expect: silent}",
        "- {name: c, given: {}, expect: open}",
    )  # fmt: skip
    rulebook = read(tmp_path / "poor", poor)
    offered = [one.line for one in suggestions(tried_in(rulebook), rulebook.vocabulary)]
    assert len(offered) > 5
    better = read(tmp_path / "better", poor + "".join(f"  {line}\n" for line in offered))
    assert tried_in(better).unnoticed == ()


@pytest.mark.parametrize("name", [one.id for one in shipped_rules().rules][::12])
def test_an_offered_example_comes_out_as_it_says_and_the_changed_rule_does_not(name):
    rulebook = shipped_rules()
    for one in tried_in(rulebook, name).unnoticed[:40]:
        assert outcome_of(one.change.rule, one.witness, rulebook) == one.expect
        assert outcome_of(changed(one.change), one.witness, rulebook) == one.then != one.expect


def changed(change: Change) -> Rule:
    return replace(change.rule, when=change.when, then=replace(change.rule.then, kind=change.effect))


# ---- every case -------------------------------------------------------------------------------------


@pytest.mark.parametrize("numbered", [False, True])
@given(data=st.data())
@settings(max_examples=40)
def test_a_change_changes_nothing_exactly_where_no_case_tells_it(numbered, data):
    rulebook = data.draw(small_rulebooks(numbered))
    one = data.draw(st.sampled_from(adopted(rulebook)))
    found = try_changes(one, rulebook, Logic(rulebook.rules, rulebook.vocabulary))  # it has no examples
    changes = tuple(changes_of(one, rulebook.vocabulary))
    assert found.noticed == 0 and len(found.same) + len(found.unnoticed) == len(changes)
    asked = tuple(dict.fromkeys(p for change in changes for p in (*change.when, *one.when)))
    known = []
    for facts in cases(NUMBERED if numbered else WORDY):
        grounds = tried(replace(one, when=asked), as_given(facts, rulebook.vocabulary), rulebook).grounds
        known.append(dict(zip(asked, (ground.truth for ground in grounds), strict=True)))
    for change in changes:
        if change.kind is ChangeKind.MOVED or (change.kind is ChangeKind.EFFECT):
            continue  # the numbers of the cases are for limits of 1 and 2 mm; an effect needs a case where it applies
        differs = any(
            min((k[p] for p in change.when), default=2) != min((k[p] for p in one.when), default=2) for k in known
        )
        assert (change in found.same) is not differs


@given(data=st.data(), numbered=st.booleans())
@settings(max_examples=40)
def test_each_offered_example_notices_its_change_in_any_rulebook(data, numbered):
    rulebook = data.draw(small_rulebooks(numbered))
    one = data.draw(st.sampled_from(adopted(rulebook)))
    logic = Logic(rulebook.rules, rulebook.vocabulary)
    found = try_changes(one, rulebook, logic)
    taught = replace(
        one,
        examples=tuple(Example("so", dict(u.witness), u.expect, one.where) for u in found.unnoticed),
    )
    assert try_changes(taught, rulebook, logic).unnoticed == ()


def test_a_rule_that_establishes_is_not_given_another_effect():
    one = next(r for r in shipped_rules().rules if r.then.kind is EffectKind.ESTABLISH)
    assert all(c.effect is EffectKind.ESTABLISH for c in changes_of(one, shipped_rules().vocabulary))


def test_a_limit_is_moved_by_a_step_in_its_second_figure(tmp_path):
    one = read(tmp_path, with_temperatures(("81", "forbid"), ("80", "silent"))).rule("r/one")
    assert one is not None
    moved = [c.value for c in changes_of(one, shipped_rules().vocabulary) if c.kind is ChangeKind.MOVED]
    assert moved == [Quantity(Decimal(79), Decimal(0), "°C"), Quantity(Decimal(81), Decimal(0), "°C")]


# ---- the command ------------------------------------------------------------------------------------


@pytest.fixture
def own(tmp_path):
    rules_folder(tmp_path, {"r/one": text(FLAG, APPLIES, SILENT, OPEN), "r/two": rule("act", FLAG, "{note: Look.}")})
    return tmp_path


def test_the_command_tells_what_would_go_unnoticed_with_a_line_to_paste(own, capsys):
    assert main(["rules", "mutate", "r/one", "--rules", str(own)]) == 0
    out = capsys.readouterr().out
    assert "  - {name: fusion no, given: {technique.fusion: no}, expect: silent}\n" in out
    assert "8 small changes to 1 rule: 6 noticed, 0 that change nothing, 2 unnoticed." in out
    assert "technique's ‘fusion’ were not asked for" in " ".join(out.split())


def test_without_a_name_every_rule_is_changed(own, capsys):
    assert main(["rules", "mutate", "--rules", str(own), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["rule"] for one in told["rules"]] == ["r/one", "r/two"]
    (first, _) = told["rules"]
    assert first["examples"] == ["- {name: fusion no, given: {technique.fusion: no}, expect: silent}"]
    assert first["unnoticed"][0]["facts"] == {"technique.fusion": "no"}


def test_a_rule_that_is_not_there_is_told_so(own, capsys):
    assert main(["rules", "mutate", "r/oen", "--rules", str(own)]) == 2
    assert "r/one" in capsys.readouterr().err


def test_nothing_is_said_of_progress_in_a_pipe(own, capsys):
    main(["rules", "mutate", "--rules", str(own)])
    assert capsys.readouterr().err == ""


def test_a_withdrawn_rule_is_left_alone_unless_it_is_named(tmp_path, capsys):
    gone = text(FLAG, APPLIES, SILENT, OPEN).replace("adopted", "withdrawn")
    folder_of(tmp_path, {})
    rules_folder(tmp_path, {"r/one": gone})
    assert main(["rules", "mutate", "--rules", str(tmp_path)]) == 0
    assert capsys.readouterr().out == "0 small changes to 0 rules: 0 noticed, 0 that change nothing, 0 unnoticed.\n"
    assert main(["rules", "mutate", "r/one", "--rules", str(tmp_path)]) == 0
    assert "8 small changes to 1 rule" in capsys.readouterr().out


def test_a_rule_of_an_overlay_is_found_by_its_name(capsys):
    assert main(["rules", "mutate", "gb/safety/noise-assessed"]) == 0
    assert " to 1 rule: " in capsys.readouterr().out
