"""All that the commands do can be done at the desk: cases E01 to E16 and R01 to R03 of
tests/outside/desk, without a browser."""

from __future__ import annotations

import re
import shlex
import shutil
import zipfile
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from desk_visitor import ask, come_in, desk, filled, multipart, sent
from kikichoko.panel.base.session_log import read_log
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.commands._forms import described
from kikichoko.panel.desk.command_forms import (
    ELSEWHERE,
    LEFT_OUT,
    NO_FORM,
    CommandForm,
    command_words,
    forms_of,
)
from kikichoko.panel.desk.desk_server import DeskServer
from kikichoko.panel.desk.page_names import PAGE_OF, by_pages
from kikichoko.panel.desk.page_writer import STEPS
from kikichoko.panel.returns.guarded_pages import LinesOfRefusal
from kikichoko.panel.returns.store import Store

DOCS = Path(__file__).parents[3] / "docs/desk.md"
FORMS = {form.path: form for form in forms_of(described("en"))}
NAMES = sorted(kikichoko.list_commands(click.Context(kikichoko)))
SCORES = "who;bottle;sweet\n" + "".join(
    f"P{who};{bottle};{5 + 2 * (bottle == 'B') + (who * 7 + place) % 3},5\n"
    for who in range(1, 7)
    for place, bottle in enumerate("ABC")
)


