"""Whether a casebook answers what a funder or a board asks for, and what the work costs and changes.

It reads what is written and says where something is wanting. It judges no one's case: a full list can still be
refused, and nothing here says that a machine is safe.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from conserve.casebook import Casebook
from conserve.explanation import out_of_use
from conserve.files import Folder
from conserve.readiness import money, proposed, said, shown
from conserve.readiness.changes import Change, changes_of
from conserve.readiness.costs import Costs, costs_of
from conserve.readiness.looking import Case
from conserve.readiness.model import Ask, Found, Mend, Outcome, Profile, Readiness, State, Wanted
from conserve.readiness.profiles import profiles_of, read_profile
from conserve.readiness.stated import Stated, stated, statement
from conserve.rulebook import Rulebook
from conserve.weighing import Weighing

_WORST_FIRST = (State.ABSENT, State.STALE, State.PRESENT)
_LOOKS = {
    "field": said.field,
    "person": said.person,
    "policy": said.policy,
    "budget": said.budget,
    "options": proposed.options,
    "record": proposed.record,
    "work": proposed.work,
    "costs": money.costs,
    "register": shown.register,
}


def readiness(
    profile: Profile,
    weighings: Iterable[Weighing],
    casebook: Casebook,
    rulebook: Rulebook,
    folder: Folder,
    day: date,
) -> Readiness:
    """How ready a casebook is for a purpose on a day. `weighings` are all of its proposals, as on that day.

    What nobody has written is absent. Every requirement stands in the profile's order.
    """
    case = Case(profile, casebook, tuple(sorted(weighings, key=lambda w: w.proposal.id)), rulebook, folder, day)
    asked = {(ask.kind, ask.word) for wanted in profile.wanted for ask in wanted.asks}
    kept = stated(case) if any(kind == "statement" for kind, _ in asked) else None
    written = shown.written(case) if ("record", "written") in asked else None
    return Readiness(
        profile=profile,
        casebook=casebook.id,
        object=casebook.object.name,
        day=day,
        outcomes=tuple(_outcome(case, wanted, kept, written) for wanted in profile.wanted),
        costs=costs_of(case.weighings, casebook),
        changes=changes_of(case.weighings),
        cautions=tuple(dict.fromkeys(out_of_use(p) for w in case.weighings for p in w.parts if p.out_of_use)),
        strays=tuple(shown.strays(case)),
    )


def _outcome(case: Case, wanted: Wanted, kept: Stated | None, written: Found | None) -> Outcome:
    found = [_found(case, wanted, ask, kept, written) for ask in wanted.asks]
    state = next(state for state in _WORST_FIRST if any(one.state is state for one in found))
    mends = dict.fromkeys(mend for one in found for mend in one.mends)
    return Outcome(wanted, state, tuple(one.says for one in found), tuple(mends))


def _found(case: Case, wanted: Wanted, ask: Ask, kept: Stated | None, written: Found | None) -> Found:
    if ask.kind == "statement":
        return statement(ask, kept)
    if ask.kind == "evidence":
        return shown.evidence(case, ask, wanted.id)
    if written is not None and (ask.kind, ask.word) == ("record", "written"):
        return written
    return _LOOKS[ask.kind](case, ask)


__all__ = [
    "Change",
    "Costs",
    "Mend",
    "Outcome",
    "Profile",
    "Readiness",
    "State",
    "costs_of",
    "profiles_of",
    "read_profile",
    "readiness",
]
