"""Nothing that an assessor gets knows what is in a cup."""

from __future__ import annotations

import zipfile
import zlib
from pathlib import Path
from shutil import copytree

import pytest
from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko

SENTINELS = ("Zaubertrank", "Quellwolke", "Xylophon", "LOTQ77", "TANKW99", "Kellerwort")
BOTTLES = """bottle,lot,tank,fraction,storage,available
Zaubertrank,LOTQ77,TANKW99,Quellwolke,Kellerwort,2
Xylophon,LOTQ77,TANKW99,Quellwolke,Kellerwort,2
"""


def everything(path: Path) -> bytes:
    """Return all bytes of a file, with its zip parts and compressed PDF streams unpacked."""
    raw = path.read_bytes()
    parts = [raw, path.name.encode()]
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as book:
            parts += [book.read(name) for name in book.namelist()]
            parts += [name.encode() for name in book.namelist()]
    for piece in raw.split(b"stream")[1:]:
        try:
            parts.append(zlib.decompress(piece.lstrip(b"\r\n")))
        except zlib.error:
            continue
    return b"\n".join(parts)


def holds(content: bytes, word: str) -> bool:
    """Find a word as UTF-8, UTF-16 or hexadecimal text, capitals not minded."""
    low = content.lower()
    forms = [
        word.lower().encode(),
        word.lower().encode("utf-16-be"),
        word.lower().encode().hex().encode(),
    ]
    return any(form in low for form in forms)


@pytest.fixture(scope="module")
def written_once(folder_once) -> Path:
    place = folder_once(bottles=BOTTLES, spare=1, warm_up="Xylophon", appearance="flight")
    for command in ("plan", "sheets"):
        done = CliRunner().invoke(kikichoko, [command, str(place)])
        assert done.exit_code == 0, done.output
    return place


@pytest.fixture
def written(written_once: Path, tmp_path: Path) -> Path:
    """Return a copy, so that what one test returns is not there for the next."""
    return Path(copytree(written_once, tmp_path / "session"))


def test_no_sheet_holds_a_bottle_batch_or_fraction(written: Path):
    files = sorted(path for path in (written / "sheets").rglob("*") if path.is_file())
    assert len(files) == 2 * 7 + 1 + 1, "with the list of their checksums"
    for path in [*files, written / "plan/cup_labels.pdf", written / "plan/orders.csv"]:
        content = everything(path)
        for word in SENTINELS:
            assert not holds(content, word), f"{path.name} holds {word}"


def test_no_sheet_says_who_an_assessor_is_or_their_taste(written: Path):
    for path in sorted((written / "sheets").rglob("*.xlsx")):
        content = everything(path)
        for word in ("dislikes", "maker", "trained"):
            assert not holds(content, word), f"{path.name} holds {word}"


def test_the_search_would_find_them(written: Path, tmp_path: Path):
    """The lists of the server do hold them, so the search above can fail."""
    from openpyxl import Workbook

    assert holds(everything(written / "plan/server/key.json"), "Zaubertrank")
    assert holds(everything(written / "plan/server/pour_list.csv"), "Xylophon")
    book = Workbook()
    book.active["Z99"] = "see zaubertrank"
    book.save(tmp_path / "leak.xlsx")
    assert holds(everything(tmp_path / "leak.xlsx"), "Zaubertrank")


def test_status_and_faults_speak_in_codes(written: Path):
    wrong = written / "typed.csv"
    wrong.write_text("assessor,code,attribute,score\nT1,999,acidity,4\n", "utf-8")
    done = CliRunner().invoke(kikichoko, ["read", str(written), str(wrong)])
    assert done.exit_code == 3
    state = CliRunner().invoke(kikichoko, ["status", str(written)])
    assert state.exit_code == 3
    for word in SENTINELS:
        assert word not in done.output + state.output


def test_opening_the_key_is_on_the_record(written: Path):
    shown = CliRunner().invoke(kikichoko, ["key", str(written), "--reason", "cork smell"])
    assert shown.exit_code == 0
    assert "Zaubertrank" in shown.output
    assert "6 sheets still out" in shown.output
    state = CliRunner().invoke(kikichoko, ["status", str(written)])
    assert "(cork smell); sheets still out then: 6" in state.output