@pytest.fixture(scope="module")
def shelf(folder_once: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("shelf")
    for name in ("spring", "autumn"):
        folder_once(replicates=1, short=True).rename(place / name)
    for word in ("plan", "sheets"):
        assert CliRunner().invoke(kikichoko, [word, str(place / "spring")]).exit_code == 0
    return place


@pytest.fixture(scope="module")
def server(shelf: Path) -> Iterator[DeskServer]:
    with desk(shelf) as running:
        yield running


@pytest.fixture(scope="module")
def cookie(server: DeskServer) -> str:
    return come_in(server)


@pytest.fixture
def do(server: DeskServer, cookie: str) -> Callable[..., str]:
    """Send a form of a command and return the text of the page that follows, or the status."""
    return partial(sent, server, cookie)


@pytest.mark.parametrize("name", NAMES)
def test_every_command_has_a_place_or_a_reason(name: str):
    """E01: and the document lists it."""
    assert any(form.words[0] == name for form in FORMS.values())
    assert ELSEWHERE.get(name, "new") in {*STEPS, "new", "cellar"}
    assert PAGE_OF.get(name) in {ELSEWHERE.get(name), None}
    if name in NO_FORM:
        assert name == "desk" or name in ELSEWHERE, "what has no form has a page of its own"


def test_the_document_lists_every_command_once():
    text = DOCS.read_text("utf-8").partition("## All commands")[2].partition("\n## ")[0]
    table = re.findall(r"^\| .*", text, re.MULTILINE)
    assert sorted(name for row in table for name in re.findall(r"`(\w+)`", row)) == NAMES


def test_no_reason_is_left_over():
    given = {(one["words"][0], field["name"]) for one in described("en") for field in one["fields"]}
    assert LEFT_OUT.keys() <= given
    assert {*NO_FORM, *ELSEWHERE} <= {*NAMES}


def parsed(form: CommandForm, words: list[str]) -> Mapping[str, object]:
    """Return what click makes of the words of a command."""
    # With the settings of the program: a command keeps the names of its help option once asked.
    top = click.Context(kikichoko, **kikichoko.context_settings)
    command = kikichoko.get_command(top, form.words[0])
    context = command.make_context(form.words[0], words[1:], top)
    if len(form.words) == 1:
        return context.params
    name, inner, rest = command.resolve_command(context, [*context._protected_args, *context.args])
    return {**context.params, **inner.make_context(name, rest, context).params}


@pytest.mark.parametrize("path", sorted(FORMS))
def test_each_field_is_said_to_its_command(path: str, tmp_path: Path):
    """E02, E16: everything a command can be told, parsed by it as it was meant."""
    form = FORMS[path]
    (tmp_path / "x.zip").write_bytes(b"")
    typed = {"text": "--x, -y", "number": "0.5", "yes or no": "yes", "flag": "yes"}
    texts = {"right": "3/9", "chosen": "3/9", "hits": "3/9", "false_alarms": "3/9", "like": "3/9",
             "unlike": "3/9", "before": "2026-01-31", "start": "2026-01-31",
             "today": "2026-01-31", "settle": "3-9"}  # fmt: skip
    given: dict[str, list[str]] = {}
    paths: dict[str, list[Path]] = {}
    for one in form.fields:
        if one.role == "choice":
            given[one.name] = [one.choices[-1]]
        elif one.role in typed:
            given[one.name] = [texts.get(one.name, " ".join([typed[one.role]] * one.values))]
        else:
            folder = one.role in ("made folder", "kept folder", "folder", "folders")
            paths[one.name] = [tmp_path if folder else tmp_path / "x.zip"]
    for name in ("ties", "bottles", "assessors", "samples", "replicates", "flight", "number",
                 "place", "cups", "seed", "shuffles", "draws", "port", "first",
                 "most", "at_most", "dimensions", "nodes"):  # fmt: skip
        if name in given:
            given[name] = ["3"]
    if form.words == ("batches",):  # its book is a folder, which need not be a session
        paths["folder"] = [tmp_path]
    found = parsed(form, command_words(form, given, paths))
    for one in form.fields:
        if one.name not in found:
            assert one.name == "full", "parsed, and kept by what shows the result"
            continue
        value = found[one.name]
        if one.name in paths:
            assert (value[0] if one.many else value) == paths[one.name][0], one.name
        elif one.role in {"flag", "yes or no"}:
            assert value is True
        elif one.role == "text" and one.name not in texts:
            assert (" ".join(value) if one.many else value).replace(",", "") == "--x -y", one.name
        else:
            assert value not in (None, ()), one.name
    assert command_words(form, {}, {}) == list(form.words), "what is blank is not said"


def test_every_page_is_there_in_both_languages(server: DeskServer, cookie: str):
    """E01, E02: all forms of both languages."""
    for path, form in FORMS.items():
        for language in ("en", "ja"):
            address = f"{server.visitors.root}do/{path}?language={language}"
            status, text, _ = ask(server, address, Cookie=cookie)
            assert status == (404 if form.words[0] in NO_FORM else 200), path
            assert form.words[0] in NO_FORM or f"<h1>{' '.join(form.words)}</h1>" in text
    for own in ("", "s/spring/"):
        text = ask(server, f"{server.visitors.root}{own}commands", Cookie=cookie)[1]
        assert f'href="{server.visitors.root}{own}do/forget"' in text
    assert ask(server, f"{server.visitors.root}s/spring/do/anova", Cookie=cookie)[0] == 404


def test_an_own_table(do: Callable[..., str], server: DeskServer, cookie: str, tmp_path: Path):
    """E03 to E05: what the terminal says, the figure, and the table stays at hand."""
    own = tmp_path / "own.csv"
    own.write_text(SCORES, "utf-8")
    named = {"assessor": "who", "sample": "bottle", "scores": "sweet"}
    words = [f"--{name}={column}" for name, column in named.items()]
    wanted = CliRunner().invoke(kikichoko, ["anova", *words, "--level=0.9", "--", str(own)])
    assert wanted.exit_code == 0
    text = do("do/anova", ("path", "own.csv", SCORES.encode()), figure="svg", level="0.9", **named)
    assert wanted.stdout.strip() in text
    links = re.findall(r'href="([^"]+)" download>([^<]+)<', text)
    assert [name for _, name in links] == ["anova.txt", "figure.svg"]
    assert ask(server, links[0][0], Cookie=cookie)[1].strip() == wanted.stdout.strip()
    assert "<svg" in ask(server, links[1][0], Cookie=cookie)[1]
    assert 'value="who"' in text
    (kept,) = re.findall(r'<option value="(\d+: own\.csv)" selected', text)
    again = do("do/rank", path=kept, **(named | {"scores": "bitter"}))
    assert "Not done" in again
    assert "bitter" in again, "in the command's words"
    assert f'value="{kept}" selected' in again
    assert "Missing argument" in do("do/rank")
    assert "not a valid float" in do("do/anova", path=kept, level="much")


@pytest.mark.parametrize(
    ("at", "given"),
    [
        ("do/anova", {"path": "/etc/passwd"}),
        ("do/anova", {"path": "spring/../../x.csv"}),
        ("do/anova", {"path": "spring/plan/server/key.csv"}),
        ("do/anova", {"path": "spring/assessors.csv"}),
        ("do/anova", {"path": "spring/bottles.csv", "figure": "../../x.svg"}),
        ("do/check", {"folder": ".."}),
        ("do/history", {"folders": "/etc"}),
    ],
)
def test_only_what_is_offered_can_be_named(do: Callable[..., str], at: str, given: dict[str, str]):
    """E15."""
    assert do(at, **given) == "400"


def test_what_a_command_made_is_all_that_is_handed_out(server: DeskServer, cookie: str):
    for rest in ("made/1/../../x", "made/1/..%2f..%2fx", "made/9999/anova.txt", "made/x/y"):
        assert ask(server, server.visitors.root + rest, Cookie=cookie)[0] == 404


def test_late_changes_measurements_and_forgetting(do: Callable[..., str], shelf: Path):
    """E07 to E09, E16, R02."""
    place, own = shelf / "spring", "s/spring/do/"
    assert "Note that" not in do(f"{own}change/left", assessor="T9", place="2")
    text = do(f"{own}change/left", assessor="T1", place="2")
    assert "Done" in text
    do(f"{own}change/left", assessor="T1", place="2")
    assert len(read_log(place).of("change")) == 1, "noted once"
    assert "T1" in do(f"{own}change").partition('id="answer"')[2]
    do(f"{own}change/undo", number="1")
    assert len(read_log(place).of("change")) == 2
    bottles = place / "bottles.csv"
    before = bottles.read_text("utf-8")
    assert "Done" in do(f"{own}measured")
    assert bottles.read_text("utf-8") == before
    text = do(f"{own}forget", assessor="T1")
    assert "Nothing is done yet" in text
    assert not read_log(place).of("forget")
    text = do(f"{own}forget", assessor="--yes")
    assert "Not done" in text
    assert not read_log(place).of("forget")


def test_an_assessor_at_home_and_a_second_place(
    do: Callable[..., str], server: DeskServer, cookie: str, shelf: Path, tmp_path: Path
):
    """E10, E11: by forms alone; what comes back from home and from there is in the same store."""
    place = shelf / "autumn"
    assert "Done" in do("s/autumn/do/plan")
    assert "Done" in do("s/autumn/do/sheets")
    home = unpacked(server, do("s/autumn/do/pack", assessor="T1"), tmp_path / "home")
    assert sorted(path.name for path in home.rglob("*.*")) == ["READ_ME.txt", "T1.pdf", "T1.xlsx"]
    away = unpacked(server, do("s/autumn/do/pack", co_leader="yes"), tmp_path / "away")
    assert not any("key" in path.name for path in away.rglob("*"))
    (back,) = filled(place, tmp_path / "post", sheets=next(home.rglob("T1.xlsx")).parent)
    content, kind = multipart(("files", back.name, back.read_bytes()))
    path = f"{server.visitors.root}s/autumn/returns"
    assert ask(server, path, content, Cookie=cookie, Content_Type=kind)[0] == 303
    there = next(away.rglob("session.toml")).parent
    (tmp_path / "only").mkdir()
    shutil.copy(there / "sheets/T2.xlsx", tmp_path / "only")
    (own,) = filled(there, tmp_path / "there", sheets=tmp_path / "only")
    run = CliRunner()
    assert run.invoke(kikichoko, ["read", str(there), str(own)]).exit_code in (0, 3)
    pack = tmp_path / "back.zip"
    packed = run.invoke(kikichoko, ["pack", str(there), "--co-leader", f"--to={pack}"])
    assert packed.exit_code == 0, packed.output
    assert "Not done" in do("s/autumn/do/merge", ("pack", "back.zip", b"no zip"))
    assert "Done" in do("s/autumn/do/merge", ("pack", "back.zip", pack.read_bytes()))
    with Store(place, reading=True) as store:
        assert {one.answer.assessor for one in store.answers()} == {"T1", "T2"}
    assert "Done" in do("s/autumn/do/check")


def unpacked(server: DeskServer, text: str, target: Path) -> Path:
    """Unpack the file that a page offers."""
    (link,) = re.findall(r'href="[^"]+/made/(\d+/[^"]+\.zip)" download', text)
    made = Path(server._commands.drawer._folder.name) / link.replace("/", "/made/", 1)
    with zipfile.ZipFile(made) as pack:
        pack.extractall(target)
    return target


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("Do: kikichoko plan {sh}", "Do: Plan"),
        ("See (kikichoko status {sh}). Go on.", "See (Returns). Go on."),
        ("Then: kikichoko read {sh} FILES", "Then: Returns"),
        ("Next:\n  kikichoko sheets {sh}\n  kikichoko report {sh}",
         "Next:\n  Sheets\n  Key and report"),
        ("See kikichoko check {sh}; stop.", "See More: check; stop."),
        ("kikichoko forget {sh} T1 --yes", "kikichoko forget {sh} T1 --yes"),
        ("kikichoko plan {sh}.old", "kikichoko plan {sh}.old"),
        ("kikichoko plan {sh}2", "kikichoko plan {sh}2"),
        ("kikichoko plan elsewhere", "kikichoko plan elsewhere"),
    ],
)  # fmt: skip
def test_pages_are_named_in_place_of_what_is_typed(said: str, shown: str, tmp_path: Path):
    for place in (tmp_path / "spring", tmp_path / "tank 3's tasting"):
        path = shlex.quote(str(place))
        assert by_pages(said.format(sh=path), place, "en") == shown.format(sh=path)
    assert by_pages(f"次： kikichoko read {tmp_path} ファイル名。", tmp_path, "ja") == "次： 回収。"


