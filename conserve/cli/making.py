"""The commands that make files to begin with: start, schema."""

from __future__ import annotations

import argparse
import os
import re
from pathlib import Path

from conserve.cli.parser import Parser, takes_casebook, takes_rules, with_example
from conserve.cli.reading import Refused, find, read_words, shown_path
from conserve.cli.showing import as_json
from conserve.files import Folder

DONE = 0
_ID = re.compile("[a-z0-9]+(?:-[a-z0-9]+)*")
_PROFILE = "profile"
_SCHEMAS = ("object", "component", "proposal", "register", _PROFILE)  # as in conserve.schema, which is slower to load


# ---- start ------------------------------------------------------------------------------------------


def add_start(parser: argparse.ArgumentParser) -> None:
    with_example(parser, "conserve start casebook casebook/north-mill", "conserve start component wheel-shaft")
    below = parser.add_subparsers(title="what to begin", metavar="WHAT", required=True, parser_class=Parser)
    casebook = below.add_parser(
        "casebook",
        help="a casebook for one object",
        description="Begin a casebook for one object. Nothing is overwritten.",
    )
    casebook.add_argument("folder", metavar="FOLDER", help="where it will stand; its name becomes the casebook's id")
    takes_rules(casebook)
    with_example(casebook, "conserve start casebook casebook/north-mill")
    casebook.set_defaults(run=start_casebook)
    component = below.add_parser(
        "component",
        help="the file of one component",
        description="Begin the file of one component, with every question as a comment. Nothing is overwritten.",
    )
    component.add_argument("id", metavar="ID", help="the component's id: small letters, digits and hyphens")
    takes_casebook(component)
    takes_rules(component)
    with_example(component, "conserve start component wheel-shaft --in casebook/north-mill")
    component.set_defaults(run=start_component)


def start_casebook(given: argparse.Namespace) -> int:
    from conserve.starting import FOLDERS, measurements_text, object_text

    if not given.folder.strip():
        raise Refused("a casebook needs a folder with a name", "conserve start casebook casebook/north-mill")
    root = Path(given.folder)
    words = read_words(given.rules)
    texts = {"object.yaml": object_text(root.resolve().name, words), "measurements.csv": measurements_text()}
    for name in texts:
        _must_be_new(root / name)
    root.mkdir(parents=True, exist_ok=True)
    for name in FOLDERS:
        (root / name).mkdir(exist_ok=True)
    for name, text in texts.items():
        Folder(root).write(name, text)
    shown = shown_path(root)
    print(f"{shown} is begun. Fill in {shown}/object.yaml, then: conserve start component ID --in {shown}")
    return DONE


def start_component(given: argparse.Namespace) -> int:
    from conserve.starting import component_text

    if not _ID.fullmatch(given.id):
        like = "-".join(re.findall("[a-z0-9]+", given.id.lower()))
        what = f"'{given.id}' is not an id: small letters, digits and single hyphens"
        raise Refused(what, f"write {like}" if like else "")
    place = find(None, given.inside)
    name = f"components/{given.id}.yaml"
    _must_be_new(place.root / name)
    Folder(place.root).write(name, component_text(given.id, read_words(given.rules)))
    print(f"{place.shown}/{name} is begun. Take the # off a line to answer it, then: conserve check {place.shown}")
    return DONE


def _must_be_new(path: Path) -> None:
    if os.path.lexists(path):
        raise Refused(f"'{shown_path(path)}' is there already, and is left as it is", "name another, or edit that one")


# ---- schema -----------------------------------------------------------------------------------------


def add_schema(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", nargs="?", choices=_SCHEMAS, metavar="NAME", help=f"only one of {', '.join(_SCHEMAS)}")
    parser.add_argument("--write", metavar="FOLDER", help="write each as NAME.schema.json into this folder")
    takes_rules(parser)
    with_example(parser, "conserve schema component", "conserve schema --write .schemas")
    parser.set_defaults(run=schema)


def schema(given: argparse.Namespace) -> int:
    from conserve.readiness.shapes import profile_shape
    from conserve.schema import described, schemas

    words = read_words(given.rules)
    title = "What a purpose asks for: profiles/ID.yaml"
    found = {**schemas(words), _PROFILE: described(title, profile_shape(words))}
    if given.name:
        found = {given.name: found[given.name]}
    if not given.write:
        print(as_json(found[given.name] if given.name else found))
        return DONE
    root = Path(given.write)
    root.mkdir(parents=True, exist_ok=True)
    for name, content in found.items():
        Folder(root).write(f"{name}.schema.json", f"{as_json(content)}\n")
        print(f"{shown_path(root)}/{name}.schema.json")
    return DONE
