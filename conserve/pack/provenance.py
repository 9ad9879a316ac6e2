"""Where everything in a bundle comes from, in the words of PROV-O, as JSON-LD that fetches nothing.

Source: W3C Recommendation PROV-O (30 April 2013), sections 3.1 (starting points) and 3.3 (associations with a plan and
a role); from memory. A day stands as its first moment, because the standard's times have an hour.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any
from urllib.parse import quote

from conserve.casebook import Casebook, Evidence, Proposal
from conserve.pack.contents import Contents, address

FILE = "provenance.jsonld"
_CONTEXT = {
    "prov": "http://www.w3.org/ns/prov#",
    "rdfs": "http://www.w3.org/2000/01/rdf-schema#",
    "xsd": "http://www.w3.org/2001/XMLSchema#",
    "label": "rdfs:label",
    "comment": "rdfs:comment",
    **{
        name: {"@id": f"prov:{name}", "@type": "@id"}
        for name in (
            *("used", "wasGeneratedBy", "wasAttributedTo", "wasAssociatedWith", "wasInformedBy", "wasDerivedFrom"),
            *("hadMember", "agent", "hadPlan", "hadRole", "qualifiedAssociation"),
        )
    },
    **{name: {"@id": f"prov:{name}", "@type": "xsd:dateTime"} for name in ("startedAtTime", "endedAtTime")},
    "generatedAtTime": {"@id": "prov:generatedAtTime", "@type": "xsd:dateTime"},
}
_PROGRAM = "here:#program"
_OBJECT = "here:#object"
_RULEBOOK = "here:rulebook/"

Node = dict[str, Any]


def provenance(contents: Contents) -> str:
    """Things, what was done and by whom: of a bundle's object, evidence, records, decisions and work."""
    context = {"here": f"arcp://uuid,{contents.identifier}/", **_CONTEXT}
    graph = [*_things(contents), *_agents(contents.casebook)]
    for proposal in sorted(contents.casebook.proposals, key=lambda one: one.id):
        graph += [*_weighing(proposal, contents), *_decision(proposal, contents), *_work(proposal, contents)]
    return json.dumps({"@context": context, "@graph": graph}, ensure_ascii=False, indent=1) + "\n"


# ---- things ---------------------------------------------------------------------------------------------


def _things(contents: Contents) -> Iterator[Node]:
    casebook, home = contents.casebook, contents.home
    inputs = [name for name in sorted(casebook.digests) if f"{home}{name}" in contents.payload]
    yield {"@id": _OBJECT, "@type": "prov:Entity", "label": casebook.object.name}
    for part in sorted(casebook.components.values(), key=lambda one: one.id):
        yield {"@id": _part(part.id), "@type": "prov:Entity", "label": part.name}
    yield {
        "@id": _file(home),
        "@type": ["prov:Entity", "prov:Collection"],
        "label": f"The casebook of the {casebook.object.name}, as its readers may see it",
        "hadMember": [_file(f"{home}{name}") for name in inputs],
    }
    for name in inputs:
        yield {"@id": _file(f"{home}{name}"), "@type": "prov:Entity", "label": name}
    yield {
        "@id": _RULEBOOK,
        "@type": ["prov:Entity", "prov:Plan"],
        "label": "The rulebook",
        "comment": f"Its digest: {contents.rulebook.digest}",
    }
    for one in contents.shown:
        yield _evidence(casebook.evidence[one.evidence], _file(f"{home}evidence/{one.at}"), casebook)


def _evidence(item: Evidence, at: str, casebook: Casebook) -> Node:
    return {
        "@id": at,
        "@type": "prov:Entity",
        "label": f"{item.id}: {item.kind}",
        "comment": item.shows,
        "generatedAtTime": _time(item.on),
        "wasAttributedTo": _person(item.by, casebook),
    }


# ---- who ------------------------------------------------------------------------------------------------


def _agents(casebook: Casebook) -> Iterator[Node]:
    for one in sorted(casebook.object.people.values(), key=lambda one: one.id):
        yield {
            "@id": f"here:#person/{one.id}",
            "@type": ["prov:Agent", "prov:Person"],
            "label": one.name,
            "comment": f"{one.role}. {one.competence}".strip(),
        }
    for name in sorted(set(_named(casebook))):
        if (at := _person(name, casebook)).startswith("here:#name/"):
            yield {"@id": at, "@type": "prov:Agent", "label": name}
    yield {"@id": _PROGRAM, "@type": ["prov:Agent", "prov:SoftwareAgent"], "label": "conserve"}


