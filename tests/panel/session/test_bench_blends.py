"""A bench tasting of trial blends: what stands in its bottles, by hand, and that it runs."""

from __future__ import annotations

import csv

import pytest
from click.testing import CliRunner
from kikichoko.panel.base.errors import InputRefused
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.session.bench_blends import trial_of, write_bench
from kikichoko.panel.session.bottles import Bottle

CLEAR = Bottle(
    name="clear", tank="4", lot="L1", fraction="clear", pasteurised="2",
    abv=16.0, meter_value=5.0, acidity=1.3, supernatant="yes",
)  # fmt: skip
CLOUDY = Bottle(
    name="cloudy", tank="4", lot="L2", fraction="cloudy", pasteurised="0",
    abv=16.0, meter_value=-20.0, acidity=2.0, supernatant="no",
)  # fmt: skip


def bottles_of(folder):
    with (folder / "bottles.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def test_a_mixture_says_how_it_is_mixed_and_what_it_reads(tmp_path):
    """At equal alcohol densities add up: 0.8 / 1448 + 0.2 / 1423 of 1443 is 1.000049.

    That is a meter value of -0.07; acidity 0.8 · 1.3 + 0.2 · 2.0 = 1.44.
    """
    trials = [trial_of("clear=100"), trial_of("clear=4,cloudy=1")]
    write_bench(tmp_path / "bench", [CLEAR, CLOUDY], trials)
    plain, mixed = bottles_of(tmp_path / "bench")
    assert (plain["bottle"], plain["meter_value"], plain["storage"]) == ("clear", "5", "")
    assert mixed["bottle"] == "clear 80 + cloudy 20"
    assert "240 mL clear + 60 mL cloudy" in mixed["storage"]
    assert (mixed["abv"], mixed["meter_value"], mixed["acidity"]) == ("16.0", "-0.1", "1.44")
    assert (mixed["tank"], mixed["lot"]) == ("4", "")  # what the parts share, and no more
    assert mixed["pasteurised"] == "0"  # raw in it makes it raw
    assert mixed["supernatant"] == "no"
    assert mixed["volume_ml"] == "300"


def test_unknown_numbers_stay_blank(tmp_path):
    bare = Bottle(name="pressed")
    write_bench(tmp_path / "b", [CLEAR, bare], [trial_of("clear=1"), trial_of("clear=1,pressed=1")])
    row = bottles_of(tmp_path / "b")[1]
    assert (row["abv"], row["meter_value"], row["acidity"]) == ("", "", "")


@pytest.mark.parametrize(
    ("trials", "said"),
    [
        (["clear=90,cloudy"], "not understood"),
        (["clear=0,cloudy=1", "clear=1"], "not understood"),
        (["clear=1,clear=2", "clear=1"], "not understood"),
        (["clear=nan", "clear=1"], "not understood"),
        (["clear=1", "cludy=1"], "no bottle 'cludy'"),
        (["clear=1"], "at least two"),
        (["clear=1,cloudy=1", "clear=50,cloudy=50", "clear=1"], "same mixture"),
    ],
)
def test_refusals(tmp_path, trials, said):
    with pytest.raises(InputRefused, match=said):
        write_bench(tmp_path / "b", [CLEAR, CLOUDY], [trial_of(one) for one in trials])
    assert not (tmp_path / "b").exists()


def test_from_a_session_to_a_planned_bench_tasting(tmp_path):
    """The commands as a brewer gives them; the recipe stands on the list of who pours."""

    def run(*given: object, code: int = 0) -> str:
        done = CliRunner().invoke(kikichoko, [str(one) for one in given], catch_exceptions=False)
        assert done.exit_code == code, done.output
        return done.output

    spring, bench = tmp_path / "spring", tmp_path / "bench"
    run("new", spring)
    given = ["new", bench, "--bench", spring, "--trial", "clear=100"]
    run(*given, "--trial", "clear=85,cloudy=15", "--trial", "clear=70,cloudy=30")
    assert 'card = "brewery"' in (bench / "session.toml").read_text("utf-8")
    run("plan", bench)
    text = (bench / "plan" / "server" / "serving.txt").read_text("utf-8")
    assert "Storage, as bottles.csv has it, clear 85 + cloudy 15: Mix on the day" in text
    assert "255 mL clear + 45 mL cloudy" in text
    assert "go together" in run("new", tmp_path / "x", "--trial", "clear=1", code=2)
    assert "go together" in run("new", tmp_path / "x", "--bench", spring, code=2)
