"""What a plan consists of: cups, and who gets them in which order."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from ...analysis.core.words import Sentence
from ...forms.questions.sheet import Sheet
from ..session.roster import Assessor


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """One cup: who gets it, when, under which code, and what is in it.

    Attributes
    ----------
    assessor : str
    presentation : int
        What is judged at one go is one presentation, from 1 in serving order;
        0 for the warm-up.
    flight : int
        From 1; 0 for the warm-up.
    code, bottle : str
    replicate : int
        From 1; 0 for the warm-up.
    ml : float
    counted : bool
        False for the warm-up.
    tasted : bool
        False where the cup is only looked at.
    """

    assessor: str
    presentation: int
    flight: int
    code: str
    bottle: str
    replicate: int
    ml: float
    counted: bool = True
    tasted: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A planned session, with its key.

    Attributes
    ----------
    session : str
    number : int
        Version of the plan, from 1; planning again makes the next.
    secret : bytes
        What the lots were drawn from; kept with the key alone.
    assessors : tuple of Assessor
        With the spare ones.
    pours : tuple of Pour
    sheets : tuple of Sheet
        One per assessor; they know no bottle.
    notes : tuple of Sentence
        What the design does and does not hold, in plain words.
    asked : dict
        What the sheets are made from again later: questions, title, serving.
    planned : dict
        Settings, bottles and assessors as they were planned, sealed with the key.
    """

    session: str
    number: int
    secret: bytes = field(repr=False)
    assessors: tuple[Assessor, ...]
    pours: tuple[Pour, ...]
    sheets: tuple[Sheet, ...]
    notes: tuple[Sentence, ...] = ()
    asked: dict[str, Any] = field(default_factory=dict)
    planned: dict[str, Any] = field(default_factory=dict)
