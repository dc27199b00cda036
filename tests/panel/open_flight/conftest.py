"""A session of three people with an open flight, at the stages that tests copy."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from shutil import copytree

import pytest
from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.session.session_folder import load

WANTED = """open_flight = true
[questions]
drop = ["fault", "aroma_intensity", "bitterness", "astringency", "texture", "carbonation",
        "alcohol_warmth", "flavour_intensity", "finish_length", "clean_cut", "lingering_aroma",
        "cloying", "aroma", "sweetness_balance", "umami", "body", "words"]
"""
PEOPLE = """assessor,role,style,language
M1,maker,likes,en
T1,expert,dislikes,ja
T2,student,neutral,en
"""
BOTTLES = """bottle,tank,fraction,pasteurised,abv,available
A free-run,4,free-run,1,16.5,2
B clear,4,clear,1,16.8,2
C cloudy,4,cloudy,1,16.9,2
"""
BLIND = {"M1": (6, 5, 5), "T1": (5, 4, 6), "T2": (5, 5, 4)}
"""Quality of the three bottles by assessor, blind."""
NAMED = {"M1": (7, 7, 9), "T1": (5, 4, 5)}
"""And once named; T2 left after the blind part."""


def call(*words: object):
    """Run a command in this process."""
    return CliRunner().invoke(kikichoko, [str(word) for word in words])


def table(place: Path, rows: Iterable[tuple[object, ...]]) -> Path:
    """Write a typed table of answers."""
    lines = ["assessor,code,attribute,score", *(",".join(map(str, row)) for row in rows), ""]
    place.write_text("\n".join(lines), "utf-8")
    return place


def cups(folder: Path) -> dict[tuple[str, str], list[str]]:
    """Return the codes of each assessor and bottle, as the server knows them."""
    from kikichoko.panel.plan.key_file import key_cups

    session = load(folder)
    found: dict[tuple[str, str], list[str]] = {}
    for cup in key_cups(session, load_open(session)):
        found.setdefault((cup["assessor"], cup["bottle"]), []).append(cup["code"])
    return found


def asked(folder: Path) -> tuple[str, ...]:
    """Name the questions that are asked of each cup, all of them lines."""
    sheet = load_open(load(folder)).own_sheets["M1"]
    return sheet.presentations[0].asked


def blind_rows(folder: Path, *people: str) -> list[tuple[object, ...]]:
    """Answer each line of the card for each cup; the quality is that of `BLIND`."""
    names = [bottle.name for bottle in load(folder).samples]
    return [
        (who, code, attribute, mark if attribute == "quality" else 4)
        for (who, bottle), codes in cups(folder).items()
        if who in people
        for mark in [BLIND[who][names.index(bottle)]]
        for code in codes
        for attribute in asked(folder)
    ]


def named_rows(folder: Path, *people: str) -> list[tuple[object, ...]]:
    """Answer each line of the card for each bottle; the quality is that of `NAMED`."""
    return [
        (who, bottle.name, attribute, NAMED[who][place] if attribute == "quality" else 4)
        for who in people
        for place, bottle in enumerate(load(folder).samples)
        for attribute in asked(folder)
    ]


@pytest.fixture(scope="module")
def answered_once(folder_once: Callable[..., Path]) -> Path:
    """Plan a session and read all blind answers."""
    place = folder_once(more=WANTED, assessors=PEOPLE, bottles=BOTTLES, replicates=1)
    assert call("plan", place).exit_code == 0
    rows = blind_rows(place, *BLIND)
    done = call("read", place, table(place.parent / "blind.csv", rows))
    assert done.exit_code == 0, done.output
    return place


@pytest.fixture
def answered(answered_once: Path, tmp_path: Path) -> Path:
    """Give a copy of `answered_once`."""
    return Path(copytree(answered_once, tmp_path / "session"))


@pytest.fixture(scope="module")
def opened_once(answered_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Open the flight of a copy, and read the named answers of two people."""
    place = Path(copytree(answered_once, tmp_path_factory.mktemp("opened") / "session"))
    done = call("unblind", place, "--yes")
    assert done.exit_code == 0, done.output
    done = call("read", place, table(place.parent / "named.csv", named_rows(place, *NAMED)))
    assert done.exit_code == 0, done.output
    return place


@pytest.fixture
def opened(opened_once: Path, tmp_path: Path) -> Path:
    """Give a copy of `opened_once`."""
    return Path(copytree(opened_once, tmp_path / "session"))
