"""Secrets with a checksum."""

import zlib

import pytest

from models.domain import codes

PREFIXES = [codes.TOKEN, codes.INVITATION, codes.RESET, codes.SESSION]

# Made outside of this project's code: CRC-32 of the first part by zlib, whose check value is the
# one of the catalogue of parametrised CRC algorithms (CRC-32/ISO-HDLC: "123456789" gives cbf43926,
# from memory), written in base 62 by hand-run division.
RANDOM = "0123456789ABCDEFGHIJKLMNOPQRSTUV"


def base_62(number):
    """Return six digits, by powers instead of by remainders."""
    digits = []
    for power in range(5, -1, -1):
        digit, number = number // 62**power, number % 62**power
        digits.append(codes.DIGITS[digit])
    return "".join(digits)


def test_the_checksum_is_the_crc_32_that_others_compute():
    assert zlib.crc32(b"123456789") == 0xCBF43926
    start = codes.TOKEN + RANDOM
    assert codes.well_formed(codes.TOKEN, start + base_62(zlib.crc32(start.encode())))


@pytest.mark.parametrize("prefix", PREFIXES)
def test_a_new_secret_has_its_form_and_at_least_160_bits(prefix):
    made = {codes.new_code(prefix) for _ in range(200)}
    assert len(made) == 200
    assert all(codes.well_formed(prefix, code) for code in made)
    assert len(codes.DIGITS) ** codes.RANDOM_CHARACTERS > 2**160
    drawn = "".join(code.removeprefix(prefix)[: codes.RANDOM_CHARACTERS] for code in made)
    assert set(drawn) == set(codes.DIGITS), "every digit occurs in 6,400"


def test_a_secret_of_one_kind_is_none_of_another():
    for prefix in PREFIXES:
        code = codes.new_code(prefix)
        assert [one for one in PREFIXES if codes.well_formed(one, code)] == [prefix]


def test_any_one_character_changed_cut_off_or_added_is_noticed():
    code = codes.new_code(codes.TOKEN)
    for place in range(len(code)):
        other = "x" if code[place] != "x" else "y"
        assert not codes.well_formed(codes.TOKEN, code[:place] + other + code[place + 1 :])
        assert not codes.well_formed(codes.TOKEN, code[:place] + code[place + 1 :])
    for text in (code + "0", " " + code, code.swapcase(), "", "\u00e9" * 48):
        assert not codes.well_formed(codes.TOKEN, text)


def test_a_secret_is_kept_as_its_sha_256():
    # FIPS 180-2, appendix B.1: the message "abc".
    expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert codes.digest("abc") == expected
