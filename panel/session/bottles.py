"""The bottles of a session: what is in them, where they come from, how many there are."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from ..base.headings import folded, near_column, with_words
from ..base.problems import Problem, cell, problem
from ..base.records import Cells, Told, read_rows, told_once

COLUMNS = (
    "bottle",
    "use",
    "lot",
    "tank",
    "fraction",
    "pasteurised",
    "abv",
    "meter_value",
    "acidity",
    "amino_acidity",
    "glucose",
    "polishing",
    "supernatant",
    "available",
    "volume_ml",
    "storage",
    "group",
    "control",
)
SUMMED_UP = frozenset({"平均", "平均値", "合計", "小計", "計", "mean", "average", "total", "sum"})
"""Names of rows that sum up the others, as spreadsheets end with; hardly those of bottles."""
CONDITIONS = (
    "temperature_c",
    "vessel",
    "opened_days",
    "stored_months",
    "food",
    "degassed",
)
"""What one bottle may be served in: a sample is a bottle in a condition."""
SERVED = ("poured_from", *CONDITIONS)
"""Columns of a bottle's condition; tables without them mean one condition for all."""
KNOWN = (*COLUMNS, *SERVED)
SERVED_AT = {"temperature_c": (-5, 75), "opened_days": (0, 3650), "stored_months": (0, 1200)}
"""What a condition that is a number can be; no sake is served hotter or colder."""
CLEAN, SAME = "clean", "same:"
# What a bottle's name or fraction says of cloud, of gas, and of heat.
_CLOUDY = re.compile(
    r"cloud|nigori|lees|\bori\b|origarami|usunigori|にごり|濁り|おり|滓|kassei|活性(?!炭)",
    re.IGNORECASE,
)
_GAS = re.compile(
    r"sparkl|kassei|bottle.ferment|carbonat|fizz|\bawa\b|spritz"
    r"|スパークリング|活性(?!炭)|発泡|炭酸|瓶内|泡酒|シュワ",
    re.IGNORECASE,
)
_NO_GAS = re.compile(
    r"\b(?:no|not|non|never|without)\b[\s-]*(?:(?:at all|any|a)\s+)?"
    r"(?:sparkl|carbonat|fizz|spritz)\w*"
    r"|(?:発泡|炭酸)(?:ガス|性|感)?[はが]?(?:なし|ない|無し)",
    re.IGNORECASE,
)
"""A further column may say that there is no gas; only a plain no lifts the caution."""
_RAW = re.compile(r"\braw\b|\bnama(?!chozo)|unpasteuri|生(?!酛|もと|貯|詰)", re.IGNORECASE)
_AGED = re.compile(
    r"\baged\b|\bkoshu\b|\bmatured\b|\byears? (?:old|kept|earlier|in store)\b"
    r"|古酒|熟成|長期貯蔵|年(?:もの|物|貯蔵)",
    re.IGNORECASE,
)
AGED_MONTHS = 36.0
"""Months in store from which a bottle counts as stated to be aged: three years, as the trade speaks
of 古酒 (common practice, from memory)."""
USES = ("sample", "warm-up")
PASTEURISED = ("", "0", "1", "1a", "1b", "2")
# Values outside these are possible but rare: warn, do not block. Common practice, no source,
# set from label values of the retail market (median and 5–95 % ranges of all styles).
USUAL = {
    "abv": (5.0, 22.0),
    "meter_value": (-100.0, 30.0),
    "acidity": (0.5, 7.0),
    "amino_acidity": (0.2, 4.0),
    "glucose": (0.0, 12.0),
    "polishing": (1.0, 100.0),
}
# Values outside these cannot be right in the unit that is asked for.
POSSIBLE = {
    "abv": (0.0, 40.0),
    "meter_value": (-200.0, 60.0),
    "acidity": (0.0, 20.0),
    "amino_acidity": (0.0, 20.0),
    "glucose": (0.0, 60.0),
    "polishing": (0.5, 100.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Bottle:
    """One kind of bottle on the table.

    Attributes
    ----------
    name : str
        Its name in the report; assessors never see it.
    use : str
        ``sample`` or ``warm-up``.
    lot, tank, fraction, storage : str
    pasteurised : str
        "0" never, "1a" stored raw and heated at bottling, "1b" heated before
        storage only, "1" once, "2" twice, "" not known.
    abv : float or None
        % by volume at 15 °C.
    meter_value : float or None
        Sake meter value at 15 °C.
    acidity, amino_acidity : float or None
        mL of 0.1 mol/L alkali per 10 mL.
    glucose : float or None
        g per 100 mL.
    polishing : float or None
        Polishing ratio in %.
    supernatant : str
        "yes" measured on clear liquid, "no" on cloudy, "" not known.
    available : int
        Full bottles at hand.
    volume_ml : float
        What each bottle holds.
    group : int
        Order of groups, 1 first, for grouped serving.
    control : str
        "" an ordinary bottle; "clean" one known to be sound; "same:NAME" the
        bottle NAME served under another code; else the key of the fault that was
        put into it. Assessors never see it.
    poured_from : str
        The bottle that is opened for it, where one bottle is served in several conditions.
    temperature_c : float or None
        °C in the cup; None as ``session.toml`` has it.
    vessel, food : str
        What it is served in, and what is eaten with it.
    opened_days : float or None
        Days from its opening to the tasting.
    stored_months : float or None
        Months from bottling, or since it was laid down, to the tasting.
    degassed : str
        "yes", "no", "" not said.
    further : mapping of str to str
        What stands in further columns (rice, yeast, pressed on, …), by their headings.
    """

    name: str
    use: str = "sample"
    lot: str = ""
    tank: str = ""
    fraction: str = ""
    pasteurised: str = ""
    abv: float | None = None
    meter_value: float | None = None
    acidity: float | None = None
    amino_acidity: float | None = None
    glucose: float | None = None
    polishing: float | None = None
    supernatant: str = ""
    available: int = 1
    volume_ml: float = 720.0
    storage: str = ""
    group: int = 1
    control: str = ""
    poured_from: str = ""
    temperature_c: float | None = None
    vessel: str = ""
    opened_days: float | None = None
    stored_months: float | None = None
    food: str = ""
    degassed: str = ""
    further: Mapping[str, str] = field(default_factory=dict, hash=False)

    @property
    def twin(self) -> str:
        """The bottle that it is a hidden duplicate of, or ""."""
        return self.control.removeprefix(SAME) if self.control.startswith(SAME) else ""

    def level(self, factor: str) -> str:
        """Return what it is in a factor of `FACTORS` or `CONDITIONS`; "" where nobody said.

        >>> Bottle(name="clear", temperature_c=45.0).level("temperature_c")
        '45'
        """
        value = getattr(self, factor)
        if value is None:
            return ""
        return f"{value:g}" if isinstance(value, float) else str(value)

    @property
    def liquid(self) -> str:
        """The bottle that it is a portion of: that has a label and a cork, and is sold.

        >>> Bottle(name="clear 40", poured_from="clear").liquid, Bottle(name="clear").liquid
        ('clear', 'clear')
        """
        return self.poured_from or self.name

    @property
    def source(self) -> tuple[str, ...]:
        """The liquid that it is poured from: rows that share it are served from one bottle."""
        kept = (self.level(name) for name in ("opened_days", "stored_months", "degassed"))
        return (self.liquid, *kept)

    @property
    def batch(self) -> str:
        """Tank and lot together: what bottles must differ in to be different batches."""
        return " / ".join(part for part in (self.tank, self.lot) if part)

    @property
    def looks_cloudy(self) -> bool:
        """Whether its fraction's name says that the eye would know it."""
        return bool(_CLOUDY.search(self.fraction))

    @property
    def cloudy(self) -> bool:
        """Whether its name or fraction says that it is cloudy."""
        return self.looks_cloudy or bool(_CLOUDY.search(self.name))

    @property
    def lively(self) -> bool:
        """Whether it may be under pressure: sparkling or active, or cloudy and not surely heated.

        Where nobody said whether it was heated, the stricter caution stands. That it is sparkling
        or active may stand in a further column too (style, notes, 種類).
        """
        said = f"{self.name} {self.fraction}"
        unheated = self.pasteurised in ("0", "") or bool(_RAW.search(said))
        return self.gas or (self.cloudy and unheated)

    @property
    def gas(self) -> bool:
        """Whether it is said to be sparkling or active."""
        noted = _NO_GAS.sub(" ", " / ".join(self.further.values()))
        return bool(_GAS.search(f"{self.name} {self.fraction} / {noted}"))

    @property
    def aged(self) -> bool:
        """Whether it is stated to be aged: by words of its row, or by its months in store."""
        said = f"{self.name} {self.fraction} {self.tank} {self.lot} {self.storage}"
        return bool(_AGED.search(said)) or (self.stored_months or 0.0) >= AGED_MONTHS

    @property
    def raw(self) -> bool:
        """Whether it was never heated, or nobody said that it was."""
        return self.pasteurised in ("0", "")


def read_bottles(
    folder: Path, rated: Sequence[str] | None = None
) -> tuple[tuple[Bottle, ...], list[Problem], list[Problem]]:
    """Read the bottles of a session folder.

    Parameters
    ----------
    folder : Path
    rated : sequence of str, optional
        Keys of the faults that the scorecard asks for: a control can be spiked
        with these only. Without it the column is taken as it is.

    Returns
    -------
    tuple of Bottle, faults, cautions
    """
    table, faults = read_rows(folder, "bottles", ("bottle",), KNOWN, further=True)
    cautions = [
        problem(
            f"{table.file}, row 1", "near_column", column=name, near=with_words([near], name)[0]
        )
        for name in table.further
        if (near := near_column(name, KNOWN))
    ]
    bottles: list[Bottle] = []
    seen: dict[str, int] = {}
    served: dict[tuple[object, ...], str] = {}
    told: Told = {}
    names = {_spoken(row.get("bottle", "")): row.get("bottle", "") for _, row in table.rows}
    for number, row in table.rows:
        cells = Cells(table.file, number, row, faults, told)
        name = cells.text("bottle")
        if not name:
            cells.note("bottle", "no_bottle_name")
            continue
        if _spoken(name) in seen:
            cells.note("bottle", "twice", found=name, row=seen[_spoken(name)])
            continue
        seen[_spoken(name)] = number
        bottles.append(_bottle(name, cells, rated, names, table.further))
        cautions += _unusual(bottles[-1], table.file, number)
        if bottles[-1].poured_from and not bottles[-1].control:
            same = (*bottles[-1].source, *(bottles[-1].level(one) for one in CONDITIONS))
            if same in served:
                cells.note("poured_from", "served_twice", found=name, other=served[same])
            served.setdefault(same, name)
    faults += _half_said(bottles, table.file)
    if table.rows and not any(bottle.use == "sample" for bottle in bottles):
        faults.append(problem(table.file, "no_sample"))
    return tuple(bottles), faults, [*cautions, *told_once(table.file, told)]


def _half_said(bottles: Sequence[Bottle], file: str) -> list[Problem]:
    """Ask for a condition that some samples have and others do not."""
    judged = [one for one in bottles if one.use == "sample" and not one.control]
    found = []
    for column in CONDITIONS:
        without = [one.name for one in judged if not one.level(column)]
        if without and len(without) < len(judged):
            found.append(problem(file, "half_said", column=column, bottles=without))
    return found


def _spoken(name: str) -> str:
    """Return what is left of a name when somebody says it: no capitals, no full-width forms."""
    return unicodedata.normalize("NFKC", name).casefold()


def _bottle(
    name: str,
    cells: Cells,
    rated: Sequence[str] | None,
    names: Mapping[str, str],
    further: Sequence[str],
) -> Bottle:
    measured = {
        column: cells.number_in(column, (low, high)) for column, (low, high) in POSSIBLE.items()
    }
    available = cells.number_in("available", (0, 100_000), whole=True)
    volume = cells.number_in("volume_ml", (10, 100_000))
    group = cells.number_in("group", (1, 99), whole=True)
    use = cells.choice("use", USES, default="sample")
    return Bottle(
        name=name,
        use=use,
        lot=cells.text("lot"),
        tank=cells.text("tank"),
        fraction=cells.text("fraction"),
        pasteurised=cells.choice("pasteurised", PASTEURISED, default=""),
        supernatant=cells.choice("supernatant", ("yes", "no"), default=""),
        available=1 if available is None else int(available),
        volume_ml=720.0 if volume is None else volume,
        storage=cells.text("storage"),
        group=1 if group is None else int(group),
        control=_control(name, use, cells, rated, names),
        poured_from=cells.text("poured_from"),
        vessel=cells.text("vessel"),
        food=cells.text("food"),
        degassed=cells.choice("degassed", ("yes", "no"), default=""),
        further={head: cells.text(head.lower()) for head in further if cells.text(head.lower())},
        **measured,
        **{name: cells.number_in(name, limits) for name, limits in SERVED_AT.items()},
    )


def _control(
    name: str, use: str, cells: Cells, rated: Sequence[str] | None, names: Mapping[str, str]
) -> str:
    """Read what a bottle is known to be; a fault may stand with or without its prefix."""
    given = _spoken(cells.text("control"))
    if given.startswith(SAME):
        twin = names.get(given.removeprefix(SAME).strip(), "")
        if not twin or twin == name:
            cells.note("control", "control_no_twin", found=given, have=list(names.values()))
        elif use != "sample":
            cells.note("control", "control_not_judged", use=use)
        return f"{SAME}{twin}"
    key = given.removeprefix("fault:")
    if not key or rated is None:
        return key
    if use != "sample":
        cells.note("control", "control_not_judged", use=use)
    elif key != CLEAN and not rated:
        cells.note("control", "control_no_faults", found=given)
    elif key != CLEAN and key not in rated:
        cells.note("control", "control_unknown", found=given, options=list(rated))
    return key


def _unusual(bottle: Bottle, file: str, row: int) -> list[Problem]:
    """Warn of values that are possible but rare, and of measurements on cloudy liquid."""
    cautions = []
    for column, (low, high) in USUAL.items():
        value = getattr(bottle, column)
        if value is not None and not low <= value <= high:
            place = cell(file, row, column)
            given = {"found": f"{value:g}", "low": f"{low:g}", "high": f"{high:g}"}
            cautions.append(problem(place, "unusual", **given))
    measured = any(getattr(bottle, column) is not None for column in ("meter_value", "acidity"))
    if bottle.looks_cloudy and measured and bottle.supernatant != "yes":
        place = cell(file, row, "supernatant")
        cautions.append(problem(place, "cloudy_measured", bottle=bottle.name))
    if folded(bottle.name) in SUMMED_UP:
        cautions.append(problem(cell(file, row, "bottle"), "summed_up", bottle=bottle.name))
    return cautions


def liquids(bottles: Iterable[Bottle]) -> list[str]:
    """Name each bottle once that was poured from, in whatever ways it was served."""
    return list(dict.fromkeys(one.liquid for one in bottles))
