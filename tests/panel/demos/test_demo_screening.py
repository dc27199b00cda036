"""The screening demo: each is told what was put in (demo_sessions/screening/truth.toml)."""

from __future__ import annotations

from english_left import english_left
from kikichoko.panel.base.words import speaking
from kikichoko.panel.demos import screening


def test_each_candidate_is_judged_by_what_was_put_in(tmp_path):
    steps = []
    made = screening.run(tmp_path / "demo", lambda: steps.append(1))
    assert len(steps) == screening.STEPS
    text = made.report.read_text("utf-8")
    assert "S1 is ready to begin training" in text
    again = next(line for line in text.splitlines() if line.startswith("S2:"))
    assert "worth another evening for naming solutions, telling a weak solution" in again
    weak = next(line for line in text.splitlines() if line.startswith("S3:"))
    assert "worth another evening for telling a weak solution from water:" in weak
    left = next(line for line in text.splitlines() if line.startswith("S4:"))
    assert "still open for putting concentrations in order" in left
    assert text.startswith("S1 is ready"), "who passed comes before how it was judged"
    assert text.index("S4:") < text.index("Naming solutions: 7 of 8 is the pass mark.")


def test_in_japanese_it_says_no_english_of_its_own(tmp_path):
    with speaking("ja"):
        made = screening.run(tmp_path / "demo", lambda: None)
    text = made.report.read_text("utf-8")
    assert "S1は訓練を始められる" in text
    assert english_left(text) == []