def _named(casebook: Casebook) -> Iterator[str]:
    """Everyone whom evidence, a decision or work names."""
    yield from (item.by for item in casebook.evidence.values())
    for proposal in casebook.proposals:
        if proposal.decision is not None:
            yield proposal.decision.by
        if proposal.work is not None and proposal.work.by:
            yield proposal.work.by


def _person(said: str, casebook: Casebook) -> str:
    """Who is meant by an id or a name."""
    for one in casebook.object.people.values():
        if said in (one.id, one.name):
            return f"here:#person/{one.id}"
    return f"here:#name/{quote(said, safe='')}"


def _role(agent: str, casebook: Casebook) -> list[str]:
    person = casebook.object.people.get(agent.removeprefix("here:#person/"))
    return [f"here:#role/{person.role}"] if person is not None and person.role else []


# ---- what was done --------------------------------------------------------------------------------------


def _weighing(proposal: Proposal, contents: Contents) -> Iterator[Node]:
    home = contents.home
    at = f"here:#weighing/{proposal.id}"
    inputs = (f"{home}proposals/{proposal.id}.yaml", *(f"{home}components/{part}.yaml" for part in proposal.components))
    yield {
        "@id": at,
        "@type": "prov:Activity",
        "label": f"Weighing: {proposal.title}",
        "comment": f"As on {contents.day}. What it concludes is no decision.",
        "used": [
            _file(home),
            *(_file(name) for name in inputs if name in contents.payload),
            *_shown(proposal, contents),
        ],
        "wasAssociatedWith": _PROGRAM,
        "qualifiedAssociation": _association(at, _PROGRAM, plan=_RULEBOOK),
    }
    for ending in (".md", ".json"):
        if (name := f"{home}records/{proposal.id}{ending}") in contents.payload:
            yield {
                "@id": _file(name),
                "@type": "prov:Entity",
                "label": f"Record of {proposal.id}",
                "wasGeneratedBy": at,
            }


def _shown(proposal: Proposal, contents: Contents) -> list[str]:
    """The evidence in the bundle that is about a proposal's components."""
    parts, evidence = set(proposal.components), contents.casebook.evidence
    about = (one for one in contents.shown if parts.intersection(evidence[one.evidence].about))
    return [_file(f"{contents.home}evidence/{one.at}") for one in about]


def _decision(proposal: Proposal, contents: Contents) -> Iterator[Node]:
    decision = proposal.decision
    if decision is None:
        return
    at, agent = f"here:#decision/{proposal.id}", _person(decision.by, contents.casebook)
    yield {
        "@id": at,
        "@type": "prov:Activity",
        "label": f"Decision: {decision.chosen}",
        "comment": decision.reason,
        "startedAtTime": _time(decision.on),
        "endedAtTime": _time(decision.on),
        "used": [_part(part) for part in proposal.components],
        "wasAssociatedWith": agent,
        "qualifiedAssociation": _association(at, agent, roles=_role(agent, contents.casebook)),
    }


def _work(proposal: Proposal, contents: Contents) -> Iterator[Node]:
    work = proposal.work
    if work is None or (work.began is None and work.finished is None):
        return
    at = f"here:#work/{proposal.id}"
    told: Node = {"@id": at, "@type": "prov:Activity", "label": f"Work: {proposal.title}"}
    if work.began is not None:
        told["startedAtTime"] = _time(work.began)
    if work.finished is not None:
        told["endedAtTime"] = _time(work.finished)
    told["used"] = [_part(part) for part in proposal.components]
    if proposal.decision is not None:
        told["wasInformedBy"] = f"here:#decision/{proposal.id}"
    if work.by:
        agent = _person(work.by, contents.casebook)
        told["wasAssociatedWith"] = agent
        told["qualifiedAssociation"] = _association(at, agent, roles=_role(agent, contents.casebook))
    yield told


def _association(of: str, agent: str, plan: str = "", roles: Iterable[str] = ()) -> Node:
    told: Node = {"@id": f"{of}/by", "@type": "prov:Association", "agent": agent}
    if plan:
        told["hadPlan"] = plan
    for role in roles:
        told["hadRole"] = role
    return told


def _part(name: str) -> str:
    return f"here:#component/{name}"


def _file(name: str) -> str:
    return f"here:{address(name)}"


def _time(day: date) -> str:
    return f"{day.isoformat()}T00:00:00"
