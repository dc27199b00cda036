"""Seals: what a file held, told without showing it, and short enough to be sent.

A seal is the SHA-256 (FIPS 180-4) of plain values in one written form. The key holds 256
bits from the operating system that nobody can guess, so its seal can lie open: with few
bottles all keys can be written down, but not one of them can be tried against the seal.
"""

from __future__ import annotations

import hashlib
import json
from typing import Any

_GROUPS, _SIZE = 8, 4


def written(content: dict[str, Any]) -> bytes:
    """Return plain values in the one form that seals are taken of."""
    text = json.dumps(content, ensure_ascii=False, indent=1, sort_keys=True, allow_nan=False)
    return f"{text}\n".encode()


def seal(content: dict[str, Any]) -> str:
    """Return the SHA-256 of plain values, 64 hexadecimal digits."""
    return hashlib.sha256(written(content)).hexdigest()


def fingerprint(sealed: str) -> str:
    """Return the first 160 bits of a seal in eight groups, to be sent, read out and compared.

    The letters are base 32 of RFC 4648. To make a second key with the same fingerprint
    takes 2 to the 160th trials; to make two keys at once that share one, 2 to the 80th.

    Examples
    --------
    >>> fingerprint(seal({"a": 1}))
    'WYDK-IDLI-VZ2C-XZRS-M3DJ-DZQR-57ML-7JBX'
    """
    import base64

    text = base64.b32encode(bytes.fromhex(sealed)[:20]).decode("ascii")
    return "-".join(text[at : at + _SIZE] for at in range(0, _GROUPS * _SIZE, _SIZE))
