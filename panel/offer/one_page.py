"""What a buyer is told of one bottle, in one language: facts, numbers, what a panel agreed on.

Every word on the taste is a claim of the report or one of its words for a label; what was
served in one way only gives no advice on serving. No name of a taster and no code stands here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from ...analysis.chemistry.labelling import LabelCheck, label_table
from ...analysis.core.errors import AnalysisError
from ...analysis.core.wording import fixed, limit, with_ends
from ..base.records import read_rows
from ..base.words import Sentence, begun, say, sentence
from ..batches.columns import column_name
from ..few.side_by_side import is_few
from ..findings.budget import Weighed
from ..findings.factors import goes_apart, spoken_level
from ..findings.tainted import decision, held, stands_against_nothing
from ..report.context import Context
from ..report.known_words import foreign, name_in, titled, told_in
from ..report.label import (
    FORMS,
    SAID,
    agreed_words,
    and_listed,
    in_words,
    looked_at,
    served_alike,
    set_apart,
    told_of_looks,
)
from ..report.made_apart import SERVED, brewed_apart, fact, said_of_brews
from ..report.place import is_bought
from ..report.spelling import typeset
from ..session.bottles import CONDITIONS, KNOWN, Bottle
from ..session.conditions import in_order, written
from ..session.prices import offered

BREWED = (
    "rice", "polishing", "koji", "yeast", "starter", "mash_days", "press", "pressed_on",
    "bottled_on",
)  # fmt: skip
"""What a buyer is told of the making, as far as it is known."""
TRADE = ("rice", "yeast", "starter", "press")
"""What is brewed with words of the trade, which are written in either language where known."""
NUMBERS = ("abv", "meter_value", "acidity", "amino_acidity")
UNITS = {"polishing": "{} %", "volume_ml": "{} mL"}
NONE = frozenset({"no", "none", "なし", "無", "無添加"})
"""What people write where nothing was added."""
STATED = (
    "ginjo_making", "special_method", "inspected_rice", "filtered", "water_drop", "single_site",
)  # fmt: skip
"""Fields of the label check that a batch book may have under their own names."""
AGAINST = ("labelling.contradicted", "labelling.claim_open", "labelling.not_usual",
           "labelling.no_definition")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyersSheet:
    """One page for a buyer.

    Attributes
    ----------
    language, sample, name, title, subtitle : str
        The name is the maker's own; the title has it in the language of the page besides.
    groups : tuple of (str, tuple of (str, str))
        Headings, each with its facts: what, and the value.
    found : tuple of str
        What the panel agreed on; one sentence where that is nothing.
    beside : tuple of str
        What else differs between the bottles that it speaks of.
    basis : str
        Who tasted, when and how.
    serving, keeping, small : tuple of str
    """

    language: str
    sample: str
    name: str
    title: str
    subtitle: str
    groups: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    found: tuple[str, ...]
    beside: tuple[str, ...]
    basis: str
    serving: tuple[str, ...]
    keeping: tuple[str, ...]
    small: tuple[str, ...]


def buyers_sheet(context: Context, sample: str, language: str, maker: str = "") -> BuyersSheet:
    """Write the page of one bottle.

    Parameters
    ----------
    context : Context
        Of a session whose key is open.
    sample : str
        One of its bottles; of one that was served in several conditions any portion.
    language : str
    maker : str
        Who offers it, as it is to stand below the name.
    """
    bottle = context.session.bottle(sample)
    groups = (
        ("what", _what(context, bottle, language)),
        ("brewed", _brewed(context, bottle, language)),
        ("numbers", _numbers(bottle, language)),
    )
    found, beside = _found(context, bottle, language)
    return BuyersSheet(
        language=language,
        sample=sample,
        name=bottle.liquid,
        title=titled(bottle.liquid, language),
        subtitle=maker,
        groups=tuple((say(f"offer.{key}", language), facts) for key, facts in groups if facts),
        found=found,
        beside=beside,
        basis=_basis(context, bottle, language),
        serving=_serving(context, bottle, language),
        keeping=_keeping(bottle, language),
        small=(
            say("offer.scope", language),
            say("offer.no_safety", language),
            say("offer.minors", language),
        ),
    )


def warnings(context: Context, sample: str) -> list[Sentence]:
    """Say to the maker what the page of a bottle leaves out, and why."""
    evidence = context.findings.evidence
    said = []
    todo = decision(evidence, sample)
    weak = stands_against_nothing(evidence, sample)
    if todo in ("age", "recheck", "hint", "open", "swapped", "failed") and not weak:
        said.append(sentence("offer.fault_open", bottle=sample))
    back = _held_beside(context, sample)
    if back:
        said.append(sentence("offer.held_beside", bottle=sample, held=back))
    name, why = _class(context, context.session.bottle(sample))
    wanted = _wanted_class(context, context.session.bottle(sample))
    if wanted and not name:
        said.append(sentence("offer.no_class", bottle=sample, designation=wanted))
        said += why
    return said


def _held_beside(context: Context, sample: str) -> list[str]:
    """Name the bottles held back for a fault with which a bottle is shown to differ."""
    own = {one.name for one in portions(context, context.session.bottle(sample))}
    back = set(held(context.findings.evidence))
    claims = [one for one in context.findings.budget.claimed("scale") if one.about in SAID]
    found = {name for one in claims for pair in one.pairs if own & set(pair) for name in pair}
    named = [context.session.bottle(name).liquid for name in context.products
             if name in found & back - own]  # fmt: skip
    return list(dict.fromkeys(named))


def is_held(context: Context, sample: str) -> bool:
    """Tell whether a bottle is held back for a fault, in any condition: no sheet is made of it."""
    kept = held(context.findings.evidence)
    return any(one.name in kept for one in portions(context, context.session.bottle(sample)))


def portions(context: Context, bottle: Bottle) -> list[Bottle]:
    """Return what was poured from one bottle, in every condition in which it was served."""
    served = [context.session.bottle(name) for name in context.products]
    return [one for one in served if one.liquid == bottle.liquid]


def _fact(column: str, value: str, language: str) -> tuple[str, str]:
    name = sentence("offer.volume") if column == "volume_ml" else column_name(column)
    label = name if isinstance(name, str) else name.to(language)
    return begun(label, language), typeset(UNITS.get(column, "{}").format(value))


def _what(context: Context, bottle: Bottle, language: str) -> tuple[tuple[str, str], ...]:
    place = context.book.places.get(bottle.name) if context.book else None
    year, tank = (place[0], place[1]) if place else ("", bottle.tank)
    heat = fact(context, bottle, "pasteurised")
    if bottle.pasteurised:
        heat = say(f"offer.heat_{bottle.pasteurised}", language)
    known = {
        "designation": _class(context, bottle)[0],
        "fraction": told_in("fraction", bottle.fraction, language),
        "pasteurised": heat,
        "year": year,
        "tank": tank,
        "volume_ml": _volume(context, bottle),
        "price": offered(bottle).price or fact(context, bottle, "price"),
    }
    return tuple(_fact(name, value, language) for name, value in known.items() if value)


def _volume(context: Context, bottle: Bottle) -> str:
    """Return what the bottle holds as far as the maker said so; a default is no fact."""
    table, _ = read_rows(context.session.folder, "bottles", ("bottle",), KNOWN, further=True)
    if any(row.get("bottle") == bottle.name and row.get("volume_ml") for _, row in table.rows):
        return f"{bottle.volume_ml:g}"
    return context.book.value(bottle.name, "volume_ml") if context.book else ""


def _brewed(context: Context, bottle: Bottle, language: str) -> tuple[tuple[str, str], ...]:
    values = {name: fact(context, bottle, name) for name in BREWED}
    values |= {name: told_in(name, values[name], language) for name in TRADE}
    return tuple(_fact(name, value, language) for name, value in values.items() if value)


def _numbers(bottle: Bottle, language: str) -> tuple[tuple[str, str], ...]:
    known = {name: getattr(bottle, name) for name in NUMBERS}
    facts = [
        _fact(name, f"{value:+g}" if name == "meter_value" and value else f"{value:g}", language)
        for name, value in known.items()
        if value is not None
    ]
    if facts and bottle.cloudy and bottle.supernatant == "yes":
        facts.append((say("offer.measured", language), say("offer.on_clear", language)))
    return tuple(facts)


def _own_claims(context: Context) -> list[Weighed]:
    """Return the claims on taste and look between own bottles that can go out.

    No bought one is run down; what sets a bottle apart from one held back may be that one's fault.
    """
    bought = {name for name in context.products if is_bought(context.session.bottle(name))}
    left = bought | set(held(context.findings.evidence))
    return [
        replace(one, pairs=tuple(pair for pair in one.pairs if not left & set(pair)))
        for one in context.findings.budget.claimed("scale")
        if one.about in SAID
    ]


def _found(
    context: Context, bottle: Bottle, language: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Write what the panel agreed on of a bottle, in each condition against others in the same.

    Beside it stands what else differed between the bottles.
    """
    if is_few(context.findings.evidence):
        return (say("offer.few", language),), ()
    own, words = portions(context, bottle), agreed_words(context)
    said, beside, served = [], [], []
    for one in own:
        named = words.get(one.name, [])
        found = set_apart(one.name, served_alike(context, one, _own_claims(context)))
        parts = {
            (
                way,
                tuple(name_in(context.session.bottle(other).liquid, language) for other in others),
            ): attributes
            for (way, others), attributes in found.items()
        }
        served = _served(context, one, language)
        if named or parts:
            text = in_words(context, language, named, parts)
            said.append(say("offer.found_at", language, served=served, text=text)
                        if served else text)  # fmt: skip
            others = dict.fromkeys(name for _, names in found for name in names)
            unlike = _unlike(context, one, list(others), language)
            if unlike:
                at = {"served": served, "text": begun(unlike, language)}
                beside.append(say("offer.found_at", language, **at) if served
                              else say("offer.unlike_also", language, text=unlike))  # fmt: skip
    nothing = say("offer.nothing_alike" if served else "offer.nothing", language)
    return tuple(said) or (nothing,), tuple(beside)


