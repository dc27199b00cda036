"""The outsider's recipes as sessions of this house: ``python tests/tools/corpus_sessions.py``.

A recipe is drawn by its own ``generate.py`` (standard library, written by
somebody who had not seen this code). Here its bottles, people and marks get
the names of our files, and the marks go in as a typed table.
"""

from __future__ import annotations

import csv
import importlib.util
import json
import sys
import tomllib
from functools import cache
from pathlib import Path
from typing import Any
from unittest.mock import patch

from report_rules import Told

SECRET = bytes(range(32))
"""Orders and codes are drawn from it, the same each time: a finding can hang on what came first."""
HERE = Path(__file__).parents[1] / "outside" / "sessions"
OURS = {
    "overall": "quality",
    "balance": "sweetness_balance",
    "smoothness": "texture",
    "alcohol": "alcohol_warmth",
}
FAULTS = {
    "diacetyl": "buttery", "sour": "vinegar", "hydrogen_sulphide": "sulphur",
    "acetaldehyde": "green_wood", "acetic": "vinegar", "sulfur": "sulphur",
}  # fmt: skip
WORDS = {"rice": "steamed_rice", "cooked_rice": "steamed_rice"}
SECTIONS = {"nose_fruity": "aroma"}
LABELS = {"nose_fruity": "Fruity in the nose", "palate_fruity": "Fruity on the palate"}
BALANCES = ("sweetness_balance",)
MEASURED = ("meter_value", "acidity", "amino_acidity", "abv")


@cache
def recipes() -> tuple[dict[str, Any], ...]:
    """Return all recipes as they stand in ``corpus.toml``."""
    return tuple(tomllib.loads((HERE / "corpus.toml").read_text("utf-8"))["session"])


