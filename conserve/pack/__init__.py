"""The evidence bundle: a folder and a zip file that anyone can check with common tools."""

from conserve.pack.bag import Bag, Sums
from conserve.pack.making import Asked, Packed, check_place, pack
from conserve.pack.refused import NotPacked
from conserve.pack.sent import check_unsent, note_sent

__all__ = ["Asked", "Bag", "NotPacked", "Packed", "Sums", "check_place", "check_unsent", "note_sent", "pack"]
