"""``kikichoko size WHAT``: how many assessors, cups and bottles a question takes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..base.words import say
from ._figure import figure_option, save_figure
from ._table import result_options, show

if TYPE_CHECKING:
    from ...analysis.power.power_of_tests import ScorePlan

SECTION = "cli.section_before"
RANK = 10
TESTS = (
    "triangle",
    "duo-trio",
    "paired",
    "3-afc",
    "tetrad",
    "tetrad-specified",
    "two-out-of-five",
)
OTHERS = ("profile", "agreement", "fault")


@click.command(help=say("size.help"))
@click.argument("what", metavar="WHAT", type=click.Choice([*TESTS, *OTHERS]))
@click.option("--pd", type=float, help=say("size.option_pd"))
@click.option("--d-prime", type=float, help=say("size.option_d_prime"))
@click.option("--alpha", type=float, default=None, help=say("size.option_alpha"))
@click.option("--beta", type=float, default=None, help=say("size.option_beta"))
@click.option("--similarity", is_flag=True, help=say("size.option_similarity"))
@click.option("--two-sided", is_flag=True, help=say("size.option_two_sided"))
@click.option("--bottles", type=int, default=None, help=say("size.option_bottles"))
@click.option(
    "--bottle-ml", type=float, default=720, show_default=True, help=say("size.option_bottle_ml")
)
@click.option("--pour-ml", type=float, default=20, show_default=True, help=say("size.option_pour"))
@click.option("--assessors", type=int, default=8, show_default=True, help=say("size.option_n"))
@click.option("--samples", type=int, default=4, show_default=True, help=say("size.option_samples"))
@click.option(
    "--replicates", type=int, default=2, show_default=True, help=say("size.option_replicates")
)
@click.option("--interaction", type=float, help=say("size.option_interaction"))
@click.option("--residual", type=float, help=say("size.option_residual"))
@click.option(
    "--earlier",
    type=click.Path(path_type=Path),
    metavar="TABLE",
    help=say("size.option_earlier"),
)
@click.option("--attribute", default=None, help=say("size.option_attribute"))
@click.option("--difference", type=float, help=say("size.option_difference"))
@click.option("--power", type=float, default=0.8, show_default=True, help=say("size.option_power"))
@click.option("--expected", type=float, default=None, help=say("size.option_expected"))
@click.option("--level", type=float, default=0.95, show_default=True, help=say("size.option_level"))
@figure_option
@result_options
def command(what: str, *, figure: Path | None, as_json: bool, **options: Any) -> None:
    """Print the size of a test, a profile session, or an interval."""
    if what in TESTS:
        result = _test(what, options)
        drawn = result.size.curve if hasattr(result, "size") else result.curve
    elif what == "profile":
        result = _profile(options)
        drawn = result.found.figure
    else:
        result = _interval(what, options)
        drawn = result.curve
    show(result, as_json=as_json)
    save_figure(drawn, figure)


def _stated(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value


def _test(what: str, options: dict[str, Any]) -> Any:
    from ...analysis.power.numbers_of_assessors import USUAL_RISKS, assessors_for, supply

    alike = options["similarity"]
    purpose = "similarity" if alike else "difference"
    usual = USUAL_RISKS[purpose]
    if options["pd"] is None and options["d_prime"] is None:
        raise click.UsageError(say("size.state"))
    size = assessors_for(
        what,
        alpha=_stated(options["alpha"], usual[0]),
        beta=_stated(options["beta"], usual[1]),
        pd=options["pd"],
        d_prime=options["d_prime"],
        sides=2 if options["two_sided"] else 1,
        purpose=purpose,
    )
    if options["bottles"] is None:
        return size
    return supply(
        size,
        bottles=options["bottles"],
        bottle_ml=options["bottle_ml"],
        pour_ml=options["pour_ml"],
    )


def _profile(options: dict[str, Any]) -> Any:
    from ...analysis.power.profile_sizes import profile_size

    return profile_size(
        _plan(options),
        power=options["power"],
        wanted=options["difference"],
        bottles=options["bottles"],
        bottle_ml=options["bottle_ml"],
        pour_ml=options["pour_ml"],
    )


def _plan(options: dict[str, Any]) -> ScorePlan:
    """Take the variances as they were stated, or from an earlier table."""
    from ...analysis.power.power_of_tests import ScorePlan

    interaction, residual = options["interaction"], options["residual"]
    if options["earlier"] is not None:
        from ...analysis.power.detectable_difference import detectable_in
        from ._table import load

        found = detectable_in(load(options["earlier"]), options["attribute"])
        interaction, residual = found.interaction, found.residual
    if interaction is None or residual is None:
        raise click.UsageError(say("size.variances"))
    return ScorePlan(
        samples=options["samples"],
        assessors=options["assessors"],
        replicates=options["replicates"],
        interaction=interaction,
        residual=residual,
        alpha=_stated(options["alpha"], 0.05),
    )


def _interval(what: str, options: dict[str, Any]) -> Any:
    from ...analysis.power.sizes_by_interval import agreement_size, fault_size

    expected, level = options["expected"], options["level"]
    if what == "agreement":
        return agreement_size(
            options["samples"],
            options["assessors"],
            expected=_stated(expected, 0.5),
            level=level,
        )
    return fault_size(options["assessors"], expected=_stated(expected, 0.25), level=level)
