"""Session folders put together: identity of bottles, makers apart, keys left closed."""

from __future__ import annotations

import json
import shlex
import sqlite3

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from kikichoko.panel.across import session_history
from kikichoko.panel.across.session_history import collect, folders_of
from kikichoko.panel.base.errors import InputRefused, NotReady
from kikichoko.panel.cli import kikichoko

HEAD = "bottle,use,lot,tank,fraction,abv,meter_value,acidity,available\n"


@pytest.fixture
def folders(tmp_path):
    """Eight sessions: a house sake again and again, and 'clear' from another tank each time."""
    rng = np.random.default_rng(1)
    meter, acid = np.linspace(-5, 8, 8), rng.permutation(np.linspace(1.1, 2.0, 8))
    for s in range(8):
        folder = tmp_path / f"s{s}"
        folder.mkdir()
        (folder / "session.toml").write_text(
            f'name = "tasting-{s}"\ntitle = "Tasting"\ndate = 2024-0{s + 1}-05\nquestion = "?"\n',
            "utf-8",
        )
        (folder / "bottles.csv").write_text(
            HEAD
            + "house sake,sample,H,0,clear,15,3,1.4,1\n"
            + f"clear,sample,L{s},{s},clear,16,{meter[s]},{acid[s]},1\n"
            + f"cloudy,sample,L{s},{s},cloudy,16,{meter[s] - 1},{acid[s] + 0.1},1\n",
            "utf-8",
        )
        (folder / "assessors.csv").write_text(
            "assessor,role\nA1,maker\nA2,trained\nA3,trained\nA4,student\n", "utf-8"
        )
        rows = [
            (
                f"tasting-{s}",
                f"A{k}",
                bottle,
                1,
                1,
                "sweetness",
                mean + 0.2 * k + rng.normal(0, 0.3),
            )
            for k in (1, 2, 3, 4)
            for bottle, mean in (
                ("house sake", 5.0),
                ("clear", 6.5 - 0.2 * meter[s]),
                ("cloudy", 7.0 - 0.2 * meter[s]),
            )
        ]
        names = ["session", "assessor", "sample", "replicate", "position", "attribute", "score"]
        pd.DataFrame(rows, columns=names).to_csv(folder / "scores.csv", index=False)
    return tmp_path


def test_a_name_means_the_same_bottle_everywhere(folders):
    together = collect(folders_of([folders]))
    samples = set(together.scores["sample"].cat.categories)
    assert "house sake" in samples
    assert {"clear [3 / L3]", "cloudy [3 / L3]"} <= samples
    assert len(samples) == 17
    # Nothing lost: every row stands as in its file, the maker's apart.
    for s in range(8):
        here = together.scores[together.scores["session"] == f"tasting-{s}"]
        file = pd.read_csv(folders / f"s{s}" / "scores.csv").query("assessor != 'A1'")
        assert here["score"].tolist() == pytest.approx(file["score"].tolist())
        assert here["assessor"].astype(str).tolist() == file["assessor"].tolist()
        plain = here["sample"].astype(str).str.replace(r" \[.*", "", regex=True)
        assert plain.tolist() == file["sample"].tolist()


def test_makers_stand_apart_unless_the_session_counts_them(folders):
    together = collect(folders_of([folders]))
    assert "A1" not in together.scores["assessor"].cat.categories
    assert any("A1" in str(caution) for caution in together.cautions)
    settings = folders / "s0" / "session.toml"
    settings.write_text(settings.read_text("utf-8") + "[panel]\nmaker_in_means = true\n", "utf-8")
    again = collect(folders_of([folders]))
    counted = again.scores[again.scores["assessor"] == "A1"]
    assert set(counted["session"].astype(str)) == {"tasting-0"}


def test_no_key_is_opened(folders):
    (folders / "s3").rename(folders / "s 3")
    (folders / "s 3" / "scores.csv").unlink()
    with pytest.raises(NotReady, match="no report yet") as told:
        collect(folders_of([folders]))
    assert str(told.value).endswith(f"\nkikichoko report {shlex.quote(str(folders / 's 3'))}")
    assert not list(folders.glob("*/answers.sqlite"))


def test_answers_after_the_report_are_told(folders):
    with sqlite3.connect(folders / "s2" / "answers.sqlite") as store:
        store.execute("CREATE TABLE openings (opened_at TEXT)")
        store.execute("CREATE TABLE answers (entered_at TEXT)")
        store.execute("INSERT INTO openings VALUES ('2024-03-05T12:00:00+00:00')")
        store.execute("INSERT INTO answers VALUES ('2024-03-06T12:00:00+00:00')")
    store.close()
    together = collect(folders_of([folders]))
    assert any("s2" in str(caution) for caution in together.cautions)


def test_faults_name_the_folder(folders, tmp_path):
    with pytest.raises(InputRefused, match="no session folder"):
        folders_of([tmp_path / "nothing"])
    twin = folders / "s0" / "session.toml"
    twin.write_text(twin.read_text("utf-8").replace("tasting-0", "tasting-1"), "utf-8")
    with pytest.raises(InputRefused, match="tasting-1"):
        collect(folders_of([folders]))
    (folders / "s5" / "scores.csv").write_text("assessor,sample\nA,b\n", "utf-8")
    with pytest.raises(InputRefused, match=r"s5.scores\.csv"):
        collect(folders_of([folders]))


def run(*arguments):
    done = CliRunner().invoke(kikichoko, ["history", *map(str, arguments)], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done


def test_command(folders, tmp_path):
    said = run(folders, "--json", "--figure", tmp_path / "chart.png")
    result = json.loads(said.stdout)
    assert result["reference"] == "house sake"
    assert len(result["sessions"]) == 8
    assert "8 sessions, 72 answers" in said.stderr
    assert (tmp_path / "chart.png").stat().st_size > 8000
    assert "house sake" in run(folders).stdout


def test_link_over_sessions(folders, tmp_path):
    # Each session holds one tank and the house sake, which links them: 9 batches, one group.
    said = run(
        folders, "--link", "--predictors", "meter_value", "--json", "--save", tmp_path / "out"
    )
    result = json.loads(said.stdout)
    assert result["estimability"]["batches"] == 9
    assert result["estimability"]["sessions"] == 8
    assert result["estimability"]["spare"] == 9 - 1 - 1
    row = result["slopes"][0]
    assert row["low"] < -0.2 < row["high"]
    assert row["holds"]
    saved = pd.read_csv(tmp_path / "out" / "scores.csv")
    assert len(saved) == 72


def test_a_word_that_is_the_key_of_another_question_is_not_taken(monkeypatch, tmp_path):
    class Card(dict):
        def name(self, key, _language):
            return self[key]

    monkeypatch.setattr(session_history, "settings_of", lambda _: None)
    monkeypatch.setattr(session_history, "card_of", lambda *_: Card(a="body", c="Acidity"))
    found = session_history.labels_of([tmp_path], ["a", "body", "c"], "en")
    assert found == {"a": "a", "c": "acidity"}
