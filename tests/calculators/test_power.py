"""What the wall, a box and a pack give; what a marking allows, what a line carries."""

import pytest
from pydantic import ValidationError

from service.calculators import batteries, boxes, lines, mains, markings
from service.calculators.form import Worked
from service.errors import BadQuantity
from service.limits.cautions import CONTROL, SCOPE


def values(worked: Worked) -> dict[str, float | None]:
    return {one.name: one.value for one in worked.figures}


def a_line(**asked: object) -> Worked:
    return lines.work(lines.LineAsk.model_validate(asked))


def a_box(**asked: object) -> Worked:
    asked = {"load_w": "184.32 W", "rated_w": "320 W", "area_m2": "0.4 m²", "ambient_degc": "30 °C"} | asked
    return boxes.work(boxes.BoxAsk.model_validate(asked))


def a_plinth(**asked: object) -> Worked:
    """The same with every figure given."""
    given = {
        "efficiency_pct": 90.0,
        "full_to_degc": "40 °C",
        "wall": "12 mm ply",
        "derate_pct_per_k": 2.5,
        "max_degc": "70 °C",
    }
    return a_box(**given | asked)


def test_a_supply_in_a_sealed_plinth() -> None:
    """320 W, 90 %, 0.40 m² of 12 mm ply at 2.5 W/m²K: 24.17 W of heat, 54.2 °C, 165.3 W (by hand)."""
    found = a_plinth()
    assert found.says == "54.2 °C inside; 184.32 W of 165.3 W, 111.5 %. Heat and limit meet at 173.9 W."
    assert found.assumed == []
    assert values(found)["meets_w"] == pytest.approx(174.0, abs=0.05)
    assert found.ways == [
        "take 10.4 W off it",
        "open it top and bottom: 42.1 °C, 242.6 W allowed",
        "stand the supply in free air: 256.0 W allowed",
    ]
    assert a_plinth(load_w="173.9 W").is_within


def test_where_load_and_limit_meet_it_is_within_and_above_no_less_than_a_tenth_comes_off() -> None:
    meets_w = values(a_plinth())["meets_w"]
    assert meets_w is not None
    assert a_plinth(load_w=meets_w).is_within
    assert "take 0.1 W off it" in a_plinth(load_w=meets_w + 0.01).ways


def test_what_its_rating_does_not_carry_no_air_mends() -> None:
    """400 W on 320 W: 256 W in free air too; 400 / 0.80 = 500 W (arithmetic)."""
    found = a_plinth(load_w="400 W")
    assert [way for way in found.ways if "free air" in way] == [
        "a second supply, or a bigger one: 256.0 W are allowed in free air too; "
        "there it takes one of 500 W or more, in this box more still"
    ]
    assert not any("open it" in way for way in found.ways)


def test_air_warmer_than_the_maker_allows_wants_cooler_air() -> None:
    assert a_plinth(ambient_degc="75 °C").ways == [
        "cooler air: outside the box too it is warmer than its maker allows"
    ]


def test_what_a_box_takes_without_being_told_is_said() -> None:
    asked = boxes.BoxAsk.model_validate({"load_w": "100 W", "rated_w": "320 W", "area_m2": "0.4 m²"})
    found = {one.what: one for one in boxes.work(asked).assumed}
    assert found["air outside the box"].taken == "25 °C"
    assert found["what the box is made of"].taken.startswith("12 mm ply")
    assert "none above 70 °C" in found["how the supply loses watts in warm air"].taken


def test_figures_of_a_box_are_taken_as_people_write_them() -> None:
    """20 m³/h and 11.77 cfm are the same air (1 ft is 0.3048 m)."""
    bare = a_plinth(efficiency_pct=90, vent="fan", fan_m3_per_h=20)
    written = a_plinth(
        efficiency_pct="90 %",
        vent="fan",
        fan_m3_per_h="20 m³/h",
        derate_pct_per_k="2.5 %/K",
        load_factor_pct="80 %",
    )
    assert written == bare
    feet = a_plinth(vent="fan", fan_m3_per_h="11.7716 cfm")
    assert values(feet)["inside_degc"] == pytest.approx(values(bare)["inside_degc"], abs=1e-3)


def test_efficiency_that_nobody_knows_is_taken_at_its_worst_and_told() -> None:
    found = a_box()
    assert found.assumed[0].what == "efficiency of the supply"
    assert (values(found)["inside_degc"] or 0.0) > 54.2


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"area_m2": "0 m²"}, "the faces in free air cannot be 0"),
        ({"load_w": "-5 W"}, "the load cannot be -5"),
        ({"ambient_degc": "300 °C"}, "the air outside the box cannot be 300"),
        ({"vent": "fan"}, "the fan's air is not given"),
        ({"max_degc": "30 °C", "full_to_degc": "40 °C"}, "the greatest air cannot be 30"),
    ],
)
def test_a_box_that_cannot_be_is_refused(asked: dict[str, object], says: str) -> None:
    with pytest.raises(BadQuantity) as refused:
        a_box(**asked)
    assert says in refused.value.message
    assert refused.value.mend


