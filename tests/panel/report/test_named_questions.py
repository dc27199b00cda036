"""The report answers the questions of the sealed plan, whatever session.toml says since."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner
from kikichoko.panel.cli import kikichoko
from kikichoko.panel.plan.plan_file import load_open
from kikichoko.panel.report.build import open_context
from kikichoko.panel.report.named import section
from kikichoko.panel.returns.store import Store
from kikichoko.panel.session import load

NAMED = '["sweetness", "acidity: late, early"]'


def run(*words: object) -> None:
    done = CliRunner().invoke(kikichoko, [str(word) for word in words])
    assert done.exit_code == 0, done.output


def answer(place: Path, *people: str) -> None:
    rows = [
        f"{pour.assessor},{pour.code},sweetness,4"
        for pour in load_open(load(place)).pours
        if pour.assessor in people
    ]
    table = place / f"{'-'.join(people)}.csv"
    table.write_text("\n".join(["assessor,code,attribute,score", *rows, ""]), "utf-8")
    run("read", place, table)


def named(place: Path) -> tuple[list[str], str] | None:
    session = load(place)
    with Store(place) as store:
        made = section(open_context(session, load_open(session), store, "test", figures=False))
    if made is None:
        return None
    told = [one.sentence.to("en") for one in made.statements if one.kind == "caution"]
    return [one["question"] for one in made.data], " ".join(told)


def test_what_is_named_after_the_plan_was_sealed_is_exploration(folder):
    place = folder(more=f"[questions]\nprimary = {NAMED}")
    settings = place / "session.toml"
    run("plan", place)
    answer(place, "T1", "T2", "T3")
    planned = ["sweetness", "acidity: late, early"]
    assert named(place) == (planned, "")
    plan = settings.read_text("utf-8")
    for now, words in (('["body"]', "body"), ("[]", "none")):
        settings.write_text(plan.replace(NAMED, now), "utf-8")
        found = named(place)
        assert found is not None
        assert found[0] == planned
        assert (
            f"sweetness; acidity: late, early. session.toml names others now: {words}." in found[1]
        )


def test_only_what_every_plan_that_was_tasted_names_was_named_before(folder):
    place = folder(more=f"[questions]\nprimary = {NAMED}")
    run("plan", place)
    answer(place, "T1", "T2", "T3")
    settings = place / "session.toml"
    settings.write_text(settings.read_text("utf-8").replace(NAMED, '["sweetness", "body"]'))
    run("plan", place, "--again")
    assert named(place) == (["sweetness", "acidity: late, early"], named(place)[1])
    answer(place, "T4", "N1")
    found = named(place)
    assert found is not None
    assert found[0] == ["sweetness"]
    assert "names others now: sweetness, body." in found[1]
