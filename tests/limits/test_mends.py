"""Mends: what is offered holds, rides where it must, and takes no more than it may."""

from dataclasses import replace

import pytest

from service.limits.facts import DecoderFacts, ElementFacts, LeadFacts, ShowFacts, SupplyFacts
from service.limits.findings import Verdict
from service.limits.policy import Policy
from tests.limits.builders import (
    BRIGHT,
    NEUTRAL,
    RED,
    RGBW,
    a_battery,
    a_decoder,
    a_feed,
    a_show,
    a_supply,
    a_unit,
    an_element,
    mend_of,
    the,
)


def _two_heavy(*targets: SupplyFacts, free_supplies: tuple[SupplyFacts, ...] = ()) -> ShowFacts:
    """PS-01 carries 2 x 134.4 W on 256.00 W."""
    elements = [an_element(tag, RGBW, 7.0, a_feed("PS-01"), dimmed=False) for tag in ("A", "B")]
    return a_show(*elements, supplies=[a_supply("PS-01"), *targets], free_supplies=free_supplies)


@pytest.mark.parametrize(
    "target",
    [
        a_supply("PS-02", class_v=12.0),
        a_supply("PS-02", 160.0),
        a_supply("PS-02", caps=(6.9,)),
        a_supply("PS-02", caps=(None,)),
        a_supply("PS-02", None),
        a_supply("PS-02", ambient_factor=None),
        a_supply("PS-02", outlet_kind="dimmed"),
        a_supply("PS-02", unit=a_unit("PS-02", state="suspect")),
        a_supply("PS-02", scenic_unit="Wagon"),
        a_supply("any S320", is_placeholder=True),
        a_battery("BT-01", max_a=50.0),
    ],
)
def test_a_load_is_not_moved_to_what_may_not_or_cannot_take_it(target: SupplyFacts) -> None:
    """134.4 W is 5.6 A: it needs 168 W of rating, 7.0 A of cap, 24 V and mains, and not to ride off."""
    assert the(_two_heavy(target), "supply-watts", "PS-01").mend is None


@pytest.mark.parametrize("target", [a_supply("PS-02", 168.0), a_supply("PS-02", caps=(7.0,))])
def test_a_load_is_moved_to_what_it_exactly_fills(target: SupplyFacts) -> None:
    text = mend_of(the(_two_heavy(target), "supply-watts", "PS-01"))[0]

    assert text.startswith("move A to PS-02: PS-02 134.40 W of")


def test_a_supply_in_the_production_comes_before_a_free_one_and_the_same_place_before_another() -> None:
    far, near = a_supply("PS-02", place="bridge"), a_supply("PS-03", place="deck")
    show = _two_heavy(far, near, free_supplies=(a_supply("PS-00"),))
    source = replace(show.supplies[0], place="deck")
    text = mend_of(the(replace(show, supplies=(source, *show.supplies[1:])), "supply-watts", "PS-01"))[0]

    assert text == (
        "move A to PS-03: PS-03 134.40 W of 256.00 W, PS-01 134.40 W; "
        "or to PS-02 (134.40 W of 256.00 W); or to PS-00 (free) (134.40 W of 256.00 W)"
    )


def test_two_are_moved_when_one_is_not_enough_and_they_do_not_land_on_each_other() -> None:
    """Four of 96 W on 256 W: two must go; each free supply holds 1.2 x 96."""
    elements = [an_element(tag, RGBW, 5.0, a_feed("PS-01"), dimmed=False) for tag in "ABCD"]
    free = tuple(a_supply(f"PS-2{n}", 150.0, (6.25,)) for n in (1, 2))
    show = a_show(*elements, supplies=[a_supply("PS-01")], free_supplies=free)
    text, after, _ = mend_of(the(show, "supply-watts", "PS-01"))

    assert text.startswith("move A to PS-21 (free): PS-21 96.00 W of 120.00 W; move B to PS-22 (free)")
    assert after == pytest.approx(192.0)


