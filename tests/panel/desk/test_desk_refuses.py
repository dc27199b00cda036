"""Who should not, cannot: cases F01 to F10 and D10 of tests/outside/desk, without a browser."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from html import unescape
from pathlib import Path
from urllib.parse import parse_qsl, quote

import pytest
from click.testing import CliRunner
from desk_visitor import ask, desk
from kikichoko.panel.base.errors import InputRefused
from kikichoko.panel.base.session_log import read_log
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.desk.cellar import cellar_words
from kikichoko.panel.desk.desk_server import DeskServer
from kikichoko.panel.desk.shelf import SessionShelf
from kikichoko.panel.desk.uploads import LARGEST
from kikichoko.panel.desk.visitors import COOKIE
from kikichoko.panel.returns.store import Store
from kikichoko.panel.session.setting_lines import with_settings

BORDER = "kikichoko-border"
BOTTLES = "bottle,tank,fraction,available\nZaubertrank,9,early,9\nXylophon,9,late,9\n"


@pytest.fixture(scope="module")
def shelf(folder_once: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("shelf")
    outside = folder_once(bottles=BOTTLES, replicates=1)
    outside.rename(place / "spring")
    for word in ("plan", "sheets"):
        assert CliRunner().invoke(kikichoko, [word, str(place / "spring")]).exit_code == 0
    away = tmp_path_factory.mktemp("away")
    (away / "session.toml").write_text("secret = 1\n", "utf-8")
    (place / "linked").symlink_to(away)
    (place / "spring" / "sheets" / "stolen.pdf").symlink_to(away / "session.toml")
    return place


@pytest.fixture(scope="module")
def server(shelf: Path) -> Iterator[DeskServer]:
    with desk(shelf) as running:
        yield running


@pytest.fixture(scope="module")
def cookie(server: DeskServer) -> str:
    status, _, headers = ask(server, server.visitors.entry)
    assert status == 303
    told = headers["set-cookie"]
    assert "HttpOnly" in told
    assert "SameSite=strict" in told
    assert f"Path={server.visitors.root}" in told
    return told.partition(";")[0]


def own(server: DeskServer, rest: str) -> str:
    return f"{server.visitors.root}s/spring/{rest}"


def test_without_the_link_nothing_is_told(server: DeskServer, cookie: str):
    """F01, F09."""
    forged = f"{COOKIE}={cookie.partition('=')[2][:-1]}x"
    pour = server.visitors.server_path("spring")
    for path, sent in (
        (server.visitors.root, {}),
        (own(server, "bottles"), {"Cookie": forged}),
        (own(server, "bottles"), {"Cookie": f"{COOKIE}="}),
        (server.visitors.entry[:-1], {}),
        (f"{server.visitors.root}enter/x", {"Cookie": cookie}),
        (f"{server.visitors.root}enter/{pour.split('/')[2]}", {}),
        (f"/pour/{server.visitors.entry.rpartition('/')[2]}/", {}),
        (f"{pour}guess/", {}),
        (f"{pour}guess/pour_list.pdf", {}),
        ("/", {"Cookie": cookie}),
    ):
        assert ask(server, path, **sent)[:2] in ((404, ""), (404, "Not Found")), path
    assert ask(server, own(server, "plan"), b"again=1")[0] == 404


def test_foreign_hosts_origins_and_forms(server: DeskServer, cookie: str):
    """F02, F10."""
    path = own(server, "bottles")
    assert ask(server, path, Cookie=cookie, Host="evil.example")[0] == 400
    assert ask(server, path, b"", Cookie=cookie, Origin="http://evil.example")[0] == 403
    assert ask(server, path, b"", Cookie=cookie, Sec_Fetch_Site="same-site")[0] == 403
    assert ask(server, path, b"{}", Cookie=cookie, Content_Type="application/json")[0] == 415
    status, _, headers = ask(server, path, Cookie=cookie)
    assert status == 200
    assert headers["content-security-policy"].startswith("default-src 'none'")
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert (headers["cache-control"], headers["referrer-policy"]) == ("no-store", "no-referrer")


@pytest.mark.parametrize(
    "rest",
    [
        "../../etc/", "%2e%2e/", "%2e%2e%2f%2e%2e%2fetc/passwd", "%2fetc%2fpasswd", "spring%00/",
        "linked/bottles", "none/bottles", "spring/file/sheets/..%2fsession.toml",
        "spring/file/sheets/stolen.pdf", "spring/file/plan/server%2fkey.csv",
        "spring/file/plan/plan.json", "spring/file/..%2fplan%2fserver/key.csv",
        "spring/report/..%2fplan%2fserver%2fkey.csv", "spring/report/../bottles.csv",
    ],
)  # fmt: skip
def test_nothing_outside_is_reached(server: DeskServer, cookie: str, rest: str):
    """F03."""
    status, text, _ = ask(server, f"{server.visitors.root}s/{rest}", Cookie=cookie)
    assert status == 404
    assert "Zaubertrank" not in text


def upload(*names: str, content: bytes = b"x") -> bytes:
    parts = [
        f'--{BORDER}\r\nContent-Disposition: form-data; name="files"; filename="{name}"\r\n'
        "Content-Type: text/csv\r\n\r\n".encode()
        + content
        + b"\r\n"
        for name in names
    ]
    return b"".join(parts) + f"--{BORDER}--\r\n".encode()


def test_names_of_files_are_harmless(server: DeskServer, cookie: str, shelf: Path):
    """F04: under whatever name, it stays in the session's folder, and nothing is an option."""
    before = {path for path in shelf.rglob("*") if "returned" not in path.parts}
    kind = f"multipart/form-data; boundary={BORDER}"
    names = ["../../x.csv", "-rf.csv", "CON", "a" * 300 + ".csv", "b\u202ecsv.exe", ".hidden.csv"]
    status, _, headers = ask(
        server, own(server, "returns"), upload(*names), Cookie=cookie, Content_Type=kind
    )
    assert status == 303
    text = ask(server, headers["location"], Cookie=cookie)[1]
    assert "Taken in." in text
    added = {path for path in shelf.rglob("*") if "returned" not in path.parts} - before
    assert {path.name.partition(".")[0] for path in added} <= {"answers", "log"}
    assert not (shelf.parent / "x.csv").exists()


