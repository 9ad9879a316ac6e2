"""What a bundle copies: the casebook as its readers may see it, its evidence, and the rules."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from hashlib import sha256

from conserve.casebook import Casebook, read_casebook
from conserve.files import PROFILES, Folder
from conserve.pack.bag import Bag, Told
from conserve.pack.contents import home_of
from conserve.pack.refused import NotPacked
from conserve.pack.shown import ShownFile, Withheld, register_as_shown, trace_in
from conserve.rulebook import Rulebook, read_rulebook
from conserve.seal import read_seals
from conserve.yamlfile import read_yaml

RULES = "rulebook/"
_REGISTER = "evidence/register.yaml"
_WRITTEN = ("components/", "proposals/", "surveys/")
_ALONE = ("object.yaml", "measurements.csv", _REGISTER)
_LARGEST = 500_000_000  # bytes of a file of text: a chain grows with every seal


class Changed(NotPacked):
    """Something came out otherwise than it stands in the casebook."""

    def __init__(self, what: str) -> None:
        super().__init__(f"{what} came out otherwise in the bundle than in the casebook", "try again; then report it")


def copy_casebook(
    bag: Bag,
    folder: Folder,
    casebook: Casebook,
    withheld: Iterable[Withheld],
    shown: Iterable[ShownFile],
    hidden: Mapping[str, str],
    profile: str,
) -> None:
    """Copy what is written, the register without what is withheld, the chain and the notes. Nothing else goes along:
    what was kept at a seal may name what is withheld.

    A file that names what is withheld is refused: whoever wrote it can take the name out.
    """
    written = (name for name in casebook.digests if name in _ALONE or name.startswith(_WRITTEN))
    own = (name for name in folder.names(PROFILES[:-1], ".yaml") if name == f"{PROFILES}{profile}.yaml")
    for name in sorted((*written, *own, *_sealed(folder, casebook))):
        data = folder.read_bytes(name, _LARGEST)
        if sha256(data).hexdigest() != casebook.digests.get(name, sha256(data).hexdigest()):
            raise NotPacked(f"'{name}' has changed since it was read", "try again")
        if name == _REGISTER and (tuple(withheld) or any(one.told_otherwise for one in shown)):
            data = _register(folder, withheld, shown).encode("utf-8")
        if set("%\r\n").intersection(name):
            raise NotPacked(
                f"'{name}' has a sign in its name that programs for bags do not agree on", "rename the file"
            )
        if found := trace_in(data.decode("utf-8"), hidden):
            sentence = f"{name}:{found[0]} names the file of '{found[1]}', which is not to be shown"
            raise NotPacked(sentence, f"take its name out, or say under 'show:' of '{found[1]}' who may see it")
        bag.put(f"{home_of(casebook.id)}{name}", data)


def _sealed(folder: Folder, casebook: Casebook) -> Iterable[str]:
    """The chain and the notes, as far as there are any; they must be sound."""
    seals = read_seals(folder, casebook, casebook.id)
    if seals.problems:
        first = seals.problems[0]
        raise NotPacked(f"{first.where.file}:{first.where.line}: {first.message}", "'conserve check' tells more")
    return seals.files


def _register(folder: Folder, withheld: Iterable[Withheld], shown: Iterable[ShownFile]) -> str:
    node, problems = read_yaml(folder, _REGISTER, "C")
    if node is None or problems:
        raise NotPacked(f"'{_REGISTER}' has changed since it was read", "try again")
    return register_as_shown(node, withheld, shown)


def copy_evidence(bag: Bag, folder: Folder, casebook: str, shown: Iterable[ShownFile], told: Told) -> None:
    """Copy each file once, and refuse one that is no longer what was registered."""
    for name, one in {one.name: one for one in shown}.items():
        sums = bag.pour(f"{home_of(casebook)}evidence/{one.at}", _counted(folder.blocks(f"evidence/{name}"), told))
        if one.digest and sums.sha256 != one.digest:
            sentence = f"evidence/{name} is not what was registered as '{one.evidence}': it has been altered"
            raise NotPacked(sentence, "put the registered file back, or register this one anew")


def _counted(blocks: Iterable[bytes], told: Told) -> Iterator[bytes]:
    for block in blocks:
        told(len(block))
        yield block


def copy_rulebook(bag: Bag, rules: Folder, rulebook: Rulebook, profile: str) -> None:
    """Copy the rules, their words and sources, the overlays that are laid over them, and one profile."""
    laid = tuple(f"overlays/{overlay.name}/" for overlay in rulebook.overlays)
    for name in (*rules.names("", ".yaml"), *rules.names("", "CHANGES.md")):
        if name.startswith("overlays/") and not name.startswith(laid):
            continue
        if name.startswith(PROFILES) and name != f"{PROFILES}{profile}.yaml":
            continue
        bag.put(f"{RULES}{name}", rules.read_bytes(name))


def read_again(bag: Bag, casebook: str, rulebook: Rulebook) -> tuple[Casebook, Rulebook]:
    """The casebook and the rules as they stand in the bundle, which is what everything in it is made from."""
    again, _ = read_rulebook(Folder(bag.path(RULES)), tuple(overlay.name for overlay in rulebook.overlays))
    if again is None or again.digest != rulebook.digest:
        raise Changed("the rulebook")
    read, _ = read_casebook(Folder(bag.path(home_of(casebook))), again.vocabulary, casebook)
    if read is None:
        raise Changed("what is written")
    return read, again
