"""Fuses, pins, Class 2 marks. 1.25 × load ≤ fuse ≤ wire: NFPA 70 (2017) 210.20(A), 240.5(A); Table 11(B)."""

from dataclasses import replace
from typing import Any

import pytest

from service.limits.facts import ConnectorFacts, FuseFacts, LeadFacts, ShowFacts, SupplyFacts
from service.limits.findings import Harm, Verdict
from service.limits.policy import DEFAULT
from tests.limits.builders import (
    RGBW,
    WARM_12,
    a_battery,
    a_decoder,
    a_feed,
    a_show,
    a_supply,
    an_element,
    found,
    mend_of,
    the,
)

AWG_18 = LeadFacts(6.0, "18 AWG", 0.02095, 7.0)


def wall(
    metres: float = 4.8, lead: LeadFacts = AWG_18, supply: SupplyFacts | None = None, **more: Any
) -> ShowFacts:
    """4.8 m of 19.2 W/m is 3.84 A at 24 V, from an output of 13.3 A."""
    element = an_element("SQ-01", RGBW, metres, a_feed("PS-01", "DC-01"), lead=lead, **more)
    return a_show(element, supplies=[supply or a_supply("PS-01")], decoders=[a_decoder("DC-01")])


def test_the_fuse_that_is_wanted_is_named_with_its_figures() -> None:
    """1.25 × 3.84 = 4.80: 5 A, of 7 A."""
    f = the(wall(), "fuse")

    assert (f.verdict, f.value, f.limit, f.unit) == (Verdict.OK, 5.0, 7.0, "A")
    assert "5 A fuse: 4.80 A wanted, 7 A allowed" in f.message


def test_no_fuse_fits_where_the_size_that_holds_the_load_is_more_than_the_wire() -> None:
    """8.0 m is 6.40 A: 1.25 × 6.4 = 8, so 10 A; 18 AWG takes 7. From both ends 3.2 A each: 4 A."""
    f = the(wall(8.0, replace(AWG_18, length_m=12.0)), "fuse")
    text, value, limit = mend_of(f)

    assert (f.verdict, f.harm, f.value, f.limit) == (Verdict.OVER, Harm.FIRE, 10.0, 7.0)
    assert "use 16 AWG" in text
    assert "total 3.63 %; a 4 A fuse in each lead" in text
    assert (value, limit) == (4.0, 10.0)


def test_a_supply_that_gives_no_more_than_the_wire_takes_wants_no_fuse_and_a_pack_always_does() -> None:
    weak = the(wall(supply=a_supply("PS-01", 96.0, (7.0,))), "fuse")
    pack = the(wall(supply=a_battery("PS-01", max_a=5.0)), "fuse")

    assert (weak.verdict, weak.value, weak.limit) == (Verdict.OK, 7.0, 7.0)
    assert "needs no fuse" in weak.message
    assert (pack.verdict, pack.value) == (Verdict.OK, 5.0)
    assert "within 150 mm" in pack.message


def test_a_supply_that_may_give_up_before_the_fuse_blows_is_watched() -> None:
    """6.0 m is 4.80 A: 6.0 A, so 7.5 A; it blows for certain above 11.25 A."""
    lead = LeadFacts(2.0, "16 AWG", 0.01318, 10.0)
    watched = the(wall(6.0, lead, a_supply("PS-01", caps=(11.2,))), "fuse")

    assert (watched.verdict, watched.value) == (Verdict.WATCH, 7.5)
    assert "11.25 A or more" in mend_of(watched)[0]
    assert the(wall(6.0, lead, a_supply("PS-01", caps=(11.25,))), "fuse").verdict is Verdict.OK


@pytest.mark.parametrize(
    ("show", "missing"),
    [
        (wall(lead=LeadFacts(6.0, None)), "gauge"),
        (wall(supply=a_supply("PS-01", caps=(None,))), "the amps of its output"),
    ],
)
def test_a_blank_leaves_the_fuse_unknown(show: ShowFacts, missing: str) -> None:
    f = the(show, "fuse")

    assert f.verdict is Verdict.UNKNOWN
    assert missing in f.message


