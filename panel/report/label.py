"""Words for a label or a catalogue, in every language of the house, with the evidence beside them.

They come from what the panel agreed on, the claims of the budget, and from nothing else. What a
label must carry besides is the label check's; how a bottle may be served is told as it was tasted.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from ...analysis.chemistry.label_rules import Batch
from ...analysis.chemistry.labelling import label_check
from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import fixed
from ...forms.questions.question_types import Scorecard
from ...forms.questions.term_vocabulary import vocabulary
from ...forms.questions.words import languages
from ...forms.questions.words import say as card_word
from ..base.words import Sentence, begun, say, sentence
from ..findings.budget import Weighed
from ..findings.statement import joined
from ..findings.tainted import held
from ..findings.ticks import counted, label_words
from ..session.bottles import Bottle, liquids
from ..session.conditions import in_order
from .context import SCALED, Context
from .known_words import foreign, known_name
from .made_apart import SERVED, brewed_apart, said_of_brews, treated_apart
from .parts import Block, Grid, Line, Section, caution, method, plain

if TYPE_CHECKING:
    import pandas as pd

SAID = (
    "aroma_intensity", "sweetness", "acidity", "umami", "body", "carbonation",
    "flavour_intensity", "clean_cut", "finish_length", "clarity",
)  # fmt: skip
"""Attributes of the cards that a label speaks of: taste and look, no fault and no judgement."""
ASKED = ("aroma_intensity",)
"""Attributes whose name on a card says how they are asked; a catalogue calls them otherwise."""
CARDS = ("card", "card_before", "scorecard")
"""Topics of the cards' own names."""
FORMS = {"0": (False, False), "1a": (False, True), "1b": (True, False), "2": (True, True)}
"""Whether a bottle was heated before storage and at bottling, by its column `pasteurised`."""


def section(context: Context) -> Section | None:
    """Write what a label may take from this tasting, bottle by bottle."""
    if len(context.products) < 2:
        return None
    words = agreed_words(context)
    scales = [one for one in context.findings.budget.claimed("scale") if one.about in SAID]
    back = held(context.findings.evidence)
    against: set[str] = set()
    rows, data = [], []
    rests: dict[str, RestsOn] = {}
    for sample in context.products:
        if sample in back:
            written: Mapping[str, str] = {}
            proof: Line = sentence("label.held")
        else:
            claims = served_alike(context, context.session.bottle(sample), scales)
            parts = set_apart(sample, claims)
            named = words.get(sample, [])
            against |= {name for _, others in parts for name in others if name in back}
            written = {
                language: in_words(context, language, named, _read_in(sample, parts, language))
                for language in languages()
                if named or parts
            }
            proof = _evidence(context, sample, named, claims) if written else "–"
            rests[sample] = _rests_on(context, sample, named, parts)
        row: dict[Line, object] = {sentence("report.col_bottle"): sample}
        for language in languages():
            head = sentence("label.in", language=say("label.own_name", language))
            row[head] = written.get(language, "–")
        row[sentence("label.evidence")] = proof
        rows.append(row)
        data.append({"sample": sample, "words": dict(written), "held_back": sample in back})
    if not any(one["words"] for one in data):
        return None
    held_against = [name for name in back if name in against]
    said = [
        *_also_apart(context, rests),
        *(sentence(f"label.{key}", bottles=one) for key, one in _twins(context, data, rests)),
    ]
    return _laid_out(context, rows, data, held_against, said)


