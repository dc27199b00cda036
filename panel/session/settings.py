"""What ``session.toml`` may say."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, field_validator
from pydantic_core import PydanticCustomError

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
    temperature_c: float = Field(18, ge=-5, le=90)
    vessel: str = ""
    spare_sheets: int = Field(0, ge=0, le=50)


class PanelSettings(_Part):
    """How the panel is counted."""

    maker_in_means: bool = False
    earlier: list[str] = []


class Questions(_Part):
    """Wishes about the scorecard; checked by `kikichoko.forms.questions.scorecard.change`.

    `primary` names the questions that this session is held for; see `primary_questions`.
    """

    drop: list[str] = []
    add: list[dict[str, Any]] = []
    words: list[dict[str, Any]] = []
    faults: list[dict[str, Any]] = []
    primary: list[str] = []


def _known_method(name: object) -> object:
    if not isinstance(name, str) or name not in METHODS:
        *names, last = (f"'{one}'" for one in METHODS)
        expected = f"{', '.join(names)} or {last}"
        raise PydanticCustomError("literal_error", "unknown method", {"expected": expected})
    return name


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

    @field_validator("date", mode="before")
    @classmethod
    def _plain_date(cls, value: object) -> object:
        return value.date() if isinstance(value, dt.datetime) else value
