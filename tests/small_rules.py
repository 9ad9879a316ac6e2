"""Small rulebooks made at random, and every case of their few words: what a search of all cases is held against.

Nothing here knows how the search goes about it. A rule's truth comes from `tried`, which asks the engines, and a
finding's standing from the weighing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from functools import lru_cache
from itertools import combinations, product
from pathlib import Path
from tempfile import TemporaryDirectory

from helpers import folder_of
from hypothesis import strategies as st

from conserve.engine import circles
from conserve.facts import Subject
from conserve.inference import Finding, tried
from conserve.problem import Location
from conserve.quantity import Quantity, parse_quantity
from conserve.rule import Bound, Effect, EffectKind, Override, Premise, Rule, Stage, Status, Test
from conserve.rulebook import Rulebook
from conserve.rulebook.programs import program_of
from conserve.search.case import as_given
from conserve.terms import SEES, Vocabulary, read_vocabulary
from conserve.truth import Truth
from conserve.weighing.model import Standing
from conserve.weighing.standing import key_of, standings

TERMS = """\
    duties: [stored]
    roles: {lead: {means: Leads.}}
    instruments: {}
    materials: {iron: {}}
    costs: {look: {weight: 1, means: Look.}}
    lists: {surfaces: look, marks: look, repairs: look, defects: look, history: look}
    terms:
      object.rarity: {giver: person, cost: look, type: choice, values: [unique, few], means: So., ask: So?}
      component.role: {giver: person, cost: look, type: choice, many: yes, values: [bearing, plate], means: So., ask: So?}
      surface.wear: {giver: person, cost: look, type: quantity, unit: mm, means: So., ask: So?}
      surface.relief: {giver: person, cost: look, type: quantity, unit: mm, means: So., ask: So?}
      act.technique: {giver: person, cost: look, type: choice, values: techniques, means: So., ask: So?}
      act.hides: {giver: rule, type: flag, otherwise: no, means: So., ask: So?}
      act.promises: {giver: rule, type: choice, values: [function, safety, nothing], otherwise: nothing, means: So., ask: So?}
      component.may_be_renewed: {giver: rule, type: flag, otherwise: no, means: So., ask: So?}
      technique.takes: {giver: technique, type: choice, values: [skim, bore, nothing], means: So.}
      technique.covers: {giver: technique, type: flag, means: So.}
    """
TECHNIQUES = """\
    milling: {does: milling, rung: 1, takes: skim, source: common-practice}
    painting: {does: painting, rung: 1, covers: yes, source: common-practice}
    wiping: {does: wiping, rung: 1, source: common-practice}
    """
Given = Mapping[str, tuple[str | Quantity, ...]]
HERE = Location("rules/r.yaml")
OWNERS = {"object": (), "component": ("object",), "surface": ("component", "object")}
OWNERS["act"] = ("option", "proposal", "component", "object")


@lru_cache(maxsize=1)
def vocabulary() -> Vocabulary:
    """Ten words and three techniques."""
    with TemporaryDirectory() as root:
        words, problems = read_vocabulary(folder_of(Path(root), {"terms.yaml": TERMS, "techniques.yaml": TECHNIQUES}))
    assert words is not None, problems
    return words


def mm(text: str) -> Quantity:
    return parse_quantity(f"{text} mm", "mm", exact=True)


# ---- every case -------------------------------------------------------------------------------------

WORDY: dict[str, tuple[tuple[str | Quantity, ...] | None, ...]] = {
    "object.rarity": (None, ("unique",), ("few",)),
    "component.role": (None, (), ("bearing",), ("plate",), ("bearing", "plate")),
    "act.technique": (("milling",), ("painting",), ("wiping",)),
}
# Limits are 1 and 2 mm: two numbers fit below, between and above them in either order.
_LENGTHS = (None, *((mm(text),) for text in ("0.3", "0.6", "1", "1.3", "1.6", "2", "2.3", "2.6")))
NUMBERED = {"surface.wear": _LENGTHS, "surface.relief": _LENGTHS, "act.technique": WORDY["act.technique"]}


def cases(words: Mapping[str, tuple[tuple[str | Quantity, ...] | None, ...]]) -> Iterator[Given]:
    """Every case of these words; a word that is left out is not known."""
    for values in product(*words.values()):
        yield {name: value for name, value in zip(words, values, strict=True) if value is not None}


def truths(given: Given, rulebook: Rulebook) -> dict[str, Truth]:
    """What every adopted rule comes to in a case, as the engines have it."""
    facts = as_given(given, rulebook.vocabulary)
    states = {"silent": Truth.NO, "open": Truth.UNKNOWN}
    return {r.id: states.get(tried(r, facts, rulebook).outcome, Truth.YES) for r in adopted(rulebook)}


def standing(found: Mapping[str, Truth], rulebook: Rulebook) -> dict[str, Standing]:
    """How every finding of a case stands, as the weighing has it; a silent rule is out."""
    findings = [Finding(r, subject(r.about), found[r.id], ()) for r in adopted(rulebook)]
    settled = standings(f for f in findings if f.truth is not Truth.NO)
    return {f.rule.id: settled[key_of(f)][0] if key_of(f) in settled else Standing.OUT for f in findings}


def subject(kind: str) -> Subject:
    return Subject(kind, kind, kind, {}, OWNERS[kind])


def adopted(rulebook: Rulebook) -> tuple[Rule, ...]:
    return tuple(r for r in rulebook.rules if r.status is Status.ADOPTED)


Known = tuple[tuple[Given, dict[str, Truth], dict[str, Standing]], ...]


def every_case(rulebook: Rulebook, numbered: bool) -> Known:
    """Every case, with what each rule comes to there and how it stands."""
    found = []
    for given in cases(NUMBERED if numbered else WORDY):
        here = truths(given, rulebook)
        found.append((given, here, standing(here, rulebook)))
    return tuple(found)


# ---- random rulebooks -------------------------------------------------------------------------------


def premise(term: str, *accepts: str, bounds: tuple[Bound, ...] = ()) -> Premise:
    return Premise(term, Test(accepts, bounds), HERE)


def _choice(term: str, *values: str) -> st.SearchStrategy[Premise]:
    some = [chosen for size in range(1, len(values) + 1) for chosen in combinations(values, size)]
    return st.sampled_from(some).map(lambda accepts: premise(term, *accepts))


@st.composite
def _length(draw: st.DrawFn, term: str, other: str) -> Premise:
    if draw(st.booleans()) and draw(st.booleans()):
        return premise(term, bounds=(Bound("at_least", mm("1")), Bound("at_most", mm("2"))))
    limit = draw(st.sampled_from([mm("1"), mm("2"), other]))
    return premise(term, bounds=(Bound(draw(st.sampled_from(["above", "below", "at_least", "at_most"])), limit),))


_TAKES = _choice("technique.takes", "skim", "bore", "nothing")
_COVERS = _choice("technique.covers", "yes", "no")
_ABOUT = {
    "component": [_choice("object.rarity", "unique", "few"), _choice("component.role", "bearing", "plate")],
    "act": [
        _choice("object.rarity", "unique", "few"),
        _choice("component.role", "bearing", "plate"),
        _TAKES,
        _COVERS,
        _choice("act.technique", "milling", "painting", "wiping"),
        _choice("act.hides", "yes", "no"),
        _choice("act.promises", "function", "safety", "nothing"),
        _choice("component.may_be_renewed", "yes", "no"),
    ],
}
_NUMBERED = [_length("surface.wear", "surface.relief"), _length("surface.relief", "surface.wear"), _TAKES, _COVERS]


def _effects(about: str) -> st.SearchStrategy[Effect]:
    words = {"component": [("component.may_be_renewed", "yes"), ("component.may_be_renewed", "no")]}
    given = words.get(about) or [("act.hides", "yes"), ("act.promises", "function"), ("act.promises", "safety")]
    says = st.sampled_from(["So.", "Otherwise."])
    return st.one_of(
        says.map(lambda said: Effect(EffectKind.FORBID, says=said)),
        says.map(lambda said: Effect(EffectKind.AGAINST, says=said)),
        says.map(lambda said: Effect(EffectKind.REFER, says=said, to="lead")),
        st.sampled_from(list(Stage)).map(lambda by: Effect(EffectKind.REQUIRE, says="So.", by=by)),
        st.just(Effect(EffectKind.REQUIRE, says="So.", by=Stage.AFTER_WORK, routine=True)),
        st.just(Effect(EffectKind.NOTE, says="So.")),
        st.sampled_from(given).map(lambda pair: Effect(EffectKind.ESTABLISH, establishes=pair)),
    )


@st.composite
def _rule(draw: st.DrawFn, name: str, numbered: bool) -> Rule:
    about = "act" if numbered else draw(st.sampled_from(["act", "act", "component"]))
    asked = draw(st.lists(st.one_of(_NUMBERED if numbered else _ABOUT[about]), max_size=3))
    when = tuple({one.term: one for one in asked}.values())
    return Rule(
        name, name, Status.ADOPTED, date(2026, 1, 1), about, (), "So.", when, draw(_effects(about)), (), (), (), HERE
    )  # fmt: skip


@st.composite
def _edges(draw: st.DrawFn, rule: Rule, others: tuple[Rule, ...]) -> tuple[Override, ...]:
    telling = [o for o in others if EffectKind.ESTABLISH not in (o.then.kind, rule.then.kind)]
    chosen = draw(st.lists(st.sampled_from(telling), max_size=2, unique=True)) if telling else []
    return tuple(Override(other.id, "so", HERE) for other in chosen)


@st.composite
def small_rules(draw: st.DrawFn, numbered: bool, prefix: str = "r", most: int = 5) -> tuple[Rule, ...]:
    """A few rules; each overrides only those before it, so that there are no circles."""
    rules: tuple[Rule, ...] = ()
    for number in range(draw(st.integers(1, most))):
        rule = draw(_rule(f"{prefix}/{number}", numbered))
        rules += (replace(rule, overrides=draw(_edges(rule, rules))),)
    return rules


@st.composite
def small_rulebooks(draw: st.DrawFn, numbered: bool) -> Rulebook:
    made = None
    while made is None:
        made = book(draw(small_rules(numbered)))
    return made


def book(rules: tuple[Rule, ...]) -> Rulebook | None:
    """A rulebook; none where its words wait for one another."""
    words = vocabulary()
    programs = {kind: program_of(rules, kind, words) for kind in SEES}
    if any(circles(one.program) for one in programs.values()):
        return None
    return Rulebook(words, {}, tuple(sorted(rules, key=lambda r: r.id)), (), programs, "")