def _twins(
    context: Context, data: list[dict[str, object]], claims: Mapping[str, RestsOn]
) -> list[tuple[str, list[str]]]:
    """Group bottles served alike that no word tells apart: of the same smell, more or less.

    Beside each group stands how far their words are the same: whole, or but for those with whom
    they compare. What is shown to differ stands in no group together.
    """
    words = {str(one["sample"]): one["words"] for one in data if one["words"]}
    groups: list[list[str]] = []
    for sample in words:
        for group in groups:
            if all(claims[sample].like(claims[one]) for one in group):
                group.append(sample)
                break
        else:
            groups.append([sample])
    found = []
    for group in groups:
        if len(liquids(context.session.bottle(one) for one in group)) > 1:
            same = all(words[one] == words[group[0]] for one in group)
            found.append(("twins" if same else "twins_but", group))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class RestsOn:
    """What the words of a portion rest on.

    Attributes
    ----------
    sample : str
    served : tuple of str
        Its levels in what was varied of serving.
    named : frozenset of str
        Words on the smell.
    ways : frozenset of (str, str)
        Attributes, and whether there is more or less of them.
    others : frozenset of str
        With whom it is compared.
    """

    sample: str
    served: tuple[str, ...]
    named: frozenset[str]
    ways: frozenset[tuple[str, str]]
    others: frozenset[str]

    def like(self, other: RestsOn) -> bool:
        """Tell whether the words of two say the same, and neither is set apart from the other."""
        return (
            (self.served, self.named, self.ways) == (other.served, other.named, other.ways)
            and other.sample not in self.others
            and self.sample not in other.others
        )  # fmt: skip


def _rests_on(
    context: Context,
    sample: str,
    named: list[str],
    parts: dict[tuple[str, tuple[str, ...]], list[str]],
) -> RestsOn:
    bottle = context.session.bottle(sample)
    return RestsOn(
        sample=sample,
        served=tuple(bottle.level(one) for one in _served_apart(context)),
        named=frozenset(named),
        ways=frozenset((way, one) for (way, _), attributes in parts.items() for one in attributes),
        others=frozenset(name for _, names in parts for name in names),
    )


def _served_apart(context: Context) -> list[str]:
    """Return the ways of serving in which the bottles differ on purpose."""
    return [one for one in context.findings.evidence.varied if one in SERVED]


def _words_note(context: Context) -> Sentence:
    """Say what the words rest on, and in what those that are compared were served alike."""
    varied = [sentence(f"few_report.factor_{one}") for one in _served_apart(context)]
    if not varied:
        return sentence("label.words_note")
    return sentence("label.words_note_apart", conditions=varied)


def _also_apart(context: Context, claims: Mapping[str, RestsOn]) -> list[Sentence]:
    """Say in what bottles that the words compare were not treated alike or are of other brews."""
    pairs = [
        (context.session.bottle(one), context.session.bottle(other))
        for one, own in claims.items()
        for other in context.products
        if other in own.others
    ]
    parts: list[Sentence] = []
    for name in dict.fromkeys(name for pair in pairs for name in treated_apart(context, *pair)):
        levels: dict[str, list[str]] = {}
        for one, other in pairs:
            if name in treated_apart(context, one, other):
                for bottle in (one, other):
                    own = levels.setdefault(bottle.level(name), [])
                    own += [] if bottle.name in own else [bottle.name]
        parts += [
            sentence("label.apart_level", bottles=levels[level], had=_had(name, level))
            for level in in_order(name, levels)
        ]
    brewed = [pair for pair in pairs if said_of_brews(pair) or treated_apart(context, *pair)]
    facts = {
        fact: None
        for pair in brewed
        for fact in brewed_apart(context, *pair, context.language)
    }  # fmt: skip
    if facts:
        parts.append(sentence("label.apart_brewed", facts=list(facts)))
    return [sentence("label.apart", parts=parts)] if parts else []


def _had(condition: str, level: str) -> Sentence:
    """Say what had been done to a bottle before it was served."""
    if condition == "opened_days" and level == "0":
        return sentence("offer.had_opened_0")
    key = f"{condition}_{level}" if condition == "degassed" else condition
    return sentence(f"offer.had_{key}", level=level)


def agreed_words(context: Context) -> dict[str, list[str]]:
    """Leave out words of one's own: whether they praise or blame nobody has said."""
    known = vocabulary()
    found = label_words(context.findings.evidence, context.findings.budget)
    return {
        sample: [word for word in words if word.partition(":")[2] in known]
        for sample, words in found.items()
    }


