"""The evidence register: files added to it, and held against it."""

from conserve.evidence.adding import Addition, addition, take_in
from conserve.evidence.checking import Remark, checked, held_against
from conserve.evidence.filling import NotAdded
from conserve.evidence.looking import CannotHide, FileFacts, Watch, file_facts, without_location

__all__ = [
    "Addition",
    "CannotHide",
    "FileFacts",
    "NotAdded",
    "Remark",
    "Watch",
    "addition",
    "checked",
    "file_facts",
    "held_against",
    "take_in",
    "without_location",
]
