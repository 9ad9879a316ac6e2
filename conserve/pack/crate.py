"""What each file of a bundle is, told as an RO-Crate: for catalogues, and for whoever has no program of ours.

Source: RO-Crate Metadata Specification 1.2 (structure, root data entity, data and contextual entities; its appendix
puts a crate's root into the payload of a bag); read in part.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from conserve.casebook import Evidence
from conserve.pack.bag import Sums
from conserve.pack.contents import Contents, address

FILE = "ro-crate-metadata.json"
_VERSION = "1.2"
_TYPES = {
    ".csv": "text/csv",
    ".gif": "image/gif",
    ".html": "text/html",
    ".jpeg": "image/jpeg",
    ".jpg": "image/jpeg",
    ".json": "application/json",
    ".jsonl": "application/jsonl",
    ".jsonld": "application/ld+json",
    ".md": "text/markdown",
    ".pdf": "application/pdf",
    ".png": "image/png",
    ".py": "text/x-python",
    ".svg": "image/svg+xml",
    ".tif": "image/tiff",
    ".tiff": "image/tiff",
    ".txt": "text/plain",
    ".yaml": "application/yaml",
    ".docx": "application/vnd.openxmlformats-officedocument.wordprocessingml.document",
}
_KINDS = {  # the first that a path begins with
    "GUIDE.txt": "What is here, and how to check it",
    "checker.py": "Draws every conclusion of a proof again",
    "readiness.md": "What the purpose asks for, and what is there",
    "ledger.md": "How much of the object is original, in words",
    "ledger.svg": "How much of the object is original, drawn",
    "provenance.jsonld": "Where everything here comes from, in the words of PROV-O",
    "rulebook/": "A rule, or the words and sources of the rules",
}
_PARTS = {  # of the casebook
    "chain.jsonl": "The chain of seals: who sealed which decision, and when",
    "notes/": "What a reviewer says of a decision",
    "records/": "A justification record, or its proof",
    "statement/": "The conservation statement",
    "components/": "What is written about one component",
    "proposals/": "What is proposed, decided and done",
    "surveys/": "Answers that were brought in on a sheet",
    "evidence/register.yaml": "The register of evidence",
}


def crate(contents: Contents) -> str:
    """The metadata of a bundle as JSON-LD. It lists every file but itself."""
    people = sorted(contents.casebook.object.people.values(), key=lambda one: one.id)
    graph = [
        {
            "@id": FILE,
            "@type": "CreativeWork",
            "conformsTo": {"@id": f"https://w3id.org/ro/crate/{_VERSION}"},
            "about": {"@id": "./"},
        },
        _root(contents, [f"#person-{one.id}" for one in people]),
        {"@id": "#object", "@type": "Thing", "name": contents.casebook.object.name},
        {
            "@id": "#terms",
            "@type": "CreativeWork",
            "name": "As stated piece by piece",
            "description": "Each piece of evidence states whose it is. Where nothing is stated, nothing is granted: "
            "ask the owner of the object.",
        },
        *(
            {
                "@id": f"#person-{one.id}",
                "@type": "Person",
                "name": one.name,
                "jobTitle": one.role,
                "description": one.competence,
            }
            for one in people
        ),
        *_files(contents),
    ]
    told = {"@context": f"https://w3id.org/ro/crate/{_VERSION}/context", "@graph": graph}
    return json.dumps(told, ensure_ascii=False, indent=1) + "\n"


def _root(contents: Contents, people: Iterable[str]) -> dict[str, Any]:
    name = contents.casebook.object.name
    return {
        "@id": "./",
        "@type": "Dataset",
        "identifier": f"urn:uuid:{contents.identifier}",
        "name": f"{name}: evidence for '{contents.purpose}'",
        "description": f"Conservation statement, justification records with their proofs, evidence, casebook and rules "
        f"of {name}, put together for '{contents.purpose}'. It certifies nothing.",
        "datePublished": contents.day.isoformat(),
        "license": {"@id": "#terms"},
        "about": {"@id": "#object"},
        "creditText": contents.casebook.object.owner,
        "contributor": [{"@id": person} for person in people],
        "hasPart": [{"@id": address(name)} for name in sorted(contents.payload)],
    }


def _files(contents: Contents) -> Iterator[dict[str, Any]]:
    pictured = {f"{contents.home}evidence/{one.at}": one.evidence for one in contents.shown}
    names = {one.name: one.id for one in contents.casebook.object.people.values()}
    for name, sums in sorted(contents.payload.items()):
        item = contents.casebook.evidence.get(pictured.get(name, ""))
        yield {**_file(name, sums, contents.home), **({} if item is None else _evidence(item, names))}
        if item is not None and item.rights:
            yield {
                "@id": f"#terms-{item.id}",
                "@type": "CreativeWork",
                "name": f"Terms of {item.id}",
                "description": item.rights,
            }


def _file(name: str, sums: Sums, home: str) -> dict[str, Any]:
    kinds, tail = (_PARTS, name.removeprefix(home)) if name.startswith(home) else (_KINDS, name)
    said = next((words for begins, words in kinds.items() if tail.startswith(begins)), "A file of the casebook")
    ending = name[name.rfind(".") :].lower() if "." in name else ""
    return {
        "@id": address(name),
        "@type": "File",
        "name": name.rpartition("/")[2],
        "description": said,
        "contentSize": str(sums.size),
        "encodingFormat": _TYPES.get(ending, "application/octet-stream"),
        "sha256": sums.sha256,
    }


def _evidence(item: Evidence, names: Mapping[str, str]) -> dict[str, Any]:
    return {
        "name": item.id,
        "description": item.shows,
        "dateCreated": item.on.isoformat(),
        "author": {"@id": f"#person-{names[item.by]}"} if item.by in names else item.by,
        "license": {"@id": f"#terms-{item.id}" if item.rights else "#terms"},
        "conditionsOfAccess": f"To be shown to: {item.show}",
    }