def _laid_out(
    context: Context,
    rows: list[dict[Line, object]],
    data: list[dict[str, object]],
    against: list[str],
    besides: list[Sentence],
) -> Section:
    import pandas as pd

    told = pd.DataFrame(rows)
    items = _items(context)
    serving = context.session.settings.serving
    key = "label.served_in" if serving.vessel else "label.served"
    served = sentence(key, degrees=f"{serving.temperature_c:g}", vessel=serving.vessel)
    if _served_apart(context):
        served = sentence("label.served_apart")
    looked = looked_at(context, context.findings.evidence.attributes(*SCALED))
    eye = told_of_looks(context, looked, serving.appearance_vessel, context.language)
    about_maker = (sentence("label.method_maker"),) if context.makers else ()
    n = len(against)
    care = [caution(sentence("label.against_held", held=against, n=n))] if against else []
    blocks: list[Block] = [
        Grid(sentence("label.words"), told, _words_note(context)),
        *care,
        *([plain(*besides)] if besides else []),
        plain(served, *([eye] if looked else [])),
        Grid(sentence("label.items"), items, sentence("label.items_note"), folded=True),
        method(sentence("label.method"), *about_maker),
    ]
    return Section(
        key="label",
        title=sentence("label.title"),
        blocks=tuple(blocks),
        tables={"label_words": told, "label_items": items},
        data=data,
    )


def looked_at(context: Context, attributes: Collection[str]) -> list[str]:
    """Keep of some attributes those judged in the flight that is only looked at."""
    if context.session.settings.serving.appearance != "flight":
        return []
    about = context.findings.evidence.question
    return [one for one in attributes if about(one).section == "appearance"]


def told_of_looks(context: Context, looked: list[str], vessel: str, language: str) -> Sentence:
    """Say of what was judged by the eye that it was not in the cups that were tasted from."""
    names = [context.session.scorecard.name(one, language).lower() for one in looked]
    key = "label.looked_in" if vessel else "label.looked"
    return sentence(key, attributes=names, vessel=vessel)


def served_alike(context: Context, portion: Bottle, scales: list[Weighed]) -> list[Weighed]:
    """Keep of the claims those between a portion and others that were served in the same way.

    Days since opening, months in store and gas are no ways of serving.
    """
    served = _served_apart(context)

    def same(name: str) -> bool:
        other = context.session.bottle(name)
        return all(other.level(one) == portion.level(one) for one in served)

    return [
        replace(one, pairs=tuple(pair for pair in one.pairs if all(map(same, pair))))
        for one in scales
    ]


def set_apart(sample: str, scales: list[Weighed]) -> dict[tuple[str, tuple[str, ...]], list[str]]:
    """Group the attributes in which a bottle is claimed above or below the same others."""
    found: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for one in scales:
        sides = {
            "more": tuple(sorted({low for high, low in one.pairs if high == sample})),
            "less": tuple(sorted({high for high, low in one.pairs if low == sample})),
        }
        for way, others in sides.items():
            if others:
                found.setdefault((way, others), []).append(one.about)
    return found


def in_words(
    context: Context,
    language: str,
    named: list[str],
    parts: dict[tuple[str, tuple[str, ...]], list[str]],
) -> str:
    """Write the words of one bottle in one language."""
    card = context.session.scorecard

    def names(attributes: list[str]) -> list[str]:
        return [label_name(card, one, language) for one in attributes]

    said = [say("label.notes", language, words=names(named))] if named else []
    for (way, others), attributes in parts.items():
        said.append(
            say(f"label.{way}", language, attributes=and_listed(names(attributes), language),
                others=and_listed(list(others), language))
        )  # fmt: skip
    between, end = say("label.between", language), say("label.end", language)
    return begun(between.join(said) + end, language)


def _read_in(
    sample: str, parts: dict[tuple[str, tuple[str, ...]], list[str]], language: str
) -> dict[tuple[str, tuple[str, ...]], list[str]]:
    """Name those that a bottle is compared with so that readers of a language can read it."""
    return {
        (way, named_for(sample, others, language)): attributes
        for (way, others), attributes in parts.items()
    }


