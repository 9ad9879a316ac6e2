"""What the acts of an option bear on: yes, no, or nobody has said what they reach."""

from __future__ import annotations

from conserve.casebook import Act, Component, Option
from conserve.casebook.agreeing import word_of
from conserve.terms import Giver, Kind, Technique, Vocabulary
from conserve.truth import Truth, any_of

CLEARANCE = "component.running_clearance"
RESIZES = ("skim", "bore", "turn", "whole-part")  # what a cut takes that changes a size
BUILDS_UP = ("new-metal", "filler")


def touched_by(subject: str, term: str, option: Option, part: Component, vocabulary: Vocabulary) -> Truth:
    """Whether any act bears on a fact; unknown where nobody has said what an act reaches."""
    if (face := own_mate(subject, term, part)) is not None:
        return touched_by(*face, option, part, vocabulary)
    word = vocabulary.terms.get(term)
    if word is None or word.lasts:  # a limit stays, and so does another part
        return Truth.NO
    if word.inputs:
        owners = [(owner_of(name, subject, part), name) for name in word.inputs.values()]
        return any_of(touched_by(owner, name, option, part, vocabulary) for owner, name in owners)
    if word.giver is not Giver.ROLL_UP:
        return any_of(_act_touches(act, subject, term, part, vocabulary) for act in option.acts)
    below = word.of
    kind = below.partition(".")[0]
    unlisted = part.things(kind) is None and any(vocabulary.techniques[a.technique].touches for a in option.acts)
    return any_of(
        (
            Truth.UNKNOWN if unlisted else Truth.NO,
            *(
                touched_by(f"{kind}:{thing.id}", below, option, part, vocabulary)
                for thing in part.known_things()
                if thing.kind == kind
            ),
        )
    )


def _act_touches(act: Act, subject: str, term: str, part: Component, vocabulary: Vocabulary) -> Truth:
    technique = vocabulary.techniques[act.technique]
    kind, _, name = subject.partition(":")
    if not technique.touches:
        return Truth.NO
    if technique.takes == "whole-part":
        return Truth.YES
    if kind == "component":
        surely = _truth(_touches_part(act, technique, term, vocabulary))
        return any_of((surely, builds_up_fit(act, technique, part))) if term == CLEARANCE else surely
    if kind == "surface":
        here = not act.surface or name == act.surface
        return _truth(here and (vocabulary.terms[term].kind is not Kind.QUANTITY or _may_resize(technique)))
    if kind == "defect":
        return Truth.UNKNOWN if act.treats is None else _truth(name == act.treats)
    if kind == "mark":
        return Truth.UNKNOWN if act.takes is None else _truth(name in act.takes)
    disturbs = act.facts.get("act.disturbs_repair")
    return Truth.UNKNOWN if disturbs is None else _truth(_says(act, "act.disturbs_repair", "yes"))


def _may_resize(technique: Technique) -> bool:
    """Whether a technique may change any size of a face: it takes or adds metal, melts, or wears it away.

    What only lies on a face, such as oil, wax, paint or packing, leaves its sizes as they are.
    """
    facts = technique.facts
    lies_on = facts["technique.adds"] in ("nothing", "coating", "packing", "new-part")
    takes_none = technique.takes in ("nothing", "coating") and facts["technique.abrades"] == "no"
    cool = facts["technique.heats"] in ("nothing", "warms")
    return not (lies_on and takes_none and cool)


def _touches_part(act: Act, technique: Technique, term: str, vocabulary: Vocabulary) -> bool:
    if vocabulary.terms[term].stated_by or term in technique.gives:
        return True
    if term == CLEARANCE:
        return bool(technique.clearance) or technique.facts["technique.restores_fit"] == "yes"
    return not act.surface and technique.takes != "nothing"


def _truth(holds: bool) -> Truth:
    return Truth.YES if holds else Truth.NO


def _says(act: Act, term: str, value: str) -> bool:
    return any(value in stated.values for stated in act.facts.get(term, ()))


def own_mate(subject: str, term: str, part: Component) -> tuple[str, str] | None:
    """The face that a face runs on, and the term, where both are faces of this part; None for another part's."""
    owner, _, short = term.partition(".")
    surface = part.thing("surface", subject.partition(":")[2]) if owner == "mate" else None
    component, _, face = surface.mate.partition("/") if surface else ("", "", "")
    return (f"surface:{face}", f"surface.{short}") if component == part.id else None


def owner_of(name: str, subject: str, part: Component) -> str:
    """Whose fact an input is: the subject's own, or its owner's."""
    owner = name.partition(".")[0]
    if owner == "component":
        return f"component:{part.id}"
    return owner if owner == "object" else subject


def builds_up_fit(act: Act, technique: Technique, part: Component) -> Truth:
    """Whether an act puts metal on a face that sets the clearance."""
    if technique.facts["technique.adds"] not in BUILDS_UP:
        return Truth.NO
    surface = part.thing("surface", act.surface) if act.surface else None
    said = word_of(surface.facts, "surface.sets_clearance") if surface else ""
    return _truth(said == "yes") if said else Truth.UNKNOWN
