"""An outsider's rules against contradiction, as checks on the page and numbers of a report.

The rules stand in ``tests/outside/sessions/contradiction_rules.md``; a check
bears the rule's number. Facts (counts, roles, scales) come from the marks that
went in, never from the report. ``python tests/tools/report_rules.py`` runs all
recipes of the corpus and prints what is broken.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from html.parser import HTMLParser
from typing import Any

from kikichoko.forms.questions.words import say

Check = Callable[["Told"], Iterator[str]]
RULES: dict[int, Check] = {}
_BLOCKS = ("p", "li", "h1", "h2", "h3", "summary", "figcaption")


def rule(*numbers: int) -> Callable[[Check], Check]:
    """Enter a check under the numbers of the rules that it holds."""

    def enter(check: Check) -> Check:
        for number in numbers:
            RULES[number] = check
        return check

    return enter


@dataclass
class Part:
    """A section of the page: its heading, its lines, its tables."""

    key: str
    lines: list[str] = field(default_factory=list)
    heads: list[str] = field(default_factory=list)
    tables: list[list[list[str]]] = field(default_factory=list)


class _Reader(HTMLParser):
    """Take a page apart: sections, lines of text, tables as rows of cells."""

    def __init__(self) -> None:
        super().__init__()
        self.parts: list[Part] = [Part("head")]
        self.text: list[str] = []
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("style", "svg", "script", "nav"):
            self.silent += 1
        elif tag == "section":
            self.parts.append(Part(dict(attrs).get("id") or ""))
        elif tag == "footer":
            self.parts.append(Part("foot"))
        elif tag == "table":
            self.parts[-1].tables.append([])
        elif tag == "tr":
            self.parts[-1].tables[-1].append([])
        if tag in (*_BLOCKS, "td", "th"):
            self.text = []

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.text.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag in ("style", "svg", "script", "nav"):
            self.silent -= 1
        said = re.sub(r"\s+", " ", "".join(self.text)).strip()
        if tag in ("td", "th"):
            self.parts[-1].tables[-1][-1].append(said)
        elif tag in _BLOCKS and said:
            (self.parts[-1].heads if tag[0] == "h" else self.parts[-1].lines).append(said)
        if tag in (*_BLOCKS, "td", "th"):
            self.text = []


@dataclass(eq=False)
class Told:
    """A report with the facts that it was made from.

    Attributes
    ----------
    name, page : str
    results : dict
        ``results.json``.
    marks : list of dict
        ``assessor, sample, replicate, position, attribute, score`` as they went in.
    roles : dict of str to str
        Of those who answered.
    bottles : dict
        By name, with ``control``, ``fraction``, ``tank``, ``pasteurised``.
    replicates : int
    scale : tuple of float
    labels : dict
        What people read for each attribute.
    report : Report or None
        Before it was rendered.
    """

    name: str
    page: str
    results: dict[str, Any]
    marks: list[dict[str, str]]
    roles: dict[str, str]
    bottles: dict[str, Any]
    replicates: int
    scale: tuple[float, float]
    labels: dict[str, str]
    report: Any = None

    @cached_property
    def parts(self) -> dict[str, Part]:
        """The sections by their keys; ``short`` is the box."""
        reader = _Reader()
        reader.feed(self.page)
        return {part.key: part for part in reader.parts}

    @cached_property
    def box(self) -> list[str]:
        """The lines of the box."""
        return self.parts["short"].lines

    @cached_property
    def lines(self) -> list[str]:
        """All lines, tables left out."""
        return [line for part in self.parts.values() for line in part.lines]

    @cached_property
    def text(self) -> str:
        """Everything that is read, in small letters."""
        cells = [
            cell
            for part in self.parts.values()
            for table in part.tables
            for row in table
            for cell in row
        ]
        heads = [head for part in self.parts.values() for head in part.heads]
        return "\n".join([*self.lines, *cells, *heads]).lower()

    @cached_property
    def claims(self) -> list[dict[str, Any]]:
        """Statements of kind claim."""
        return [one for one in self.results["statements"] if one["kind"] == "claim"]

    @cached_property
    def products(self) -> list[str]:
        """Bottles that are no controls and were scored."""
        seen = {row["sample"] for row in self.marks}
        return [name for name, one in self.bottles.items() if name in seen and not one.control]

    @cached_property
    def scored(self) -> set[str]:
        """Attributes with a mark."""
        return {row["attribute"] for row in self.marks}

    def cells(self, attribute: str, sample: str, *, makers: bool = True) -> dict[str, list[float]]:
        """Return each assessor's marks of one bottle."""
        found: dict[str, list[float]] = defaultdict(list)
        for row in self.marks:
            counts = makers or self.roles[row["assessor"]] != "maker"
            if counts and (row["attribute"], row["sample"]) == (attribute, sample):
                found[row["assessor"]].append(float(row["score"]))
        return found

    @property
    def maker_apart(self) -> bool:
        """Whether the makers stand outside the means."""
        others = [code for code, role in self.roles.items() if role != "maker"]
        return len(others) >= 2 and len(others) < len(self.roles)

    def decided(self, question: str) -> dict[str, dict[str, str]]:
        """Return verdict and text of each bottle on one question."""
        return {
            row["sample"]: row
            for row in self.results.get("decide", [])
            if row["question"] == question
        }


