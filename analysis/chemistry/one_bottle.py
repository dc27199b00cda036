"""One bottle's numbers: what follows from them, and where they must be doubted.

Give what the laboratory measured; everything that can be computed from it is
computed, and nothing is assumed for what is missing. Units: alcohol in % by
volume at 15 °C, meter value (nihonshudo) at 15 °C, acidity and amino acidity in
mL of 0.1 mol/L NaOH per 10 mL, glucose and extract in g/100 mL, polishing ratio
in % of the brown rice that is left.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields

import pandas as pd

from ...rounding import rounded
from ..core.result import Result
from ..core.words import Sentence
from . import density_scales as dens
from . import taste_indices as indices

MEQ_PER_LITRE = 10.0
SUCCINIC, LACTIC, TARTARIC, GLYCINE = 0.059045, 0.09008, 0.075045, 0.07507
"""Grams per 100 mL for each mL of titre: equivalent weight / 1000."""
FORMOL_NITROGEN = 14.007
"""mg nitrogen per 100 mL for each mL of amino acidity."""

SOFT_LIMITS: Mapping[str, tuple[float, float]] = {
    "abv": (5, 22),
    "meter_value": (-100, 30),
    "acidity": (0.5, 7),
    "amino_acidity": (0.2, 4),
    "glucose": (0, 12),
    "polishing_ratio": (1, 100),
}
"""Outside these a value is possible but rare: look for a slip of the pen first."""

HARD_LIMITS: Mapping[str, tuple[float, float]] = {
    "abv": (0, 100),
    "meter_value": (-800, 400),
    "acidity": (0, 100),
    "amino_acidity": (0, 100),
    "glucose": (0, 100),
    "polishing_ratio": (0.1, 100),
    "extract": (-10, 100),
}
"""Outside these no liquid of this kind exists: refused."""

EXTRACT_TOLERANCE = 0.3
"""g/100 mL between measured and computed extract before entries are doubted."""
READING_ACIDITY = 0.1
"""mL: the fineness of the titration that `Chemistry.amakarado_reading` assumes (from memory)."""
READING_METER_VALUE = 0.5
"""The fineness of the hydrometer that it assumes (from memory)."""

MEASURED = ("abv", "meter_value", "acidity", "amino_acidity", "glucose", "polishing_ratio")


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Chemistry(Result):
    """One bottle's numbers and all that follows from them; None where nothing does.

    Attributes
    ----------
    name : str
        Of the bottle.
    abv, meter_value, acidity, amino_acidity, glucose, polishing_ratio : float or None
        As entered, see the units of this file.
    extract_measured : float or None
        As entered, g/100 mL.
    temperature : float
        15 °C, to which the meter value, gravity, density and Baumé refer.
    specific_gravity : float or None
        15/4.
    density : float or None
        g/mL.
    baume : float or None
        Degrees Baumé, heavy.
    alcohol_gravity : float or None
        15/15, of the alcohol and water alone.
    alcohol_mass_percent : float or None
        Of the alcohol–water mixture.
    extract : float or None
        g/100 mL, not cut.
    extract_official : float or None
        With the official rounding and cutting of digits.
    original_extract : float or None
        g/100 mL.
    acidity_meq, acidity_succinic, acidity_lactic, acidity_tartaric : float or None
        mmol of charge per litre; g/100 mL as that acid.
    amino_glycine, formol_nitrogen : float or None
        g/100 mL; mg/100 mL.
    amakarado, notando : float or None
        Sweet–dry and rich–light index of 1974.
    amakarado_reading, notando_reading : float or None
        How far the index can move when the meter value is read to ±0.5 and the
        acidity to ±0.1 mL: a bound, not a standard error.
    in_fitted_range : bool or None
        Whether the bottle lies where the two indices were fitted.
    alcohol_shift : float or None
        What alcohol away from 17 % would add to `amakarado`, derived.
    glucose_minus_acidity : float or None
        Index of 2004.
    acid_worth : float or None
        Rise in meter value that dries `amakarado` as 0.1 mL of acid does.
    """

    name: str
    abv: float | None
    meter_value: float | None
    acidity: float | None
    amino_acidity: float | None
    glucose: float | None
    polishing_ratio: float | None
    extract_measured: float | None
    temperature: float
    specific_gravity: float | None
    density: float | None
    baume: float | None
    alcohol_gravity: float | None
    alcohol_mass_percent: float | None
    extract: float | None
    extract_official: float | None
    original_extract: float | None
    acidity_meq: float | None
    acidity_succinic: float | None
    acidity_lactic: float | None
    acidity_tartaric: float | None
    amino_glycine: float | None
    formol_nitrogen: float | None
    amakarado: float | None
    amakarado_reading: float | None
    notando: float | None
    notando_reading: float | None
    in_fitted_range: bool | None
    alcohol_shift: float | None
    glucose_minus_acidity: float | None
    acid_worth: float | None

    def sentences(self) -> tuple[Sentence, ...]:
        """Say what the numbers mean, as far as published formulas go."""
        said = []
        if self.amakarado is not None and self.notando is not None:
            said.append(
                Sentence.of(
                    "chemistry.indices",
                    name=self.name or Sentence.of("chemistry.this_bottle"),
                    sweet=self.amakarado,
                    sweet_within=self.amakarado_reading,
                    rich=self.notando,
                    rich_within=self.notando_reading,
                    sweet_word=indices.sweet_class(self.amakarado),
                    rich_word=indices.rich_class(self.notando),
                )
            )
        if self.glucose_minus_acidity is not None:
            said.append(
                Sentence.of(
                    "chemistry.glucose_index",
                    value=self.glucose_minus_acidity,
                    word=indices.glucose_class(self.glucose_minus_acidity),
                )
            )
        if self.extract is not None and self.original_extract is not None:
            said.append(
                Sentence.of(
                    "chemistry.extract",
                    official=self.extract_official,
                    extract=self.extract,
                    original=self.original_extract,
                )
            )
        if self.specific_gravity is not None:
            said.append(
                Sentence.of(
                    "chemistry.density",
                    meter=self.meter_value,
                    density=self.density,
                    gravity=self.specific_gravity,
                    baume=self.baume,
                    at=self.temperature,
                )
            )
        if self.acid_worth is not None:
            said.append(Sentence.of("chemistry.acid_worth", worth=self.acid_worth))
        missing = [name for name in MEASURED if getattr(self, name) is None]
        if missing and missing != ["polishing_ratio"]:
            listed = [Sentence.of(f"chemistry.name_{name}") for name in missing]
            said.append(Sentence.of("chemistry.missing", listed=listed))
        return tuple(said)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return the numbers with their units, those that are known."""
        rows = [
            {
                "": Sentence.of(f"chemistry.name_{field.name}"),
                "value": rounded(value, f".{_DECIMALS.get(field.name, 2)}f"),
                "unit": Sentence.of(f"chemistry.unit_{field.name}"),
            }
            for field in fields(self)
            if field.name not in _NOT_IN_TABLE and (value := getattr(self, field.name)) is not None
        ]
        return {"chemistry.numbers": pd.DataFrame(rows, columns=["", "value", "unit"])}

    def row(self) -> dict[str, object]:
        """Return the numbers alone, for a table with one row a bottle."""
        return {
            field.name: getattr(self, field.name)
            for field in fields(self)
            if field.name not in {"warnings", "temperature"}
        }


