"""Secret tokens in addresses: only their digests are kept."""

from __future__ import annotations

import hashlib


def digest_of(token: str) -> str:
    """SHA-256: enough for a token of 256 random bits, which nobody can guess from its digest."""
    return hashlib.sha256(token.encode()).hexdigest()
