"""The rooms of the house as the imports draw them: ``python tests/tools/house_plan.py``.

Prints each room's sub-rooms by level with the question they answer, their
number of files and lines, and the sub-rooms that they import. ``--write`` puts
the table of rooms into DEVELOPERS.md.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGE = "kikichoko"
GUIDE = ROOT / "DEVELOPERS.md"
START, END = "<!-- rooms -->", "<!-- end of rooms -->"
LEVELS: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "analysis": (
        ("core",),
        ("inference", "mixed_model", "ranking", "chemistry"),
        ("profile", "agreement", "anova", "ordinal", "difference", "link"),
        ("power", "citations"),
        ("performance", "maps", "claims"),
        ("teaching", "memory"),
    ),
    "forms": (
        ("questions",),
        ("answers", "paper", "free_words"),
        ("spreadsheets", "photo"),
        ("",),
    ),
    "panel": (
        ("base",),
        ("session",),
        ("plan", "batches"),
        ("returns", "handouts"),
        ("open_flight", "packs", "table"),
        ("key", "findings", "desk"),
        ("few", "overview"),
        ("report",),
        ("school", "across", "offer"),
        ("demos",),
        ("commands",),
        ("",),
    ),
}
"""The order of the house: a sub-room imports only sub-rooms of a lower level of its
room. An empty name is the room's own top: the door of `forms`, the command line."""
ROOMS = tuple(LEVELS)
DOOR = "door"
"""The files of `kikichoko` itself, in ``panel/door``: what all rooms stand on."""


def module_of(path: Path, root: Path = ROOT) -> str:
    """Return the dotted name under which a file is imported."""
    parts = path.relative_to(root).with_suffix("").parts
    if parts[:2] == ("panel", DOOR):
        parts = parts[2:]
    return ".".join((PACKAGE, *(parts[:-1] if parts[-1] == "__init__" else parts)))


def sources(root: Path = ROOT) -> dict[str, Path]:
    """Return every file of code by its dotted name."""
    return {
        module_of(path, root): path
        for room in ROOMS
        for path in sorted((root / room).rglob("*.py"))
    }


@cache
def parsed(text: str) -> ast.Module:
    """Parse what a file holds, once for all who look at it."""
    return ast.parse(text)


@cache
def walked(text: str) -> tuple[ast.AST, ...]:
    """Return all nodes of what a file holds, walked once for all who look at it."""
    return tuple(ast.walk(parsed(text)))


@cache
def imports_in(text: str) -> tuple[ast.Import | ast.ImportFrom, ...]:
    """Return all imports of a text, also inside functions."""
    return tuple(node for node in walked(text) if isinstance(node, ast.Import | ast.ImportFrom))


def imported(path: Path, root: Path = ROOT) -> Iterator[str]:
    """Yield the dotted names that a file imports from the house, also inside functions."""
    module = module_of(path, root).split(".")
    package = module if path.name == "__init__.py" else module[:-1]
    for node in imports_in(path.read_text("utf-8")):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        else:
            base = package[: len(package) - node.level + 1] if node.level else []
            stem = ".".join([*base, *([node.module] if node.module else [])])
            yield stem
            yield from (f"{stem}.{name.name}" for name in node.names)


@cache
def graph(root: Path = ROOT) -> dict[str, set[str]]:
    """Return for each file the files of the house that it imports."""
    files = sources(root)
    found: dict[str, set[str]] = {}
    for module, path in files.items():
        found[module] = {name for name in imported(path, root) if name in files} - {module}
    return found


def circles(arrows: Mapping[str, set[str]]) -> list[list[str]]:
    """Return the groups of files that import each other, by Tarjan's algorithm."""
    number: dict[str, int] = {}
    low: dict[str, int] = {}
    stack: list[str] = []
    found: list[list[str]] = []

    def visit(node: str) -> None:
        number[node] = low[node] = len(number)
        stack.append(node)
        for other in arrows.get(node, ()):
            if other not in number:
                visit(other)
                low[node] = min(low[node], low[other])
            elif other in stack:
                low[node] = min(low[node], number[other])
        if low[node] == number[node]:
            group = stack[stack.index(node) :]
            del stack[stack.index(node) :]
            if len(group) > 1:
                found.append(sorted(group))

    for node in arrows:
        if node not in number:
            visit(node)
    return found


