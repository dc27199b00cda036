"""What a plan consists of: cups, and who gets them in which order."""

from __future__ import annotations

from dataclasses import dataclass

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
    seed : int
    assessors : tuple of Assessor
        With the spare ones.
    pours : tuple of Pour
    sheets : tuple of Sheet
        One per assessor; they know no bottle.
    notes : tuple of Sentence
        What the design does and does not hold, in plain words.
    """

    session: str
    seed: int
    assessors: tuple[Assessor, ...]
    pours: tuple[Pour, ...]
    sheets: tuple[Sheet, ...]
    notes: tuple[Sentence, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenPlan:
    """The half of a plan that anyone at the table may know.

    Attributes
    ----------
    assessors : tuple of Assessor
    pours : tuple of Pour
        With empty bottle and replicate 0.
    sheets : dict of str to Sheet
        By assessor.
    version : str
        Under which the store keeps what is answered; '' in plans from before there were any.
    """

    session: str
    assessors: tuple[Assessor, ...]
    pours: tuple[Pour, ...]
    sheets: dict[str, Sheet]
    version: str = ""
