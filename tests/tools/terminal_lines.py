"""What each command says at 80 columns: ``python tests/tools/terminal_lines.py SESSION TABLES``.

SESSION is a demonstration's folder (``kikichoko demo``), TABLES one that ``kikichoko examples``
wrote. Every command of `COMMANDS` is run in English and in Japanese with ``COLUMNS=80``; lines of
more columns are shown (UAX #11: a Japanese letter takes two). Commands that change the session get
a copy of it.
"""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from kikichoko.line_breaks import broken, columns

WIDTH = 80
ON_TABLES = """
anova scores.csv
anova scores.csv --full
anova scores.csv --check --full
scaling scores.csv --scores sweetness --pairs --full
ordinal severity.csv --scores raw_stale --full
few two.csv --of bitterness --full
agreement scores.csv --full
assessors scores.csv --full
teach class.csv --expert E1 --out pages
shift scores.csv --group A1 --full
descriptors words.csv --full
map scores.csv --full
difference triangle --right 14/30 --full
difference triangle triangle.csv --full
rank ranks.csv --full
threshold steps.csv --concentration ug_per_l --full
course events.csv --full
chemistry bottles.csv --full
chemistry --abv 15.5 --meter-value 3 --acidity 1.5 --full
chemistry --part volume=100,meter_value=5,abv=16 --part volume=50,meter_value=-20,abv=16
link tank-scores.csv tank-bottles.csv --full
size triangle
size profile --full
references
examples here
anova absent.csv
anova scors.csv
rank scores.csv
report nowhere
"""
ON_SESSION = """
status SESSION
check SESSION
key SESSION --why trial
report SESSION
review SESSION --terminal
memory SESSION --full
history SESSION --full
shift SESSION --full
teach SESSION
sheets SESSION
plan SESSION
plan SESSION --again
read SESSION SESSION/inbox
change SESSION list
forget SESSION S9
measured SESSION
pack SESSION --co-leader
unblind SESSION
new SESSION
new another
monitor SESSION
serve nowhere
desk SESSION
"""


def lines_of(told: str) -> Iterator[str]:
    """Yield the lines that are too wide, without what can only be copied as one piece."""
    for line in told.splitlines():
        after = line.rpartition("\r")[2]
        if columns(after) > WIDTH and len(broken(after, WIDTH)) > 1:
            yield after


def said(words: list[str], folder: Path, language: str) -> str:
    """Run a command with so many columns; return what it says, on both streams."""
    command = [sys.executable, "-c", "from kikichoko.panel.cli import main; main()"]
    done = subprocess.run(
        [*command, "--language", language, *words], cwd=folder, text=True, check=False,
        env={**os.environ, "COLUMNS": str(WIDTH), "PYTHONIOENCODING": "utf-8"},
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        timeout=300,
    )  # fmt: skip
    return done.stdout


def main(session: Path, tables: Path) -> int:
    """Run all; return how many lines were too wide."""
    wide = 0
    with tempfile.TemporaryDirectory() as place:
        for language in ("en", "ja"):
            work = Path(place) / language
            shutil.copytree(tables, work)
            shutil.copytree(session, work / "SESSION")
            for line in (*ON_TABLES.split("\n"), *ON_SESSION.split("\n")):
                if not line:
                    continue
                told = said(shlex.split(line), work, language)
                found = list(lines_of(told))
                wide += len(found)
                sys.stdout.write(
                    f"{language}  {line}: {len(told.splitlines())} lines, {len(found)} too wide\n"
                )
                for one in found:
                    sys.stdout.write(f"    {columns(one)}: {one}\n")
                if "-v" in sys.argv:
                    sys.stdout.write(told)
    return wide


if __name__ == "__main__":
    sys.exit(1 if main(Path(sys.argv[1]), Path(sys.argv[2])) else 0)
