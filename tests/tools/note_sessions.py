"""The outsider's filled sessions that have a note, as sessions of this house.

Each folder of ``tests/outside/sessions/notes`` holds bottles, assessors, orders and scores
in long form; here they get the names of our files and go in as a recipe of the corpus does.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path
from typing import Any

from corpus_sessions import HERE, report_of, session_files
from report_rules import Told

FEW = (1, 2, 3, 21, 22, 31, 32, 41, 42, 43, 44, 45, 46, 61, 62, 63, 64, 65, 66, 84)
"""Those with two or three assessors."""
PANELS = (4, 5, 6, 8, 33, 34, 35, 36, 51, 52, 53, 54, 71, 72, 73, 74, 75, 76, 81, 82, 83)
FOLDERS = {number: f"notes/{number}" for number in (*FEW, *PANELS)} | {3: "sealed/notes/3"}
SERVED = {
    81: {"masking": "none", "temperature_c": 12},
    82: {"temperature_c": 10},
    83: {"temperature_c": 12},
    84: {"masking": "none", "temperature_c": 10},
}
"""How these were served, as their ``session.md`` says; of them questions and orders go in too."""
OWN_FAULTS = ("rough_yeast",)
"""Faults of the sheets that our vocabulary has not."""
LAST_TO_ALL = 2
"""In this one the cloudy bottle came last to everybody; our own plans draw all other orders."""


DISLIKES = (
    "dislikes",
    "not my style",
    "not his taste",
    "do not list",
    "does not like",
    "i do not drink",
    "i do not care for cloudy",
)
"""What somebody who does not like the style wrote."""
LIKES = ("says she likes it", "i like")
"""What somebody who likes the style wrote."""
OWN_WORDS = (
    "chalky", "nutty", "malty", "grassy", "butter", "fresh_grass", "lychee", "mineral", "grass",
    "rice_cracker", "cardboard", "cellar", "cream", "fizzy", "grain", "rice_porridge",
    "dried_fruit", "hazelnut", "green_apple", "prickly", "wet_cardboard", "yeasty", "walnut",
    "white_flower", "cedar", "wet_paper", "cereal", "mint", "struck_match",
)  # fmt: skip
"""Words of the sheets that our vocabulary has not, or by another name."""


def _rows(number: int, name: str) -> list[dict[str, str]]:
    with (HERE / FOLDERS[number] / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def _questions(number: int) -> str:
    text = (HERE / FOLDERS[number] / "session.md").read_text(encoding="utf-8")
    asked = [line.partition(": ")[2] for line in text.splitlines() if line.startswith("Question: ")]
    return " ".join(asked)


def _without_dose(role: str) -> str:
    """Keep of what was put into a control the fault alone.

    >>> _without_dose("spiked control (diacetyl, low)")
    'spiked control (diacetyl)'
    """
    fault, comma, _ = role.partition(",")
    return f"{fault})" if comma else role


def _taste(note: str) -> str:
    note = note.lower()
    if any(one in note for one in DISLIKES):
        return "disliker"
    return "liker" if any(one in note for one in LIKES) else ""


def _as_asked(row: dict[str, str]) -> dict[str, str]:
    """Write the outsider's names for our controls as ours.

    >>> _as_asked({"role": "control_spiked", "treatment": "raw, spiked with diacetyl"})
    {'role': 'spiked control (diacetyl)', 'treatment': 'raw'}
    """
    treatment, _, fault = row["treatment"].partition(", spiked with ")
    roles = {"control_clean": "clean control", "control_spiked": f"spiked control ({fault})"}
    return {**row, "role": roles.get(row["role"], row["role"]), "treatment": treatment}


def recipe(number: int) -> tuple[Any, ...]:
    """Return settings, people, bottles, orders and cells, as the generator draws them."""
    named = {row["sample"]: row["bottle"] for row in _rows(number, "bottles")}
    places: dict[tuple[str, int], list[tuple[int, str]]] = defaultdict(list)
    for row in _rows(number, "orders"):
        place = int(row["position"]), named[row["sample"]]
        places[row["assessor"], int(row["replicate"])].append(place)
    orders = {who: [name for _, name in sorted(own)] for who, own in places.items()}
    cells = {
        (row["assessor"], named[row["sample"]], int(row["replicate"]), row["attribute"]): (
            float(row["score"]) if row["score"] else None
        )
        for row in _rows(number, "scores")
    }
    asked = list(dict.fromkeys(name for *_, name in cells))
    settings = {
        "id": f"note-{number}",
        "attributes": [name for name in asked if not name.startswith(("word_", "fault_"))],
        "words": [name.removeprefix("word_") for name in asked if name.startswith("word_")],
        "own_words": [name for name in OWN_WORDS if f"word_{name}" in asked],
        "faults": [name.removeprefix("fault_") for name in asked if name.startswith("fault_")],
        "lo": 0,
        "hi": 10,
        "replicates": max(replicate for _, replicate in orders),
        "order": "random" if number != LAST_TO_ALL else "grouped",
        "seed": number,
    }
    if number in SERVED:
        settings |= {
            "own_faults": [name for name in OWN_FAULTS if f"fault_{name}" in asked],
            "question": _questions(number),
            "serving": SERVED[number],
            "own_orders": True,
        }
    bottles = [
        {
            **row,
            "id": row["bottle"],
            "role": "" if row["role"] in ("product", "reference") else _without_dose(row["role"]),
            "group": 1 + (number == LAST_TO_ALL and row["fraction"] == "cloudy"),
        }
        for row in map(_as_asked, _rows(number, "bottles"))
    ]
    people = [
        {
            "id": row["assessor"],
            "role": row["role"],
            "taste": _taste(row["note"]),
        }
        for row in _rows(number, "assessors")
    ]
    return settings, people, bottles, orders, cells


def reported_note(number: int, folder: Path, language: str = "en") -> Told:
    """Take a session with a note through plan, typed table, store and report."""
    drawn = recipe(number)
    session_files(drawn, folder, language)
    return report_of(drawn[0], folder, language)
