"""What ``session.toml`` may say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, field_validator, model_validator
from pydantic_core import PydanticCustomError

from ...forms.questions.cards import CARDS, EARLIER, OPTIONS
from ...forms.questions.timed_part import LEAST, MOST, SECONDS, WORDS
from ...forms.questions.words import say
from .methods import METHODS
from .set_settings import SetTest


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Serving(_Part):
    """How the cups are served."""

    replicates: int = Field(1, ge=1, le=12)
    pour_ml: float = Field(25, gt=0, le=200)
    flight_size: int = Field(6, ge=1, le=20)
    rest_minutes: int = Field(10, ge=0, le=240)
    warm_up: str = ""
    codes: Literal["shared", "per-assessor"] = "shared"
    order: Literal["balanced", "grouped"] = "balanced"
    masking: Literal["opaque", "red-light", "none"] = "opaque"
    appearance: Literal["flight", "with", "off"] = "flight"
    appearance_ml: float = Field(10, gt=0, le=200)
    appearance_vessel: str = ""
    temperature_c: float = Field(18, ge=-5, le=90)
    vessel: str = ""
    start: dt.time | None = None
    pour_minutes: float = Field(10, ge=0, le=120)
    warm_minutes: float = Field(30, ge=0, le=240)
    take_out_minutes: float = Field(60, ge=0, le=1440)
    cup_minutes: float = Field(4, gt=0, le=60)
    spare_sheets: int = Field(0, ge=0, le=50)
    open_flight: bool = False
    alone: bool = False

    @property
    def own_codes(self) -> bool:
        """Whether every cup has a code of its own: cups of one person alone always have."""
        return self.alone or self.codes == "per-assessor"


class PanelSettings(_Part):
    """How the panel is counted."""

    maker_in_means: bool = False
    earlier: list[str] = []


def _one_of(kind: str, name: object, known: Collection[str]) -> object:
    if not isinstance(name, str) or name not in known:
        *names, last = (f"'{one}'" for one in known)
        expected = f"{', '.join(names)} or {last}"
        raise PydanticCustomError("literal_error", kind, {"expected": expected})
    return name


def _known_card(name: object) -> object:
    return _one_of("unknown card", name, CARDS)


def _known_option(name: object) -> object:
    return _one_of("unknown option", name, OPTIONS)


class Questions(_Part):
    """Wishes about the scorecard; checked by `kikichoko.forms.questions.scorecard.change`.

    `primary` names the questions that this session is held for; see `primary_questions`.
    `card` is the card that the wishes change, `options` what it asks besides; a session from
    before there was a choice names none.
    """

    card: Annotated[str, BeforeValidator(_known_card)] = EARLIER
    options: list[Annotated[str, BeforeValidator(_known_option)]] = []
    drop: list[str] = []
    add: list[dict[str, Any]] = []
    words: list[dict[str, Any]] = []
    faults: list[dict[str, Any]] = []
    primary: list[str] = []


class Timed(_Part):
    """The time in the mouth on telephones; checked by `kikichoko.forms.questions.timed_part`."""

    words: list[str | dict[str, Any]] = list(WORDS)
    seconds: int = Field(SECONDS, ge=LEAST, le=MOST)
    intensity: str = WORDS[0]


def _known_method(name: object) -> object:
    return _one_of("unknown method", name, METHODS)


class Settings(_Part):
    """The content of ``session.toml``."""

    name: str = Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9-]{0,39}$")
    title: str = Field("Sake tasting", min_length=1, max_length=80)
    date: dt.date
    question: str = ""
    method: Annotated[str, BeforeValidator(_known_method)] = "profile"
    language: str = "en"
    seed: int | None = None  # no longer used; told as such
    serving: Serving = Serving()
    panel: PanelSettings = PanelSettings()
    questions: Questions = Questions()
    test: SetTest = SetTest()
    timed: Timed | None = None

    @model_validator(mode="before")
    @classmethod
    def _titled(cls, given: Any) -> Any:
        """Call a session that has no title what the trade calls it in its language."""
        if not isinstance(given, dict) or "title" in given:
            return given
        language = str(given.get("language", "en"))
        return {**given, "title": say("sheet.default_title", language)}

    @field_validator("date", mode="before")
    @classmethod
    def _plain_date(cls, value: object) -> object:
        return value.date() if isinstance(value, dt.datetime) else value