def _around(pattern: str, text: str) -> Iterator[str]:
    """Return each place where a pattern stands, with what is around it in its line."""
    for found in re.finditer(pattern, text):
        before = text[max(0, found.start() - 30) : found.start()].rpartition("\n")[2]
        after = text[found.end() : found.end() + 20].partition("\n")[0]
        yield before + found.group() + after


_CLAUSE = re.compile(r"([^:;]+?) \(([^)]*)\) higher than ([^;(]+?) \(([^)]*)\)")


def _clauses(told: Told) -> dict[str, list[tuple[str, str]]]:
    """Return the pairs that each claim on a scale names: higher, lower."""
    found: dict[str, list[tuple[str, str]]] = {}
    for one in told.claims:
        if one["family"] in ("scale", "balance") and one["section"] == "differ":
            said = one["sentence"].partition(": ")[2]
            for high, _, low, _ in _CLAUSE.findall(said):
                found.setdefault(one["about"][0], []).extend(
                    (x.strip(), y.strip()) for x in high.split(",") for y in low.split(",")
                )
    return found


@rule(1)
def no_pair_both_ways(told: Told) -> Iterator[str]:
    """Check that no pair is told both ways."""
    for attribute, pairs in _clauses(told).items():
        both = {pair for pair in pairs if pair[::-1] in pairs}
        if both:
            yield f"{attribute}: {both}"


@rule(2, 19, 30)
def claimed_is_not_open(told: Told) -> Iterator[str]:
    """Check that what is claimed is neither a hint nor called not shown."""
    claimed = {one["about"][0] for one in told.claims if one["family"] in ("scale", "balance")}
    for one in told.results["statements"]:
        if one["kind"] == "hint" and set(one["about"]) & claimed:
            yield f"hint and claim: {one['about']}"
        if "Not shown to differ" in one["sentence"] and set(one["about"]) & claimed:
            yield f"open and claimed: {set(one['about']) & claimed}"
    if "quality" in claimed and "not shown to differ" in str(told.decided("quality")):
        yield "quality is claimed, and a cell says that it is not shown"


@rule(3)
def nothing_means_nothing(told: Told) -> Iterator[str]:
    """Check that the box does not say 'no difference' above claims."""
    scales = [one for one in told.claims if one["family"] in ("scale", "balance", "overall")]
    if scales and any("No difference between the bottles" in line for line in told.box):
        yield "the box says no difference, sections claim one"


@rule(5)
def claimed_pairs_have_intervals_off_zero(told: Told) -> Iterator[str]:
    """Check that a claimed pair's own interval does not hold zero."""
    claims = (told.results.get("differ") or {}).get("claims") or {}
    for row in claims.get("pairs", []):
        if (
            row["claimed"]
            and row["kind"] in ("scale", "balance")
            and row["low"] <= 0 <= row["high"]
        ):
            yield f"{row['about']}: {row['sample_a']}, {row['sample_b']}"


