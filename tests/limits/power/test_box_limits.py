"""Supplies in boxes. The plinth by hand: 184.32 W at 0.90 gives off 20.48 W, its decoders 2 % or 3.69 W; over
0.40 m² of 2.5 W/m²K that is 24.17 K on 30 °C."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from service.limits.facts import (
    BoxFacts,
    CurveFacts,
    DecoderFacts,
    ElementFacts,
    MainsFacts,
    ShowFacts,
    SupplyFacts,
)
from service.limits.findings import Harm, Verdict
from service.limits.lookup import Lookup
from service.limits.mends.offers import offers
from service.limits.mends.swaps import another_supply
from service.limits.policy import DEFAULT
from tests.limits.builders import (
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

PLINTH = BoxFacts("EN-1", "12 mm ply", "sealed", 0.40, 2.5, 30.0)
S320: dict[str, Any] = {"mains": MainsFacts(0.90, 0.98, 60.0), "curve": CurveFacts(40.0, 0.025, 70.0)}


def boxed(tag: str = "PS-05", **more: Any) -> SupplyFacts:
    return a_supply(tag, **{**S320, "enclosure": "EN-1", **more})


def panels(supply: str = "PS-05") -> list[ElementFacts]:
    """Two of 4.8 m, 92.16 W each."""
    return [an_element(f"SQ-{n:02d}", RGBW, 4.8, a_feed(supply, f"DC-1{n - 4}")) for n in (5, 6)]


def decoders(enclosure: str = "EN-1") -> list[DecoderFacts]:
    return [a_decoder(f"DC-1{n}", enclosure=enclosure) for n in (1, 2)]


def plinth(
    *others: ElementFacts,
    box: BoxFacts = PLINTH,
    supply: SupplyFacts | None = None,
    inside: Sequence[DecoderFacts] | None = None,
    neighbours: Sequence[SupplyFacts] = (),
    **more: Any,
) -> ShowFacts:
    return a_show(
        *panels(),
        *others,
        supplies=[supply or boxed(), *neighbours],
        decoders=decoders() if inside is None else inside,
        boxes=(box,),
        **more,
    )


def test_a_supply_that_holds_on_the_bench_is_over_in_its_box_with_the_figures_of_both() -> None:
    """f = 1 - 0.025 × 14.17 = 0.646; 320 × 0.646 × 0.80 = 165.3 W; 184.32 W is 111.5 % of it, 72 % cold."""
    f = the(plinth(), "box-heat")

    assert (f.verdict, f.harm) == (Verdict.OVER, Harm.DARK)
    assert (f.value, f.limit) == pytest.approx((184.32, 165.335), abs=0.005)
    assert f.share_pct == pytest.approx(111.48, abs=0.005)
    assert [words for words in ("54.2 °C", "0.646", "111.5 %", "72.0 %") if words not in f.message] == []
    assert f.elements == ("SQ-05", "SQ-06")
    assert the(plinth(), "supply-watts").verdict is Verdict.OK


def test_vents_are_offered_first_with_what_they_do_and_the_load_at_which_heat_and_limit_meet() -> None:
    """Half the rise is 12.08 K: f = 0.948, 242.67 W. Load and limit meet at 174.0 W."""
    text, value, limit = mend_of(the(plinth(), "box-heat"))

    assert text.startswith("vent EN-1 at top and bottom: 42.1 °C, 184.32 W of 242.67 W")
    assert "the box holds 174.00 W" in text
    assert (value, limit) == pytest.approx((184.32, 242.667), abs=0.005)


def test_a_move_that_is_offered_clears_it_in_the_cooler_box() -> None:
    """92.16 W leaves 12.08 K: f = 0.948."""
    show = plinth(
        free_supplies=(a_supply("PS-13", 384.0, (16.0,)),), box=replace(PLINTH, vent="vented", area_m2=0.1)
    )
    f = the(show, "box-heat")
    text, value, limit = mend_of(f)

    assert text.startswith("move SQ-05 with DC-11 to PS-13 (free)")
    assert value == pytest.approx(92.16)
    assert limit is not None
    assert f.limit is not None
    assert limit > f.limit


@pytest.mark.parametrize(
    ("box", "verdict", "degc"),
    [
        (replace(PLINTH, vent="vented"), Verdict.OK, "42.1 °C"),
        (replace(PLINTH, vent="fan", fan_m3_per_h=20.0), Verdict.OK, "33.6 °C"),  # 24.17 / (0.34 × 20)
        (replace(PLINTH, ambient_degc=45.0), Verdict.OVER, "69.2 °C"),
        (replace(PLINTH, ambient_degc=46.0), Verdict.OVER, "70.2 °C"),  # off
    ],
)
def test_the_air_in_the_box_decides(box: BoxFacts, verdict: Verdict, degc: str) -> None:
    f = the(plinth(box=box), "box-heat")

    assert f.verdict is verdict
    assert degc in f.message


def test_a_neighbour_warms_the_box_and_decoders_outside_do_not() -> None:
    """Another 100 W at 0.90 is 11.11 W of heat; without decoders in there 3.69 W less."""
    other = an_element("SQ-30", RGBW, 100.0 / 19.2, a_feed("PS-07"), dimmed=False)
    warmer = the(plinth(other, neighbours=[boxed("PS-07")]), "box-heat", "PS-05")
    cooler = the(plinth(inside=decoders("")), "box-heat")

    assert "65.3 °C" in warmer.message
    assert "50.5 °C" in cooler.message


def test_what_a_decoder_draws_when_dark_and_what_it_passes_for_others_warm_the_box_too() -> None:
    """4 W idle, and 2 % of 100 W that a supply outside feeds through it: 6 K."""
    other = an_element("SQ-30", RGBW, 100.0 / 19.2, a_feed("PS-07", "DC-13"))
    more = [*decoders(), a_decoder("DC-13", enclosure="EN-1", idle_w=4.0)]
    f = the(plinth(other, inside=more, neighbours=[a_supply("PS-07")]), "box-heat", "PS-05")

    assert "60.2 °C" in f.message


@pytest.mark.parametrize(
    ("show", "missing"),
    [
        (plinth(box=replace(PLINTH, area_m2=None)), "the area of EN-1"),
        (plinth(box=replace(PLINTH, k_w_per_m2_k=None, ambient_degc=None)), "the air outside EN-1"),
        (plinth(box=replace(PLINTH, vent="fan")), "the air its fan moves"),
        (plinth(box=replace(PLINTH, vent="fan", fan_m3_per_h=0.0)), "fan"),
        (plinth(supply=boxed(curve=CurveFacts(90.0, 0.025, 100.0))), "full to"),
        (plinth(box=replace(PLINTH, tag="EN-9")), "the area of EN-1"),
        (plinth(supply=boxed(mains=MainsFacts())), "its efficiency"),
        (plinth(supply=boxed(curve=CurveFacts(40.0, 0.025, None))), "Hottest"),
    ],
)
def test_a_figure_that_nobody_entered_leaves_it_unknown(show: ShowFacts, missing: str) -> None:
    f = the(show, "box-heat")

    assert f.verdict is Verdict.UNKNOWN
    assert missing in f.message


def test_a_neighbour_of_unknown_efficiency_leaves_it_unknown() -> None:
    other = an_element("SQ-30", RGBW, 1.0, a_feed("PS-07"), dimmed=False)
    show = plinth(other, neighbours=[boxed("PS-07", mains=MainsFacts())])

    assert the(show, "box-heat", "PS-05").verdict is Verdict.UNKNOWN


def test_open_air_an_empty_supply_and_a_pack_are_no_matter_of_boxes() -> None:
    for supply in (a_supply("PS-05"), a_battery("PS-05", enclosure="EN-1")):
        assert found(plinth(supply=supply), "box-heat") == []
    assert found(a_show(supplies=[boxed()], boxes=(PLINTH,)), "box-heat") == []


def test_an_addition_is_refused_by_a_box_though_cold_it_would_fit() -> None:
    """184.32 + 63.36 = 247.68 of 256 W cold; in the plinth 62.5 °C leave 0.438 of the rating, 112.1 W."""
    [offer] = offers(plinth(), 63.36, 24.0)

    assert offer.verdict is Verdict.OVER
    assert offer.w_after == pytest.approx(247.68)
    assert offer.limit_w == pytest.approx(112.1, abs=0.1)
    assert offers(plinth(box=replace(PLINTH, area_m2=None)), 63.36, 24.0)[0].verdict is Verdict.UNKNOWN


def test_a_supply_that_takes_over_stands_in_the_same_box() -> None:
    """One of 480 W would carry it: 480 × 0.646 × 0.80 = 248 W; another of 320 W would not."""
    free = (a_supply("PS-06", **S320), a_supply("PS-14", 480.0, (20.0,), **S320))
    show = plinth(free_supplies=free)
    around = Lookup(show, DEFAULT)

    assert [s.tag for s in another_supply(around.supplies["PS-05"], around)] == ["PS-14"]
