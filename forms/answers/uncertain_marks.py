"""What a person has to decide: a picture of a mark, the choices, and why it is uncertain."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self

from .answer import Answer, Fault, Reading


@dataclass(frozen=True, slots=True)
class Choice:
    """One of the answers that an uncertain mark can be; `value` None leaves it open."""

    label: str
    value: float | str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertain:
    """A mark that the rules do not settle, or free words to be typed.

    Attributes
    ----------
    session, assessor, code, attribute : str
        As in `Answer`.
    file, place : str
        The picture it was seen in, and the page.
    reason : str
        Why a person is asked; its words stand under ``paper.reason_<reason>``.
    picture : bytes
        PNG of the mark and what is printed around it.
    choices : tuple of Choice
        What it can be; empty for free words.
    low, high : float
        Ends of the line where a number may be typed instead; equal if none may.
    """

    session: str
    assessor: str
    code: str
    attribute: str
    file: str
    place: str
    reason: str
    picture: bytes
    choices: tuple[Choice, ...] = ()
    low: float = 0.0
    high: float = 0.0

    @property
    def key(self) -> str:
        """A short name that is the same when the same picture is read again."""
        parts = (self.session, self.assessor, self.code, self.attribute, self.file, self.place)
        digest = hashlib.sha256("|".join(parts).encode())
        digest.update(self.picture)
        return digest.hexdigest()[:12]


@dataclass(frozen=True, slots=True)
class PhotoReading(Reading):
    """What was read from pictures: answers, faults, and what a person has to decide."""

    uncertain: tuple[Uncertain, ...] = ()

    @classmethod
    def gather(cls, readings: Iterable[Reading]) -> Self:
        """Put several readings together, those from pictures and others."""
        parts = list(readings)
        answers: list[Answer] = [answer for part in parts for answer in part.answers]
        faults: list[Fault] = [fault for part in parts for fault in part.faults]
        open_ones = [
            one for part in parts if isinstance(part, PhotoReading) for one in part.uncertain
        ]
        return cls(tuple(answers), tuple(faults), tuple(open_ones))