def test_a_run_that_is_not_fed_wants_nothing_yet() -> None:
    show = a_show(an_element("SQ-01", RGBW, 8.0), supplies=[a_supply("PS-01")])

    assert [f for code in ("fuse", "fuses-known", "connectors-known") for f in found(show, code)] == []


@pytest.mark.parametrize(
    ("fuses_a", "verdict", "limit"),
    [
        ((5.0,), Verdict.OK, 7.0),
        ((7.0,), Verdict.OK, 7.0),
        ((7.5,), Verdict.OVER, 7.0),
        ((4.0,), Verdict.WATCH, 4.8),
        ((4.0, 15.0), Verdict.OVER, 7.0),
    ],
)
def test_what_is_fitted_is_held_against_the_wire_and_the_load(
    fuses_a: tuple[float, ...], verdict: Verdict, limit: float
) -> None:
    f = the(wall(lead=replace(AWG_18, fuses_a=fuses_a)), "fuse-fitted")

    assert f.verdict is verdict
    assert (f.value, f.limit) == pytest.approx((max(fuses_a), limit))
    if verdict is not Verdict.OK:
        assert mend_of(f) == ("fit a 5 A fuse", 5.0, 7.0)
        assert (f.margin or 0.0) < 0.0


def test_a_fuse_of_the_output_protects_the_lead_only_where_it_saves_its_wire() -> None:
    def behind(fuse: FuseFacts) -> ShowFacts:
        return wall(supply=a_supply("PS-01", fuses=(fuse,)))

    for fuse in (FuseFacts(5.0, 1), FuseFacts(5.0)):
        assert the(behind(fuse), "fuse-fitted").verdict is Verdict.OK
        assert found(behind(fuse), "fuses-known") == []
    for fuse in (FuseFacts(15.0, 1), FuseFacts(5.0, 2)):
        assert found(behind(fuse), "fuse-fitted") == []
        assert the(behind(fuse), "fuses-known").verdict is Verdict.UNKNOWN


def test_fuses_that_nobody_wrote_down_are_one_finding_with_the_sizes_to_fit() -> None:
    elements = [
        an_element(f"SQ-{n:02d}", RGBW, metres, a_feed("PS-01", "DC-01"), lead=AWG_18)
        for n, metres in enumerate((4.8, 4.8, 8.0, 0.5), 1)
    ]
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")])
    f = the(show, "fuses-known")

    assert (f.verdict, f.subject, f.harm) == (Verdict.UNKNOWN, "SQ", Harm.PAPER)
    assert f.elements == ("SQ-01", "SQ-02", "SQ-03", "SQ-04")
    wanted = "1 A × 1 (SQ-04); 5 A × 2 (SQ-01, SQ-02); none fits × 1 (SQ-03)"
    assert f.message == f"cannot check SQ: the fuse of 4 leads is not known; enter it; wanted: {wanted}"


@pytest.mark.parametrize(
    ("a_per_pin", "verdict"),
    [(3.84, Verdict.OK), (3.8, Verdict.OVER), (1.5, Verdict.OVER), (None, Verdict.UNKNOWN)],
)
def test_a_pin_carries_the_common_core(a_per_pin: float | None, verdict: Verdict) -> None:
    show = wall(lead=replace(AWG_18, connector=ConnectorFacts("X4", a_per_pin)))
    f = the(show, "connector-pins")

    assert f.verdict is verdict
    if verdict is Verdict.OVER:
        assert (f.value, f.limit) == pytest.approx((3.84, a_per_pin))
        after = mend_of(f)[1]
        assert after == (pytest.approx(1.92) if a_per_pin == 3.8 else None)