def _unlike(context: Context, portion: Bottle, others: list[str], language: str) -> str:
    """Say what else differed between a portion and those that its words name; "" for nothing.

    Only what stands written of both is said. How they were made is added where they were not
    treated alike or are no bottles of one tank: between a tank's own bottles their names say it.
    """
    bottles = [context.session.bottle(name) for name in others]
    parts = []
    for one in context.findings.evidence.varied:
        levels = {other.level(one) for other in bottles} - {portion.level(one)}
        if one in SERVED or not levels:
            continue
        beside = [
            say("offer.unlike_one", language, level=_had(one, level, language),
                names=and_listed(
                    _names([other for other in bottles if other.level(one) == level], language),
                    language))
            for level in in_order(one, levels)
        ]  # fmt: skip
        own = _had(one, portion.level(one), language)
        parts.append(say("offer.unlike_condition", language, own=own, others=beside))
    if not parts and not said_of_brews((portion, *bottles)):
        return ""
    for facts, those in _brewed_apart(context, portion, bottles, language).items():
        names = _names(those, language)
        listed = and_listed(list(facts), language)
        parts.append(
            say("offer.unlike_brewed", language, names=and_listed(names, language), facts=listed,
                n=len(names))
        )  # fmt: skip
    return say("offer.unlike", language, parts=say("offer.unlike_between", language).join(parts))


