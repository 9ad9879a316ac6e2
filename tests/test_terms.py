"""The words: terms.yaml and techniques.yaml, and what is wrong with them."""

from __future__ import annotations

import pytest
from helpers import WORDS, folder_of, places, shipped_rules

from conserve.terms import Cost, Giver, Kind, read_vocabulary

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
costs:
  look: {weight: 1, means: L.}
  ask: {weight: 2, means: A.}
lists: {surfaces: look, marks: look, repairs: ask, defects: look, history: ask}
terms:
  component.material: {giver: person, type: choice, values: materials, means: M., ask: What metal?, cost: look}
  component.sound: {giver: person, type: flag, means: S., ask: Is it sound?, cost: look}
  component.length: {giver: person, type: quantity, unit: mm, means: L., ask: How long?, cost: look}
  repair.state: {giver: person, type: choice, values: [good, bad], means: S., ask: How is it?, cost: look}
  component.mended_badly: {giver: roll-up, of: repair.state, is: [bad], type: flag, means: B., ask: Is any bad?}
  act.depth: {giver: person, type: quantity, unit: mm, means: D., ask: How deep?, cost: look}
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
    text = TERMS.replace(old, new, 1)
    if "giver: person" not in new and "giver: " in new:  # what nobody has to find out has no cost
        text = text.replace("Is it sound?, cost: look", "Is it sound?")
    assert wrong(tmp_path, text) == [("R040", 16, 3)]


def test_a_word_written_twice_has_a_second_giver_and_does_not_load(tmp_path):
    again = "  component.sound: {giver: rule, otherwise: no, type: flag, means: S., ask: Is it?}\n"
    assert wrong(tmp_path, TERMS + again) == [("R003", 24, 3)]


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("giver: person, type: flag", "giver: anybody, type: flag", ("R005", 16, 28)),
        ("type: flag, means: S.", "type: maybe, means: S.", ("R005", 16, 42)),
        ("values: materials", "values: metals", ("R005", 15, 61)),
        ("density: 7200 ± 150 kg/m3", "density: 7200 kg", ("R013", 8, 19)),
        ("uncertainty: 0.5 mm", "uncertainty: small", ("R012", 6, 23)),
        ("duties: [static, service]\n", "", ("R002", 1, 1)),
        ("  lead: {means: Leads.}", "  lead: {mean: Leads.}", ("R001", 3, 10)),
    ],
)
def test_a_fault_in_the_words_is_told_at_its_place(tmp_path, old, new, place):
    assert old in TERMS
    assert place in wrong(tmp_path, TERMS.replace(old, new, 1))


# ---- what it costs to find something out ----------------------------------------------------------


def test_a_cost_is_what_its_file_says_and_a_term_names_one(tmp_path):
    words, _ = read(tmp_path)
    assert words.costs == {"look": Cost("look", "L.", 1), "ask": Cost("ask", "A.", 2)}
    assert words.terms["component.sound"].cost == "look"
    assert words.terms["act.hides"].cost == ""
    assert words.lists == {"surfaces": "look", "marks": "look", "repairs": "ask", "defects": "look", "history": "ask"}


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("ask: Is it sound?, cost: look", "ask: Is it sound?", 16),
        ("ask: Is it sound?, cost: look", "ask: Is it sound?, cost: weigh", 16),
        ("ask: Is it sound?, cost: look", "ask: Is it sound?, chosen: yes, cost: look", 16),
        ("ask: Is any bad?", "ask: Is any bad?, cost: look", 19),
        ("ask: Does it hide?", "ask: Does it hide?, cost: look", 21),
        ("means: T.", "means: T., cost: look", 22),
    ],
)
def test_a_term_has_a_cost_if_it_has_to_be_found_out_and_only_then(tmp_path, old, new, line):
    assert old in TERMS
    assert wrong(tmp_path, TERMS.replace(old, new, 1)) == [("R055", line, 3)]


