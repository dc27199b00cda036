"""Do the lower bounds of pyproject.toml hold, and the newest versions too?

    python benchmarks/dependency_versions.py [lowest] [newest] [--keep FOLDER]

For each of the two an environment of its own is made: `lowest` pins every dependency of the
program and of its extras to its bound, `newest` takes what the registry gives. The project is
built and installed into it, then a sample is run that goes through every dependency: the
invented session from plan to report, a printed sheet that is read back as a picture, a
workbook's rules, a Parquet table, and the tests of workbooks, orders and sheets. Not part of
CI: it fetches some hundred megabytes.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
EXTRAS = ("photo", "parquet", "desk", "pdf")
TESTS = (
    "tests/forms/spreadsheets",
    "tests/forms/paper",
    "tests/panel/plan/test_orders.py",
    "tests/panel/plan/test_plan.py",
    "tests/panel/returns/test_paper_as_workbook.py",
)
TOOLS = ("pytest", "hypothesis", "pytest-timeout", "pytest-xdist", "setuptools>=77", "wheel")
SAMPLE = """
import sys, pathlib, tempfile
import pandas as pd
from kikichoko.panel.demos import fractions
from kikichoko.panel.base.table_files import read_table
folder = pathlib.Path(tempfile.mkdtemp()) / "demo"
made = fractions.run(folder, lambda: None)
assert made.report.is_file() and made.taken > 300
frame = pd.read_csv(folder / "scores.csv")
frame.to_parquet(folder / "scores.parquet")
assert len(read_table(folder / "scores.parquet")) == len(frame)
from kikichoko.panel.cli import kikichoko
kikichoko.main(["report", str(folder), "--pdf"], standalone_mode=False)
assert (folder / "report/report.pdf").stat().st_size > 50_000
print("sample:", made.taken, "answers")
"""


def bounds() -> dict[str, str]:
    """Return the lower bound of every dependency of the program and its extras."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    listed = list(project["dependencies"])
    for extra in EXTRAS:
        listed += project["optional-dependencies"][extra]
    found = {}
    for line in listed:
        match = re.fullmatch(r"([A-Za-z0-9_.-]+)>=([0-9.]+)(?:,.*)?", line)
        if match is None:
            message = f"{line!r} has no plain lower bound"
            raise SystemExit(message)
        found[match[1]] = match[2]
    return found


def run(*command: object, folder: Path = ROOT) -> None:
    """Run a command; stop at the first that fails."""
    subprocess.run([str(part) for part in command], check=True, cwd=folder)


def attempt(kind: str, place: Path) -> None:
    """Make the environment, install and run the sample."""
    run(sys.executable, "-m", "venv", place)
    python = place / "bin" / "python"
    given = bounds()
    wanted = [f"{name}=={low}" if kind == "lowest" else name for name, low in given.items()]
    run(python, "-m", "pip", "install", "--quiet", *wanted, *TOOLS)
    run(python, "-m", "pip", "install", "--quiet", "--no-deps", "--no-build-isolation", ROOT)
    run(python, "-m", "pip", "check")
    run(python, "-c", SAMPLE, folder=place)
    run(python, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *TESTS)
    shown = subprocess.run(
        [str(python), "-m", "pip", "freeze"], check=True, capture_output=True, text=True
    ).stdout.splitlines()
    names = {name.lower().replace("_", "-") for name in given}
    kept = [line for line in shown if line.partition("==")[0].lower().replace("_", "-") in names]
    print(f"{kind}: " + ", ".join(kept))


def main() -> None:
    """Try the lowest and the newest versions."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kinds", nargs="*", default=["lowest", "newest"])
    parser.add_argument("--keep", type=Path, help="a folder that the environments stay in")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as aside:
        for kind in given.kinds:
            attempt(kind, (given.keep or Path(aside)) / kind)


if __name__ == "__main__":
    main()
