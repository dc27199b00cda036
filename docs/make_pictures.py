"""The pictures of the documents, each drawn by the code from the tables of `kikichoko examples`.

``docs/make_pages.py`` writes them; its ``--check`` fails when one is not what the code draws now.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from functools import partial
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PICTURES = Path(__file__).parent / "pictures"
EXAMPLES = Path(__file__).parents[1] / "demo_sessions" / "examples"
_NUMBER = re.compile(r"-?\d+\.?\d*(?:e-?\d+)?")
_NEAR = 0.5
"""Points (1/72 inch) by which another machine's arithmetic may move a line of a picture."""


def table(name: str) -> pd.DataFrame:
    """Read one of the example tables."""
    return pd.read_csv(EXAMPLES / f"{name}.csv")


def _anova(language: str = "en") -> Figure:
    from kikichoko.analysis.anova import anova
    from kikichoko.analysis.core import tidy

    scores = tidy(table("scores"))
    return anova(scores).figure(scores, language=language)


def _residuals() -> Figure:
    from kikichoko.analysis.anova import residual_checks

    return residual_checks(table("scores"), ["sweetness"]).figure()


def _agreement() -> Figure:
    from kikichoko.analysis.agreement import agreement

    return agreement(table("scores")).figure()


def _assessors(language: str = "en") -> Figure:
    from kikichoko.analysis.core import tidy
    from kikichoko.analysis.performance import assessors

    scores = tidy(table("scores"))
    found = assessors(scores, attributes=["sweetness", "body"])
    return found.overview(scores, language=language)


def _words() -> Figure:
    from kikichoko.analysis.citations import descriptors
    from kikichoko.panel.session.term_tree import word_tree

    found = descriptors(table("words"))
    return found.figure(word_tree(found.citations.attributes))


def _ordinal() -> Figure:
    from kikichoko.analysis.ordinal import ordinal

    return ordinal(table("severity")).figure()


def _map() -> Figure:
    from kikichoko.analysis.maps import profile_map

    return profile_map(table("scores")).figure()


def _ranks() -> Figure:
    from kikichoko.analysis.ranking import rank_test

    return rank_test(table("ranks")).figure()


def _threshold() -> Figure:
    from kikichoko.analysis.difference import threshold

    steps = table("steps").rename(columns={"ug_per_l": "concentration"})
    return threshold(steps).figure()


def _link() -> Figure:
    from kikichoko.analysis.link import link

    return link(table("tank-scores"), table("tank-bottles")).figure()


def _charts() -> Figure:
    from kikichoko.analysis.performance import assessor_charts

    return assessor_charts(table("season"), session="date").figure()


def _power() -> Figure:
    from kikichoko.analysis.power import detectable_in

    return detectable_in(table("scores"), "sweetness").figure()


DRAWN: dict[str, Callable[[], Figure]] = {
    "anova": _anova,
    "anova_ja": partial(_anova, "ja"),
    "residuals": _residuals,
    "agreement": _agreement,
    "assessors": _assessors,
    "assessors_ja": partial(_assessors, "ja"),
    "words": _words,
    "ordinal": _ordinal,
    "map": _map,
    "ranks": _ranks,
    "threshold": _threshold,
    "link": _link,
    "charts": _charts,
    "power": _power,
}


def picture(name: str) -> bytes:
    """Draw a picture as SVG."""
    from kikichoko.analysis.core.look import save
    from kikichoko.panel.base.report_face import set_figures_in_own_face

    set_figures_in_own_face()
    out = io.BytesIO()
    save(DRAWN[name](), out, kind="svg", salt=name)
    return out.getvalue()


def same(one: str, other: str) -> bool:
    """Tell whether two SVG show the same: the same parts, every number within `_NEAR`."""
    if one == other:
        return True
    if _NUMBER.sub("#", one) != _NUMBER.sub("#", other):
        return False
    pairs: Iterator[tuple[Any, Any]] = zip_longest(_NUMBER.findall(one), _NUMBER.findall(other))
    return all(abs(float(a) - float(b)) <= _NEAR for a, b in pairs)


def stale_pictures() -> Iterator[str]:
    """Name the pictures that are not what the code draws now."""
    for name in DRAWN:
        path = PICTURES / f"{name}.svg"
        if not path.is_file() or not same(path.read_text("utf-8"), picture(name).decode()):
            yield path.name


def write_pictures() -> None:
    """Write the pictures that are stale; the others keep their bytes."""
    for name in list(stale_pictures()):
        (PICTURES / name).write_bytes(picture(name.removesuffix(".svg")))
