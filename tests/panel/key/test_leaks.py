"""What lies open tells nothing of the bottles: sentinels in every field, keys that are tried out.

Cases from outside the project (tests/outside, L01 to L40) are named beside the tests.
"""

from __future__ import annotations

import hashlib
import importlib.util
import itertools
import json
import re
import socket
import sys
import zipfile
import zlib
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.sealing import fingerprint, seal, written

COLUMNS = "bottle,lot,tank,fraction,storage,abv,meter_value,acidity,amino_acidity,glucose,polishing"
NUMBERS = ("16.4321", "-3.2109", "1.7654", "1.3579", "2.4681", "61.9753")
SENTINELS = (
    "Zaubertrank", "Quellwolke", "Xylophon", "LOTQ77", "TANKW99", "Kellerwort", "Reiswort",
    *NUMBERS,
)  # fmt: skip
ROW = f"LOTQ77,TANKW99,Quellwolke,Kellerwort,{','.join(NUMBERS)}"
BOTTLES = "\n".join(
    [f"{COLUMNS},available,control,rice", f"Zaubertrank,{ROW},9,clean,Reiswort",
     f"Xylophon,{ROW},9,stale,",
     f"Nachtisch,{ROW},9,,", f"Zwieback,{ROW},9,,", ""]
)  # fmt: skip
QUESTION = "Fragewort Zaubertrank"


SENT: list[tuple[object, ...]] = []
"""What was sent to another place while the session was written out."""
NETWORK = re.compile(
    r"^\s*(?:import|from) (socket|ssl|urllib\.request|http|ftplib|smtplib|requests|httpx|uvicorn)",
    re.MULTILINE,
)


def run(*words: object):
    return CliRunner().invoke(kikichoko, [str(word) for word in words])


def everything(path: Path) -> bytes:
    """Return all bytes of a file, with its zip parts and compressed PDF streams unpacked."""
    raw = path.read_bytes()
    parts = [raw, str(path).encode()]
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as book:
            parts += [book.read(name) for name in book.namelist()]
            parts += [name.encode() for name in book.namelist()]
    for piece in raw.split(b"stream")[1:]:
        try:
            parts.append(zlib.decompress(piece.lstrip(b"\r\n")))
        except zlib.error:
            continue
    return b"\n".join(parts).lower()


def forms(word: str) -> list[bytes]:
    """Return a word as UTF-8, UTF-16, hexadecimal, base 64 and as its common checksums."""
    import base64

    low = word.lower().encode()
    return [
        low,
        word.lower().encode("utf-16-be"),
        low.hex().encode(),
        base64.b64encode(word.encode()).lower().rstrip(b"="),
        *(hashlib.new(kind, word.encode()).hexdigest().encode() for kind in ("md5", "sha256")),
    ]


@pytest.fixture(scope="module")
def written_out(tmp_path_factory) -> Path:
    """Plan, print, change, plan again, read a bad table: all that lies open before the opening."""
    place = tmp_path_factory.mktemp("leaks") / "session"
    place.mkdir()
    with pytest.MonkeyPatch.context() as patched:
        for way in ("connect", "connect_ex", "sendto"):
            patched.setattr(socket.socket, way, lambda *_: SENT.append(_))
        write_out(place)
    return place


def write_out(place: Path) -> None:
    (place / "session.toml").write_text(
        'name = "blind-1"\ndate = 2026-03-14\n'
        f'question = "{QUESTION}"\n[serving]\nreplicates = 1\n'
        'warm_up = "Zwieback"\ncodes = "shared"\n',
        "utf-8",
    )
    (place / "bottles.csv").write_text(BOTTLES, "utf-8")
    (place / "assessors.csv").write_text(
        "assessor,role,style\nT1,trained,likes\nT2,maker,dislikes\nT3,student,\n", "utf-8"
    )
    assert run("plan", place).exit_code == 0
    assert run("sheets", place).exit_code == 0
    assert run("plan", place, "--again").exit_code == 0
    with (place / "bottles.csv").open("a", encoding="utf-8") as out:
        out.write(f"Wackelpudding,{ROW},9,\nHimbeere,{ROW},9,\n")
    by = ["--by", "Wackelpudding", "--from-flight", "1"]
    assert run("change", place, "replace", "Nachtisch", *by).exit_code == 0
    assert run("change", place, "add", "Himbeere").exit_code == 0
    assert run("sheets", place).exit_code == 0
    bad = place / "typed.csv"
    bad.write_text("assessor,code,attribute,score\nT1,999,acidity,4\n", "utf-8")
    assert run("read", place, bad).exit_code == 3


