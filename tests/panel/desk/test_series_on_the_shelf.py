"""The evenings of a series stand on the shelf like any session, each with links of its own.

From the user's side: `kikichoko series` (at the terminal or by its form) makes a folder of folders;
the first page lists every evening, and each goes its way from there to its pour list.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from pathlib import Path

from click.testing import CliRunner
from desk_visitor import ask, come_in, desk, sent
from kikichoko.panel.base.session_log import read_log
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.desk.command_forms import folders
from kikichoko.panel.desk.shelf import SessionShelf

BOTTLES = "bottle,tank,fraction,available\nclear,4,clear,2\nhouse sake,1,clear,3\n"
PEOPLE = "assessor,role,language\nT1,trained,en\nT2,trained,en\n"


def test_evenings_of_two_series(folder: Callable[..., Path], tmp_path: Path):
    pattern = folder(bottles=BOTTLES, assessors=PEOPLE, replicates=1, short=True)
    shelf = tmp_path / "shelf"
    shelf.mkdir()
    shutil.copytree(pattern, shelf / "pattern")
    wanted = ["--like", str(pattern), "--over", "days", "--at", "1,4", "--from", "2026-12-01",
              "--reference", "house sake"]  # fmt: skip
    run = CliRunner().invoke(kikichoko, ["series", str(shelf / "opened"), *wanted])
    assert run.exit_code == 0, run.output
    shutil.copytree(shelf / "opened", shelf / "warm")
    shutil.copytree(pattern, shelf / "pattern" / "inside")
    shutil.copytree(pattern, shelf / "warm" / "deeper" / "still")
    shutil.copytree(pattern, shelf / "warm" / ".hidden")
    shutil.copytree(pattern, tmp_path / "outside")
    (shelf / "warm" / "linked").symlink_to(tmp_path / "outside")
    (shelf / "away").symlink_to(shelf / "warm")
    evenings = [
        f"{series}:{day}"
        for series in ("opened", "warm")
        for day in ("01-2026-12-02", "02-2026-12-05")
    ]
    with desk(shelf) as server:
        cookie, root = come_in(server), server.visitors.root
        page = ask(server, root, Cookie=cookie)[1]
        links = re.findall(r'href="([^"]+/s/[^"]+)"', page)
        assert sorted(re.findall(r">([\w:-]+)</a></th>", page)) == sorted(["pattern", *evenings])
        assert all(ask(server, f"{one}settings", Cookie=cookie)[0] == 200 for one in links)
        for name in ("warm:deeper", "warm:linked", "warm:.hidden", "pattern:inside", "warm",
                     "away:01-2026-12-02", "warm:..", "..:shelf"):  # fmt: skip
            assert ask(server, f"{root}s/{name}/settings", Cookie=cookie)[0] == 404, name
        at = f"s/{evenings[2]}/"
        assert "Planned" in sent(server, cookie, f"{at}plan")
        assert "Done" in sent(server, cookie, f"{at}do/check")
        assert [one.act for one in read_log(shelf / "warm" / "01-2026-12-02").entries] == ["plan"]
        assert not (shelf / "opened" / "01-2026-12-02" / "plan").exists()
        pours = {server.visitors.server_path(name) for name in evenings}
        assert len(pours) == 4, "a server's link of one evening is not that of another"
        text = ask(server, f"{root}{at}sheets", Cookie=cookie)[1]
        assert server.visitors.server_path(evenings[2]) in text
        look = ask(server, server.visitors.server_path(evenings[2]), b"who=-")[2]["location"]
        table = ask(server, f"{server.visitors.server_path(evenings[2])}{look}")[1]
        assert "house sake" in table
        other = f"{server.visitors.server_path(evenings[0])}{look}"
        assert ask(server, other)[0] == 404, "nor a look at it"
    assert {"opened", "opened/01-2026-12-02", "warm/02-2026-12-05"} <= {
        *folders(SessionShelf(shelf))
    }
