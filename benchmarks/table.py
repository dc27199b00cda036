"""How fast a table takes touches, what kills and hostile connections do to it.

    python benchmarks/table.py [ASSESSORS] [TOUCHES] [KILLS] [CONNECTIONS] [SEED]

60 assessors send 20 touches each, at once and without a pause: latency at the median and 99 %, and
whether each touch is in the store, once and in order. Then kills (SIGKILL) at random moments while
12 of them save. Then connections of three kinds stay open while somebody saves 25 times. The
result stands in docs/promises.md.
"""

from __future__ import annotations

import http.client
import json
import socket
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests/tools"))
from kikichoko.panel.plan.plan_file import load_table
from kikichoko.panel.returns.store import Store
from table_visitor import Phone, in_process, links_of, planned


def stored(place: Path) -> dict[str, list[int]]:
    with Store(place, reading=True) as store:
        found: dict[str, list[int]] = {}
        for who, number in store.database.execute(
            "SELECT assessor, number FROM touches ORDER BY id"
        ):
            found.setdefault(who, []).append(number)
    return found


class Sender(threading.Thread):
    """An assessor who saves without a pause over one kept connection, until it breaks."""

    def __init__(self, phone: Phone, cup: str, many: int) -> None:
        super().__init__()
        self.phone, self.cup, self.many = phone, cup, many
        self.saved: list[int] = []
        self.took: list[float] = []

    def run(self) -> None:
        """Save until all is saved or the line breaks."""
        links = self.phone.links
        line = http.client.HTTPConnection(links.host, links.port, timeout=60)
        try:
            for value in range(self.many):
                told = self.phone.touch(
                    code=self.cup, attribute="sweetness", value=value % 100 / 10
                )
                content = json.dumps({"device": self.phone.device, "touches": [told]})
                began = time.perf_counter()
                line.request(
                    "POST",
                    self.phone.path + "touches",
                    content,
                    {"Host": links.place, "Content-Type": "application/json"},
                )
                done = json.loads(line.getresponse().read())["done"]
                self.took.append(time.perf_counter() - began)
                if done == [[told["n"], "saved"]]:
                    self.saved.append(told["n"])
        except (OSError, http.client.HTTPException, ValueError):
            return
        finally:
            line.close()


def senders(place: Path, links, many: int, touches: int) -> list[Sender]:
    sheets = load_table(place).own_sheets
    made = [
        Sender(Phone(links, code), sheets[code].presentations[0].name, touches)
        for code in list(sheets)[:many]
    ]
    for one in made:
        one.start()
    return made


def speed(place: Path, assessors: int, touches: int) -> None:
    links = links_of(place)
    with in_process(place, links):
        began = time.perf_counter()
        made = senders(place, links, assessors, touches)
        for one in made:
            one.join()
        lasted = time.perf_counter() - began
    took = 1000 * np.concatenate([one.took for one in made])
    here = stored(place)
    wrong = [
        one.phone.code
        for one in made
        if here.get(one.phone.code) != list(range(1, touches + 1)) or len(one.saved) != touches
    ]
    print(
        f"{assessors} assessors, {took.size} touches: {took.size / lasted:.0f} a second, "
        f"{np.median(took):.0f} ms at the median, {np.percentile(took, 99):.0f} ms at 99 %; "
        f"lost, doubled or reordered: {len(wrong)}"
    )


def kills(place: Path, many: int, rng: np.random.Generator) -> None:
    links, lost, called = links_of(place), 0, 0
    for _ in range(many):
        with in_process(place, links) as process:
            made = senders(place, links, 12, 100_000)
            time.sleep(float(rng.uniform(0.05, 0.6)))
            process.kill()
            for one in made:
                one.join()
        with Store(place, reading=True) as store:
            whole = store.database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            found = set(store.database.execute("SELECT device, number FROM touches"))
        for one in made:
            called += len(one.saved)
            lost += sum((one.phone.device, number) not in found for number in one.saved)
        lost += not whole
    print(f"{many} kills, {called} touches called saved, {lost} lost")


def idle(place: Path, many: int) -> None:
    links = links_of(place)
    cup = load_table(place).own_sheets["P00"].presentations[0].name
    with in_process(place, links):
        phone = Phone(links, "P00")
        head = f"POST {phone.path}touches HTTP/1.1\r\nHost: {links.place}\r\n"
        rest = "Content-Type: application/json\r\nContent-Length: 900\r\n\r\n{"
        for kind, sent in (("idle", ""), ("half a head", head), ("half a body", head + rest)):
            lines = []
            for _ in range(many):
                line = socket.create_connection((links.host, links.port), timeout=20)
                line.sendall(sent.encode())
                lines.append(line)
            took = []
            for value in range(25):
                began = time.perf_counter()
                phone.mark(cup, "acidity", value % 10)
                took.append(time.perf_counter() - began)
            for line in lines:
                line.close()
            print(f"{many} connections, {kind}: 25 of 25 saved, slowest {max(took):.2f} s")


def main() -> None:
    given = [int(one) for one in sys.argv[1:]]
    assessors, touches, many, connections, seed = (given + [60, 20, 50, 1000, 16][len(given) :])[:5]
    people = "".join(f"P{number:02d},student,,en\n" for number in range(assessors))
    with tempfile.TemporaryDirectory() as made:
        place = planned(
            Path(made).resolve() / "session", assessors=f"assessor,role,style,language\n{people}"
        )
        speed(place, assessors, touches)
        kills(place, many, np.random.default_rng(seed))
        idle(place, connections)


if __name__ == "__main__":
    main()
