"""Every example, link and picture of the documents is tried, in a folder of its own."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from doctest import ELLIPSIS, NORMALIZE_WHITESPACE, OutputChecker
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from house_plan import ROOT
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.commands.demo import SCENARIOS

DOCS = ROOT / "docs"
PAGES = [ROOT / "README.md", DOCS / "tutorial.md"]
PAGES += [page for page in sorted(DOCS.rglob("*.md")) if page not in PAGES]
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")
MADE = {DOCS / "commands.md"}


def commands(page: Path) -> Iterator[tuple[str, str | None]]:
    """Yield the commands of a page, each with the output that the page shows below it."""
    blocks = list(FENCE.finditer(page.read_text("utf-8")))
    for block, after in zip(blocks, [*blocks[1:], None], strict=False):
        if block[1] != "sh":
            continue
        lines = [line.partition("  #")[0].strip() for line in block[2].splitlines() if line.strip()]
        shown = None
        if after is not None and after[1] == "text":
            between = page.read_text("utf-8")[block.end() : after.start()]
            shown = after[2] if not between.strip() else None
        yield from [(line, None) for line in lines[:-1]] + [(lines[-1], shown)]


@pytest.fixture(scope="module")
def tried(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Run each command of all pages once, in their order, in one folder; return what each says."""
    said: dict[str, str] = {}
    runner = CliRunner()
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(tmp_path_factory.mktemp("reader"))
        for page in PAGES:
            for line, _ in commands(page):
                words = shlex.split(line)
                if line in said or words[1] == "demo" or "kikichoko-demo" in line:
                    continue
                run = runner.invoke(kikichoko, words[1:])
                said[line] = run.output
                assert run.exit_code == 0, f"{page.name}: {line}\n{run.output}"
    return said


def test_every_command_does_what_the_page_shows(tried: dict[str, str]):
    how = ELLIPSIS | NORMALIZE_WHITESPACE
    shown = [(page, *one) for page in PAGES for one in commands(page) if one[1] is not None]
    assert len(shown) >= 8
    for page, line, text in shown:
        wanted = text.replace("…", "...")
        assert OutputChecker().check_output(wanted, tried[line], how), (
            f"{page.name}: {line}\n{tried[line]}"
        )


def test_the_commands_on_demonstrations_can_be_said():
    """Demonstrations run in tests/panel/demos; here it is read whether the words are right."""
    found = 0
    top = click.Context(kikichoko, info_name="kikichoko", **kikichoko.context_settings)
    for page in PAGES:
        for line, _ in commands(page):
            words = shlex.split(line)
            if words[1] == "demo":
                assert set(words[2:3]) <= set(SCENARIOS), line
            elif "kikichoko-demo" in line:
                kikichoko.get_command(top, words[1]).make_context(words[1], words[2:], parent=top)
                found += 1
    assert found > 2


def test_no_command_stands_where_it_is_not_tried():
    for page in set(PAGES) - MADE:
        outside = FENCE.sub(
            lambda block: "" if block[1] == "sh" else block[0], page.read_text("utf-8")
        )
        assert not re.findall(r"^ *kikichoko \w+ .*$", outside, re.MULTILINE), page


def anchors(page: Path) -> set[str]:
    """Return the names that the headings of a page can be linked by."""
    heads = re.findall(r"^#+ (.*)$", page.read_text("utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.casefold()).replace(" ", "-") for head in heads}


def dead_links(page: Path) -> list[str]:
    """Name the links of a page that lead nowhere; those into the net are not followed."""
    dead = []
    for target in LINK.findall(FENCE.sub("", page.read_text("utf-8"))):
        path, _, place = target.partition("#")
        if re.match(r"https?:|mailto:", target):
            continue
        there = (page.parent / path) if path else page
        if not there.exists() or (place and place not in anchors(there)):
            dead.append(target)
    return dead


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(ROOT).as_posix())
def test_every_link_and_picture_is_there(page: Path):
    assert dead_links(page) == []


def test_a_dead_link_is_found(tmp_path: Path):
    page = tmp_path / "page.md"
    page.write_text("# A b\n[x](gone.md) ![y](no.svg) [z](#a-b) [w](#c)\n", "utf-8")
    assert dead_links(page) == ["gone.md", "no.svg", "#c"]


def test_every_page_and_picture_is_reached_from_the_first_page():
    listed = set(LINK.findall((DOCS / "README.md").read_text("utf-8")))
    pages = {page.relative_to(DOCS).as_posix() for page in DOCS.rglob("*.md")} - {"README.md"}
    assert pages <= listed
    used = {Path(link).name for page in PAGES for link in LINK.findall(page.read_text("utf-8"))}
    assert {path.name for path in (DOCS / "pictures").iterdir()} <= used


METHODS = (
    *("anova", "agreement", "assessors", "words", "ordinal", "small_panels", "maps", "claims"),
    *("difference", "link", "chemistry", "course", "teaching", "selection", "bottle_faults"),
    *("shares", "people_and_names", "over_time", "serving", "batches"),
)
PLACE_IN_SOURCE = re.compile(r"\d+:\d+–\d+|ISO \d+|(?:section|chapter)s? \d|table \d| no\. \d")


def row_of(page: str, word: str) -> str:
    found = re.search(rf"^\| \*\*{word}\*\* \| (.+) \|$", page, re.MULTILINE)
    return found[1] if found else ""


@pytest.mark.parametrize("name", METHODS)
def test_a_page_of_a_method_says_when_how_and_from_where(name: str):
    page = (DOCS / f"{name}.md").read_text("utf-8")
    for word in ("When", "When not", "Assumes", "How to read", "Sources", "Functions"):
        assert len(row_of(page, word)) > 12, word
    formulas = re.findall(r"```text\n(.*?)```|^    (P\(.*)$", page, re.DOTALL | re.MULTILINE)
    assert any(re.search("[=≤±]", block + line) for block, line in formulas)
    sources = row_of(page, "Sources")
    assert re.search(r"\(1[89]\d\d\)|\(20\d\d\)|ISO \d+", sources)
    assert PLACE_IN_SOURCE.search(sources)


def test_every_function_has_a_page_of_its_method():
    explained = [
        function
        for name in METHODS
        for function in re.findall(
            r"`(\w+\.\w+)`", row_of((DOCS / f"{name}.md").read_text("utf-8"), "Functions")
        )
    ]
    public = {
        f"{stub.parent.name}.{function}"
        for stub in (ROOT / "analysis").glob("*/__init__.pyi")
        for function in re.findall(r"import ([a-z]\w*) as \1", stub.read_text("utf-8"))
        if stub.parent.name != "core"
    }
    assert sorted(explained) == sorted(public)


def test_the_site_is_built_without_a_warning(tmp_path: Path):
    site = [
        sys.executable,
        "-m",
        "sphinx",
        "-q",
        "-W",
        "--keep-going",
        "-d",
        str(tmp_path / "kept"),
    ]
    made = subprocess.run(
        [*site, str(DOCS), str(tmp_path / "site")], capture_output=True, text=True, check=False
    )
    assert (made.returncode, made.stderr) == (0, "")
    front = (tmp_path / "site" / "index.html").read_text("utf-8")
    assert "From bottles to decision" in front
    page = (tmp_path / "site" / "anova.html").read_text("utf-8")
    assert "anova.svg" in page
    assert not re.findall(r'(?:src|href)="https?://[^"]+\.(?:js|css)', page), "needs no network"