def test_what_is_chosen_needs_no_cost(tmp_path):
    assert wrong(tmp_path, TERMS.replace("ask: How deep?, cost: look", "ask: How deep?, chosen: yes")) == []


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("marks: look", "marks: weigh", ("R055", 13, 32)),
        ("defects: look, ", "", ("R002", 13, 8)),
        ("{weight: 1, means: L.}", "{weight: heavy, means: L.}", ("R012", 11, 18)),
        ("{weight: 1, means: L.}", "{means: L.}", ("R002", 11, 9)),
    ],
)
def test_a_fault_in_the_costs_is_told_at_its_place(tmp_path, old, new, place):
    assert old in TERMS
    assert wrong(tmp_path, TERMS.replace(old, new, 1))[0] == place


def test_the_shipped_costs_rise_and_each_is_used():
    words = shipped_rules().vocabulary
    weights = [cost.weight for cost in words.costs.values()]
    assert weights == sorted(set(weights))
    assert weights[0] > 0
    used = {term.cost for term in words.terms.values()} | set(words.lists.values())
    assert used - {""} == set(words.costs)


def test_what_only_a_report_may_state_costs_the_most():
    words = shipped_rules().vocabulary
    dearest = max(words.costs.values(), key=lambda cost: cost.weight).id
    stated = [term for term in words.terms.values() if term.stated_by]
    assert stated
    assert {term.cost for term in stated} == {dearest}


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


# ---- what is wrong with a term that a calculation gives --------------------------------------------

COMPUTED = TERMS + """\
  surface.diameter: {giver: person, type: quantity, unit: mm, means: D., ask: What diameter?, cost: look}
  surface.form: {giver: person, type: choice, values: [hole, shaft], means: F., ask: Hole or shaft?, cost: look}
  surface.holes: {giver: person, type: count, means: H., ask: How many?, cost: look}
  surface.oval: {giver: calculation, calculation: ovality, from: {diameters: surface.diameter}, type: quantity, unit: mm, means: O., ask: O?}
"""
OVAL = "{giver: calculation, calculation: ovality, from: {diameters: surface.diameter}, type: quantity, unit: mm,"


def made(calculation: str, given: str, told: str = "type: quantity, unit: mm", answer: str = "") -> str:
    """The head of a computed term."""
    return f"{{giver: calculation, calculation: {calculation}, {answer}from: {{{given}}}, {told},"


def test_a_term_is_the_answer_it_names_or_the_first_and_may_be_told_in_another_unit(tmp_path):
    told = COMPUTED.replace(OVAL, OVAL.replace("unit: mm", "unit: in"))
    words, problems = read(tmp_path, told)
    assert problems == ()
    assert dict(words.terms["surface.oval"].inputs) == {"diameters": "surface.diameter"}
    assert [term.name for term in words.computed("surface")] == ["surface.oval"]


@pytest.mark.parametrize(
    "new",
    [
        made("option_duty", "diameters: surface.diameter"),  # read off: takes nothing
        OVAL.replace("ovality,", "option_duty, answer: duty,").replace("from: {diameters: surface.diameter}, ", ""),
        made("roundness", "diameters: surface.diameter"),  # there is no such calculation
        made("ovality", "diameters: surface.diameter, form: surface.form"),  # it takes no form
        OVAL.replace("from: {diameters: surface.diameter}, ", ""),  # where from?
        made("running-clearance", "diameters: surface.diameter, form: surface.form"),  # and the mate?
        made("ovality", "diameters: surface.breadth"),  # there is no such term
        made("ovality", "diameters: act.depth"),  # a surface does not see an act
        made("ovality", "diameters: component.sound"),  # no quantity
        made("ovality", "diameters: surface.mass"),  # no length
        made("metal-drilled", "diameter: surface.diameter, depth: surface.diameter, holes: surface.diameter", "type: quantity, unit: cm3"),
        made("running-clearance", "diameters: surface.diameter, form: surface.diameter, mate: mate.diameter"),  # no word
        made("running-clearance", "diameters: surface.diameter, form: surface.holes, mate: mate.diameter"),
        made("ovality", "diameters: mate.oval"),  # the mate's is itself worked out
        made("ovality", "diameters: mate.breadth"),
        made("ovality", "diameters: surface.oval"),  # from itself
        made("ovality", "diameters: surface.diameter", answer="answer: roundness, "),
        made("ovality", "diameters: surface.diameter", "type: flag"),
        made("ovality", "diameters: surface.diameter", answer="answer: plane, "),  # a word
        made("ovality", "diameters: surface.diameter", "type: quantity, unit: kg"),
        made("against-limits", "measured: surface.diameter", answer="answer: within, "),  # yes or no
    ],
)  # fmt: skip
def test_a_computed_term_that_does_not_fit_its_calculation_is_told_at_its_name(tmp_path, new):
    mass = "  surface.mass: {giver: person, type: quantity, unit: kg, means: M., ask: M?, cost: look}\n"
    assert OVAL in COMPUTED
    found = wrong(tmp_path, COMPUTED.replace(OVAL, new, 1) + mass)
    assert set(found) == {("R040", 27, 3)}