def test_everything_on_a_decoder_moves_together() -> None:
    """A and B share DC-01; C alone would clear it and is heavier."""
    elements = [
        an_element("A", NEUTRAL, 5.0, a_feed("PS-01", "DC-01", 1, 1)),
        an_element("B", NEUTRAL, 5.0, a_feed("PS-01", "DC-01", 2, 1)),
        an_element("C", RGBW, 10.0, a_feed("PS-01", "DC-02")),
    ]
    decoders = [a_decoder("DC-01"), a_decoder("DC-02")]
    show = a_show(*elements, supplies=[a_supply("PS-01"), a_supply("PS-02")], decoders=decoders)

    assert mend_of(the(show, "supply-watts", "PS-01"))[0].startswith("move A and B with DC-01 to PS-02")


def test_what_rides_on_a_wagon_is_moved_only_to_what_rides_with_it() -> None:
    elements = [
        an_element(tag, RED, 7.0, a_feed("BT-01"), dimmed=False, scenic_unit="Wagon", motion="rolling")
        for tag in "AB"
    ]
    packs = [a_battery("BT-01", max_a=5.0, scenic_unit="Wagon"), a_battery("BT-02", scenic_unit="Sleigh")]
    stuck = a_show(*elements, supplies=packs)
    helped = replace(stuck, supplies=(*stuck.supplies, a_battery("BT-03", max_a=2.8, scenic_unit="Wagon")))

    assert the(stuck, "battery-amps", "BT-01").verdict is Verdict.OVER
    assert the(stuck, "battery-amps", "BT-01").mend is None
    assert mend_of(the(helped, "battery-amps", "BT-01"))[0].startswith(
        "move A to BT-03: BT-03 2.80 A of 2.80 A"
    )


@pytest.mark.parametrize(
    ("swap", "holds"),
    [
        (a_decoder("DC-09", 5, 8.0, 30.0, model="D5"), True),
        (a_decoder("DC-09", 3, 8.0, 30.0, model="D3"), False),
        (a_decoder("DC-09", 5, 3.4, 30.0, model="D5"), False),
        (a_decoder("DC-09", 5, 8.0, 12.0, model="D5"), False),
        (a_decoder("DC-09", 5, 8.0, 30.0, model="D5", max_v=12.0), False),
        (a_decoder("DC-09", 5, 8.0, 30.0, model="D5", link="wireless"), False),
        (a_decoder("DC-09", 5, 8.0, 30.0, model="D5", polarity="common negative"), False),
        (a_decoder("DC-09", 4, model="D4", unit=a_unit("DC-09", "D4", "decoder", "faulty")), False),
        (a_decoder("DC-09", 4, model="D4"), True),
    ],
)
def test_a_decoder_is_swapped_only_for_one_that_does_all_that_it_did(swap: DecoderFacts, holds: bool) -> None:
    """14 m of RGBW: 2.8 A a colour, 11.2 A in all: needs four channels of 3.5 A and 14 A together."""
    bad = a_unit("DC-07", "D4", "decoder", "faulty")
    element = an_element("A", RGBW, 14.0, a_feed("PS-01", "DC-07"))
    show = a_show(
        element, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-07", unit=bad)], free_decoders=(swap,)
    )

    assert mend_of(the(show, "unit-state", "DC-07"))[0].startswith("swap DC-07 for DC-09") is holds


def _dark(element: ElementFacts, supply: SupplyFacts, decoder: DecoderFacts) -> ShowFacts:
    other = an_element("Z", NEUTRAL, 1.0, a_feed(supply.tag, "DC-01", 1, 1))
    return a_show(element, other, supplies=[supply], decoders=[decoder])


