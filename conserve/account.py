"""The fabric account: what an option takes, keeps in store and adds. Never one score."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from conserve.calculation import fabric
from conserve.casebook import Act, Component, Option
from conserve.casebook.agreeing import agreed, quantity_of, word_of
from conserve.quantity import EXACT, Quantity, at_most
from conserve.quantity import above as certainly_above
from conserve.terms import Technique, Vocabulary
from conserve.truth import Truth, all_of

NOTHING = Quantity(EXACT, EXACT, "mm3")
_CUTS = ("skim", "bore", "turn", "drill")
_ORDINARY = ("some", "little", "neutral", "intrusive")  # below what counts as significant


@dataclass(frozen=True, slots=True)
class ActAccount:
    """What one act takes. None: something, but nobody can say how much."""

    number: int
    volume: Quantity | None
    mass: Quantity | None
    area: Quantity | None


@dataclass(frozen=True, slots=True)
class Account:
    """What an option takes from one component, keeps in store and adds.

    `lost` names things as `kind:id`; of these, `spared` may prove no loss, if the part was made to be renewed.
    `untold` holds the questions whose answers could change it.
    """

    acts: tuple[ActAccount, ...]
    lost: frozenset[str]
    spared: frozenset[str]
    volume: Quantity | None
    mass: Quantity | None
    kept: tuple[str, ...]
    added: tuple[str, ...]
    untold: tuple[str, ...]


class Compared(StrEnum):
    """How what one option loses stands to what another loses."""

    GENTLER = "gentler"
    ALIKE = "alike"
    NOT_GENTLER = "not gentler"
    CANNOT_TELL = "cannot tell"


def account_of(option: Option, part: Component, vocabulary: Vocabulary) -> Account:
    """Reckon what an option takes from a component, act by act, in their order."""
    lost: set[str] = set()
    renewed: set[str] = set()
    untold: list[str] = []
    acts: list[ActAccount] = []
    bores: dict[str, Quantity] = {}
    for act in option.acts:
        technique = vocabulary.techniques[act.technique]
        spares = _renewed_without_loss(part) if technique.takes == "whole-part" else Truth.NO
        if spares is Truth.YES:
            acts.append(ActAccount(act.number, NOTHING, Quantity(EXACT, EXACT, "kg"), Quantity(EXACT, EXACT, "mm2")))
            continue
        if spares is Truth.UNKNOWN:
            untold.append(f"Was {part.name} made to be renewed, and is it unmarked and not significant?")
        (renewed if spares is Truth.UNKNOWN else lost).update(_things_lost(act, technique, part, untold))
        acts.append(_amounts(act, technique, part, vocabulary, bores))
    return Account(
        acts=tuple(acts),
        lost=frozenset(lost | renewed),
        spared=frozenset(renewed - lost),
        volume=_total((a.volume for a in acts), "mm3"),
        mass=_total((a.mass for a in acts), "kg"),
        kept=_kept(option, part, vocabulary),
        added=tuple(
            f"{act.technique}:{vocabulary.techniques[act.technique].facts['technique.adds']}"
            for act in option.acts
            if vocabulary.techniques[act.technique].facts["technique.adds"] != "nothing"
        ),
        untold=tuple(dict.fromkeys(untold)),
    )


def _renewed_without_loss(part: Component) -> Truth:
    """A part made to be renewed, unmarked and not significant, is no loss when it is renewed."""

    def says(term: str, *values: str) -> Truth:
        word = word_of(part.facts, term)
        return Truth.UNKNOWN if not word else Truth.YES if word in values else Truth.NO

    written = any(thing.kind == "mark" for thing in part.known_things())
    return all_of(
        (
            says("component.made_to_be_renewed", "yes"),
            says("component.significance", *_ORDINARY),
            Truth.NO if written else Truth.UNKNOWN if part.things("mark") is None else Truth.YES,
        )
    )


def _kept(option: Option, part: Component, vocabulary: Vocabulary) -> tuple[str, ...]:
    """What comes off and is kept."""
    return tuple(
        f"part:{part.id}"
        for act in option.acts
        if vocabulary.techniques[act.technique].takes == "whole-part"
        and word_of(act.facts, "act.removed_parts") in ("kept", "kept-and-tagged")
    )


# ---- named things -----------------------------------------------------------------------------------


def _things_lost(act: Act, technique: Technique, part: Component, untold: list[str]) -> set[str]:
    """The named things an act takes; questions for the lists that nobody has written go into `untold`."""
    takes, heats = technique.takes, technique.facts["technique.heats"]
    if takes == "nothing" and heats in ("nothing", "warms"):
        return set()
    lost: set[str] = set()
    if takes == "whole-part":
        lost.add(f"part:{part.id}")
    surfaces = _surfaces_reached(act, part, untold)
    if takes in (*_CUTS, "whole-part") or heats in ("melts", "forge-heat"):
        lost |= {f"surface:{name}" for name in surfaces} or {f"body:{part.id}"}
    if takes == "coating":
        lost |= {f"finish:{name}" for name in surfaces} or {f"finish:{part.id}"}
    lost |= {f"mark:{name}" for name in _marks_taken(act, takes, part, surfaces, untold)}
    lost |= {f"repair:{name}" for name in _repairs_taken(act, takes, part, untold)}
    return lost


def _surfaces_reached(act: Act, part: Component, untold: list[str]) -> tuple[str, ...]:
    if act.surface:
        return (act.surface,)
    if part.surfaces is None:
        untold.append(f"Which faces has {part.name}?")
        return ()
    return tuple(surface.id for surface in part.surfaces)


def _marks_taken(
    act: Act, takes: str, part: Component, surfaces: tuple[str, ...], untold: list[str]
) -> tuple[str, ...]:
    """The marks an act says it takes; all that are there when the whole part goes."""
    if takes != "whole-part" and act.takes is not None:
        return act.takes
    there = [s for s in part.surfaces or () if s.id in surfaces]
    if any(s.marks is None for s in there):
        untold.append(f"Which marks does {part.name} carry, and which would go?")
    known = tuple(mark.id for s in there for mark in s.marks or ())
    if takes == "whole-part" or not known:
        return known
    untold.append(f"Which of the marks {', '.join(known)} would go?")
    return ()


def _repairs_taken(act: Act, takes: str, part: Component, untold: list[str]) -> tuple[str, ...]:
    known = tuple(repair.id for repair in part.repairs or ())
    disturbs = word_of(act.facts, "act.disturbs_repair")
    if takes == "whole-part" or disturbs == "yes":
        return known
    if not disturbs and (known or part.repairs is None):
        untold.append(f"Would an earlier repair on {part.name} be removed or reworked?")
    return ()


# ---- amounts ----------------------------------------------------------------------------------------


def _amounts(
    act: Act, technique: Technique, part: Component, vocabulary: Vocabulary, bores: dict[str, Quantity]
) -> ActAccount:
    takes = technique.takes
    if takes in ("nothing", "coating"):
        return ActAccount(act.number, NOTHING, Quantity(EXACT, EXACT, "kg"), Quantity(EXACT, EXACT, "mm2"))
    if takes == "whole-part":
        return ActAccount(act.number, volume_of(part, vocabulary), mass_of(part, vocabulary), None)
    try:
        volume = _cut_volume(act, takes, part, bores)
    except ValueError:  # the numbers given cannot be: checked elsewhere, unknown here
        volume = None
    density = _density(part, vocabulary)
    return ActAccount(
        act.number,
        volume,
        fabric.mass(volume, density) if volume and density else None,
        _surface_number(act, part, "surface.area"),
    )


def _cut_volume(act: Act, takes: str, part: Component, bores: dict[str, Quantity]) -> Quantity | None:
    """The metal one cut takes, from the dimensions given; None where one is missing."""
    number = {
        term: quantity_of(act.facts, term)
        for term in ("act.depth", "act.to_diameter", "act.hole_diameter", "act.hole_depth")
    }
    if takes == "skim":
        area, depth = _surface_number(act, part, "surface.area"), number["act.depth"]
        return fabric.skimmed(area, depth) if area and depth else None
    if takes == "drill":
        diameter, depth = number["act.hole_diameter"], number["act.hole_depth"]
        holes = (agreed(act.facts.get("act.holes", ())).values or (0,))[0]
        return fabric.drilled(diameter, depth, int(str(holes))) if diameter and depth and holes else None
    before = bores.get(act.surface) or _surface_number(act, part, "surface.diameter", highest=takes == "turn")
    after, length = number["act.to_diameter"], _surface_number(act, part, "surface.length")
    if not (before and after and length):
        return None
    bores[act.surface] = after
    return (fabric.bored if takes == "bore" else fabric.turned)(before, after, length)


def _surface_number(act: Act, part: Component, term: str, highest: bool = True) -> Quantity | None:
    surface = part.thing("surface", act.surface) if act.surface else None
    return quantity_of(surface.facts, term, highest) if surface else None


def _density(part: Component, vocabulary: Vocabulary) -> Quantity | None:
    return vocabulary.materials.get(word_of(part.facts, "component.material"))


def volume_of(part: Component, vocabulary: Vocabulary) -> Quantity | None:
    """The metal in a part: as written, or its mass over its density; None where neither is known."""
    written = quantity_of(part.facts, "component.volume")
    if written:
        return written
    weight, density = quantity_of(part.facts, "component.mass"), _density(part, vocabulary)
    if weight is None or density is None:
        return None
    return fabric.volume(weight, density)


def mass_of(part: Component, vocabulary: Vocabulary) -> Quantity | None:
    """What a part weighs: as written, or its volume times its density; None where neither is known."""
    written = quantity_of(part.facts, "component.mass")
    volume, density = quantity_of(part.facts, "component.volume"), _density(part, vocabulary)
    return written or (fabric.mass(volume, density) if volume and density else None)


def _total(amounts: Iterable[Quantity | None], unit: str) -> Quantity | None:
    total = Quantity(EXACT, EXACT, unit)
    for amount in amounts:
        if amount is None:
            return None
        total = total.plus(amount)
    return total


# ---- gentler ----------------------------------------------------------------------------------------


def compare(one: Account, other: Account) -> Compared:
    """Say whether an option is gentler than another: loses nothing that the other keeps, and somewhere less."""
    if not one.lost - one.spared <= other.lost and not other.untold:
        return Compared.NOT_GENTLER
    amount = _compare_amounts(one, other)
    if amount is _Amounts.MORE:
        return Compared.NOT_GENTLER
    loses_nothing = not one.lost and not one.untold and one.volume == NOTHING
    surely = other.lost - other.spared
    if not loses_nothing and (one.untold or not one.lost <= surely or amount is _Amounts.UNKNOWN):
        return Compared.CANNOT_TELL
    if one.lost < surely or amount is _Amounts.LESS:
        return Compared.GENTLER
    return Compared.CANNOT_TELL if other.untold else Compared.ALIKE


class _Amounts(StrEnum):
    LESS = "less"
    TIE = "tie"
    MORE = "more"
    UNKNOWN = "unknown"


def _compare_amounts(one: Account, other: Account) -> _Amounts:
    """Hold the metal taken against each other: a difference inside the uncertainty is a tie."""
    a, b = one.volume, other.volume
    if one.spared or other.spared:  # as much as that, or nothing
        return _Amounts.UNKNOWN
    if a is None or b is None:
        # A loss of unknown size is more than none; two of unknown size cannot be told apart.
        if a == NOTHING:
            return _Amounts.LESS
        return _Amounts.MORE if b == NOTHING else _Amounts.UNKNOWN
    if a.to_base() == b.to_base():
        return _Amounts.TIE
    if a.uncertainty is None or b.uncertainty is None:
        return _Amounts.UNKNOWN
    if certainly_above(a, b) is Truth.YES:
        return _Amounts.MORE
    return _Amounts.LESS if at_most(a, b) is Truth.YES else _Amounts.TIE


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
