"""Voltage class, watts and amps: over, exactly at the limit, not known, not applicable.

Figures of the shows in these tests were worked by hand: P = V I, 80 % for hours (common practice).
"""

from dataclasses import replace

import pytest

from service.limits.facts import FeedFacts, ShowFacts
from service.limits.findings import Harm, Verdict
from service.limits.policy import Policy
from tests.limits.builders import (
    BRIGHT,
    NEUTRAL,
    PIXEL_12,
    RED,
    RGBW,
    WARM_12,
    WHITES,
    a_battery,
    a_decoder,
    a_feed,
    a_show,
    a_supply,
    a_tape,
    an_element,
    found,
    mend_of,
    the,
)


def _ice_wall() -> ShowFacts:
    """PS-01 carries panels, a mirror added in tech and a throne; PS-03 panels; PS-06 a river and lamps."""
    panels = {"SQ-01": ("PS-01", "DC-01"), "SQ-02": ("PS-01", "DC-02"), "SQ-03": ("PS-03", "DC-09")}
    panels["SQ-04"] = ("PS-03", "DC-10")
    elements = [an_element(tag, RGBW, 4.8, a_feed(*path)) for tag, path in panels.items()]
    elements += [
        an_element("SQ-17", WHITES, 3.3, a_feed("PS-01", "DC-21", 1, 2)),
        an_element("SQ-22", RGBW, [1.1, 1.1, 1.1], [a_feed("PS-01", "DC-04")] * 3),
        an_element("SQ-21", RGBW, 8.0, a_feed("PS-06", "DC-13")),
        an_element("SQ-18", BRIGHT, 1.5, a_feed("PS-06", "DC-22", 1, 1)),
    ]
    decoders = [a_decoder(f"DC-{n}") for n in ("01", "02", "04", "09", "10", "13", "21", "22")]
    supplies = [a_supply("PS-01"), a_supply("PS-03"), a_supply("PS-06")]
    supplies += [a_supply("PS-26", 150.0, (6.25,), outlet_kind="dimmed")]
    return a_show(*elements, supplies=supplies, decoders=decoders)


def test_a_supply_over_its_limit_but_under_its_nameplate_says_that_it_will_trip_later() -> None:
    """184.32 + 63.36 + 63.36 = 311.04 W on 320 W x 0.80 = 256.00 W, 121.5 %."""
    finding = the(_ice_wall(), "supply-watts", "PS-01")

    assert (finding.verdict, finding.harm) == (Verdict.OVER, Harm.DARK)
    assert (round(finding.value or 0, 2), finding.limit) == (311.04, 256.0)
    assert finding.message == (
        "PS-01 carries 311.04 W; its limit is 256.00 W (320 W × 0.80), 121.5 %; "
        "still under the nameplate, so it will run on the bench and trip in a long session"
    )
    assert finding.elements == ("SQ-01", "SQ-02", "SQ-17", "SQ-22")
    assert finding.caution


def test_the_mend_of_an_overload_is_the_smallest_move_with_its_decoder_and_both_figures() -> None:
    """63.36 W off PS-01 leaves 247.68; on PS-03 it makes 247.68 of 256.00; on PS-06 238.56."""
    text, after, limit = mend_of(the(_ice_wall(), "supply-watts", "PS-01"))

    assert text.startswith("move SQ-17 with DC-21 to PS-03: PS-03 247.68 W of 256.00 W, PS-01 247.68 W")
    assert "PS-06 (238.56 W of 256.00 W)" in text
    assert "PS-26" not in text
    assert (round(after or 0, 2), limit) == (247.68, 256.0)


def test_the_overload_also_passes_the_output_and_the_same_move_mends_it() -> None:
    """12.96 A on 13.3 A x 0.80 = 10.64 A; without 2.64 A it is 10.32 A."""
    finding = the(_ice_wall(), "output-amps", "PS-01 output 1")
    text, after, limit = mend_of(finding)

    assert (round(finding.value or 0, 2), round(finding.limit or 0, 2)) == (12.96, 10.64)
    assert text.startswith("move SQ-17 with DC-21 to PS-03")
    assert (round(after or 0, 2), round(limit or 0, 2)) == (10.32, 10.64)
    assert finding.tag == "PS-01"


