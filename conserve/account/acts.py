"""What the acts of an option take from a part, by name and by amount."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from conserve.account.held import Effect, Held, Where, held_after, where_now
from conserve.account.lost import Tally, things_lost
from conserve.account.metal import (
    CUTS,
    NO_AREA,
    NO_MASS,
    NOTHING,
    Cut,
    cut_of,
    density_of,
    mass_of,
    surface_number,
    total,
    volume_of,
)
from conserve.calculation import fabric
from conserve.casebook import Act, Component, Option
from conserve.casebook.agreeing import word_of
from conserve.quantity import Quantity
from conserve.terms import Technique, Vocabulary
from conserve.truth import Truth, all_of

_ORDINARY = ("some", "little", "neutral", "intrusive")  # below what counts as significant
_KEPT = ("kept", "kept-and-tagged")


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

    `lost` names things as `kind:id`; of these, `spared` may prove no loss, if the part was made to be renewed, and
    so may `presumed`, surfaces with how deep they are cut, if their relief is deeper than that.
    `untold` holds the questions whose answers could change it. `effect` is what it does to the part there today.
    """

    acts: tuple[ActAccount, ...]
    lost: frozenset[str]
    spared: frozenset[str]
    presumed: Mapping[str, Quantity | None]
    volume: Quantity | None
    mass: Quantity | None
    kept: tuple[str, ...]
    added: tuple[str, ...]
    untold: tuple[str, ...]
    for_good: int  # how many of its acts cannot be undone
    part: Component = field(repr=False, compare=False)
    vocabulary: Vocabulary = field(repr=False, compare=False)
    effect: Effect

    @property
    def held(self) -> Held:
        """How much of the part it leaves. Worked out only where it is told: weighing does not ask for it."""
        return held_after(self.part, self.vocabulary, self.effect)


def account_of(option: Option, part: Component, vocabulary: Vocabulary) -> Account:
    """Reckon what an option takes from a component, act by act, in their order."""
    tally = Tally(part, vocabulary)
    acts: list[ActAccount] = []
    whereabouts = where_now(part)
    effect: Effect | None = None  # on the part that is there today: what is done after it has gone is done to another
    for act in option.acts:
        technique = vocabulary.techniques[act.technique]
        if technique.takes == "whole-part" and effect is None and whereabouts in (Where.PLACE, Where.STORE):
            effect = _effect(tally, acts, whereabouts)
            whereabouts = Where.STORE if word_of(act.facts, "act.removed_parts") in _KEPT else Where.GONE
        elif _puts_back(technique) and whereabouts is Where.STORE:
            whereabouts = Where.PLACE
        acts.append(_add(act, technique, tally))
    effect = (effect or _effect(tally, acts, whereabouts))._replace(where=whereabouts)
    techniques = [vocabulary.techniques[act.technique] for act in option.acts]
    return Account(
        acts=tuple(acts),
        lost=frozenset(tally.lost | tally.renewed),
        spared=frozenset(tally.renewed - tally.lost),
        presumed={f"surface:{name}": depth for name, depth in tally.depths.items() if _presumed(name, tally, option)},
        volume=total((a.volume for a in acts), "mm3"),
        mass=total((a.mass for a in acts), "kg"),
        kept=tuple(f"part:{part.id}" for act in option.acts if _keeps(act, vocabulary)),
        added=tuple(
            f"{t.id}:{t.facts['technique.adds']}" for t in techniques if t.facts["technique.adds"] != "nothing"
        ),
        untold=tuple(dict.fromkeys(tally.untold)),
        for_good=sum(t.touches and t.facts["technique.undone"] == "never" for t in techniques),
        part=part,
        vocabulary=vocabulary,
        effect=effect,
    )


def _presumed(name: str, tally: Tally, option: Option) -> bool:
    """Whether a face's surface is lost by cuts alone, and only if its relief is no deeper than they are."""
    techniques = [tally.vocabulary.techniques[act.technique] for act in option.acts if act.surface in ("", name)]
    melted = any(t.takes == "whole-part" or t.facts["technique.heats"] in ("melts", "forge-heat") for t in techniques)
    return f"surface:{name}" in tally.presumed and not melted


def _effect(tally: Tally, acts: Sequence[ActAccount], where: Where) -> Effect:
    return Effect(where, frozenset(tally.lost), frozenset(tally.unsure), total((a.mass for a in acts), "kg"))


def _puts_back(technique: Technique) -> bool:
    return technique.gives.get("component.present") == "yes" and technique.facts["technique.adds"] == "nothing"


def _keeps(act: Act, vocabulary: Vocabulary) -> bool:
    """Whether what comes off is kept."""
    whole = vocabulary.techniques[act.technique].takes == "whole-part"
    return whole and word_of(act.facts, "act.removed_parts") in _KEPT


def _add(act: Act, technique: Technique, tally: Tally) -> ActAccount:
    """Add what one act takes to the tally, and reckon how much it is."""
    spares = _renewed_without_loss(tally.part) if technique.takes == "whole-part" else Truth.NO
    if spares is Truth.YES:
        return ActAccount(act.number, NOTHING, NO_MASS, NO_AREA)
    if spares is Truth.UNKNOWN:
        tally.asks("part", f"Was {tally.part.name} made to be renewed, and is it unmarked and not significant?")
    cut = cut_of(act, technique.takes, tally.part, tally.diameters) if technique.takes in CUTS else Cut(NOTHING, None)
    into = tally.renewed if spares is Truth.UNKNOWN else tally.lost
    into |= things_lost(act, technique, cut.depth, tally)
    return _amounts(act, technique, cut, tally)


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


def _amounts(act: Act, technique: Technique, cut: Cut, tally: Tally) -> ActAccount:
    part, vocabulary = tally.part, tally.vocabulary
    if technique.takes == "whole-part":
        return ActAccount(act.number, volume_of(part, vocabulary), mass_of(part, vocabulary), None)
    if technique.takes not in CUTS:
        return ActAccount(act.number, NOTHING, NO_MASS, NO_AREA)
    density = density_of(part, vocabulary)
    weight = fabric.mass(cut.volume, density) if cut.volume and density else None
    return ActAccount(act.number, cut.volume, weight, surface_number(act, part, "surface.area"))
