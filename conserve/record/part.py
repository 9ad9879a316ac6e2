"""What is there: the part, its faces, marks, repairs and defects, and its pictures."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.casebook import Component, Evidence, Thing
from conserve.explanation import capital, full, listed, plain, value_in_words
from conserve.explanation.words import dated, place, subject_name, term_in_words
from conserve.quantity import Quantity
from conserve.record.model import Picture, Table
from conserve.weighing.model import PartWeighing, Weighing

_IMAGES = (".svg", ".png", ".jpg", ".jpeg")


def there(weighing: Weighing, part: PartWeighing) -> Iterator[str]:
    component, facts = part.component, part.findings.facts.today.facts

    def known(term: str) -> str:
        fact = facts.get((f"component:{component.id}", f"component.{term}"))
        return value_in_words(fact.values if fact else None)

    the_object = weighing.casebook.object
    phase = the_object.phases.get(component.phase)
    joined = f"in the phase {phase.id}, {phase.dates}" if phase else "at a time nobody has written down"
    reason = f" {full(component.significance_reason)}" if component.significance_reason else ""
    yield f"{capital(component.name)} ({component.id}), of {subject_name(part.findings.facts, 'object')}."
    yield f"Made of {known('material')}, known by {known('material_known_by')}."
    yield f"It joined the object {joined}."
    yield f"Significance: {known('significance')}.{reason}"
    yield f"Role: {known('role')}. Use today: {known('duty_now')}; use wanted: {known('duty_wanted')}."
    yield f"Hazards looked for: {known('hazards')}. Examined and written down: {known('examined')}."
    yield from _measured(component)
    if component.note:
        yield full(component.note)
    for kind in ("surface", "repair", "defect"):
        if component.things(kind) is None:
            yield f"Nobody has written down its {kind}s."
        elif not component.things(kind):
            yield f"It has no {kind}s that anyone has found."
    for event in component.history or ():
        yield f"{dated(event.on, event.year_only)}: {full(event.says)}"


def _measured(component: Component) -> Iterator[str]:
    """Each measurement of the part as a whole: by whom, when and with what, where that is written."""
    for term, statements in sorted(component.facts.items()):
        for stated in statements:
            if any(isinstance(value, Quantity) for value in stated.values):
                taken = (("by", stated.by), ("on", stated.on), ("with", plain(stated.instrument)), ("at", stated.place))
                said = [f"{word} {what}" for word, what in taken if what]
                how = " ".join(("measured", *said)) if said else "as written"
                yield f"{capital(term_in_words(term))}: {value_in_words(stated.values)}, {how} ({place(stated.where)})."


def tables(part: Component) -> Iterator[Table]:
    marks = tuple(mark for surface in part.surfaces or () for mark in surface.marks or ())
    for title, things in (
        ("Faces", part.surfaces or ()),
        ("Marks", marks),
        ("Earlier repairs", part.repairs or ()),
        ("Defects", part.defects or ()),
    ):
        yield Table(title, ("name", "what is known", "where written"), tuple(_thing_row(t) for t in things))


def _thing_row(thing: Thing) -> tuple[str, ...]:
    told = "; ".join(
        f"{plain(term.partition('.')[2])}: {listed(_statement(s.values, s.place) for s in stated)}"
        for term, stated in sorted(thing.facts.items())
    )
    return thing.name, f"{told}. {full(thing.says) if thing.says else ''}".strip(), place(thing.where)


def _statement(values: tuple[object, ...], at: str) -> str:
    return f"{value_in_words(values)}{f' ({at})' if at else ''}"  # type: ignore[arg-type]


def pictures(weighing: Weighing, part: PartWeighing) -> Iterator[Picture]:
    for item in about(weighing, part.component.id):
        if item.file.lower().endswith(_IMAGES):
            yield Picture(item.file, f"{full(item.shows)} {item.by}, {item.on}.")


def about(weighing: Weighing, name: str) -> list[Evidence]:
    """Evidence about a component, and what the proposal's acts and work rely on."""
    proposal = weighing.proposal
    named = {e for o in proposal.options for a in o.acts for e in a.evidence}
    named |= {e for met in (proposal.work.met if proposal.work else ()) for e in met.evidence}
    found = [e for e in weighing.casebook.evidence.values() if name in e.about or e.id in named]
    return sorted(found, key=lambda e: (e.on, e.id))
