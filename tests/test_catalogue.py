"""The one catalogue engine of the house: keys, languages, plural forms, lists."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import kikichoko
import pytest
from kikichoko import catalogue
from kikichoko.catalogue import Catalogue, Sentence, plural_form

POLISH = {
    # GNU gettext manual, section "Additional functions for plural forms", as for Polish.
    "plural": "n==1 ? 0 : n%10>=2 && n%10<=4 && (n%100<10 || n%100>=20) ? 1 : 2",
    "forms": ["one", "few", "many"],
    "between": ", ",
    "between_lists": "; ",
}
ENTRIES = {
    "en": {
        "bottles": {"one": "{n} bottle of {names}", "other": "{n} bottles of {names}"},
        "poured": "{cups} {cups:cup|cups} in {minutes} {minutes:minute|minutes}",
    },
    "pl": {
        "bottles": {"one": "{n} butelka", "few": "{n} butelki", "many": "{n} butelek"},
        "poured": "{cups} {cups:butelka|butelki|butelek}",
    },
    "ja": {"bottles": {"=1": "{names}の瓶一本だけ", "other": "{names}の瓶{n}本"}},
}


@pytest.fixture
def house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Catalogue:
    """Make a room with words in three languages, one of them with three plural forms."""
    for language, entries in ENTRIES.items():
        folder = tmp_path / "a_room" / "words" / language
        folder.mkdir(parents=True)
        lines = [f"{name} = {_toml(entry)}" for name, entry in entries.items()]
        (folder / "cellar.toml").write_text("\n".join(lines), "utf-8")
    (tmp_path / "a_room" / "__init__.py").write_text("", "utf-8")
    (tmp_path / "a_room" / "words" / "en" / "more.toml").write_text('only = "here"', "utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    known = catalogue._grammar
    monkeypatch.setattr(
        catalogue, "_grammar", lambda language: POLISH if language == "pl" else known(language)
    )
    yield Catalogue("a_room")
    sys.modules.pop("a_room", None)
    catalogue._topic.cache_clear()
    catalogue._plural_rule.cache_clear()


def _toml(entry: str | dict[str, str]) -> str:
    if isinstance(entry, str):
        return json.dumps(entry, ensure_ascii=False)
    forms = ", ".join(f'"{form}" = {json.dumps(text)}' for form, text in entry.items())
    return f"{{ {forms} }}"


@pytest.mark.parametrize(
    ("n", "form"),
    # The classes that the gettext manual names for Polish: 1; 2-4, 22-24; the rest.
    [(1, "one"), (2, "few"), (4, "few"), (5, "many"), (12, "many"), (21, "many"), (22, "few")],
)
@pytest.mark.usefixtures("house")
def test_plural_forms_against_the_gettext_manual(n: int, form: str):
    assert plural_form(n, "pl") == form


@pytest.mark.parametrize(
    ("n", "form"),
    [
        (1, "one"),
        (1.0, "one"),
        (-1, "one"),
        (0, "other"),
        (2, "other"),
        (1.5, "other"),
        (float("nan"), "other"),
        (float("inf"), "other"),
        ("1", "one"),
        ("1.0", "other"),
        ("11", "other"),
        (None, "other"),
    ],
)
def test_what_is_no_whole_number_takes_the_other_form(n: object, form: str):
    assert plural_form(n, "en") == form
    assert plural_form(n, "ja") == "other"


def test_each_language_counts_and_lists_in_its_own_way(house: Catalogue):
    names = ["A", "B"]
    said = house.sentence("cellar.bottles", n=1, names=names)
    assert said.to("en") == "1 bottle of A, B"
    assert said.to("ja") == "A、Bの瓶一本だけ"
    assert said.to("pl") == "1 butelka"
    assert house.say("cellar.bottles", "pl", n=3, names=names) == "3 butelki"
    assert house.say("cellar.bottles", "en", n=3, names=names) == "3 bottles of A, B"


def test_a_language_without_the_entry_falls_back_to_english_and_its_lists(house: Catalogue):
    assert house.say("cellar.bottles", "fr", n=1, names=["A", "B"]) == "1 bottle of A, B"
    assert house.say("more.only", "ja") == "here"
    with pytest.raises(KeyError, match=r"no entry 'cellar\.none' in the catalogue of a_room"):
        house.say("cellar.none")


@pytest.mark.parametrize(
    ("cups", "minutes", "said"),
    [(1, 1, "1 cup in 1 minute"), (2, "1", "2 cups in 1 minute"), (1, 1.5, "1 cup in 1.5 minutes")],
)
def test_words_follow_their_own_number(cups: int, minutes: object, said: str, house: Catalogue):
    assert house.say("cellar.poured", cups=cups, minutes=minutes) == said


def test_words_of_a_language_with_three_forms(house: Catalogue):
    said = [house.say("cellar.poured", "pl", cups=n, minutes=0) for n in (1, 3, 5)]
    assert said == ["1 butelka", "3 butelki", "5 butelek"]


def test_what_a_room_tells_of_its_words(house: Catalogue):
    assert house.has("cellar.bottles")
    assert not house.has("cellar.none")
    assert house.languages("cellar") == ("en", "ja", "pl")
    assert house.languages("more") == ("en",)
    assert house.topic("ja", "more") == {}


def test_a_sentence_in_a_sentence_is_written_in_the_readers_language(house: Catalogue):
    inner = house.sentence("cellar.bottles", n=1, names=["A"])
    outer = house.sentence("cellar.bottles", n=2, names=[inner, "B"])
    assert outer.to("ja") == "Aの瓶一本だけ、Bの瓶2本"
    assert Sentence.brought_back(json.loads(json.dumps(outer.kept()))).to("ja") == outer.to("ja")


def test_the_door_tells_version_and_rooms_and_opens_none(tmp_path: Path):
    """In a folder with a `panel` and an `analysis` of its own, like the repository."""
    (tmp_path / "panel").mkdir()
    code = (
        "import sys, kikichoko; print(kikichoko.__version__);"
        "print(sorted(n for n in sys.modules if n.startswith('kikichoko')));"
        "print(kikichoko.forms.__name__, dir(kikichoko))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    version, opened, rooms = done.stdout.splitlines()
    assert version == kikichoko.__version__
    assert opened == "['kikichoko']"
    assert rooms == "kikichoko.forms ['__version__', 'analysis', 'forms', 'panel']"
    with pytest.raises(AttributeError, match="no attribute 'cellar'"):
        kikichoko.cellar  # noqa: B018


def test_the_version_is_that_of_the_installed_distribution():
    from importlib.metadata import version

    assert version("kikichoko") == kikichoko.__version__
