"""Sessions as earlier versions of this program left them open in this one, with nothing lost.

The folders were written by those versions themselves and are never made anew: one from
before plans, keys and stores had versions (seed in the open, store of version 2), one with
plan format 2 and a store of version 4, with two late changes and an opening of the key.
In both, everybody scored the truth of the bottle in the cup.
"""

from __future__ import annotations

import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.key.opening import open_key
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.returns.store import Store
from kikichoko.panel.returns.store_versions import STEPS
from kikichoko.panel.session import load

KEPT = Path(__file__).parent / "earlier_sessions"
TRUTH = {"early": 2.0, "middle": 5.0, "late": 8.0, "twin": 9.0}


def run(*words: object):
    return CliRunner().invoke(kikichoko, [str(word) for word in words])


@pytest.mark.parametrize("name", sorted(path.stem for path in KEPT.glob("*.zip")))
def test_an_earlier_session_opens_and_goes_on(tmp_path, name):
    with zipfile.ZipFile(KEPT / f"{name}.zip") as kept:
        kept.extractall(tmp_path)
    folder = tmp_path / "old"
    before = (folder / "answers.sqlite").read_bytes()
    with closing(sqlite3.connect(folder / "answers.sqlite")) as database:
        (version,) = database.execute("PRAGMA user_version").fetchone()
    assert run("status", folder).exit_code in (0, 3)
    assert (folder / "answers.sqlite").read_bytes() == before, "looking changes nothing"
    session = load(folder)
    plan = load_open(session)
    more = tmp_path / "more.csv"
    rows = [f"T4,{pour.code},sweetness,1" for pour in plan.pours if pour.assessor == "T4"]
    more.write_text("\n".join(["assessor,code,attribute,score", *rows]), "utf-8")
    assert run("read", folder, more).exit_code == 0
    copies = list(folder.glob("answers-before-version-*.sqlite"))
    assert len(copies) == (version < len(STEPS)), "a copy before a migration"
    with Store(folder) as store:
        key = open_key(session, plan, store, "to compare")
        stood = [one.answer for one in store.answers() if one.answer.assessor != "T4"]
        assert len(stood) == 12
        for answer in stood:
            assert answer.value == TRUTH[key.cups[answer.assessor, answer.code].bottle]
        assert len(store.openings()) == 2
    (folder / "plan/server/key.json").chmod(0o600)
    done = run("check", folder)
    assert done.exit_code == 0, done.output
    assert "Nothing was lost or changed" in done.output
