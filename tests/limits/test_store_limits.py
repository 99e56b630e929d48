"""The state of units, what is overdue, and lots that must match. Common practice."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import pytest

from service.limits.facts import LeadFacts, ShowFacts
from service.limits.findings import Harm, Verdict
from tests.limits.builders import (
    BRIGHT,
    NEUTRAL,
    PIXEL_12,
    RGBW,
    WHITES,
    a_battery,
    a_decoder,
    a_feed,
    a_show,
    a_supply,
    a_unit,
    an_element,
    found,
    mend_of,
    the,
)


def test_a_faulty_decoder_in_use_is_over_and_a_sound_one_is_named() -> None:
    bad = a_unit("DC-07", "D4", "decoder", "faulty", state_note="channel 3 dead")
    element = an_element("FR-06", RGBW, 3.6, a_feed("PS-23", "DC-07"))
    free = (a_decoder("DC-22", 5, 8.0, 30.0, model="D5"), a_decoder("DC-10"), a_decoder("DC-09"))
    show = a_show(
        element, supplies=[a_supply("PS-23")], decoders=[a_decoder("DC-07", unit=bad)], free_decoders=free
    )
    finding = the(show, "unit-state", "DC-07")

    assert (finding.verdict, finding.harm, finding.elements) == (Verdict.OVER, Harm.DARK, ("FR-06",))
    assert finding.message == "DC-07 is faulty (channel 3 dead) and feeds FR-06"
    assert mend_of(finding)[0] == "swap DC-07 for DC-09 (D4); or DC-10 (D4), DC-22 (D5)"


def _tentacles(*free: object) -> ShowFacts:
    """115.2 W of pixels on a 12 V, 150 W supply that trips warm."""
    bad = a_unit("PS-52", "S150L", state="faulty", state_note="trips warm")
    feeds = [a_feed("PS-52", "DC-52", n, 1, port=n) for n in (1, 2)]
    elements = [
        an_element(f"TL-2{n + 1}", PIXEL_12, 4.0, feed, style="both") for n, feed in enumerate(feeds, 1)
    ]
    supply = a_supply("PS-52", 150.0, (12.5,), class_v=12.0, model="S150L", unit=bad)
    return a_show(*elements, supplies=[supply], free_supplies=free)


def test_a_faulty_supply_is_over_though_its_load_is_not() -> None:
    """115.2 W of 150 W x 0.80 = 120.0 W, 96.0 %; 60 W x 0.80 = 48 W would not carry it."""
    small = a_supply("PS-41", 60.0, (5.0,), class_v=12.0, model="S60")
    show = _tentacles(small)

    assert the(show, "unit-state", "PS-52").verdict is Verdict.OVER
    assert "no sound unit that would carry it is free" in mend_of(the(show, "unit-state"))[0]
    assert the(show, "supply-watts").verdict is Verdict.OK
    assert the(show, "supply-watts").share_pct == pytest.approx(96.0)


def test_the_same_model_is_offered_before_a_larger_one_and_another_voltage_never() -> None:
    same = a_supply("PS-53", 150.0, (12.5,), class_v=12.0, model="S150L")
    larger = a_supply("PS-50", 300.0, (25.0,), class_v=12.0, model="S300L")
    other_v = a_supply("PS-01")
    text = mend_of(the(_tentacles(other_v, larger, same), "unit-state"))[0]

    assert text == "swap PS-52 for PS-53 (S150L); or PS-50 (S300L)"


@pytest.mark.parametrize(
    ("state", "verdict"),
    [
        ("good", Verdict.OK),
        ("suspect", Verdict.WATCH),
        ("faulty", Verdict.OVER),
        ("missing", Verdict.OVER),
        ("repair", Verdict.OVER),
        ("retired", Verdict.OVER),
    ],
)
def test_only_a_good_unit_is_ok(state: str, verdict: Verdict) -> None:
    show = a_show(supplies=[a_supply("PS-01", unit=a_unit("PS-01", state=state))])

    assert the(show, "unit-state").verdict is verdict


def test_a_unit_still_to_be_chosen_or_not_described_cannot_be_checked() -> None:
    supplies = [a_supply("any S320", unit=None, is_placeholder=True), a_supply("PS-01", unit=None)]
    show = a_show(supplies=supplies)

    assert [f.verdict for f in found(show, "unit-state")] == [Verdict.UNKNOWN] * 2
    assert "which unit it will be" in the(show, "unit-state", "any S320").message


def test_a_unit_that_is_only_promised_is_looked_at_too_and_once() -> None:
    held = a_unit("BT-01", "B24-6", "battery", "missing")
    show = a_show(supplies=[a_battery("BT-01", unit=held)], units=(held, a_unit("BT-02", "B24-6", "battery")))

    assert [f.subject for f in found(show, "unit-state")] == ["BT-01", "BT-02"]


def _late(due_on: date | None) -> ShowFacts:
    unit = a_unit(
        "PS-02",
        "S320",
        held_by="CO",
        due_on=due_on,
        is_out=True,
        wanted_by=(("TL", date(2027, 1, 4)),),
    )
    portholes = [an_element(f"TL-0{n}", WHITES, 1.25, a_feed("PS-02"), dimmed=False) for n in range(1, 9)]
    return a_show(*portholes, supplies=[a_supply("PS-02", unit=unit)], production="TL")


def test_a_unit_that_never_came_back_says_how_late_it_is_and_whom_it_hurts() -> None:
    """Due 2026-11-03, today 2026-11-25: 22 days; eight portholes of 24.00 W are 192.00 W."""
    finding = the(_late(date(2026, 11, 3)), "overdue", "PS-02")

    assert (finding.verdict, finding.value, finding.unit, finding.harm) == (
        Verdict.OVER,
        22.0,
        "d",
        Harm.PAPER,
    )
    assert finding.message.startswith(
        "PS-02 is overdue 22 days from CO; hurts TL from 2027-01-04 (TL-01, TL-02"
    )
    assert finding.message.endswith("192.00 W)")
    assert mend_of(finding)[0].startswith("get PS-02 back from CO before 2027-01-04")


def test_the_first_production_that_is_hurt_sets_the_day() -> None:
    wanted = (("TL", date(2027, 1, 4)), ("TW", date(2026, 12, 28)))
    unit = a_unit("PS-02", held_by="CO", due_on=date(2026, 11, 3), is_out=True, wanted_by=wanted)
    finding = the(a_show(supplies=[a_supply("PS-02", unit=unit)]), "overdue")

    assert "hurts TW from 2026-12-28; hurts TL from 2027-01-04" in finding.message
    assert "before 2026-12-28" in mend_of(finding)[0]


@pytest.mark.parametrize(
    ("due_on", "verdict"),
    [(date(2026, 11, 25), Verdict.OK), (date(2026, 11, 24), Verdict.OVER), (None, Verdict.UNKNOWN)],
)
def test_the_last_day_of_a_loan_belongs_to_it(due_on: date | None, verdict: Verdict) -> None:
    assert the(_late(due_on), "overdue").verdict is verdict


def test_what_is_on_the_shelf_is_never_overdue() -> None:
    unit = a_unit("PS-02", due_on=date(2026, 11, 3), is_out=False)

    assert found(a_show(supplies=[a_supply("PS-02", unit=unit)]), "overdue") == []


def _attic(lots: Sequence[tuple[str, ...]]) -> ShowFacts:
    windows = [
        an_element(f"SQ-{n:02}", NEUTRAL, 1.3, lots=lot, match_group="attic") for n, lot in enumerate(lots, 7)
    ]
    return a_show(*windows)


def test_a_row_of_windows_from_two_lots_is_told_with_the_fewest_to_cut_again() -> None:
    """Six of lot N-26A, two of N-26C: 2 x 1.3 m = 2.6 m."""
    finding = the(_attic([("N-26A",)] * 6 + [("N-26C",)] * 2), "match-lot", "attic")

    assert (finding.verdict, finding.harm, finding.value) == (Verdict.OVER, Harm.LOOKS, 2.0)
    assert "N-26C: SQ-13, SQ-14" in finding.message
    assert mend_of(finding)[0] == "cut SQ-13, SQ-14 again from lot N-26A: 2.600 m in 2 pieces"


@pytest.mark.parametrize(
    ("lots", "verdict"),
    [
        ([("A",), ("A",)], Verdict.OK),
        ([("A",), ()], Verdict.UNKNOWN),
        ([(), ()], Verdict.UNKNOWN),
        ([("A",), ("A", "B")], Verdict.OVER),
        ([("A",), ("B",), ()], Verdict.OVER),
    ],
)
def test_a_match_group_is_one_lot_once_it_is_all_cut(lots: list[tuple[str, ...]], verdict: Verdict) -> None:
    assert the(_attic(lots), "match-lot").verdict is verdict


def test_without_a_match_group_nothing_need_match() -> None:
    show = a_show(an_element("A", NEUTRAL, lots=("A",)), an_element("B", WHITES, lots=("B",)))

    for code in ("match-tape", "match-lot", "match-feed", "match-pwm", "match-drop"):
        assert found(show, code) == []


def _pair(one: object, other: object, **more: object) -> ShowFacts:
    return a_show(one, other, **more)  # type: ignore[arg-type]


def test_a_match_group_is_one_tape() -> None:
    a, b = an_element("A", NEUTRAL, match_group="m"), an_element("B", WHITES, match_group="m")
    blank = an_element("C", None, match_group="m")

    assert the(_pair(a, b), "match-tape").verdict is Verdict.OVER
    assert the(_pair(a, replace(a, tag="D")), "match-tape").verdict is Verdict.OK
    assert the(_pair(a, blank), "match-tape").verdict is Verdict.UNKNOWN


def test_a_match_group_is_fed_in_one_style() -> None:
    a = an_element("A", NEUTRAL, match_group="m")
    b = an_element("B", NEUTRAL, match_group="m", style="both")

    assert the(_pair(a, b), "match-feed").verdict is Verdict.WATCH
    assert the(_pair(a, replace(a, tag="D")), "match-feed").verdict is Verdict.OK


@pytest.mark.parametrize(
    ("hertz", "verdict"), [(1000.0, Verdict.OK), (2000.0, Verdict.WATCH), (None, Verdict.UNKNOWN)]
)
def test_a_match_group_dims_at_one_frequency(hertz: float | None, verdict: Verdict) -> None:
    a = an_element("A", NEUTRAL, 1.0, a_feed("PS-01", "DC-01", 1, 1), match_group="m")
    b = an_element("B", NEUTRAL, 1.0, a_feed("PS-01", "DC-02", 1, 1), match_group="m")
    decoders = [a_decoder("DC-01"), a_decoder("DC-02", pwm_hz=hertz)]

    assert the(_pair(a, b, supplies=[a_supply("PS-01")], decoders=decoders), "match-pwm").verdict is verdict


@pytest.mark.parametrize(
    ("lead_m", "verdict"), [(5.0, Verdict.OK), (20.0, Verdict.OVER), (None, Verdict.UNKNOWN)]
)
def test_the_drops_of_a_match_group_are_within_three_per_cent(lead_m: float | None, verdict: Verdict) -> None:
    """3 m of 9.6 W/m is 1.2 A: 20 m of 22 AWG lose 10.6 %, 5 m 2.6 %."""
    a = an_element("A", NEUTRAL, 3.0, match_group="m", lead=LeadFacts(5.0, "22 AWG"))
    b = an_element("B", NEUTRAL, 3.0, match_group="m", lead=LeadFacts(lead_m, "22 AWG"))

    assert the(_pair(a, b), "match-drop").verdict is verdict


@pytest.mark.parametrize(
    ("lots", "verdict"),
    [(("A", "A"), Verdict.OK), (("A", "B"), Verdict.WATCH), (("A", ""), Verdict.UNKNOWN)],
)
def test_what_shares_a_channel_is_one_lot_or_is_looked_at(lots: tuple[str, str], verdict: Verdict) -> None:
    elements = [
        an_element(
            tag, BRIGHT, 1.0, a_feed("PS-01", "DC-01", 1, 1), control_group="edge", lots=(lot,) if lot else ()
        )
        for tag, lot in zip("AB", lots, strict=True)
    ]
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")])

    assert the(show, "parallel-lots").verdict is verdict