def test_too_much_at_once(server: DeskServer, cookie: str):
    """F05: by the length that is told, and without one by what comes."""
    kind = f"multipart/form-data; boundary={BORDER}"
    path = own(server, "returns")
    length = str(LARGEST + 1)
    assert (
        ask(server, path, b"x", Cookie=cookie, Content_Type=kind, Content_Length=length)[0] == 413
    )
    assert ask(server, own(server, "bottles"), b"x" * 2_000_001, Cookie=cookie)[0] == 413
    half = socket.create_connection(("127.0.0.1", int(server.host.rpartition(":")[2])))
    half.sendall(f"POST {path} HTTP/1.1\r\nHost: {server.host}\r\nCookie: {cookie}\r\n"
                 f"Content-Type: {kind}\r\nContent-Length: 100\r\n\r\n--".encode())  # fmt: skip
    assert ask(server, own(server, "bottles"), Cookie=cookie)[0] == 200, "others are served"
    half.close()


@pytest.mark.parametrize("name", ["", "..", "a/b", "a\\b", ".x", "x" * 61, "spring", "linked", " "])
def test_a_new_session_goes_nowhere_else(shelf: Path, name: str):
    """F07."""
    with pytest.raises(InputRefused):
        SessionShelf(shelf).free(name)


def test_the_desk_is_for_a_folder_of_sessions(shelf: Path):
    with pytest.raises(InputRefused, match="is a session itself"):
        SessionShelf(shelf / "spring")
    assert list(SessionShelf(shelf).places()) == ["spring"], "a link to elsewhere is none"


def test_no_page_of_the_brewers_pairs_code_and_bottle(server: DeskServer, cookie: str, shelf: Path):
    """F08: no page of before the opening that shows a bottle shows a code, and the other way."""
    place = shelf / "spring"
    codes = {line.split(",")[0] for line in (place / "plan/server/key.csv").read_text().split()[1:]}
    assert codes
    for step in ("settings", "bottles", "assessors", "plan", "sheets", "returns", "open"):
        text = ask(server, own(server, step), Cookie=cookie)[1].partition("<main")[2]
        told = text.partition("<script")[0]
        assert not any(f">{code}<" in told or f" {code} " in told for code in codes), step


