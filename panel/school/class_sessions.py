"""A class from session folders or tables: who teaches, who learns, what was in the bottles.

What was in the bottles stands in the column ``control`` of ``bottles.csv``: ``clean``, or the
fault that was put in. A ``class.toml`` beside ``session.toml`` is needed only for a margin of
one's own or for two names of one bottle; it may name controls too::

    margin = 1.0                      # scale points that are still good enough
    clean = ["bottle-1", "bottle-2"]  # known to carry no fault
    [spiked]
    bottle-4 = "buttery"              # a fault of the scorecard
    [repeats]
    bottle-6 = "bottle-2"             # two names of one bottle

It lies in the session folder, which only the person who pours can see, and is
never read when sheets are written. A bottle is one of a session: the same name may be
clean in one and spiked in another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict, Field

from ...analysis.teaching.against_expert import FAULT
from ...forms.questions.cards import NO_FAULT
from ...forms.questions.term_vocabulary import Vocabulary, vocabulary
from ..base.errors import InputRefused
from ..base.toml_text import toml_of
from ..base.words import say
from .days_said import said_day

if TYPE_CHECKING:
    import pandas as pd

    from ...analysis.core.words import Sentence
    from ...analysis.teaching.class_result import Teaching
    from ...forms.questions.question_types import Scorecard
    from ..session.session import Session

FILE = "class.toml"
MARGIN = 1.0
CLEAN = "clean"


class Known(BaseModel):
    """The content of ``class.toml``."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    margin: float = Field(MARGIN, gt=0)
    clean: list[str] = []
    spiked: dict[str, str] = {}
    repeats: dict[str, str] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class School:
    """Everything that `kikichoko.analysis.teaching.against_expert.teaching` is asked with.

    Attributes
    ----------
    scores : DataFrame
        Tidy rows of all sessions.
    experts, students : list of str
    margin : float
        Scale points that are still good enough.
    controls : DataFrame or None
        ``session, sample, truth``: the fault that was put in, "" for clean.
    repeats : dict
        Two names of one bottle.
    names : dict of str to dict
        By language: attributes as people read them.
    languages : dict
        By student; English where there is none.
    free_words : DataFrame or None
        ``session, assessor, sample, text``: what people wrote in their own words.
    vocabulary : Vocabulary
        That of the last session.
    title, date : str
        Of the last session.
    days : dict of str to tuple of str
        By session: its date (ISO 8601) and its title.
    practised : dict of str to list of Sentence
        By student: what became of what the last session was held to practise.
    waiting : dict of str to int
        By student: answers that came back and wait for somebody to look at them.
    brewed : dict of str to list of str
        By student: bottles that he or she brewed, whose own marks are left out of `scores`.
    """

    scores: pd.DataFrame
    experts: list[str]
    students: list[str]
    margin: float = MARGIN
    controls: pd.DataFrame | None = None
    repeats: Mapping[str, str] = field(default_factory=dict)
    names: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    languages: Mapping[str, str] = field(default_factory=dict)
    free_words: pd.DataFrame | None = None
    vocabulary: Vocabulary = field(default_factory=vocabulary)
    title: str = ""
    date: str = "2000-01-01"
    days: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    practised: Mapping[str, Sequence[Sentence]] = field(default_factory=dict)
    waiting: Mapping[str, int] = field(default_factory=dict)
    brewed: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def name(self, attribute: str, language: str = "en") -> str:
        """Write an attribute as people read it."""
        plain = attribute.rpartition(":")[2].replace("_", " ")
        return self.names.get(language, {}).get(attribute) or plain

    def session_name(self, session: str, language: str = "en") -> str:
        """Write a session as people speak of it: by its day, the title where a day had several.

        A session of a table keeps its name.
        """
        if session not in self.days:
            return session
        day, title = self.days[session]
        years = {other[:4] for other, _ in self.days.values()}
        said = said_day(day, language, year=len(years) > 1)
        if Counter(other for other, _ in self.days.values())[day] == 1:
            return said
        titles = Counter(one for _, one in self.days.values())
        return say("feedback.day_title", language, day=said,
                   title=title if titles[title] == 1 else session)  # fmt: skip

    def title_of(self, sessions: Sequence[str], language: str = "en") -> str:
        """Write what these sessions are called: the one title, or the first and the last."""
        titles = [self.days[one][1] for one in sessions if one in self.days] or [self.title]
        first, last = titles[0], titles[-1]
        return first if first == last else say("feedback.titles", language, first=first, last=last)

    @property
    def bottles(self) -> frozenset[str]:
        """Names of the bottles: they are never written otherwise."""
        return frozenset(map(str, self.scores["sample"].unique()))

    def language(self, student: str) -> str:
        """Return the language of a student's page."""
        return self.languages.get(student, "en")


