"""What another edition of the rules makes of decisions, and which rule and premise make the difference."""

import json
import pickle
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from functools import lru_cache
from pathlib import Path

from helpers import (
    CLOCK,
    DEMO,
    MORE,
    casebook_of,
    clock,
    clock_rules,
    demo,
    every_weighing,
    rule,
    rules_folder,
    rules_in,
    shipped_rules,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from conserve import rule as rules_model
from conserve.audit.edition_cause import fewest
from conserve.audit.edition_data import edition_data
from conserve.audit.edition_model import Became, EditionChange, Ground, Makes, VerdictChange
from conserve.audit.edition_telling import edition_lines, edition_section
from conserve.audit.editions import between, edition_change
from conserve.casebook import Casebook
from conserve.files import Folder
from conserve.problem import Location
from conserve.rule import Bound, Effect, EffectKind, Override, Premise, Rule, Stage, Status
from conserve.rulebook import Rulebook
from conserve.rulebook.programs import program_of
from conserve.statement import markdown
from conserve.statement.model import Document, told
from conserve.terms import SEES
from conserve.weighing import weigh

HERE = Location("rules/r.yaml")
DAY = date(2026, 6, 1)


def with_rules(rulebook: Rulebook, rules: Iterable[Rule]) -> Rulebook:
    """The same words with just these rules."""
    every = tuple(sorted(rules, key=lambda one: one.id))
    programs = {kind: program_of(every, kind, rulebook.vocabulary) for kind in SEES}
    return replace(rulebook, rules=every, programs=programs, digest="another edition")


def edition(rulebook: Rulebook, *changed: Rule, without: tuple[str, ...] = ()) -> Rulebook:
    """The rulebook with some rules changed or new, and some gone."""
    kept = {one.id: one for one in rulebook.rules if one.id not in without}
    return with_rules(rulebook, (kept | {one.id: one for one in changed}).values())


def of_demo(new: Rulebook, old: Rulebook | None = None) -> EditionChange:
    known = every_weighing() if old is None else None
    casebook = demo()
    return between(Folder(DEMO), casebook, old or shipped_rules(), new, casebook.as_at, "marrow-fen", known)


def shipped(name: str) -> Rule:
    found = shipped_rules().rule(name)
    assert found is not None
    return found


def made(name: str, about: str, when: tuple[Premise, ...], then: Effect) -> Rule:
    return replace(shipped("use/upkeep-in-hand"), id=name, title=name, about=about, when=when, then=then, overrides=())


def asks(term: str, *accepts: str, bounds: tuple[Bound, ...] = ()) -> Premise:
    return Premise(term, rules_model.Test(accepts, bounds), HERE)


def mm(text: str) -> Bound:
    from conserve.quantity import parse_quantity

    return Bound("above", parse_quantity(text, "mm", exact=True))


FORBIDS = Effect(EffectKind.FORBID, says="Do not do this to {component}.")


def only(change: EditionChange, proposal: str) -> VerdictChange:
    (found,) = (one for one in change.verdicts if one.proposal == proposal)
    return found


def ground(one: VerdictChange, term: str) -> Ground:
    (found,) = (ground for ground in one.grounds if ground.term == term)
    return found


# ---- the same edition ------------------------------------------------------------------------------------------------


def test_an_edition_that_is_the_same_changes_nothing():
    change = of_demo(shipped_rules())
    assert (change.rules, change.words, change.verdicts, change.asks) == ((), (), (), ())
    assert change.decided == 5
    assert "all 5 decisions stays as it is" in edition_lines(change)[0]


def test_the_same_files_in_another_folder_are_the_same_edition(tmp_path):
    files = {"r/one": rule("component", "{}", "{forbid: No.}")}
    old = rules_in(rules_folder(tmp_path / "rules", files))
    other = rules_folder(tmp_path / "other", files)
    casebook = small(tmp_path, old)
    change = edition_change(Folder(tmp_path), casebook, old, other, DAY, "trial")
    assert (change.rules, change.words, change.verdicts, change.asks) == ((), (), (), ())
    assert change.old == change.new


def test_titles_examples_and_places_are_no_part_of_an_edition():
    one = shipped("use/upkeep-in-hand")
    changed = replace(one, title="Another", examples=(), where=HERE, when=tuple(reversed(one.when)))
    assert of_demo(edition(shipped_rules(), changed)).rules == ()


def test_a_changed_wording_is_told_and_moves_no_verdict():
    one = shipped("use/upkeep-in-hand")
    change = of_demo(edition(shipped_rules(), replace(one, because="So.", then=replace(one.then, says="No."))))
    (found,) = change.rules
    assert (found.bears, found.says) == (False, ("Its reason and wording changed.",))
    assert not change.alters_verdicts


@settings(max_examples=3 * MORE, deadline=None)
@given(st.randoms(use_true_random=False))
def test_the_order_of_rules_proposals_and_parts_changes_nothing(random):
    one, other = shipped("use/upkeep-in-hand"), shipped("record/hidden-first")
    then = Effect(EffectKind.REFER, says="Ask.", to="conservator")
    new = edition(shipped_rules(), replace(one, when=one.when[:1]), replace(other, then=then))

    def shuffled(items):
        found = list(items)
        random.shuffle(found)
        return found

    casebook = demo()
    proposals = tuple(shuffled(casebook.proposals))
    mixed = replace(casebook, proposals=proposals, components=dict(shuffled(casebook.components.items())))
    books = [
        replace(book, rules=(rules := tuple(shuffled(book.rules))), programs={
            kind: program_of(rules, kind, book.vocabulary) for kind in SEES
        })
        for book in (shipped_rules(), new)
    ]  # fmt: skip
    change = between(Folder(DEMO), mixed, *books, casebook.as_at, "marrow-fen")
    assert edition_data(change) == edition_data(of_demo(new))


# ---- one rule, planted -----------------------------------------------------------------------------------------------


def test_a_limit_that_moved_is_named_with_both_limits_and_the_number():
    term, part = "component.running_clearance", "crosshead-slipper"
    limited = made("wear/limit", "component", (asks(term, bounds=(mm("0.5 mm"),)),), FORBIDS)
    old = edition(shipped_rules(), limited)
    new = edition(shipped_rules(), replace(limited, when=(asks(term, bounds=(mm("9 mm"),)),)))
    one = only(of_demo(new, old), part)
    assert (one.before, one.cause.makes, one.cause.rules) == ("not justified", Makes.ALONE, ("wear/limit",))
    found = ground(one, term)
    assert (found.before, found.now) == ("yes", "no")
    assert "above 0.5 mm: it is." in found.says and "above 9 mm: it is not." in found.says
    assert all(":" in where and where.startswith("components/") for where in found.where)


def test_a_premise_that_was_added_is_named():
    one = made("use/never", "component", (), FORBIDS)
    old = edition(shipped_rules(), one)
    new = edition(shipped_rules(), replace(one, when=(asks("object.rarity", "unique"),)))
    change = of_demo(new, old)
    assert {one.cause.rules for one in change.verdicts} == {("use/never",)}
    assert {one.proposal for one in change.verdicts} == {p.id for p in demo().proposals if p.decision}
    assert (ground(change.verdicts[0], "object.rarity").before) == "not asked"


def test_a_premise_that_was_dropped_is_named_with_its_fact_and_place():
    one = shipped("use/upkeep-in-hand")
    change = of_demo(edition(shipped_rules(), replace(one, when=one.when[:1])))
    assert len(change.verdicts) == 5
    for verdict in change.verdicts:
        assert (verdict.cause.makes, verdict.cause.rules) == (Makes.ALONE, (one.id,))
        assert (verdict.stood, verdict.stands, verdict.now) == (True, False, "not justified")
        (found,) = verdict.grounds
        assert (found.term, found.before, found.now) == ("object.upkeep_provided", "no", "not asked")
        assert found.where == ("object.yaml:8",)


def test_a_rule_that_is_new_is_named_with_its_premises_and_sources():
    when = (asks("act.technique", "shimming"),)
    new = edition(shipped_rules(), made("joining/no-shims", "act", when, FORBIDS))
    change = of_demo(new)
    (one,) = change.verdicts
    assert (one.proposal, one.cause.rules) == ("crosshead-slipper", ("joining/no-shims",))
    assert (ground(one, "act.technique").before, ground(one, "act.technique").now) == ("not asked", "yes")
    told_ = change.rule("joining/no-shims")
    assert told_ is not None and told_.became is Became.NEW and "p. 108" in told_.sources[0]
    assert "p. 108" in text(change)


def test_a_rule_that_was_withdrawn_is_named_with_what_held():
    barred = made("joining/no-shims", "act", (asks("act.technique", "shimming"),), FORBIDS)
    old = edition(shipped_rules(), barred)
    for new in (shipped_rules(), edition(old, replace(barred, status=Status.WITHDRAWN))):
        change = of_demo(new, old)
        (one,) = change.verdicts
        assert (one.stood, one.stands, one.cause.rules) == (False, True, ("joining/no-shims",))
        assert (ground(one, "act.technique").before, ground(one, "act.technique").now) == ("yes", "not asked")
        assert [found.became for found in change.rules] == [Became.GONE]


def test_an_effect_that_changed_is_named_with_both_effects():
    one = shipped("record/hidden-first")
    then = Effect(EffectKind.REFER, says="Ask about {component}.", to="conservator")
    change = of_demo(edition(shipped_rules(), replace(one, then=then)))
    assert {found.proposal for found in change.verdicts} == {"crosshead-slipper", "stud-17"}
    for verdict in change.verdicts:
        assert (verdict.now, verdict.cause.rules) == ("refer to a competent person", (one.id,))
        assert "refers to a conservator; before, it requires a photograph as evidence" in verdict.grounds[0].says


def test_an_override_that_was_dropped_is_named():
    barred = made("joining/no-shims", "act", (asks("act.technique", "shimming"),), FORBIDS)
    may = made("joining/yet-here", "component", (), Effect(EffectKind.NOTE, says="Here they may."))
    old = edition(shipped_rules(), barred, replace(may, overrides=(Override(barred.id, "so", HERE),)))
    change = of_demo(edition(old, may), old)
    (one,) = change.verdicts
    assert one.cause.rules == ("joining/yet-here",)
    assert [found.says for found in one.grounds] == ["The rule no longer sets joining/no-shims aside."]


def test_a_word_that_another_rule_establishes_leads_back_to_that_rule():
    """A rule that only gives a word is named where another rule forbids because of that word."""
    one = next(r for r in shipped_rules().rules if r.then.establishes == ("act.hides_or_takes", "yes"))
    then = Effect(EffectKind.REFER, says="Ask.", to="conservator")
    barred = replace(shipped("record/hidden-first"), then=then)
    old = edition(shipped_rules(), barred)
    names = tuple(r.id for r in old.rules if r.then.establishes == one.then.establishes)
    change = of_demo(edition(old, without=names), old)
    assert change.verdicts
    for verdict in change.verdicts:
        assert set(verdict.cause.rules) <= set(names)


def test_a_rule_of_an_overlay_is_attributed_like_any_other():
    casebook, old = clock(), clock_rules()
    name = "turret-clock/safety/stopped-and-tied"
    one = old.rule(name)
    assert one is not None
    new = edition(old, replace(one, then=Effect(EffectKind.REFER, says="Ask.", to="conservator")))
    change = between(Folder(CLOCK), casebook, old, new, casebook.as_at, "sallow-wharf", every_weighing())
    (verdict,) = change.verdicts
    assert (verdict.proposal, verdict.cause.makes, verdict.cause.rules) == ("bell-blow", Makes.ALONE, (name,))
    assert f"rules/{name}" in {source for one in telling(change) for source in one.made_from}


_KINDS = (
    "withdrawn",
    "forbids",
    "no premises",
    "one premise fewer",
    "asks for what cannot be",
)


def planted(one: Rule, kind: str) -> Rule | None:
    """A rule changed in one way; None where that is no change."""
    if kind == "withdrawn":
        return replace(one, status=Status.WITHDRAWN)
    if kind == "forbids":
        can = one.then.kind is not EffectKind.ESTABLISH
        return replace(one, then=FORBIDS) if can else None
    if kind == "no premises":
        return replace(one, when=()) if one.when else None
    if kind == "one premise fewer":
        return replace(one, when=one.when[1:]) if one.when else None
    never = asks("object.working_is_significant", "no")
    return replace(one, when=(*one.when, never)) if never.term not in {p.term for p in one.when} else None


@lru_cache(maxsize=1)
def changeable() -> tuple[Rule, ...]:
    """The adopted rules, without those that only give a word: two of them may not give it two values."""
    rules = shipped_rules().rules
    return tuple(r for r in rules if r.status is Status.ADOPTED and r.then.kind is not EffectKind.ESTABLISH)


@settings(max_examples=15 * MORE, deadline=None)
@given(st.sampled_from(changeable()), st.sampled_from(_KINDS))
def test_whatever_one_rule_is_changed_to_each_verdict_that_moves_is_put_down_to_it(one, kind):
    changed = planted(one, kind)
    change = of_demo(edition(shipped_rules(), changed) if changed else shipped_rules())
    for verdict in change.verdicts:
        assert (verdict.cause.makes, verdict.cause.rules, verdict.cause.words) == (Makes.ALONE, (one.id,), ())
        assert verdict.grounds and all(found.says for found in verdict.grounds)


@settings(max_examples=10 * MORE, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(changeable()), st.sampled_from(_KINDS)), min_size=2, max_size=5))
def test_what_is_named_gives_the_verdict_as_it_was_when_it_is_put_back(drawn):
    changes = {one.id: changed for one, kind in drawn if (changed := planted(one, kind))}
    new = edition(shipped_rules(), *changes.values())
    for verdict in of_demo(new).verdicts:
        assert set(verdict.cause.rules) <= changes.keys()
        together = [verdict.cause.rules] if verdict.cause.makes is Makes.TOGETHER else [(n,) for n in verdict.cause.rules]
        for back in together:
            assert came_to(verdict.proposal, edition(new, *map(shipped, back))) == verdict.before
        if verdict.cause.makes is Makes.TOGETHER:
            for name in verdict.cause.rules:
                others = [shipped(other) for other in verdict.cause.rules if other != name]
                assert came_to(verdict.proposal, edition(new, *others)) != verdict.before


