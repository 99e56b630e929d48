"""Wall circuits: I = P × 1.02 / (efficiency × V × power factor); 80 % of the breaker, NFPA 70 (2017)
210.20(A). Four supplies at once on 20 A: common practice."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from service.limits.facts import MainsFacts, OutletFacts, PlugFacts, ShowFacts
from service.limits.findings import Harm, Verdict
from service.limits.policy import DEFAULT
from tests.limits.builders import RGBW, a_battery, a_feed, a_show, a_supply, an_element, found, mend_of, the

S320 = MainsFacts(0.90, 0.98, 60.0)
MD2 = OutletFacts("MD2", "constant", 20.0, 120.0, venue="Slipway", place="deck right")
MD1 = replace(MD2, tag="MD1", place="deck left")
MD4 = replace(MD2, tag="MD4")


def plugged(*watts: float, outlet: OutletFacts = MD2, mains: MainsFacts = S320, **more: Any) -> ShowFacts:
    """Supplies PS-01.. with these loads, all on the one outlet."""
    tags = [f"PS-{n:02d}" for n, _ in enumerate(watts, 1)]
    elements = [
        an_element(f"SQ-{n:02d}", RGBW, w / 19.2, a_feed(tags[n - 1]), dimmed=False)
        for n, w in enumerate(watts, 1)
    ]
    supplies = [a_supply(tag, outlet=outlet.tag, mains=mains) for tag in tags]
    return a_show(*elements, supplies=supplies, outlets=(replace(outlet, supplies=tuple(tags)),), **more)


DECK = (311.04, 184.32, 184.32, 175.20, 57.60)  # 912.48 W × 1.02 / (0.90 × 120 × 0.98) = 8.794 A
FOG = replace(MD2, others=(("fog machine", 1000.0),))  # 8.333 A


def test_everything_on_a_circuit_is_added_up_against_eighty_per_cent_of_its_breaker() -> None:
    f = the(plugged(*DECK, outlet=FOG), "mains-amps")

    assert (f.verdict, f.harm) == (Verdict.OVER, Harm.DARK)
    assert (f.value, f.limit) == pytest.approx((17.127, 16.0), abs=0.001)
    assert "5 supplies 8.79 A + fog machine 8.33 A" in f.message
    assert f.elements == ("SQ-01", "SQ-02", "SQ-03", "SQ-04", "SQ-05")
    assert the(plugged(*DECK), "mains-amps").verdict is Verdict.OK


def test_exactly_the_limit_is_in_order() -> None:
    """16 A × 120 V = 1 920 W of other load, and a supply with nothing on it."""
    full = replace(MD2, others=(("heater", 1920.0),))

    assert the(plugged(0.0001, outlet=full), "mains-amps").verdict is Verdict.OK
    assert the(plugged(0.5, outlet=full), "mains-amps").verdict is Verdict.OVER


def test_the_smallest_thing_that_clears_it_goes_to_the_nearest_circuit_with_room() -> None:
    """57.6 W is 0.56 A, too little; 175.2 W is 1.69 A: 15.44 A stay."""
    show = plugged(*DECK, outlet=FOG, free_outlets=(MD1, MD4))

    text, after, limit = mend_of(the(show, "mains-amps"))
    assert text == "plug PS-04 into MD4: MD2 15.44 A of 16.00 A, MD4 1.69 A of 16.00 A"
    assert (after, limit) == pytest.approx((15.438, 16.0), abs=0.001)


def test_a_circuit_that_is_dimmed_full_or_elsewhere_is_not_offered() -> None:
    full = replace(MD1, others=(("oven", 1900.0),))
    free = (full, replace(MD1, tag="MX5", kind="dimmed"), replace(MD1, tag="SD1", venue="Net Loft"))
    mend = mend_of(the(plugged(*DECK, outlet=FOG, free_outlets=free), "mains-amps"))

    assert mend == (
        "take 1.13 A off it; no other circuit of the venue that is known has room for it",
        None,
        None,
    )


def test_a_figure_that_a_sheet_leaves_blank_is_assumed_and_said() -> None:
    """200 W: 204 W at the worst 0.85 and 0.5 is 4.00 A, at the best 0.94 and 0.98 it is 1.85 A."""
    blank = MainsFacts(None, None, None)
    fits = the(plugged(200.0, mains=blank), "mains-amps")

    assert fits.verdict is Verdict.OK
    assert fits.value == pytest.approx(4.0)
    assert "the power factor is not given: 0.5 was taken" in fits.message
    small = replace(MD2, breaker_a=3.0)
    unsure = the(plugged(200.0, mains=blank, outlet=small), "mains-amps")
    assert unsure.verdict is Verdict.UNKNOWN
    assert "1.85 to 4.00 A" in unsure.message
    tiny = the(plugged(200.0, mains=blank, outlet=replace(MD2, breaker_a=2.0)), "mains-amps")
    assert tiny.verdict is Verdict.OVER


@pytest.mark.parametrize("blank", ["breaker_a", "volts_v"])
def test_a_circuit_without_its_figures_is_unknown(blank: str) -> None:
    outlet = replace(MD2, **{blank: None})  # type: ignore[arg-type]

    assert the(plugged(100.0, outlet=outlet), "mains-amps").verdict is Verdict.UNKNOWN


def test_nothing_plugged_in_is_no_matter_of_this_show() -> None:
    show = a_show(supplies=[a_battery("BT-01")], outlets=(MD2,))

    assert [f for code in ("mains-amps", "mains-inrush") for f in found(show, code)] == []


@pytest.mark.parametrize(
    ("count", "breaker_a", "verdict", "most"),
    [
        (4, 20.0, Verdict.OK, 4),
        (5, 20.0, Verdict.WATCH, 4),
        (3, 15.0, Verdict.OK, 3),
        (4, 15.0, Verdict.WATCH, 3),
    ],
)
def test_more_supplies_than_a_breaker_is_known_to_start_are_watched(
    count: int, breaker_a: float, verdict: Verdict, most: int
) -> None:
    f = the(plugged(*([10.0] * count), outlet=replace(MD2, breaker_a=breaker_a)), "mains-inrush")

    assert (f.verdict, f.value, f.limit) == (verdict, float(count), float(most))
    assert f"surge {60 * count} A together" in f.message
    if verdict is Verdict.WATCH:
        text, after, limit = mend_of(f)
        assert text.startswith("switch them on in 2 groups")
        assert after is not None
        assert limit is not None
        assert after <= limit


def test_an_inrush_that_is_not_known_makes_the_sum_a_least_figure() -> None:
    f = the(plugged(10.0, 10.0, mains=MainsFacts(0.9, 0.98, None)), "mains-inrush")

    assert "0 A and more" in f.message
    assert "2 of them is not known" in f.message


def test_a_breaker_that_nobody_entered_leaves_the_inrush_of_several_unknown() -> None:
    outlet = replace(MD2, breaker_a=None)

    assert the(plugged(10.0, 10.0, outlet=outlet), "mains-inrush").verdict is Verdict.UNKNOWN
    assert found(plugged(10.0, outlet=outlet), "mains-inrush") == []


def another(supply: str, load_w: float, first: date, last: date) -> PlugFacts:
    return PlugFacts("TL", supply, load_w, S320, first, last)


def test_a_show_that_shares_the_circuit_counts_on_the_days_on_which_both_stand() -> None:
    """1 000 W is 9.64 A; 800 W of the other 7.71 A: 17.35 A, and only from the fourth."""
    shared = replace(MD2, shared=(another("PS-11", 800.0, date(2027, 1, 4), date(2027, 1, 12)),))
    alone, both = the(plugged(1000.0), "mains-amps"), the(plugged(1000.0, outlet=shared), "mains-amps")

    assert (alone.verdict, both.verdict) == (Verdict.OK, Verdict.OVER)
    assert both.value == pytest.approx(17.347, abs=0.001)
    assert "shared with TL (PS-11) on 2027-01-04" in both.message
    assert the(plugged(1000.0, outlet=shared), "mains-inrush").value == 2.0


def test_shows_that_follow_one_another_are_not_added_up() -> None:
    """Each of two others by itself holds; the fuller day is told."""
    shared = replace(
        MD2,
        shared=(
            another("PS-11", 500.0, date(2026, 12, 1), date(2026, 12, 31)),
            another("PS-12", 600.0, date(2027, 1, 1), date(2027, 1, 12)),
        ),
    )
    f = the(plugged(1000.0, outlet=shared), "mains-amps")

    assert f.verdict is Verdict.OK
    assert f.value == pytest.approx(1600.0 * 1.02 / (0.90 * 120.0 * 0.98))
    assert "on 2027-01-01" in f.message


def test_a_unit_that_two_shows_claim_draws_once_with_the_larger_of_its_loads() -> None:
    more = replace(MD2, shared=(another("PS-01", 300.0, date(2027, 1, 4), date(2027, 1, 12)),))
    less = replace(MD2, shared=(another("PS-01", 50.0, date(2027, 1, 4), date(2027, 1, 12)),))
    each_a = 1.02 / (0.90 * 120.0 * 0.98)

    assert the(plugged(100.0, outlet=more), "mains-amps").value == pytest.approx(300.0 * each_a)
    assert the(plugged(100.0, outlet=less), "mains-amps").value == pytest.approx(100.0 * each_a)


def test_a_circuit_that_another_show_fills_is_not_offered() -> None:
    full = replace(MD1, shared=(another("PS-11", 1500.0, date(2027, 1, 4), date(2027, 1, 12)),))
    show = plugged(*DECK, outlet=FOG, free_outlets=(full,))

    assert mend_of(the(show, "mains-amps"))[1] is None


def test_the_house_may_load_breakers_otherwise() -> None:
    policy = replace(DEFAULT, breaker_factor=1.0, inrush_supplies=5.0)

    assert the(plugged(*DECK, outlet=FOG), "mains-amps", policy=policy).verdict is Verdict.OK
    assert the(plugged(*DECK), "mains-inrush", policy=policy).verdict is Verdict.OK


def test_supplies_are_counted_on_the_day_with_the_most_of_them_though_another_day_is_fuller() -> None:
    """Two small ones in December, one of 900 W in January."""
    december = (date(2026, 12, 1), date(2026, 12, 31))
    shared = replace(
        MD2,
        shared=(
            another("PS-11", 10.0, *december),
            another("PS-12", 10.0, *december),
            another("PS-13", 900.0, date(2027, 1, 1), date(2027, 1, 12)),
        ),
    )

    assert the(plugged(10.0, outlet=shared), "mains-inrush").value == 3.0
    assert "on 2027-01-01" in the(plugged(10.0, outlet=shared), "mains-amps").message
