"""What the report says of time in the mouth: what was put in is found, what was not is not said.

Cases R01 to R12 stand in tests/outside/table/timed.md, written before the code.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterable
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner
from kikichoko.analysis.profile import dominance, time_intensity, timed_sips
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.report import timed
from kikichoko.panel.report.build import open_context
from kikichoko.panel.report.context import Context
from kikichoko.panel.returns.store import Store
from kikichoko.panel.returns.timed_events import sips
from kikichoko.panel.session.session_folder import load
from openpyxl import load_workbook
from results_schema import faults
from table_visitor import planned
from timed_session import Event, fill

PEOPLE = "assessor,role,style,language\nM,maker,likes,ja\n" + "".join(
    f"T{n},trained,,en\n" for n in range(1, 7)
)
EARLY, LATE, NEVER = "Zaubertrank", "Xylophon", "Wackelpudding"


def course(who: str, bottle: str, part: str) -> Iterable[Event]:
    """Sweet at once and gone, sweet at last, or never; T6 is on paper, T5 begins one sip again."""
    sip, whole = (0, "sip", None), (60_000, "end", "time")
    late = 200 * (ord(who[-1]) % 7)
    if part == "dominance":
        first, last = {EARLY: ("sweetness", "bitterness"), LATE: ("acidity", "sweetness"),
                       NEVER: ("umami", None)}[bottle]  # fmt: skip
        again = [sip, (700, "end", "again")] if (who, bottle) == ("T5", EARLY) else []
        return [*again, sip, (1_000 + late, "word", first), (12_000, "out", "spat"),
                (25_000 + late, "word", last), whole]  # fmt: skip
    up, down = {EARLY: (2_000, 15_000), LATE: (30_000, 60_000), NEVER: (0, 0)}[bottle]
    if not down:
        return (
            [sip, (200, "away", 1500.0), whole] if who == "T1" else [sip, (20_000, "end", "early")]
        )
    moves = [(up + late, "level", 6.0 + 0.1 * late / 100), (down - 1_000, "level", 1.0)]
    return [sip, *moves, whole]


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = planned(
        tmp_path_factory.mktemp("timed") / "s", options="[]\n[timed]\n", assessors=PEOPLE
    )
    fill(place, course, {"sweetness": 5.0, "quality": 6.0}, paper=["T6"])
    run = CliRunner().invoke(kikichoko, ["report", str(place)])
    assert run.exit_code == 0, run.output
    return place


def told(place: Path) -> dict:
    return json.loads((place / "report" / "results.json").read_text("utf-8"))


def test_put_back(session: Path):
    """R01, R02, R05, R06, R09, R11: which word when, heights by thirds, whose is missing."""
    found = told(session)
    assert faults(found) == []
    spoken = {one["sentence"]: one["kind"] for one in found["statements"]}
    said = [one for one in spoken if one.startswith((EARLY, LATE, NEVER)) and "first" in one]
    # by hand: named from 1.0, 1.2, 1.4, 1.6, 1.8 s on: 18.6 of the first 20 s in the mean
    assert f"{EARLY}: first sweetness (93 % of the time)" in " ".join(said)
    assert {one: spoken[one] for one in said} == dict.fromkeys(said, "description")
    (late,) = [one for one in said if one.startswith(f"{LATE}: first")]
    assert late.endswith("last sweetness (100 % of the time) (5 sips).")
    (never,) = [one for one in said if one.startswith(f"{NEVER}: first")]
    assert never.endswith("last nothing (5 sips).")
    section = found["timed"]
    height = {(one["sample"], one["third"]): one["mean"] for one in section["intensity_thirds"]}
    assert height[EARLY, "first"] > 3
    assert height[EARLY, "last"] == 1
    assert height[LATE, "first"] == 0
    assert height[LATE, "last"] > 5
    assert (NEVER, "first") not in height, "a mark that was never moved is a blank"
    assert section["unmarked"] == 5
    reached = {(one["sample"], one["parameter"]): one for one in section["intensity_parameters"]}
    by_hand = [(2_000 + 200 * (ord(str(n)) % 7)) / 1000 for n in range(1, 6)]
    tmax = reached[EARLY, "tmax"]
    assert tmax["mean"] == pytest.approx(sum(by_hand) / 5)
    assert tmax["low"] < tmax["mean"] < tmax["high"]
    levels = {one["sample"]: one for one in section["dominance_levels"]}
    # 5 sips, 5 words: P(X >= 4) = 0.00672, P(X >= 3) = 0.0579 (binomial, by hand)
    assert (levels[EARLY]["n"], levels[EARLY]["chance"], levels[EARLY]["count"]) == (5, 0.2, 4)
    page = (session / "report" / "report.html").read_text("utf-8").replace("\u00a0", " ")
    assert "No sip that counts came from T6" in page
    assert "The sips of the maker (M) stand in times.csv" in page
    assert "In 1 sip the page was out of sight" in page
    assert "1 sip was begun again by its assessor" in page
    assert "claim" not in set(spoken.values())
    assert not [one for one in found["short"] if "sip" in one]


def test_nothing_is_mixed_into_the_answers(session: Path):
    """R07, R08: raw events apart, read back by one function, taken by the analyses as they are."""
    scores = pd.read_csv(session / "scores.csv")
    assert set(scores["attribute"]) == {"sweetness", "quality"} | {
        one for one in scores["attribute"] if one.startswith("fault")
    }
    times = pd.read_csv(session / "times.csv")
    with Store(session, reading=True) as store:
        assert len(times) == sum(len(one.moments) for one in sips(store))
    back = timed_sips(times)
    assert back.seconds == 60
    assert back.words == ("acidity", "alcohol_warmth", "bitterness", "sweetness", "umami")
    assert dominance(back.dominance, attributes=back.words).evaluations == 18
    assert len(time_intensity(back.intensity).parameters) == 12
    book = load_workbook(session / "report" / "tables.xlsx", read_only=True)
    assert {"times", "dominance", "intensity"} <= set(book.sheetnames)
    for what in ("dominance", "intensity"):
        run = CliRunner().invoke(
            kikichoko, ["course", str(session / "times.csv"), "--what", what, "--json"]
        )
        assert run.exit_code == 0, run.output
        assert json.loads(run.output)


def opened(place: Path) -> tuple[Context, str]:
    """Open the key; return what the section says in the session's language."""
    session = load(place)
    with Store(place) as store:
        context = open_context(session, load_open(session), store, "report", figures=False)
    found = timed.section(context)
    assert found is not None
    lines = [line for block in found.blocks for line in getattr(block, "lines", ())]
    return context, "\n".join(line.to(context.language) for line in lines)


