"""Time in the mouth where cups are turned over afterwards, and where a session was in two places.

From the user's side: one person alone follows sips by place, and the bottle is known only when the
codes are told; sips of another place come back with its pack, once, and nobody comes back with them
who was forgotten meanwhile.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner, Result
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.key.opening import open_key
from kikichoko.panel.key.timed_answers import timed_answers
from kikichoko.panel.plan.plan_file import load_open, load_table
from kikichoko.panel.returns.store import Store
from kikichoko.panel.returns.timed_events import Moment, sips
from kikichoko.panel.session.session_folder import load
from kikichoko.panel.table.seats import Seat, seats
from table_visitor import Phone, in_thread, planned
from timed_session import Sender, bottles_of, fill

TIMED = '[]\n[timed]\nwords = ["sweetness", "acidity"]\nseconds = 30\nintensity = ""\n'
ALONE = "assessor,role,style,language\nME,maker,likes,en\n"
FIRST = {"Zaubertrank": 1000, "Xylophon": 2000, "Wackelpudding": 3000}
"""When sweetness strikes in each bottle, in milliseconds; what the table of events must say."""


def call(*words: object) -> Result:
    return CliRunner().invoke(kikichoko, [str(word) for word in words])


def followed(bottle: str) -> list[tuple[int, str, str | None]]:
    return [(0, "sip", None), (FIRST[bottle], "word", "sweetness"), (30_000, "end", "time")]


def struck(place: Path) -> pd.DataFrame:
    """Return when sweetness struck, by assessor and bottle, as the report's table has it."""
    session = load(place)
    plan = load_open(session)
    with Store(place) as store:
        found = timed_answers(plan, store, open_key(session, plan, store, "to see"))
    assert found is not None
    return found[found["event"] == "word"][["assessor", "sample", "replicate", "time", "state"]]


def told(table: pd.DataFrame) -> set[tuple[str, str, float]]:
    return set(table[["assessor", "sample", "time"]].itertuples(index=False, name=None))


def alone(folder: Path) -> tuple[Path, Seat]:
    """Plan a session of one person alone, who follows sips."""
    place = planned(
        folder / "s", options=TIMED, more="alone = true", assessors=ALONE, flight_size=3
    )
    return place, seats(load_table(place))["ME"]


def test_one_person_alone_by_place(tmp_path: Path):
    """No cup stood where its code is listed: a sip gets the bottle that is told of its place."""
    place, seat = alone(tmp_path)
    bottles = {code: bottle for (_, code), bottle in bottles_of(load(place)).items()}
    cups = [cup for cup in seat.cups if not cup.beneath]
    (turned,) = [cup for cup in seat.cups if cup.beneath]
    codes = [*turned.codes[1:], turned.codes[0]]
    under = dict(zip(codes, cups, strict=True))
    bottle_at = {cup.name: bottles[code] for code, cup in under.items()}
    assert not {*bottle_at} & {*codes}, "a place is no code"
    with in_thread(place) as links:
        phone = Phone(links, "ME")
        for cup in cups:
            for ms, event, value in followed(bottle_at[cup.name]):
                moment = Moment(run="0123abcd", ms=ms, event=event, value=value)
                touch = phone.touch(
                    "timed", code=cup.name, attribute="dominance", value=moment.plain()
                )
                assert phone.send(touch).told["done"][0][1] == "saved"
            assert phone.mark(cup.name, "quality", 5) == "saved"
            assert phone.go_on(cup.name) == "saved"
        first, *others = codes
        for code in others:
            place_of = 1 + cups.index(under[code])
            assert phone.mark(turned.name, f"beneath:{code}", place_of) == "saved"
        run = call("report", place)
        assert run.exit_code != 0, "one code is not told: nothing is filled in by elimination"
        assert not (place / "report").exists()
        spot = 1 + cups.index(under[first])
        assert phone.mark(turned.name, f"beneath:{first}", spot) == "saved"
        assert phone.go_on(turned.name) == "saved"
    found = struck(place)
    assert told(found) == {("ME", name, ms / 1000) for name, ms in FIRST.items()}
    assert set(found["state"]) == {"counted"}
    run = call("report", place)
    assert run.exit_code == 0, run.output
    events = pd.read_csv(next(place.rglob("times.csv")))
    seen = events[events["event"] == "word"]
    assert told(seen) == told(found)
    page = (place / "report" / "report.html").read_text("utf-8")
    assert "In the mouth, moment by moment" in page


