"""Does the palate keep what the nose promised?"""

from __future__ import annotations

from ...analysis.core.errors import AnalysisError
from ...analysis.profile.nose_and_palate import palate_against_nose
from ...forms.questions.question_types import Kind
from ..base.words import say, sentence
from .context import Context
from .parts import Grid, Lines, Section, lead, method

NOSE, PALATE = "aroma_intensity", "flavour_intensity"


def section(context: Context) -> Section | None:
    """Compare the intensity in the mouth with that of the smell, bottle by bottle."""
    if not {NOSE, PALATE} <= set(context.attributes(Kind.LINE)):
        return None
    try:
        found = palate_against_nose(context.tidy([NOSE, PALATE]), NOSE, PALATE)
    except AnalysisError as refusal:
        why = context.named(refusal.sentence)
        return Section(
            key="nose", title=sentence("report.nose"), blocks=(lead(why),), data=str(why)
        )
    order = {name: place for place, name in enumerate(context.samples)}
    table = found.table.sort_values("sample", key=lambda column: column.map(order))
    language = context.language
    shown = table[["sample", "n", "nose", "palate", "difference", "low", "high"]].copy()
    for column in ("nose", "palate", "difference", "low", "high"):
        shown[column] = [f"{value:.1f}" for value in shown[column]]
    shown.columns = [say(f"report.col_{name}", language) for name in shown.columns]
    said = [line for line in found.sentences() if line.key != "promise.open"]
    for row in table.to_dict("records"):
        context.note(str(row["sample"]), "nose", sentence(f"report.nose_{row['verdict']}"))
    open_ones = [line for line in found.sentences() if line.key == "promise.open"]
    return Section(
        key="nose",
        title=sentence("report.nose"),
        blocks=(
            lead(*said),
            Lines(tuple(open_ones)),
            Grid(sentence("report.nose_table"), shown),
            method(sentence("report.nose_method", tolerance=f"{found.tolerance:g}")),
        ),
        short=tuple(said),
        tables={"nose_palate": table},
        data=found.to_dict(),
    )
