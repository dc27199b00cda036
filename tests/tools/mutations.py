"""How many small mutations of decision lines do the tests notice?

``python tests/tools/mutations.py --n 100 --seed 1`` draws mutations from the lines
that readers act on (thresholds, comparisons, corrections), makes each one in a copy of
the installed package, and runs the tests of that sub-room (for a named one: the test
that should hold it). A mutation that no test
notices has survived: a decision could be changed without anybody seeing it.

Not part of CI: a run of 100 takes about half an hour of one core. The named mutations
(``named_mutations.toml``) are always made; ``--named`` makes only those.
"""

from __future__ import annotations

import argparse
import ast
import functools
import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PLACES = (
    "analysis/agreement/*.py",
    "analysis/anova/*.py",
    "analysis/chemistry/label*.py",
    "analysis/citations/*.py",
    "analysis/claims/*.py",
    "analysis/core/*.py",
    "analysis/difference/*.py",
    "analysis/inference/*.py",
    "analysis/link/*.py",
    "analysis/maps/*.py",
    "analysis/ordinal/*.py",
    "analysis/performance/*.py",
    "analysis/power/*.py",
    "analysis/ranking/*.py",
    "analysis/teaching/*.py",
    "forms/answers/*.py",
    "forms/photo/mark_rules.py",
    "panel/findings/*.py",
    "panel/key/*.py",
    "panel/plan/*.py",
    "panel/report/*.py",
    "panel/returns/*.py",
    "panel/school/*.py",
    "panel/session/*.py",
)
LEFT_OUT = ("_figure.py", "__init__.py", "words.py", "wording.py", "look.py", "page.py", "parts.py")
ALSO = {
    "forms/answers": ("tests/forms/spreadsheets",),
    "forms/photo": ("tests/panel/returns",),
    "panel/findings": ("tests/panel/report",),
    "panel/report": ("tests/panel/key", "tests/panel/demos/test_demo.py"),
    "panel/key": ("tests/panel/report",),
    "panel/plan": ("tests/panel/handouts",),
    "panel/session": ("tests/panel/plan", "tests/panel/handouts"),
    "analysis/core": ("tests/analysis/anova", "tests/analysis/agreement"),
}
"""Tests of other folders that hold decisions of a sub-room."""
PYTEST = (sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:xdist",
          "-o", "addopts=--import-mode=importlib")  # fmt: skip
EDGES = {
    ast.Lt: ("<", "<="),
    ast.LtE: ("<=", "<"),
    ast.Gt: (">", ">="),
    ast.GtE: (">=", ">"),
    ast.Eq: ("==", "!="),
    ast.NotEq: ("!=", "=="),
}
TURNS = {
    ast.Lt: ("<", ">"),
    ast.LtE: ("<=", ">="),
    ast.Gt: (">", "<"),
    ast.GtE: (">=", "<="),
}
RISK = re.compile(r"alpha|level|risk|budget|p|p_value|p_adjusted|adjusted|\w+_(p|alpha|level)")
GUARDS = (
    "TINY", "SLACK", "EDGE", "EPS", "TIE", "ALIKE", "STEP", "SURE", "FAR", "POINTS", "NONE",
    "CHUNK", "DRAWS", "SHUFFLES", "PERMUTATIONS", "ROUNDS", "PATIENCE", "LISTED", "ALL_WAYS",
    "ALL_ORDERS", "EXACT", "RANK", "COMBINATIONS", "SUMS", "STARTS", "IN_ORDER", "MOST_WAYS",
    "TRIED", "SECONDS", "SQUEEZES", "COLUMNS", "LONGEST", "WHOLE_CARD",
)  # fmt: skip
"""Words in the names of constants that say how something is computed or laid out, not what
is decided."""
EFFORT = 1000
"""Whole numbers from here on limit work and files, and are no thresholds of a panel."""


@dataclass(frozen=True, slots=True)
class Mutation:
    """One small change: in `file` at `start`, `old` becomes `new`."""

    file: str
    line: int
    start: int
    old: str
    new: str

    def applied(self, text: str) -> str:
        """Return the text with the change."""
        assert text[self.start : self.start + len(self.old)] == self.old
        return text[: self.start] + self.new + text[self.start + len(self.old) :]