@rule(7, 8, 15)
def highest_is_highest(told: Told) -> Iterator[str]:
    """Check the highest and the lowest bottle, and the means in claims, with the table."""
    means = _printed_means(told)
    for sample, cell in told.decided("quality").items():
        own = means.get(told.labels.get("quality", ""), {})
        if "highest mean" in cell["text"] and own[sample] < max(own.values()):
            yield f"{sample} is not highest"
        if "highest mean" in cell["text"] and list(own.values()).count(own[sample]) > 1:
            yield f"{sample} shares the highest mean"
        if "lowest mean" in cell["text"] and own[sample] > min(own.values()):
            yield f"{sample} is not lowest"
    for one in told.claims:
        if one["section"] != "differ" or one["family"] not in ("scale", "balance"):
            continue
        own = means[told.labels[one["about"][0]]]
        said = one["sentence"].partition(": ")[2]
        for high, tops, low, bottoms in _CLAUSE.findall(said):
            for names, values in ((high, tops), (low, bottoms)):
                for name, value in zip(names.split(", "), values.split(", "), strict=True):
                    if abs(own[name.strip()] - _number(value)) > 0.051:
                        yield f"{one['about'][0]}, {name}: {value} and {own[name.strip()]}"


def _number(text: str) -> float:
    return float(text.replace("\u2212", "-"))


def _printed_means(told: Told) -> dict[str, dict[str, float]]:
    """Return the means of the table in the section on differences, by label and bottle."""
    found: dict[str, dict[str, float]] = {}
    for table in told.parts["differ"].tables if "differ" in told.parts else []:
        head = table[0]
        for row in table[1:]:
            for name, cell in zip(head[1:], row[1:], strict=True):
                number = re.match(r"[\u2212-]?\d+\.\d", cell)
                if name in told.bottles and number:
                    found.setdefault(row[0], {})[name] = _number(number[0])
    return found


@rule(9, 10)
def the_table_and_the_section_agree(told: Told) -> Iterator[str]:
    """Check that a bottle's cell names just the attributes that claims name it in."""
    claimed: dict[str, set[str]] = defaultdict(set)
    for attribute, pairs in _clauses(told).items():
        for pair in pairs:
            for name in pair:
                claimed[name].add(told.labels[attribute].lower())
    for sample, cell in told.decided("difference").items():
        said = {
            name.strip()
            for part in cell["text"].split(";")
            if ":" in part
            for name in part.partition(":")[2].split(",")
        }
        for end in re.findall(r"(?:nearer to|further from) “([^”]+)”", cell["text"]):
            own = "texture" if end == say("scorecard.texture_high", "en") else "sweetness_balance"
            said.add(told.labels[own].lower())
        if said != claimed[sample]:
            yield f"{sample}: {said} and {claimed[sample]}"


@rule(11, 12, 39, 94)
def no_word_goes_too_far(told: Told) -> Iterator[str]:
    """Check for words that no tasting allows."""
    far = (
        r"\bidentical\b", r"\bsignificant", r"\bhighly\b", r"\bextremely\b", r"\bproves\b",
        r"\bproven\b", r"\bguarantee", r"\bfree of\b", r"do not differ\b", r"\bcertainly\b",
    )  # fmt: skip
    for pattern in far:
        yield from _around(pattern, told.text)


@rule(14, 88)
def claims_have_a_direction(told: Told) -> Iterator[str]:
    """Check that a claim in the box says which bottle and which way."""
    for line in told.box:
        if line.startswith("The bottles differ in"):
            for part in re.findall(r"\(([^()]*)\)", line):
                if "above" not in part and "pairs in all" not in part:
                    yield line
    for one in told.claims:
        if one["family"] in ("scale", "balance") and not re.search(
            r"higher|lower|above|below|Yes", one["sentence"]
        ):
            yield one["sentence"]


@rule(18)
def counts_of_attributes_are_right(told: Told) -> Iterator[str]:
    """Check that as many attributes are named as are counted."""
    scales = [
        o for o in told.claims if o["family"] in ("scale", "balance") and o["section"] == "differ"
    ]
    for line in told.box:
        counted = re.match(r"The bottles differ in (\d+) attributes", line)
        if counted and int(counted[1]) != len(scales):
            yield line


