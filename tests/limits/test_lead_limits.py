"""Drop, length of run and amps in the wire. Ohm's law and an evenly loaded line; shop wire figures."""

from dataclasses import replace

import pytest

from service.limits.facts import LeadFacts, ShowFacts, TapeFacts, WireFacts
from service.limits.findings import Harm, Verdict
from service.limits.policy import Policy
from tests.limits.builders import PIXEL_12, RGBW, a_show, a_tape, an_element, found, mend_of, the

OHM_PER_M = {"22 AWG": 0.05296, "20 AWG": 0.03331, "18 AWG": 0.02095, "16 AWG": 0.01318, "14 AWG": 0.008286}
SHOP_A = {"22 AWG": 3.0, "20 AWG": 5.0, "18 AWG": 7.0, "16 AWG": 10.0, "14 AWG": 15.0}
DRUMS = tuple(WireFacts(gauge, OHM_PER_M[gauge], SHOP_A[gauge]) for gauge in OHM_PER_M)


def _run(
    metres: float, lead_m: float | None, gauge: str | None, style: str = "one", tape: TapeFacts = RGBW
) -> ShowFacts:
    lead = LeadFacts(lead_m, gauge, OHM_PER_M.get(gauge or ""), SHOP_A.get(gauge or ""))
    return a_show(an_element("E", tape, metres, lead=lead, style=style), wires=DRUMS)


def test_a_long_edge_on_a_long_lead_is_over_and_the_mend_shows_its_figures() -> None:
    """8 m fed at one end of 12 m of 18 AWG: lead 8.38 %, total 12.38 %; both ends and 16 AWG: 3.64 %."""
    show = _run(8.0, 12.0, "18 AWG")
    total, lead, length = the(show, "total-drop"), the(show, "lead-drop"), the(show, "run-length")

    assert (total.verdict, round(total.value or 0, 2), total.limit) == (Verdict.OVER, 12.38, 10.0)
    assert (lead.verdict, round(lead.value or 0, 2), lead.limit) == (Verdict.WATCH, 8.38, 3.0)
    assert (length.verdict, length.harm, length.value, length.limit) == (Verdict.OVER, Harm.FIRE, 8.0, 5.0)
    text, after, _ = mend_of(total)
    assert "both ends from the same supply output and use 16 AWG" in text
    assert "3.20 A of 10.00 A a lead, lead 2.64 %, total 3.64 %" in text
    assert round(after or 0, 2) == 3.64
    assert mend_of(length)[1:] == (8.0, 10.0)


def test_thin_wire_is_over_on_amps_and_watched_on_drop_and_one_size_up_clears_both() -> None:
    """4.8 m of RGBW is 3.84 A; 22 AWG takes 3; over 4 m: lead 4.24 %, total 5.68 %."""
    show = _run(4.8, 4.0, "22 AWG")
    amps, lead, total = the(show, "lead-amps"), the(show, "lead-drop"), the(show, "total-drop")

    assert (amps.verdict, amps.harm) == (Verdict.OVER, Harm.FIRE)
    assert (round(amps.value or 0, 2), amps.limit, amps.unit) == (3.84, 3.0, "A")
    assert (lead.verdict, round(lead.value or 0, 2)) == (Verdict.WATCH, 4.24)
    assert (total.verdict, round(total.value or 0, 2), total.limit) == (Verdict.WATCH, 5.68, 5.0)
    assert mend_of(amps)[0].startswith("use 20 AWG: 3.84 A of 5.00 A a lead, lead 2.66 %, total 4.10 %")


def test_no_wire_is_offered_that_takes_the_amps_and_no_fuse_protects() -> None:
    """6 A: 18 AWG takes 7, but 1.25 x 6 = 7.5 A and its fuse is more than 7 (NFPA 70 (2017) 210.20(A))."""
    amps = the(_run(7.5, 1.0, "20 AWG", tape=replace(RGBW, max_run_m=None)), "lead-amps")

    assert mend_of(amps)[0].startswith("use 16 AWG: 6.00 A of 10.00 A a lead")


