"""Sign an entry with a key of its owner, and hold a signature against it: Ed25519, RFC 8032.

The library for that is installed only on request; without it, nothing can be signed and no signature be judged.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from conserve.files import FileRefused, Folder
from conserve.seal.entry import as_said, to_be_signed
from conserve.seal.model import Entry, Signature
from conserve.truth import Truth

_LARGEST = 100_000  # bytes of a key's file


class CannotSign(Exception):
    """There is no key that can sign; a sentence for people, one thing to try, and the extra that is not installed."""

    def __init__(self, sentence: str, hint: str = "", extra: str = "") -> None:
        super().__init__(sentence)
        self.hint = hint
        self.extra = extra


def signer(path: Path) -> Callable[[bytes], Signature]:
    """What signs with the private key of a file: unencrypted Ed25519, PEM or OpenSSH. Raises `CannotSign`."""
    try:
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    except ImportError:
        raise CannotSign("signing needs another library, which is not installed", extra="sign") from None
    key = _loaded(path)
    if not isinstance(key, Ed25519PrivateKey):
        hint = "make one with: openssl genpkey -algorithm ed25519 -out KEYFILE"
        raise CannotSign(f"'{path}' holds no Ed25519 key", hint)
    public = key.public_key().public_bytes_raw().hex()
    return lambda message: Signature(public, key.sign(message).hex())


def _loaded(path: Path) -> Any:
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.serialization import load_pem_private_key, load_ssh_private_key

    try:
        data = Folder(path.resolve().parent).read_bytes(path.resolve().name, _LARGEST)
    except (FileRefused, OSError) as refused:
        raise CannotSign(f"the key cannot be read: {refused}", "name the file of a private key") from None
    load = load_ssh_private_key if b"OPENSSH PRIVATE KEY" in data else load_pem_private_key
    try:
        return load(data, password=None)
    except TypeError:  # said by the library of a key that has a passphrase
        hint = "give a copy without one: openssl pkey -in KEYFILE -out PLAIN, or ssh-keygen -p -N '' on a copy"
        raise CannotSign(f"'{path}' has a passphrase", hint) from None
    except (ValueError, UnsupportedAlgorithm):
        hint = "make one with: openssl genpkey -algorithm ed25519 -out KEYFILE"
        raise CannotSign(f"'{path}' holds no private key that can be read", hint) from None


def verify(entry: Entry) -> Truth | None:
    """Whether the signature of an entry fits it; None where it has none, unknown without the library."""
    if entry.signature is None:
        return None
    try:
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    except ImportError:
        return Truth.UNKNOWN
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(entry.signature.key))
        key.verify(bytes.fromhex(entry.signature.value), to_be_signed(as_said(entry)))
    except (InvalidSignature, ValueError):
        return Truth.NO
    return Truth.YES


def fingerprint(key: str) -> str:
    """A short name of a public key, to be compared with what its owner says it is: 16 signs of hex."""
    return hashlib.sha256(bytes.fromhex(key)).hexdigest()[:16]
