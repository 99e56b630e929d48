"""Feeds, channels and wiring."""

from dataclasses import replace

import pytest

from service.limits.facts import ShowFacts
from service.limits.findings import Harm, Verdict
from tests.limits.builders import (
    BRIGHT,
    NEUTRAL,
    PIXEL_12,
    RGBW,
    WARM_12,
    WHITES,
    a_decoder,
    a_feed,
    a_show,
    a_supply,
    an_element,
    found,
    mend_of,
    the,
)


def _posts(**more: object) -> ShowFacts:
    """Three posts on the square; B was never given a feed. PS-06 carries 153.6 + 21.6 W."""
    elements = [
        an_element("SQ-18", BRIGHT, 0.75, a_feed("PS-06", "DC-22", 1, 1), scenic_unit="Square"),
        an_element("SQ-19", BRIGHT, 0.75, None, scenic_unit="Square", name="Lamp post B"),
        an_element("SQ-20", BRIGHT, 0.75, a_feed("PS-06", "DC-22", 2, 1), scenic_unit="Square"),
        an_element("SQ-21", RGBW, 8.0, a_feed("PS-06", "DC-13")),
    ]
    decoders = [a_decoder("DC-13"), a_decoder("DC-22", 5, 8.0, 30.0, model="D5")]
    return a_show(*elements, supplies=[a_supply("PS-06")], decoders=decoders, **more)


def test_an_element_without_a_feed_in_a_running_show_is_dark_and_gets_a_free_channel_offered() -> None:
    """175.20 + 10.80 = 186.00 W of 256.00 W."""
    finding = the(_posts(), "no-feed", "SQ-19")

    assert (finding.verdict, finding.harm) == (Verdict.OVER, Harm.DARK)
    assert "Lamp post B" in finding.message
    assert mend_of(finding)[0] == (
        "feed it from DC-22 channel 3 on PS-06 output 1: PS-06 186.00 W of 256.00 W"
    )


def test_before_the_first_preview_it_is_only_work_to_do() -> None:
    finding = the(_posts(is_lit=False), "no-feed", "SQ-19")

    assert (finding.verdict, finding.harm) == (Verdict.WATCH, Harm.PAPER)


@pytest.mark.parametrize("status", ["struck", "cut from show"])
def test_what_is_struck_or_cut_from_the_show_needs_no_feed(status: str) -> None:
    assert found(a_show(an_element("A", status=status)), "no-feed") == []


def test_a_show_that_is_over_needs_no_feeds_but_keeps_its_record() -> None:
    show = _posts(is_over=True)

    assert found(show, "no-feed") == []
    assert all(f.is_history for f in found(show, "supply-watts"))


def test_one_run_without_a_feed_is_named() -> None:
    element = an_element("A", NEUTRAL, [1.0, 1.0], [a_feed("PS-01"), None])

    assert "for A.2" in the(a_show(element, supplies=[a_supply("PS-01")]), "no-feed").message


def test_an_element_that_is_not_dimmed_is_offered_an_output() -> None:
    elements = [
        an_element("A", NEUTRAL, dimmed=False),
        an_element("B", RGBW, 1.0, a_feed("PS-31"), dimmed=False),
    ]
    show = a_show(*elements, supplies=[a_supply("PS-31", 96.0, (4.0,))])

    assert mend_of(the(show, "no-feed", "A"))[0].startswith("feed it straight from PS-31: 28.80 W of 76.80 W")


def test_an_element_without_tape_cannot_be_checked_at_all() -> None:
    show = a_show(an_element("A", None), an_element("B"), an_element("C", None, status="struck"))

    assert {f.subject: f.verdict for f in found(show, "tape-known")} == {
        "A": Verdict.UNKNOWN,
        "B": Verdict.OK,
    }


def test_a_colour_without_a_channel_is_told_with_the_free_channel_it_may_have() -> None:
    """1.8 m of 4.8 W/m at 24 V is 0.36 A a colour; 5 A x 0.80 = 4.00 A."""
    element = an_element("FR-13", RGBW, 1.8, a_feed("PS-22", "DC-06", 1, 3), wired=("R", "G", "B"))
    show = a_show(element, supplies=[a_supply("PS-22", 150.0, (6.25,))], decoders=[a_decoder("DC-06")])
    finding = the(show, "emitters-wired", "FR-13")

    assert finding.verdict is Verdict.OVER
    assert "emitter W has no channel" in finding.message
    assert mend_of(finding)[0] == "wire W to DC-06 channel 4: 0.36 A of 4.00 A"
    assert the(show, "channel-count").verdict is Verdict.OK


def test_every_colour_wired_is_ok_and_without_a_feed_it_is_not_asked() -> None:
    fed, unfed = an_element("A", feed=a_feed("PS-01", "DC-01")), an_element("B", wired=())
    show = a_show(fed, unfed, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")])

    assert [(f.subject, f.verdict) for f in found(show, "emitters-wired")] == [("A", Verdict.OK)]


def test_a_feed_has_a_channel_for_each_wired_emitter_inside_its_decoder() -> None:
    elements = [
        an_element("A", RGBW, feed=a_feed("PS-01", "DC-01", 1, 4)),
        an_element("B", RGBW, feed=a_feed("PS-01", "DC-02", 1, 3)),
        an_element("C", WHITES, feed=a_feed("PS-01", "DC-03", 4, 2)),
        an_element("D", WHITES, feed=a_feed("PS-01", "DC-04", None, 2)),
        an_element("E", PIXEL_12, feed=a_feed("PS-01", "DC-51", 1, 1)),
        an_element("F", NEUTRAL, feed=a_feed("PS-01"), dimmed=False),
    ]
    decoders = [a_decoder(f"DC-0{n}") for n in range(1, 5)]
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=decoders)

    assert {f.subject: f.verdict for f in found(show, "channel-count")} == {
        "A": Verdict.OK,
        "B": Verdict.OVER,
        "C": Verdict.OVER,
        "D": Verdict.UNKNOWN,
    }