@rule(21, 22, 25)
def balance_is_what_was_answered(told: Told) -> Iterator[str]:
    """Check majorities, unanimity and splits with the marks."""
    cells = told.decided("sweetness")
    for sample, cell in cells.items():
        marks = told.cells("sweetness_balance", sample, makers=not told.maker_apart)
        n = len(marks)
        sweet = sum(all(x > 0 for x in own) for own in marks.values())
        dry = sum(all(x < 0 for x in own) for own in marks.values())
        about = [line for line in told.lines if re.search(rf"\b{re.escape(sample)}\b", line)]
        calm = [line for line in about if "balanced" in line]
        if max(sweet, dry) == n and n and (calm or cell["text"].startswith("just right")):
            yield f"{sample}: unanimous, and {cell['text']}"
        if min(sweet, dry) >= max(2, n / 4) and not cell["text"].startswith("split"):
            yield f"{sample}: split, and {cell['text']}"
        said = re.match(r"too (?:sweet|dry): (\d+) of (\d+)", cell["text"])
        if said and int(said[1]) * 2 <= int(said[2]):
            yield f"{sample}: {cell['text']} is no majority"


@rule(23, 24)
def cures_go_the_right_way(told: Told) -> Iterator[str]:
    """Check that what is proposed against sweetness does not sweeten."""
    for line in told.lines:
        if "too sweet by more than half" in line and re.search(r"sweeter|earlier", line):
            yield line
        if "too dry by more than half" in line and re.search(r"cooler|drier|more acidity", line):
            yield line


@rule(26, 27)
def camps_are_not_agreement(told: Told) -> Iterator[str]:
    """Check that where camps are told nobody speaks of the middle or of agreement."""
    for line in told.lines:
        if "splits the panel" not in line and re.search(r"\b(middling|all agree)\b", line):
            yield line


@rule(28, 29)
def liking_needs_drinkers(told: Told) -> Iterator[str]:
    """Check that nobody speaks of consumers or a market that did not take part."""
    roles = set(told.roles.values())
    if "consumer" not in roles and re.search(r"\bconsumers?\b|\bthe market\b", told.text):
        yield "consumers, and none took part"


@rule(32)
def no_cause_from_few_bottles(told: Told) -> Iterator[str]:
    """Check that few bottles explain nothing."""
    if len(told.products) < 5:
        yield from re.findall(r".{0,30}(?:correlates|because of the|explains).{0,30}", told.text)


@rule(33, 34, 72, 73)
def one_decision_a_bottle(told: Told) -> Iterator[str]:
    """Check that box, table and advice decide alike."""
    table = {name: cell["verdict"] for name, cell in told.decided("do").items()}
    held = {name for name, key in table.items() if key == "hold"}
    advised = {
        name
        for one in told.results["statements"]
        if one["kind"] == "advice" and one["sentence"].startswith("Hold back")
        for name in one["about"]
    }
    if held != advised:
        yield f"held in the table {held}, in the advice {advised}"
    passed = {
        name
        for one in told.results["statements"]
        if one["sentence"].startswith(
            ("Nothing noted in this tasting stands against", "No fault was noted in ")
        )
        for name in one["about"]
    }
    if passed != {name for name, key in table.items() if key == "pass"}:
        yield f"passed in the advice {passed}, in the table {table}"
    for name in held:
        if not any(name in line and "Hold back" in line for line in told.box):
            yield f"{name} is held, and not in the box"


def _noted(told: Told, attribute: str, sample: str) -> tuple[int, int]:
    marks = told.cells(attribute, sample)
    return sum(max(own) > 0 for own in marks.values()), len(marks)


@rule(35, 36, 103)
def controls_govern(told: Told) -> Iterator[str]:
    """Check what a failed control does to decisions and box."""
    for name, bottle in told.bottles.items():
        if not bottle.control:
            continue
        for attribute in (a for a in told.scored if a.startswith("fault:")):
            k, n = _noted(told, attribute, name)
            if bottle.control == "clean" and n and k * 2 >= n:
                if any(cell["verdict"] in ("hold", "pass") for cell in told.decided("do").values()):
                    yield f"the clean control failed on {attribute}"
                if not any("known to be sound" in line for line in told.box):
                    yield "a failed clean control is not in the box"
            if attribute == f"fault:{bottle.control}" and k * 2 < n:
                if any(cell["verdict"] == "pass" for cell in told.decided("do").values()):
                    yield f"a missed {attribute}, and something passes"
                if not any("which had been put in" in line for line in told.box):
                    yield "a missed spike is not in the box"