@dataclass(frozen=True, slots=True)
class Named:
    """A mutation that is named: the decision it would change, where, and what holds it."""

    what: str
    file: str
    old: str
    new: str
    held_by: str

    def found(self) -> Mutation:
        """Find its place; ValueError where the line is no longer there or not alone."""
        text = (ROOT / self.file).read_text("utf-8")
        if text.count(self.old) != 1:
            message = (
                f"{self.what}: {self.old!r} stands {text.count(self.old)} times in {self.file}"
            )
            raise ValueError(message)
        start = text.index(self.old)
        line = text.count("\n", 0, start) + 1
        return Mutation(self.file, line, start, self.old, self.new)


NAMED = tuple(
    Named(**row)
    for row in tomllib.loads((ROOT / "tests/tools/named_mutations.toml").read_text("utf-8"))[
        "mutation"
    ]
)


def named_in(node: ast.AST) -> Iterator[str]:
    """Yield every name that an expression speaks of."""
    for inner in ast.walk(node):
        if isinstance(inner, ast.Name):
            yield inner.id
        elif isinstance(inner, ast.Attribute):
            yield inner.attr


def is_rule(name: str) -> bool:
    """Tell whether a name is a rule's constant, and not a guard of arithmetic."""
    bare = name.strip("_")
    return len(bare) > 1 and bare.isupper() and not any(word in bare for word in GUARDS)


def candidates(path: Path) -> Iterator[Mutation]:
    """Yield the mutations of a file's decision lines.

    Decision lines are comparisons with a rule's constant (its edge is moved: ``<`` to
    ``<=``, ``==`` to ``!=``), comparisons with a risk or a p value (turned round; where
    `holds` makes them, p becomes 1 - p), the constants themselves (a whole number one larger,
    another one doubled) and the names of corrections (replaced by one that holds less).
    Guards of arithmetic, ends of searches (``while``) and limits of work are left out.
    """
    text = path.read_text("utf-8")
    starts = [0]
    for line in text.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    encoded = [line.encode() for line in text.splitlines()]

    def at(line: int, column: int) -> int:
        return starts[line - 1] + len(encoded[line - 1][:column].decode())

    name = path.relative_to(ROOT).as_posix()
    tree = ast.parse(text)
    searching = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.While)
        for inner in ast.walk(node.test)
    }
    for node in ast.walk(tree):
        if id(node) in searching:
            continue
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "holds":
            start = at(node.args[0].lineno, node.args[0].col_offset)
            yield Mutation(name, node.lineno, start, "", "1 - ")
        if not isinstance(node, ast.Compare) or len(node.ops) != 1:
            continue
        spoken = list(named_in(node))
        edge = any(map(is_rule, spoken))
        if not edge and not any(map(RISK.fullmatch, spoken)):
            continue
        swap = (EDGES if edge else TURNS).get(type(node.ops[0]))
        if swap is None:
            continue
        right = node.comparators[0]
        low = at(node.left.end_lineno or 0, node.left.end_col_offset or 0)
        place = text.find(swap[0], low, at(right.lineno, right.col_offset) + 1)
        if place >= 0:
            yield Mutation(name, node.lineno, place, *swap)
    for node in tree.body:
        if not isinstance(node, (ast.Assign, ast.AnnAssign)) or node.value is None:
            continue
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        if not isinstance(target, ast.Name) or not is_rule(target.id):
            continue
        for inner in ast.walk(node.value):
            number = isinstance(inner, ast.Constant) and type(inner.value) in (int, float)
            if number and inner.value < EFFORT:
                start = at(inner.lineno, inner.col_offset)
                old = text[start : at(inner.end_lineno or 0, inner.end_col_offset or 0)]
                whole = isinstance(inner.value, int) or not inner.value
                changed = inner.value + 1 if whole else inner.value * 2
                yield Mutation(name, inner.lineno, start, old, repr(changed))
    for word in ('"holm"', '"hommel"', '"bonferroni"'):
        start = text.find(f"={word}")
        if start >= 0:
            yield Mutation(name, text.count("\n", 0, start) + 1, start + 1, word, '"bh"')


def sample(n: int, seed: int) -> list[Mutation]:
    """Draw `n` mutations, at most three a file, from all places."""
    files = sorted({path for pattern in PLACES for path in ROOT.glob(pattern)})
    rng = random.Random(seed)
    pool: list[Mutation] = []
    for path in files:
        if not path.name.endswith(LEFT_OUT):
            found = list(candidates(path))
            pool += rng.sample(found, min(3, len(found)))
    return rng.sample(pool, min(n, len(pool)))