def open_files(place: Path) -> list[Path]:
    """Return all files but what you wrote yourself and the server's folder."""
    own = {"session.toml", "bottles.csv", "assessors.csv"}
    return sorted(
        path
        for path in place.rglob("*")
        if path.is_file() and "server" not in path.parts and path.name not in own
    )


WORDS = (*SENTINELS, "Nachtisch", "Zwieback", "Wackelpudding", "Himbeere", "Fragewort")


def test_no_open_byte_holds_a_sentinel(written_out: Path):
    """L10, L12, L14, L18, L19, L20, L28: sheets, labels, plans, log, store, names of files."""
    files = open_files(written_out)
    assert len(files) > 25  # sheets and lists of two plans, log, store: 29 today
    for path in files:
        content = everything(path)
        for word in WORDS:
            assert not any(form in content for form in forms(word)), f"{path.name} holds {word}"


def test_the_search_would_find_them(written_out: Path):
    pours = everything(written_out / "plan/server/pour_list.pdf")
    assert len(pours) > 1000
    assert b"wackelpudding" in everything(written_out / "plan/server/pour_list.csv")
    assert b"zaubertrank" in everything(written_out / "plan/server/key.json")


def test_status_check_and_changes_speak_in_codes(written_out: Path):
    """L36, L37: nothing on the screen before the opening names a bottle that was not edited."""
    for words in (("status", written_out), ("change", written_out)):
        done = run(*words)
        for word in WORDS:
            assert word not in done.output, words


@pytest.mark.usefixtures("written_out")
def test_nothing_is_sent_anywhere():
    """No command opens a connection; only pages of `review`, `serve` and `desk` listen for any."""
    assert SENT == []
    root = Path(__file__).parents[3]
    asking = {
        path.name
        for room in ("analysis", "forms", "panel")
        for path in (root / room).rglob("*.py")
        if NETWORK.search(path.read_text("utf-8"))
    }
    assert asking == {
        "review_server.py", "patient_protocol.py", "table_links.py", "desk_server.py",
    }  # fmt: skip


def test_every_shared_string_of_a_workbook_is_in_a_cell_in_its_order(written_out: Path):
    """L20, L21: no string is left over, and strings stand in the order of the sheet."""
    for path in sorted((written_out / "sheets").glob("*.xlsx")):
        with zipfile.ZipFile(path) as book:
            names = book.namelist()
            if "xl/sharedStrings.xml" not in names:
                continue
            count = book.read("xl/sharedStrings.xml").count(b"<si>")
            sheets = [name for name in names if name.startswith("xl/worksheets/sheet")]
            used = [
                int(found)
                for name in sorted(sheets, key=lambda name: int(re.sub(r"\D", "", name)))
                for found in re.findall(rb't="s"[^>]*><v>(\d+)</v>', book.read(name))
            ]
        assert set(used) == set(range(count))
        assert list(dict.fromkeys(used)) == sorted(set(used))