@rule(37)
def no_rate_without_controls(told: Told) -> Iterator[str]:
    """Check that nobody's skill on faults is stated without a control."""
    if not any(bottle.control for bottle in told.bottles.values()):
        for word in ("false-alarm rate", "false alarm", "hit rate", "the panel can find"):
            if word in told.text:
                yield word


@rule(38, 64)
def counts_are_people(told: Told) -> Iterator[str]:
    """Check that k of n never counts more than there are."""
    for part, lines in ((key, part.lines) for key, part in told.parts.items()):
        if part in ("asked", "foot"):
            continue
        for line in lines:
            if "It goes the others' way in:" in line:  # pairs of bottles, no people
                continue
            counts = r"(?<!severity )(?<![\d.])(\d+) of (\d+)(?! ?(?:points|3\b))"
            for k, n in re.findall(counts, line):
                if re.search(
                    rf"{k} of {n} (?:tastings|such|reports|shuffled|answers|attributes|lines|"
                    r"differences|sheets?|cups?|marks?|trays?|pairs?)",
                    line,
                ):
                    continue
                if int(k) > int(n):
                    yield line
                if int(n) > len(told.roles) and int(n) not in (10, 95, 100):
                    yield line


@rule(42)
def controls_have_no_line(told: Told) -> Iterator[str]:
    """Check that no control stands in the table of decisions."""
    for table in told.parts["decide"].tables if "decide" in told.parts else []:
        for row in table[1:]:
            if told.bottles[row[0]].control:
                yield row[0]


@rule(44, 45, 100)
def nobody_is_called_names(told: Told) -> Iterator[str]:
    """Check that no assessor is praised or blamed."""
    for code in told.roles:
        for line in told.lines:
            if re.search(rf"\b{code}\b", line) and re.search(
                r"\b(bad|poor|failed|unreliable|reliable|best taster|left out because)\b", line
            ):
                yield line


@rule(47)
def marks_are_untouched(told: Told) -> Iterator[str]:
    """Check that the maker's printed means are those of the sheets."""
    for row in (told.results.get("maker") or {}).get("marks", []):
        mine = [
            sum(own) / len(own)
            for code, own in told.cells(row["attribute"], row["sample"]).items()
            if told.roles[code] == "maker"
        ]
        if abs(sum(mine) / len(mine) - row["maker"]) > 1e-9:
            yield f"{row['attribute']}, {row['sample']}"


@rule(48, 49, 67)
def no_repeat_without_repeats(told: Told) -> Iterator[str]:
    """Check that nobody's repeatability is judged from one tasting."""
    if told.replicates == 1:
        yield from re.findall(
            r".{0,40}(?:repeatability (?:is|of)|repeats well|r²).{0,30}", told.text
        )


@rule(50)
def one_assessor_is_no_panel(told: Told) -> Iterator[str]:
    """Check that one assessor is not spoken of as a panel."""
    if len(told.roles) == 1:
        for line in told.lines:
            if re.search(r"\bthe panel\b|\bassessors (dis)?agree\b|\bmajority\b", line):
                yield line


@rule(51, 53, 54, 55)
def only_roles_that_are_there(told: Told) -> Iterator[str]:
    """Check that makers, experts and students are named only where there are any."""
    roles = set(told.roles.values())
    for role in ("maker", "student", "expert"):
        if role not in roles:
            yield from _around(rf"\b{role}s?\b", told.text)


@rule(52)
def a_lone_maker_releases_nothing(told: Told) -> Iterator[str]:
    """Check that makers alone let nothing pass."""
    passed = any(cell["verdict"] == "pass" for cell in told.decided("do").values())
    if passed and set(told.roles.values()) == {"maker"}:
        yield "passed on the maker's word"


