"""What is kept in the casebook of a bundle that was sent: so that it can be told when it no longer holds."""

from __future__ import annotations

import json
from datetime import date

from conserve.files import Folder
from conserve.pack.making import Asked, Packed
from conserve.pack.refused import NotPacked

SCHEMA = "conserve-sent-1"


def note_of(profile: str, day: date) -> str:
    """The file that tells of a bundle sent on a day."""
    return f"sent/{day.isoformat()}-{profile}.json"


def check_unsent(folder: Folder, profile: str, day: date, as_on: date) -> None:
    """Refuse to tell twice of one bundle on one day, or of one sent before the day that it tells of."""
    if day < as_on:
        raise NotPacked(f"a bundle that tells of {as_on} was not sent on {day}", "give the right day, or another --on")
    name = note_of(profile, day)
    if name in folder.names("sent", ".json"):
        raise NotPacked(f"'{name}' is there already, and is left as it is", "leave out --sent, or give the right day")


def note_sent(asked: Asked, packed: Packed, day: date, recipient: str) -> str:
    """Write to whom and when a bundle was sent, and what its statement was made from. Names the file.

    The statement that is noted is that of the whole casebook, so that a change to what was withheld is seen too.
    """
    from conserve.seal import read_seals
    from conserve.statement import document_of, index

    seals = read_seals(asked.folder, asked.casebook, asked.casebook.id)
    document = document_of(asked.weighings, asked.casebook, asked.rulebook, asked.day, seals)
    told = {
        "schema": SCHEMA,
        "profile": asked.profile.id,
        "sent": day.isoformat(),
        "to": recipient,
        "manifest": packed.manifest,
        "witness": seals.witness,
        "statement": json.loads(index(document)),
    }
    name = note_of(asked.profile.id, day)
    text = json.dumps(told, ensure_ascii=False, sort_keys=True, indent=1)
    asked.folder.add(name, f"{text}\n".encode())
    return name
