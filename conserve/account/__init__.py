"""The fabric account: what an option takes, leaves in place, keeps in store and adds. Never one score."""

from conserve.account.acts import Account, ActAccount, account_of
from conserve.account.choice import loses_least
from conserve.account.gentler import Compared, compare
from conserve.account.held import UNITS, Column, Held, held_now
from conserve.account.lost import named
from conserve.account.metal import NOTHING, mass_of, volume_of
from conserve.account.whole import Whole, held_today, rolled_up

__all__ = [
    "NOTHING",
    "UNITS",
    "Account",
    "ActAccount",
    "Column",
    "Compared",
    "Held",
    "Whole",
    "account_of",
    "compare",
    "held_now",
    "held_today",
    "loses_least",
    "mass_of",
    "named",
    "rolled_up",
    "volume_of",
]