@rule(58, 68)
def missing_is_said(told: Told) -> Iterator[str]:
    """Check that missing tastings are counted as the sheets count them."""
    back = {(row["assessor"], row["sample"], row["replicate"]) for row in told.marks}
    planned = len(told.roles) * len({row["sample"] for row in told.marks}) * told.replicates
    if len(back) < planned and f"{len(back)} of {planned} tastings came back" not in " ".join(
        told.lines
    ):
        yield f"{len(back)} of {planned}"


@rule(63)
def one_tank_is_one_tank(told: Told) -> Iterator[str]:
    """Check that one tank allows no general word."""
    if len({bottle.tank for bottle in told.bottles.values()}) == 1:
        yield from re.findall(
            r".{0,30}(?:in general|fractions of this kind|\balways\b).{0,30}", told.text
        )


@rule(65)
def one_bottle_is_not_ranked(told: Told) -> Iterator[str]:
    """Check that one bottle is not compared."""
    if len(told.products) == 1:
        for found in re.findall(
            r".{0,30}\b(?:highest|best|ranked|told apart|differ)\b.{0,20}", told.text
        ):
            if "lowest" not in found:
                yield found


@rule(69)
def one_tasting_is_not_judged(told: Told) -> Iterator[str]:
    """Check that a bottle that rests on one tasting cannot be judged."""
    each = Counter(
        sample
        for _, sample, _ in {(r["assessor"], r["sample"], r["replicate"]) for r in told.marks}
    )
    for sample in told.products:
        if each[sample] == 1 and told.decided("do")[sample]["verdict"] not in ("thin", "hold"):
            yield sample


@rule(70)
def only_what_was_scored(told: Told) -> Iterator[str]:
    """Check that no attribute is named that nobody scored."""
    known = {"Overall quality", "Sweetness", "Bitterness", "Umami", "Astringency", "Clarity"}
    for label in known - {told.labels.get(name) for name in told.scored}:
        said = [line for line in told.lines if re.search(rf"\b{label.lower()}\b", line.lower())]
        said = [line for line in said if not re.search(r"brew|against acidity", line)]
        yield from (f"{label}: {line}" for line in said)


@rule(77)
def more_are_more(told: Told) -> Iterator[str]:
    """Check that as many assessors as took part are not called too few."""
    for line in told.lines:
        needed = re.search(r"could be claimed from (\d+) assessors on", line)
        if needed and int(needed[1]) <= len(told.roles) - told.maker_apart:
            yield line


@rule(78)
def label_words_were_given(told: Told) -> Iterator[str]:
    """Check that a label word was ticked by two, one of them not the maker."""
    back = {label.lower(): name for name, label in told.labels.items()}
    for line in told.lines:
        listed = re.search(r"tell the bottle apart \((.*)\); fraction", line)
        for entry in listed[1].split(", ") if listed else []:
            sample, _, word = entry.partition(": ")
            if not word:
                continue
            marks = told.cells(back[word], sample)
            given = [code for code, own in marks.items() if sum(own) * 2 >= len(own)]
            if len(given) < 2 or all(told.roles[code] == "maker" for code in given):
                yield entry


@rule(80)
def no_interval_of_zero_width(told: Told) -> Iterator[str]:
    """Check for intervals whose ends are written alike."""
    for found in re.findall(r"([\u2212-]?\d+\.\d+) ?(?:to|–) ?([\u2212-]?\d+\.\d+)", told.text):
        if found[0] == found[1]:
            yield f"{found}"
    yield from re.findall(r"± 0(?:\.0+)?\b", told.text)


@rule(81, 90)
def intervals_hold_their_estimates(told: Told) -> Iterator[str]:
    """Check that limits lie on the scale and around their estimate."""
    low_end, high_end = told.scale
    for table in told.parts["differ"].tables if "differ" in told.parts else []:
        for row in table[1:]:
            for cell in row[1:]:
                found = re.fullmatch(r"(\S+) \((\S+) to (\S+)\)", cell)
                if not found:
                    continue
                mean, low, high = map(_number, found.groups())
                if not low <= mean <= high:
                    yield f"{row[0]}: {cell}"
                ends = (
                    (-2, 2)
                    if row[0] == told.labels.get("sweetness_balance")
                    else (low_end, high_end)
                )
                if not ends[0] <= low <= high <= ends[1]:
                    yield f"{row[0]}: {cell} beyond the scale"