def test_a_locked_feed_is_not_moved_so_the_next_smallest_is() -> None:
    show = _ice_wall()
    locked = [
        replace(e, runs=tuple(replace(r, feed=_locked(r.feed)) for r in e.runs)) if e.tag == "SQ-17" else e
        for e in show.elements
    ]
    text, _, _ = mend_of(the(replace(show, elements=tuple(locked)), "supply-watts", "PS-01"))

    assert text.startswith("move SQ-22 with DC-04 to PS-03")


def _locked(feed: FeedFacts | None) -> FeedFacts | None:
    return None if feed is None else replace(feed, locked=True)


def test_full_to_the_brim_is_ok_and_says_100_per_cent() -> None:
    """Four outputs of 3.20 A at 24 V are 307.20 W of 384 W x 0.80 = 307.20 W."""
    elements = [
        an_element(f"TL-{n:02}", RGBW, 4.0, a_feed("PS-11", f"DC-{n:02}", output=n)) for n in range(1, 5)
    ]
    decoders = [a_decoder(f"DC-{n:02}") for n in range(1, 5)]
    show = a_show(*elements, supplies=[a_supply("PS-11", 384.0, (4.0,) * 4)], decoders=decoders)

    watts = the(show, "supply-watts", "PS-11")
    amps = found(show, "output-amps")
    assert watts.verdict is Verdict.OK
    assert "100.0 %" in watts.message
    assert [f.verdict for f in amps] == [Verdict.OK] * 4
    assert all("3.20 A of 3.20 A, 100.0 %" in f.message for f in amps)


def test_a_supply_past_its_nameplate_is_a_heat_fault_and_says_so() -> None:
    """20 m of 19.2 W/m is 384 W on a 320 W supply."""
    show = a_show(an_element("SQ-01", RGBW, 20.0, a_feed("PS-01")), supplies=[a_supply("PS-01")])
    finding = the(show, "supply-watts", "PS-01")

    assert (finding.verdict, finding.harm) == (Verdict.OVER, Harm.FIRE)
    assert "also over 320.00 W" in finding.message


def test_warm_air_takes_its_share_and_the_message_says_how() -> None:
    """320 W x 0.646 x 0.80 = 165.38 W is less than 184.32 W."""
    element = an_element("SQ-05", RGBW, 9.6, a_feed("PS-05"))
    show = a_show(element, supplies=[a_supply("PS-05", ambient_factor=0.646)])
    finding = the(show, "supply-watts", "PS-05")

    assert finding.verdict is Verdict.OVER
    assert "(320 W × 0.646 for the warm air × 0.80)" in finding.message
    assert finding.share_pct == pytest.approx(111.5, abs=0.06)


@pytest.mark.parametrize(
    ("supply", "missing"),
    [
        (a_supply("PS-01", None), "watts on its plate"),
        (a_supply("PS-01", ambient_factor=None), "temperature"),
    ],
)
def test_a_supply_with_a_blank_cannot_be_checked(supply: object, missing: str) -> None:
    show = a_show(an_element("SQ-01", feed=a_feed("PS-01")), supplies=[supply])  # type: ignore[list-item]
    finding = the(show, "supply-watts", "PS-01")

    assert finding.verdict is Verdict.UNKNOWN
    assert finding.message.startswith("cannot check PS-01")
    assert missing in finding.message


def test_a_load_that_is_not_known_keeps_a_supply_and_a_decoder_from_reading_ok() -> None:
    elements = [
        an_element("SQ-01", feed=a_feed("PS-01", "DC-01")),
        an_element("SQ-02", None, feed=a_feed("PS-01", "DC-01")),
    ]
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")])

    for code in ("supply-watts", "bank-amps"):
        assert the(show, code).verdict is Verdict.UNKNOWN
        assert "SQ-02" in the(show, code).message


def test_an_output_with_no_figure_cannot_be_checked_and_an_empty_one_is_not() -> None:
    show = a_show(an_element("SQ-01", feed=a_feed("PS-01")), supplies=[a_supply("PS-01", caps=(None, 4.0))])

    assert the(show, "output-amps").subject == "PS-01 output 1"
    assert the(show, "output-amps").verdict is Verdict.UNKNOWN


