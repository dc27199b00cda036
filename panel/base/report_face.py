"""The face that figures are set in: that of the sheets and the report."""

from __future__ import annotations

from ...analysis.core.look import use_face
from ...forms.paper.typeset import font_path


def set_figures_in_own_face() -> None:
    """Let all figures from now on be set in the sheets' own face, which has Japanese letters."""
    use_face(font_path(), font_path(bold=True))