@cache
def generator() -> Any:
    """Load the outsider's generator."""
    spec = importlib.util.spec_from_file_location("outside_generate", HERE / "generate.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def attribute(name: str) -> str:
    """Return our name of what the recipe calls `name`."""
    if name.startswith("word_"):
        word = name.removeprefix("word_")
        return f"aroma:{WORDS.get(word, word)}"
    if name.startswith("fault_"):
        fault = name.removeprefix("fault_")
        return f"fault:{FAULTS.get(fault, fault)}"
    return OURS.get(name, name)


def draw(recipe: dict[str, Any], repeat: int = 0) -> tuple[Any, ...]:
    """Return settings, people, bottles, orders and cells as the generator draws them."""
    found: tuple[Any, ...] = generator().draw(recipe, repeat)
    return found


def _toml(value: object) -> str:
    if isinstance(value, str):
        return '"' + value.replace('"', "'") + '"'
    if isinstance(value, list):
        return "[" + ", ".join(_toml(one) for one in value) + "]"
    return str(value)


def _questions(settings: dict[str, Any]) -> str:
    """Write the scorecard of a recipe: only its own questions, others added."""
    from kikichoko.forms.questions.scorecard import default_scorecard

    card = default_scorecard()
    known = {question.key: question for question in card}
    wanted = [attribute(name) for name in settings["attributes"]]
    words = [attribute(f"word_{word}").partition(":")[2] for word in settings["words"]]
    faults = [attribute(f"fault_{fault}").partition(":")[2] for fault in settings["faults"]]
    dropped = [key for key in known if key not in {*wanted, "aroma", "fault"}]
    dropped += [
        name
        for key, kept in (("aroma", words), ("fault", faults))
        for name in ([f"{key}:{o.key}" for o in known[key].options if o.key not in kept])
        if kept
    ]
    dropped += [key for key, kept in (("aroma", words), ("fault", faults)) if not kept]
    lines = ["[questions]", f"drop = {_toml(dropped)}"]
    low, high = settings["lo"], settings["hi"]
    for name in wanted:
        if name in BALANCES or (name in known and (low, high) == (0, 10)):
            continue
        lines += ["[[questions.add]]", f'key = "{name}"', f"low = {low}", f"high = {high}"]
        if name not in known:
            label = LABELS.get(name, name.replace("_", " ").capitalize())
            section = SECTIONS.get(name, "palate")
            lines += [f'label = "{label}"', f'section = "{section}"', 'kind = "line"']
    for word in settings.get("own_words", ()):
        lines += ["[[questions.words]]", f'key = "{word}"', f'label = "{word.replace("_", " ")}"']
    for fault in settings.get("own_faults", ()):
        lines += [
            "[[questions.faults]]",
            f'key = "{fault}"',
            f'label = "{fault.replace("_", " ")}"',
        ]
    return "\n".join(lines) + "\n"


def write_session(
    recipe: dict[str, Any], folder: Path, repeat: int = 0, language: str = "en"
) -> dict[str, Any]:
    """Write the three files of a session and ``marks.csv``; return the recipe's settings."""
    settings, people, _, orders, cells = draw(recipe, repeat)
    named = {**settings, "id": recipe["id"], "seed": recipe["seed"]}
    session_files((named, people, settings["bottles"], orders, cells), folder, language)
    return named


def session_files(drawn: tuple[Any, ...], folder: Path, language: str = "en") -> None:
    """Write what was drawn: the three files of a session and ``marks.csv``."""
    settings, people, bottles, orders, cells = drawn
    folder.mkdir(parents=True)
    name = settings["id"][:40]
    order = "balanced" if settings["order"] == "random" else "grouped"
    same = settings["order"] == "same"  # one order for all: a group of its own for each bottle
    first = orders[people[0]["id"], 1]
    served = settings.get("serving", {}).items()
    (folder / "session.toml").write_text(
        f'name = "{name}"\ntitle = "{settings["id"][:3]}"\ndate = 2026-11-26\n'
        f"question = {_toml(settings.get('question', 'What do these bottles tell?'))}\n"
        f"seed = {settings['seed']}\n"
        f'language = "{language}"\n'
        f"[serving]\nreplicates = {settings['replicates']}\nflight_size = 20\n"
        f'pour_ml = 10\nappearance = "off"\norder = "{order}"\n'
        + "".join(f"{name} = {_toml(value)}\n" for name, value in served)
        + _questions(settings),
        "utf-8",
    )
    with (folder / "bottles.csv").open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(
            ["bottle", "use", "tank", "fraction", "pasteurised", "available", "control", "group",
             *MEASURED]
        )  # fmt: skip
        for bottle in bottles:
            role = bottle.get("role", "")
            control = "clean" if role == "clean control" else ""
            if role.startswith("spiked"):
                fault = role.partition("(")[2].rstrip(")")
                control = attribute(f"fault_{fault}").partition(":")[2]
            if role.startswith("hidden duplicate of"):
                control = f"same:{role.rpartition(' ')[2]}"
            heated = {"raw": "0", "pasteurised": "1"}.get(bottle.get("treatment", ""), "")
            rows.writerow(
                [bottle["id"], "sample", bottle.get("batch", ""), bottle.get("fraction", ""),
                 heated, 50, control,
                 first.index(bottle["id"]) + 1 if same else bottle.get("group", 1),
                 *(bottle.get(name, "") for name in MEASURED)]
            )  # fmt: skip
    with (folder / "assessors.csv").open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(["assessor", "role", "style"])
        for one in people:
            style = {"liker": "likes", "disliker": "dislikes"}.get(one.get("taste", ""), "")
            rows.writerow([one["id"], one["role"], style])
    with (folder / "marks.csv").open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(["assessor", "sample", "replicate", "position", "attribute", "score"])
        for (who, what, replicate, name), score in cells.items():
            if score is not None:
                place = orders[who, replicate].index(what) + 1
                rows.writerow([who, what, replicate, place, attribute(name), score])


def reported(recipe: dict[str, Any], folder: Path, repeat: int = 0, language: str = "en") -> Told:
    """Take a recipe through plan, typed table, store and report; figures are off."""
    return report_of(write_session(recipe, folder, repeat, language), folder, language)


def _orders_of(rows: list[dict[str, str]]) -> Any:
    """Return a drawing of orders that gives each person the order that is told."""
    place: dict[tuple[str, int], dict[str, int]] = {}
    for row in rows:
        own = place.setdefault((row["assessor"], int(row["replicate"])), {})
        own[row["sample"]] = int(row["position"])
    people = list(dict.fromkeys(who for who, _ in place))

    def drawn(bottles: Any, blocks: list[int], *_: Any, **__: Any) -> tuple[Any, tuple[()]]:
        return [
            sorted(bottles, key=lambda bottle, own=place[who, replicate]: own[bottle.name])
            for replicate, _ in enumerate(blocks, start=1)
            for who in people
        ], ()

    return drawn


def report_of(
    settings: dict[str, Any], folder: Path, language: str = "en", *, figures: bool = False
) -> Told:
    """Plan the session that stands in `folder`, type its ``marks.csv``, and report."""
    from kikichoko.panel.plan import planning
    from kikichoko.panel.plan.key_file import pours_with_key
    from kikichoko.panel.plan.plan_file import load_open, save
    from kikichoko.panel.plan.sealing import fingerprint
    from kikichoko.panel.report.build import build, open_context
    from kikichoko.panel.report.files import numbers
    from kikichoko.panel.report.page import html
    from kikichoko.panel.returns.store import Store
    from kikichoko.panel.returns.taking_in import take_in
    from kikichoko.panel.session.session_folder import load

    session = load(folder)
    with (folder / "marks.csv").open(encoding="utf-8", newline="") as marks:
        rows = list(csv.DictReader(marks))
    orders = _orders_of(rows) if settings.get("own_orders") else planning.bottle_orders
    with patch.object(planning, "bottle_orders", orders):
        save(planning.make(session, secret=SECRET), folder)
    plan = load_open(session)
    code = {
        (pour.assessor, pour.bottle, pour.replicate): pour.code
        for pour in pours_with_key(session, plan)
        if pour.counted
    }
    typed = folder / "typed.csv"
    with typed.open("w", encoding="utf-8", newline="") as out:
        table = csv.writer(out)
        table.writerow(["assessor", "code", "attribute", "score"])
        for row in rows:
            cup = code[row["assessor"], row["sample"], int(row["replicate"])]
            table.writerow([row["assessor"], cup, row["attribute"], row["score"]])
    with Store(folder) as store:
        taken = take_in(plan, store, [typed])
        assert not taken.faults, [str(fault.message()) for fault in taken.faults]
        context = open_context(session, plan, store, "corpus", figures=figures)
        made = build(context)
    people = {one.code: one.role for one in session.assessors}
    return Told(
        name=settings["id"],
        page=html(made, fingerprint(context.plan.sealed)).replace("\u2060", ""),
        results=json.loads(numbers(made, context)),
        marks=rows,
        roles={
            code: role for code, role in people.items() if code in {r["assessor"] for r in rows}
        },
        bottles={bottle.name: bottle for bottle in session.samples},
        replicates=settings["replicates"],
        scale=(settings["lo"], settings["hi"]),
        labels={
            name: session.scorecard.name(name, language)
            for question in session.scorecard
            for name in question.attributes
        },
        report=made,
    )
