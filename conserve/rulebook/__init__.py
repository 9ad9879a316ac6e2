"""The rulebook: every rule and source, with the overlays laid over it, checked against one another."""

from conserve.rulebook.model import Clauses, KindProgram, Overlay, Rulebook
from conserve.rulebook.reading import digest_of_files, files_of, overlays_of, read_rulebook

__all__ = [
    "Clauses",
    "KindProgram",
    "Overlay",
    "Rulebook",
    "digest_of_files",
    "files_of",
    "overlays_of",
    "read_rulebook",
]
