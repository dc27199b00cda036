"""Session folders for the tests of the panel room."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser

FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip

SESSION = """
name = "{name}"
title = "{title}"
date = 2026-03-14
question = "Do they differ?"
{seed}
[serving]
replicates = {replicates}
pour_ml = {pour_ml}
flight_size = {flight_size}
codes = "{codes}"
order = "{order}"
masking = "{masking}"
appearance = "{appearance}"
warm_up = "{warm_up}"
spare_sheets = {spare}
{more}
"""
DEFAULTS = {
    "name": "test-1", "title": "Tasting", "seed": "", "replicates": 2, "pour_ml": 20,
    "flight_size": 6, "codes": "shared", "order": "balanced", "masking": "opaque",
    "appearance": "off", "warm_up": "", "spare": 0, "more": "",
}  # fmt: skip
BOTTLES = """bottle,tank,fraction,pasteurised,abv,meter_value,acidity,supernatant,available,group
early,4,free-run,0,16.5,2,1.5,yes,2,1
middle,4,clear,0,16.8,2,1.6,yes,2,1
late,4,cloudy,0,16.9,2,1.7,yes,2,2
"""
ASSESSORS = """assessor,role,style,language
M1,maker,likes,en
T1,trained,neutral,en
T2,trained,dislikes,ja
T3,trained,neutral,en
T4,expert,neutral,en
N1,student,,en
"""

SHORT = """[questions]
drop = ["fault", "aroma_intensity", "bitterness", "astringency", "texture", "carbonation",
        "alcohol_warmth", "flavour_intensity", "finish_length", "clean_cut", "lingering_aroma",
        "cloying"]
"""


def write_folder(
    place: Path,
    *,
    bottles: str = BOTTLES,
    assessors: str = ASSESSORS,
    short: bool = False,
    **settings: object,
) -> Path:
    """Write a session folder; keywords change settings, `bottles` and `assessors` the tables.

    A `short` card is for tests that write sheets and do not care what is asked.
    """
    if short:
        settings["more"] = SHORT
    place.mkdir(exist_ok=True)
    (place / "session.toml").write_text(SESSION.format(**{**DEFAULTS, **settings}), "utf-8")
    (place / "bottles.csv").write_text(bottles, "utf-8")
    (place / "assessors.csv").write_text(assessors, "utf-8")
    return place


@pytest.fixture
def folder(tmp_path: Path) -> Callable[..., Path]:
    """Return `write_folder` for this test's own folder."""
    return partial(write_folder, tmp_path / "session")


@pytest.fixture(scope="session")
def folder_once(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Path]:
    """Return `write_folder` for folders that several tests copy, a new one at each call."""

    def write(**settings: object) -> Path:
        return write_folder(tmp_path_factory.mktemp("once") / "session", **settings)

    return write


@pytest.fixture(scope="module")
def without_figures() -> Iterator[None]:
    """Let `report` draw no figures: they take half of its time, and few tests look at them."""
    from kikichoko.panel.report import build

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(build, "open_context", partial(build.open_context, figures=False))
        yield


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Run Debian's Chromium, headless, for the tests of one file."""
    from playwright.sync_api import expect, sync_playwright

    program = shutil.which("chromium")
    assert program, "apt-get install chromium (.ci/run does)"
    expect.set_options(timeout=60_000)  # of a busy machine
    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=program, args=FLAGS)
        yield running
        running.close()


@pytest.fixture(scope="session")
def demo(made_once: Callable[..., Path]) -> Path:
    """Run the demo of fractions once for all workers; who changes the folder copies it first.

    It is the one that is made with text as pyarrow holds it.
    """
    import pandas as pd
    from kikichoko.panel.demos import fractions

    def make(place: Path) -> None:
        with pd.option_context("mode.string_storage", "pyarrow"):
            fractions.run(place, lambda: None)

    return made_once("fractions", make)