def test_a_waterline_fed_at_both_ends_is_a_watch_and_nothing_worse() -> None:
    """9.6 m, 14 m of 16 AWG at each end: lead 3.69 %, total 5.13 %; 9.6 m is less than twice 5 m."""
    show = _run(9.6, 14.0, "16 AWG", "both")

    assert (the(show, "lead-drop").verdict, round(the(show, "lead-drop").value or 0, 2)) == (
        Verdict.WATCH,
        3.69,
    )
    assert (the(show, "total-drop").verdict, round(the(show, "total-drop").value or 0, 2)) == (
        Verdict.WATCH,
        5.13,
    )
    assert (the(show, "run-length").verdict, the(show, "run-length").limit) == (Verdict.OK, 10.0)
    assert (the(show, "lead-amps").verdict, round(the(show, "lead-amps").value or 0, 2)) == (Verdict.OK, 3.84)


@pytest.mark.parametrize(
    ("style", "metres", "verdict"),
    [
        ("one", 5.0, Verdict.OK),
        ("one", 5.1, Verdict.OVER),
        ("both", 10.0, Verdict.OK),
        ("both", 10.1, Verdict.OVER),
        ("middle", 10.0, Verdict.OK),
    ],
)
def test_the_longest_run_doubles_when_the_current_comes_from_two_sides(
    style: str, metres: float, verdict: Verdict
) -> None:
    assert the(_run(metres, 1.0, "12 AWG", style), "run-length").verdict is verdict


def test_a_run_too_long_is_fed_at_both_ends_even_where_its_lead_is_not_known() -> None:
    text, after, limit = mend_of(the(_run(8.0, None, None), "run-length"))

    assert (text, after, limit) == ("feed it at both ends from the same supply output", 8.0, 10.0)


def test_a_run_too_long_for_any_feed_is_to_be_divided() -> None:
    assert "divide it" in mend_of(the(_run(12.0, 1.0, "14 AWG"), "run-length"))[0]


@pytest.mark.parametrize(("metres", "verdict"), [(3.75, Verdict.OK), (3.8, Verdict.OVER)])
def test_a_wire_exactly_at_its_shop_figure_is_ok(metres: float, verdict: Verdict) -> None:
    """3.75 m of 19.2 W/m at 24 V is 3.00 A; 22 AWG takes 3 A (common practice)."""
    assert the(_run(metres, 0.1, "22 AWG"), "lead-amps").verdict is verdict


def test_a_drop_exactly_at_a_limit_is_ok() -> None:
    """A lead of 3.000 % and 5.000 % in all: thresholds set to the very figures."""
    show = _run(4.0, 6.0, "18 AWG")
    lead_pct, total_pct = the(show, "lead-drop").value or 0.0, the(show, "total-drop").value or 0.0
    at = Policy(lead_watch=lead_pct / 100, drop_watch=total_pct / 100)
    under = Policy(lead_watch=lead_pct / 101, drop_watch=total_pct / 101)
    over = Policy(drop_watch=0.01, drop_over=total_pct / 101)

    assert [the(show, code, policy=at).verdict for code in ("lead-drop", "total-drop")] == [Verdict.OK] * 2
    assert [the(show, code, policy=under).verdict for code in ("lead-drop", "total-drop")] == [
        Verdict.WATCH
    ] * 2
    assert the(show, "total-drop", policy=over).verdict is Verdict.OVER


def test_one_lead_in_the_middle_carries_the_whole_current() -> None:
    """Kirchhoff: 4 m of 19.2 W/m is 3.2 A in one lead, 1.6 A in each of two."""
    amps = {
        style: the(_run(4.0, 1.0, "18 AWG", style), "lead-amps").value for style in ("one", "both", "middle")
    }

    assert amps == pytest.approx({"one": 3.2, "both": 1.6, "middle": 3.2})


def test_pixel_tape_on_two_leads_drops_as_worked_by_hand() -> None:
    """12 V, 4 m of 14.4 W/m fed at both ends of 3 m of 16 AWG: 2.4 A a lead, lead 1.58 %, total 2.38 %."""
    show = _run(4.0, 3.0, "16 AWG", "both", PIXEL_12)

    assert round(the(show, "lead-amps").value or 0, 2) == 2.4
    assert (round(the(show, "lead-drop").value or 0, 2), round(the(show, "total-drop").value or 0, 2)) == (
        1.58,
        2.38,
    )