def a_mains(**asked: object) -> Worked:
    return mains.work(mains.MainsAsk.model_validate({"given_w": "384 W"} | asked))


@pytest.mark.parametrize(
    ("breaker", "most"), [pytest.param("15 A", 3, id="P_AC4-15"), pytest.param("20 A", 4, id="P_AC4-20")]
)
def test_a_circuit_carries_so_many(breaker: str, most: int) -> None:
    """384 W at 120 V, 0.88, 0.95: 436.4 W, 459.3 VA, 3.828 A, 52.4 W of heat (single-phase power)."""
    figures = values(a_mains(efficiency_pct=88.0, power_factor=0.95, breaker_a=breaker))
    assert figures["per_circuit"] == most
    assert figures["each_a"] == pytest.approx(3.828, abs=5e-4)
    assert figures["each_va"] == pytest.approx(459.3, abs=0.05)
    assert figures["each_heat_w"] == pytest.approx(52.4, abs=0.05)


@pytest.mark.parametrize(
    ("supplies", "says"), [(1, "holds"), (2, "may trip"), (3, "trips if it lasts")], ids=["P_AC6"] * 3
)
def test_a_surge_is_held_against_the_trip_band(supplies: int, says: str) -> None:
    """60 A each on 16 A type C: 80 to 160 A (IEC 60898-1)."""
    found = a_mains(supplies=supplies, inrush_a="60 A", breaker_a="16 A", curve="C", mains_v="230 V")
    text = next(one.text for one in found.figures if one.name == "switched_on_together")
    assert text == f"{says} (80 to 160 A)"


def test_too_many_on_a_circuit_are_told_how_many_to_move() -> None:
    found = a_mains(supplies=6, efficiency_pct="88 %", power_factor=0.95)
    assert (found.is_within, found.ways) == (False, ["plug 2 of them in on another circuit"])
    far = a_mains(supplies=10, efficiency_pct=88.0, power_factor=0.95)
    assert far.ways == ["plug 6 of them in on 2 other circuits, at most 4 on each"]


@pytest.mark.parametrize("supplies", [1, 2])
def test_a_surge_that_one_alone_brings_is_helped_by_no_grouping(supplies: int) -> None:
    """300 A on a 20 A type B: 60 to 100 A (IEC 60898-1); it holds at 100 A of B, 60 A of C, 30 A of D."""
    found = a_mains(supplies=supplies, inrush_a="300 A", curve="B")
    assert found.is_within is False
    assert "One alone trips if it lasts" in found.says
    assert "Start them" not in found.says
    assert "curve B of 100 A or more, or curve C of 60 A or more, or curve D of 30 A or more" in found.ways[0]


def test_a_surge_that_may_trip_is_neither_in_order_nor_over() -> None:
    found = a_mains(given_w="100 W", inrush_a="80 A", curve="B")
    assert found.is_within is None
    assert "One alone may trip" in found.says
    assert found.ways


def test_what_is_held_alone_is_started_in_groups() -> None:
    """60 A each, 80 A held: one at a time."""
    found = a_mains(supplies=3, inrush_a="60 A", breaker_a="16 A", curve="C", mains_v="230 V")
    assert found.is_within
    assert found.says.endswith("Start them in 3 groups.")
    assert a_mains(given_w="50 W", inrush_a="60 A", curve="C").says.endswith("The breaker holds its inrush.")


def test_one_that_no_circuit_carries_wants_a_bigger_one() -> None:
    """3000 W / 0.85 / 0.5 / 120 V = 58.8 A; / 0.80 = 73.5 A (single-phase power)."""
    found = a_mains(given_w="3000 W")
    assert "not even one is within it" in found.says
    assert found.ways[0] == "a bigger circuit: one takes 58.82 A, for a breaker of 73.5 A or more"
    assert not any("plug" in way for way in found.ways)


@pytest.mark.parametrize(
    ("asked", "is_told"),
    [({}, True), ({"curve": "C"}, False), ({"mains_v": "230 V"}, False), ({"mains_v": "100 V"}, True)],
)
def test_breaker_sizes_of_one_country_are_not_told_in_another(
    asked: dict[str, object], is_told: bool
) -> None:
    assert ("breaker_a" in values(a_mains(**asked))) is is_told