def came_to(proposal: str, rulebook: Rulebook) -> str:
    asked = demo().proposal(proposal)
    assert asked is not None and asked.decision is not None
    return weigh(asked, demo(), rulebook).verdicts[asked.decision.chosen].value


# ---- several rules ---------------------------------------------------------------------------------------------------


def test_rules_each_of_which_is_enough_are_named_together():
    when = (asks("act.technique", "shimming"),)
    rules = [made(f"joining/no-shims-{name}", "act", when, FORBIDS) for name in ("a", "b")]
    (one,) = of_demo(edition(shipped_rules(), *rules)).verdicts
    assert one.cause.makes is Makes.TOGETHER
    assert one.cause.rules == one.cause.enough == ("joining/no-shims-a", "joining/no-shims-b")


def test_two_changes_that_only_work_together_are_each_named():
    """Where either one, put back, leaves the verdict as it was, each makes the difference."""
    stop = made("use/stop", "component", (asks("object.upkeep_provided", "no"),), FORBIDS)
    lets = made("use/lets", "component", (), Effect(EffectKind.NOTE, says="So."))
    old = edition(shipped_rules(), stop, replace(lets, overrides=(Override(stop.id, "so", HERE),)))
    new = edition(old, lets, replace(stop, when=(asks("object.upkeep_provided", "yes"),)))
    change = of_demo(new, old)
    assert len(change.verdicts) == 5
    for verdict in change.verdicts:
        assert (verdict.cause.makes, verdict.cause.rules) == (Makes.ALONE, ("use/lets", "use/stop"))
    assert "With any one as it was, the verdict stays" in text(change)


