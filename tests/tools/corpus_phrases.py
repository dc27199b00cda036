"""What a report must and must not say, phrase by phrase: ``python tests/tools/corpus_phrases.py``.

The phrases are the outsider's (``tests/outside/sessions/corpus.toml``); rules for them
stand in ``corpus_phrases.toml``, which tells how they are written.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from report_rules import Told


@cache
def phrases() -> dict[str, dict[str, Any]]:
    """Return the rules for each recipe, by the first letters of its id."""
    return tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))


def holds(told: Told, rule: str) -> bool:
    """Tell whether a report does what a rule says."""
    claimed = _claimed(told)
    if rule == "no claim":
        return not claimed
    head, _, rest = rule.partition(": ")
    if head == "no claim":
        return rest not in claimed
    if head.startswith("claim "):
        high, _, low = rest.partition(" > ")
        pairs = claimed.get(head.removeprefix("claim "), set())
        return all((high, one) in pairs for one in low.split(", "))
    if head.startswith("cell "):  # of the table of bottles: cell BOTTLE QUESTION: pattern
        _, bottle, question = head.split()
        text = told.decided(question).get(bottle, {"text": ""})["text"]
        return re.search(rest, text.lower()) is not None
    if head.startswith("row "):  # of any table: row LABEL: pattern, its cells joined by bars
        lines = [
            " | ".join(row).lower()
            for part in told.parts.values()
            for table in part.tables
            for row in table
        ]
        label = head.removeprefix("row ")
        return any(one.startswith(label) and re.search(rest, one) for one in lines)
    if re.fullmatch(r"do \w+", head):
        verdict = told.decided("do").get(head.removeprefix("do "), {"verdict": ""})
        return verdict["verdict"] == rest
    return re.search(rule, told.text, re.MULTILINE) is not None


def _claimed(told: Told) -> dict[str, set[tuple[str, str]]]:
    """Return the claimed pairs of each scale and balance: the higher, the lower."""
    section = told.results.get("differ") or told.results.get("sheets") or {}
    claims = section.get("claims") or {}
    found: dict[str, set[tuple[str, str]]] = {}
    for row in claims.get("pairs", []):
        if row["claimed"] and row["kind"] in ("scale", "balance"):
            low = row["sample_b"] if row["higher"] == row["sample_a"] else row["sample_a"]
            found.setdefault(row["about"], set()).add((row["higher"], low))
    return found


def wrong(told: Told, recipe: dict[str, Any]) -> list[str]:
    """Return every phrase that a report should say and does not, or should not and does."""
    own = phrases()[recipe["id"][:3]]
    found = [
        f"{told.name}: must say “{phrase}”: {rule}"
        for phrase, rules in zip(recipe["must_say"], own["must"], strict=True)
        for rule in rules
        if not holds(told, rule)
    ]
    return found + [
        f"{told.name}: must not say: {rule}" for rule in own["not"] if holds(told, rule)
    ]


def main() -> int:
    """Run every recipe, or those whose names begin with the words given."""
    import sys
    import tempfile

    from corpus_sessions import recipes, reported

    wanted = tuple(sys.argv[1:]) or ("",)
    faults = 0
    for recipe in recipes():
        if recipe["id"].startswith(wanted):
            with tempfile.TemporaryDirectory() as folder:
                found = wrong(reported(recipe, Path(folder) / recipe["id"]), recipe)
            faults += len(found)
            sys.stdout.write("".join(f"{line}\n" for line in found or [f"{recipe['id']}: ok"]))
            sys.stdout.flush()
    return min(faults, 1)


if __name__ == "__main__":
    raise SystemExit(main())
