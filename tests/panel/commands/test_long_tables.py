"""A large table gets a word on how long it takes, and a sign of life on a terminal."""

from __future__ import annotations

import time

import pandas as pd
import pytest
from kikichoko.analysis.core import tidy
from kikichoko.panel.commands import _table


@pytest.fixture(scope="module")
def table():
    rows = [(f"A{i}", sample, 1.0) for i in range(50) for sample in "xy"]
    return tidy(pd.DataFrame(rows, columns=["assessor", "sample", "score"]))


def test_what_takes_long_is_said_beforehand(table, capsys):
    with _table.patience(table, 5_000.4):
        assert "100 answers: this may take up to about 5 s" in capsys.readouterr().err
    with _table.patience(table, 4_999):
        assert capsys.readouterr().err == ""


def test_a_terminal_is_told_that_the_work_goes_on(table, capsys, monkeypatch):
    monkeypatch.setattr(_table.sys.stderr, "isatty", lambda: True)
    monkeypatch.setattr(_table, "_BEAT", 0.01)
    with _table.patience(table, 10_000):
        told = ""
        while "…" not in told:
            time.sleep(0.01)
            told += capsys.readouterr().err
    assert "10 s" in told