_DECIMALS = {
    "specific_gravity": 5,
    "density": 5,
    "alcohol_gravity": 5,
    "acidity_succinic": 4,
    "acidity_lactic": 4,
    "acidity_tartaric": 4,
    "amino_glycine": 4,
    "extract_official": 1,
    "glucose_minus_acidity": 1,
}
_NOT_IN_TABLE = {"warnings", "name", "temperature", "in_fitted_range"}


def chemistry(
    *,
    abv: float | None = None,
    meter_value: float | None = None,
    acidity: float | None = None,
    amino_acidity: float | None = None,
    glucose: float | None = None,
    polishing_ratio: float | None = None,
    extract: float | None = None,
    clear_supernatant: bool | None = None,
    name: str = "",
) -> Chemistry:
    """Compute all that follows from one bottle's numbers, and doubt what contradicts itself.

    Parameters
    ----------
    abv : float, optional
        % by volume at 15 °C.
    meter_value : float, optional
        At 15 °C; bring a reading made at another temperature there with
        `density.meter_value_at_15`.
    acidity, amino_acidity : float, optional
        mL of 0.1 mol/L NaOH per 10 mL.
    glucose : float, optional
        g/100 mL.
    polishing_ratio : float, optional
        % of the brown rice that is left, above 0 to 100; lower is more polished.
    extract : float, optional
        Measured extract, g/100 mL, to hold against the computed one.
    clear_supernatant : bool, optional
        False if a cloudy sake was measured as it was.
    name : str
        Of the bottle.

    Returns
    -------
    Chemistry
        Its ``warnings`` name values beyond the usual, entries that contradict
        each other, and indices used outside their range.

    Raises
    ------
    OptionError
        For a value that no sake can have. Missing (None or NaN) is no fault.

    Examples
    --------
    >>> bottle = chemistry(abv=15.5, meter_value=3.0, acidity=1.5)
    >>> round(bottle.amakarado, 2), bottle.extract_official, round(bottle.original_extract, 1)
    (-0.43, 4.7, 29.3)
    """
    given = {
        "abv": abv,
        "meter_value": meter_value,
        "acidity": acidity,
        "amino_acidity": amino_acidity,
        "glucose": glucose,
        "polishing_ratio": polishing_ratio,
        "extract": extract,
    }
    entered = {key: _number(key, value) for key, value in given.items()}
    N, A, alcohol = entered["meter_value"], entered["acidity"], entered["abv"]
    amino, sugar = entered["amino_acidity"], entered["glucose"]
    computed = None if N is None or alcohol is None else dens.extract(N, alcohol)
    worth = None if N is None else indices.acid_worth(N)
    sweet = rich = sweet_reading = rich_reading = None
    fitted = None
    if N is not None and A is not None:
        sweet, rich = indices.amakarado(N, A), indices.notando(N, A)
        fitted = indices.fitted_range(N, A, alcohol)
        sweet_reading = _reading(indices.SWEET_NUMERATOR, indices.SWEET_PER_ACID, N)
        rich_reading = _reading(indices.RICH_NUMERATOR, indices.RICH_PER_ACID, N)
    warnings = [
        *_beyond_usual(entered),
        *_contradictions(computed, entered["extract"], sugar, clear_supernatant),
    ]
    if fitted is not None and not fitted.inside:
        warnings.append(Sentence.of("chemistry.extrapolated", reasons=list(fitted.reasons)))
    if sweet is not None and rich is not None and max(abs(sweet), abs(rich)) > indices.SCALE:
        warnings.append(Sentence.of("chemistry.off_scale", sweet=sweet, rich=rich))
    return Chemistry(
        name=name,
        abv=alcohol,
        meter_value=N,
        acidity=A,
        amino_acidity=amino,
        glucose=sugar,
        polishing_ratio=entered["polishing_ratio"],
        extract_measured=entered["extract"],
        temperature=dens.REFERENCE_TEMPERATURE,
        specific_gravity=None if N is None else dens.gravity(N),
        density=None if N is None else dens.density(N),
        baume=None if N is None else dens.baume(N),
        alcohol_gravity=None if alcohol is None else dens.alcohol_gravity(alcohol),
        alcohol_mass_percent=None if alcohol is None else 100 * dens.mass_fraction(alcohol),
        extract=computed,
        extract_official=None
        if N is None or alcohol is None
        else dens.official_extract(N, alcohol),
        original_extract=None
        if computed is None or alcohol is None
        else dens.original_extract(computed, alcohol),
        acidity_meq=_times(A, MEQ_PER_LITRE),
        acidity_succinic=_times(A, SUCCINIC),
        acidity_lactic=_times(A, LACTIC),
        acidity_tartaric=_times(A, TARTARIC),
        amino_glycine=_times(amino, GLYCINE),
        formol_nitrogen=_times(amino, FORMOL_NITROGEN),
        amakarado=sweet,
        amakarado_reading=sweet_reading,
        notando=rich,
        notando_reading=rich_reading,
        in_fitted_range=None if fitted is None else fitted.inside,
        alcohol_shift=None if N is None or alcohol is None else indices.alcohol_shift(N, alcohol),
        glucose_minus_acidity=None
        if sugar is None or A is None
        else indices.glucose_minus_acidity(sugar, A),
        acid_worth=worth,
        warnings=tuple(warnings),
    )


