"""The words: terms.yaml and techniques.yaml, and what is wrong with them."""

from __future__ import annotations

import pytest
from helpers import WORDS, folder_of, places, shipped_rules

from conserve.terms import Giver, Kind, read_vocabulary

TERMS = """\
duties: [static, service]
roles:
  lead: {means: Leads.}
  examiner: {competent: yes, means: Examines.}
instruments:
  rule: {uncertainty: 0.5 mm}
materials:
  iron: {density: 7200 ± 150 kg/m3}
  wood: {}
terms:
  component.material: {giver: person, type: choice, values: materials, means: M., ask: What metal?}
  component.sound: {giver: person, type: flag, means: S., ask: Is it sound?}
  component.length: {giver: person, type: quantity, unit: mm, means: L., ask: How long?}
  repair.state: {giver: person, type: choice, values: [good, bad], means: S., ask: How is it?}
  component.mended_badly: {giver: roll-up, of: repair.state, is: [bad], type: flag, means: B., ask: Is any bad?}
  act.depth: {giver: person, type: quantity, unit: mm, means: D., ask: How deep?}
  act.hides: {giver: rule, type: flag, otherwise: no, means: H., ask: Does it hide?}
  technique.takes: {giver: technique, type: choice, values: [skim, nothing], means: T.}
  technique.examines: {giver: technique, type: flag, means: E.}
"""
TECHNIQUES = """\
milling: {does: milling it, rung: 7, takes: skim, numbers: [act.depth], clearance: opens-by-depth, source: practice}
looking: {does: looking, rung: 0, examines: yes, source: common-practice}
"""


def read(tmp_path, terms: str = TERMS, techniques: str = TECHNIQUES):
    return read_vocabulary(folder_of(tmp_path, {"terms.yaml": terms, "techniques.yaml": techniques}))


def wrong(tmp_path, terms: str = TERMS, techniques: str = TECHNIQUES) -> list[tuple[str, int, int]]:
    return places(read(tmp_path, terms, techniques)[1])


# ---- what is read --------------------------------------------------------------------------------


def test_words_are_what_their_files_say(tmp_path):
    words, problems = read(tmp_path)
    assert problems == ()
    material = words.terms["component.material"]
    assert (material.owner, material.short, material.giver, material.kind) == (
        "component",
        "material",
        Giver.PERSON,
        Kind.CHOICE,
    )
    assert material.values == ("iron", "wood")  # the list it names
    assert words.terms["component.sound"].values == ("yes", "no")
    assert words.terms["component.mended_badly"].holds_for == ("bad",)
    assert str(words.instruments["rule"].amount) == "0.5" or words.instruments["rule"].uncertainty is not None
    assert words.materials["wood"] is None
    assert words.roles == {"lead": False, "examiner": True}
    assert words.as_demanding("service", "static")
    assert not words.as_demanding("static", "service")


def test_what_a_technique_leaves_out_is_nothing_or_no(tmp_path):
    words, _ = read(tmp_path)
    assert words.techniques["milling"].facts == {"technique.takes": "skim", "technique.examines": "no"}
    assert words.techniques["looking"].takes == "nothing"
    assert words.techniques["looking"].examines


def test_words_can_be_asked_for_by_owner_and_giver(tmp_path):
    words, _ = read(tmp_path)
    assert [t.short for t in words.of("component", Giver.PERSON)] == ["material", "sound", "length"]
    assert [t.short for t in words.of("act", Giver.RULE)] == ["hides"]
    assert words.of("mark") == ()


def test_every_shipped_word_that_a_person_gives_has_a_question():
    for term in shipped_rules().vocabulary.terms.values():
        assert term.means
        assert term.ask.endswith("?") or term.giver is Giver.TECHNIQUE, term.name


def test_a_technique_that_only_looks_touches_nothing():
    techniques = shipped_rules().vocabulary.techniques
    assert not techniques["examination"].touches
    assert not techniques["load-limiting"].touches
    assert all(t.touches for t in techniques.values() if t.takes != "nothing")