def test_the_key_needs_a_yes(do: Callable[..., str], shelf: Path):
    """E14."""
    place = shelf / "spring"
    assert "Nothing was opened" in do("s/spring/do/key", reason="to see")
    assert not read_log(place).of("open")
    assert "code,bottle,replicate" in do("s/spring/do/key", reason="to see", _yes="1")
    (opening,) = read_log(place).of("open")
    with Store(place, reading=True) as store:
        assert [one.reason for one in store.openings()] == ["to see"]
    assert opening.act == "open"


def test_refusals_are_told_without_secrets(
    server: DeskServer, cookie: str, capsys: pytest.CaptureFixture[str], do: Callable[..., str]
):
    """R01 to R03: a line each, no secret, nothing of what was sent, and not without end."""
    root = server.visitors.root
    server.lines = LinesOfRefusal()
    capsys.readouterr()
    forged = f"{root}enter/{server.visitors.entry.rpartition('/')[2][:-1]}x"
    ask(server, forged)
    ask(server, f"{root}s/spring/plan", Cookie="kikichoko-desk=forged")
    ask(server, f"{root}s/spring/plan", Cookie=cookie, Host="evil.example")
    ask(server, f"{root}s/spring/plan", b"SENT", Cookie=cookie, Origin="http://evil.example")
    ask(server, f"{root}s/spring/plan", b"x", Cookie=cookie, Content_Length="3000000")
    ask(server, f"/%0a%1b[31m{'long' * 90}", Cookie=cookie)
    do("s/spring/plan")
    told = capsys.readouterr().err.splitlines()
    statuses = [found[1] for line in told if (found := re.search(r"Refused with (\d+)", line))]
    assert statuses == ["404", "404", "400", "403", "413", "404"]
    assert "planned already" in told[-1], "a plan that was sent again"
    assert max(map(len, told)) < 160
    text = "\n".join(told)
    for secret in (root.strip("/"), server.visitors.entry.rpartition("/")[2][:-1], "SENT",
                   cookie.partition("=")[2], "\x1b"):  # fmt: skip
        assert secret not in text
    for _ in range(50):
        ask(server, "/x")
    assert len(capsys.readouterr().err.splitlines()) < 30
    assert ask(server, f"{root}commands", Cookie=cookie)[0] == 200
