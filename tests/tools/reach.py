"""What of `analysis` can be reached: ``python tests/tools/reach.py`` lists what cannot.

A function or class is reached when a command, a section of the report or an example in a
document uses it, or something that is reached uses it. What is left could only be imported.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

from house_plan import PACKAGE, ROOT, module_of, sources

Name = tuple[str, str]
"""Dotted name of a file, and a name at its top."""


def handed_on(root: Path = ROOT) -> dict[Name, Name]:
    """Return where each name that a sub-room hands on is defined."""
    found = {}
    for room in ("analysis", "forms", "panel"):
        for stub in sorted((root / room).rglob("__init__.pyi")):
            package = module_of(stub.with_suffix(".py"), root)
            for node in ast.parse(stub.read_text("utf-8")).body:
                if isinstance(node, ast.ImportFrom) and node.module:
                    for name in node.names:
                        found[package, name.name] = (f"{package}.{node.module}", name.name)
    return found


def imports_of(tree: ast.AST, module: str, *, is_package: bool) -> dict[str, Name]:
    """Return what each imported name of a file stands for, also where imported in a function."""
    package = module.split(".") if is_package else module.split(".")[:-1]
    found = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            stem = ".".join([*base, *([node.module] if node.module else [])])
            for name in node.names:
                found[name.asname or name.name] = (stem, name.name)
    return found


def used_in(node: ast.AST, names: Mapping[str, Name], modules: set[str]) -> Iterator[Name]:
    """Yield what a piece of code uses: imported names, and attributes of imported files."""
    for part in ast.walk(node):
        if isinstance(part, ast.Name) and part.id in names:
            yield names[part.id]
        elif isinstance(part, ast.Attribute) and isinstance(part.value, ast.Name):
            stem, name = names.get(part.value.id, ("", ""))
            if f"{stem}.{name}" in modules:
                yield f"{stem}.{name}", part.attr


def definitions(tree: ast.Module) -> dict[str, list[ast.stmt]]:
    """Return the statements that define or change each name at the top of a file."""
    found: dict[str, list[ast.stmt]] = {}
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            found.setdefault(node.name, []).append(node)
        elif not isinstance(node, ast.Import | ast.ImportFrom):
            for part in ast.walk(node):
                if isinstance(part, ast.Name) and isinstance(part.ctx, ast.Store):
                    found.setdefault(part.id, []).append(node)
    return found


def documented(root: Path = ROOT) -> set[Name]:
    """Return what the examples of README and docs import."""
    found = set()
    for path in [root / "README.md", *sorted((root / "docs").glob("*.md"))]:
        text = path.read_text("utf-8")
        for module, names in re.findall(r">>> from ([\w.]+) import ([\w, ]+)", text):
            found |= {(module, name) for name in names.split(", ")}
    return found


def unreached(root: Path = ROOT) -> dict[Name, int]:
    """Return the functions and classes of `analysis` that nothing reaches, with their lines."""
    files = sources(root)
    handed = handed_on(root)
    uses: dict[Name, set[Name]] = {}
    lines: dict[Name, int] = {}
    open_ends = documented(root)
    for module, path in files.items():
        tree = ast.parse(path.read_text("utf-8"))
        known = imports_of(tree, module, is_package=path.name == "__init__.py")
        if not module.startswith(f"{PACKAGE}.analysis"):
            open_ends |= set(used_in(tree, known, set(files)))
            continue
        own = definitions(tree)
        known |= {name: (module, name) for name in own}
        for name, nodes in own.items():
            uses[module, name] = {use for node in nodes for use in used_in(node, known, set(files))}
            if isinstance(nodes[0], ast.FunctionDef | ast.ClassDef):
                lines[module, name] = (nodes[0].end_lineno or 0) - nodes[0].lineno + 1
    reached: set[Name] = set()
    while open_ends:
        name = open_ends.pop()
        name = handed.get(name, name)
        if name not in reached:
            reached.add(name)
            open_ends |= uses.get(name, set())
    return {name: count for name, count in lines.items() if name not in reached}


def main() -> None:
    """Print what cannot be reached."""
    found = unreached()
    for (module, name), count in found.items():
        print(f"{module}.{name}: {count} lines")
    print(f"{len(found)} names, {sum(found.values())} lines")


if __name__ == "__main__":
    main()