@given(st.sets(st.integers(0, 30)), st.sets(st.integers(0, 30)))
def test_the_fewest_hold_and_none_of_them_can_be_left_out(needed, others):
    items = sorted(needed | others)
    assert fewest(items, lambda some: needed <= set(some)) == sorted(needed)


# ---- what is required ------------------------------------------------------------------------------------------------


def test_a_requirement_that_came_went_or_moved_is_told_in_one_line():
    one, gone = shipped("record/materials-named"), shipped("record/two-copies")
    more = made("record/third-copy", "proposal", (), Effect(EffectKind.REQUIRE, says="Keep a third.", by=Stage.AFTER_WORK))
    moved = replace(one, then=replace(one.then, by=Stage.BEFORE_USE))
    change = of_demo(edition(shipped_rules(), moved, more, without=(gone.id,)))
    (asked,) = (found for found in change.asks if found.proposal == "stud-17")
    assert [line.partition(" (")[0] for line in asked.more] == ["Keep a third"]
    assert [gone.id in line for line in asked.fewer] == [True]
    (line,) = asked.otherwise
    assert one.id in line and "before use" in line and "during the work" in line
    (said,) = (line for line in edition_lines(change) if line.startswith("stud-17: "))
    assert "\n" not in said and "also asks 1: Keep a third" in said


