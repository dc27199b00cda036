"""One tank is one batch, however often it is poured: said on both sides of the rule."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from kikichoko.panel.report.asked import _batch
from kikichoko.panel.report.sweetness import _link_note
from kikichoko.panel.session.bottles import Bottle


def context(tanks: tuple[str, ...], meter: tuple[float | None, ...] = ()) -> SimpleNamespace:
    bottles = {
        f"b{n}": Bottle(name=f"b{n}", tank=tank, meter_value=meter[n] if meter else None)
        for n, tank in enumerate(tanks)
    }
    session = SimpleNamespace(bottle=bottles.__getitem__)
    return SimpleNamespace(session=session, samples=list(bottles), products=list(bottles))


@pytest.mark.parametrize(
    ("tanks", "key"),
    [
        (("4", "4", "4"), ["one_tank"]),
        (("4", "4", "5"), ["some_share_tank"]),
        (("4", "5", "6"), ["each_own_batch"]),
        (("", "", ""), ["no_tank"]),
        (("4",), []),
    ],
)
def test_what_is_said_of_tanks(tanks: tuple[str, ...], key: list[str]):
    assert [one.key for one in _batch(context(tanks))] == [f"report.{one}" for one in key]


@pytest.mark.parametrize(
    ("tanks", "meter", "key"),
    [
        (("4", "4"), (2.0, 3.0), "one_batch_link"),
        (("4", "5"), (2.0, 3.0), "few_bottles_link"),
        (("", ""), (2.0, 3.0), "few_bottles_link"),  # nobody said that they share a tank
        (("4", "5"), (2.0, 2.0), "one_meter_value"),
        (("4", "5"), (2.0, None), "one_meter_value"),
    ],
)
def test_what_is_said_of_numbers_and_sweetness(tanks, meter, key):
    assert _link_note(context(tanks, meter)).key == f"report.{key}"