@pytest.mark.parametrize(
    ("lead", "codes"),
    [
        (LeadFacts(None, "18 AWG"), {"lead-drop", "total-drop"}),
        (LeadFacts(5.0, None), {"lead-drop", "total-drop", "lead-amps"}),
        (LeadFacts(5.0, "bell wire"), {"lead-drop", "total-drop", "lead-amps"}),
        (LeadFacts(5.0, "8 AWG"), {"lead-amps"}),
        (LeadFacts(5.0, None, 0.02), {"lead-amps"}),
        (LeadFacts(5.0, "18 AWG"), set()),
        (LeadFacts(5.0, "1.5 mm²"), set()),
    ],
)
def test_a_blank_on_a_lead_reads_as_cannot_check(lead: LeadFacts, codes: set[str]) -> None:
    show = a_show(an_element("E", RGBW, 1.0, lead=lead))
    if not lead.gauge:
        assert "its gauge" in the(show, "lead-amps").message
    elif "lead-amps" in codes:
        assert f"what {lead.gauge} may carry is not known; enter its amps" in the(show, "lead-amps").message
    unknown = {
        f.code
        for code in ("lead-drop", "total-drop", "lead-amps")
        for f in found(show, code)
        if f.verdict is Verdict.UNKNOWN
    }

    assert unknown == codes


def test_tape_of_unknown_resistance_leaves_the_total_open_but_not_the_lead() -> None:
    tape = replace(RGBW, common_ohm_per_m=None)
    show = _run(4.8, 4.0, "22 AWG", tape=tape)

    assert the(show, "lead-drop").verdict is Verdict.WATCH
    assert the(show, "total-drop").verdict is Verdict.UNKNOWN
    assert "resistance of RGBW24's rails" in the(show, "total-drop").message


def test_a_lead_that_loses_too_much_alone_is_over_whatever_the_tape_adds() -> None:
    tape = replace(RGBW, common_ohm_per_m=None)

    assert the(_run(4.8, 30.0, "22 AWG", tape=tape), "total-drop").verdict is Verdict.OVER


def test_the_longest_run_may_be_a_blank_too() -> None:
    tape = a_tape("T", 24.0, {"W": 4.8}, max_run_m=None)

    assert the(_run(2.0, 1.0, "18 AWG", tape=tape), "run-length").verdict is Verdict.UNKNOWN


def test_nothing_is_asked_of_a_run_without_tape_or_pieces() -> None:
    bare = an_element("A", None)
    empty = an_element("B")
    empty = replace(empty, runs=tuple(replace(r, pieces=()) for r in empty.runs))

    for code in ("lead-drop", "total-drop", "run-length", "lead-amps"):
        assert found(a_show(bare, empty), code) == []


def test_the_stricter_of_the_drum_and_the_shop_decides() -> None:
    """Shop 7 A for 18 AWG; a drum marked 5.6 A counts as 5.6, a drum marked 9 A as 7."""
    for marked_a, limit_a in ((5.6, 5.6), (9.0, 7.0)):
        show = a_show(an_element("E", RGBW, 1.0, lead=LeadFacts(5.0, "18 AWG", None, marked_a)))
        assert the(show, "lead-amps").limit == limit_a


def test_only_wire_that_the_house_has_is_offered() -> None:
    """Without 20 AWG on a drum the next is 18."""
    show = _run(4.8, 4.0, "22 AWG")
    fewer = replace(show, wires=tuple(w for w in DRUMS if w.gauge != "20 AWG"))

    assert mend_of(the(fewer, "lead-amps"))[0].startswith("use 18 AWG")


def test_when_no_wire_clears_it_the_supply_comes_nearer() -> None:
    """5 m at the end of 60 m: 3 % of lead is reached at a fraction of that."""
    show = replace(_run(4.8, 60.0, "14 AWG"), wires=DRUMS)
    text = mend_of(the(show, "lead-drop"))[0]

    assert "bring the supply nearer: a lead of 18.1 m passes" in text
    assert the(_run(4.8, 18.1, "14 AWG"), "lead-drop").verdict is Verdict.OK