def _brewed_apart(
    context: Context, portion: Bottle, others: list[Bottle], language: str
) -> dict[tuple[str, ...], list[Bottle]]:
    """Group bottles by what is written of their making and differs from one's."""
    found: dict[tuple[str, ...], list[Bottle]] = {}
    for other in others:
        facts = brewed_apart(context, portion, other, language)
        if facts:
            found.setdefault(tuple(facts), []).append(other)
    return found


def _names(bottles: list[Bottle], language: str) -> list[str]:
    return list(dict.fromkeys(name_in(one.liquid, language) for one in bottles))


def _had(condition: str, level: str, language: str) -> str:
    """Write what had been done to a bottle before it was served."""
    if condition == "opened_days" and level == "0":
        return say("offer.had_opened_0", language)
    key = f"{condition}_{level}" if condition == "degassed" else condition
    return say(f"offer.had_{key}", language, level=level)


def _served(context: Context, portion: Bottle, language: str) -> list[str]:
    """Write the conditions that were varied, as this portion had them."""
    return [
        _level(one, level, language)
        for one in context.findings.evidence.varied
        if one in SERVED and (level := portion.level(one))
    ]


def _spoken_of(context: Context, own: list[Bottle]) -> list[str]:
    """Name the attributes that the words of a bottle's portions speak of."""
    claims = _own_claims(context)
    parts = [set_apart(one.name, served_alike(context, one, claims)) for one in own]
    return list(dict.fromkeys(name for part in parts for names in part.values() for name in names))