# ---- what is wrong with a term -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("component.sound: {giver: person", "engine.sound: {giver: person"),
        ("component.sound:", "component:"),
        ("means: S., ask: Is it sound?", "means: S."),
        ("{giver: person, type: flag, means: S.", "{giver: person, type: choice, means: S."),
        ("{giver: person, type: flag, means: S.", "{giver: person, type: quantity, means: S."),
        ("type: flag, means: S.", "type: flag, unit: mm, means: S."),
        ("{giver: person, type: flag, means: S.", "{giver: person, type: quantity, unit: ell, means: S."),
        ("{giver: person, type: flag, means: S.", "{giver: calculation, type: flag, means: S."),
        ("{giver: person, type: flag, means: S.", "{giver: calculation, calculation: guess, type: flag, means: S."),
        ("{giver: person, type: flag, means: S.", "{giver: person, calculation: option_duty, type: flag, means: S."),
        ("{giver: person, type: flag, means: S.", "{giver: rule, type: flag, means: S."),
        ("{giver: person, type: flag, means: S.", "{giver: rule, otherwise: perhaps, type: flag, means: S."),
        ("type: flag, means: S.", "type: flag, stated_by: nobody, means: S."),
        ("{giver: person, type: flag, means: S.", "{giver: roll-up, of: rivet, type: flag, means: S."),
        (
            "{giver: person, type: flag, means: S.",
            "{giver: roll-up, of: repair.state, is: [worse], type: flag, means: S.",
        ),
        ("{giver: person, type: flag, means: S.", "{giver: roll-up, of: act.hides, is: [yes], type: flag, means: S."),
    ],
)
def test_a_term_that_does_not_fit_together_is_told_at_its_name(tmp_path, old, new):
    assert old in TERMS
    assert wrong(tmp_path, TERMS.replace(old, new, 1)) == [("R040", 12, 3)]


def test_a_word_written_twice_has_a_second_giver_and_does_not_load(tmp_path):
    again = "  component.sound: {giver: rule, otherwise: no, type: flag, means: S., ask: Is it?}\n"
    assert wrong(tmp_path, TERMS + again) == [("R003", 20, 3)]


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("giver: person, type: flag", "giver: anybody, type: flag", ("R005", 12, 28)),
        ("type: flag, means: S.", "type: maybe, means: S.", ("R005", 12, 42)),
        ("values: materials", "values: metals", ("R005", 11, 61)),
        ("density: 7200 ± 150 kg/m3", "density: 7200 kg", ("R013", 8, 19)),
        ("uncertainty: 0.5 mm", "uncertainty: small", ("R012", 6, 23)),
        ("duties: [static, service]\n", "", ("R002", 1, 1)),
        ("  lead: {means: Leads.}", "  lead: {mean: Leads.}", ("R001", 3, 10)),
    ],
)
def test_a_fault_in_the_words_is_told_at_its_place(tmp_path, old, new, place):
    assert old in TERMS
    assert place in wrong(tmp_path, TERMS.replace(old, new, 1))


# ---- what is wrong with a technique --------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("takes: skim", "takes: skin", ("R005", 1, 45)),
        ("numbers: [act.depth]", "numbers: [act.length]", ("R005", 1, 61)),
        ("clearance: opens-by-depth", "clearance: opens", ("R005", 1, 84)),
        ("rung: 7", "rung: high", ("R012", 1, 35)),
        (", source: practice}\nlooking", "}\nlooking", ("R002", 1, 10)),
        ("rung: 7", "rung: 7, melts: yes", ("R001", 1, 38)),
    ],
)
def test_a_fault_in_a_technique_is_told_at_its_place(tmp_path, old, new, place):
    assert old in TECHNIQUES
    assert wrong(tmp_path, TERMS, TECHNIQUES.replace(old, new, 1)) == [place]


@pytest.mark.parametrize("name", ["terms.yaml", "techniques.yaml"])
def test_without_one_of_its_files_there_are_no_words(tmp_path, name):
    files = {key: text for key, text in WORDS.items() if key != name}
    words, problems = read_vocabulary(folder_of(tmp_path, files))
    assert words is None
    assert [(p.code, p.where.file) for p in problems] == [("R029", f"rules/{name}")]
