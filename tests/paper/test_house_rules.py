"""House rules and the limits of gear: a figure that no house can mean is refused when it comes in."""

from dataclasses import fields

import pytest
from sqlalchemy import select

from service.errors import BadQuantity
from service.limits.policy import DEFAULT, RANGES, Policy
from service.planning.snapshot.house import read_policy
from service.stock.records import PolicyRow, Wire
from service.store.work import Store
from tests.paper.house import bring, the_fault


def rules(*lines: str) -> str:
    return "\n".join(("Rule,Value", *lines, ""))


def test_every_rule_has_a_range_that_holds_its_built_in_figure() -> None:
    assert set(RANGES) == {f.name for f in fields(Policy)}
    assert all(allowed.holds(getattr(DEFAULT, name)) for name, allowed in RANGES.items())


@pytest.mark.parametrize(
    "line",
    [
        "load_factor,80", "load_factor,0", "load_factor,1.01", "channel_factor,-0.8", "decoder_factor,800 %",
        "open_air_degc,77", "open_air_degc,-21", "lead_watch,3", "drop_over,0.51", "drop_watch,0.12",
        "both_ends_run_factor,0.9", "both_ends_run_factor,2.1", "keep_offcut_m,300", "conductor_degc,121",
        "match_drop_spread,0", "load_factor,lots", "mount_w_per_m,0.5", "wet_ip,70", "worn_v,61",
        "worn_v,12 A", "film_over_hz,2001", "film_watch_hz,999", "breaker_factor,80", "inrush_supplies,0",
        "battery_budget,0", "battery_hold_min,-1", "wire_us_cord,2",
        "wire_iec_cord,0.5", "wire_us_stage,maybe",
    ],
)  # fmt: skip
def test_a_rule_out_of_range_is_refused_where_it_stands(store: Store, line: str) -> None:
    fault = the_fault(store, house_rules=rules(line))

    assert (fault.sheet, fault.row, fault.column) == ("house rules", 2, "Value")
    assert fault.mend.endswith(".")


def test_a_factor_typed_as_80_is_told_the_two_ways_to_write_it(store: Store) -> None:
    fault = the_fault(store, house_rules=rules("load_factor,80"))

    assert fault.message == "80 is not a share between 0 and 1"
    assert "0.8 or 80 %" in fault.mend
    assert "load_factor goes more than 0 to 1" in fault.mend


def test_figures_come_in_at_the_ends_of_their_ranges_and_with_units(store: Store) -> None:
    """80 % is 0.8; 300 mm is 0.3 m; 77 degF is 25 degC."""
    bring(
        store,
        house_rules=rules(
            "load_factor,80 %", "output_factor,1", "keep_offcut_m,300 mm", "open_air_degc,77 °F",
            "conductor_degc,-40", "drop_watch,0.5", "drop_over,50 %",
        ),
    )  # fmt: skip

    with store.reading() as session:
        policy = read_policy(session)
    assert (policy.load_factor, policy.output_factor) == (0.8, 1.0)
    assert (policy.keep_offcut_m, policy.open_air_degc, policy.conductor_degc) == (0.3, 25.0, -40.0)
    assert (policy.drop_watch, policy.drop_over) == (0.5, 0.5)


def test_watch_never_stands_above_over_not_even_against_the_store(store: Store) -> None:
    bring(store, house_rules=rules("drop_over,0.04", "drop_watch,0.03"))

    with store.writing("tests") as session:
        session.scalars(select(PolicyRow).where(PolicyRow.name == "drop_watch")).one().value = "0.05"
    with store.reading() as session, pytest.raises(BadQuantity, match=r"drop_watch \(0.05\) is above"):
        read_policy(session)


def test_a_rule_that_is_in_the_store_is_not_replaced_unasked(store: Store) -> None:
    bring(store, house_rules=rules("load_factor,0.7"))

    assert "0.7 would become 0.8" in the_fault(store, house_rules=rules("load_factor,0.8")).message


@pytest.mark.parametrize(
    ("gauge", "most_a"),
    # Two-conductor cord: NFPA 70 (2017) Table 400.5(A)(1), column B; 22 and 20: common practice;
    # 1.5 mm2: BS 7671 Table 4F3A; 8 AWG is in no table here.
    [("22 AWG", 3), ("20 AWG", 5), ("18 AWG", 10), ("16 AWG", 13), ("14 AWG", 18), ("12 AWG", 25),
     ("10 AWG", 30), ("1.5 mm²", 16), ("8 AWG", 100), ("28 AWG", 3)],
)  # fmt: skip
def test_a_wire_is_never_said_to_carry_more_than_a_cord_of_its_gauge(
    store: Store, gauge: str, most_a: int
) -> None:
    fault = the_fault(store, wire=f"Gauge,Cores,Limit (A)\n{gauge},2,{most_a + 1}\n")
    bring(store, wire=f"Gauge,Cores,Limit (A)\n{gauge},2,{most_a}\n")

    assert (fault.column, fault.message) == (
        "Limit (A)", f"{most_a + 1} A is more than {gauge} may carry in a cord",
    )  # fmt: skip
    assert f"At most {most_a} A" in fault.mend
    with store.reading() as session:
        assert session.scalars(select(Wire.limit_a)).one() == most_a


def test_a_supply_must_be_off_only_above_the_air_in_which_it_gives_its_rating(store: Store) -> None:
    heads = "Model,Volts,Rated,Full to,Derate,Hottest\n"
    fault = the_fault(store, supply_models=heads + "S,24,320,60,2.5,40\n")

    assert (fault.column, fault.message) == ("Hottest", "40 °C is not above the 60 °C of Full to")
