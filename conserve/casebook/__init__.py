"""A casebook: what is written about one object, read with all its problems at once."""

from conserve.casebook.model import (
    Act,
    Casebook,
    Check,
    Component,
    Evidence,
    Facts,
    Need,
    NeedKind,
    Object,
    Option,
    Proposal,
    Stated,
    Thing,
    Work,
)
from conserve.casebook.reading import read_casebook, read_register

__all__ = [
    "Act",
    "Casebook",
    "Check",
    "Component",
    "Evidence",
    "Facts",
    "Need",
    "NeedKind",
    "Object",
    "Option",
    "Proposal",
    "Stated",
    "Thing",
    "Work",
    "read_casebook",
    "read_register",
]
