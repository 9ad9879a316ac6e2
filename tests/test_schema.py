"""The JSON Schemas: they let every file of the demonstration pass, and stop what is plainly wrong."""

from pathlib import Path

import jsonschema
import pytest

from conserve.files import Folder, shipped
from conserve.schema import NAMES, schemas
from conserve.terms import read_vocabulary
from conserve.yamlfile import Entries, Node, Text, parse

CASEBOOK = shipped("casebook") / "marrow-fen"
VOCABULARY = read_vocabulary(Folder(shipped("rules")))[0]
assert VOCABULARY is not None
SCHEMAS = schemas(VOCABULARY)
FILES = [
    (name, path)
    for name, pattern in (
        ("object", "object.yaml"),
        ("component", "components/*.yaml"),
        ("proposal", "proposals/*.yaml"),
        ("register", "evidence/register.yaml"),
    )
    for path in sorted(CASEBOOK.glob(pattern))
]


def content_of(node: Node) -> object:
    """What a reader of YAML that takes every scalar for text would make of it."""
    if isinstance(node, Text):
        return node.value.strip()
    if isinstance(node, Entries):
        return {key.value: content_of(value) for key, value in node.items}
    return [content_of(item) for item in node.items]


def read(text: str) -> object:
    node, problems = parse(text, "file.yaml", "C")
    assert node is not None
    assert not problems
    return content_of(node)


def faults(name: str, content: object) -> list[str]:
    checker = jsonschema.Draft202012Validator(SCHEMAS[name], format_checker=jsonschema.FormatChecker())
    return [f"{list(fault.absolute_path)}: {fault.message[:200]}" for fault in checker.iter_errors(content)]


@pytest.mark.parametrize("name", NAMES)
def test_each_schema_is_a_schema(name):
    jsonschema.Draft202012Validator.check_schema(SCHEMAS[name])
    assert SCHEMAS[name]["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_there_is_a_file_of_every_kind_to_try():
    assert {name for name, _ in FILES} == set(NAMES)


@pytest.mark.parametrize(("name", "path"), FILES, ids=lambda part: part.stem if isinstance(part, Path) else part)
def test_every_file_of_the_demonstration_passes(name, path):
    assert faults(name, read(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("object", "kind: crane\n"),
        ("object", "name: A mill\nkind: teapot\n"),
        ("component", "name: A shaft\nwaer: 0.1 mm\n"),
        ("component", "name: A shaft\nexamined: perhaps\n"),
        ("component", "name: A shaft\nfit_to_run: yes\n"),
        ("proposal", "title: A question\noptions:\n  leave: {acts: scraping}\n"),
        ("proposal", "title: A question\noptions:\n  Leave It: {acts: none}\n"),
        ("register", "a-sheet:\n  kind: rumour\n  date: 2026-01-02\n  by: lead\n  about: object\n  shows: it\n"),
        ("register", "a-sheet: {kind: report, date: 2026-13-02, by: lead, about: object, shows: it}\n"),
    ],
)
def test_what_is_plainly_wrong_does_not_pass(name, text):
    assert faults(name, read(text)) != []


def test_what_a_key_means_is_told_to_the_editor():
    wear = SCHEMAS["component"]["properties"]["material"]
    assert wear["description"] == VOCABULARY.terms["component.material"].means