def _basis(context: Context, bottle: Bottle, language: str) -> str:
    scores, own = context.answers.scores, portions(context, bottle)
    mine = scores["sample"].isin([one.name for one in own])
    mine &= scores["assessor"].isin(context.counted)
    serving = context.session.settings.serving
    degrees = [
        serving.temperature_c if one.temperature_c is None else one.temperature_c for one in own
    ]
    vessels = [told_in("vessel", one.vessel or serving.vessel, language) for one in own]
    if any(foreign(one, language) for one in vessels):
        vessels = []  # a clause of another language says nothing to the reader
    told = {
        "n": int(scores.loc[mine, "assessor"].nunique()),
        "date": context.session.settings.date.isoformat(),
        "degrees": " / ".join(f"{one:g}" for one in sorted(set(degrees))),
        "vessel": " / ".join(dict.fromkeys(filter(None, vessels))),
        "bottles": len({context.session.bottle(name).liquid for name in context.products}),
    }
    text = say("offer.basis_in" if told["vessel"] else "offer.basis", language, **told)
    looked = looked_at(context, _spoken_of(context, own))
    if looked:
        vessel = serving.appearance_vessel
        seen = "" if foreign(vessel, language) else vessel
        eye = told_of_looks(context, looked, seen, language).to(language)
        text = say("offer.next", language, first=text, then=eye)
    return text + (say("offer.maker_apart", language) if context.maker_apart else "")


def _serving(context: Context, bottle: Bottle, language: str) -> tuple[str, ...]:
    """Tell what was tasted in several ways, and what that was shown to do; else nothing."""
    evidence = context.findings.evidence
    varied = [name for name in SERVED if name in evidence.varied]
    if not varied:
        return ()
    same = portions(context, bottle)
    said: list[str] = []
    sized = False
    for name in varied:
        levels = in_order(name, {one.level(name) for one in same if one.level(name)})
        shown = [_at(name, level, language) for level in levels]
        said.append(say("offer.tasted_at", language, listed=shown))
        if len(levels) > 1:
            for change, size in _changes(context, same, name, language):
                said.append(change)
                sized = sized or size
    known = [say(f"few_report.factor_{name}", language) for name in varied]
    said.append(say("offer.felt", language, conditions=known))
    if sized:
        ends = context.findings.evidence.question(_first_scale(context))
        said.append(say("offer.scale", language, least=f"{ends.low:g}", most=f"{ends.high:g}"))
    return tuple(said)


def _first_scale(context: Context) -> str:
    """Name an attribute whose effects are told: all lines of a card have one length."""
    return next(one.about for one in context.findings.budget.claimed("effect") if one.about in SAID)


def _changes(
    context: Context, same: list[Bottle], condition: str, language: str
) -> list[tuple[str, bool]]:
    """Write what a condition was shown to do to a bottle that was served in several levels of it.

    Where that goes apart between bottles, the bottle's own change is told, or that none is shown.
    Beside each line stands whether it has a size.
    """
    claims = [one for one in context.findings.budget.claimed("effect") if one.about in SAID]
    said = []
    for attribute in dict.fromkeys(one.about for one in claims):
        mine = [one for one in claims if one.about == attribute]
        alone = [one for one in mine if one.sample == condition]
        together = [one for one in mine if condition in one.sample.split(":")[:-1]]
        turned = [one for one in mine if condition in one.sample.split(":")[1:]]
        if together:
            said.append(_own_change(context, same, together[0], language))
        elif alone and not turned:
            one = alone[0]
            size = (one.shift, one.low, one.high)
            said.append((_moved(context, one, one.levels[0], size, language), True))
    return said


def _own_change(
    context: Context, same: list[Bottle], one: Weighed, language: str
) -> tuple[str, bool]:
    """Write the claimed change of one bottle, or that none is shown of it.

    Of a bottle that was served in several cups a level, between which kinds it goes apart.
    """
    condition, _ = one.sample.split(":")
    found = context.findings.budget.found
    ends = [[cup for cup in same if cup.level(condition) == level] for level in one.levels[0]]
    only = found is not None and all(len(cups) == 1 for cups in ends)
    if found is not None and only:
        first, last = (cups[0].name for cups in ends)
        rows = found.pairs[found.pairs["claimed"] & (found.pairs["kind"] == "scale")]
        rows = rows[rows["about"] == one.about]
        for row in rows.to_dict("records"):
            if {row["sample_a"], row["sample_b"]} == {first, last}:
                size = (float(row["difference"]), float(row["low"]), float(row["high"]))
                levels = one.levels[0] if row["sample_b"] == first else one.levels[0][::-1]
                return _moved(context, one, levels, size, language), True
    if only:
        first, last = (_level(condition, level, language) for level in one.levels[0])
        name = context.session.scorecard.name(one.about, language).lower()
        none = say("offer.no_own_change", language, attribute=name, first=first, last=last)
        return begun(none, language), False
    up, more, less = goes_apart(context.findings.evidence, one)
    by, low, high = with_ends(one.away)
    told = say(
        "offer.effect_apart_up" if up else "offer.effect_apart_down", language,
        attribute=context.session.scorecard.name(one.about, language).lower(),
        first=_level(condition, one.levels[0][0], language),
        last=_level(condition, one.levels[0][1], language),
        more=_kind(one.sample, more, language), less=_kind(one.sample, less, language),
        size=by, low=low, high=high,
    )  # fmt: skip
    return begun(told, language), True


