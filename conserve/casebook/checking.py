"""What in a casebook must fit together: names that exist, numbers that are needed, files that are there."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from conserve.casebook.model import Act, Casebook, Change, Component, Evidence, Facts, Option, Proposal, Resource, Thing
from conserve.files import FileRefused, Folder
from conserve.problem import Location, nearest
from conserve.shape import Problems
from conserve.terms import PLACES, Vocabulary


def check_casebook(casebook: Casebook, folder: Folder, vocabulary: Vocabulary, into: Problems) -> None:
    """Note every name that does not exist, every number that is missing and every file that is not there."""
    for part in casebook.components.values():
        _check_component(part, casebook, into)
    for proposal in casebook.proposals:
        _check_proposal(proposal, casebook, vocabulary, into)
    for item in casebook.evidence.values():
        for name in item.about:
            if name != "object":
                _known(name, casebook.components, item.places["about"], 61, "component", into)
        if item.states and item.lapses is None:
            into.note(item.where, 77, f"'{item.id}' does not say when it lapses", "lapses: DATE, or lapses: none")
        for path, stated in item.states.items():
            _check_path(
                path, stated[0].where, [casebook.components[n] for n in item.about if n in casebook.components], into
            )
            role = vocabulary.terms[_term_name(path)].stated_by
            if role and item.role != role:
                into.note(
                    stated[0].where,
                    60,
                    f"only a {role} may state this",
                    f"this report is by '{item.role or 'nobody named'}'",
                )
        check_files(item, folder, into)


def check_files(item: Evidence, folder: Folder, into: Problems) -> None:
    """Note evidence that nobody could look at, and files that are not there."""
    unread = {f"{item.id}.file", f"{item.id}.held"}  # said, but in a way that is noted already
    if not (item.file or item.held or any(problem.where.at in unread for problem in into.all)):
        hint = "file: NAME, or held: where it is kept"
        into.note(item.where, 89, f"'{item.id}' says neither which file it is nor where it is held", hint)
    for key, name in (("file", item.file), ("shown_as", item.shown_as)):
        if name:
            _check_file(f"evidence/{name}", item.places[key], folder, into)


def _known(name: str, known: Collection[str], where: Location, number: int, what: str, into: Problems) -> bool:
    if name in known:
        return True
    like = None if into.crowded else nearest(name, known)
    into.note(
        where,
        number,
        f"there is no {what} '{name}'",
        f"did you mean '{like}'?"
        if like
        else (f"there is {', '.join(sorted(known)[:6])}" if known else f"no {what} is written down here"),
    )
    return False


def _check_file(name: str, where: Location, folder: Folder, into: Problems) -> None:
    try:
        folder.check(name)
    except FileRefused as refused:
        into.note(where, 70, f"'{name}': {refused.reason}", "put the file under evidence/ and name it from there")


def _term_name(path: str) -> str:
    head, _, tail = path.partition(".")
    return path if head == "component" else f"{PLACES[head]}.{tail.rpartition('.')[2]}"


def _check_component(part: Component, casebook: Casebook, into: Problems) -> None:
    if part.phase:
        _known(part.phase, casebook.object.phases, part.places["phase"], 68, "phase", into)
    if part.part_of:
        _known(part.part_of, casebook.components, part.places["part_of"], 61, "component", into)
    for surface in part.surfaces or ():
        if surface.mate:
            _check_mate(surface, casebook, into)
    for event in part.history or ():
        if event.under:
            _known(event.under, [p.id for p in casebook.proposals], event.places["under"], 64, "proposal", into)
        for change in filter(None, (event.took, event.added)):
            _check_change(change, part, into)
    seen: dict[tuple[str, str], Location] = {}
    for thing in part.known_things():
        key = ("mark", thing.id) if thing.kind == "mark" else (thing.kind, thing.id)
        if key in seen:
            into.note(thing.where, 72, f"{thing.kind} '{thing.id}' is written twice on {part.id}", f"see {seen[key]}")
        seen[key] = thing.where
    statements: Iterator[Facts] = (facts for facts in (part.facts, *(t.facts for t in part.known_things())))
    for facts in statements:
        for found in facts.values():
            for stated in found:
                for name in stated.evidence:
                    _known(name, casebook.evidence, stated.where, 65, "evidence", into)


def _check_mate(surface: Thing, casebook: Casebook, into: Problems) -> None:
    """The face that a surface runs on must be there."""
    where = surface.places["mate"]
    component, _, name = surface.mate.partition("/")
    if _known(component, casebook.components, where, 61, "component", into):
        other = casebook.components[component]
        _known(name, [s.id for s in other.surfaces or ()], where, 62, f"surface on {component}", into)


def _check_change(change: Change, part: Component, into: Problems) -> None:
    """What an event took must have been there, and must be gone."""
    for name in change.surfaces or ():
        _known(name, [s.id for s in part.surfaces or ()], change.places["surfaces"], 62, f"surface on {part.id}", into)
    for name in change.marks or ():
        if part.thing("mark", name):
            into.note(
                change.places["marks"],
                79,
                f"mark '{name}' is written as gone and as still on {part.id}",
                "take it out of the marks of its face, or give the one that went another name",
            )
    if "mass" in change.places and "volume" in change.places:
        into.note(change.places["volume"], 80, "one amount is told twice", "write the mass, or the volume")
    for name, amount in (("mass", change.mass), ("volume", change.volume)):
        if amount is not None and amount.amount < 0:
            into.note(change.places[name], 81, f"a {name} below zero was neither taken nor added", "write it without -")


def _check_path(path: str, where: Location, parts: list[Component], into: Problems) -> None:
    head, _, tail = path.partition(".")
    if head == "component":
        return
    kind, name = PLACES[head], tail.partition(".")[0]
    for part in parts:
        if not any(t.kind == kind and t.id == name for t in part.known_things()):
            names = [t.id for t in part.known_things() if t.kind == kind]
            _known(name, names, where, 62, f"{kind} on {part.id}", into)
            return


def _check_proposal(proposal: Proposal, casebook: Casebook, vocabulary: Vocabulary, into: Problems) -> None:
    where = proposal.where
    named = proposal.places.get("components") or proposal.places.get("component") or where
    if not proposal.components:
        into.note(where, 2, "names no component", "component: ID, or components: stud-01..stud-48")
    known = [name for name in proposal.components if _known(name, casebook.components, named, 61, "component", into)]
    parts = [casebook.components[name] for name in known]
    if proposal.kind == "intervention" and not proposal.needs:
        into.note(
            where, 71, "states no need", "write under 'needs:' what must be true after the work, and how to test it"
        )
    if proposal.kind != "intervention" and all(option.id != "as-policy" for option in proposal.options):
        into.note(where, 71, f"{proposal.kind} is done under the object's policy, without options", "write its 'acts:'")
    for need in proposal.needs:
        for check in need.checks:
            _check_path(check.path, check.where, parts, into)
    names = [option.id for option in proposal.options]
    for option in proposal.options:
        _check_option(option, proposal, parts, casebook, vocabulary, into)
        for other, said in option.rather_than.items():
            _known(other, names, said.where, 64, "option", into)
    if proposal.preferred and proposal.kind == "intervention":
        _known(proposal.preferred, names, proposal.places.get("preferred", where), 64, "option", into)
    elif proposal.kind == "intervention" and proposal.decision is None:
        into.note(where, 64, "prefers no option", "preferred: OPTION, even if it is 'leave'")
    if proposal.decision:
        _known(proposal.decision.chosen, names, proposal.decision.where, 64, "option", into)
    if proposal.supersedes:
        _known(
            proposal.supersedes, [p.id for p in casebook.proposals], proposal.places["supersedes"], 64, "proposal", into
        )
    if proposal.work:
        for path, stated in proposal.work.measured.items():
            _check_path(path, stated[0].where, parts, into)
        for met in proposal.work.met:
            for name in met.evidence:
                _known(name, casebook.evidence, met.where, 65, "evidence", into)


def _check_option(
    option: Option,
    proposal: Proposal,
    parts: list[Component],
    casebook: Casebook,
    vocabulary: Vocabulary,
    into: Problems,
) -> None:
    for path, stated in option.after.items():
        _check_path(path, stated[0].where, parts, into)
        if vocabulary.terms[_term_name(path)].stated_by:
            into.note(
                stated[0].where, 60, "a competent person's conclusion cannot be claimed beforehand", "leave it out"
            )
    for act in option.acts:
        _check_act(act, proposal, parts, casebook, vocabulary, into)
    for resource in option.resources or ():
        _check_resource(resource, casebook, into)


def _check_resource(resource: Resource, casebook: Casebook, into: Problems) -> None:
    """Money is in the currency of the object's budget, and what costs it stands in one of its stages."""
    budget = casebook.object.budget
    if budget is None:
        hint = "budget: {currency: EUR, contingency: 15 %, stages: [repair]}"
        into.note(resource.where, 88, "object.yaml has no 'budget:' to reckon this in", hint)
    elif resource.stage:
        _known(resource.stage, budget.stages, resource.places["stage"], 88, "stage of the budget", into)
    for name, amount in (("money", resource.money), ("hours", resource.hours)):
        if amount is not None and amount.amount < 0:
            into.note(resource.places[name], 81, f"{name} below zero", "write it without -")
    for name in resource.evidence:
        _known(name, casebook.evidence, resource.places["evidence"], 65, "evidence", into)