def place(module: str, files: Mapping[str, Path]) -> tuple[str, str]:
    """Return room and sub-room of a file; the sub-room is empty at the room's top."""
    _, *names = module.split(".")
    if not names or names[0] not in ROOMS:
        return DOOR, ""
    room, *rest = names
    inside = len(rest) > 1 or (len(rest) == 1 and files[module].name == "__init__.py")
    return room, rest[0] if inside else ""


def level(room: str, part: str) -> int:
    """Return the level of a sub-room, from 0; KeyError where it has none."""
    for number, parts in enumerate(LEVELS[room]):
        if part in parts:
            return number
    raise KeyError(f"{room}/{part} has no level in LEVELS")


def arrows_up(root: Path = ROOT) -> list[str]:
    """Name the imports that go up or sideways between the sub-rooms of a room."""
    files = sources(root)
    wrong = []
    for module, others in graph(root).items():
        room, part = place(module, files)
        for other in sorted(others):
            if other == f"{PACKAGE}.{room}":
                continue
            there, target = place(other, files)
            if there == room and target != part and level(room, target) >= level(room, part):
                wrong.append(f"{module} -> {other}")
    return wrong


def parts_of(root: Path = ROOT) -> Iterator[tuple[str, int, str, str, list[str]]]:
    """Yield room, level from 1, sub-room, its question, and what it imports of its room."""
    files = sources(root)
    arrows = graph(root)
    for room, levels in LEVELS.items():
        for number, parts in enumerate(levels, start=1):
            for part in filter(None, parts):
                own = [name for name in files if place(name, files) == (room, part)]
                doc = ast.get_docstring(
                    parsed((root / room / part / "__init__.py").read_text("utf-8"))
                )
                below = {place(other, files) for name in own for other in arrows[name]}
                inside = sorted(there for where, there in below if where == room and there != part)
                yield (
                    room,
                    number,
                    part,
                    (doc or "").splitlines()[0],
                    [one for one in inside if one],
                )


def table() -> str:
    """Return the sub-rooms as a table in Markdown."""
    rows = ["| room | level | question | imports of its room |", "|---|---|---|---|"]
    doc = ast.get_docstring(parsed((ROOT / "panel" / DOOR / "__init__.py").read_text("utf-8")))
    rows.append(f"| `panel/{DOOR}/` | 0 | {(doc or '').splitlines()[0]} | – |")
    rows += [
        f"| `{room}/{part}/` | {number} | {question} | {', '.join(inside) or '–'} |"
        for room, number, part, question, inside in parts_of()
    ]
    return "\n".join(rows)


def written_into(text: str) -> str:
    """Return the text of DEVELOPERS.md with its table of rooms as it is now."""
    head, rest = text.split(START)
    _, tail = rest.split(END)
    return f"{head}{START}\n{table()}\n{END}{tail}"


def main() -> None:
    """Print the house, or write its table."""
    if "--write" in sys.argv[1:]:
        GUIDE.write_text(written_into(GUIDE.read_text("utf-8")), "utf-8")
        return
    files = sources()
    arrows = graph()
    below_all = [name for name in files if place(name, files)[0] == DOOR]
    print(f"panel/{DOOR}/: {', '.join(below_all)}")
    for room, levels in LEVELS.items():
        print(f"{room}/")
        for number, parts in enumerate(levels, start=1):
            for part in parts:
                own = [name for name in files if place(name, files) == (room, part)]
                lines = sum(len(files[name].read_text("utf-8").splitlines()) for name in own)
                below = {
                    there if there_room == room else f"{there_room}/{there}"
                    for name in own
                    for there_room, there in (place(other, files) for other in arrows[name])
                    if (there_room, there) != (room, part) and there
                }
                print(f"  {number}  {part or '(door)'}: {len(own)} files, {lines:,} lines")
                print(f"       imports {', '.join(sorted(below)) or 'nothing of the house'}")


if __name__ == "__main__":
    main()
