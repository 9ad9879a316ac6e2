"""Read a profile: what a funder or a board asks for, as data. A new profile needs no Python.

`rules/profiles/NAME.yaml` came along; `profiles/NAME.yaml` in a casebook is its own. Each requirement is answered by
a list of asks, and each of them must hold. An ask is one of these:

    field: object.NAME                     something written of the object, and not `unknown`
    field: component.NAME, of: all         the same of every component
      any_of: [VALUE, …]                   one of these values, and no other
    person: ROLE                           a person of that role is named, with what makes them competent
    policy: says | routine-care | holding-works | review           what the owner has agreed
    budget: currency | contingency | stages                        how money is reckoned
    options: at-least-3                    each proposal has three options, or says there is none between
    costs: each-proposal | with-uncertainty | with-basis | staged | skills
                                           every choice that does something is costed, and how well
    record: each-decided | reasons-first | standing | need-shown | safety-shown | reviewed | written
                                           what holds of each proposal
    work: as-left                          finished work is measured and owes nothing
    statement: whole | SECTION             the conservation statement is written, and nothing has overtaken it
    evidence: {kind, role, grade, about: object | each-proposal, dated: before-work, answers: this}
                                           such evidence is registered, for each proposal about all its parts; with
                                           `answers: this` it says so itself, under its own `answers:`, as
                                           profiles/PROFILE/REQUIREMENT
    register: rights | audience | digests  every entry of the register says whose it is, who may see it, its digest
"""

from __future__ import annotations

from typing import Any

from conserve.casebook.model import Audience
from conserve.files import PROFILES, Folder, shipped
from conserve.problem import InvalidInput, nearest
from conserve.readiness.model import SAID_OF_COMPONENT, SAID_OF_OBJECT, SECTIONS, WHOLE, Ask, Profile, Wanted
from conserve.readiness.shapes import KINDS, profile_shape
from conserve.rule import COMMON_PRACTICE, Citation
from conserve.rulebook import Rulebook, read_rulebook
from conserve.rulebook.model import Clauses
from conserve.rulebook.reading import clauses_of
from conserve.shape import Problems, Value
from conserve.terms import Giver, Vocabulary
from conserve.yamlfile import read_yaml


def profiles_of(folder: Folder, rules: Folder | None = None) -> dict[str, bool]:
    """The names of the profiles there are, and whether each is the casebook's own."""
    along = dict.fromkeys(_names(rules or Folder(shipped("rules"))), False)
    return dict(sorted({**along, **dict.fromkeys(_names(folder), True)}.items()))


def _names(folder: Folder) -> tuple[str, ...]:
    found = (name.removeprefix(PROFILES).removesuffix(".yaml") for name in folder.names(PROFILES[:-1], ".yaml"))
    return tuple(name for name in found if "/" not in name)


def read_profile(
    folder: Folder, name: str, rulebook: Rulebook | None = None, rules: Folder | None = None, shown: str = ""
) -> Profile:
    """Read a profile by its name, or raise `InvalidInput` with all that is wrong with it.

    `folder` is the casebook's and `shown` how it is told; `FileRefused` where there is no such profile.
    """
    rules = rules or Folder(shipped("rules"))
    rulebook = rulebook or _rulebook(rules)
    own, file = name in _names(folder), f"{PROFILES}{name}.yaml"
    place = f"{shown}/{file}" if own and shown else file if own else f"rules/{file}"
    into = Problems("R")
    node, problems = read_yaml(folder if own else rules, file, "R", shown=place)
    into.extend(problems)
    value = None if node is None else profile_shape(rulebook.vocabulary).read(node, into)
    if value is not None and own and name in _names(rules):
        into.note(value.where, 57, f"there is a profile '{name}' already, which came along", "give it another name")
    profile = None if value is None else _profile(name, value, rulebook, into)
    if profile is None or into.all:
        raise InvalidInput(into.all)
    return profile


def _rulebook(rules: Folder) -> Rulebook:
    rulebook, problems = read_rulebook(rules)
    if rulebook is None:
        raise InvalidInput(problems)
    return rulebook


def _profile(name: str, value: Value, rulebook: Rulebook, into: Problems) -> Profile:
    said = value.content
    own = {key: clauses_of(key, entry) for key, entry in (said["sources"].content if "sources" in said else {}).items()}
    for key in own:
        if key in rulebook.sources:
            where = said["sources"].content[key].key or value.where
            into.note(where, 48, f"the source '{key}' is written twice", "the rules have it already: cite it")
    known = {**rulebook.sources, **own}
    if not said["requires"].content and not _noted_below(said["requires"], into):
        into.note(said["requires"].where, 58, "asks for nothing", "write what it asks for under 'requires:'")
    return Profile(
        name,
        said["title"].content,
        said["says"].content,
        Audience(said["audience"].content),
        own,
        tuple(_wanted(key, entry, known, rulebook.vocabulary, into) for key, entry in said["requires"].content.items()),
        value.where,
    )