def _number(name: str, value: float | None) -> float | None:
    """Return a finite number within the hard limits, or None for a missing one."""
    if value is None or pd.isna(value):
        return None
    number = float(value)
    dens.within(name, number, *HARD_LIMITS[name])
    return number


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _reading(numerator: float, per_acid: float, meter_value: float) -> float:
    """Bound the index for readings that are off by their fineness, in the worst way."""
    slope = numerator / (dens.MODULUS + meter_value) ** 2
    return slope * READING_METER_VALUE + abs(per_acid) * READING_ACIDITY


def _beyond_usual(entered: Mapping[str, float | None]) -> Iterable[Sentence]:
    for name, (low, high) in SOFT_LIMITS.items():
        value = entered[name]
        if value is not None and not low <= value <= high:
            yield Sentence.of(
                "chemistry.unusual",
                what=Sentence.of(f"chemistry.name_{name}"),
                value=value,
                low=low,
                high=high,
            )


def _contradictions(
    computed: float | None,
    measured: float | None,
    glucose: float | None,
    clear_supernatant: bool | None,
) -> Iterable[Sentence]:
    if computed is not None and measured is not None:
        gap = measured - computed
        if abs(gap) > EXTRACT_TOLERANCE:
            yield Sentence.of(
                "chemistry.extract_contradicts", measured=measured, computed=computed, gap=gap
            )
    known = measured if measured is not None else computed
    if computed is not None and computed < 0:
        yield Sentence.of("chemistry.negative_extract", computed=computed)
    elif known is not None and glucose is not None and glucose > known:
        yield Sentence.of("chemistry.glucose_contradicts", glucose=glucose, extract=known)
    if clear_supernatant is False:
        yield Sentence.of("chemistry.cloudy")
