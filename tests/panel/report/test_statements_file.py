"""The list of statements of results.json, end to end, as docs/report.md describes it."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from importlib import import_module
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
from corpus_sessions import recipes, reported
from jsonschema import Draft202012Validator
from results_schema import SCHEMA, faults

PAGE = (Path(__file__).parents[3] / "docs" / "report.md").read_text("utf-8")
TABLE = PAGE[PAGE.index("## The list of statements") :]
FIELDS = [name for row in re.findall(r"^\| (`.*?) \|", TABLE, re.MULTILINE)
          for name in re.findall(r"`(\w+)`", row)]  # fmt: skip
FAMILIES = set(re.search(r"^\| `family` \| (.*?);", TABLE, re.MULTILINE)[1].split(", "))
KINDS = {"claim", "hint", "description", "advice", "caution"}
CASES = [("s28", "en"), ("s28", "ja"), ("s36", "ja"), ("s05", "en")]


@pytest.fixture(scope="module", params=CASES, ids="-".join)
def told(request, tmp_path_factory):
    name, language = request.param
    recipe = next(one for one in recipes() if one["id"].startswith(name))
    return reported(recipe, tmp_path_factory.mktemp(name) / recipe["id"], language=language)


def test_every_statement_has_the_fields_of_the_page(told):
    assert FIELDS == [
        "kind", "about", "sentence", "p", "p_adjusted", "family", "section", "in_short",
    ]  # fmt: skip
    people = {row["assessor"] for row in told.marks}
    known = {*told.bottles, *told.labels, *people}
    assert told.results["statements"]
    for one in told.results["statements"]:
        assert list(one) == FIELDS
        assert one["kind"] in KINDS
        assert set(one["about"]) <= known, one
        assert one["sentence"].strip()
        assert one["family"] in {*FAMILIES, ""}, one
        assert one["section"] in told.parts, one
        assert isinstance(one["in_short"], bool)
        for p in (one["p"], one["p_adjusted"]):
            assert p is None or 0 <= p <= 1
        if one["kind"] == "claim":
            assert max(one["p"], one["p_adjusted"]) <= 0.05
            assert one["family"]
        if one["kind"] == "hint":
            assert 0.05 < one["p_adjusted"] <= 0.20
            assert not one["in_short"]
            assert "not shown" in one["sentence"] or "示されてはいない" in one["sentence"]


def test_words_for_a_label_come_from_claims_alone(told):
    claims = [one for one in told.results["statements"] if one["kind"] == "claim"]
    spoken = {name for one in claims if one["family"] in {"scale", "word"} for name in one["about"]}
    for one in told.results.get("label", []):
        assert not (one["held_back"] and one["words"])
        for words in one["words"].values():
            assert one["sample"] in spoken
            assert words
    if not spoken:
        assert "label" not in told.results


def test_the_file_is_as_its_schema_says(told):
    Draft202012Validator.check_schema(SCHEMA)
    assert faults(told.results) == []


def test_the_schema_refuses_what_it_does_not_describe(told):
    whole = told.results
    first = whole["statements"][0]
    assert faults({**whole, "further": 1})
    assert faults({**whole, "format": 2})
    assert faults({name: own for name, own in whole.items() if name != "record"})
    for wrong in ({"kind": "rumour"}, {"p": 1.5}, {"kind": "claim", "p_adjusted": 0.06}):
        assert faults({**whole, "statements": [{**first, **wrong}]}), wrong
    assert set(FIELDS) == set(SCHEMA["$defs"]["statement"]["properties"])


def keys_of_sections() -> dict[str, str]:
    """Return the keys of sections that modules of the report name, each with its module."""
    found = {}
    for path in sorted((Path(__file__).parents[3] / "panel" / "report").glob("*.py")):
        for call in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") == "Section":
                key = next(one.value for one in call.keywords if one.arg == "key")
                module = import_module(f"kikichoko.panel.report.{path.stem}")
                own = key.value if isinstance(key, ast.Constant) else getattr(
                    module, getattr(key, "id", ""), None)  # fmt: skip
                if own is not None:
                    found[own] = path.stem
    return found


def test_every_section_has_its_place_in_the_schema():
    keys = keys_of_sections()
    assert len(keys) > 20
    assert {key: made for key, made in keys.items() if key not in SCHEMA["properties"]} == {}


def plain(text: str) -> str:
    return re.sub(r"\s+", " ", text.replace("\u2212", "-")).strip()


def test_every_sentence_of_the_page_is_a_statement(told):
    """Headings, tables, the box's joined lines and the line on who wrote the page aside."""
    said = {plain(one["sentence"]) for one in told.results["statements"]}
    named = set()
    for key, part in told.parts.items():
        if key not in ("head", "foot", "short"):
            named |= {plain(line) for line in part.lines}
    folds = {"Method and assumptions", "Who noted it", "方法と前提"}
    left = {line for line in named - said - folds if line[-1] in ".!?。"}
    assert left == set()


def test_the_box_holds_what_is_marked_and_nothing_else(told):
    marked = [one for one in told.results["statements"] if one["in_short"]]
    short = [plain(line) for line in told.results["short"]]
    assert short == [plain(line) for line in told.box]
    alone = {plain(one["sentence"]) for one in marked}
    for line in short:
        names = {name for one in marked for name in one["about"]}
        labels = {told.labels.get(name, name).lower() for name in names}
        assert line in alone or any(label in line.lower() for label in labels), line
    for one in marked:
        if one["kind"] in ("claim", "caution"):
            labels = [told.labels.get(name, name).lower() for name in one["about"]]
            shown = plain(one["sentence"]) in short or any(
                all(label in line.lower() for label in labels[:1]) for line in short
            )
            assert shown, one["sentence"]


def test_attributes_are_written_in_the_reports_language(told):
    text = " ".join(one["sentence"] for one in told.results["statements"])
    japanese = re.search(r"[\u3040-\u30ff\u4e00-\u9fff]", text)
    assert bool(japanese) == any(
        re.search(r"[\u3040-\u30ff\u4e00-\u9fff]", label) for label in told.labels.values()
    )


@pytest.mark.parametrize("topic", ["findings", "primary", "report"])
def test_all_that_a_report_finds_is_said_in_japanese(topic):
    words = Path(__file__).parents[3] / "panel" / "words"
    english, japanese = (
        tomllib.loads((words / language / f"{topic}.toml").read_text("utf-8"))
        for language in ("en", "ja")
    )
    assert set(japanese) == set(english)
    for key, entry in japanese.items():
        text = entry if isinstance(entry, str) else entry["other"]
        plain = re.sub(r"\{[^}]*\}", "", text)
        said = re.search(r"[\u3001-\u30ff\u4e00-\u9fff]", plain)
        assert said or not re.search(r"\w{2}", plain), key


def test_the_report_speaks_in_its_statements_alone(told):
    """No procedure's own sentences or verdicts, at any depth of the sections."""

    def names(data: object) -> set[str]:
        if isinstance(data, dict):
            return set(data) | {name for own in data.values() for name in names(own)}
        return {name for one in data for name in names(one)} if isinstance(data, list) else set()

    assert not names(told.results) & {"sentences", "reading", "holds"}
    assert {"sentence", "p_adjusted"} <= names(told.results)
