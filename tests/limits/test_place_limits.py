"""Outlets, and pieces that move. Common practice."""

import pytest

from service.limits.facts import OutletFacts, ShowFacts, SupplyFacts
from service.limits.findings import Harm, Verdict
from tests.limits.builders import (
    RED,
    RGBW,
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


def _sleigh(**more: object) -> ShowFacts:
    """Runners on a rolling sleigh, fed from PS-26 on the deck, which hangs on a dimmer."""
    element = an_element(
        "SQ-15",
        RGBW,
        [1.7, 1.7],
        [a_feed("PS-26", "DC-23")] * 2,
        scenic_unit="Sleigh",
        motion="rolling",
        **more,
    )
    supply = a_supply("PS-26", 150.0, (6.25,), outlet="MX5", outlet_kind="dimmed", place="deck centre")
    outlets = (
        OutletFacts("MX5", "dimmed", 20.0, 120.0, ("PS-26",)),
        OutletFacts("MD1", "constant", 20.0, 120.0),
    )
    free = (a_battery("BT-21"), a_battery("BT-11", 12.0, 6.0))
    wireless = a_decoder("DC-41", 4, 3.0, 8.0, link="wireless", model="DW4", max_v=36.0)
    return a_show(
        element,
        supplies=[supply],
        decoders=[a_decoder("DC-23", 5, 8.0, 30.0, place="deck centre")],
        outlets=outlets,
        free_supplies=free,
        free_decoders=(a_decoder("DC-01"), wireless),
    )


def test_a_rolling_piece_fed_from_the_deck_is_over_and_gets_a_pack_and_a_wireless_decoder_offered() -> None:
    """65.28 W at 24 V is 2.72 A of the pack's 10 A."""
    finding = the(_sleigh(), "moving", "SQ-15")

    assert finding.verdict is Verdict.OVER
    assert "Sleigh, which is rolling and has no travelling cable" in finding.message
    assert "PS-26 stands on deck centre" in finding.message
    assert mend_of(finding)[0] == (
        "put BT-21 and DC-41 on Sleigh: 2.72 A of 10.00 A, or give Sleigh a travelling cable"
    )


def test_a_travelling_cable_makes_it_ok() -> None:
    assert the(_sleigh(travelling_cable=True), "moving").verdict is Verdict.OK


@pytest.mark.parametrize(
    ("link", "rides_on", "verdict"),
    [
        ("wireless", "Sleigh", Verdict.OK),
        ("local", "Sleigh", Verdict.OK),
        ("wired", "Sleigh", Verdict.OVER),
        ("wireless", "", Verdict.OVER),
        ("wireless", "Wagon", Verdict.OVER),
    ],
)
def test_what_feeds_and_tells_a_moving_piece_rides_on_it(link: str, rides_on: str, verdict: Verdict) -> None:
    element = an_element("A", RGBW, 1.0, a_feed("BT-21", "DC-41"), scenic_unit="Sleigh", motion="rolling")
    show = a_show(
        element,
        supplies=[a_battery("BT-21", scenic_unit="Sleigh")],
        decoders=[a_decoder("DC-41", link=link, scenic_unit=rides_on)],
    )

    assert the(show, "moving").verdict is verdict


def test_what_stands_still_or_has_no_feed_is_not_asked() -> None:
    show = a_show(
        an_element("A", feed=a_feed("PS-01")), an_element("B", motion="flown"), supplies=[a_supply("PS-01")]
    )

    assert found(show, "moving") == []


@pytest.mark.parametrize("supplies", [[], [a_supply("PS-01", is_placeholder=True)]])
def test_a_moving_piece_on_a_unit_not_yet_chosen_cannot_be_checked(supplies: list[SupplyFacts]) -> None:
    element = an_element("A", feed=a_feed("PS-01"), motion="rolling", dimmed=False)

    assert the(a_show(element, supplies=supplies), "moving").verdict is Verdict.UNKNOWN


def test_a_motion_that_is_blank_cannot_be_checked() -> None:
    assert the(a_show(an_element("A", motion="")), "moving").verdict is Verdict.UNKNOWN


def test_a_costume_is_fed_from_a_battery_only_even_with_a_cable() -> None:
    worn = {"motion": "costume", "scenic_unit": "Robe", "dimmed": False}
    elements = [
        an_element("A", RED, 0.5, a_feed("PS-01"), travelling_cable=True, **worn),
        an_element("B", RED, 0.5, a_feed("BT-21"), **worn),
        an_element("C", RED, 0.5, a_feed("BT-99"), **worn),
        an_element("D", RED, 0.5, None, **worn),
        an_element("E", RED, 0.5, a_feed("PS-01"), dimmed=False),
    ]
    show = a_show(*elements, supplies=[a_supply("PS-01"), a_battery("BT-21", scenic_unit="Robe")])
    verdicts = {f.subject: f.verdict for f in found(show, "costume")}

    assert verdicts == {"A": Verdict.OVER, "B": Verdict.OK, "C": Verdict.UNKNOWN}
    assert the(show, "costume", "A").harm is Harm.FIRE


def test_a_supply_on_a_dimmed_circuit_is_over_always_and_a_constant_outlet_is_named() -> None:
    finding = the(_sleigh(), "dimmed-circuit", "PS-26")

    assert finding.verdict is Verdict.OVER
    assert "MX5, which is dimmed" in finding.message
    assert mend_of(finding)[0].startswith("plug it into MD1 (constant, 20 A")
    assert "prove dead" in finding.caution


def test_the_emptiest_constant_outlet_is_named_before_a_relay() -> None:
    outlets = (
        OutletFacts("A", "relay", 20.0, 120.0),
        OutletFacts("B", "constant", 20.0, 120.0, ("PS-02", "PS-03")),
        OutletFacts("C", "constant", 20.0, 120.0, ("PS-04",)),
    )
    show = a_show(supplies=[a_supply("PS-01", outlet="X", outlet_kind="dimmed")], outlets=outlets)

    assert mend_of(the(show, "dimmed-circuit"))[0].startswith("plug it into C ")
    alone = a_show(supplies=[a_supply("PS-01", outlet="X", outlet_kind="dimmed")])
    assert mend_of(the(alone, "dimmed-circuit"))[0].startswith("plug it into a constant circuit")


@pytest.mark.parametrize(
    ("outlet", "kind", "verdict"),
    [
        ("MD1", "constant", Verdict.OK),
        ("MD1", "relay", Verdict.OK),
        ("MD1", "dimmed", Verdict.OVER),
        ("MX5", None, Verdict.OVER),
        ("MD9", None, Verdict.UNKNOWN),
        (None, None, Verdict.UNKNOWN),
    ],
)
def test_an_outlet_is_known_to_be_constant_or_it_is_not_ok(
    outlet: str | None, kind: str | None, verdict: Verdict
) -> None:
    outlets = (OutletFacts("MX5", "dimmed", 20.0, 120.0),)
    show = a_show(supplies=[a_supply("PS-01", outlet=outlet, outlet_kind=kind)], outlets=outlets)

    assert the(show, "dimmed-circuit").verdict is verdict


def test_a_pack_has_no_outlet() -> None:
    assert found(a_show(supplies=[a_battery("BT-01")]), "dimmed-circuit") == []
