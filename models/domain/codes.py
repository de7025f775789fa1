"""Secrets that are handed out once: a prefix, random characters and a checksum.

The prefix and the checksum let a scanner of public text tell a true one from a look-alike, and let
a wrong one be refused without a look at the database. What is kept is the SHA-256 digest: a secret
of 190 random bits cannot be found from it and needs no salt.
"""

from __future__ import annotations

import hashlib
import secrets
import string
import zlib

TOKEN = "heeldepth_"  # noqa: S105 - a prefix
INVITATION = "heeldepth_invitation_"
RESET = "heeldepth_reset_"
SESSION = "heeldepth_session_"

DIGITS = string.digits + string.ascii_uppercase + string.ascii_lowercase
RANDOM_CHARACTERS = 32
"""Of 62 characters each: 190 bits."""

CHECK_CHARACTERS = 6
"""62**6 is more than 2**32, so every CRC-32 fits."""


def new_code(prefix: str) -> str:
    """Return a new secret.

    >>> well_formed(TOKEN, new_code(TOKEN)), len(new_code(TOKEN))
    (True, 48)
    """
    start = prefix + "".join(secrets.choice(DIGITS) for _ in range(RANDOM_CHARACTERS))
    return start + _checksum(start)


def well_formed(prefix: str, code: str) -> bool:
    """Return whether a text can be a secret of this kind: shape and checksum are right."""
    start, check = code[:-CHECK_CHARACTERS], code[-CHECK_CHARACTERS:]
    shaped = len(code) == len(prefix) + RANDOM_CHARACTERS + CHECK_CHARACTERS
    return shaped and code.isascii() and code.startswith(prefix) and _checksum(start) == check


def digest(code: str) -> str:
    """Return the SHA-256 under which a secret is kept."""
    return hashlib.sha256(code.encode()).hexdigest()


def _checksum(text: str) -> str:
    """Return the CRC-32 of prefix and random characters in base 62, most significant first."""
    rest, digits = zlib.crc32(text.encode()), ""
    for _ in range(CHECK_CHARACTERS):
        rest, digit = divmod(rest, len(DIGITS))
        digits = DIGITS[digit] + digits
    return digits
