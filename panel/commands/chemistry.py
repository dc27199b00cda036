"""What a bottle's numbers mean, what a blend will measure, and what a label may say."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..base.words import say
from ._table import result_options, show, tell_near

if TYPE_CHECKING:
    import pandas as pd

    from ...analysis.chemistry.blending import Part
    from ...analysis.core.result import Result

SECTION = "cli.section_tables"
RANK = 70

_NUMBERS = (
    "abv",
    "meter_value",
    "acidity",
    "amino_acidity",
    "glucose",
    "polishing_ratio",
    "extract",
)
_BATCH_NUMBERS = (
    "koji_rice",
    "added_alcohol",
    "other_materials",
    "water_drop",
    "stored_years",
    "rice_variety",
)
_BATCH_FLAGS = (
    "ginjo_making",
    "special_method",
    "inspected_rice",
    "filtered",
    "heated_before_storage",
    "heated_at_bottling",
    "single_site",
    "wood_stored",
    "made_at_origin",
    "japanese",
    "keeping_caution",
    "says_not_junmai",
    "starter_acid_added",
    "polishing_printed",
    "variety_share_printed",
    "prize_named",
    "prize_same_sake",
    "gas_injected",
    "drip_only",
)


_BLENDED = ("volume", "name", "sample", "claims", "clear_supernatant")


def _dashes(name: str) -> str:
    return "--" + name.replace("_", "-")


def _options(command: Any) -> Any:
    """Add one option a number of the bottle, one a fact of the batch."""
    options = [
        click.option(_dashes(name), type=float, help=say(f"chemistry.option_{name}"))
        for name in _NUMBERS
    ]
    options += [
        click.option(
            "--cloudy/--clear", "cloudy", default=None, help=say("chemistry.option_cloudy")
        ),
        click.option("--name", default="", help=say("chemistry.option_name")),
        click.option("--temperature", type=float, help=say("chemistry.option_temperature")),
        click.option("--dilute-to", type=float, help=say("chemistry.option_dilute_to")),
        click.option("--blend", "as_blend", is_flag=True, help=say("chemistry.option_blend")),
        click.option(
            "--part",
            "parts",
            multiple=True,
            metavar="volume=V,abv=A,meter_value=N…",
            help=say("chemistry.option_part"),
        ),
        click.option("--water", type=float, help=say("chemistry.option_water")),
        click.option(
            "--to", "wanted", multiple=True, metavar="NAME=VALUE", help=say("chemistry.option_to")
        ),
        click.option("--label", "as_label", is_flag=True, help=say("chemistry.option_label")),
        click.option(
            "--claim", "claims", multiple=True, metavar="TERM", help=say("chemistry.option_claim")
        ),
    ]
    options += [
        click.option(_dashes(name), type=float, help=say(f"chemistry.option_{name}"))
        for name in _BATCH_NUMBERS
    ]
    options += [
        click.option(_dashes(name), type=bool, help=say(f"chemistry.option_{name}"))
        for name in _BATCH_FLAGS
    ]
    options.append(click.option("--sheet", default=None, help=say("cli.option_sheet")))
    for option in reversed(options):
        command = option(command)
    return command


@click.command(help=say("chemistry.help"), short_help=say("chemistry.short"))
@click.argument("path", metavar="[TABLE]", required=False, type=click.Path(path_type=Path))
@_options
@result_options
def command(path: Path | None, *, sheet: str | None, as_json: bool, **given: Any) -> None:
    """Answer for one bottle, a table, a blend or a label; its help stands in the catalogue."""
    table = None
    if path is not None:
        from ..base.table_files import read_table
        from ..session.bottles import COLUMNS

        known = [*dict.fromkeys((*COLUMNS, *_NUMBERS, *_BATCH_NUMBERS, *_BATCH_FLAGS, *_BLENDED))]
        table = read_table(path, sheet, known=known)
        tell_near(path, map(str, table.columns), known)
    show(_answer(table, given), as_json=as_json)


def _answer(table: pd.DataFrame | None, given: dict[str, Any]) -> Result:
    """Choose the question that the options ask."""
    stated = {name: given[name] for name in _NUMBERS if given[name] is not None}
    if given["as_label"] or given["claims"]:
        return _label(table, given)
    if given["as_blend"] or given["parts"] or given["wanted"]:
        return _blend(table, given["parts"], given["water"], given["wanted"])
    if table is not None:
        if stated:
            raise click.UsageError(say("chemistry.table_or_bottle"))
        from ...analysis.chemistry.many_bottles import chemistry_table

        return chemistry_table(table)
    if not stated:
        raise click.UsageError(say("chemistry.nothing"))
    if given["temperature"] is not None:
        if "meter_value" not in stated or "abv" not in stated:
            raise click.UsageError(say("chemistry.temperature_needs"))
        from ...analysis.chemistry.density_scales import meter_value_at_15

        stated["meter_value"] = meter_value_at_15(
            stated["meter_value"], given["temperature"], stated["abv"]
        )
    if given["dilute_to"] is not None:
        from ...analysis.chemistry.blending import dilute

        return dilute(_part("volume=100", stated | {"name": given["name"]}), given["dilute_to"])
    from ...analysis.chemistry.one_bottle import chemistry

    clear = None if given["cloudy"] is None else not given["cloudy"]
    return chemistry(name=given["name"], clear_supernatant=clear, **stated)


def _label(table: pd.DataFrame | None, given: dict[str, Any]) -> Result:
    from ...analysis.chemistry.label_rules import Batch
    from ...analysis.chemistry.labelling import label_check, label_table

    if table is not None:
        return label_table(table)
    facts = ("abv", "polishing_ratio", *_BATCH_NUMBERS, *_BATCH_FLAGS)
    return label_check(Batch(**{name: given[name] for name in facts}), given["claims"])


def _blend(
    table: pd.DataFrame | None,
    written: tuple[str, ...],
    added: float | None,
    wanted: tuple[str, ...],
) -> Result:
    from ...analysis.chemistry.blending import blend, parts_of, water

    parts = [] if table is None else parts_of(table)
    parts += [_part(text, {}) for text in written]
    if wanted:
        from ...analysis.chemistry.blend_to_target import blend_to

        aims = dict(_aim(text) for text in wanted)
        volume = aims.pop("volume", None)
        if isinstance(volume, tuple):
            raise click.UsageError(say("chemistry.bad_to", found="volume"))
        return blend_to(parts, volume=volume, water_at_hand=added or 0.0, **aims)
    if added is not None:
        parts.append(water(added))
    return blend(parts)


def _aim(written: str) -> tuple[str, float | tuple[float, float]]:
    """Read ``meter_value=-2`` or ``acidity=1.4..1.6``."""
    name, _, value = (piece.strip() for piece in written.partition("="))
    low, dots, high = value.partition("..")
    try:
        aim = (float(low), float(high)) if dots else float(low)
    except ValueError:
        raise click.UsageError(say("chemistry.bad_to", found=written)) from None
    return name.replace("-", "_"), aim


def _part(written: str, known: dict[str, Any]) -> Part:
    """Read ``volume=100,abv=16,meter_value=3``."""
    from ...analysis.chemistry.blending import Part

    fields = ("volume", "meter_value", "abv", "acidity", "amino_acidity", "glucose")
    values: dict[str, Any] = {name: known[name] for name in (*fields, "name") if name in known}
    for pair in written.split(","):
        name, equals, value = (piece.strip() for piece in pair.partition("="))
        name = name.replace("-", "_")
        if not equals or name not in {*fields, "name"}:
            raise click.UsageError(say("chemistry.bad_part", found=pair, known=list(fields)))
        try:
            values[name] = value if name == "name" else float(value)
        except ValueError:
            raise click.UsageError(
                say("chemistry.bad_part", found=pair, known=list(fields))
            ) from None
    missing = [name for name in fields[:3] if name not in values]
    if missing:
        raise click.UsageError(say("chemistry.part_needs", found=written, missing=missing))
    return Part(**values)