def test_an_output_over_its_cap_moves_to_a_free_supply_when_nothing_in_the_show_holds_it() -> None:
    """4.4 m of RGBW is 84.48 W, 3.52 A on 4.0 A x 0.80 = 3.20 A; the supply's watts are fine."""
    element = an_element("TL-14", RGBW, 4.4, a_feed("PS-12", "DC-10", output=2))
    supplies = [a_supply("PS-12", 384.0, (4.0,) * 4, model="S384")]
    free = (a_supply("PS-31", 96.0, (4.0,), model="S96"), a_supply("PS-21", 150.0, (6.25,), model="S150"))
    show = a_show(element, supplies=supplies, decoders=[a_decoder("DC-10")], free_supplies=free)
    finding = the(show, "output-amps", "PS-12 output 2")

    assert finding.verdict is Verdict.OVER
    assert (round(finding.value or 0, 2), round(finding.limit or 0, 2)) == (3.52, 3.20)
    assert the(show, "supply-watts").verdict is Verdict.OK
    assert mend_of(finding)[0].startswith("move TL-14 with DC-10 to PS-21 (free): PS-21 84.48 W of 120.00 W")


def test_another_output_of_the_same_supply_will_do() -> None:
    """Two runs of 2.4 A straight on output 1 are 4.8 A on 3.2 A; output 2 has nothing."""
    elements = [an_element(f"TL-0{n}", RGBW, 3.0, a_feed("PS-12"), dimmed=False) for n in (1, 2)]
    show = a_show(*elements, supplies=[a_supply("PS-12", 384.0, (4.0, 4.0))])
    text, after, _ = mend_of(the(show, "output-amps", "PS-12 output 1"))

    assert text.startswith("move TL-01 to PS-12 output 2")
    assert after == pytest.approx(2.4)


def test_no_room_anywhere_offers_no_mend_rather_than_a_false_one() -> None:
    show = a_show(an_element("SQ-01", RGBW, 14.0, a_feed("PS-01")), supplies=[a_supply("PS-01")])

    assert the(show, "supply-watts").mend is None


def test_twelve_volt_tape_on_twenty_four_volts_is_the_worst_finding_of_all() -> None:
    elements = [
        an_element("FR-10", WARM_12, 0.6, a_feed("PS-24", "DC-08", 3, 1)),
        an_element("FR-08", WHITES, 20.0, a_feed("PS-24", "DC-08", 1, 2)),
    ]
    free = (a_supply("PS-41", 60.0, (5.0,), class_v=12.0, model="S60"),)
    show = a_show(
        *elements,
        supplies=[a_supply("PS-24", 150.0, (6.25,))],
        decoders=[a_decoder("DC-08")],
        free_supplies=free,
        free_decoders=(a_decoder("DC-13"),),
    )
    finding = the(show, "voltage-class", "FR-10")

    assert (finding.verdict, finding.harm, finding.value, finding.limit) == (
        Verdict.OVER,
        Harm.FIRE,
        24.0,
        12.0,
    )
    assert "12 V tape on PS-24, a 24 V supply" in finding.message
    assert mend_of(finding)[0] == "feed it from PS-41 (free), 12 V through DC-13: 5.76 W of 48.00 W"
    assert the(show, "voltage-class", "FR-08").verdict is Verdict.OK


def test_twenty_four_volt_tape_on_a_twelve_volt_pack_will_not_light_properly() -> None:
    element = an_element("FR-09", RED, 0.5, a_feed("BT-01"), dimmed=False)
    show = a_show(element, supplies=[a_battery("BT-01", 12.0)], free_supplies=(a_battery("BT-22"),))
    finding = the(show, "voltage-class", "FR-09")

    assert (finding.verdict, finding.harm) == (Verdict.OVER, Harm.VOLTAGE)
    assert "a 12 V battery: it will not light properly" in finding.message
    assert mend_of(finding)[0].startswith("feed it from BT-22 (free), 24 V")


def test_voltage_is_not_known_when_the_source_is_not_and_not_asked_of_what_has_no_feed() -> None:
    show = a_show(
        an_element("A", feed=a_feed("PS-99")), an_element("B"), an_element("C", None, feed=a_feed("PS-99"))
    )

    assert the(show, "voltage-class").subject == "A"
    assert the(show, "voltage-class").verdict is Verdict.UNKNOWN