def test_what_is_to_be_dimmed_goes_through_a_decoder() -> None:
    elements = [
        an_element("A", NEUTRAL, feed=a_feed("PS-01")),
        an_element("B", NEUTRAL, feed=a_feed("PS-01"), dimmed=False),
        an_element("C", NEUTRAL, feed=a_feed("PS-01", "DC-01", 1, 1)),
    ]
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")])

    assert {f.subject: f.verdict for f in found(show, "dimming")} == {"A": Verdict.OVER, "C": Verdict.OK}


def _two_rows(metres: float, **more: object) -> ShowFacts:
    feeds = [a_feed("PS-01", "DC-01"), a_feed("PS-01", "DC-02")]
    element = an_element("A", RGBW, [metres, metres], feeds)
    supplies = [a_supply("PS-01", 2000.0, (80.0,))]
    return a_show(element, supplies=supplies, decoders=[a_decoder("DC-01"), a_decoder("DC-02")], **more)


def test_an_element_spread_over_two_decoders_for_no_reason_is_watched() -> None:
    finding = the(_two_rows(1.0), "scattered", "A")

    assert finding.verdict is Verdict.WATCH
    assert "DC-01 channel 1, DC-02 channel 1" in finding.message


def test_an_element_that_amps_force_apart_is_not_called_scattered() -> None:
    """30 m of 4.8 W/m is 6 A a colour; 24 A in all; a channel takes 4 A."""
    finding = the(_two_rows(15.0), "scattered", "A")

    assert finding.verdict is Verdict.OK
    assert "6.00 A and one channel takes 4.00 A" in finding.message


def test_an_element_that_an_output_forces_apart_is_not_called_scattered() -> None:
    """2 x 5 m of 19.2 W/m at 24 V are 8 A; an output of 6 A takes 4.80."""
    feeds = [a_feed("PS-01", "DC-01"), a_feed("PS-01", "DC-02", output=2)]
    show = a_show(
        an_element("A", RGBW, [5.0, 5.0], feeds),
        supplies=[a_supply("PS-01", 600.0, (6.0, 5.0))],
        decoders=[a_decoder("DC-01"), a_decoder("DC-02")],
    )

    assert the(show, "scattered").verdict is Verdict.OK
    assert "8.00 A and one output takes 4.80 A" in the(show, "scattered").message


def test_a_control_group_counts_as_one_block() -> None:
    elements = [
        an_element("A", NEUTRAL, 1.0, a_feed("PS-01", "DC-01", 1, 1), control_group="edge"),
        an_element("B", NEUTRAL, 1.0, a_feed("PS-01", "DC-01", 3, 1), control_group="edge"),
    ]
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")])

    assert the(show, "scattered", "edge").verdict is Verdict.WATCH
    assert the(show, "scattered", "edge").elements == ("A", "B")


@pytest.mark.parametrize(
    ("groups", "verdict"),
    [
        (("edge", "edge"), Verdict.OK),
        (("", ""), Verdict.OVER),
        (("edge", ""), Verdict.OVER),
        (("a", "b"), Verdict.OVER),
    ],
)
def test_what_shares_a_channel_is_one_declared_control_group(
    groups: tuple[str, str], verdict: Verdict
) -> None:
    elements = [
        an_element(tag, RGBW, 1.0, a_feed("PS-01", "DC-01"), control_group=group)
        for tag, group in zip("AB", groups, strict=True)
    ]
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")])

    assert the(show, "shared-channel").subject == "DC-01 channel 1"
    assert the(show, "shared-channel").verdict is verdict
    assert (the(show, "shared-channel").value == 1.0) is (verdict is Verdict.OK)


def test_two_voltages_on_one_channel_are_a_fire_fault_even_in_one_group() -> None:
    elements = [
        an_element("A", NEUTRAL, 1.0, a_feed("PS-01", "DC-01", 1, 1), control_group="edge"),
        an_element("B", WARM_12, 1.0, a_feed("PS-01", "DC-01", 1, 1), control_group="edge"),
    ]
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")])

    assert (the(show, "shared-channel").verdict, the(show, "shared-channel").harm) == (
        Verdict.OVER,
        Harm.FIRE,
    )


def test_runs_of_one_element_may_share_its_channels() -> None:
    element = an_element("A", RGBW, [1.0, 1.0], [a_feed("PS-01", "DC-01")] * 2)
    show = a_show(element, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")])

    assert found(show, "shared-channel") == []
    assert the(show, "scattered").verdict is Verdict.OK


def test_gear_in_a_bad_state_is_not_offered_for_a_dark_element() -> None:
    show = _posts()
    dead = [
        replace(d, unit=replace(d.unit, state="faulty")) if d.unit is not None else d for d in show.decoders
    ]

    assert the(replace(show, decoders=tuple(dead)), "no-feed", "SQ-19").mend is None


def test_a_pixel_without_an_idle_figure_is_asked_for_one() -> None:
    asked = the(a_show(an_element("SQ-1", PIXEL_12)), "pixel-idle")

    assert asked.verdict is Verdict.UNKNOWN
    assert "idle watts" in asked.message
    assert found(a_show(an_element("SQ-1", replace(PIXEL_12, pixel_idle_w=0.05))), "pixel-idle") == []
    assert found(a_show(an_element("SQ-1", RGBW)), "pixel-idle") == []