@rule(82)
def numbers_are_short(told: Told) -> Iterator[str]:
    """Check for numbers of five digits, dates, seeds and formulas aside."""
    for key, part in told.parts.items():
        if key in ("asked", "foot", "head"):
            continue
        for line in part.lines:
            if re.search(r"J\. Brew|1974|J\. Chiropr|ISO", line):
                continue
            for found in re.findall(r"(?<![\d.])\d{5,}|\d\.\d{4,}", line):
                yield f"{found}: {line}"


@rule(83)
def nouns_go_with_numbers(told: Told) -> Iterator[str]:
    """Check for '1 bottles' and its like."""
    nouns = (
        "bottles|assessors|attributes|times|tasters|words|points|marks|tastings|replicates|answers"
    )
    yield from re.findall(rf"(?<![\d.])\b1 (?:{nouns})\b", told.text)
    yield from re.findall(r"0 out of 0|\ba eight\b|\w\(s\)", told.text)


@rule(84)
def no_raw_keys(told: Told) -> Iterator[str]:
    """Check for keys, braces and words of the program; fingerprints are drawn at random."""
    text = re.sub(r"\b[a-z0-9]{4}(?:-[a-z0-9]{4}){7}\b", "", told.text)
    for pattern in (
        r"\b[a-z]+_[a-z_]+\b", r"[{}]", r"\bnan\b", r"\binf\b", r"\bnull\b", r"'none'",
        r"\de-\d", r"\b(?:findings|report)\.[a-z_]+",
    ):  # fmt: skip
        for found in _around(pattern, text):
            if "kikichoko" not in found:
                yield found


@rule(85)
def nothing_is_empty(told: Told) -> Iterator[str]:
    """Check for empty tables and headings without a sentence."""
    for key, part in told.parts.items():
        if key in ("head", "foot"):
            continue
        if not part.lines:
            yield f"section {key} has no sentence"
        for table in part.tables:
            body = [cell for row in table[1:] for cell in row[1:]]
            if not body or set(body) <= {"–", ""}:
                yield f"section {key}: an empty table {table[:2]}"


@rule(86)
def a_refusal_is_said_once(told: Told) -> Iterator[str]:
    """Check that no sentence comes more than twice with only the attribute changed."""
    names = sorted({label.lower() for label in told.labels.values()}, key=len, reverse=True)
    blank = re.compile("|".join(re.escape(name) for name in names))
    lines = [blank.sub("…", line.lower()) for part in told.parts.values() for line in part.lines]
    for line, k in Counter(lines).items():
        if k > 2 and len(line) > 40:
            yield f"{k} times: {line}"


@rule(87)
def shares_have_their_numbers(told: Told) -> Iterator[str]:
    """Check that a percentage stands near the number it is of."""
    for key, part in told.parts.items():
        if key in ("asked", "foot", "layout"):
            continue
        for line in part.lines:
            if line.startswith(("Rule (common practice", "False notes are assumed")):
                continue
            for found in re.finditer(r"\d ?%", line):
                near = line[max(0, found.start() - 90) : found.end() + 60]
                if not re.search(
                    r"\d+ of \d+|[Aa]ll \d+|Both|interval|limit|power|level|sessions|\d assessors",
                    near,
                ):
                    yield line


@rule(89)
def no_list_is_cut(told: Told) -> Iterator[str]:
    """Check for lists that end in 'and more'."""
    yield from re.findall(r"and \d+ more|\betc\b|, …", told.text)


@rule(91)
def signs_are_signs(told: Told) -> Iterator[str]:
    """Check for hyphens as minus signs, and for minus zero."""
    for pattern in (r"- \d", r"\u22120\.0\b(?!\d)", r"\+-", r"(?<![\w–])-\d+\.\d"):
        yield from _around(pattern, told.text)


@rule(93)
def p_is_never_nought(told: Told) -> Iterator[str]:
    """Check for p of 0 or 1.000."""
    yield from re.findall(r"p = (?:0\.000|0|1\.000)(?!\.?\d)", told.text)


@rule(95)
def the_box_needs_no_dictionary(told: Told) -> Iterator[str]:
    """Check for statistical words in the box."""
    for line in told.box:
        if re.search(
            r"p-value|\bp [=<]|ANOVA|\bF\(|\bdf\b|\bSD\b|\bCI\b|random effect|permut|ICC", line
        ):
            yield line