def test_a_code_that_nobody_knows_takes_its_sip_out(tmp_path: Path):
    """The others of the row are used."""
    place, seat = alone(tmp_path)
    bottles = {code: bottle for (_, code), bottle in bottles_of(load(place)).items()}
    cups = [cup for cup in seat.cups if not cup.beneath]
    (turned,) = [cup for cup in seat.cups if cup.beneath]
    with Store(place) as store, store.transaction():
        send = Sender(store, seat)
        for code, cup in zip(turned.codes, cups, strict=True):
            send.sip(cup.name, "dominance", followed(bottles[code]))
            send("answer", cup.name, "quality", 5.0)
            send("done", cup.name)
        lost, *known = turned.codes
        for code in known:
            send("answer", turned.name, f"beneath:{code}", float(1 + turned.codes.index(code)))
    assert call("change", place, "unknown", lost).exit_code == 0
    wanted = {("ME", bottles[code], FIRST[bottles[code]] / 1000) for code in known}
    assert told(struck(place)) == wanted


@pytest.fixture(scope="module")
def two_places(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with `here`, where T1 followed sips, and `there`, where T2 and T3 did."""
    root = tmp_path_factory.mktemp("places")
    here = planned(root / "here", options=TIMED)
    assert call("pack", here, "--co-leader", "--to", root / "out.zip").exit_code == 0
    shutil.unpack_archive(root / "out.zip", root / "out")
    there = next((root / "out").rglob("session.toml")).parent.rename(root / "there")
    keys = (here / "plan").rglob("key*")
    assert not any((there / path.relative_to(here)).exists() for path in keys), (
        "as it is handed out"
    )
    shutil.copytree(here, root / "whole")
    for place, out in ((here, ("T2", "T3")), (there, ("T1",))):
        bottles = bottles_of(load(root / "whole"))
        with Store(place) as store, store.transaction():
            for code, seat in seats(load_table(place)).items():
                send = Sender(store, seat)
                for cup in seat.cups if code not in out else ():
                    send.sip(cup.name, "dominance", followed(bottles[code, cup.name]))
                    send("answer", cup.name, "quality", 5.0)
                    send("done", cup.name)
    assert call("pack", there, "--co-leader", "--to", root / "back.zip").exit_code == 0
    return root


def test_sips_of_two_places_are_one_table(two_places: Path, tmp_path: Path):
    """Merged twice, nothing is doubled; the table is what one place alone would have written."""
    here = Path(shutil.copytree(two_places / "here", tmp_path / "here"))
    for _ in range(2):
        run = call("merge", here, two_places / "back.zip")
        assert run.exit_code == 0, run.output
    wanted = {(who, name, ms / 1000) for who in ("T1", "T2", "T3") for name, ms in FIRST.items()}
    found = struck(here)
    assert told(found) == wanted
    assert len(found) == 9
    whole = Path(shutil.copytree(two_places / "whole", tmp_path / "whole"))
    fill(whole, lambda _, bottle, __: followed(bottle), {"quality": 5.0})
    same = struck(whole).sort_values(["assessor", "sample"]).reset_index(drop=True)
    pd.testing.assert_frame_equal(
        found.sort_values(["assessor", "sample"]).reset_index(drop=True), same
    )
    assert call("check", here).exit_code == 0


def test_whoever_was_forgotten_does_not_come_back_with_a_pack(two_places: Path, tmp_path: Path):
    here = Path(shutil.copytree(two_places / "here", tmp_path / "here"))
    run = call("forget", here, "T2", "--yes")
    assert run.exit_code == 0, run.output
    assert call("merge", here, two_places / "back.zip").exit_code == 0
    with Store(here, reading=True) as store:
        who = {one.assessor for one in sips(store)}
        rows = {one for (one,) in store.database.execute("SELECT assessor FROM touches")}
    assert who == {"T1", "T3"}
    assert "T2" not in rows


def test_one_cup_followed_in_both_places(two_places: Path, tmp_path: Path):
    """The later sip counts and the earlier one is kept, as on two telephones."""
    here = Path(shutil.copytree(two_places / "here", tmp_path / "here"))
    bottles = bottles_of(load(here))
    seat = seats(load_table(here))["T2"]
    cup = seat.cups[0]
    with Store(here) as store, store.transaction():
        Sender(store, seat, "9" * 16).sip(cup.name, "dominance", followed(bottles["T2", cup.name]))
    assert call("merge", here, two_places / "back.zip").exit_code == 0
    with Store(here, reading=True) as store:
        own = [one for one in sips(store) if (one.assessor, one.code) == ("T2", cup.name)]
    assert sorted(one.state for one in own) == ["begun again", "counted"]