# ---- files: words, overlays, what does not read ----------------------------------------------------------------------

PART = """\
    name: Slide
    significance: some
    material: grey-cast-iron
    phase: as-built
    present: yes
    serviceable: yes
    surfaces:
      face: {function: sliding, area: 400 ± 6 cm2, sets_clearance: yes, marks: none}
    repairs: none
    defects: none
    history: none
    """
ASKED = """\
    title: Clean the face
    component: slide
    needs:
      there: {kind: completeness, says: It is there., test: {component.present: yes}, set_by: me}
    options:
      leave: {acts: []}
    preferred: leave
    decision: {chosen: leave, by: me, date: 2026-03-09, reason: so}
    """


def small(root: Path, rulebook: Rulebook) -> Casebook:
    return casebook_of(root, {"components/slide.yaml": PART, "proposals/q.yaml": ASKED}, rulebook)


def reworded(root: Path, name: str, before: str, after: str, rules: dict[str, str]) -> Folder:
    """A rules folder whose words say something else at one place."""
    folder = rules_folder(root, rules)
    text = (root / name).read_text(encoding="utf-8")
    assert text.count(before) >= 1
    (root / name).write_text(text.replace(before, after, 1), encoding="utf-8")
    return folder


def test_where_no_rule_changed_the_words_are_named(tmp_path):
    """An instrument is believed less, and a clearance that was sure to be too wide may be within its limit."""
    rules = {"r/limit": rule("component", "{component.running_clearance: {above: 0.35 mm}}", "{forbid: No.}")}
    old = rules_in(rules_folder(tmp_path / "rules", rules))
    before = "feeler-gauges: {uncertainty: 0.04 mm"
    other = reworded(tmp_path / "other", "terms.yaml", before, "feeler-gauges: {uncertainty: 0.4 mm", rules)
    measured = PART.rstrip(" ") + "    running_clearance: {value: 0.40 mm, instrument: feeler-gauges}\n"
    casebook = casebook_of(tmp_path, {"components/slide.yaml": measured, "proposals/q.yaml": ASKED}, old)
    change = edition_change(Folder(tmp_path), casebook, old, other, DAY, "trial")
    assert (change.rules, [one.word for one in change.words]) == ((), ["instrument feeler-gauges"])
    (one,) = change.verdicts
    assert (one.before, one.now) == ("not justified", "not yet shown")
    assert (one.cause.makes, one.cause.rules, one.cause.words) == (Makes.WORDS, (), ("instrument feeler-gauges",))
    assert "the words changed" in text(change)