@pytest.mark.parametrize(
    ("supply", "decoder", "holds"),
    [
        (a_supply("PS-01"), a_decoder("DC-01", 5), True),
        (a_supply("PS-01"), a_decoder("DC-01", 4), False),
        (a_supply("PS-01", 131.0), a_decoder("DC-01", 5), False),
        (a_supply("PS-01", 132.0), a_decoder("DC-01", 5), True),
        (a_supply("PS-01", caps=(5.4,)), a_decoder("DC-01", 5), False),
        (a_supply("PS-01", caps=(5.5,)), a_decoder("DC-01", 5), True),
        (a_supply("PS-01"), a_decoder("DC-01", 5, 1.2), False),
        (a_supply("PS-01"), a_decoder("DC-01", 5, 1.25), True),
        (a_supply("PS-01"), a_decoder("DC-01", 5, 5.0, 5.4), False),
        (a_supply("PS-01"), a_decoder("DC-01", 5, 5.0, 5.5), True),
        (a_supply("PS-01", scenic_unit="Wagon"), a_decoder("DC-01", 5), False),
        (a_supply("PS-01"), a_decoder("DC-01", 5, min_v=5.0, max_v=12.0), False),
    ],
)
def test_a_dark_element_is_offered_only_a_row_that_holds_it(
    supply: SupplyFacts, decoder: DecoderFacts, holds: bool
) -> None:
    """5 m of RGBW: 96 W and 1 A a colour, beside 9.6 W: 105.6 W, 4.4 A."""
    show = _dark(an_element("A", RGBW, 5.0), supply, decoder)

    assert (the(show, "no-feed", "A").mend is not None) is holds


def test_a_worn_piece_is_offered_nothing_that_it_would_be_tied_to() -> None:
    worn = an_element("A", NEUTRAL, 1.0, motion="costume", scenic_unit="Robe")
    moving = an_element("A", NEUTRAL, 1.0, motion="rolling", scenic_unit="Wagon")
    riding = a_battery("BT-01", scenic_unit="Wagon")

    assert the(_dark(worn, a_supply("PS-01"), a_decoder("DC-01")), "no-feed", "A").mend is None
    assert the(_dark(moving, a_supply("PS-01"), a_decoder("DC-01")), "no-feed", "A").mend is None
    assert the(_dark(moving, riding, a_decoder("DC-01")), "no-feed", "A").mend is not None


def test_when_no_pack_is_free_the_piece_is_still_told_what_it_needs() -> None:
    element = an_element("A", RGBW, 1.0, a_feed("PS-01"), motion="rolling", scenic_unit="Wagon", dimmed=False)
    show = a_show(element, supplies=[a_supply("PS-01")])
    worn = replace(show, elements=(replace(element, motion="costume"),))

    assert mend_of(the(show, "moving"))[0] == (
        "put a 24 V battery and a wireless decoder on Wagon; none that holds it is free, "
        "or give Wagon a travelling cable"
    )
    assert "travelling cable" not in mend_of(the(worn, "costume"))[0]


def test_a_gang_of_three_gives_up_as_few_as_it_can() -> None:
    """3 x 1.8 A = 5.4 A on 4.0 A: one goes; of five, no two rows hold all."""

    def gang(count: int) -> ShowFacts:
        elements = [
            an_element(f"A-{n}", BRIGHT, 3.0, a_feed("PS-01", "DC-01", 1, 1), control_group="g")
            for n in range(count)
        ]
        return a_show(*elements, supplies=[a_supply("PS-01", 900.0, (40.0,))], decoders=[a_decoder("DC-01")])

    assert mend_of(the(gang(3), "channel-amps"))[0].startswith("move A-2 to channel 2 of DC-01")
    assert mend_of(the(gang(4), "channel-amps"))[0].startswith("move A-2 and A-3 to channel 2 of DC-01")
    assert the(gang(5), "channel-amps").mend is None