def test_seals_cannot_be_tried_out(written_out: Path):
    """L29, L33: every key that the bottles allow, in the written forms that come to mind,
    against every hexadecimal string that lies open; then the test is shown to find a bare one."""
    key = json.loads((written_out / "plan/server/key.json").read_text("utf-8"))
    opened = b"\n".join(path.read_bytes() for path in open_files(written_out)).lower()
    strings = set(re.findall(rb"[0-9a-f]{8,64}", opened))
    codes = sorted({cup["code"] for cup in key["cups"]})
    bottles = {cup["code"]: cup["bottle"] for cup in key["cups"]}
    names = [bottles[code] for code in codes]
    tried = 0
    marks = [f"<{place}>" for place in range(len(codes))]

    def cups(names: list[str]) -> list[dict[str, object]]:
        own = dict(zip(codes, names, strict=True))
        return [{**cup, "bottle": own[cup["code"]]} for cup in key["cups"]]

    def filled(frame: str, order: tuple[str, ...]) -> str:
        """Put names into what was written with marks in their place: writing takes long."""
        for mark, name in zip(marks, order, strict=True):
            frame = frame.replace(mark, name)
        return frame

    def hits(salts: tuple[bytes, ...], content: dict[str, object]) -> bool:
        nonlocal tried
        kinds = ("sha256", "sha1", "md5")
        listed = json.dumps(cups(marks))
        sealed = written({**content, "cups": cups(marks)}).decode()
        assert filled(sealed, tuple(names)) == written(content).decode()
        begun = [hashlib.new(kind, salt) for kind in kinds for salt in salts]
        for order in set(itertools.permutations(names)):
            pairs = dict(zip(codes, order, strict=True))
            shapes = [
                json.dumps(pairs), json.dumps(pairs, sort_keys=True, separators=(",", ":")),
                "\n".join(f"{code},{name}" for code, name in pairs.items()),
                ";".join(f"{code}={name}" for code, name in pairs.items()),
                filled(listed, order), filled(sealed, order),
            ]  # fmt: skip
            for shape, head in itertools.product(map(str.encode, shapes), begun):
                tried += 1
                hashed = head.copy()
                hashed.update(shape)
                digest = hashed.hexdigest().encode()
                if digest in strings or digest[:8] in strings:
                    return True
        return False

    bare = {name: value for name, value in key.items() if name != "secret"}
    assert not hits((b"", b"blind-1", key["open_half"].encode()), bare)
    assert tried > 1000
    strings.add(seal({**bare, "cups": key["cups"]}).encode())
    assert hits((b"",), bare), "a seal without the secret would have been found"


def test_the_secret_is_long_fresh_and_only_with_the_key(written_out: Path):
    """L30, L31: nothing that a session folder says makes the same plan again."""
    key = json.loads((written_out / "plan/server/key.json").read_text("utf-8"))
    first = json.loads((written_out / "plan/server/earlier/1/key.json").read_text("utf-8"))
    assert len(bytes.fromhex(key["secret"])) == 32
    assert key["secret"] != first["secret"]
    for path in open_files(written_out):
        content = everything(path)
        for secret in (key["secret"], first["secret"]):
            assert secret.encode() not in content
            assert bytes.fromhex(secret) not in path.read_bytes()
    mark = fingerprint(seal(key))
    assert len(mark.replace("-", "")) * 5 >= 100, "L32"


def test_codes_orders_and_open_files_know_nothing_of_the_bottles():
    """L01 to L07, L23, L25: a sample of benchmarks/blind_codes.py, which draws 10,000 plans.

    300 plans; an alarm at p < 1e-5 in one of 14 tests comes by chance once in 7,000 runs. The
    same tests find codes that lie in the order of the bottles in a fifth of the plans.
    """
    path = Path(__file__).parents[3] / "benchmarks" / "blind_codes.py"
    spec = importlib.util.spec_from_file_location("blind_codes", path)
    bench = importlib.util.module_from_spec(spec)
    sys.modules["blind_codes"] = bench
    spec.loader.exec_module(bench)
    rng = np.random.default_rng(8)
    drawn = bench.table(300, 1, rng)
    found = bench.told(drawn)
    assert {name: p for name, (p, _) in found.items() if p < 1e-5} == {}
    hits, limit = bench.guessed(drawn.rows, drawn.bottles)
    assert hits < limit + 0.02
    planted = bench.told(bench.table(400, 1, rng, planted=0.2))
    assert planted["rank of the code"][0] < 1e-5