def test_what_a_sheet_leaves_out_is_taken_at_its_worst_and_told() -> None:
    assert [one.what for one in a_mains().assumed] == [
        "the efficiency",
        "the power factor",
        "inrush of the supply",
        "the mains",
        "the breaker",
    ]
    told = a_mains(
        efficiency_pct=88.0, power_factor=0.95, inrush_a="60 A", mains_v="120 V", breaker_a="20 A"
    ).assumed
    assert [one.what for one in told] == ["the breaker's curve"]
    assert "B 60 A, C 100 A, D 200 A" in told[0].effect
    assert "each starts by itself" in [one.taken.removeprefix("none: ") for one in a_mains(curve="C").assumed]


def a_battery(**asked: object) -> Worked:
    asked = {"pack_v": "12 V", "capacity_ah": "7 Ah", "load_w": "16.8 W", "usable_pct": 100.0} | asked
    return batteries.work(batteries.BatteryAsk.model_validate(asked))


def test_a_costume_runs_less_than_the_ideal_time() -> None:
    """B9: 12 V 7 Ah lead-acid over 20 h, exponent 1.2, 1.4 A: 3.789 h and not 5 (Peukert's law)."""
    assert values(a_battery(peukert=1.2))["empty_h"] == pytest.approx(3.789, abs=5e-4)
    assert values(a_battery())["empty_h"] == pytest.approx(5.0)


def test_a_converter_takes_its_share() -> None:
    """B10: 2 A at 12 V through 90 %: 26.67 W (energy balance)."""
    figures = values(a_battery(pack_v="24 V", load_w="24 W", converter_pct=90.0))
    assert figures["mean_w"] == pytest.approx(26.67, abs=0.005)


def test_a_profile_counts_each_part_of_the_time() -> None:
    """Half the time at full, half at half: linear 0.75 of the load, by the square 0.625."""
    half = {"profile": ["50 % at 100 %", "50% @ 50%"]}
    assert values(a_battery(**half))["mean_w"] == pytest.approx(0.75 * 16.8)
    assert values(a_battery(**half, dimming="square"))["mean_w"] == pytest.approx(0.625 * 16.8)


def test_minutes_of_each_part_are_shares_of_their_sum() -> None:
    """70 of 100 minutes at full, 30 at a third: 0.8 of the load."""
    minutes = a_battery(profile=["70 min at 100 %", "0.5 h @ 33.3333 %"])
    assert values(minutes)["mean_w"] == pytest.approx(0.8 * 16.8, abs=1e-4)
    shares = a_battery(profile=["70 at 100", "30 % at 33.3333 %"])
    assert values(shares)["mean_w"] == pytest.approx(values(minutes)["mean_w"])


def test_figures_of_a_pack_are_taken_as_people_write_them() -> None:
    bare = {"show_min": 150.0, "shows": 2, "gap_h": 3.0, "charge_h": 2.5, "usable_pct": 80, "reserve_pct": 30}
    written = {"show_min": "2.5 h", "shows": 2, "gap_h": "180 min", "charge_h": "150 min"}
    written |= {"usable_pct": "80 %", "reserve_pct": "30 %", "converter_pct": "100 %", "rated_h": "20 h"}
    assert a_battery(**written) == a_battery(**bare)


def test_packs_are_never_joined() -> None:
    (way,) = a_battery(show_min=240.0).ways
    assert way == (
        "swap packs in the dark, or carry 2 packs, each for its own part of the load: "
        "packs are never joined, side by side or in a row"
    )


def test_amps_beyond_what_the_pack_gives_are_over_however_long_it_lasts() -> None:
    """240 W at 12 V: 20 A; 9 A a pack: three. Dimmed it is 20 A in each pulse (pulse-width dimming)."""
    for more in ({}, {"profile": ["100 % at 10 %"]}, {"show_min": 1.0}):
        found = a_battery(load_w="240 W", most_a="9 A", **more)
        assert (found.is_within, values(found)["peak_a"]) == (False, 20.0)
        assert "20.00 A are more than the 9 A it gives" in found.says
        assert found.ways[0].startswith("divide the load over 3 packs, each for its own part of the load")
    assert a_battery(load_w="240 W", most_a="20 A").is_within


def test_amps_that_nobody_gave_are_told_as_a_share_of_the_capacity() -> None:
    """20 A out of 3 Ah: 6.67 C (definition)."""
    found = {one.what: one for one in a_battery(load_w="240 W", capacity_ah="3 Ah").assumed}
    assert "6.67 C: 20 A out of 3 Ah" in found["most amps the pack gives"].taken
    assert "its sheet decides" in found["most amps the pack gives"].effect
    assert found["air the pack works in"].taken == "25 °C"
    assert found["how the tape is used"].taken == "at full all the time"
    told = a_battery(most_a="9 A", air_degc="20 °C", profile=["100 % at 100 %"])
    assert told.assumed == []


