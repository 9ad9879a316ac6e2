"""The chain of a casebook: who sealed which decision, when, and from what; each entry names the one before."""

from conserve.seal.appending import append
from conserve.seal.behind import behind
from conserve.seal.chain import read_chain
from conserve.seal.keeping import all_kept, as_sealed, keep, kept, kept_list
from conserve.seal.making import By, Made, seal_decision, seal_decisions
from conserve.seal.model import CHAIN, FIRST, Chain, Entry, SealedDecision, SealedNote, Signature, Superseded
from conserve.seal.noting import seal_note
from conserve.seal.reading import NOTHING_SEALED, Seals, not_answered, read_seals
from conserve.seal.refusals import latest_seals, reasons_against, superseded
from conserve.seal.refused import NotKept, NotSealed
from conserve.seal.rulebooks import keep_rulebook, rulebook_folder
from conserve.seal.signing import CannotSign, fingerprint, signer, verify
from conserve.seal.witness import read_witness, where_witnessed, witness, witness_of

__all__ = [
    "CHAIN",
    "FIRST",
    "NOTHING_SEALED",
    "By",
    "CannotSign",
    "Chain",
    "Entry",
    "Made",
    "NotKept",
    "NotSealed",
    "SealedDecision",
    "SealedNote",
    "Seals",
    "Signature",
    "Superseded",
    "all_kept",
    "append",
    "as_sealed",
    "behind",
    "fingerprint",
    "keep",
    "keep_rulebook",
    "kept",
    "kept_list",
    "latest_seals",
    "not_answered",
    "read_chain",
    "read_seals",
    "read_witness",
    "reasons_against",
    "rulebook_folder",
    "seal_decision",
    "seal_decisions",
    "seal_note",
    "signer",
    "superseded",
    "verify",
    "where_witnessed",
    "witness",
    "witness_of",
]