def test_japanese_and_forgotten(session: Path, tmp_path: Path):
    """R10, R12: the section in Japanese; a person's times go under the new code."""
    place = Path(shutil.copytree(session, tmp_path / "s"))
    text = (place / "session.toml").read_text("utf-8")
    (place / "session.toml").write_text(f'language = "ja"\n{text}', "utf-8")
    run = CliRunner().invoke(kikichoko, ["forget", str(place), "T2", "--yes"])
    assert run.exit_code == 0, run.output
    context, said = opened(place)
    assert f"{EARLY}：はじめ甘味（時間の93 %）" in said
    assert "T2" not in set(context.times["assessor"])
    assert len(context.times) == len(pd.read_csv(session / "times.csv"))
    with Store(place, reading=True) as store:
        devices = {one for (one,) in store.database.execute("SELECT device FROM touches")}
    assert "5432".ljust(16, "0") not in devices, "T2's telephone"


def test_nobody_was_served_by_telephone(tmp_path: Path):
    """D05: one sentence says why there is nothing."""
    place = planned(tmp_path / "s", options="[]\n[timed]\n", assessors=PEOPLE)
    fill(place, course, {"sweetness": 5.0}, paper=["M", *(f"T{n}" for n in range(1, 7))])
    assert "none that counts came in" in opened(place)[1]
