"""Time in the mouth wished for at the desk, by fields; what a person wrote into the file stays.

From the user's side: one box in the form of a new session, fields in its settings, words of
one's own beside those that are offered, and nothing lost when the box is taken back.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from desk_visitor import SELECT, ask, come_in, desk, sent
from kikichoko.panel.plan.plan_file import load_table
from kikichoko.panel.session.setting_lines import Given, Place, with_settings

ON, OFF = {("timed", ""): "true"}, {("timed", ""): "false"}
OWN = '[timed]\nwords = ["umami", { key = "koji", label = { en = "koji", ja = "麹" } }]\n'
CHANGES: list[tuple[str, dict[Place, Given], str]] = [
    ("a = 1\n", ON, "a = 1\n\n[timed]\n"),
    ("a = 1\n", OFF, "a = 1\n"),
    (
        "[timed]\n# short\nseconds = 20\n\n[panel]\n",
        OFF,
        "# [timed]\n# short\n# seconds = 20\n\n[panel]\n",
    ),
    (
        "a = 1\n",
        ON | {("timed", "words"): ("umami", "body"), ("timed", "intensity"): ""},
        'a = 1\n\n[timed]\nwords = ["umami", "body"]\nintensity = ""\n',
    ),
    (OWN, ON | {("timed", "words"): ("umami", "koji")}, OWN),
    (OWN, ON | {("timed", "words"): ("koji", "body")},
     '[timed]\nwords = [{ key = "koji", label = { en = "koji", ja = "麹" } }, "body"]\n'),
    (OWN, ON | {("timed", "words"): ()}, "[timed]\nwords = []\n"),
    ("a = 1\n", {("serving", "rest_minutes"): "", ("serving", "alone"): "false"}, "a = 1\n"),
]  # fmt: skip
"""Text, what was given, text after it; the last: what was never said is not said by saving."""


@pytest.mark.parametrize(("text", "given", "made"), CHANGES)
def test_a_section_comes_and_goes(text: str, given: dict[Place, Given], made: str):
    assert with_settings(text, given) == made
    assert with_settings(made, given) == made, "saved again, nothing changes"


def test_a_list_over_several_lines_is_left_to_the_text():
    text = '[timed]\nwords = [\n  "umami",\n  "body",\n]\n'
    assert with_settings(text, ON | {("timed", "words"): ("umami", "body")}) == text
    with pytest.raises(ValueError, match="session"):
        with_settings(text, ON | {("timed", "words"): ("umami",)})
    gone = with_settings(text, OFF)
    assert tomllib.loads(gone) == {}
    assert '#   "umami",' in gone


def test_from_a_new_session_to_the_plan(tmp_path: Path):
    place = tmp_path / "spring"

    def fields(page: str) -> dict[str, str]:
        """Return what a browser would send of a page's fields."""
        found = {}
        for tag in re.findall(r"<input[^>]*>", page):
            if "checkbox" not in tag or " checked" in tag:
                name, value = (re.search(rf' {key}="([^"]*)"', tag) for key in ("name", "value"))
                found[name[1]] = value[1]
        for name, inside in SELECT.findall(page):
            chosen = re.search(r'value="([^"]*)" selected', inside)
            found[name] = chosen[1] if chosen else ""
        return found

    with desk(tmp_path) as server:
        cookie = come_in(server)

        def settings() -> str:
            page = ask(server, f"{server.visitors.root}s/spring/settings", Cookie=cookie)[1]
            return page.partition("<details")[0].partition("<form")[2]

        first = {"folder": "spring", "title": "T", "date": "2026-04-01", "question": "Why?",
                 "serving.replicates": "1", "questions.card": "brewery"}  # fmt: skip
        assert sent(server, cookie, "new", **first, timed="true").count("The session is made")
        assert tomllib.loads((place / "session.toml").read_text("utf-8"))["timed"] == {}
        given = fields(settings())
        assert given["timed"] == "true"
        ticked = {name.partition(":")[2] for name in given if name.startswith("timed.words:")}
        assert ticked == {"sweetness", "acidity", "umami", "bitterness", "alcohol_warmth"}
        assert (given["timed.intensity"], given["timed.seconds"]) == ("sweetness", "60")

        own = '\nwords = ["sweetness", "umami", { key = "koji", label = { en = "Koji" } }]\n'
        with (place / "session.toml").open("a", encoding="utf-8") as file:
            file.write(own)
        page = settings()
        assert ">Koji</label>" in page
        given = fields(page) | {"timed.words:body": "true", "timed.seconds": "181", "how": "fields"}
        text = sent(server, cookie, "s/spring/settings", **given)
        assert "1 fault" in text
        assert "at most 180" in text
        given = fields(settings()) | {"timed.seconds": "30", "how": "fields"}
        sent(server, cookie, "s/spring/settings", **given)
        before = (place / "session.toml").read_bytes()
        off = {name: value for name, value in fields(settings()).items() if name != "timed"}
        text = sent(server, cookie, "s/spring/settings", **off, how="fields")
        assert "nothing was kept" not in text, "only taken back"
        assert "# [timed]" in (place / "session.toml").read_text("utf-8")
        off = fields(settings()) | {"timed.seconds": "20", "how": "fields"}
        assert "nothing was kept: its box" in sent(server, cookie, "s/spring/settings", **off)
        (place / "session.toml").write_bytes(before)
        rows = "bottle,tank,available\nA,1,9\nB,2,9\n"
        (place / "bottles.csv").write_text(rows, "utf-8")
        assert "Planned" in sent(server, cookie, "s/spring/plan")
    (part,) = {sheet.timed.content for sheet in load_table(place).own_sheets.values()}
    assert part == ("timed", "30", "body", "koji", "sweetness", "umami", "sweetness")
