"""Measure the reading of free words on phrases that somebody else wrote and marked.

The phrases name concepts; `tests/outside/words/map.csv` says in the open which of our
keys stands for which. A key without a concept there is not counted; a concept without a
key is missed. The rules of marking stand in `tests/outside/words/concepts.md`.

    python tests/tools/word_concepts.py [LIST.csv] [--each] [--sure]

With ``--sure`` as reports tell it: without what `kikichoko.forms.free_words.certainty` leaves
to a person.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from kikichoko.forms.free_words import read_words
from kikichoko.forms.free_words.free_text import WordsRead, sure_words

OUTSIDE = Path(__file__).parents[1] / "outside" / "words"
COMPLAINTS = {"fault", "too_much", "too_little"}
MAP = {
    row["key"]: row["concept"]
    for row in csv.DictReader((OUTSIDE / "map.csv").read_text("utf-8").splitlines())
}

Reader = Callable[[str], WordsRead]


@dataclass(slots=True)
class Figures:
    """Counts of one language; `invented` and `missed` hold "id concept:polarity"."""

    phrases: int = 0
    meant: int = 0
    read: int = 0
    right: int = 0
    polarity: int = 0
    invented: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)
    praise_as_fault: list[str] = field(default_factory=list)

    @property
    def precision(self) -> float:
        """Share of what was read that was meant: the concept, and whether it is there."""
        return self.right / self.read if self.read else 1.0

    @property
    def recall(self) -> float:
        """Share of what was meant that was read."""
        return self.right / self.meant if self.meant else 1.0


def findings(phrase: str, read: Reader = read_words) -> set[tuple[str, str]]:
    """Return the (concept, polarity) pairs that our reading of a phrase gives.

    Of a concept that is read twice, "noted" yields to what is said of it elsewhere.
    """
    pairs = {(MAP[m.key], m.polarity) for m in read(phrase).matches if m.key in MAP}
    judged = {concept for concept, polarity in pairs if polarity != "noted"}
    return {pair for pair in pairs if pair[1] != "noted" or pair[0] not in judged}


def meant(cell: str) -> set[tuple[str, str]]:
    """Read the marks of a phrase: ``concept:polarity;concept:polarity``."""
    return {(one.split(":")[0], one.split(":")[1]) for one in cell.split(";") if one}


Pairs = set[tuple[str, str]]


def add(figures: Figures, name: str, expected: Pairs, got: Pairs) -> None:
    """Add one phrase to the figures of its language."""
    there = {(concept, polarity == "absent") for concept, polarity in expected}
    found = {(concept, polarity == "absent") for concept, polarity in got}
    figures.phrases += 1
    figures.meant += len(there)
    figures.read += len(found)
    figures.right += len(there & found)
    figures.polarity += len(expected & got)
    for concept, polarity in sorted(got - expected):
        own = {said for one, said in expected if one == concept}
        if polarity in COMPLAINTS and not own & COMPLAINTS:
            figures.invented.append(f"{name} {concept}:{polarity}")
            if "praised" in own:
                figures.praise_as_fault.append(f"{name} {concept}:{polarity}")
    for concept, polarity in sorted(expected - got):
        own = {said for one, said in got if one == concept}
        if polarity == "fault" and not own & COMPLAINTS:
            figures.missed.append(f"{name} {concept}:{polarity}")


def measure(path: Path, read: Reader = read_words) -> dict[str, Figures]:
    """Measure a list by language."""
    figures: dict[str, Figures] = {}
    for row in csv.DictReader(path.read_text("utf-8").splitlines()):
        of = figures.setdefault(row["language"], Figures())
        add(of, row["id"], meant(row["found"]), findings(row["phrase"], read))
    return figures


def told(path: Path, *, each: bool, read: Reader = read_words) -> list[str]:
    """Return the figures in lines, and with `each` every phrase not read as it was marked."""
    lines = []
    for language, of in measure(path, read).items():
        lines.append(
            f"{language}: {of.phrases} phrases, precision {of.precision:.3f}, "
            f"recall {of.recall:.3f}, polarity too {of.polarity / of.meant:.3f}; "
            f"invented {len(of.invented)}, praise as fault {len(of.praise_as_fault)}, "
            f"missed faults {len(of.missed)}"
        )
        lines += [f"  invented {one}" for one in of.invented] if each else []
        lines += [f"  missed {one}" for one in of.missed] if each else []
    for row in csv.DictReader(path.read_text("utf-8").splitlines()) if each else ():
        expected, got = meant(row["found"]), findings(row["phrase"], read)
        more = [":".join(one) for one in sorted(got - expected)]
        less = [":".join(one) for one in sorted(expected - got)]
        if more or less:
            lines.append(" ".join([row["id"], row["phrase"], "| +", *more, "| -", *less]))
    return lines


if __name__ == "__main__":
    paths = [Path(word) for word in sys.argv[1:] if not word.startswith("--")]
    listed = told(
        paths[0] if paths else OUTSIDE / "work.csv",
        each="--each" in sys.argv,
        read=sure_words if "--sure" in sys.argv else read_words,
    )
    sys.stdout.write("\n".join(listed) + "\n")