def _moved(
    context: Context,
    one: Weighed,
    levels: tuple[str, str],
    size: tuple[float, float, float],
    language: str,
) -> str:
    """Write in which of two levels there is more, from how far the second lies above the first."""
    first, last = (_at(one.sample.split(":")[0], level, language) for level in levels)
    shift, low, high = size if size[0] > 0 else (-size[0], -size[2], -size[1])
    more, less = (last, first) if size[0] > 0 else (first, last)
    name = context.session.scorecard.name(one.about, language).lower()
    told = say("offer.effect", language, attribute=name, more=more, less=less,
               size=fixed(shift), low=limit(low), high=limit(high))  # fmt: skip
    return begun(told, language)


def _kind(effect: str, level: str, language: str) -> str:
    """Write a level of the second factor of an effect, as a bottle is called by it."""
    factor = effect.split(":")[1]
    if factor in CONDITIONS:
        return _level(factor, level, language)
    if factor == "fraction":
        return told_in("fraction", level, language)
    return _in(spoken_level(factor, level), language)


def _at(condition: str, level: str, language: str) -> str:
    """Write a level as what a bottle was tasted at, in or with."""
    return say(f"offer.at_{condition}", language, level=_level(condition, level, language))


def _level(condition: str, level: str, language: str) -> str:
    """Write a level of a condition; a vessel in the words of the language, as far as known."""
    if condition == "vessel":
        level = told_in("vessel", level, language)
    return _in(written(condition, level), language)


def _in(text: Sentence | str, language: str) -> str:
    return text if isinstance(text, str) else text.to(language)


def _keeping(bottle: Bottle, language: str) -> tuple[str, ...]:
    said = []
    if bottle.lively:
        said.append(say("offer.keep_pressure", language))
    if bottle.raw:
        said.append(say("offer.keep_raw", language))
    elif bottle.cloudy:
        said.append(say("offer.keep_settled", language))
    return tuple(said)


def _wanted_class(context: Context, bottle: Bottle) -> str:
    return offered(bottle).designation or fact(context, bottle, "designation")


def _class(context: Context, bottle: Bottle) -> tuple[str, list[Sentence]]:
    """Return the class if the label check allows it from what is stated, else why not."""
    wanted = _wanted_class(context, bottle)
    if not wanted:
        return "", []
    try:
        check = _check(context, bottle, wanted)
    except AnalysisError as refusal:
        return "", [refusal.sentence]
    if (check.claims["answer"] == "supported").all():
        return wanted, []
    return "", [one for one in check.sentences() if one.key in AGAINST]


def _check(context: Context, bottle: Bottle, wanted: str) -> LabelCheck:
    import pandas as pd

    known: Mapping[str, str] = {}
    if context.book is not None:
        facts = context.book.facts.get(bottle.name, {})
        known = {name.casefold().replace(" ", "_"): one.value for name, one in facts.items()}
    nothing = known.get("additions", "").casefold() in NONE
    before, at_bottling = FORMS.get(bottle.pasteurised, (None, None))
    row: dict[str, object] = {
        "bottle": bottle.name,
        "claims": wanted,
        "abv": bottle.abv,
        "polishing_ratio": bottle.polishing,
        "koji_rice": known.get("koji_share"),
        "added_alcohol": known.get("added_alcohol", 0.0 if nothing else None),
        "other_materials": 0.0 if nothing else None,
        "heated_before_storage": _yes(before),
        "heated_at_bottling": _yes(at_bottling),
        **{name: known[name] for name in STATED if name in known},
    }
    return label_table(pd.DataFrame([row])).checks[bottle.name]


def _yes(stated: bool | None) -> str | None:
    return None if stated is None else "yes" if stated else "no"
