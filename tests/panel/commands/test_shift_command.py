"""The maker and declared tastes, from a table and from the demo's session folder."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from kikichoko.forms.questions import default_scorecard
from kikichoko.panel.across.people import from_context
from kikichoko.panel.cli import main
from kikichoko.panel.findings.budget import judge
from kikichoko.panel.findings.evidence import Evidence
from kikichoko.panel.session.bottles import Bottle
from kikichoko.panel.session.roster import Assessor


class Opened:
    """Stands for an opened session: a roster and scores."""

    def __init__(self, shift: float, likers: int = 3) -> None:
        rng = np.random.default_rng(5)
        codes = ["M1", *(f"T{i}" for i in range(8))]
        tastes = ["likes", *["likes"] * likers, *["neutral"] * (8 - likers)]
        self.roster = {
            code: Assessor(code=code, role="maker" if code == "M1" else "trained", style=taste)
            for code, taste in zip(codes, tastes, strict=True)
        }
        self.makers = ["M1"]
        rows = [
            (code, f"b{b}", 5 + b + (shift if code == "M1" else 0) + rng.normal(0, 0.5), "quality")
            for code in codes
            for b in range(3)
        ]
        self.rows = pd.DataFrame(rows, columns=["assessor", "sample", "score", "attribute"])

    @property
    def findings(self) -> SimpleNamespace:
        evidence = Evidence(
            scores=self.rows.assign(replicate=1, position=1),
            bottles=tuple(Bottle(name=f"b{b}") for b in range(3)),
            people=tuple(self.roster.values()),
            scorecard=default_scorecard(),
        )
        return SimpleNamespace(evidence=evidence)

    def attributes(self, *_kinds: object) -> list[str]:
        return ["quality"]

    def tidy(self, _attributes: list[str], *, everybody: bool = False) -> object:
        from kikichoko.analysis.core import tidy

        return tidy(self.rows if everybody else self.rows[self.rows["assessor"] != "M1"])


def test_groups_of_a_session():
    found = from_context(Opened(2.0))  # type: ignore[arg-type]
    assert set(found.shifts) == {"maker", "likes"}
    assert found.shifts["maker"].table["low"].iloc[0] > 0
    assert found.shifts["likes"].group == ["T0", "T1", "T2"]
    assert "M1" not in found.shifts["likes"].group
    assert found.stability is not None
    assert "M1" not in set(found.stability.runs["left_out"])
    said = " ".join(map(str, found.sentences()))
    assert "The maker: quality scored" in said
    assert "stand whoever is left out" in said


def test_what_stands_with_one_left_out_is_what_the_report_claims():
    """Its p is that of the report's budget, the whole panel's as well as the others'."""
    context = Opened(2.0)
    found = from_context(context)  # type: ignore[arg-type]
    assert found.stability is not None
    claimed = judge(context.findings.evidence).claimed("scale")
    told = found.stability.table.set_index("attribute")
    assert told.loc["quality", "p"] == claimed[0].adjusted
    assert told.loc["quality", "shown"]
    flat = Opened(2.0)
    flat.rows["score"] = np.random.default_rng(1).permutation(flat.rows["score"])
    none = from_context(flat).stability  # type: ignore[arg-type]
    assert not judge(flat.findings.evidence).claimed("scale")
    assert "stand whoever" not in " ".join(map(str, none.sentences()))


def test_too_few_neutrals_are_said():
    found = from_context(Opened(0.0, likers=7))  # type: ignore[arg-type]
    assert "likes" in found.refused
    assert "cannot be told" in str(found)


def test_table_on_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    path = tmp_path / "scores.csv"
    Opened(3.0).rows.to_csv(path, index=False)
    with pytest.raises(SystemExit) as stop:
        main(["shift", str(path), "--group", "M1", "--label", "The maker", "--json"])
    assert not stop.value.code
    spoken = json.loads(capsys.readouterr().out)
    row = spoken["shifts"]["The maker"]["table"][0]
    assert row["low"] > 0
    assert row["n_others"] == 8
    with pytest.raises(SystemExit) as stop:
        main(["shift", str(path)])
    assert stop.value.code == 2
