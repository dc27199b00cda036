"""Which files beside the answers are taken for another store."""

from __future__ import annotations

from pathlib import Path

import pytest
from kikichoko.panel.key import session_checks


@pytest.mark.parametrize(
    ("name", "told"),
    [("answers.sqlite", []), ("answers-before-version-2.sqlite", []),
     ("copy.sqlite", ["copy.sqlite"])],
)  # fmt: skip
def test_a_second_store_is_told_and_a_copy_of_our_own_is_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, told: list[str]
):
    monkeypatch.setattr(session_checks, "_second_store", lambda path, _: path.name)
    (tmp_path / name).touch()
    assert session_checks._files(tmp_path, None) == told
