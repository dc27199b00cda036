"""Rules of the plan: its format and what it says of alcohol, on both sides."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from kikichoko.panel.base.errors import NotReady
from kikichoko.panel.plan.plan_file import content_of


@pytest.mark.parametrize(("version", "read"), [(1, True), (2, True), (3, False)])
def test_a_plan_of_a_later_version_is_refused(tmp_path: Path, version: int, read: bool):
    path = tmp_path / "plan.json"
    path.write_text(json.dumps({"format": version}), "utf-8")
    if read:
        assert content_of(path, path) == {"format": version}
    else:
        with pytest.raises(NotReady):
            content_of(path, path)