def _wanted(key: str, entry: Value, known: dict[str, Clauses], vocabulary: Vocabulary, into: Problems) -> Wanted:
    said = entry.content
    asks = said["answered_by"]
    if not asks.content and not _noted_below(asks, into):
        into.note(asks.where, 58, "is answered by nothing", "write at least one ask, such as {policy: review}")
    return Wanted(
        key,
        said["says"].content,
        said["why"].content,
        _citation(said["source"], known, into),
        said["needed"].content == "must",
        tuple(ask for one in asks.content if (ask := _ask(one, vocabulary, into)) is not None),
        entry.key or entry.where,
    )


def _citation(value: Value, known: dict[str, Clauses], into: Problems) -> Citation:
    source, _, clause = value.content.partition(" ")
    found = known.get(source)
    if found is None:
        like = nearest(source, known)
        hint = f"did you mean '{like}'?" if like else f"write it under 'sources:', or cite {COMMON_PRACTICE}"
        into.note(value.where, 48, f"unknown source '{source}'", hint)
    elif clause.strip() not in (found.gists or ("",)):
        hint = f"one of {', '.join(sorted(found.gists))}" if found.gists else "cite it without a clause"
        into.note(value.where, 48, f"'{source}' has no clause '{clause.strip()}'", hint)
    return Citation(source, clause.strip(), value.where)


def _ask(value: Value, vocabulary: Vocabulary, into: Problems) -> Ask | None:
    said: dict[str, Value] = value.content
    kinds = [kind for kind in KINDS if kind in said]
    if len(kinds) != 1 and _noted_below(value, into):
        return None
    if len(kinds) != 1:
        told = f"asks for {' and '.join(kinds)} at once" if kinds else "does not say what is asked for"
        into.note(value.where, 58, told, f"one of {', '.join(KINDS)}, and one at a time")
        return None
    kind = kinds[0]
    for key in ("of", "any_of"):
        if key in said and kind != "field":
            into.note(said[key].where, 58, f"'{key}' belongs to a field", "take it out")
    if kind == "evidence":
        return _of_evidence(said["evidence"], into)
    word = said[kind].content
    values = tuple(one.content for one in said["any_of"].content) if "any_of" in said else ()
    if kind == "field":
        _check_field(said, values, vocabulary, into)
    if kind == "statement" and word not in (WHOLE, *SECTIONS):
        like = nearest(word, SECTIONS)
        hint = f"did you mean '{like}'?" if like else f"'{WHOLE}', or one of {', '.join(SECTIONS)}"
        into.note(said[kind].where, 56, f"the statement has no section '{word}'", hint)
    return Ask(kind, word, value.where, "of" in said, values)


def _noted_below(value: Value, into: Problems) -> bool:
    """Whether what stands here has been refused already, and so is not simply wanting."""
    return any(problem.where.at.startswith(value.where.at) for problem in into.all)


def _check_field(said: dict[str, Value], values: tuple[str, ...], vocabulary: Vocabulary, into: Problems) -> None:
    """Note a field that nobody could write, and a value that it cannot have."""
    name, where = said["field"].content, said["field"].where
    given = (t for owner in ("object", "component") for t in vocabulary.of(owner, Giver.PERSON))
    terms = {t.name: t for t in given if not t.stated_by}
    known = (*(f"object.{n}" for n in SAID_OF_OBJECT), *(f"component.{n}" for n in SAID_OF_COMPONENT), *terms)
    if name not in known:
        like = nearest(name, known)
        hint = f"did you mean '{like}'?" if like else "write object.NAME or component.NAME"
        into.note(where, 56, f"'{name}' is nothing that people write", hint)
        return
    if ("of" in said) is not name.startswith("component."):
        hint = "add 'of: all'" if name.startswith("component.") else "take 'of:' out"
        into.note(where, 58, f"'{name}' is asked of {'every component' if 'of' not in said else 'one object'}", hint)
    allowed = terms[name].values if name in terms else ()
    for one in values:
        if allowed and one not in allowed and one != "none":
            into.note(said["any_of"].where, 56, f"'{one}' is no value of {name}", f"one of {', '.join(allowed)}")


def _of_evidence(value: Value, into: Problems) -> Ask | None:
    said: dict[str, Any] = value.content
    if not said:
        into.note(value.where, 58, "asks for any evidence at all", "say its kind, at least")
        return None
    if "dated" in said and ("about" not in said or said["about"].content != "each-proposal"):
        into.note(
            said["dated"].where, 58, "'dated' belongs to evidence about each proposal", "add 'about: each-proposal'"
        )
    return Ask(
        "evidence",
        "",
        value.where,
        evidence=tuple(one.content for one in said["kind"].content) if "kind" in said else (),
        role=said["role"].content if "role" in said else "",
        grade=said["grade"].content if "grade" in said else "",
        about=said["about"].content if "about" in said else "",
        before_work="dated" in said,
        names_it="answers" in said,
    )
