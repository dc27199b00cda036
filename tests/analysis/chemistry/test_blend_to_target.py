"""Blends to wanted numbers: by hand, by enumeration of many blends, and what cannot be had."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kikichoko.analysis.chemistry import Part, blend, blend_to, water
from kikichoko.analysis.chemistry.blend_to_target import MET, READING
from kikichoko.analysis.core import OptionError

CLEAR = Part(300, 5.0, 16.0, 1.3, name="clear")
CLOUDY = Part(300, -20.0, 16.0, 2.0, name="cloudy")
PRESSED = Part(50, 1.0, 17.5, 1.8, name="pressed")


def test_two_fractions_by_hand():
    """At equal alcohol volumes add up, and so do densities, 1443 / (1443 + meter value).

    5, -20 and 0 are 0.996547, 1.014055 and 1: the clear one has the share
    (1.014055 - 1) / (1.014055 - 0.996547) = 0.80278, and 300 of it take 73.70 of the cloudy.
    """
    found = blend_to([CLEAR, CLOUDY], meter_value=0.0)
    assert found.met
    assert found.parts["take"].tolist() == pytest.approx([300.0, 73.70], abs=0.02)
    assert found.parts["share"].iloc[0] == pytest.approx(0.80278, abs=1e-4)
    assert found.volume == pytest.approx(373.70, abs=0.02)
    assert found.targets["reached"].iloc[0] == pytest.approx(0.0, abs=1e-6)
    # 0.80278 · 1.3 + 0.19722 · 2.0
    assert found.blend.acidity == pytest.approx(1.438, abs=1e-3)


def test_water_to_a_strength_by_hand():
    """Alcohol is kept: 100 of 18 % make 100 · 18 / 15.5 = 116.129, whatever water contracts."""
    found = blend_to([Part(100, 2.0, 18.0, 1.7)], abv=15.5, water_at_hand=50)
    assert found.volume == pytest.approx(100 * 18 / 15.5, rel=1e-9)
    assert found.blend.acidity == pytest.approx(1.7 * 15.5 / 18, rel=1e-9)
    assert found.met


def test_three_fractions_and_two_numbers_against_a_million_blends():
    """Of all blends of a grid that have the numbers none is larger than the one found.

    Densities, alcohol and acid are averaged by volume, contraction (below 0.01 %) left out.
    """
    parts = [CLEAR, CLOUDY, PRESSED]
    found = blend_to(parts, meter_value=(-3.1, -2.9), acidity=(1.5, 1.6), abv=(16.1, 16.4))
    assert found.met
    grid = np.meshgrid(*(np.linspace(0, part.volume, 101) for part in parts), indexing="ij")
    volumes = np.stack([axis.ravel() for axis in grid])[:, 1:]
    total = volumes.sum(axis=0)
    mean = {
        "density": np.array([1443 / (1443 + part.meter_value) for part in parts]) @ volumes / total,
        "acidity": np.array([part.acidity for part in parts]) @ volumes / total,
        "abv": np.array([part.abv for part in parts]) @ volumes / total,
    }
    meter = 1443 / mean["density"] - 1443
    fits = (abs(meter + 3.0) <= 0.1) & (abs(mean["acidity"] - 1.55) <= 0.05)
    fits &= abs(mean["abv"] - 16.25) <= 0.15
    assert fits.sum() > 50
    assert total[fits].max() <= found.volume * 1.001
    assert total[fits].max() >= found.volume * 0.97  # and the grid comes near it
    assert (found.parts["take"] <= found.parts["available"] + 1e-9).all()


def test_a_volume_leaves_of_each_part_what_can_be_left():
    """Of two equal sakes 100 are taken half and half, of unequal stocks in their proportion."""
    same = [Part(300, 2.0, 16.0, name="a"), Part(100, 2.0, 16.0, name="b")]
    found = blend_to(same, volume=100, meter_value=2.0)
    assert found.parts["take"].tolist() == pytest.approx([75.0, 25.0])
    assert found.volume == pytest.approx(100)


def test_what_cannot_be_had_is_told():
    found = blend_to([CLEAR, CLOUDY], meter_value=9.0)
    assert not found.met
    assert found.parts["take"].tolist() == [300.0, 0.0]
    assert found.blend is None  # the clear one alone is nearest
    assert "by mixing: meter value 9.00, since the parts read -20.0 to 5.00" in found.text()
    both = blend_to([CLEAR, CLOUDY], meter_value=0.0, acidity=1.9)
    assert not both.met
    assert "Not to be had together" in both.text()


@pytest.mark.parametrize(("miss", "met"), [(0.09, True), (0.11, False)])
def test_a_tenth_of_a_reading_is_met(miss: float, met: bool):
    assert MET == 0.1
    edge = 5.0 + miss * READING["meter_value"]
    assert blend_to([CLEAR, CLOUDY], meter_value=edge).met is met


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, "Say what the blend should read"),
        ({"extract": 4.0}, "cannot be aimed at 'extract'"),
        ({"acidity": (1.6, 1.4)}, "goes from 1.6 to 1.4"),
        ({"glucose": 2.0}, "not stated for: clear, cloudy"),
        ({"meter_value": 0.0, "volume": 700}, "600 is at hand"),
        ({"meter_value": 0.0, "water_at_hand": -1}, "a volume of 0 or more"),
    ],
)
def test_refusals(given: dict[str, object], said: str):
    with pytest.raises(OptionError, match=said):
        blend_to([CLEAR, CLOUDY], **given)
    with pytest.raises(OptionError, match="at least two parts"):
        blend_to([CLEAR], meter_value=1.0)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(10, 500), st.floats(-40, 12), st.floats(10, 20), st.floats(0.8, 3.0)),
        min_size=2,
        max_size=5,
    ),
    st.data(),
)
def test_a_blend_that_exists_is_found(rows, data):
    """Mix some of each part; its numbers are then wanted, and a blend at least as large comes."""
    parts = [Part(*row, name=str(at)) for at, row in enumerate(rows)]
    shares = data.draw(
        st.lists(st.floats(0.1, 1.0), min_size=len(parts), max_size=len(parts)), label="shares"
    )
    mixed = blend(
        [
            Part(share * part.volume, part.meter_value, part.abv, part.acidity)
            for share, part in zip(shares, parts, strict=True)
        ]
    )
    found = blend_to(parts, meter_value=mixed.meter_value, abv=mixed.abv, acidity=mixed.acidity)
    assert found.met
    assert found.volume >= mixed.volume * (1 - 1e-6)
    again = [
        Part(take, part.meter_value, part.abv, part.acidity)
        for take, part in zip(found.parts["take"], parts, strict=True)
        if take > 0
    ]
    if len(again) > 1:
        assert blend(again).meter_value == pytest.approx(mixed.meter_value, abs=1e-3)


def test_water_reads_as_water():
    """Water with sake in equal parts halves alcohol but for contraction; nothing is made up."""
    found = blend_to([Part(100, 2.0, 18.0)], abv=9.2, water_at_hand=100, volume=150)
    assert found.targets["reached"].iloc[0] == pytest.approx(9.2)
    mixed = blend([Part(v, p.meter_value, p.abv) for v, p in zip(
        found.parts["take"], [Part(1, 2.0, 18.0), water(1)], strict=True)])  # fmt: skip
    assert mixed.volume == pytest.approx(150)