def test_common_negative_tape_does_not_go_on_a_common_positive_decoder() -> None:
    negative = a_tape("NEG", 24.0, {"W": 9.6}, polarity="common negative")
    blank = a_tape("BLANK", 24.0, {"W": 9.6}, polarity="")
    elements = [
        an_element("A", negative, feed=a_feed("PS-01", "DC-01", 1, 1)),
        an_element("B", NEUTRAL, feed=a_feed("PS-01", "DC-01", 2, 1)),
        an_element("C", blank, feed=a_feed("PS-01", "DC-01", 3, 1)),
        an_element("D", NEUTRAL, feed=a_feed("PS-01"), dimmed=False),
    ]
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")])

    assert {f.subject: f.verdict for f in found(show, "polarity")} == {
        "A": Verdict.OVER,
        "B": Verdict.OK,
        "C": Verdict.UNKNOWN,
    }


@pytest.mark.parametrize(
    ("class_v", "verdict", "harm"),
    [
        (24.0, Verdict.OK, Harm.FIRE),
        (12.0, Verdict.OK, Harm.FIRE),
        (48.0, Verdict.OVER, Harm.FIRE),
        (5.0, Verdict.OVER, Harm.VOLTAGE),
    ],
)
def test_a_decoder_is_fed_inside_its_range(class_v: float, verdict: Verdict, harm: Harm) -> None:
    tape = a_tape("T", class_v, {"W": 4.8})
    show = a_show(
        an_element("A", tape, feed=a_feed("PS-01", "DC-01", 1, 1)),
        supplies=[a_supply("PS-01", class_v=class_v)],
        decoders=[a_decoder("DC-01")],
    )

    assert (the(show, "decoder-volts").verdict, the(show, "decoder-volts").harm) == (verdict, harm)


def _ganged(decoder_a: float = 5.0, free: int = 4) -> ShowFacts:
    edges = [
        an_element(tag, BRIGHT, 5.0, a_feed("PS-04", "DC-14", 1, 1), control_group="ice edge")
        for tag in ("FR-11", "FR-12")
    ]
    decoders = [a_decoder("DC-14", free, decoder_a)]
    return a_show(*edges, supplies=[a_supply("PS-04")], decoders=decoders, free_decoders=(
        a_decoder("DC-22", 5, 8.0, 30.0, model="D5"),
    ))  # fmt: skip


def test_two_edges_ganged_on_one_channel_pass_its_limit_and_its_rating() -> None:
    """2 x 3.00 A = 6.00 A on 5 A x 0.80 = 4.00 A."""
    finding = the(_ganged(), "channel-amps", "DC-14 channel 1")

    assert (finding.verdict, finding.harm) == (Verdict.OVER, Harm.FIRE)
    assert (round(finding.value or 0, 2), finding.limit) == (6.0, 4.0)
    assert "also over the 5.00 A rating" in finding.message
    assert mend_of(finding)[0] == (
        "move FR-12 to channel 2 of DC-14: channel 1 3.00 A and channel 2 3.00 A of 4.00 A"
    )


def test_without_a_free_channel_a_stronger_decoder_is_offered() -> None:
    """8 A x 0.80 = 6.40 A holds 6.00 A."""
    text, after, limit = mend_of(the(_ganged(free=1), "channel-amps"))

    assert text == "swap DC-14 for DC-22 (D5): channel 1 6.00 A of 6.40 A"
    assert (round(after or 0, 2), round(limit or 0, 2)) == (6.0, 6.4)


def test_a_channel_exactly_at_its_limit_is_ok_and_over_the_limit_alone_is_no_heat_fault() -> None:
    """6.00 A on 7.5 A x 0.80 = 6.00 A; on 6.5 A x 0.80 = 5.20 A it is over but under the rating."""
    assert the(_ganged(7.5), "channel-amps").verdict is Verdict.OK
    finding = the(_ganged(6.5), "channel-amps")
    assert (finding.verdict, finding.harm) == (Verdict.OVER, Harm.DARK)
    assert "rating" not in finding.message


def test_ports_whose_amps_nobody_wrote_down_cannot_be_checked() -> None:
    element = an_element("SQ-24", PIXEL_12, [2.0, 2.0], [a_feed("PS-51", "DC-51", 1, 1, port=1)] * 2)
    driver = a_decoder("DC-51", 4, None, None, min_v=5.0, signal="pixel", model="DP4")
    show = a_show(element, supplies=[a_supply("PS-51", 150.0, (12.5,), class_v=12.0)], decoders=[driver])

    assert the(show, "channel-amps", "DC-51 port 1").verdict is Verdict.UNKNOWN
    assert the(show, "bank-amps", "DC-51").verdict is Verdict.UNKNOWN