def test_who_looks_at_the_pour_list_is_asked_and_a_taster_opens_the_key(
    server: DeskServer, shelf: Path
):
    """D09, D10: before the answer no bottle; a taster's look is an opening before it is shown."""
    place, path = shelf / "spring", server.visitors.server_path("spring")
    assert "Zaubertrank" not in ask(server, path)[1]
    assert ask(server, path, b"who=Z9")[0] == 400
    assert ask(server, path, b"")[0] == 400
    status, _, headers = ask(server, path, b"who=-")
    assert status == 303
    assert "Zaubertrank" in ask(server, path + headers["location"])[1]
    assert ask(server, f"{path}{headers['location']}pour_list.pdf")[0] == 200
    assert ask(server, f"{path}{headers['location']}{quote('key.csv')}")[0] == 404
    assert [one.act for one in read_log(place).entries][-1] == "pour_list"
    assert not read_log(place).of("open")
    status, _, headers = ask(server, path, b"who=T1")
    assert status == 303
    with Store(place, reading=True) as store:
        (opening,) = store.openings()
    assert opening.reason == "T1, who tastes, looked at the pour list at the desk"
    assert len(read_log(place).of("open")) == 1
    assert CliRunner().invoke(kikichoko, ["check", str(place)]).exit_code == 0


CHANGES = [
    ('# why\ntitle = "A" # on top\n', ("", "title"), 'B "c" \\',
     '# why\ntitle = "B \\"c\\" \\\\"\n'),
    ("a = 1\n[serving]\npour_ml = 2\n", ("serving", "pour_ml"), "3.5",
     "a = 1\n[serving]\npour_ml = 3.5\n"),
    ("pour_ml = 1\n[serving]\n# x\n\n[panel]\n", ("serving", "pour_ml"), "3",
     "pour_ml = 1\n[serving]\n# x\npour_ml = 3\n\n[panel]\n"),
    ("a = 1\n", ("panel", "maker_in_means"), "true", "a = 1\n\n[panel]\nmaker_in_means = true\n"),
    ("[serving]\npour_ml = 2\n", ("serving", "pour_ml"), "much",
     '[serving]\npour_ml = "much"\n'),
    ("[serving]\npour_ml = 2  # as ever\n", ("serving", "pour_ml"), "2",
     "[serving]\npour_ml = 2  # as ever\n"),
]  # fmt: skip
"""Text, setting, what is typed, text after it."""


@pytest.mark.parametrize(("text", "place", "typed", "made"), CHANGES)
def test_settings_change_and_explanations_stay(
    text: str, place: tuple[str, str], typed: str, made: str
):
    assert with_settings(text, {place: typed}) == made


def test_a_line_that_is_not_found_for_sure_changes_nothing():
    text = 'x = """\ntitle = 1\n"""\n'
    with pytest.raises(ValueError, match=r"session\.toml"):
        with_settings(text, {("", "title"): "B"})


PARTS = "part1.volume=100&part1.abv=16&part2.volume=50"
ASKED = {
    "bottle": ("abv=16&meter_value=3&acidity=1.5", "--abv=16 --meter-value=3 --acidity=1.5"),
    "dilution": ("abv=18&meter_value=0&dilute_to=15", "--abv=18 --meter-value=0 --dilute-to=15"),
    "blend": (f"{PARTS}&to.meter_value=1&water=5",
              "--blend --part=volume=100,abv=16 --part=volume=50 --to=meter_value=1 --water=5"),
    "label": ("claim=junmai, ginjo&polishing_ratio=60&inspected_rice=yes",
              "--label --claim=junmai --claim=ginjo --polishing-ratio=60 --inspected-rice=yes"),
    "size": ("what=triangle&pd=0.3&similarity=true", "triangle --pd=0.3 --similarity"),
}  # fmt: skip
"""What is typed into each form of the cellar, and what of it is said to the command."""


@pytest.mark.parametrize("form", ASKED)
def test_a_form_of_the_cellar_asks_its_command(form: str):
    typed, words = ASKED[form]
    assert cellar_words(form, dict(parse_qsl(typed)))[1:] == words.split()


def test_the_cellar_says_what_the_command_says(server: DeskServer, cookie: str):
    """D23: the answer, and the refusal."""
    typed, words = ASKED["dilution"]
    path = f"{server.visitors.root}cellar?form=dilution&"
    wanted = CliRunner().invoke(kikichoko, ["chemistry", *words.split()])
    status, text, _ = ask(server, path + typed, Cookie=cookie)
    assert (status, wanted.exit_code) == (200, 0)
    assert wanted.stdout.strip() in unescape(text)
    text = ask(server, f"{path}abv=much", Cookie=cookie)[1]
    assert "Not done" in text
    assert "'much' is not a valid float" in unescape(text)


def test_without_a_mark_there_is_nothing_to_review(server: DeskServer, cookie: str):
    status, _, headers = ask(server, own(server, "review"), b"", Cookie=cookie)
    assert status == 303
    assert "There is nothing to look at." in ask(server, headers["location"], Cookie=cookie)[1]
