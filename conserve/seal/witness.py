"""The witness code: a few signs that say how far a chain went and what stood in it, to be kept outside the house.

The number of entries, then 19 signs that are made from the last of them, and one that shows whether the code was
copied rightly. The signs are those of Crockford's base 32, which has no I, L, O or U. 19 signs are 95 bits of the
SHA-256 of the number and the digest of that entry; the entry names the one before it, and so all of them are meant.

The last sign makes the sum of all signs and digits, each times a power of x, nothing, in the field of 32 elements
(modulo x^5 + x^2 + 1): as in Reed-Solomon codes, from memory. One sign that is wrong is always noticed, and so are
two that changed places.
"""

from __future__ import annotations

import hashlib
import re

from conserve.seal.model import Chain, Entry

SIGNS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_LENGTH = 20
_MOST_DIGITS = 9
_MISREAD = str.maketrans("OIL", "011")
_BETWEEN = re.compile(r"[\s\-\u2010-\u2015\u2212.]+")
_FIELD = 0b100101  # x^5 + x^2 + 1


def witness(chain: Chain) -> str:
    """The witness code of a chain, such as `7-K7QM-2XTB-9F4D-HJ3W-PRVC`; "" where it is empty or not sound."""
    return "" if chain.problems or not chain.entries else witness_of(chain.entries[-1])


def witness_of(entry: Entry) -> str:
    """The witness code of a chain that ends with this entry."""
    signs = _signs(entry)
    groups = (signs[at : at + 4] for at in range(0, _LENGTH, 4))
    return "-".join((str(entry.sequence), *groups))


def read_witness(text: str) -> tuple[int, str]:
    """The number and the 20 signs of a code as a person copied it; `ValueError` with a sentence where it is none.

    Small letters, spaces, an O for a 0 and an I or L for a 1 do not matter.
    """
    plain = _BETWEEN.sub("", text).upper().translate(_MISREAD)
    number, signs = plain[:-_LENGTH], plain[-_LENGTH:]
    strange = sorted({sign for sign in plain if sign not in SIGNS})
    if strange:
        raise ValueError(f"a witness code has no {strange[0]!a}; it was copied wrongly, or is another thing")
    if not number or len(number) > _MOST_DIGITS or not number.isdecimal() or number.startswith("0"):
        raise ValueError(f"a witness code is a number and {_LENGTH} signs, such as 7-K7QM-2XTB-9F4D-HJ3W-PRVC")
    if _remainder(number + signs):
        raise ValueError("this witness code was copied wrongly: its last sign does not fit the others")
    return int(number), signs


def where_witnessed(text: str, chain: Chain) -> Entry | None:
    """The entry with which the chain ended when a code was written down; None where the chain never had it.

    Raises `ValueError` for what is no code, or was copied wrongly.
    """
    sequence, signs = read_witness(text)
    return next((one for one in chain.entries if one.sequence == sequence and _signs(one) == signs), None)


def _signs(entry: Entry) -> str:
    said = f"conserve-witness-1 {entry.sequence} {entry.digest}"
    number = int.from_bytes(hashlib.sha256(said.encode("ascii")).digest(), "big")
    number >>= 256 - 5 * (_LENGTH - 1)
    signs = "".join(SIGNS[number >> 5 * place & 31] for place in reversed(range(_LENGTH - 1)))
    return signs + SIGNS[_times_x(_remainder(f"{entry.sequence}{signs}"))]


def _remainder(signs: str) -> int:
    """The sum of all signs, each times a power of x, the last times one; 0 for a code that was copied rightly."""
    total = 0
    for sign in signs:
        total = _times_x(total) ^ SIGNS.index(sign)
    return total


def _times_x(element: int) -> int:
    doubled = element << 1
    return doubled ^ _FIELD if doubled & 32 else doubled