def test_a_rule_that_cannot_be_said_in_the_new_words_is_told_with_the_words(tmp_path):
    def rules(when: str) -> dict[str, str]:
        return {"r/rare": rule("component", when, "{forbid: No.}")}

    old = rules_in(rules_folder(tmp_path / "rules", rules("{object.rarity: {any_of: [few, common]}}")))
    values = next(line for line in terms().splitlines() if "values: [unique, few, representative, common]" in line)
    new = rules("{object.rarity: unique}")
    other = reworded(tmp_path / "other", "terms.yaml", values, values.replace(", common", ""), new)
    change = edition_change(Folder(tmp_path), small(tmp_path, old), old, other, DAY, "trial")
    (one,) = change.verdicts
    assert (one.stood, one.stands) == (False, True)
    assert (one.cause.makes, one.cause.rules, one.cause.words) == (Makes.WORDS, ("r/rare",), ("object.rarity",))


def terms() -> str:
    from helpers import WORDS

    return WORDS["terms.yaml"]


def test_a_casebook_that_does_not_read_by_the_new_words_is_told_file_by_file(tmp_path):
    old = rules_in(rules_folder(tmp_path / "rules", {"r/one": rule("component", "{}", "{note: So.}")}))
    line = "  grey-cast-iron: {density: 7200 ± 150 kg/m3}\n"
    other = reworded(tmp_path / "other", "terms.yaml", line, "", {"r/one": rule("component", "{}", "{forbid: No.}")})
    change = edition_change(Folder(tmp_path), small(tmp_path, old), old, other, DAY, "trial")
    assert (change.unread, change.decided, change.verdicts) == ("casebook", 0, ())
    assert [(one.where.file, one.where.line) for one in change.problems] == [("trial/components/slide.yaml", 3)]
    assert "components/slide.yaml:3" in text(change)
    assert edition_data(change)["problems"][0]["file"] == "components/slide.yaml"