def test_runs_of_one_element_part_when_it_is_alone_on_the_channel() -> None:
    element = an_element("A", BRIGHT, [5.0, 5.0], [a_feed("PS-01", "DC-01", 1, 1)] * 2)
    show = a_show(element, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")])

    assert mend_of(the(show, "channel-amps"))[0] == (
        "move A.2 to channel 2 of DC-01: channel 1 3.00 A and channel 2 3.00 A of 4.00 A"
    )


def test_a_move_that_clears_the_watts_but_not_an_output_is_not_enough() -> None:
    """Output 1 has 4 A on 3.20 A, output 2 has 1.6 A on 3.20; 134.4 W on 128 W (160 W x 0.80)."""
    elements = [
        an_element("A", NEUTRAL, 4.0, a_feed("PS-01", output=2), dimmed=False),
        an_element("B", RGBW, 2.5, a_feed("PS-01", output=1), dimmed=False),
        an_element("C", RGBW, 2.5, a_feed("PS-01", output=1), dimmed=False),
    ]
    show = a_show(*elements, supplies=[a_supply("PS-01", 160.0, (4.0, 4.0)), a_supply("PS-02")])

    assert mend_of(the(show, "supply-watts", "PS-01"))[0].startswith("move B to PS-02")


def test_two_moved_to_one_supply_are_added_up_there() -> None:
    """Each of 96 W; PS-02 has 240 x 0.80 = 192.00 W, room for two and not for three."""
    elements = [an_element(tag, RGBW, 5.0, a_feed("PS-01"), dimmed=False) for tag in "ABCDE"]
    show = a_show(*elements, supplies=[a_supply("PS-01", 400.0, (20.0,)), a_supply("PS-02", 240.0, (20.0,))])
    one_less = replace(show, supplies=(show.supplies[0], a_supply("PS-02", 239.0, (20.0,))))
    smaller = replace(show, supplies=(replace(show.supplies[0], rated_w=390.0), show.supplies[1]))

    assert "PS-02 192.00 W of 192.00 W" in mend_of(the(smaller, "supply-watts", "PS-01"))[0]
    assert (
        the(
            replace(smaller, supplies=(smaller.supplies[0], one_less.supplies[1])), "supply-watts", "PS-01"
        ).mend
        is None
    )


def test_a_locked_run_keeps_its_channel() -> None:
    feeds = [a_feed("PS-01", "DC-01", 1, 1), a_feed("PS-01", "DC-01", 1, 1, locked=True)]
    elements = [an_element(t, BRIGHT, 5.0, f, control_group="g") for t, f in zip("AB", feeds, strict=True)]
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01")])

    assert the(show, "channel-amps").mend is None


def test_the_decoder_next_to_it_is_offered_before_one_elsewhere() -> None:
    elements = [
        an_element("A", NEUTRAL, 1.0, a_feed("PS-01", "DC-01", 1, 1), scenic_unit="Tower"),
        an_element("B", NEUTRAL, 1.0, a_feed("PS-01", "DC-02", 1, 1), scenic_unit="Square"),
        an_element("C", NEUTRAL, 1.0, None, scenic_unit="Square"),
        an_element("D", NEUTRAL, 1.0, None, scenic_unit="Deck"),
    ]
    show = a_show(*elements, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01"), a_decoder("DC-02")])

    assert mend_of(the(show, "no-feed", "C"))[0].startswith("feed it from DC-02 channel 2")
    assert mend_of(the(show, "no-feed", "D"))[0].startswith("feed it from DC-01 channel 2")


def test_a_missing_colour_gets_the_channel_that_follows_before_one_in_front() -> None:
    element = an_element("A", RGBW, 1.0, a_feed("PS-01", "DC-01", 2, 3), wired=("R", "G", "B"))
    show = a_show(element, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01", 6)])
    full = a_show(element, supplies=[a_supply("PS-01")], decoders=[a_decoder("DC-01", 4)])

    assert mend_of(the(show, "emitters-wired"))[0].startswith("wire W to DC-01 channel 5")
    assert mend_of(the(full, "emitters-wired"))[0].startswith("wire W to DC-01 channel 1")


def test_the_nearest_lead_leaves_room_for_the_drop_in_the_tape() -> None:
    """4.8 m of RGBW loses 1.44 % in the tape: of 3 % in all the lead may take 1.56."""
    policy = Policy(drop_watch=0.03)
    lead = LeadFacts(60.0, "12 AWG")
    show = a_show(an_element("A", RGBW, 4.8, lead=lead))
    text = mend_of(the(show, "lead-drop", policy=policy))[0]
    near_m = float(text.split("a lead of ")[1].split(" m")[0])
    shorter = a_show(an_element("A", RGBW, 4.8, lead=replace(lead, length_m=near_m)))
    longer = a_show(an_element("A", RGBW, 4.8, lead=replace(lead, length_m=near_m + 0.1)))

    assert the(shorter, "total-drop", policy=policy).verdict is Verdict.OK
    assert the(longer, "total-drop", policy=policy).verdict is Verdict.WATCH
