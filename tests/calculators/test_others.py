"""What gauge, what fuse, how warm, what a marking allows, what a line carries."""

import pytest

from service.calculators import batteries, boxes, lines, mains, markings, wires
from service.calculators.form import Calculator, Worked
from service.calculators.registry import CALCULATORS
from service.errors import BadQuantity
from service.limits.cautions import CONTROL, SCOPE


def values(worked: Worked) -> dict[str, float | None]:
    return {one.name: one.value for one in worked.figures}


def a_gauge(**asked: object) -> Worked:
    return wires.work_gauge(wires.GaugeAsk.model_validate({"load_a": "3.2 A"} | asked))


def a_fuse(**asked: object) -> Worked:
    return wires.work_fuse(wires.FuseAsk.model_validate({"load_a": "3.9 A", "gauge": "18 AWG"} | asked))


def test_the_thinnest_wire_that_does_it_and_why_no_thinner() -> None:
    """Both ends of the river edge: 3.2 A out, 0.8 A back, 12 m of 16 AWG lose 0.632 V, 2.63 %."""
    found = a_gauge(back_a="0.8 A", lead_m="12 m")
    assert found.says == "16 AWG: 3.20 A of 10.00 A, 0.63 V lost (2.63 %), 4 A fuse."
    refused = {one.name: one.text for one in found.figures if one.name.startswith("not ")}
    assert refused["not 18 AWG"] == "loses 4.19 %"
    assert "more than its 3.00 A" in refused["not 22 AWG"]


def test_a_published_drop_is_kept_to() -> None:
    """16 AWG, 100 ft one way, 4 A, 24 V: 3.99 V, 16.6 % (a public course page, NFPA 70 Ch. 9 Table 8); ours
    with solid copper at 75 °C, which the table exceeds by 2 %."""
    found = a_gauge(load_a="4 A", lead_m="100 ft", conductor_degc="75 °C", limit_pct=17.0)
    assert values(found)["lost_pct"] == pytest.approx(16.6, rel=0.025)
    assert found.figures[0].text == "16 AWG"


def test_where_no_wire_does_it_every_one_says_why() -> None:
    found = a_gauge(load_a="40 A", metric=True)
    assert (found.is_within, len(found.figures)) == (False, 6)
    assert found.ways


@pytest.mark.parametrize(
    ("load", "table", "fuse_a"),
    [
        pytest.param("3.9 A", "us fixture wire", 5.0, id="A12"),  # NFPA 70: 1.25 x 3.9 = 4.875, wire 6 A
        pytest.param("6.4 A", "shop", None, id="no-size-fits"),
    ],
)
def test_a_fuse_holds_the_load_and_protects_the_wire(load: str, table: str, fuse_a: float | None) -> None:
    found = a_fuse(load_a=load, table=[table])
    assert values(found)["fuse_a"] == fuse_a
    assert found.is_within is (fuse_a is not None)
    assert bool(found.ways) is (fuse_a is None)


def test_of_several_tables_the_strictest_decides_and_all_are_shown() -> None:
    found = a_fuse(table=["shop", "us fixture wire"])
    assert values(found)["most_a"] == 6.0
    assert values(found)["shop a"] == 7.0


def test_a_connector_that_nobody_named_is_told() -> None:
    assert a_fuse().assumed[-1].what == "the connector's amps per pin"
    found = a_fuse(connector_a="3 A", table=["us fixture wire", "iec cord"])
    assert (found.assumed, found.is_within) == ([], False)


def test_a_stricter_table_that_was_not_asked_for_is_told() -> None:
    """16 AWG with five carrying cores: the shop's 10 A; 10 x 0.80 = 8 A by NFPA 70 400.5(A)(1), (3)."""
    first = a_fuse(load_a="8 A", gauge="16 AWG", carrying_cores=5).assumed[0]
    assert first.what == "which code the lead falls under"
    assert "us cord allows 8.00 A only" in first.effect


def test_more_back_than_out_is_no_lead() -> None:
    with pytest.raises(BadQuantity, match=r"9 A back and 3\.2 A out"):
        a_gauge(back_a="9 A")


def test_what_helps_where_no_wire_does_is_what_would_help() -> None:
    connector = a_gauge(lead_m="2 m", connector_a="3 A")
    assert "use a connector for more than 3 A a pin" in connector.ways
    assert "bring the supply nearer" not in connector.ways
    assert "bring the supply nearer" in a_gauge(load_a="14 A", lead_m="60 m").ways


def test_a_lead_that_carries_nothing_wants_no_fuse() -> None:
    with pytest.raises(BadQuantity, match="a lead that carries 0 A"):
        a_fuse(load_a="0 A")


def test_a_wire_without_a_figure_is_refused() -> None:
    with pytest.raises(BadQuantity, match="26 AWG has no figure in shop"):
        a_fuse(gauge="26 AWG")


def a_line(**asked: object) -> Worked:
    return lines.work(lines.LineAsk.model_validate(asked))


def a_box(**asked: object) -> Worked:
    asked = {"load_w": "184.32 W", "rated_w": "320 W", "area_m2": "0.4 m²", "ambient_degc": "30 °C"} | asked
    return boxes.work(boxes.BoxAsk.model_validate(asked))


def test_a_supply_in_a_sealed_plinth() -> None:
    """320 W, 90 %, 0.40 m² of 12 mm ply at 2.5 W/m²K: 24.17 W of heat, 54.2 °C, 165.3 W (by hand)."""
    found = a_box(efficiency_pct=90.0, full_to_degc="40 °C")
    assert found.says == ("54.2 °C inside; 184.32 W of 165.3 W, 111.5 %. Heat and limit meet at 174.0 W.")
    assert found.assumed == []
    assert "take 10.3 W off it" in found.ways


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
    found = a_mains(supplies=6, efficiency_pct=88.0, power_factor=0.95)
    assert (found.is_within, found.ways) == (False, ["plug 2 of them in on another circuit"])


def test_what_a_sheet_leaves_out_is_taken_at_its_worst_and_told() -> None:
    assert [one.what for one in a_mains().assumed] == [
        "the efficiency",
        "the power factor",
        "inrush of the supply",
    ]


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


def test_a_line_carries_32_unit_loads() -> None:
    """32 whole or 256 eighths (EIA-485); 44.1 packets a second (ANSI E1.11); 239.255.1.0 (ANSI E1.31)."""
    full = a_line(receivers=256, unit_load=0.125, universe=256)
    assert full.is_within
    assert values(full)["refresh_hz"] == pytest.approx(44.10, abs=0.005)
    assert "239.255.1.0" in [one.text for one in full.figures]
    assert a_line(receivers=33).is_within is False


@pytest.mark.parametrize("calculator", CALCULATORS, ids=lambda each: each.name)
def test_each_question_says_what_each_figure_is_and_gives_an_example(calculator: Calculator) -> None:
    for name, field in calculator.ask.model_fields.items():
        assert field.description, name
        assert field.examples, name


@pytest.mark.parametrize(
    "worked",
    [a_gauge(), a_fuse(), a_box(), a_line(receivers=1), a_mains(), a_battery()],
    ids=["gauge", "fuse", "box", "line", "mains", "battery"],
)
def test_each_answer_brings_its_formula_its_source_and_its_caution(worked: Worked) -> None:
    assert worked.formula
    assert worked.source
    assert worked.caution.endswith(SCOPE) or worked.caution == CONTROL
