"""Which signs a printed statement can hold: no control signs, and in print only those that its fonts can show."""

from __future__ import annotations

import re
import unicodedata

_BREAKS = re.compile(r"[\s\x1c-\x1f\x85]+")
_DROPPED = ("Cc", "Cf", "Cs", "Cn")  # control signs, invisible ones that turn the order of words, and what is no sign
# What the fonts that come with the typesetting program can show, as compiled block by block with 0.14.8 and 0.15.2:
# Latin, Greek and Cyrillic letters with their accents, and the signs of print, of sums and of drawing.
PRINTED = (
    " -~\xa0-\xac\xae-\u036f\u038e-\u03a1\u03a3-\u0477\u048a-\u04f9\u1e00-\u1f15\u1f20-\u1f45\u1f50-\u1f57"
    "\u1f80-\u1fb4\u2010-\u2027\u2030-\u2040\u2044-\u2052\u2074-\u208e\u20a0-\u20bf\u2100-\u211e\u2126-\u214f"
    "\u2153-\u2184\u2190-\u2311\u2460-\u262f\u2713-\u2727"
)
_NOT_PRINTED = re.compile(f"[^{PRINTED}\n\t]")


def tidied(text: str) -> str:
    """A text on one line, without signs that cannot be seen."""
    spaced = _BREAKS.sub(lambda found: found[0] if found[0] == "\xa0" else " ", text)
    return "".join(sign for sign in spaced if unicodedata.category(sign) not in _DROPPED).strip()


def printable(text: str) -> str:
    """A text whose every sign can be set; one that cannot is told by its number, such as [U+6F22]."""
    composed = unicodedata.normalize("NFC", text)
    return _NOT_PRINTED.sub(lambda found: f"[U+{ord(found[0]):04X}]", composed)
