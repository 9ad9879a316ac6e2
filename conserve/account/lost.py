"""The named things that an act takes from a part: its faces, marks, repairs and finishes, or the part itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from conserve.account.metal import CUTS, Diameters
from conserve.casebook import Act, Component
from conserve.casebook.agreeing import quantity_of, word_of
from conserve.quantity import EXACT, Quantity, below
from conserve.terms import Technique, Vocabulary
from conserve.truth import Truth

_BLASTING = "blasting"  # of what strips a finish by abrasion, what also cuts the metal below
_UNWORKED = ("as-cast", "as-forged", "original-paint", "layered-paint", "later-paint", "plated", "corroded", "lagged")


@dataclass(slots=True)
class Tally:
    """What the acts so far have taken."""

    part: Component
    vocabulary: Vocabulary
    lost: set[str] = field(default_factory=set)
    renewed: set[str] = field(default_factory=set)  # lost, unless the part was made to be renewed
    untold: list[str] = field(default_factory=list)
    unsure: set[str] = field(default_factory=set)  # kinds of things of which more may be lost
    diameters: Diameters = field(default_factory=dict)
    depths: dict[str, Quantity | None] = field(default_factory=dict)  # face -> how deep it has been cut
    presumed: set[str] = field(default_factory=set)  # faces whose surface a deep enough relief would have spared

    def asks(self, kind: str, question: str) -> None:
        self.unsure.add(kind)
        self.untold.append(question)


def things_lost(act: Act, technique: Technique, depth: Quantity | None, tally: Tally) -> set[str]:
    """The named things an act takes; questions for the lists that nobody has written are noted."""
    takes, heats, part = technique.takes, technique.facts["technique.heats"], tally.part
    if takes == "nothing" and heats in ("nothing", "warms"):
        return set()
    lost: set[str] = set()
    surfaces = _surfaces_reached(act, tally)
    if takes == "whole-part":
        lost.add(f"part:{part.id}")
    if takes == "whole-part" or heats in ("melts", "forge-heat"):
        lost |= {f"surface:{name}" for name in surfaces} or {f"body:{part.id}"}
    elif takes in CUTS:
        lost |= _cut_through(surfaces, depth, tally)
        lost |= set() if surfaces else {f"body:{part.id}"}
    if takes == "coating":
        lost |= {f"finish:{name}" for name in surfaces} or {f"finish:{part.id}"}
    if act.technique == _BLASTING:
        worked = tuple(name for name in surfaces if _worked(name, part))
        lost |= _cut_through(worked, quantity_of(act.facts, "act.depth"), tally)
    lost |= {f"mark:{name}" for name in _marks_taken(act, takes, surfaces, tally)}
    lost |= {f"repair:{name}" for name in _repairs_taken(act, takes, tally)}
    return lost


def _cut_through(surfaces: tuple[str, ...], depth: Quantity | None, tally: Tally) -> set[str]:
    """The original surfaces that a cut takes: all, but where it is certainly shallower than the face's relief.

    A cut is presumed deeper than a relief that nobody has written, or that may be as deep. Cuts on one face add up.
    """
    lost = set()
    for name in surfaces:
        before = tally.depths.get(name, Quantity(EXACT, EXACT, "mm"))
        tally.depths[name] = before.plus(depth) if before and depth else None
        shallower = _shallower_than_relief(name, tally)
        if shallower is not Truth.YES:
            lost.add(f"surface:{name}")
        if shallower is Truth.UNKNOWN:
            tally.presumed.add(f"surface:{name}")
        else:
            tally.presumed.discard(f"surface:{name}")
    return lost


def _shallower_than_relief(name: str, tally: Tally) -> Truth:
    surface, depth = tally.part.thing("surface", name), tally.depths[name]
    relief = quantity_of(surface.facts, "surface.relief", highest=False) if surface else None
    return Truth.UNKNOWN if relief is None or depth is None else below(depth, relief)


def _worked(name: str, part: Component) -> bool:
    """Whether a face was cut or scraped to its form, and not only cast or painted; presumed where nobody says."""
    surface = part.thing("surface", name)
    return surface is None or word_of(surface.facts, "surface.finish") not in _UNWORKED


def _surfaces_reached(act: Act, tally: Tally) -> tuple[str, ...]:
    if act.surface:
        return (act.surface,)
    if tally.part.surfaces is None:
        tally.asks("surface", f"Which faces has {tally.part.name}?")
        return ()
    return tuple(surface.id for surface in tally.part.surfaces)


def _marks_taken(act: Act, takes: str, surfaces: tuple[str, ...], tally: Tally) -> tuple[str, ...]:
    """The marks an act says it takes; all that are there when the whole part goes."""
    part = tally.part
    if takes != "whole-part" and act.takes is not None:
        return act.takes
    there = [s for s in part.surfaces or () if s.id in surfaces]
    if any(s.marks is None for s in there):
        tally.asks("mark", f"Which marks does {part.name} carry, and which would go?")
    known = tuple(mark.id for s in there for mark in s.marks or ())
    if takes == "whole-part" or not known:
        return known
    tally.asks("mark", f"Which of the marks {', '.join(known)} would go?")
    return ()


def _repairs_taken(act: Act, takes: str, tally: Tally) -> tuple[str, ...]:
    part = tally.part
    known = tuple(repair.id for repair in part.repairs or ())
    disturbs = word_of(act.facts, "act.disturbs_repair")
    if takes == "whole-part" or disturbs == "yes":
        return known
    if not disturbs and (known or part.repairs is None):
        tally.asks("repair", f"Would an earlier repair on {part.name} be removed or reworked?")
    return ()


def named(thing: str, names: Mapping[str, str]) -> str:
    """A lost thing in words: `surface:working-face` as "the original surface of the working face"."""
    kind, _, name = thing.partition(":")
    said = names.get(name, name.replace("-", " "))
    return {
        "surface": f"the original surface of the {said}",
        "body": f"metal from the body of the {said}",
        "finish": f"the finish of the {said}",
        "mark": f"the {said}",
        "repair": f"the earlier repair, the {said}",
        "part": f"the {said} itself, from its place",
    }[kind]