def read_known(path: Path) -> Known:
    """Read ``class.toml``.

    Raises
    ------
    InputRefused
        If it is no TOML, or says something that is not understood.
    """
    try:
        return Known(**toml_of(path.read_text("utf-8")))
    except (ValueError, TypeError) as fault:
        raise InputRefused("teach.bad_class", path=path, why=fault) from fault


def from_folders(folders: Sequence[Path]) -> School:
    """Gather one or several session folders; their keys are opened on the record.

    Raises
    ------
    InputRefused
        If there is no expert or no student among the assessors.
    """
    import pandas as pd

    from ...forms.questions.words import languages as known_languages
    from ..plan.plan_file import load_open
    from ..report.build import open_context
    from ..returns.open_marks import waiting_of
    from ..returns.store import Store
    from ..session.roster import brewed_by, without_own
    from ..session.session_folder import load

    parts: list[pd.DataFrame] = []
    written: list[pd.DataFrame] = []
    roles: dict[str, str] = {}
    languages: dict[str, str] = {}
    days: dict[str, tuple[str, str]] = {}
    controls: list[tuple[str, str, str]] = []
    repeats: dict[str, str] = {}
    waiting: Counter[str] = Counter()
    brewed: dict[str, list[str]] = {}
    margin, session, words = MARGIN, None, vocabulary()
    names: dict[str, dict[str, str]] = {language: {} for language in known_languages()}
    for folder in folders:
        session = load(folder)
        with Store(folder) as store:
            context = open_context(session, load_open(session), store, "teach")
            waiting += waiting_of(store)
        scores = _of_bottles(context.answers.scores, session.scorecard)
        pupils = [code for code, one in context.roster.items() if one.role == "student"]
        own = brewed_by(session.bottles, pupils)
        scores = without_own(scores, own)
        for code, bottles in own.items():
            brewed.setdefault(code, []).extend(bottles)
        label = f"{session.settings.date} {session.settings.name}"
        days[label] = str(session.settings.date), session.settings.title
        parts.append(scores.assign(session=label))
        written.append(context.answers.words.assign(session=label))
        words = context.vocabulary
        roles |= {code: one.role for code, one in context.roster.items()}
        languages |= {code: one.language for code, one in context.roster.items()}
        for language in names:
            names[language] |= scorecard_names(session.scorecard, language)
        known = read_known(folder / FILE) if (folder / FILE).is_file() else Known()
        margin = known.margin
        repeats |= {bottle.name: bottle.twin for bottle in session.bottles if bottle.twin}
        repeats |= known.repeats
        served = set(scores["sample"].astype(str))
        controls += _controls(session, known, label, served)
    assert session is not None  # noqa: S101 - the command asks for at least one folder
    experts = [code for code, role in roles.items() if role == "expert"]
    marked = {str(code) for part in parts for code in part["assessor"].unique()}
    students = [code for code, role in roles.items() if role == "student" and code in marked]
    if not students:
        raise InputRefused("teach.no_roles", experts=len(experts), students=len(students))
    return School(
        scores=pd.concat(parts, ignore_index=True),
        experts=experts,
        students=students,
        margin=margin,
        controls=pd.DataFrame(controls, columns=["session", "sample", "truth"]),
        repeats=repeats,
        names=names,
        languages=languages,
        free_words=pd.concat(written, ignore_index=True),
        vocabulary=words,
        title=session.settings.title,
        date=str(session.settings.date),
        days=days,
        waiting={code: waiting[code] for code in students if waiting[code]},
        brewed={code: list(dict.fromkeys(brewed[code])) for code in students if code in brewed},
    )


def _of_bottles(scores: pd.DataFrame, asked: Scorecard) -> pd.DataFrame:
    """Leave out what is no property of the bottle.

    The box for a cup in which no fault was noticed tells that the cup was judged: it stays, as a
    fault that was not named.
    """
    aside = {name for one in asked if one.aside for name in one.attributes} - {NO_FAULT}
    kept = scores[~scores["attribute"].isin(aside)]
    box = kept["attribute"] == NO_FAULT
    return kept.assign(
        attribute=kept["attribute"].mask(box, f"{FAULT}none"), score=kept["score"].mask(box, 0.0)
    )