def test_a_level_cap_never_hides_a_load() -> None:
    """Pulse-width dimming is full current in the pulse (physics)."""
    show = _ganged()
    capped = replace(show, elements=tuple(replace(e, level_cap_pct=30.0) for e in show.elements))

    assert the(capped, "channel-amps").value == the(show, "channel-amps").value


@pytest.mark.parametrize(
    ("total_a", "verdict"),
    [(15.0, Verdict.OK), (12.0, Verdict.OK), (11.9, Verdict.OVER), (None, Verdict.UNKNOWN)],
)
def test_a_decoder_is_added_up_over_all_its_channels(total_a: float | None, verdict: Verdict) -> None:
    """12 m of 19.2 W/m at 24 V is 9.6 A; 12 A x 0.80 = 9.6 A."""
    elements = [an_element(f"A-{n}", NEUTRAL, 6.0, a_feed("PS-01", "DC-01", n, 1)) for n in range(1, 5)]
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01", total_a=total_a)])
    finding = the(show, "bank-amps", "DC-01")

    assert finding.verdict is verdict
    if verdict is Verdict.OVER:
        assert mend_of(finding)[0].startswith("move A-1 to another decoder: DC-01 7.20 A of 9.52 A")


def test_a_decoder_that_feeds_nothing_is_not_added_up() -> None:
    show = a_show(
        an_element("A", NEUTRAL, feed=a_feed("PS-01", "DC-01", 1, 1)),
        supplies=[a_supply("PS-01")],
        decoders=[a_decoder("DC-01"), a_decoder("DC-02")],
    )

    assert [f.subject for f in found(show, "bank-amps")] == ["DC-01"]


def test_two_outputs_never_meet_through_a_decoder() -> None:
    elements = [
        an_element("A", NEUTRAL, 1.0, a_feed("PS-11", "DC-01", 1, 1, output=1)),
        an_element("B", NEUTRAL, 1.0, a_feed("PS-11", "DC-01", 2, 1, output=2)),
        an_element("C", NEUTRAL, 1.0, a_feed("PS-11", "DC-02", 1, 1, output=2)),
    ]
    show = a_show(
        *elements,
        supplies=[a_supply("PS-11", 384.0, (4.0,) * 4)],
        decoders=[a_decoder("DC-01"), a_decoder("DC-02"), a_decoder("DC-03")],
    )

    assert the(show, "bank-sources", "DC-01").verdict is Verdict.OVER
    assert "PS-11 output 1 and PS-11 output 2 meet in DC-01" in the(show, "bank-sources", "DC-01").message
    assert the(show, "bank-sources", "DC-02").verdict is Verdict.OK
    assert found(show, "bank-sources", "DC-03") == []


@pytest.mark.parametrize(
    ("max_a", "verdict"),
    [(2.5, Verdict.OK), (2.08, Verdict.OK), (2.0, Verdict.OVER), (None, Verdict.UNKNOWN)],
)
def test_a_pack_gives_its_peak_and_no_more(max_a: float | None, verdict: Verdict) -> None:
    """2.6 m of 9.6 W/m at 12 V is 24.96 W, 2.08 A; a pack has no 80 % on its peak."""
    element = an_element("SQ-23", WARM_12, 2.6, a_feed("BT-11"), dimmed=False)
    show = a_show(element, supplies=[a_battery("BT-11", 12.0, max_a)])

    assert the(show, "battery-amps", "BT-11").verdict is verdict
    assert found(show, "supply-watts") == []
    assert found(show, "output-amps") == []


def test_the_stricter_of_the_units_own_share_and_the_houses_decides() -> None:
    """10 A on 13.3 A: 0.80 allows 10.64, a unit kept to 0.70 allows 9.31, a house of 0.60 allows 7.98."""
    element = an_element("A", RGBW, 12.5, a_feed("PS-01"))
    usual = a_show(element, supplies=[a_supply("PS-01")])
    quiet = a_show(element, supplies=[a_supply("PS-01", load_factor=0.70)])

    assert the(usual, "output-amps").limit == pytest.approx(10.64)
    assert the(quiet, "output-amps").limit == pytest.approx(9.31)
    assert the(usual, "output-amps", policy=Policy(output_factor=0.60)).limit == pytest.approx(7.98)
