"""The commands that write records and say what is owed: record, due."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from conserve.cli.parser import (
    own_version,
    takes_casebook,
    takes_day,
    takes_json,
    takes_one_casebook,
    takes_rules,
    takes_seal,
    takes_what,
    with_example,
)
from conserve.cli.reading import Read, Refused, find, read_all, rules_folder
from conserve.cli.sealing import key_of, refused, when, witness_told
from conserve.cli.showing import as_json, blocks_with_progress, counted, wrapped_lines
from conserve.cli.weighing import all_told, engines_told, weigh_these
from conserve.files import in_turn

if TYPE_CHECKING:
    from conserve.casebook import Proposal
    from conserve.record.owed import Owed
    from conserve.seal import Chain, Entry, Signature
    from conserve.weighing import Weighing

DONE = 0


def add_record(parser: argparse.ArgumentParser) -> None:
    takes_what(parser)
    parser.add_argument("--html", action="store_true", help="write the records as web pages too")
    takes_day(parser, "weigh as on this day; otherwise as on the latest day in the casebook")
    parser.add_argument("--seal", action="store_true", help="seal what is decided in the casebook's chain")
    takes_seal(parser, always=False)
    takes_casebook(parser)
    takes_rules(parser)
    with_example(
        parser,
        "conserve record casebook/marrow-fen",
        "conserve record crosshead-slipper --html",
        "conserve record crosshead-slipper --seal --by 'N. Garrow'",
    )
    parser.set_defaults(run=record)


def record(given: argparse.Namespace) -> int:
    place, sign = find(given.what, given.inside), key_of(given)
    if given.seal and not given.by:
        raise Refused("nobody says who seals", "--by NAME")
    if not given.seal and (given.by or given.at or given.sign):
        raise Refused("'--by', '--at' and '--sign' are of a seal", "--seal seals what is decided")
    with in_turn(place.root):
        read = read_all(place, given.rules)
        from conserve.record import records_of  # slow to load, and of no use where the input is broken

        at = when(given) if given.seal else ""
        weighings = weigh_these(read.proposals(), read, given.day)  # all of them, before anything is written
        chain = _chain(read) if given.seal else None
        sealing = _to_be_sealed(weighings, read, chain, at) if chain else ()
        also = weigh_these(_places_taken(sealing, weighings, read), read, given.day)
        made = dict(records_of(read.folder, (*weighings, *also), read.rulebook, given.html))
        for name, text in made.items():
            read.folder.write(name, text)
        sealed = _sealed(sealing, made, read, given, at, sign) if sealing else ()
    _tell(weighings, tuple(made), read)
    if chain:
        _tell_sealed(sealing, sealed, weighings, chain)
    return DONE


def _tell(weighings: Sequence[Weighing], names: Sequence[str], read: Read) -> None:
    if len(weighings) == 1:
        print("\n".join(f"{read.place.shown}/{name}" for name in names))
        print(f"{counted(len(names), 'file')} written. {engines_told()}")
    else:
        print(all_told(weighings))
        print(f"{counted(len(names), 'file')} written to {read.place.shown}/records.")


# ---- sealing ---------------------------------------------------------------------------------------------


def _chain(read: Read) -> Chain:
    from conserve.seal import read_chain

    return read_chain(read.folder, read.place.shown)


def _to_be_sealed(weighings: Sequence[Weighing], read: Read, chain: Chain, at: str) -> tuple[Weighing, ...]:
    """Those that a person has decided and that are not sealed yet; all that is against it is told.

    One that is named is sealed again as it stands now. What a sealed decision has superseded is left as it was.
    """
    from conserve.seal import latest_seals, reasons_against, superseded

    gone, before = superseded(chain, read.casebook), latest_seals(chain)
    alone = bool(read.place.proposal)
    found = tuple(w for w in weighings if alone or (w.proposal.decision and w.proposal.id not in gone))
    reasons = reasons_against(read.folder, found, at)
    if reasons:
        from conserve.seal import NotSealed

        raise refused(NotSealed(*reasons[0], more=reasons[1:]))
    return found if alone else tuple(w for w in found if w.proposal.id not in before)


def _places_taken(sealing: Sequence[Weighing], weighings: Sequence[Weighing], read: Read) -> list[Proposal]:
    """What is superseded by what is sealed: its record says so from the same moment on."""
    told = {one.proposal.id for one in weighings}
    names = {one.proposal.supersedes for one in sealing} - told - {""}
    return [read.proposal(name) for name in sorted(names)]


def _sealed(
    sealing: Sequence[Weighing],
    made: Mapping[str, str],
    read: Read,
    given: argparse.Namespace,
    at: str,
    sign: Callable[[bytes], Signature] | None,
) -> tuple[Entry | None, ...]:
    from conserve.engine import engines
    from conserve.files import Folder
    from conserve.seal import By, Made, NotSealed, seal_decisions

    told = [
        Made(one, made[f"records/{one.proposal.id}.md"], made[f"records/{one.proposal.id}.json"]) for one in sealing
    ]
    how = By(at, given.by, engines(), own_version(), sign)
    rules = Folder(rules_folder(given.rules))
    try:
        return seal_decisions(read.folder, told, read.rulebook, rules, how, blocks_with_progress)
    except NotSealed as error:
        raise refused(error, "sealed") from None


def _tell_sealed(
    sealing: Sequence[Weighing], sealed: Sequence[Entry | None], weighings: Sequence[Weighing], chain: Chain
) -> None:
    """What became of each decision. `chain` is as it was before any of them was sealed."""
    from conserve.seal import latest_seals

    for one, entry in sorted(zip(sealing, sealed, strict=True), key=lambda pair: pair[1].sequence if pair[1] else 0):
        if entry is None:
            print(f"{one.proposal.id}: sealed as it stands already.")
        else:
            over = f", in place of '{one.proposal.supersedes}'" if one.proposal.supersedes else ""
            print(f"Entry {entry.sequence}: {one.proposal.id}{over}, {one.chosen}, {one.verdict}. {engines_told()}")
    ids = {one.proposal.id for one in weighings if one.proposal.decision} - {one.proposal.id for one in sealing}
    before = ids & set(latest_seals(chain))
    if before:
        left = counted(len(before), "decision was", "decisions were")
        print(f"{left} sealed before and left so; to seal one again as it stands now, name it.")
    if never := len(ids - before):
        said = counted(never, "decision was", "decisions were")
        print(f"{said} superseded without a seal, and {'is' if never == 1 else 'are'} not sealed.")
    open_ = sum(1 for one in weighings if not one.proposal.decision)
    if open_:
        print(f"{counted(open_, 'proposal is', 'proposals are')} not decided, and not sealed.")
    entries = (*chain.entries, *sorted(filter(None, sealed), key=lambda entry: entry.sequence))
    if entries:
        print("\n".join(witness_told(entries[-1])))


def add_due(parser: argparse.ArgumentParser) -> None:
    takes_one_casebook(parser)
    takes_day(parser, "what is owed on this day; otherwise today")
    takes_rules(parser)
    takes_json(parser)
    with_example(parser, "conserve due casebook/marrow-fen --on 2026-06-01")
    parser.set_defaults(run=due)


def due(given: argparse.Namespace) -> int:
    day = given.day or date.today()
    read = read_all(find(given.casebook), given.rules, json=given.json)
    from conserve.record.owed import owed, render  # slow to load, and of no use where the input is broken

    found = owed(weigh_these(read.proposals(), read, day), read.casebook, day)
    if given.json:
        print(as_json({"casebook": read.casebook.id, "on": day.isoformat(), "owed": [_as_json(one) for one in found]}))
    else:
        print(wrapped_lines(render(found, day)))
    return DONE


def _as_json(one: Owed) -> dict[str, str | None]:
    return {
        "on": one.on.isoformat() if one.on else None,
        "stage": str(one.stage),
        "what": one.what,
        "where": one.where,
        "proposal": one.proposal,
    }
