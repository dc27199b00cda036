"""The plan: codes, orders, flights, bottles, alcohol; and what must not be in it."""

from __future__ import annotations

import itertools
import json
from collections import Counter
from types import SimpleNamespace

import pytest
from kikichoko.panel.base.errors import NotReady, PlanRefused
from kikichoko.panel.handouts.server_files import dose_lines, write
from kikichoko.panel.plan.code_draw import PLAIN, blind_codes
from kikichoko.panel.plan.doses import doses, ethanol_grams, needs
from kikichoko.panel.plan.plan_file import KEY, OPEN_HALF, load_open, save
from kikichoko.panel.plan.planning import make
from kikichoko.panel.plan.pours import Pour
from kikichoko.panel.plan.secret_draw import Draw
from kikichoko.panel.session import load
from kikichoko.panel.session.bottles import Bottle
from kikichoko.panel.session.roster import Assessor

SECRET = bytes(range(32))


def test_codes_are_three_digits_unique_and_plain():
    labels = [f"bottle {number}" for number in range(200)]
    codes = blind_codes(labels, Draw(SECRET))
    assert len(set(codes)) == 200
    assert all(len(code) == 3 and len(set(code)) == 3 for code in codes)
    assert not {"123", "321", "789", "987", "210"} & set(PLAIN)
    assert blind_codes(labels, Draw(SECRET)) == codes
    assert blind_codes(labels, Draw(SECRET[::-1])) != codes
    with pytest.raises(PlanRefused, match="needs 5000 codes"):
        blind_codes(["bottle"] * 5000, Draw(SECRET))


def test_shared_codes_are_one_per_bottle_and_replicate(folder):
    plan = make(load(folder()))
    inside = {pour.code: (pour.bottle, pour.replicate) for pour in plan.pours}
    assert len(inside) == 6
    assert all(inside[pour.code] == (pour.bottle, pour.replicate) for pour in plan.pours)


def test_codes_per_assessor_are_one_per_cup(folder):
    plan = make(load(folder(codes="per-assessor")))
    assert len({pour.code for pour in plan.pours}) == len(plan.pours) == 36


def test_each_assessor_gets_each_bottle_in_each_replicate_once(folder):
    plan = make(load(folder(replicates=3)))
    served = Counter((pour.assessor, pour.bottle, pour.replicate) for pour in plan.pours)
    assert set(served.values()) == {1}
    assert len(served) == 6 * 3 * 3


def test_the_orders_in_the_plan_are_balanced(folder):
    """Six assessors, three bottles, two replicates: exact, counted here from the pours."""
    plan = make(load(folder()))
    firsts = Counter((pour.bottle, (pour.presentation - 1) % 3) for pour in plan.pours)
    assert set(firsts.values()) == {4}
    follow: Counter[tuple[str, str]] = Counter()
    for code in {pour.assessor for pour in plan.pours}:
        own = [pour for pour in plan.pours if pour.assessor == code]
        for one, two in itertools.pairwise(own):
            if one.replicate == two.replicate:
                follow[one.bottle, two.bottle] += 1
    assert set(follow.values()) == {4}
    assert len(follow) == 6


def test_groups_are_served_in_their_order(folder):
    plan = make(load(folder(order="grouped")))
    for pour in plan.pours:
        assert ((pour.presentation - 1) % 3 == 2) == (pour.bottle == "late")
    told = " ".join(str(note) for note in plan.notes)
    assert "mixed with being served earlier or later" in told


def test_flights_are_small_enough_and_rests_are_told(folder):
    plan = make(load(folder(flight_size=2)))
    sizes = Counter((pour.assessor, pour.flight) for pour in plan.pours)
    assert max(sizes.values()) == 2
    sheet = plan.sheets[0]
    rests = [one.rest_before for one in sheet.presentations]
    assert rests[0] == 0
    assert sum(rest > 0 for rest in rests) == 3, "two flights a replicate: three rests"


def test_warm_up_spares_and_appearance_flight(folder):
    place = folder(warm_up="early", spare=2, appearance="flight")
    plan = make(load(place))
    assert [one.code for one in plan.assessors if one.spare] == ["S1", "S2"]
    sheet = plan.sheets[0]
    first, *others = sheet.presentations
    assert not first.counted
    assert first.number == 0
    blind = [one for one in others if "sweetness" in one.asked]
    looked = [one for one in others if "clarity" in one.asked]
    assert len(blind) == 6
    assert len(looked) == 3
    assert not any("clarity" in one.asked for one in blind)
    assert looked[-1].number > blind[-1].number, "after the blind flights"
    assert not {one.name for one in looked} & {one.name for one in blind}, "new codes"


def test_spare_sheets_leave_the_panel_as_it_was(folder):
    without = {p.assessor: [] for p in make(load(folder()), secret=SECRET).pours}
    for pour in make(load(folder()), secret=SECRET).pours:
        without[pour.assessor].append(pour.bottle)
    with_spares: dict[str, list[str]] = {}
    for pour in make(load(folder(spare=1)), secret=SECRET).pours:
        with_spares.setdefault(pour.assessor, []).append(pour.bottle)
    assert {code: with_spares[code] for code in without} == without


