"""What all sections of the report draw from; each analysis is done once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from ...analysis.core.errors import AnalysisError
from ...analysis.core.words import Sentence
from ...forms.questions.question_types import Kind
from ...forms.questions.term_vocabulary import Vocabulary
from ..batches.making import making
from ..batches.of_session import Referral
from ..findings.all_statements import Findings
from ..findings.evidence import Evidence
from ..findings.statement import Statement
from ..key.earlier_controls import earlier_false_notes
from ..key.earlier_sessions import Earlier, earlier_sessions
from ..key.named_answers import NamedAnswers
from ..key.opened_tables import Scores
from ..key.opening import Key
from ..key.session_checks import Finding
from ..key.written_faults import written_faults
from ..overview.all_told import statements as overview
from ..plan.open_plan import OpenPlan
from ..returns.session_status import Status
from ..session.own_words import own_vocabulary
from ..session.presented_sets import Set
from ..session.roster import Assessor
from ..session.session import Session
from .parts import Block, Grid, Line, Picture

if TYPE_CHECKING:
    import pandas as pd

    from ...analysis.anova.whole_table import Anova
    from ...analysis.core.tidy_table import Tidy

SCALED = (Kind.LINE, Kind.CATEGORY, Kind.BALANCE)


@dataclass(eq=False)
class Context:
    """A session with its answers and its opened key.

    Attributes
    ----------
    session : Session
        With the bottles and the named questions that were planned.
    plan : OpenPlan
    key : Key
    answers : Scores
    status : Status
    late : int
        Answers that were entered after the key was first opened.
    whose_late : mapping of str to int
        The same by assessor, as far as known.
    found : tuple of Finding
        What `kikichoko check` tells.
    named_now : tuple of str
        The questions that ``session.toml`` names now.
    unknown : int
        Answers about cups of which nobody knows which they were.
    presented : tuple of Set
        What came back of a test of difference, a ranking or a threshold.
    figures : bool
        False leaves the pictures out; nothing else changes.
    remembers : bool
        False leaves out what earlier sessions taught.
    open_flight : NamedAnswers or None
        What came of the open flight; its own section alone looks at it.
    book : Referral or None
        What the brewery's batch book knows of the bottles; their numbers are filled in from it.
    times : DataFrame or None
        What telephones told of sips, event by event; None where no sip was to be followed.
    """

    session: Session
    plan: OpenPlan
    key: Key
    answers: Scores
    status: Status
    late: int = 0
    whose_late: Mapping[str, int] = field(default_factory=dict)
    found: tuple[Finding, ...] = ()
    named_now: tuple[str, ...] = ()
    unknown: int = 0
    presented: tuple[Set, ...] = ()
    figures: bool = True
    remembers: bool = True
    open_flight: NamedAnswers | None = None
    book: Referral | None = None
    times: pd.DataFrame | None = None
    _names: dict[str, str] = field(default_factory=dict)

    @cached_property
    def findings(self) -> Findings:
        """What the answers of a profile session allow to say; sections only show it."""
        settings = self.session.settings
        judged = [bottle for bottle in self.session.samples if bottle.name in self.samples]
        absent = [
            one.code for one in self.plan.assessors if not one.spare and one.code not in self.roster
        ]
        return Findings(
            Evidence(
                scores=self.answers.scores,
                bottles=tuple(judged),
                people=tuple(self.roster.values()),
                scorecard=self.session.scorecard,
                primary=self.session.primary,
                replicates=settings.serving.replicates,
                absent=tuple(absent),
                maker_in_means=settings.panel.maker_in_means,
                alone=self.alone,
                language=self.language,
                asks=settings.question,
                unread=self.unread,
                made=making(judged, self.book),
                earlier=earlier_false_notes(self.session),
                written=written_faults(
                    self.answers.words, self.vocabulary, self.attributes(Kind.FAULTS)
                ),
            )
        )

    @property
    def unread(self) -> tuple[tuple[str, str, str, str], ...]:
        """Marks of known cups that came back and were not understood, with what stood there."""
        cups = self.key.cups
        return tuple(
            (one.assessor, cups[one.assessor, one.code].bottle, one.attribute, one.found)
            for one in self.status.faults.values()
            if one.attribute and not one.blank and (one.assessor, one.code) in cups
        )

    @property
    def alone(self) -> bool:
        """Whether who tasted also poured, blind by shuffled cups alone."""
        return any(sheet.alone for sheet in self.plan.own_sheets.values())

    @cached_property
    def earlier(self) -> Earlier | None:
        """What the sessions beside this one taught before its day, if anything."""
        if not self.remembers:
            return None
        found = earlier_sessions(self.session.folder.parent, before=self.session.settings.date)
        return found if found.memory is not None else None

    @cached_property
    def overview(self) -> tuple[Statement, ...]:
        """What the sheets show beyond the claims: order, sizes, who parts, what is next."""
        return overview(self.findings.evidence, self.findings.budget)

    def said(self, section: str, *kinds: str) -> tuple[Line, ...]:
        """Return the sentences of one section, of some kinds or all; without what makes tables."""
        return (*self.findings.said(section, *kinds), *self.beyond(section, *kinds))

    def beyond(self, section: str, *kinds: str) -> tuple[Line, ...]:
        """Return what the overview adds to one section, of some kinds or all."""
        return tuple(
            one.sentence
            for one in self.overview
            if one.section == section and one.rows is None and (not kinds or one.kind in kinds)
        )

    def tabled(self, section: str) -> list[Block]:
        """Return the statements of one section that make tables."""
        import pandas as pd

        tables = (one.rows for one in self.overview if one.section == section)
        return [
            Grid(one.heading, pd.DataFrame(one.cells, columns=list(one.columns)), one.note)
            for one in tables
            if one is not None
        ]

    def picture(self, draw: Callable[[], Picture]) -> list[Block]:
        """Return a picture as a block, or nothing where figures are off."""
        return [draw()] if self.figures else []

    @property
    def language(self) -> str:
        """The report's language."""
        return self.session.settings.language

    @cached_property
    def roster(self) -> dict[str, Assessor]:
        """Assessors from whom something came back, by code."""
        back = set(self.answers.scores["assessor"]) | {one.assessor for one in self.presented}
        return {one.code: one for one in self.plan.assessors if one.code in back}

    @cached_property
    def samples(self) -> list[str]:
        """Samples in the order of ``bottles.csv``, as far as anyone scored them."""
        if self.session.method.compares:
            return [bottle.name for bottle in self.session.samples]
        seen = set(self.answers.scores["sample"])
        return [bottle.name for bottle in self.session.samples if bottle.name in seen]

    @cached_property
    def makers(self) -> list[str]:
        """Codes of makers who answered."""
        return [code for code, one in self.roster.items() if one.role == "maker"]

    @cached_property
    def maker_apart(self) -> bool:
        """Whether the maker's scores stay out of the panel's means.

        With fewer than two others there would be no panel left; then everybody counts.
        """
        others = len(self.roster) - len(self.makers)
        return bool(self.makers) and not self.session.settings.panel.maker_in_means and others >= 2

    @cached_property
    def counted(self) -> list[str]:
        """Codes of the assessors who make the panel's means."""
        out = self.makers if self.maker_apart else []
        return [code for code in self.roster if code not in out]

    @cached_property
    def vocabulary(self) -> Vocabulary:
        """The vocabulary with the session's own words."""
        questions = self.session.settings.questions
        return own_vocabulary(questions.words, questions.faults)[0]

    def attributes(self, *kinds: Kind, section: str = "") -> list[str]:
        """Return the attributes of some kinds that were scored, in the scorecard's order."""
        return [
            attribute
            for question in self.session.scorecard
            if question.kind in kinds and section in ("", question.section) and not question.aside
            for attribute in question.attributes
            if attribute in self._scored
        ]

    @cached_property
    def _scored(self) -> set[str]:
        return set(self.answers.scores["attribute"])

    def table(self, attributes: list[str], *, everybody: bool = False) -> pd.DataFrame:
        """Return the tidy rows of some attributes, of the panel or of everybody."""
        scores = self.answers.scores
        kept = scores["attribute"].isin(attributes)
        if not everybody:
            kept &= scores["assessor"].isin(self.counted)
        return scores[kept]

    def tidy(self, attributes: list[str], *, everybody: bool = False) -> Tidy:
        """Return `table`, checked."""
        from ...analysis.core.tidy_table import tidy

        return tidy(self.table(attributes, everybody=everybody))

    @property
    def products(self) -> list[str]:
        """Samples that are no controls."""
        return self.findings.evidence.products

    @property
    def anova(self) -> Anova | AnalysisError:
        """The comparison of the bottles in all scaled attributes, or why there is none."""
        return self.findings.evidence.anova

    def inside(self, means: pd.DataFrame) -> pd.DataFrame:
        """End the limits of means with the scale of their question: no mean can lie beyond."""
        import pandas as pd

        scales = [self.session.scorecard[str(name)] for name in means["attribute"]]
        least = pd.Series([float(one.low) for one in scales], index=means.index)
        most = pd.Series([float(one.high) for one in scales], index=means.index)
        ends = {end: means[end].clip(least, most) for end in ("low", "high")}
        return means.assign(**ends)

    def panel_means(self, attributes: list[str]) -> pd.DataFrame:
        """Return the panel's mean of each product in some questions, as the comparison makes it.

        ``sample, attribute, n, mean, low, high``, in the order of the questions; n assessors.
        Where the comparison is refused, plain means over assessors without limits.
        """
        from ...analysis.anova.whole_table import anova
        from ...analysis.core.tidy_table import tidy

        rows = self.table(attributes)
        rows = rows[rows["sample"].isin(self.products)]
        cells = rows.groupby(["attribute", "sample", "assessor"], observed=True)["score"].mean()
        each = cells.groupby(level=["attribute", "sample"], observed=True)
        made = each.agg(n="count", mean="mean").assign(low=float("nan"), high=float("nan"))
        try:
            model = anova(tidy(rows)).means().set_index(["attribute", "sample"])
        except AnalysisError:
            model = made.iloc[:0]
        made.update(model[["mean", "low", "high"]])
        made = self.inside(made.reset_index())[["sample", "attribute", "n", "mean", "low", "high"]]
        place = {name: rank for rank, name in enumerate(attributes)}
        return made.sort_values("attribute", key=lambda names: names.map(place), kind="stable")

    def name(self, attribute: str) -> str:
        """Write an attribute as people read it."""
        if attribute not in self._names:
            try:
                name = self.session.scorecard.name(attribute, self.language)
            except KeyError:
                name = attribute
            self._names[attribute] = name
        return self._names[attribute]

    def named(self, sentence: Sentence) -> Sentence:
        """Write people's names for attributes wherever a sentence holds their keys."""
        return replace(
            sentence, values=tuple((name, self._renamed(value)) for name, value in sentence.values)
        )

    def _renamed(self, value: Any) -> Any:
        if isinstance(value, Sentence):
            return self.named(value)
        if isinstance(value, (list, tuple)):
            return [self._renamed(item) for item in value]
        if isinstance(value, str) and self._is_attribute(value):
            return self.name(value).lower()
        return value

    @cached_property
    def _known(self) -> set[str]:
        return {a for question in self.session.scorecard for a in question.attributes}

    def _is_attribute(self, text: str) -> bool:
        return text in self._known

    def shown(self, frame: pd.DataFrame) -> pd.DataFrame:
        """Write people's names into the column `attribute` of a table."""
        if "attribute" not in frame:
            return frame
        return frame.assign(attribute=[self.name(str(one)) for one in frame["attribute"]])