def test_a_connector_also_bounds_the_fuse_and_one_not_entered_is_asked_for_once() -> None:
    """5 A is wanted; a pin of 4 A may not have it."""
    lead = replace(AWG_18, connector=ConnectorFacts("X4", 4.0))

    assert the(wall(lead=lead), "fuse").limit == 4.0
    assert the(wall(lead=lead), "fuse").verdict is Verdict.OVER
    assert found(wall(lead=lead), "connectors-known") == []
    asked = the(wall(), "connectors-known")
    assert (asked.verdict, asked.subject, asked.elements) == (Verdict.UNKNOWN, "SQ", ("SQ-01",))


@pytest.mark.parametrize(
    ("cap_a", "mark", "verdict"),
    [
        (4.1, True, Verdict.OK),  # 98.4 VA
        (4.2, True, Verdict.OVER),  # 100.8 VA
        (4.0, None, Verdict.UNKNOWN),
        (13.3, None, None),  # too strong to be one
        (4.0, False, None),
    ],
)
def test_a_class_2_mark_is_held_against_what_the_output_gives(
    cap_a: float, mark: bool | None, verdict: Verdict | None
) -> None:
    show = a_show(supplies=[a_supply("PS-01", 96.0, (cap_a,), is_class2=mark)])

    assert [f.verdict for f in found(show, "class-2")] == ([] if verdict is None else [verdict])


def test_a_low_voltage_supply_may_give_less_under_its_mark_and_none_above_60_v() -> None:
    """12 V: 5.0 V = 60 VA (Table 11(B)); 72 V is no Class 2 supply at all."""
    low = a_supply("PS-01", 96.0, (6.0,), class_v=12.0, is_class2=True)
    high = a_supply("PS-01", 96.0, (1.0,), class_v=72.0, is_class2=True)

    assert the(a_show(supplies=[low]), "class-2").limit == pytest.approx(60.0)
    assert the(a_show(supplies=[low]), "class-2").verdict is Verdict.OVER
    assert the(a_show(supplies=[high]), "class-2").verdict is Verdict.OVER


def test_a_strong_output_leaves_its_box_through_fuses() -> None:
    boxed = a_supply("PS-01", enclosure="EN-1")
    fused = wall(lead=replace(AWG_18, fuses_a=(5.0,)), supply=boxed)

    assert the(wall(supply=boxed), "leaves-box").verdict is Verdict.UNKNOWN
    assert the(fused, "leaves-box").verdict is Verdict.OK
    light = wall(1.0, supply=a_supply("PS-01", 96.0, (4.0,), enclosure="EN-1"))
    assert the(light, "leaves-box").verdict is Verdict.OK
    assert found(wall(), "leaves-box") == []
    assert found(wall(supply=replace(boxed, is_class2=True)), "leaves-box") == []


def test_a_stricter_set_of_wire_figures_bounds_the_fuse_too() -> None:
    """Fixture wire of 18 AWG: 6 A (NFPA 70 (2017) Table 402.5), with five cores 0.80 of it: no 5 A fuse."""
    policy = replace(DEFAULT, wire_us_fixture=1.0)

    assert the(wall(), "fuse", policy=policy).limit == pytest.approx(4.8)
    assert the(wall(), "fuse", policy=policy).verdict is Verdict.OVER


def test_a_12_v_run_carries_twice_the_amps() -> None:
    """2.6 m of 9.6 W/m is 24.96 W: 2.08 A, a 3 A fuse."""
    element = an_element("SQ-23", WARM_12, 2.6, a_feed("PS-01"), lead=AWG_18, dimmed=False)
    show = a_show(element, supplies=[a_supply("PS-01", class_v=12.0)])

    assert the(show, "fuse").value == 3.0


def test_a_run_that_is_fed_at_both_ends_has_two_leads_of_half_its_amps() -> None:
    """8.0 m is 6.40 A: 3.20 A a lead, 1.25 × 3.2 = 4.0."""
    f = the(wall(8.0, style="both"), "fuse")

    assert (f.verdict, f.value) == (Verdict.OK, 4.0)