def _controls(
    session: Session, known: Known, label: str, served: set[str]
) -> list[tuple[str, str, str]]:
    """Return what was in the bottles of one session, from bottles.csv and class.toml."""
    control = {bottle.name: bottle.control for bottle in session.bottles}
    said = [
        (bottle.name, control.get(bottle.twin, "") if bottle.twin else bottle.control)
        for bottle in session.bottles
    ]
    said = [(name, truth) for name, truth in said if truth]
    said += [(name, CLEAN) for name in known.clean] + list(known.spiked.items())
    unknown = sorted({name for name, _ in said} - {bottle.name for bottle in session.bottles})
    if unknown:
        raise InputRefused("teach.unknown_bottle", path=session.folder / FILE, found=list(unknown))
    return [
        (label, name, "" if truth == CLEAN else fault_name(truth))
        for name, truth in said
        if name in served
    ]


def fault_name(fault: str) -> str:
    """Write a fault as the attribute that it is in tables."""
    return fault if fault.startswith(FAULT) else FAULT + fault


def controls_of_table(
    table: pd.DataFrame,
    raw: pd.DataFrame,
    spiked: Mapping[str, str],
    clean: Sequence[str],
    columns: Mapping[str, str],
) -> pd.DataFrame:
    """Return the controls of a table: its column ``control``, and what options name.

    Parameters
    ----------
    table : DataFrame
        The tidy rows.
    raw : DataFrame
        The table as it was read, which may have a column ``control``.
    spiked : mapping of str to str
        ``SAMPLE`` or ``SESSION/SAMPLE`` to a fault; one with a session goes before one without.
    clean : sequence of str
        ``SAMPLE`` or ``SESSION/SAMPLE``.
    columns : mapping of str to str
        Names of the columns ``sample`` and ``session`` in `raw`.
    """
    import pandas as pd

    found: list[tuple[str, str, str]] = []
    if "control" in raw.columns:
        session = columns.get("session") or "session"
        kept = raw[raw["control"].notna() & (raw["control"].astype(str).str.strip() != "")]
        places = kept[session].astype(str) if session in raw.columns else pd.Series("1", kept.index)
        for place, sample, truth in zip(
            places, kept[columns["sample"]].astype(str), kept["control"].astype(str), strict=True
        ):
            row = (place, sample, "" if truth.strip().lower() == CLEAN else fault_name(truth))
            if row not in found:
                found.append(row)
    cells = list(
        dict.fromkeys(zip(table["session"].astype(str), table["sample"].astype(str), strict=True))
    )
    named = [*((name, fault_name(fault)) for name, fault in spiked.items()),
             *((name, "") for name in clean)]  # fmt: skip
    known = {sample for _, sample in cells} | {f"{place}/{sample}" for place, sample in cells}
    strange = [name for name, _ in named if name not in known]
    if strange:
        raise InputRefused("teach.unknown_sample", found=list(strange))
    whole = {name for name, _ in named}
    for name, truth in named:
        for place, sample in cells:
            exact = f"{place}/{sample}"
            if name == exact or (name == sample and exact not in whole):
                found.append((place, sample, truth))
    return pd.DataFrame(found, columns=["session", "sample", "truth"]).drop_duplicates()


def compare(school: School, *, seed: int = 1) -> Teaching:
    """Compare the students with the experts."""
    from ...analysis.core.tidy_table import tidy
    from ...analysis.teaching.against_expert import teaching

    people = {*school.experts, *school.students}
    rows = school.scores[school.scores["assessor"].isin(people)]
    return teaching(
        tidy(rows),
        school.experts,
        students=school.students,
        margin=school.margin,
        controls=school.controls,
        repeats=school.repeats,
        seed=seed,
    )


def scorecard_names(scorecard: Scorecard, language: str) -> dict[str, str]:
    """Return the names of all attributes of a scorecard."""
    return {
        name: scorecard.name(name, language)
        for question in scorecard
        for name in question.attributes
    }


__all__ = [
    "FILE", "Known", "School", "compare", "controls_of_table", "fault_name", "from_folders",
    "read_known", "scorecard_names",
]  # fmt: skip
