"""What the report says of the openings of its key, and of whom below its title."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from kikichoko.panel.report.build import _people
from kikichoko.panel.report.record import when_opened
from kikichoko.panel.returns.store import Opening


@pytest.mark.parametrize("language", ["en", "ja"])
@pytest.mark.parametrize("more", [0, 2])
def test_the_first_opening_is_what_counts_for_blindness(language: str, more: int):
    times = ["2026-03-14T15:00:00+00:00", "2026-03-15T09:00:00+00:00", "2026-03-16T10:00:00+00:00"]
    made = [Opening(opened_at=at, reason="report", sheets_out=0, answers=9) for at in times]
    said = when_opened(made[: more + 1]).to(language)
    assert "2026-03-14 15:00" in said
    assert ("2026-03-16 10:00" in said) is bool(more)
    assert "2026-03-15" not in said
    again = {"en": "opened again for this report", "ja": "再び開かれた"}[language]
    assert (again in said) is bool(more)


@pytest.mark.parametrize("makers", [[], ["M1"], ["M1", "M2"]])
@pytest.mark.parametrize("apart", [True, False])
def test_the_line_below_the_title_says_that_makers_stand_outside_the_means(makers, apart: bool):
    context = SimpleNamespace(
        roster=dict.fromkeys(range(8)),
        maker_apart=apart,
        makers=makers,
        attributes=lambda *_: ["body"],
        session=SimpleNamespace(method=SimpleNamespace(compares=False)),
    )
    said = str(_people(context))
    assert said.startswith("8 assessors")
    assert ("outside the means" in said) is bool(makers and apart)
    assert ("the maker outside" in said) is (apart and len(makers) == 1)