def test_packs_of_a_day_with_and_without_a_charge() -> None:
    """5 h x 0.7 leave 3.5 h; two shows of 3 h want a charge or a second pack."""
    shows = {"show_min": 180.0, "shows": 2, "gap_h": 3.0}
    assert values(a_battery(**shows, charge_h=2.5))["packs_a_day"] == 1
    assert values(a_battery(**shows, charge_h=5.0))["packs_a_day"] == 2
    unknown = next(one.text for one in a_battery(**shows).figures if one.name == "packs_a_day")
    assert "how long a charge takes is not given" in unknown
    assert a_battery(show_min=240.0).is_within is False


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"load_w": "0 W"}, "nothing is drawn from the pack"),
        ({"profile": ["0 min at 100 %"]}, "a part of the time cannot be 0"),
        ({"profile": ["-5 min at 100 %", "9 min at 9 %"]}, "a part of the time cannot be -5"),
        ({"profile": ["70 min at 100 %", "50 % at 30 %"]}, "minutes in one part and shares in another"),
        ({"profile": ["70 m at 100 %"]}, "is a length, not a time"),
        ({"most_a": "0 A"}, "the most amps of the pack cannot be 0"),
        ({"profile": ["often"]}, "'often' is not a part of the time and a level"),
        ({"profile": ["50 % at 100 %"]}, "the shares of the time make 0.5"),
        ({"profile": ["100 % at 120 %"]}, "the level cannot be 1.2"),
        ({"air_degc": "-40 °C"}, "the pack's air cannot be -40"),
        ({"capacity_ah": "0 Ah"}, "the capacity cannot be 0"),
        ({"pack_v": "0 V"}, "the pack's volts cannot be 0"),
    ],
)
def test_a_pack_that_cannot_be_is_refused(asked: dict[str, object], says: str) -> None:
    with pytest.raises(BadQuantity) as refused:
        a_battery(**asked)
    assert says in refused.value.message
    assert refused.value.mend


def test_a_marking_allows_what_its_table_says() -> None:
    """24 V Class 2: 100 VA, 4.167 A, at most 8 A (NFPA 70 Ch. 9 Table 11(B)); wet and pulsed 12.4 V."""
    within = markings.work(markings.MarkingAsk.model_validate({"volts_v": "24 V", "output_a": "4 A"}))
    assert within.is_within
    assert values(within)["plate_a"] == pytest.approx(4.167, abs=5e-4)
    assert values(within)["most_a"] == 8.0
    wet = markings.work(
        markings.MarkingAsk.model_validate(
            {"volts_v": "24 V", "output_a": "13.3 A", "wet": True, "dimmed_hz": "120 Hz"}
        )
    )
    assert wet.is_within is False
    assert values(wet)["touch_v"] == 12.4
    assert wet.assumed == []
    taken = {one.what: one for one in within.assumed}
    assert "30 V" in taken["whether wet contact is likely"].effect
    assert "24.8 V" in taken["frequency of the dimming"].effect


def test_an_output_that_gives_nothing_is_refused() -> None:
    with pytest.raises(BadQuantity, match="the amps of an output cannot be 0") as refused:
        markings.work(markings.MarkingAsk.model_validate({"volts_v": "24 V", "output_a": "0 A"}))
    assert refused.value.mend


def test_a_line_carries_32_unit_loads() -> None:
    """32 whole or 256 eighths (EIA-485); 44.1 packets a second (ANSI E1.11); 239.255.1.0 (ANSI E1.31)."""
    full = a_line(receivers=256, unit_load=0.125, universe=256)
    assert full.is_within
    assert values(full)["refresh_hz"] == pytest.approx(44.10, abs=0.005)
    assert "239.255.1.0" in [one.text for one in full.figures]
    assert a_line(receivers=33).is_within is False


def test_a_line_without_receivers_is_refused() -> None:
    with pytest.raises(ValidationError, match="greater than or equal to 1"):
        a_line(receivers=0)


def test_what_a_line_takes_without_being_told_is_said() -> None:
    assert [one.what for one in a_line(receivers=3).assumed] == [
        "unit loads of each receiver",
        "slots that the source sends",
    ]
    assert a_line(receivers=3, unit_load=1.0, slots=512).assumed == []


@pytest.mark.parametrize(
    "worked", [a_box(), a_line(receivers=1), a_mains(), a_battery()], ids=["box", "line", "mains", "battery"]
)
def test_each_answer_brings_its_formula_its_source_and_its_caution(worked: Worked) -> None:
    assert worked.formula
    assert worked.source
    assert worked.caution.endswith(SCOPE) or worked.caution == CONTROL
