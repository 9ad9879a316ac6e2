"""The witness code: what is copied by hand is read again, and what is copied wrongly is noticed."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sealing import DECISION, chain_of, sum_of

from conserve.files import Folder
from conserve.seal import Entry, read_chain, read_witness, where_witnessed, witness, witness_of
from conserve.seal.model import Chain
from conserve.seal.witness import SIGNS

FORM = re.compile(r"[1-9][0-9]*(-[0-9A-HJKMNP-TV-Z]{4}){5}")
ENTRY = Entry(7, sum_of("0"), "2026-07-01T10:00:00+01:00", "Ann", DECISION, None, sum_of("5"))

entries = st.builds(
    lambda sequence, digest: replace(ENTRY, sequence=sequence, digest=f"{digest:064x}"),
    st.integers(1, 999_999_999),
    st.integers(0, 2**256 - 1),
)


def test_the_signs_are_those_of_crockfords_base_32():
    # https://www.crockford.com/base32.html
    assert SIGNS == "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


def test_a_code_stays_the_same_for_ever():
    # worked out once with this program; only that it does not change is held here
    assert witness_of(ENTRY) == "7-V9V2-D290-YRVZ-8WF9-ZCJZ"


@given(entries)
def test_a_code_has_the_number_and_five_groups_and_is_read_again(entry):
    code = witness_of(entry)
    assert FORM.fullmatch(code)
    number, _, signs = code.partition("-")
    assert read_witness(code) == (int(number), signs.replace("-", "")) == (entry.sequence, signs.replace("-", ""))


@given(entries, st.data())
def test_a_code_is_read_however_it_is_copied(entry, data):
    code = witness_of(entry)
    misread = {"0": "0Oo", "1": "1IiLl"}
    copied = "".join(data.draw(st.sampled_from(misread.get(sign, sign + sign.lower()))) for sign in code)
    copied = copied.replace("-", data.draw(st.sampled_from(["-", "", " ", " - ", "–", "\n", "."])))
    assert read_witness(f" {copied}\n") == read_witness(code)


@given(entries, st.data())
def test_one_wrong_sign_is_always_noticed(entry, data):
    plain = witness_of(entry).replace("-", "")
    at = data.draw(st.integers(0, len(plain) - 1))
    other = data.draw(st.sampled_from([sign for sign in SIGNS if sign != plain[at]]))
    with pytest.raises(ValueError, match="witness code"):
        read_witness(plain[:at] + other + plain[at + 1 :])


@given(entries, st.data())
def test_two_signs_that_changed_places_are_always_noticed(entry, data):
    plain = list(witness_of(entry).replace("-", ""))
    one, other = (data.draw(st.integers(0, len(plain) - 1)) for _ in range(2))
    if plain[one] == plain[other]:
        return
    plain[one], plain[other] = plain[other], plain[one]
    with pytest.raises(ValueError, match="witness code"):
        read_witness("".join(plain))


def test_every_single_wrong_sign_and_every_swap_of_one_code_is_noticed():
    plain = witness_of(ENTRY).replace("-", "")
    wrong = {plain[:at] + sign + plain[at + 1 :] for at in range(len(plain)) for sign in SIGNS}
    for one in range(len(plain)):
        for other in range(one):
            swapped = [*plain]
            swapped[one], swapped[other] = swapped[other], swapped[one]
            wrong.add("".join(swapped))
    for text in wrong - {plain}:
        with pytest.raises(ValueError, match="witness code"):
            read_witness(text)


@pytest.mark.parametrize("text", ["", "7", "-", "7-K7QM", "K7QM-2XTB-9F4D-HJ3W-PRVC", "7-U7QM-2XTB-9F4D-HJ3W-PRVC", "ü" * 30])
def test_what_is_no_code_is_told_in_a_sentence(text):
    with pytest.raises(ValueError, match="witness code"):
        read_witness(text)


@given(st.text(max_size=40))
def test_no_text_raises_anything_else(text):
    with suppress(ValueError):
        number, signs = read_witness(text)
        assert number > 0 and len(signs) == 20


@given(entries, entries)
def test_codes_of_other_entries_differ(one, other):
    same = (one.sequence, one.digest) == (other.sequence, other.digest)
    assert (witness_of(one) == witness_of(other)) is same


def test_only_a_sound_chain_that_holds_something_has_a_code(tmp_path: Path):
    assert witness(Chain((), ())) == ""
    made = chain_of(Folder(tmp_path), 3)
    chain = read_chain(Folder(tmp_path), "c")
    assert witness(chain) == witness_of(made[-1]) and witness(chain).startswith("3-")
    (tmp_path / "chain.jsonl").write_bytes((tmp_path / "chain.jsonl").read_bytes()[:-1])
    assert witness(read_chain(Folder(tmp_path), "c")) == ""


def test_a_code_tells_where_the_chain_ended_then_also_after_it_went_on(tmp_path: Path):
    made = chain_of(Folder(tmp_path), 4)
    chain = read_chain(Folder(tmp_path), "c")
    for entry in made:
        assert where_witnessed(witness_of(entry).lower(), chain) == entry
    assert where_witnessed(witness_of(replace(made[1], digest=sum_of("9"))), chain) is None
    assert where_witnessed(witness_of(replace(made[1], sequence=9)), chain) is None
    with pytest.raises(ValueError, match="copied wrongly"):
        where_witnessed(witness_of(made[1])[:-1] + ("0" if witness_of(made[1])[-1] != "0" else "1"), chain)
