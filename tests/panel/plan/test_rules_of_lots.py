"""Codes and orders hang on the secret, and each replicate is balanced by itself."""

from __future__ import annotations

from collections import Counter

import pytest
from kikichoko.panel.plan.code_draw import PLAIN, Used, blind_codes
from kikichoko.panel.plan.planning import make
from kikichoko.panel.plan.secret_draw import Draw
from kikichoko.panel.session import load

SECRETS = [number.to_bytes(32, "big") for number in range(1, 25)]


def test_which_codes_are_dealt_hangs_on_the_secret():
    dealt = {frozenset(blind_codes("abcdef", Draw(secret))) for secret in SECRETS}
    assert len(dealt) == len(SECRETS), "24 draws of 6 out of hundreds of codes"


def test_which_bottle_gets_which_code_hangs_on_the_secret():
    used = Used(here=frozenset(PLAIN[6:]))  # six codes are left: all are dealt each time
    dealt = {tuple(blind_codes("abcdef", Draw(secret), used)) for secret in SECRETS}
    assert {frozenset(codes) for codes in dealt} == {frozenset(PLAIN[:6])}
    # 24 of 720 orders by lot: fewer than 20 different ones has a chance below 1e-5.
    assert len(dealt) >= 20


def test_a_fresh_secret_is_never_the_same():
    assert len({Draw.fresh().secret for _ in range(24)}) == 24
    assert Draw(SECRETS[0]).seed("orders", 0) != Draw(SECRETS[1]).seed("orders", 0)


@pytest.mark.parametrize("length", [15, 16])
def test_a_short_secret_is_refused(length: int):
    if length < 16:
        with pytest.raises(ValueError, match="at least 16 bytes"):
            Draw(bytes(length))
    else:
        assert Draw(bytes(length)).secret == bytes(length)


def test_codes_of_a_plan_hang_on_its_secret_and_on_its_number(folder):
    session = load(folder())
    plans = [make(session, secret=secret) for secret in SECRETS[:6]]
    plans += [make(session, secret=SECRETS[0], number=number) for number in (2, 3)]
    assert len({frozenset(pour.code for pour in plan.pours) for plan in plans}) == len(plans)


def test_orders_of_a_plan_hang_on_its_secret_beyond_the_names_of_the_bottles(folder):
    """Bottles renamed by their first appearance: the orders differ all the same."""
    session = load(folder())
    orders = set()
    for secret in SECRETS[:6]:
        served = [(pour.assessor, pour.bottle) for pour in make(session, secret=secret).pours]
        first = {name: place for place, name in enumerate(dict.fromkeys(b for _, b in served))}
        orders.add(tuple((who, first[bottle]) for who, bottle in served))
    assert len(orders) >= 5


def test_each_replicate_is_balanced_by_itself(folder):
    """Six assessors, three bottles: each bottle stands twice at each place of a replicate."""
    session = load(folder())
    for secret in SECRETS[:8]:
        places = Counter(
            (pour.replicate, pour.bottle, (pour.presentation - 1) % 3)
            for pour in make(session, secret=secret).pours
        )
        assert len(places) == 2 * 3 * 3
        assert set(places.values()) == {2}


def test_a_secret_has_256_bits():
    assert len(Draw.fresh().secret) == 32


def test_codes_are_three_different_digits_and_no_run():
    """All from 100 to 999, by plain counting."""
    counted = [
        code
        for code in map(str, range(100, 1000))
        if len(set(code)) == 3 and code not in "123456789" and code not in "9876543210"
    ]
    assert list(PLAIN) == counted


def test_a_code_of_this_session_is_never_dealt_again():
    used = Used(here=frozenset(PLAIN[3:]))
    assert set(blind_codes("abc", Draw(SECRETS[0]), used)) == set(PLAIN[:3])
