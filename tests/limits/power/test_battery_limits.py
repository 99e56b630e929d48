"""Packs through a show. The robe by hand: 24.96 W and 1.2 W idle; 160 min of idle are 3.20 Wh, 70 min at full
29.12 Wh, and 15 min of hold 0.30 Wh; 12.8 V × 3 Ah × 0.8 = 30.72 Wh usable, 0.7 of it 21.50 Wh."""

from dataclasses import replace
from typing import Any

import pytest

from service.limits.facts import (
    CueFacts,
    DecoderFacts,
    ElementFacts,
    PackFacts,
    PackModelFacts,
    ShowFacts,
    SupplyFacts,
)
from service.limits.findings import Harm, Verdict
from service.limits.policy import DEFAULT
from tests.limits.builders import (
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

SMALL, LARGE = PackFacts(12.8, 3.0, 0.8, charge_h=3.0), PackFacts(12.8, 10.0, 0.8, charge_h=4.0)
PLAY = (
    ("preset", 30, 0),
    ("act one a", 20, 100),
    ("act one b", 40, 0),
    ("interval", 20, 0),
    ("act two", 50, 100),
)


def cues(*stretches: tuple[str, float, float]) -> tuple[CueFacts, ...]:
    return tuple(CueFacts(*stretch) for stretch in stretches)


def hem(tag: str = "SQ-23", metres: float = 2.6, **more: Any) -> ElementFacts:
    return an_element(
        tag,
        WARM_12,
        metres,
        a_feed("BT-11", "DC-44", 1, 1),
        **{"cues": cues(*PLAY), "motion": "costume", **more},
    )


def pack(figures: PackFacts | None = SMALL, tag: str = "BT-11", **more: Any) -> SupplyFacts:
    return a_battery(tag, 12.0, 6.0, pack=figures, **{"model": "B12-3", **more})


def wireless(**more: Any) -> DecoderFacts:
    return a_decoder("DC-44", 4, 3.0, 8.0, link="wireless", **{"idle_w": 1.2, "curve": "square", **more})


def robe(*elements: ElementFacts, source: SupplyFacts | None = None, decoder: DecoderFacts | None = None,
         **more: Any) -> ShowFacts:  # fmt: skip
    return a_show(
        *(elements or (hem(),)), supplies=[source or pack()], decoders=[decoder or wireless()], **more
    )


def test_a_pack_that_does_not_last_is_over_with_the_minute_at_which_it_dies() -> None:
    """Before act two 10.52 Wh are gone; the other 20.20 Wh last 46.3 min at 26.16 W."""
    f = the(robe(), "battery-time")

    assert (f.verdict, f.harm, f.unit) == (Verdict.OVER, Harm.DARK, "Wh")
    assert (f.value, f.limit) == pytest.approx((32.62, 30.72))
    assert "32.32 Wh through the show, 32.62 Wh with a hold of 15 min" in f.message
    assert "it dies at minute 156, 46 min into act two" in f.message


def test_a_free_pack_that_lasts_is_offered_and_the_level_with_which_this_one_would() -> None:
    """12.8 × 10 × 0.8 × 0.7 = 71.68 Wh: 45.5 %. At 78 %: 29.12 × 0.6084 + 3.50 = 21.22 Wh; at 79 % 21.67."""
    text, value, limit = mend_of(
        the(robe(free_supplies=(pack(LARGE, "BT-03", model="B12-10"),)), "battery-time")
    )

    assert text == (
        "use BT-03 (B12-10, free): 32.62 Wh of 71.68 Wh, 45.5 %; "
        "or hold every level at 78 % or less, where nobody can pass it: 21.22 Wh of 21.50 Wh"
    )
    assert (value, limit) == pytest.approx((32.62, 71.68))


def test_a_pack_that_would_last_only_on_its_reserve_is_not_offered() -> None:
    """12.8 × 4.5 × 0.8 = 46.08 Wh hold 32.62; but 32.26 may be planned with."""
    near = pack(PackFacts(12.8, 4.5, 0.8), "BT-05", model="B12-4")

    assert mend_of(the(robe(free_supplies=(near,)), "battery-time"))[0].startswith("no larger pack")


def test_a_kind_of_pack_that_lasts_is_named_though_none_is_free() -> None:
    kinds = (
        PackModelFacts("B24-6", 24.0, 10.0, PackFacts(25.6, 6.0, 0.8)),
        PackModelFacts("B12-3", 12.0, 6.0, SMALL),
        PackModelFacts("B12-50", 12.0, 15.0, PackFacts(12.8, 50.0, 0.8)),
        PackModelFacts("B12-10", 12.0, 15.0, LARGE),
        PackModelFacts("B12-5W", 12.0, 1.0, PackFacts(12.8, 9.0, 0.8)),
    )

    assert mend_of(the(robe(pack_models=kinds), "battery-time"))[0].startswith("use a B12-10 (none is free)")
    assert mend_of(the(robe(pack_models=kinds[:2]), "battery-time"))[0].startswith("no larger pack")


@pytest.mark.parametrize(
    ("level", "verdict", "value", "limit"),
    [
        (60.0, Verdict.OK, 19.309, 21.504),  # act two: 50 min of 24.96 × 0.36 W
        (80.0, Verdict.WATCH, 25.132, 21.504),
        (100.0, Verdict.OVER, 32.62, 30.72),
    ],
)
def test_within_its_budget_it_is_in_order_and_on_its_reserve_it_is_watched(
    level: float, verdict: Verdict, value: float, limit: float
) -> None:
    f = the(robe(hem(cues=cues(*PLAY[:4], ("act two", 50, level)))), "battery-time")

    assert f.verdict is verdict
    assert (f.value, f.limit) == pytest.approx((value, limit), abs=0.001)


def test_a_pack_that_lasts_says_what_two_shows_on_a_day_want() -> None:
    small = the(robe(hem(cues=cues(("all", 40, 100)))), "battery-time")
    tiny = the(robe(hem(cues=cues(("all", 5, 100)))), "battery-time")

    assert "two shows on a day want 2 packs, or 3 h of charging between them" in small.message
    assert "one charge covers two shows" in tiny.message


def test_everything_on_a_pack_is_laid_over_one_another_from_the_same_start() -> None:
    """9.6 W for 60 min, and 19.2 W for the last 30 of them: 9.6 + 9.6 Wh; 60 min of 1.2 W, and 15 of hold."""
    show = robe(
        hem("SQ-23", 1.0, cues=cues(("a", 60, 100))),
        hem("SQ-24", 2.0, cues=cues(("x", 30, 0), ("y", 30, 100))),
    )
    f = the(show, "battery-time")

    assert f.value == pytest.approx(9.6 + 9.6 + 1.2 * 75 / 60)
    assert f.elements == ("SQ-23", "SQ-24")


def test_what_one_element_needs_is_not_known_while_the_order_of_another_is_not() -> None:
    f = the(robe(hem(), hem("SQ-24", cues=())), "battery-time")

    assert f.verdict is Verdict.UNKNOWN
    assert "how SQ-24 is lit" in f.message


@pytest.mark.parametrize(
    ("source", "decoder", "missing"),
    [
        (pack(None), None, "what it holds"),
        (pack(replace(SMALL, capacity_ah=None)), None, "what it holds"),
        (pack(replace(LARGE, rated_h=2000.0, peukert=1.2)), None, "the rated hours"),
        (pack(LARGE), wireless(idle_w=None), "what DC-44 draws when dark"),
    ],
)
def test_a_figure_that_nobody_entered_never_reads_as_enough(
    source: SupplyFacts, decoder: DecoderFacts | None, missing: str
) -> None:
    f = the(robe(source=source, decoder=decoder), "battery-time")

    assert f.verdict is Verdict.UNKNOWN
    assert missing in f.message


def test_a_blank_idle_draw_hides_no_pack_that_dies_even_without_it() -> None:
    show = robe(hem(cues=cues(("all", 90, 100))), decoder=wireless(idle_w=None))

    assert the(show, "battery-time").verdict is Verdict.OVER


def test_what_is_assumed_is_said() -> None:
    """An unknown curve is taken as linear: half level draws half; a quarter on the square curve."""
    half = hem(cues=cues(("all", 60, 50)))
    linear = the(robe(half, decoder=wireless(curve="")), "battery-time")
    square = the(robe(half, source=pack(replace(SMALL, usable=None))), "battery-time")

    assert linear.value == pytest.approx(24.96 * 0.5 + 1.5)
    assert "linear was taken" in linear.message
    assert square.value == pytest.approx(24.96 * 0.25 + 1.5)
    assert "usable share is not given: 0.8 was taken" in square.message


def test_what_is_not_dimmed_is_on_or_off() -> None:
    straight = an_element("SQ-23", WARM_12, 1.0, a_feed("BT-11"), dimmed=False, cues=cues(("a", 60, 50)))

    assert the(robe(straight), "battery-time").value == pytest.approx(9.6)


def test_a_converter_loses_its_share_and_a_large_pack_wants_the_carrier_asked() -> None:
    """(24.96 × 30 / 60 + 1.2 × 45 / 60) / 0.9; 128 Wh is above 100 (49 CFR 175.10)."""
    element = hem(cues=cues(("all", 30, 100)))
    f = the(robe(element, source=pack(replace(LARGE, converter_efficiency=0.9))), "battery-time")

    assert f.value == pytest.approx((12.48 + 0.9) / 0.9)
    assert "128 Wh: above 100 Wh: ask the carrier" in f.message


def test_a_pack_with_nothing_on_it_and_a_supply_are_no_matter_of_it() -> None:
    assert found(a_show(supplies=[pack()]), "battery-time") == []
    assert found(robe(source=a_supply("BT-11", class_v=12.0)), "battery-time") == []


def test_the_house_may_keep_another_reserve_and_hold() -> None:
    policy = replace(DEFAULT, battery_budget=0.5, battery_hold_min=0.0)
    f = the(robe(hem(cues=cues(("all", 40, 100)))), "battery-time", policy=policy)

    assert (f.value, f.limit) == pytest.approx((17.44, 15.36))
    assert f.verdict is Verdict.WATCH