def test_the_same_secret_gives_the_same_plan_and_no_other_does(folder):
    session = load(folder())
    first, again = make(session, secret=SECRET), make(session, secret=SECRET)
    assert first.pours == again.pours
    assert first.pours != make(session, secret=SECRET[::-1]).pours
    assert make(session).secret != make(session).secret
    assert len(make(session).secret) == 32


def test_a_seed_in_the_settings_does_nothing_and_is_told(folder):
    session = load(folder(seed="seed = 1"))
    assert any("seed is no longer used" in str(one.what) for one in session.cautions)
    other = load(folder(seed="seed = 2"))
    assert make(session, secret=SECRET).pours == make(other, secret=SECRET).pours


def test_refused_when_the_bottles_do_not_suffice(folder):
    with pytest.raises(PlanRefused) as refused:
        make(load(folder(pour_ml=130, replicates=2)))
    assert "'early': 12 cups take 1560 mL, that is 3 bottles, but there are 2" in str(refused.value)
    assert "Pour less" in str(refused.value)


def test_needs_by_hand(folder):
    session = load(folder(spare=1, pour_ml=60))
    need = next(one for one in needs(make(session).pours, session.bottles) if one.bottle == "late")
    # 7 sheets × 2 replicates × 60 mL = 840 mL: two bottles of 720 mL
    assert (need.cups, need.ml, need.bottles) == (14, 840, 2)


@pytest.mark.parametrize(
    ("ml", "abv", "grams"),
    [(5, 15.5, 0.61), (15, 17, 2.01), (30, 18, 4.26), (180, 15, 21.30), (500, 5, 19.73)],
)
def test_ethanol_against_worked_figures(ml, abv, grams):
    # Density 0.789 g/mL at 20 °C (International Alcoholometric Tables); 180 mL at 15 % and
    # 500 mL at 5 % are the examples of the Japanese guideline, there with 0.8: 21.6 and 20 g.
    assert ethanol_grams(ml, abv) == pytest.approx(grams, abs=0.006)


def test_dose_counts_what_is_tasted_and_warns_above_the_guideline(folder):
    session = load(folder(pour_ml=40, replicates=2, appearance="flight"))
    plan = make(session)
    dose = doses(plan.pours, session.bottles)[0]
    by_hand = 2 * 40 * (16.5 + 16.8 + 16.9) / 100 * 0.789
    assert dose.swallowed == pytest.approx(by_hand)
    told = " ".join(dose_lines(plan.pours, plan.assessors, session, "en"))
    assert "above 20 g" in told
    assert "rising risk for women" in told


def test_smell_only_counts_no_alcohol(folder):
    place = folder(assessors="assessor,role,tastes\nA1,trained,yes\nA2,trained,no\n")
    session = load(place)
    by_code = {dose.assessor: dose for dose in doses(make(session).pours, session.bottles, ["A2"])}
    assert by_code["A2"].swallowed == 0
    assert by_code["A1"].swallowed > 0


def test_the_open_half_knows_no_bottle_and_the_key_does(folder):
    place = folder()
    session = load(place)
    plan = make(session)
    save(plan, place)
    write(plan, session)
    opened = (place / OPEN_HALF).read_text("utf-8") + (place / "plan/orders.csv").read_text("utf-8")
    for bottle in session.bottles:
        assert bottle.name not in opened
        assert bottle.fraction not in opened
    cups = json.loads((place / KEY).read_text("utf-8"))["cups"]
    assert {cup["bottle"] for cup in cups} == {"early", "middle", "late"}
    assert load_open(session).sheets["T1"] == plan.sheets[1]


def test_changed_questions_after_planning_are_noticed(folder):
    place = folder()
    save(make(load(place)), place)
    changed = load(folder(more="[questions]\ndrop = ['cloying']"))
    with pytest.raises(NotReady, match="changed after planning"):
        load_open(changed)


def cup(ml: float) -> Pour:
    """Return one cup of one bottle."""
    return Pour(
        assessor="A1", presentation=1, flight=1, code="101", bottle="one", replicate=1, ml=ml
    )


@pytest.mark.parametrize(
    ("grams", "limit", "whom"),
    [
        # day's amounts and the occasion of the guideline of 19 February 2024
        (19.9, "", ""),
        (20.1, "above 20 g", "for women"),
        (40.1, "above 40 g", "for men"),
        (60.1, "above 60 g", "anybody on one occasion"),
    ],
)
def test_alcohol_is_set_beside_each_figure_of_the_guideline(grams, limit, whom):
    abv = 15.0
    bottle = Bottle(name="one", abv=abv)
    pour = cup(grams / abv / 0.78924 * 100)
    session = SimpleNamespace(bottles=(bottle,))
    told = " ".join(dose_lines([pour], [Assessor(code="A1", role="trained")], session, "en"))
    assert f"That is {limit}" in told if limit else "That is above" not in told
    assert whom in told


def test_what_stays_of_a_spat_mouthful_and_what_is_assumed_of_an_unknown_bottle():
    # 10 to 30 % stay (from memory); undiluted sake has about 17 % (common practice, no source)
    (dose,) = doses([cup(100.0)], [Bottle(name="one")])
    assert dose.swallowed == pytest.approx(17 * 0.789, rel=1e-3)
    assert dose.spat == pytest.approx((0.1 * dose.swallowed, 0.3 * dose.swallowed))
