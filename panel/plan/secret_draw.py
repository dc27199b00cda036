"""Lots drawn from a secret: without it nobody can draw them again.

Every lot is settled by HMAC-SHA256 (RFC 2104, FIPS 180-4) under the secret: things
are sorted by the code that the secret gives them, so that each order is as likely
as any other and whoever has not the secret can neither compute nor narrow it down.
The secret is made when a session is planned and is kept with the key alone.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TypeVar

Item = TypeVar("Item")
BYTES = 32
"""Length of a secret: 256 bits from the operating system."""


@dataclass(frozen=True, slots=True)
class Draw:
    """A source of lots.

    Attributes
    ----------
    secret : bytes
        At least 16 bytes; never shown.
    """

    secret: bytes = field(repr=False)

    def __post_init__(self) -> None:
        if len(self.secret) < 16:
            message = "a secret has at least 16 bytes"
            raise ValueError(message)

    @classmethod
    def fresh(cls) -> Draw:
        """Return a source that nobody has seen before."""
        return cls(secrets.token_bytes(BYTES))

    def part(self, *purpose: object) -> Draw:
        """Return a source of its own for one purpose; one tells nothing about another."""
        return Draw(self._code("part", *purpose))

    def shuffled(self, items: Iterable[Item], *purpose: object) -> list[Item]:
        """Return the items in an order by lot.

        Examples
        --------
        >>> Draw(bytes(16)).shuffled("abcd", "cups")
        ['b', 'd', 'a', 'c']
        """
        listed = list(items)
        lots = [self._code("lot", *purpose, place) for place in range(len(listed))]
        return [listed[place] for place in sorted(range(len(listed)), key=lots.__getitem__)]

    def seed(self, *purpose: object) -> int:
        """Return a number of 256 bits to start a search with."""
        return int.from_bytes(self._code("seed", *purpose), "big")

    def _code(self, *words: object) -> bytes:
        said = "\x1f".join(str(word) for word in words).encode()
        return hmac.new(self.secret, said, hashlib.sha256).digest()