def test_rules_that_do_not_read_are_told(tmp_path):
    old = rules_in(rules_folder(tmp_path / "rules", {"r/one": rule("component", "{}", "{note: So.}")}))
    other = rules_folder(tmp_path / "other", {"r/one": "title: A rule\n"})
    change = edition_change(Folder(tmp_path), small(tmp_path, old), old, other, DAY, "trial")
    assert (change.unread, change.new, change.verdicts) == ("rules", "", ())
    assert {one.where.file for one in change.problems} == {"rules/r/one.yaml"}
    assert "does not read" in edition_lines(change)[0] and "rules/r/one.yaml" in text(change)


def test_an_overlay_that_the_other_edition_lacks_is_told(tmp_path):
    old = rules_in(rules_folder(tmp_path / "rules", {"r/one": rule("component", "{}", "{note: So.}")}))
    casebook = small(tmp_path, old)
    laid = replace(casebook, object=replace(casebook.object, overlays=("local",)))
    change = edition_change(Folder(tmp_path), laid, old, Folder(tmp_path / "rules"), DAY, "trial")
    assert change.unread == "rules"
    assert any("overlays/local" in one.where.file for one in change.problems)


def test_an_answer_to_a_rule_that_is_gone_is_told_and_stops_nothing():
    names = tuple(name for p in demo().proposals for o in p.options for name in o.answers)
    change = of_demo(edition(shipped_rules(), without=names))
    assert change.decided == 5
    assert change.loose and all(one.code == "C074" for one in change.loose)
    assert "does not have them" in text(change)


# ---- telling ---------------------------------------------------------------------------------------------------------


def telling(change: EditionChange):
    return tuple(told(Document("Audit", (), (), (edition_section(change),), {})))


def text(change: EditionChange) -> str:
    return markdown(Document("Audit", (), (), (edition_section(change),), {}))


def a_change() -> EditionChange:
    one, other = shipped("use/upkeep-in-hand"), shipped("record/hidden-first")
    then = Effect(EffectKind.REFER, says="Ask *about* <b>{component}</b>.", to="conservator")
    new = edition(shipped_rules(), replace(one, when=one.when[:1]), replace(other, then=then))
    return of_demo(new)


def test_each_thing_is_told_once_and_under_a_name_of_its_own():
    section = edition_section(a_change())
    blocks = [block.id for block in section.blocks]
    assert len(blocks) == len(set(blocks))
    where = [one.where for one in telling(a_change())]
    assert len(where) == len(set(where))


def test_what_a_rule_says_is_told_as_text_and_never_as_markup():
    assert "<b>" not in text(a_change())


def test_it_says_that_no_decision_is_changed():
    assert "It changes no decision" in text(a_change())
    assert "5 of 5 decisions would come out otherwise: 5 would no longer stand" in text(a_change())


def test_it_is_plain_data_and_can_be_sent_to_another_machine():
    change = a_change()
    assert pickle.loads(pickle.dumps(change)) == change
    data = edition_data(change)
    assert json.loads(json.dumps(data)) == data
    (one,) = (found for found in data["verdicts"] if found["proposal"] == "stud-17")
    assert one["cause"]["enough"] == ["use/upkeep-in-hand"]
    assert one["on"] == "2026-03-10"


def test_decisions_that_move_for_the_same_cause_are_told_together():
    groups = [(cause.rules, [one.proposal for one in some]) for cause, some in a_change().groups]
    assert groups == [
        (("use/upkeep-in-hand",), ["crankshaft-journal", "guide-bar-back", "tray-bracket"]),
        (("record/hidden-first", "use/upkeep-in-hand"), ["crosshead-slipper", "stud-17"]),
    ]


def test_a_casebook_without_decisions_says_so():
    casebook = replace(demo(), proposals=tuple(p for p in demo().proposals if not p.decision))
    change = between(Folder(DEMO), casebook, shipped_rules(), shipped_rules(), DAY, "marrow-fen")
    assert edition_lines(change) == ("No decision has been made that could come out otherwise.",)
