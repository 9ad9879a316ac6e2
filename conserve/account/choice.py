"""Which of the options that stand loses least, question by question. A statement for a person who decides.

No points and no weights: a later question is asked only of those that an earlier one leaves level, and
whether an option stands is settled before any of them. It changes no verdict.
"""

from __future__ import annotations

from collections.abc import Mapping

from conserve.account.acts import Account
from conserve.quantity import above
from conserve.truth import Truth

ORDER = ("marks", "surface", "metal", "acts that cannot be undone")


def loses_least(standing: Mapping[str, Account]) -> tuple[str, ...]:
    """The options that lose least, in the order above; more than one where they are level, none where unknown.

    A difference in metal that lies inside the uncertainty is a tie. Where an account is not told in full,
    or an amount is not known, nothing is said.
    """
    left = dict(standing)
    if any(account.untold for account in left.values()):
        return ()
    for kinds in (("mark",), ("surface", "body")):
        left = _fewest(left, {name: _count(account, kinds) for name, account in left.items()})
    if len(left) > 1:
        if any(account.volume is None or account.volume.uncertainty is None for account in left.values()):
            return ()
        left = {name: a for name, a in left.items() if not any(_takes_more(a, b) for b in left.values())}
    left = _fewest(left, {name: account.for_good for name, account in left.items()})
    return tuple(sorted(left))


def _count(account: Account, kinds: tuple[str, ...]) -> int:
    return sum(thing.partition(":")[0] in kinds for thing in account.lost)


def _fewest(left: dict[str, Account], counts: Mapping[str, int]) -> dict[str, Account]:
    least = min(counts.values(), default=0)
    return {name: account for name, account in left.items() if counts[name] == least}


def _takes_more(one: Account, other: Account) -> bool:
    assert one.volume is not None and other.volume is not None
    return above(one.volume, other.volume) is Truth.YES
