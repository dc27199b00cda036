"""What kills of the desk do: at random moments while it saves, makes, plans, reads and opens.

    python benchmarks/desk.py [KILLS] [SEED]

A desk is started for each kill and asked for one act by a form. It is killed (SIGKILL) at a moment
drawn between the sending and a little more than the act takes: in one half alone, so that a
command that it started goes on, in the other with all that it started. Then the folder must be
whole (old or new, never between; what was told as done is done), `kikichoko check` must find
nothing, and a new desk must show the session and do the act. The result stands in docs/promises.md.
"""

from __future__ import annotations

import http.client
import shutil
import sys
import tempfile
import threading
import time
from pathlib import Path
from urllib.parse import urlencode

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests/tools"))
from click.testing import CliRunner
from desk_visitor import DeskProcess, filled, multipart
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.returns.store import FILE, Store

ACTS = ("table", "settings", "new", "plan", "read", "open", "change")
TITLE, OLD = "Another heading", "Killed"
SHORT = """[questions]
only = ["clarity", "aroma_intensity", "sweetness", "acidity"]
"""


def prepare(shelf: Path, inbox: Path) -> None:
    """Write a session that is not planned, and one that is, with three filled workbooks."""
    for name in ("fresh", "planned"):
        place = shelf / name
        run("new", place)
        text = (place / "session.toml").read_text("utf-8")
        (place / "session.toml").write_text(
            text.replace('card = "full"', 'card = "brewery"'), "utf-8"
        )
        (place / "bottles.csv").write_text("bottle,available\nA,3\nB,3\n", "utf-8")
        (place / "assessors.csv").write_text("assessor,role\nT1,trained\nT2,trained\n", "utf-8")
    run("plan", shelf / "planned")
    run("sheets", shelf / "planned")
    inbox.mkdir()
    filled(shelf / "planned", inbox)


def run(*words: object) -> None:
    done = CliRunner().invoke(kikichoko, [str(word) for word in words])
    if done.exit_code not in (0, 3):
        raise SystemExit(done.output)


class Asked(threading.Thread):
    """A form that is sent; what came back, if anything did."""

    def __init__(self, desk: DeskProcess, act: str, inbox: Path) -> None:
        super().__init__()
        self.desk, self.act, self.inbox = desk, act, inbox
        self.told = ""

    def run(self) -> None:
        """Send it and wait."""
        try:
            self.told = send(self.desk, self.act, self.inbox)
        except (OSError, http.client.HTTPException):
            return


def send(desk: DeskProcess, act: str, inbox: Path) -> str:
    """Ask for an act as its page does; return what the page that follows tells."""
    if act == "new":
        form = {"folder": "made", "title": TITLE, "questions.card": "brewery", "date": "2026-05-01"}
        return desk.send("new", urlencode(form).encode())
    if act in ("table", "settings"):
        page = "bottles" if act == "table" else "settings"
        form = desk.form(f"s/fresh/{page}")
        if act == "table":
            form |= {"2.0": "C"}
        else:
            form |= {"title": TITLE, "how": "fields"}
        return desk.send(f"s/fresh/{page}", urlencode(form).encode())
    if act == "plan":
        return desk.send("s/fresh/plan", b"")
    if act == "read":
        files = [("files", path.name, path.read_bytes()) for path in sorted(inbox.iterdir())]
        content, kind = multipart(*files)
        return desk.send("s/planned/returns", content, Content_Type=kind)
    if act == "change":
        return desk.send("s/planned/do/change/left", b"assessor=T1&place=1")
    return desk.send("s/planned/open", b"yes=1")


def whole(shelf: Path, act: str, told: str, before: dict[str, str], wanted: int) -> list[str]:
    """Say what is neither old nor new, or was told as done and is not."""
    wrong = []
    done = 'class="told"' in told
    if act in ("table", "settings"):
        name = "bottles.csv" if act == "table" else "session.toml"
        now = (shelf / "fresh" / name).read_text("utf-8")
        new = now != before[name] and ("C,3" in now if act == "table" else TITLE in now)
        if now != before[name] and not (new and now.endswith("\n")):
            wrong.append(f"{name} is neither old nor new")
        if done and not new:
            wrong.append(f"{name} was told as saved")
    if act == "new":
        made = shelf / "made"
        new = made.exists() and TITLE in (made / "session.toml").read_text("utf-8")
        if made.exists() and not (new and (made / "READ_ME.txt").is_file()):
            wrong.append("half a session")
        if done and not new:
            wrong.append("the session was told as made")
    if act == "read" and (shelf / "planned" / FILE).is_file():
        with Store(shelf / "planned", reading=True) as store:
            if store.database.execute("PRAGMA integrity_check").fetchone() != ("ok",):
                wrong.append("the store is damaged")
            counts: dict[str, int] = {}
            for one in store.answers():
                counts[one.answer.assessor] = counts.get(one.answer.assessor, 0) + 1
        if any(count != wanted for count in counts.values()):
            wrong.append(f"half a sheet: {counts}")
        if done and len(counts) != 3:
            wrong.append("a sheet was told as taken in")
    for name in ("fresh", "planned"):
        if (shelf / name / "plan/plan.json").is_file():
            found = CliRunner().invoke(kikichoko, ["check", str(shelf / name)])
            if found.exit_code:
                wrong.append(f"check {name}: {found.output.strip()[:300]}")
    return wrong


def main(many: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    top = Path(tempfile.mkdtemp())
    prepare(top / "base", top / "inbox")
    took: dict[str, float] = {}
    base = {name: (top / "base/fresh" / name).read_text("utf-8")
            for name in ("bottles.csv", "session.toml")}  # fmt: skip
    wanted = 0
    broken: list[str] = []
    kinds = {"done": 0, "not": 0}
    for number in range(-len(ACTS), many):
        act = ACTS[number % len(ACTS)]
        shelf = top / "shelf"
        shutil.rmtree(shelf, ignore_errors=True)
        shutil.copytree(top / "base", shelf)
        with DeskProcess(shelf) as desk:
            began = time.perf_counter()
            asked = Asked(desk, act, top / "inbox")
            asked.start()
            if number < 0:  # once without a kill, to know how long it takes
                asked.join()
                took[act] = time.perf_counter() - began
                if 'class="told"' not in asked.told:
                    raise SystemExit(f"{act}: {asked.told[-3000:]}")
                if act == "read":
                    with Store(shelf / "planned", reading=True) as store:
                        wanted = len(store.answers()) // 3
                continue
            time.sleep(float(rng.uniform(0, 1.1 * took[act])))
            desk.kill(with_all=number % 2 == 0)
            asked.join()
        kinds["done" if asked.told else "not"] += 1
        wrong = whole(shelf, act, asked.told, base, wanted)
        with DeskProcess(shelf) as desk:
            for name in ("fresh", "planned"):
                if desk.ask(f"s/{name}/bottles")[0] != 200:
                    wrong.append(f"{name} does not open again")
            told = send(desk, act, top / "inbox")
            if 'class="told"' not in told and 'class="told bad"' not in told:
                wrong.append("the act cannot be asked for again")
        wrong += whole(shelf, act, "", base, wanted)
        broken += [f"{number} {act}: {one}" for one in wrong]
        print(number, act, "told" if asked.told else "-", wrong, flush=True)
    print(f"{many} kills, {kinds['done']} after the answer, seed {seed}: {len(broken)} broken")
    print("\n".join(broken))
    shutil.rmtree(top)


if __name__ == "__main__":
    given = [int(one) for one in sys.argv[1:]] + [30, 1][len(sys.argv) - 1 :]
    main(*given[:2])
