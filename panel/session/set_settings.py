"""What the part ``[test]`` of ``session.toml`` may say."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class SetTest(BaseModel):
    """A test of difference, a ranking or a threshold; checked by `set_checks`."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    reference: str = ""
    stronger: str = ""
    attribute: str | dict[str, str] = ""
    purpose: Literal["difference", "similarity"] = "difference"
    alpha: float = Field(0.05, gt=0, lt=1)
    beta: float | None = Field(None, gt=0, lt=1)
    pd: float | None = Field(None, gt=0, lt=1)
    constant_reference: bool = False
    ties: bool = False
    levels: dict[str, float] = {}
    per_flight: int = Field(0, ge=0, le=20)
    expected_order: list[str] = []
    accept_small: bool = False
