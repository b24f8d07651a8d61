"""What an archive's last line vouches for: that nothing is damaged, and who made it.

The sum (SHA-256, FIPS 180-4) finds damage, and anybody can work it out. The signature (HMAC, RFC 2104) is made with a key
that only this installation has, of its secret: it proves that an archive was made *here*. Two installations share no key,
so that one made elsewhere proves nothing but that it is undamaged: whoever hands it over says its sum by another way, and
``import_club --sum`` compares.
"""

from __future__ import annotations

import hashlib
import hmac
from typing import Any

from django.utils.crypto import salted_hmac

_SALT = "helmroom.club archive"
#: So many signs of a sum are said aloud: 80 bits, which nobody finds a second archive for.
SAID = 20


def new_sum() -> Any:
    return hashlib.sha256()


def signature_of(digest: str) -> str:
    return salted_hmac(_SALT, digest, algorithm="sha256").hexdigest()


def is_made_here(digest: str, signature: str) -> bool:
    return hmac.compare_digest(signature_of(digest).encode(), signature.encode())


def said_sum(digest: str) -> str:
    """A sum as one person says it to another.

    >>> said_sum("0123456789abcdef0123456789abcdef")
    '0123-4567-89ab-cdef-0123'
    """
    return "-".join(digest[i : i + 4] for i in range(0, SAID, 4))


def same_sum(digest: str, said: str) -> bool:
    """Whether a sum is the one that was said, in whatever groups and case; all that is said must be there."""
    plain = "".join(said.split()).replace("-", "").lower()
    return len(plain) >= SAID and digest.startswith(plain)
