"""The tables and the session that the documents use, written where a reader wants them.

The tables are kept as files in ``demo_sessions/examples`` (drawn by ``docs/make_examples.py``).
The session is planned here with a secret that everybody knows, and its typed answers are drawn
from ``truth.toml``, so that codes and answers belong to each other.
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from ..base.errors import InputRefused
from ..base.whole_files import write_bytes
from ..handouts.server_files import write as write_server_files
from ..plan.plan_file import save
from ..plan.planning import make
from ..session.session_folder import load
from ._tools import INBOX, SCENARIOS, secret_of, truth, write_session
from .fractions import simulate, type_table

SESSION = "spring-tasting"


def write_examples(folder: Path) -> list[Path]:
    """Write all examples into a folder; return what was written.

    Raises
    ------
    InputRefused
        If one of the files is there already; then nothing is written.
    """
    kept = files(SCENARIOS).joinpath("examples")
    tables = sorted(one.name for one in kept.iterdir() if one.name.endswith(".csv"))
    taken = [name for name in (*tables, SESSION) if (folder / name).exists()]
    if taken:
        raise InputRefused("examples.taken", folder=folder, names=", ".join(taken))
    folder.mkdir(parents=True, exist_ok=True)
    for name in tables:
        write_bytes(folder / name, kept.joinpath(name).read_bytes())
    _write_planned(folder / SESSION)
    return [folder / name for name in (*tables, SESSION)]


def _write_planned(folder: Path) -> None:
    """Write a planned session and, in its inbox, a typed table of each assessor's answers."""
    import numpy as np

    scenario = f"examples/{SESSION}"
    write_session(scenario, folder)
    session = load(folder)
    plan = make(session, secret=secret_of("examples", SESSION))
    save(plan, folder)
    write_server_files(plan, session)
    known = truth(scenario)
    rng = np.random.default_rng(known["seed"])
    for sheet in plan.sheets:
        answers = simulate(session, plan, sheet, known, rng)
        type_table(sheet, folder / INBOX / f"{sheet.assessor}.csv", answers)
