"""Read a rules folder and the overlays that are laid over it, or say everything that is wrong with them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import replace

from conserve.engine import circles
from conserve.files import PROFILES, Folder, is_a_rule
from conserve.problem import Problem, nearest
from conserve.rule import Override, Rule, Status, read_rule, rule_shape
from conserve.rulebook.checking import check_beside, check_can_apply, check_clashes, check_overrides, check_sources
from conserve.rulebook.model import Clauses, Overlay, Rulebook
from conserve.rulebook.programs import program_of
from conserve.shape import (
    Choice,
    Either,
    Field,
    Identifier,
    Line,
    ListOf,
    MapOf,
    Problems,
    Record,
    RuleName,
    Value,
    Words,
)
from conserve.terms import SEES, Vocabulary, read_vocabulary
from conserve.yamlfile import Entries, Node, Text, read_yaml

SOURCES = MapOf(
    Identifier(),
    Record(
        (
            Field("title", Line(), required=True),
            Field("edition", Line()),
            Field("publisher", Line()),
            Field("url", Line()),
            Field("note", Words()),
            Field(
                "clauses",
                Either(
                    text=Choice(("none",), "clauses"),
                    entries=MapOf(
                        Line(),
                        Record(
                            (
                                Field("gist", Words(), required=True),
                                Field("read", Choice(("yes", "in part", "no"), "answer"), required=True),
                                Field("note", Words()),
                            )
                        ),
                    ),
                ),
                required=True,
            ),
        )
    ),
)
_NOT_WEIGHED = "sequence.yaml"  # the order of a workshop sheet: no verdict rests on it
_OVERLAYS = "overlays/"
_OVERLAY = Record(
    (
        Field("title", Line(), required=True),
        Field("says", Words(), required=True),
        Field(
            "withdraws",
            ListOf(Record((Field("rule", RuleName(), required=True), Field("why", Words(), required=True))), none=True),
            required=True,
        ),
    )
)


def overlays_of(folder: Folder) -> tuple[str, ...]:
    """The names of the overlays that a rules folder offers."""
    return tuple(n.split("/")[1] for n in folder.names("overlays", ".yaml") if n.endswith("/overlay.yaml"))


def files_of(folder: Folder, overlays: tuple[str, ...] = ()) -> tuple[str, ...]:
    """The names of all files that a rulebook with these overlays is read from, sorted: those its digest is made of."""
    names = (n for n in folder.names("", ".yaml") if not n.startswith(_OVERLAYS) or n.split("/")[1] in overlays)
    return tuple(n for n in names if n != _NOT_WEIGHED and not n.startswith(PROFILES))


ReadWords = tuple[Vocabulary | None, tuple[Problem, ...]]  # what reading the words of a rules folder gave


def read_rulebook(
    folder: Folder, overlays: tuple[str, ...] = (), words: ReadWords | None = None
) -> tuple[Rulebook | None, tuple[Problem, ...]]:
    """Read every rule in a folder and in the overlays that are named, or say everything that is wrong with them.

    `words` is what `read_vocabulary` gave for the same folder, where that has been called already.
    """
    vocabulary, problems = words or read_vocabulary(folder)
    into = Problems("R")
    into.extend(problems)
    names = files_of(folder, overlays)
    sources = _read_sources(folder, [n for n in names if n.endswith("sources.yaml")], into)
    if vocabulary is None:
        return None, into.all
    laid = tuple(one for name in sorted(set(overlays)) if (one := _read_overlay(folder, name, into)) is not None)
    files = [n for n in names if is_a_rule(n)]
    rules = tuple(rule for name in files if (rule := _read_rule(folder, name, vocabulary, into)) is not None)
    rules = _without_withdrawn(rules, laid, into)
    check_sources(rules, sources, into)
    check_overrides(rules, into)
    check_beside(rules, into)
    check_clashes(rules, vocabulary, into)
    check_can_apply(rules, vocabulary, into)
    programs = {kind: program_of(rules, kind, vocabulary) for kind in SEES}
    for kind in SEES:
        for circle in circles(programs[kind].program):
            where = next(r.where for r in rules if r.about == kind)
            into.note(where, 52, f"terms establish one another in a circle: {' > '.join(circle)}")
    if into.all:
        return None, into.all
    return Rulebook(vocabulary, sources, rules, laid, programs, digest_of_files(folder, names)), ()


def _read_overlay(folder: Folder, name: str, into: Problems) -> Overlay | None:
    file = f"{_OVERLAYS}{name}/overlay.yaml"
    node, problems = read_yaml(folder, file, "R", shown=f"rules/{file}")
    into.extend(problems)
    value = None if node is None else _OVERLAY.read(node, into)
    if value is None:
        return None
    said = value.content
    return Overlay(
        name,
        said["title"].content,
        said["says"].content.strip(),
        tuple(
            Override(one.content["rule"].content, one.content["why"].content.strip(), one.content["rule"].where)
            for one in said["withdraws"].content
        ),
    )


def _without_withdrawn(rules: tuple[Rule, ...], laid: tuple[Overlay, ...], into: Problems) -> tuple[Rule, ...]:
    """The rules, those that an overlay takes out marked as withdrawn."""
    by_id = {rule.id: rule for rule in rules}
    for edge in (edge for overlay in laid for edge in overlay.withdraws):
        rule = by_id.get(edge.rule)
        if rule is None:
            known = nearest(edge.rule, by_id)
            hint = f"did you mean '{known}'?" if known else ""
            into.note(edge.where, 54, f"withdraws '{edge.rule}', which does not exist", hint)
        elif rule.then.gate:
            into.note(edge.where, 54, f"'{edge.rule}' is a gate of law or safety, and cannot be withdrawn")
        else:
            by_id[edge.rule] = replace(rule, status=Status.WITHDRAWN)
    return tuple(by_id.values())


def _read_sources(folder: Folder, names: Iterable[str], into: Problems) -> dict[str, Clauses]:
    """The sources of the rulebook and of its overlays; one that is written twice is a problem."""
    found: dict[str, Clauses] = {}
    for file in names:
        node, problems = read_yaml(folder, file, "R", shown=f"rules/{file}")
        into.extend(problems)
        value = None if node is None else SOURCES.read(node, into)
        for name, entry in (value.content if value else {}).items():
            if name in found:
                into.note(entry.key or entry.where, 48, f"the source '{name}' is written twice", "write it once")
            else:
                found[name] = clauses_of(name, entry)
    if not any(name == "sources.yaml" for name in names):
        into.extend(read_yaml(folder, "sources.yaml", "R", shown="rules/sources.yaml")[1])
    return found


def clauses_of(name: str, entry: Value) -> Clauses:
    """A published source and its clauses, as its entry says."""
    said = entry.content
    clauses = said["clauses"].content if "clauses" in said else {}
    title, edition, publisher = (str(said[k].content) if k in said else "" for k in ("title", "edition", "publisher"))
    gists = (
        {}
        if isinstance(clauses, str)
        else {c: (v.content["gist"].content.strip(), v.content["read"].content) for c, v in clauses.items()}
    )
    return Clauses(name, title, edition, publisher, gists)


def _read_rule(folder: Folder, name: str, vocabulary: Vocabulary, into: Problems) -> Rule | None:
    node, problems = read_yaml(folder, name, "R", shown=f"rules/{name}")
    into.extend(problems)
    if node is None:
        return None
    value = rule_shape(_about(node), vocabulary).read(node, into)
    if value is None or any(problem.where.file == f"rules/{name}" for problem in into.all):
        return None
    rule = read_rule(value, vocabulary, into)
    path = name.removesuffix(".yaml").removeprefix(_OVERLAYS)
    if rule.id != path:
        into.note(rule.where, 47, f"the id '{rule.id}' is not the file's path", f"id: {path}")
    return rule


def _about(node: Node) -> str:
    """What the rule is about, before it can be read; a wrong one is reported when it is."""
    if isinstance(node, Entries):
        for key, value in node.items:
            if key.value == "about" and isinstance(value, Text) and value.value in SEES:
                return value.value
    return "act"


def digest_of_files(folder: Folder, names: Iterable[str]) -> str:
    """One SHA-256 over the names and digests of files; over those that can change a verdict, a rulebook's digest."""
    lines = (f"{folder.digest(name)}  {name}\n" for name in sorted(names))
    return hashlib.sha256("".join(lines).encode()).hexdigest()