def named_for(sample: str, others: tuple[str, ...], language: str) -> tuple[str, ...]:
    """Write names in a language where all are known there and stay apart; else how many they are.

    Which they are stands in the evidence beside. Letters that are not Japanese stay in Japanese.
    """
    said = tuple(known_name(name, language) for name in others)
    apart = {*said, known_name(sample, language)}
    if language == "ja":
        return said if len(apart) > len(said) else others
    if any(foreign(name, language) for name in said) or len(apart) <= len(said):
        return (say("label.others", language, n=len(others)),)
    return said


def label_name(card: Scorecard, attribute: str, language: str) -> str:
    """Write an attribute as a catalogue does, unless the session calls it by a name of its own."""
    name = card.name(attribute, language).lower()
    if attribute not in ASKED:
        return name
    asked = {card_word(f"{topic}.{attribute}", language).lower() for topic in CARDS}
    return say(f"label.name_{attribute}", language) if name in asked else name


def and_listed(items: list[str], language: str) -> str:
    """Write a list as a label has it: its last two with "and" between them."""
    if len(items) < 2:
        return "".join(items)
    first = say("label.some", language, items=items[:-1])
    return say("label.last", language, first=first, last=items[-1])


def _evidence(context: Context, sample: str, named: list[str], scales: list[Weighed]) -> Line:
    """Write counts, and the panel means of a bottle and of those that its words name."""
    evidence = context.findings.evidence
    parts: list[Line] = [
        sentence("label.counted", word=context.name(word).lower(), counts=counted(evidence, word))
        for word in named
    ]
    means = _means(context)
    for one in scales:
        beside = {name for pair in one.pairs if sample in pair for name in pair}
        if not beside:
            continue
        values = {
            "attribute": context.name(one.about).lower(),
            "means": [
                sentence("label.mean", sample=name, mean=fixed(means[one.about, name]))
                for name in (sample, *(other for other in context.products if other != sample))
                if name in beside and (one.about, name) in means
            ],
        }
        parts.append(sentence("label.measured", **values))
    return sentence("findings.cell_parts", parts=joined(parts))


def _means(context: Context) -> dict[tuple[str, str], float]:
    found = context.anova
    if isinstance(found, AnalysisError):
        return {}
    table = found.means()
    keys = zip(table["attribute"], table["sample"], strict=True)
    return dict(zip(((str(a), str(b)) for a, b in keys), map(float, table["mean"]), strict=True))


def _batch(bottle: Bottle) -> Batch:
    before, at_bottling = FORMS.get(bottle.pasteurised, (None, None))
    return Batch(
        abv=bottle.abv,
        polishing_ratio=bottle.polishing,
        heated_before_storage=before,
        heated_at_bottling=at_bottling,
    )


def _items(context: Context) -> pd.DataFrame:
    """List what a label must carry, and for which bottles."""
    import pandas as pd

    found: dict[str, dict[str, Any]] = {}
    for sample in context.products:
        bottle = context.session.bottle(sample)
        names = ["nigori"] if bottle.lively else []
        items = label_check(_batch(bottle), names).items
        for row in items.to_dict("records"):
            own = {str(name): value for name, value in row.items()} | {"bottles": []}
            bottles = found.setdefault(str(row["item"]), own)["bottles"]
            bottles += [] if bottle.liquid in bottles else [bottle.liquid]
    every = {context.session.bottle(name).liquid for name in context.products}
    rows = []
    for own in found.values():
        everybody = len(own["bottles"]) == len(every)
        whom = sentence("label.for_some", bottles=own["bottles"])
        rows.append(
            {
                sentence("label.col_item"): own["item"],
                sentence("label.col_needed"): sentence(f"label.needed_{own['needed'].split()[0]}"),
                sentence("label.col_for"): sentence("label.for_all") if everybody else whom,
                sentence("label.col_rule"): own["rule"],
                sentence("label.col_known"): sentence(f"label.known_{own['known_from']}"),
            }
        )
    return pd.DataFrame(rows)
