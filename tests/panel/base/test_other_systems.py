"""Nothing in the program needs a system of the POSIX kind, or its letters.

What can be shown here without Windows: calls that it lacks stand behind a question for the
system, files name their encoding, and names of files that are written hold no sign it refuses.
"""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from house_plan import ROOMS, ROOT, parsed

POSIX_MODULES = {"fcntl", "grp", "posix", "pty", "pwd", "resource", "termios", "tty"}
POSIX_CALLS = {
    *("fork", "getuid", "geteuid", "getpgid", "getppid", "killpg", "mkfifo", "nice", "setsid"),
    *("chown", "lchown", "chroot", "fchmod", "fchown", "statvfs", "sync", "wait", "uname"),
}
"""Of `os`, missing on Windows (Python documentation, os: "Availability: Unix")."""
SOURCES = [path for room in ROOMS for path in sorted((ROOT / room).rglob("*.py"))]


def missing_on_windows(text: str) -> Iterator[str]:
    """Name imports at the top and calls that Windows lacks, and text files without encoding."""
    tree = parsed(text)
    for node in tree.body:
        names = [one.name for one in node.names] if isinstance(node, ast.Import) else []
        names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        yield from (name for name in names if name in POSIX_MODULES)
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
            continue
        of = node.func.value
        name = node.func.attr
        if isinstance(of, ast.Name) and of.id == "os" and name in POSIX_CALLS:
            yield f"os.{name}"
        named = {word.arg for word in node.keywords}
        places = {"read_text": 1, "write_text": 2}
        if name in places and len(node.args) < places[name] and "encoding" not in named:
            yield f"{name} without an encoding"


def test_no_file_needs_what_windows_lacks():
    for path in SOURCES:
        assert list(missing_on_windows(path.read_text("utf-8"))) == [], path


def test_the_test_can_fail():
    wrong = "import fcntl\nimport os\nos.fork()\np.read_text()\np.write_text(x)\n"
    assert list(missing_on_windows(wrong)) == [
        "fcntl",
        "os.fork",
        "read_text without an encoding",
        "write_text without an encoding",
    ]


def test_examples_and_anova_on_a_japanese_terminal_of_windows(tmp_path: Path):
    """Text for people goes through cp932, in a folder with Japanese letters and a blank."""
    folder = tmp_path / "春の きき酒"
    folder.mkdir()
    code = (
        "from kikichoko.panel.cli import kikichoko, guard\n"
        "guard()\n"
        "for words in (['examples', '.'], ['anova', 'scores.csv', '--figure', '\\u56f3.png'],"
        " ['status', 'spring-tasting']):\n"
        "    kikichoko.main(args=words, standalone_mode=False)\n"
    )
    letters = {"PYTHONIOENCODING": "cp932"}
    run = subprocess.run(
        [sys.executable, "-c", code],
        cwd=folder,
        capture_output=True,
        env={**os.environ, **letters},
        check=False,
    )
    assert run.returncode == 0, run.stderr.decode("cp932", "replace")
    assert "F(3, 21) = 25.8" in run.stdout.decode("cp932")
    assert (folder / "図.png").is_file()
    refused = set('<>:"|?*\\')
    written = [path.name for path in folder.rglob("*")]
    assert len(written) > 20
    assert not [name for name in written if refused & set(name) or name.endswith((" ", "."))]