def names_of(file: str) -> set[str]:
    """Name a file and the functions that its sub-room hands on from it."""
    path = Path(file)
    stub = ROOT / path.parent / "__init__.pyi"
    text = stub.read_text("utf-8") if stub.exists() else ""
    handed = re.findall(rf"^from \.{path.stem} import (\w+)", text, re.MULTILINE)
    return {path.stem, *handed}


def tests_of(file: str) -> list[str]:
    """Name the tests that hold a file: those of its folder, of `ALSO`, and all that import it.

    Those that speak of the file come first, so that most mutations are noticed soon.
    """
    folder, stem = Path(file).parent.as_posix(), Path(file).stem
    folders = [ROOT / f"tests/{folder}", *(ROOT / name for name in ALSO.get(folder, ()))]
    found = [
        path
        for place in folders
        for path in (sorted(place.rglob("test_*.py")) if place.is_dir() else [place])
        if path.exists()
    ]
    found.sort(key=lambda path: stem not in path.read_text("utf-8"))
    imports = re.compile(rf"^from kikichoko\.{folder.replace('/', '.')}\b.*", re.MULTILINE)
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        said = " ".join(imports.findall(path.read_text("utf-8")))
        if path not in found and any(re.search(rf"\b{name}\b", said) for name in names_of(file)):
            found.append(path)
    return [path.relative_to(ROOT).as_posix() for path in found]


@functools.cache
def collected(tests: tuple[str, ...]) -> bool:
    """Ask whether the tests can be collected at all when nothing is changed."""
    done = subprocess.run(
        [*PYTEST, "--collect-only", *tests], cwd=ROOT, capture_output=True, check=False
    )
    return done.returncode == 0


def outcome(mutation: Mutation, tests: list[str], installed: Path, seconds: int) -> str:
    """Make the mutation in a copy of the package and run the tests that should notice it.

    Returns
    -------
    'survived', 'noticed' (a test failed, or the changed file can no longer be imported),
    or 'endless' when the tests used `seconds` of processor time; waiting on a loaded
    machine does not count.
    """
    with tempfile.TemporaryDirectory() as place:
        copy = Path(place) / "kikichoko"
        shutil.copytree(installed, copy)
        target = copy / mutation.file
        target.write_text(mutation.applied(target.read_text("utf-8")), "utf-8")
        done = subprocess.run(
            ["/bin/sh", "-c", f'ulimit -t {seconds}; exec "$@"', "sh", *PYTEST, "-x", *tests],
            cwd=ROOT, capture_output=True, text=True, check=False,
            env={**os.environ, "PYTHONPATH": place, "PYTHONDONTWRITEBYTECODE": "1"},
        )  # fmt: skip
    if done.returncode in (-signal.SIGXCPU, -signal.SIGKILL):
        return "endless"
    broken_import = done.returncode == pytest.ExitCode.INTERRUPTED and collected(tuple(tests))
    if done.returncode == pytest.ExitCode.TESTS_FAILED or broken_import:
        return "noticed"
    if done.returncode == pytest.ExitCode.OK:
        return "survived"
    raise RuntimeError(done.stdout[-800:] + done.stderr[-800:])


def main() -> int:
    """Make the mutations and report those that survive."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--n", type=int, default=100)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--named", action="store_true", help="only the named ones")
    options.add_argument("--seconds", type=int, default=900, help="processor time a mutation")
    options.add_argument("--json", type=Path)
    given = options.parse_args()
    import kikichoko.analysis

    installed = Path(str(kikichoko.analysis.__file__)).parents[1]
    wanted = [(named.what, named.found(), [named.held_by]) for named in NAMED]
    if not given.named:
        drawn = sample(given.n, given.seed)
        wanted += [("drawn", mutation, tests_of(mutation.file)) for mutation in drawn]
    rows = []
    for what, mutation, tests in wanted:
        begun = time.monotonic()
        state = outcome(mutation, tests, installed, given.seconds)
        print(
            f"{state:9}{time.monotonic() - begun:5.0f} s  {mutation.file}:{mutation.line}  "
            f"{mutation.old.strip()!r} -> {mutation.new.strip()!r}  ({what})",
            flush=True,
        )
        rows.append({"what": what, "outcome": state, **asdict(mutation)})
    left = sum(row["outcome"] == "survived" for row in rows)
    endless = sum(row["outcome"] == "endless" for row in rows)
    print(
        f"{left} of {len(rows)} mutations survived, {endless} ran without end (seed {given.seed})"
    )
    if given.json:
        given.json.write_text(json.dumps(rows, indent=1), "utf-8")
    return 1 if left else 0


if __name__ == "__main__":
    sys.exit(main())
