"""The days of a demonstration follow each other, whenever it is run."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from kikichoko.panel.base.clock import clock_at, now
from kikichoko.panel.base.session_log import read_log
from kikichoko.panel.demos import two
from kikichoko.panel.returns.store import Store
from kikichoko.panel.session.session_folder import load


def day_of(text: str) -> dt.date:
    return dt.datetime.fromisoformat(text).date()


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("days") / "two"
    two.run(made, lambda: None)
    return made


def test_planned_before_tasted_on_the_day_opened_after_it(folder):
    tasting = load(folder).settings.date
    entries = read_log(folder).entries
    days = [day_of(one.at) for one in entries]
    assert days == sorted(days)
    assert days[0] == tasting - dt.timedelta(days=1)
    with Store(folder, reading=True) as store:
        assert [day_of(one.opened_at) for one in store.openings()] == [
            tasting + dt.timedelta(days=1)
        ]
    results = json.loads((folder / "report" / "results.json").read_text("utf-8"))
    assert day_of(results["open_flight"]["opened_at"]) == tasting


def broken_off() -> None:
    with clock_at(dt.date(2026, 3, 21), 19, later=1):
        assert now() == "2026-03-22T19:00:00+00:00"
        raise ValueError("broke")


def test_a_session_of_ones_own_has_the_time_of_the_machine():
    """Within a scenario its day; after it the machine's, also where the scenario broke off."""
    with pytest.raises(ValueError, match="broke"):
        broken_off()
    before = dt.datetime.now().astimezone().replace(microsecond=0)
    assert before <= dt.datetime.fromisoformat(now()) <= dt.datetime.now().astimezone()
