"""Kills of the commands that write beside the store: folders, pages, figures, tables.

Each case says what may be there after a kill (the old, the new, or nothing) and what must
be there when the same command was run again. Used by `crash_runs.py`.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import crash_runs
from crash_runs import Case, command

NOTE = "What a person wrote beside it.\n"
PRACTISE = """experts = ["E1"]
students = ["S1", "S2"]
[[checks]]
attribute = "acidity"
[checks.students]
"S1" = "reversed"
"""
A4, LETTER = 595, 612
"""Width of a page in points."""


def stages(place: Path) -> None:
    """Make what these commands begin with, from the stages that are there."""
    blank = place / "blank"
    blank.mkdir()
    (place / "practise.toml").write_text(PRACTISE, "utf-8")
    wanted = place / "wanted"
    for name, words in _NEW.items():
        crash_runs._here(lambda: command("new", wanted / name, *words(place)))  # noqa: B023
    if not (place / "reported").exists():
        return
    crash_runs._next(place, "sheets", "noted", _lay_note)
    (place / "faulty.csv").write_text("assessor,code,attribute,score\nT1,999,odd,3\n", "utf-8")
    crash_runs._next(
        place, "begun", "faulty", lambda folder: command("read", folder, place / "faulty.csv")
    )
    crash_runs._next(place, "reported", "handed", _hand_out)


def _lay_note(folder: Path) -> None:
    for part in ("sheets", "report"):
        if (folder / part).exists():
            (folder / part / "note.txt").write_text(NOTE, "utf-8")


def _hand_out(folder: Path) -> None:
    """Make pages, a figure and tables once, on other paper and of other attributes."""
    _lay_note(folder)
    table = folder / "scores.csv"
    for words in (
        ("teach", table, "--expert", "T4", "--out", folder / "teaching", "--paper", "Letter"),
        ("history", folder, "--save", folder / "together"),
    ):
        with suppress(SystemExit):  # a command ends so
            command(*words)
    from kikichoko.panel.base.whole_files import list_made
    from PIL import Image

    Image.new("L", (1, 1)).save(folder / "means.png")
    shutil.copy(folder / "means.png", folder / "means-before.png")
    for name in ("scores.csv", "bottles.csv"):
        (folder / "together" / name).write_text("of an earlier call\n", "utf-8")
    list_made(folder / "together")


_NEW: dict[str, Callable[[Path], tuple[object, ...]]] = {
    "new": lambda _: (),
    "new --card": lambda _: ("--card", "brewery"),
    "new --practise": lambda place: ("--practise", place / "practise.toml"),
}


def cases() -> list[Case]:
    """Return the commands that write beside the store."""
    made = [
        Case(name, "blank", lambda f, place, words=words: command("new", f / "made", *words(place)),
             lambda f, place, name=name: _same_or_none(f / "made", place / "wanted" / name),
             lambda f, place, name=name: _same(f / "made", place / "wanted" / name),
             lambda f: (f / "made").exists())
        for name, words in _NEW.items()
    ]  # fmt: skip
    return [
        *made,
        Case("sheets again", "noted", lambda f, _: command("sheets", f, "--paper", "letter"),
             _sheets_after, _sheets_again),
        Case("report again", "handed", lambda f, _: command("report", f),
             lambda f, _: _noted(f / "report"), _report_again),
        Case("teach", "handed", lambda f, _: command(
            "teach", f / "scores.csv", "--expert", "T4", "--out", f / "teaching"),
            _pages_after, _pages_again),
        Case("anova --figure", "handed", lambda f, _: command(
            "anova", f / "scores.csv", "--figure", f / "means.png"),
            _figure_after, _figure_again),
        Case("history --save", "handed", lambda f, _: command(
            "history", f, "--save", f / "together"), _tables_after, _tables_again),
        Case("status --settle", "faulty", lambda f, _: command(
            "status", f, "--settle", "1", "--why", "seen"), _settled_after, _settled_again,
            lambda f: bool(_settled(f))),
    ]  # fmt: skip


def _contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes()
            for path in sorted(folder.rglob("*")) if path.is_file()}  # fmt: skip


def _same(made: Path, wanted: Path) -> list[str]:
    if not made.exists():
        return [f"{made.name}/ is not there"]
    have, want = _contents(made), _contents(wanted)
    wrong = [f"{name} is not as it should be" for name in have.keys() | want.keys()
             if have.get(name) != want.get(name)]  # fmt: skip
    wrong += [f"{name} can be read by others" for name in ("names.csv",)
              if (made / name).exists() and (made / name).stat().st_mode & 0o077]  # fmt: skip
    return wrong


def _same_or_none(made: Path, wanted: Path) -> list[str]:
    """The folder is whole, or there is none; nothing that was made aside can be taken for it."""
    wrong = _same(made, wanted) if made.exists() else []
    seen = [path.name for path in made.parent.iterdir() if not path.name.startswith(".")]
    return wrong + [f"{name} was left" for name in seen if name != made.name]


def _widths(folder: Path) -> set[int]:
    import pypdfium2

    found = set()
    for path in folder.glob("*.pdf"):
        with pypdfium2.PdfDocument(path) as document:
            found |= {round(min(page.get_size())) for page in document}
    return found


def _noted(folder: Path) -> list[str]:
    note = folder / "note.txt"
    kept = note.is_file() and note.read_text("utf-8") == NOTE
    return [] if kept else [f"{folder.name}/note.txt is gone"]


def _sheets_after(folder: Path, _place: Path) -> list[str]:
    widths = {one for one in _widths(folder / "sheets") if one in (A4, LETTER)}
    return _noted(folder / "sheets") + (["sheets of two kinds of paper"] if len(widths) > 1 else [])


def _sheets_again(folder: Path, place: Path) -> list[str]:
    wrong = _sheets_after(folder, place)
    names = {path.name for path in (folder / "sheets").iterdir()}
    wanted = {path.name for path in (place / "noted/sheets").iterdir()}
    wrong += [] if names == wanted else [f"sheets: {sorted(names ^ wanted)}"]
    return wrong + ([] if LETTER in _widths(folder / "sheets") else ["the old paper"])


def _report_again(folder: Path, place: Path) -> list[str]:
    wrong = _noted(folder / "report")
    names = set(_contents(folder / "report"))
    wanted = set(_contents(place / "handed/report"))
    return wrong + ([] if names == wanted else [f"report: {sorted(names ^ wanted)}"])


def _pages_after(folder: Path, _place: Path) -> list[str]:
    """All pages are those of one call."""
    found = {path.name: _widths_of(path) for path in (folder / "teaching").glob("*.pdf")}
    wrong = [] if len(found) == 4 else [f"pages: {sorted(found)}"]
    return wrong + (["pages of two calls"] if len(set(found.values())) > 1 else [])


def _widths_of(path: Path) -> int:
    import pypdfium2

    with pypdfium2.PdfDocument(path) as document:
        return round(min(document[0].get_size()))


def _pages_again(folder: Path, place: Path) -> list[str]:
    old = [path.name for path in (folder / "teaching").glob("*.pdf") if _widths_of(path) != A4]
    return _pages_after(folder, place) + [f"{name} is of the earlier call" for name in old]


def _figure_after(folder: Path, _place: Path) -> list[str]:
    """The figure is the old or the new one, never a part of one."""
    content = (folder / "means.png").read_bytes()
    whole = content.startswith(b"\x89PNG") and content[-8:-4] == b"IEND"
    return [] if whole else ["the figure is torn"]


def _figure_again(folder: Path, place: Path) -> list[str]:
    old = (folder / "means.png").read_bytes() == (folder / "means-before.png").read_bytes()
    return _figure_after(folder, place) + (["the figure is the old one"] if old else [])


def _tables_after(folder: Path, _place: Path) -> list[str]:
    """Both tables are of one call; a torn one would lack its last rows."""
    texts = [(folder / "together" / name).read_text("utf-8") for name in
             ("scores.csv", "bottles.csv")]  # fmt: skip
    old = [text == "of an earlier call\n" for text in texts]
    return ["tables of two calls"] if len(set(old)) > 1 else []


def _tables_again(folder: Path, place: Path) -> list[str]:
    old = "of an earlier call" in (folder / "together/scores.csv").read_text("utf-8")
    return _tables_after(folder, place) + (["the old tables"] if old else [])


def _settled(folder: Path) -> list[tuple[object, ...]]:
    database = sqlite3.connect(folder / "answers.sqlite")
    try:
        names = {str(name) for (name,) in database.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table'")}  # fmt: skip
        if "settled" not in names:
            raise AssertionError(sorted(names))
        return database.execute("SELECT * FROM settled").fetchall()
    finally:
        database.close()


def _settled_after(folder: Path, place: Path) -> list[str]:
    wrong = []
    if crash_runs.answers_in(folder) != crash_runs.answers_in(place / "faulty"):
        wrong.append("answers are not as they were")
    return wrong + ([] if len(_settled(folder)) <= 1 else ["settled twice"])


def _settled_again(folder: Path, place: Path) -> list[str]:
    return _settled_after(folder, place) + ([] if _settled(folder) else ["not settled"])
