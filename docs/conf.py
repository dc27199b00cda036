"""The site of the documents: ``make docs`` builds it into site/, to be opened without a network.

The documents are plain Markdown. README.md says what there is in which order; the side bar
is made from its lists, so that no page needs words for the builder.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import Any

from kikichoko import __version__

project = "kikichoko"
release = __version__
author = "the kikichoko project"
extensions = ["myst_parser"]
root_doc = "README"
exclude_patterns: list[str] = []
myst_heading_anchors = 3
html_theme = "furo"
html_title = f"kikichoko {release}"
html_copy_source = False
html_show_sphinx = False
html_show_copyright = False
suppress_warnings = ["myst.xref_missing"]  # links out of docs/; tests/test_documents.py follows all


def _contents(_: Any, name: str, source: list[str]) -> None:
    """Make a table of contents of each list of README.md."""
    if name != root_doc:
        return
    for section in re.split(r"^## ", source[0], flags=re.MULTILINE)[1:]:
        pages = re.findall(r"^- \[[^]]+\]\(([^)]+)\.md\)", section, flags=re.MULTILINE)
        lines = [f":caption: {section.splitlines()[0]}", ":hidden:", "", *pages]
        source[0] += "\n```{toctree}\n" + "\n".join(lines) + "\n```\n"


def _front_page(app: Any, failed: Exception | None) -> None:
    """Let the site be opened at index.html."""
    if failed is None and app.builder.format == "html":
        out = Path(app.outdir)
        shutil.copy(out / "README.html", out / "index.html")


def setup(app: Any) -> None:
    """Take part in the build."""
    app.connect("source-read", _contents)
    app.connect("build-finished", _front_page)
