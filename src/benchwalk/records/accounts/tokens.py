"""Tokens that nobody can guess, and the digest that is stored in their place."""

from __future__ import annotations

import hashlib
import secrets

# typed from a screen with gloves on: no 0 or O, no 1, I or L, no U (RFC 4648 has other aims)
LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
TYPED = 8


def new_token() -> str:
    """256 random bits, fit for an address or a cookie."""
    return secrets.token_urlsafe(32)


def new_typed_code() -> str:
    """Eight characters to be typed, of thirty: 39 bits, so it lives for minutes and works once."""
    return "".join(secrets.choice(LETTERS) for _ in range(TYPED))


def digest_of(token: str) -> bytes:
    """What is stored of a token. A plain hash is enough: the token is random (not a passphrase)."""
    return hashlib.sha256(token.encode()).digest()


def as_typed(code: str) -> str:
    """A typed code without what people put between characters."""
    return "".join(c for c in code.upper() if c.isalnum())
