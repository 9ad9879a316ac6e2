"""What keeps a decision from being sealed: said before anything is written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path

from conserve.casebook import Casebook
from conserve.files import Folder, Only
from conserve.seal.appending import chain_to_seal_in, must_be_later
from conserve.seal.keeping import changed, kept, kept_list
from conserve.seal.model import Chain, Entry, SealedDecision
from conserve.seal.refused import NotKept, NotSealed
from conserve.seal.values import day_of
from conserve.weighing import Weighing
from conserve.yamlfile import Entries, Text, read_yaml

Reason = tuple[str, str]  # a sentence, and one thing to try

_OLDER = "a seal cannot be older than what it seals: correct the date, or seal when it has come"


def reasons_against(folder: Folder, weighings: Sequence[Weighing], at: str) -> tuple[Reason, ...]:
    """Everything that keeps these decisions of one casebook from being sealed at that moment, each told once."""
    try:
        chain = chain_to_seal_in(folder)
    except NotSealed as not_sealed:
        return not_sealed.all
    return reasons_in(chain, folder, weighings, at)


def reasons_in(chain: Chain, folder: Folder, weighings: Sequence[Weighing], at: str) -> tuple[Reason, ...]:
    """The same where the chain is known."""
    found: list[Reason] = []
    try:
        must_be_later(chain, at)
    except NotSealed as not_sealed:
        found += not_sealed.all
    day = day_of(at)
    if day is None or not weighings:
        return tuple(found)
    casebook = weighings[0].casebook
    latest, later = latest_seals(chain), superseded(chain, casebook)
    found += _of_casebook(folder, casebook, day)
    for weighing in weighings:
        name = weighing.proposal.id
        found += _of_one(weighing, later.get(name), day)
        if name in latest:
            found += _otherwise(folder, latest[name], weighing)
    return tuple(dict.fromkeys(found))


def latest_seals(chain: Chain) -> dict[str, Entry]:
    """Each proposal that was sealed -> the latest entry that seals its decision."""
    return {entry.decision.proposal: entry for entry in chain.entries if entry.decision}


def superseded(chain: Chain, casebook: Casebook) -> dict[str, Entry]:
    """Each proposal whose decision a sealed one took the place of -> the latest entry of that one.

    No further seal of such a proposal is made. What the casebook says counts where the earlier was not sealed then.
    """
    found = {}
    for name, entry in latest_seals(chain).items():
        proposal, sealed = casebook.proposal(name), entry.decision
        if sealed and sealed.supersedes:
            found[sealed.supersedes.proposal] = entry
        elif proposal and proposal.supersedes:
            found[proposal.supersedes] = entry
    return found


def _of_casebook(folder: Folder, casebook: Casebook, day: date) -> Iterator[Reason]:
    if casebook.as_at > day:
        yield f"something in the casebook is dated {casebook.as_at}, after the day of the seal, {day}", _OLDER
    other = changed(folder, casebook.digests)
    if other:
        yield f"'{other[0]}' was changed after it was read; nothing is sealed", "try again"


def _of_one(weighing: Weighing, later: Entry | None, day: date) -> Iterator[Reason]:
    name, decision = weighing.proposal.id, weighing.proposal.decision
    if decision is None:
        yield f"'{name}' is not decided", "write under 'decision:' what was chosen, by whom, when and why"
        return
    if decision.on > day:
        yield f"'{name}' is decided on {decision.on}, after the day of the seal, {day}", _OLDER
    if weighing.on > day:
        yield f"'{name}' is weighed as on {weighing.on}, after the day of the seal, {day}", _OLDER
    if weighing.on < decision.on:
        hint = "weigh it as on the day of the decision, or later"
        yield f"'{name}' is weighed as on {weighing.on}, before it was decided, on {decision.on}", hint
    if later and later.decision:
        other = later.decision.proposal
        yield f"'{name}' was superseded by '{other}', sealed as entry {later.sequence}", f"seal '{other}' instead"


def _otherwise(folder: Folder, entry: Entry, weighing: Weighing) -> Iterator[Reason]:
    """Whether a decision is another than the one that was sealed."""
    sealed, decision, name = entry.decision, weighing.proposal.decision, weighing.proposal.id
    if sealed is None or decision is None:
        return
    was = {"what was chosen": sealed.chosen, "who decided": sealed.by, "its date": sealed.on}
    now = {"what was chosen": decision.chosen, "who decided": decision.by, "its date": decision.on.isoformat()}
    differs = [what for what, said in was.items() if said != now[what]]
    try:
        reason = _reason_of(name, sealed, folder)
        differs += ["its reason"] if reason != decision.reason else []
    except NotKept as not_kept:
        yield f"nobody can tell how '{name}' was decided: {not_kept.reason}", "put it back as it was, from a copy"
    if differs:
        hint = f"put it back as it was, and write a new proposal with 'supersedes: {name}'"
        yield (
            f"'{name}' was decided otherwise when it was sealed, as entry {entry.sequence}: not the same are "
            + (", ".join(differs)),
            f"a decision that is sealed is superseded, never edited: {hint}",
        )


def _reason_of(name: str, sealed: SealedDecision, folder: Folder) -> str:
    """The reason that was sealed. Raises `NotKept`."""
    file = f"proposals/{name}.yaml"
    files = kept_list(folder, sealed.files)
    if file not in files:
        raise NotKept(f"what was sealed does not name '{file}'")
    return _reason_in(kept(folder, files[file]), file)


def _reason_in(data: bytes, file: str) -> str:
    """The reason of the decision in a proposal's file; "" where there is none."""
    node = read_yaml(Only(Path(), {file: data}), file, "C")[0]
    for key in ("decision", "reason"):
        items = node.items if isinstance(node, Entries) else ()
        node = next((value for name, value in items if name.value == key), None)
    return node.value.strip() if isinstance(node, Text) else ""