def test_all_that_does_not_fit_in_one_computed_term_is_told_at_once(tmp_path):
    new = made("running-clearance", "diameters: component.sound, form: surface.form, oil: surface.form", "type: flag")
    (message, *more) = [p.message for p in read(tmp_path, COMPUTED.replace(OVAL, new, 1))[1]]
    assert len(more) == 3
    told = " ".join((message, *more))
    for word in ("'oil'", "'component.sound'", "'mate'", "flag"):
        assert word in told


@pytest.mark.parametrize("owner", ["component", "act"])
def test_only_a_surface_runs_on_another_face(tmp_path, owner):
    term = f"  {owner}.oval: {OVAL.replace('surface.diameter', 'mate.diameter')} means: O., ask: O?}}\n"
    assert wrong(tmp_path, COMPUTED + term) == [("R040", 28, 3)]
    there = term.replace(f"{owner}.oval", "surface.other")
    assert wrong(tmp_path, COMPUTED + there) == []


def circle(*terms: tuple[str, str]) -> str:
    return COMPUTED + "".join(
        f"  surface.{name}: {OVAL.replace('surface.diameter', given)} means: O., ask: O?}}\n" for name, given in terms
    )


def test_terms_that_are_worked_out_from_one_another_in_a_circle_are_all_told(tmp_path):
    near = circle(("one", "surface.two"), ("two", "surface.one"))
    assert wrong(tmp_path / "a", near) == [("R040", 28, 3), ("R040", 29, 3)]
    far = circle(("one", "surface.two"), ("two", "surface.three"), ("three", "surface.one"), ("four", "surface.one"))
    # The fourth leads into the circle and is not on it.
    assert wrong(tmp_path / "b", far) == [("R040", line, 3) for line in (28, 29, 30)]


def test_a_term_may_be_worked_out_from_one_that_is_itself_worked_out(tmp_path):
    words, problems = read(tmp_path, circle(("one", "surface.two"), ("two", "surface.oval")))
    assert problems == ()
    # What others need comes first, whatever the order in the file.
    assert [term.short for term in words.computed("surface")] == ["oval", "two", "one"]


@pytest.mark.parametrize(
    ("shared", "codes"), [("shared: 0.1 mm", []), ("shared: 0.1", ["R012"]), ("shared: some", ["R012"]), ("shared: 1 ell", ["R012"])]
)
def test_what_the_readings_of_an_instrument_share_is_a_quantity(tmp_path, shared, codes):
    text = TERMS.replace("uncertainty: 0.5 mm}", f"uncertainty: 0.5 mm, {shared}}}")
    assert [code for code, *_ in wrong(tmp_path, text)] == codes


def test_no_shipped_instrument_shares_more_than_its_whole_uncertainty():
    words = shipped_rules().vocabulary
    for name, share in words.shared.items():
        assert 0 < share.amount <= words.instruments[name].in_unit(share.unit).amount, name
