"""The face that figures need for a language."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...forms.paper.typeset import font_path

if TYPE_CHECKING:
    from matplotlib.font_manager import FontProperties


def face(language: str) -> FontProperties | None:
    """Return the sheets' own face where the usual one lacks the letters; else None.

    >>> face("en") is None
    True
    """
    if language != "ja":
        return None
    from matplotlib.font_manager import FontProperties

    return FontProperties(fname=str(font_path()))
