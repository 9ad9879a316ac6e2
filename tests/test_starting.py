"""Files to begin with: they hold every key, say nothing yet, and can be answered line by line."""

import re

import pytest

from conserve.casebook import Casebook, read_casebook
from conserve.casebook.shapes import shapes_of
from conserve.files import Folder, shipped
from conserve.problem import Problem
from conserve.starting import FOLDERS, component_text, measurements_text, object_text
from conserve.terms import PLACES, Giver, read_vocabulary

VOCABULARY = read_vocabulary(Folder(shipped("rules")))[0]
assert VOCABULARY is not None
SHAPES = shapes_of(VOCABULARY)
EXPLAINED = re.compile("# [^ ]")


def answered(text: str) -> str:
    """Take the mark off every line that is a key, as a person would."""
    return "\n".join(
        line[1:] if line.startswith("#") and not EXPLAINED.match(line) else line for line in text.split("\n")
    )


def in_casebook(tmp_path, the_object: str, component: str) -> tuple[Casebook | None, tuple[Problem, ...]]:
    for name in FOLDERS:
        (tmp_path / name).mkdir(exist_ok=True)
    (tmp_path / "object.yaml").write_text(the_object, encoding="utf-8")
    (tmp_path / "components/frame.yaml").write_text(component, encoding="utf-8")
    (tmp_path / "measurements.csv").write_text(measurements_text(), encoding="utf-8")
    return read_casebook(Folder(tmp_path), VOCABULARY, "new")


def test_what_has_just_been_begun_is_read_without_a_problem(tmp_path):
    casebook, problems = in_casebook(tmp_path, object_text("new", VOCABULARY), component_text("frame", VOCABULARY))
    assert problems == ()
    assert casebook is not None


def test_what_has_just_been_begun_says_nothing_but_a_name(tmp_path):
    casebook, _ = in_casebook(tmp_path, object_text("old-mill", VOCABULARY), component_text("frame", VOCABULARY))
    assert casebook is not None
    assert casebook.object.name == "Old mill"
    assert casebook.object.facts == {}
    part = casebook.components["frame"]
    assert (part.name, part.facts, part.surfaces, part.repairs, part.defects) == ("Frame", {}, None, None, None)


def test_every_line_can_be_answered_as_it_stands(tmp_path):
    casebook, problems = in_casebook(
        tmp_path, answered(object_text("new", VOCABULARY)), answered(component_text("frame", VOCABULARY))
    )
    assert problems == ()
    assert casebook is not None
    part = casebook.components["frame"]
    assert part.surfaces
    assert part.surfaces[0].marks
    assert part.repairs
    assert part.defects
    assert part.history
    assert part.stored
    assert casebook.object.people
    assert casebook.object.policy


def test_an_example_that_nobody_has_replaced_is_no_fact(tmp_path):
    casebook, _ = in_casebook(
        tmp_path, answered(object_text("new", VOCABULARY)), answered(component_text("frame", VOCABULARY))
    )
    assert casebook is not None
    part = casebook.components["frame"]
    assert set(part.facts) <= {"component.duty_now", "component.duty_wanted"}
    assert all(not thing.facts for thing in part.known_things())


@pytest.mark.parametrize(
    ("text", "shape"),
    [
        (object_text("new", VOCABULARY), SHAPES.object),
        (component_text("frame", VOCABULARY), SHAPES.component),
    ],
    ids=["object", "component"],
)
def test_every_key_is_there(text, shape):
    stated = {term.short for term in VOCABULARY.terms.values() if term.stated_by}
    for field in shape.fields:
        if field.name in ("alike", "each"):
            assert f"'{field.name}:" in text
        elif field.name not in stated:
            assert re.search(f"^#?{field.name}:", text, re.MULTILINE), field.name


def test_every_question_a_person_can_answer_is_asked():
    text = " ".join(re.sub(r"\n#? *#? ?", " ", component_text("frame", VOCABULARY)).split())
    for owner in ("component", *PLACES.values()):
        for term in VOCABULARY.of(owner, Giver.PERSON):
            if term.name not in ("component.duty_now", "component.duty_wanted"):  # asked together, under duty
                assert term.means in text, term.name
                assert re.split(r"[{,]", term.ask)[0].strip() in text, term.name


def test_no_placeholder_is_left_in_the_text():
    for text in (object_text("new", VOCABULARY), component_text("frame", VOCABULARY)):
        assert re.findall(r"\{[a-z_.]+\}", text) == []


@pytest.mark.parametrize(
    "name", ["12", "none", "no", "a: b", "it's #1", "-", "two\nlines", "  ", "Ölmühle", "[x", "null"]
)
def test_any_folders_name_makes_a_name_that_can_be_read(tmp_path, name):
    casebook, problems = in_casebook(tmp_path, object_text(name, VOCABULARY), component_text("frame", VOCABULARY))
    assert problems == ()
    assert casebook is not None
    assert casebook.object.name