@rule(96)
def the_box_is_short(told: Told) -> Iterator[str]:
    """Check that the box has at most eight lines and says what to do or to expect."""
    if not 1 <= len(told.box) <= 8:
        yield f"{len(told.box)} lines"


@rule(98)
def nothing_is_said_twice(told: Told) -> Iterator[str]:
    """Check for a sentence that comes twice below the box (which repeats by intention)."""
    lines = [line for key, part in told.parts.items() if key != "short" for line in part.lines]
    for line, k in Counter(lines).items():
        if k > 1 and len(line) > 40:
            yield line


@rule(61, 62)
def confounding_is_in_the_box(told: Told) -> Iterator[str]:
    """Check that two things that changed together are told above differences."""
    bottles = [told.bottles[name] for name in told.products]
    heated = {(one.fraction, one.pasteurised) for one in bottles}
    both = len({f for f, _ in heated}) == len({h for _, h in heated}) == len(heated) == 2
    claimed = any(one["family"] in ("scale", "balance", "word") for one in told.claims)
    told_so = any("changed together" in line for line in told.box)
    if both and all(h for _, h in heated) and claimed and not told_so:
        yield "fraction and heating changed together"


@rule(101)
def both_means_two(told: Told) -> Iterator[str]:
    """Check that 'both' and 'all n' fit the numbers."""
    people = len(told.roles) - (told.maker_apart and 1)
    for line in told.lines:
        if line.startswith("Both assessors") and people != 2:
            yield line
        counted = re.match(r"All (\d+) assessors", line)
        if counted and int(counted[1]) < 3:
            yield line


@rule(102)
def the_head_counts_right(told: Told) -> Iterator[str]:
    """Check the numbers in the line below the title."""
    head = " ".join(told.parts["head"].lines)
    people, bottles = len(told.roles), len({row["sample"] for row in told.marks})
    for n, noun in ((people, "assessor"), (bottles, "bottle")):
        if not re.search(rf"\b{n} {noun}{'' if n == 1 else 's'}\b", head):
            yield f"{n} {noun}: {head}"


@rule(104)
def a_nought_has_its_interval(told: Told) -> Iterator[str]:
    """Check that a mean of 0.0 in the tables stands with its interval where there is one."""
    for line in told.lines:
        if re.search(r"difference of (?:about )?0\.0\b", line):
            yield line


ONE_PAGE = 6200
"""Letters of head, box, table of bottles and how sure that stand on one printed A4 page beside the
figure: seen with six bottles of long names (Chromium, 26 November 2026)."""


def letters_of_first_page(told: Told) -> int:
    """Count the letters of the first page."""
    parts = [told.parts[key] for key in ("head", "short", "decide", "sure") if key in told.parts]
    cells = [cell for part in parts for table in part.tables for row in table for cell in row]
    return sum(map(len, [*cells, *(line for part in parts for line in part.lines + part.heads)]))


def broken(told: Told) -> list[str]:
    """Return every rule that a report breaks, with what breaks it."""
    found = []
    for check in dict.fromkeys(RULES.values()):
        numbers = "/".join(str(n) for n, one in RULES.items() if one is check)
        found += [f"{told.name}: rule {numbers}: {what}" for what in check(told)]
    return found


def main() -> int:
    """Run every recipe, or those whose names begin with the words given."""
    import sys
    import tempfile
    from pathlib import Path

    from corpus_sessions import recipes, reported

    wanted = tuple(sys.argv[1:]) or ("",)
    wrong = 0
    for recipe in recipes():
        if not recipe["id"].startswith(wanted):
            continue
        with tempfile.TemporaryDirectory() as folder:
            told = reported(recipe, Path(folder) / recipe["id"])
        faults = broken(told)
        wrong += bool(faults)
        sys.stdout.write(f"{recipe['id']}: {'ok' if not faults else ''}\n")
        sys.stdout.writelines(f"  {fault}\n" for fault in faults)
        sys.stdout.flush()
    return wrong


if __name__ == "__main__":
    raise SystemExit(main())