def _check_act(
    act: Act, proposal: Proposal, parts: list[Component], casebook: Casebook, vocabulary: Vocabulary, into: Problems
) -> None:
    for part in parts[:1]:
        named = (
            ("surface", "where", (act.surface,)),
            ("defect", "treats", (act.treats,)),
            ("mark", "takes", act.takes),
        )
        for kind, key, names in named:
            known = [t.id for t in part.known_things() if t.kind == kind]
            for name in filter(None, names or ()):
                _known(name, known, act.places[key], 62, f"{kind} on {part.id}", into)
    for name in act.needs:
        _known(name, [need.id for need in proposal.needs], act.places.get("for", act.where), 63, "need", into)
    for name in act.evidence:
        _known(name, casebook.evidence, act.places["evidence"], 65, "evidence", into)
    if act.takes and vocabulary.techniques[act.technique].takes == "nothing":
        into.note(act.places["takes"], 78, f"{act.technique} takes nothing, and so no mark", "takes: none")
    for number in vocabulary.techniques[act.technique].numbers:
        if number not in act.facts:
            into.note(
                act.places["technique"],
                66,
                f"{act.technique} needs '{number.partition('.')[2]}'",
                vocabulary.terms[number].ask.replace("{surface}", act.surface or "the part"),
            )
