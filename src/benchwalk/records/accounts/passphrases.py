"""Passphrases and PINs: what is taken, how it is kept, and how long a wrong one takes to refuse.

argon2id with m = 19456 KiB, t = 2, p = 1: the first of the settings in OWASP's Password Storage
Cheat Sheet (from memory). Length and a list of common ones decide, never kinds of characters
(NIST SP 800-63B, 5.1.1.2, from memory).
"""

from __future__ import annotations

import threading
import unicodedata
from functools import cache
from importlib.resources import files
from itertools import pairwise

from argon2 import PasswordHasher
from argon2.exceptions import VerifyMismatchError

from benchwalk.catalogue import Refusal

SHORTEST, LONGEST = 12, 256
PIN_DIGITS = 6
HASHER = PasswordHasher(time_cost=2, memory_cost=19456, parallelism=1)
AT_ONCE = threading.BoundedSemaphore(4)  # own choice: 4 x 19 MiB at most, however many ask


class PassphraseRefusedError(Refusal):
    """The passphrase or PIN is too short, too long, or one that many people choose."""


def hash_passphrase(text: str) -> str:
    """The argon2id hash of a passphrase that may be used.

    Raises
    ------
    PassphraseRefusedError
        if it has fewer than 12 or more than 256 characters, or stands in the list of common ones.
    """
    said = _normal(text)
    if len(said) < SHORTEST:
        raise PassphraseRefusedError("account.too_short", given=len(said), n=SHORTEST)
    if len(said) > LONGEST:
        raise PassphraseRefusedError("account.too_long", given=len(said), n=LONGEST)
    if _plain(said) in common() or len(set(_plain(said))) < 3:
        raise PassphraseRefusedError("account.common")
    return _hash(said)


def hash_pin(text: str) -> str:
    """The argon2id hash of a PIN of six digits.

    Raises
    ------
    PassphraseRefusedError
        if it is not six digits, or is one digit six times, or runs up or down.
    """
    if len(text) != PIN_DIGITS or not text.isascii() or not text.isdigit():
        raise PassphraseRefusedError("account.pin_digits", n=PIN_DIGITS)
    steps = {int(b) - int(a) for a, b in pairwise(text)}
    if steps in ({0}, {1}, {-1}):
        raise PassphraseRefusedError("account.pin_common")
    return _hash(text)


def proves(held: str | None, given: str) -> bool:
    """Whether what was given is what is held; as slow where nothing is held, so nobody can tell."""
    with AT_ONCE:
        try:
            return HASHER.verify(held or _nobodys(), _normal(given)[: LONGEST + 1]) and bool(held)
        except VerifyMismatchError:
            return False


def _hash(said: str) -> str:
    with AT_ONCE:
        return HASHER.hash(said)


@cache
def _nobodys() -> str:
    """The hash of nothing that anybody can give."""
    return HASHER.hash("\0 nobody's")


def _normal(text: str) -> str:
    """One text for what looks the same on every keyboard (RFC 8265, 4.2.1: NFC)."""
    return unicodedata.normalize("NFC", text)


def _plain(text: str) -> str:
    """Letters and digits only, in lower case: how the list of common ones is compared."""
    return "".join(c for c in text.casefold() if c.isalnum())


@cache
def common() -> frozenset[str]:
    """Passphrases of at least 12 characters that many people would think of first."""
    listed = (files(__package__) / "common_passphrases.txt").read_text(encoding="utf-8")
    lines = (line.strip() for line in listed.splitlines())
    return frozenset(_plain(line) for line in lines if line and not line.startswith("#"))
