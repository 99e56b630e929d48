"""What drop and what longest run: with units as people write them, and nothing assumed in silence."""

import pytest
from pydantic import ValidationError

from service.calculators import drop, longest
from service.calculators.form import Worked
from service.errors import BadQuantity, NoSteadyState


def a_drop(**asked: object) -> Worked:
    return drop.work(
        drop.DropAsk.model_validate({"emitter_w_per_m": ["14.4 W/m"], "length_m": "5 m"} | asked)
    )


def a_longest(**asked: object) -> Worked:
    return longest.work(longest.LongestAsk.model_validate({"emitter_w_per_m": ["14.4 W/m"]} | asked))


def values(worked: Worked) -> dict[str, float | None]:
    return {one.name: one.value for one in worked.figures}


KNOWN = {"common_ohm_per_m": "50 mΩ/m", "return_ohm_per_m": "50 mΩ/m", "lead_m": "0 m"}


def test_five_metres_lose_what_is_published() -> None:
    """23.2500 V, 3.125 %, 3.0000 A (elementary theory, and a circuit simulator)."""
    found = a_drop(**KNOWN)
    figures = values(found)
    assert figures["least_v"] == pytest.approx(23.25, abs=1e-4)
    assert figures["lost_pct"] == pytest.approx(3.125, abs=1e-3)
    assert figures["supply_a"] == pytest.approx(3.0, abs=1e-4)
    assert (found.is_within, found.ways, found.assumed) == (True, [], [])
    assert found.says == "5 m fed at one end loses 0.75 V (3.12 %) at 4.97 m; within the 5 % asked for."


def test_five_volt_tape_is_refused_by_any_limit() -> None:
    """24 % lost: 3.8 V of 5 (elementary theory, and a circuit simulator)."""
    found = a_drop(emitter_w_per_m=["4.8 W/m"], nominal_v="5 V", limit_pct=10.0, **KNOWN)
    assert values(found)["lost_pct"] == pytest.approx(24.0, abs=1e-3)
    assert found.is_within is False
    assert any("24 V version" in way for way in found.ways)


def test_leds_below_their_drop_are_told_with_the_light_that_is_left() -> None:
    """12 V, 9 V LEDs: 11.2185 V and 73.9 % at the end (elementary theory, and a circuit simulator)."""
    rails = {"common_ohm_per_m": "0.1 ohm/m", "return_ohm_per_m": "0.1 ohm/m"}
    found = a_drop(
        emitter_w_per_m=["4.8 W/m"], nominal_v="12 V", draw="led", led_drop_v="9 V", limit_pct=10.0, **rails
    )
    figures = values(found)
    assert figures["least_v"] == pytest.approx(11.2185, abs=3e-4)
    assert figures["least_light_pct"] == pytest.approx(73.9, abs=0.05)


def test_feet_and_watts_a_foot_give_the_same_answer() -> None:
    metric = values(a_drop(**KNOWN | {"length_m": "3.048 m", "pitch_m": "50.8 mm", "lead_m": "6.096 m"}))
    feet = values(
        a_drop(
            emitter_w_per_m=["4.38912 W/ft"], length_m="10 ft", pitch_m="2 in", lead_m="20 ft",
            common_ohm_per_m="15.24 mΩ/ft", return_ohm_per_m="15.24 mΩ/ft",
        )
    )  # fmt: skip
    assert feet == pytest.approx(metric, rel=1e-9)


def test_one_colour_of_four_loses_less_than_all() -> None:
    """23.2000 V with all on, 23.5750 V with one (elementary theory, and a circuit simulator)."""
    tape = {
        "emitter_w_per_m": ["4.8 W/m"] * 4, "pitch_m": "100 mm",
        "common_ohm_per_m": "50 mΩ/m", "return_ohm_per_m": "120 mΩ/m",
    }  # fmt: skip
    assert values(a_drop(**tape))["least_v"] == pytest.approx(23.2, abs=1e-4)
    assert values(a_drop(**tape, lit=[1]))["least_v"] == pytest.approx(23.575, abs=1e-4)


def test_rails_that_nobody_knows_are_named_with_what_they_change() -> None:
    (assumed,) = a_drop(lead_m="0 m").assumed
    assert assumed.what == "resistance of the rails (common and returns)"
    assert "from memory" in assumed.taken
    # Half the ohms, half the volts; twice the ohms, twice the volts.
    assert "1.56 %" in assumed.effect
    assert "6.25 %" in assumed.effect
    assert [one.what for one in a_drop(common_ohm_per_m="50 mΩ/m", lead_m="0 m").assumed] == [
        "resistance of the rails (returns)"
    ]


def test_a_length_between_the_marks_is_told() -> None:
    found = a_drop(length_m="3.33 m", **KNOWN)
    assert "3.3 m: whole pitches of 0.05 m" in found.assumed[0].taken
    assert values(found)["tape_w"] == pytest.approx(3.3 * 14.4)


def test_too_thin_a_lead_is_told_even_where_the_volts_are_kept() -> None:
    """8 m of 14.4 W/m are 4.8 A; 22 AWG takes 3 (common practice)."""
    found = a_drop(**KNOWN | {"length_m": "8 m", "lead_m": "0.3 m", "gauge": "22 AWG", "limit_pct": 20.0})
    assert found.is_within is False
    assert "Its lead carries 4.80 A; 22 AWG takes 3 A." in found.says


def test_the_river_edge_is_told_the_way_out() -> None:
    """12.38 % at one end; both ends with 16 AWG 0.87 V."""
    found = a_drop(
        emitter_w_per_m=["4.8 W/m"] * 4, length_m="8 m", pitch_m="100 mm", lead_m="12 m",
        common_ohm_per_m="25 mΩ/m", return_ohm_per_m="50 mΩ/m",
    )  # fmt: skip
    assert values(found)["lost_pct"] == pytest.approx(12.38, abs=0.005)
    assert "feed both ends from the same supply output and use 16 AWG: 0.87 V instead of 2.97 V" in found.ways


LEDS = {"emitter_w_per_m": ["4.8 W/m"], "nominal_v": "5 V", "draw": "led", "led_drop_v": "4.5 V"}


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (
            {"length_m": "8 m", "emitter_w_per_m": ["19.2 W/m"], "limit_pct": 30.0},
            "No fuse protects its lead",
        ),
        ({"supply_v": "60 V"}, "60 V on 24 V tape: switch it off, it burns."),
        ({"supply_v": "12 V"}, "The supply gives less than 24 V: the far end is 53.1 % short."),
    ],
)
def test_what_keeps_its_volts_may_be_wrong_all_the_same(asked: dict[str, object], says: str) -> None:
    """6.4 A on 18 AWG want a 10 A fuse; wrong volts; each is said, and nothing is within."""
    found = a_drop(**KNOWN | asked)
    assert found.is_within is False
    assert says in found.says


def test_a_supply_below_its_leds_is_refused() -> None:
    with pytest.raises(BadQuantity, match="none of them lights"):
        a_drop(**KNOWN, **LEDS, supply_v="4 V")


@pytest.mark.parametrize(
    "asked",
    [
        {"draw": "power", "common_ohm_per_m": "0.1 Ω/m", "return_ohm_per_m": "0.1 Ω/m"},
        {"output_ohm": "0.7 Ω", "length_m": "3 m"},
        {"fed": "opposite", "lead_m": "5 m", "limit_pct": 2.0},
        {"supply_v": "22 V", "lead_m": "10 m"},
        {"emitter_w_per_m": ["30 W/m"], "length_m": "8 m", "lead_m": "1 m"},
    ],
)
def test_every_way_out_is_worked_out_as_the_run_itself_was(asked: dict[str, object]) -> None:
    """A run that is cut to the length it says is within; the figure it starts from is the run's own."""
    found = a_drop(**KNOWN | asked)
    lost_v = values(found)["lost_v"] or 0.0
    for way in found.ways:
        assert f"instead of {lost_v:.2f} V" in way
        if way.startswith("cut the run to "):
            metres = way.removeprefix("cut the run to ").split(" m:")[0]
            assert a_drop(**KNOWN | asked | {"length_m": f"{metres} m"}).is_within


def test_a_lead_that_nobody_named_is_told_with_what_it_costs() -> None:
    """3 A out and back on 18 AWG: 0.126 V a metre (Ohm's law)."""
    first = a_drop(common_ohm_per_m="50 mΩ/m", return_ohm_per_m="50 mΩ/m").assumed[0]
    assert (first.what, first.effect) == ("length of the lead", "each metre of 18 AWG loses 0.126 V more")


@pytest.mark.parametrize(
    ("volts", "is_usual"), [("4 V", False), ("5 V", True), ("24 V", True), ("48 V", False)]
)
def test_a_voltage_that_tape_seldom_has_is_questioned(volts: str, is_usual: bool) -> None:
    found = a_longest(nominal_v=volts, maker_m="5 m", **KNOWN)
    assert [one.what for one in found.assumed] == ([] if is_usual else ["a usual voltage"])


def test_no_steady_state_says_so() -> None:
    with pytest.raises(NoSteadyState):
        a_drop(length_m="40 m", draw="power", **KNOWN)


def test_the_picture_is_of_the_same_run() -> None:
    ask = drop.DropAsk.model_validate({"emitter_w_per_m": ["14.4 W/m"], "length_m": "5 m", **KNOWN})
    assert "23.25 V" in drop.picture(ask)
    assert "5 % lost" in drop.picture(ask)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"common_ohm_per_m": "0 Ω/m"}, "a rail of 0 mΩ/m"),
        ({"return_ohm_per_m": "-5 mΩ/m"}, "a rail of -5 mΩ/m"),
        ({"length_m": "10 mm"}, "is 0 cut pitches"),
        ({"length_m": "100 km"}, "cut pitches of 0.05 m"),
        ({"pitch_m": "0 m"}, "a cut pitch of 0 m"),
        ({"gauge": "99 mm2"}, "99 mm² is not a size"),
        ({"conductor_degc": "200 °C"}, "200 °C"),
        ({"nominal_v": "0 V"}, "tape of 0 V"),
        ({"lead_m": "-1 m"}, "a lead -1 m long"),
        ({"lit": [2]}, "emitters 2 of 1"),
        ({"draw": "led"}, "without the LEDs' drop"),
        ({"draw": "led", "led_drop_v": "24 V"}, "an LED drop of 24 V in 24 V tape"),
        ({"emitter_w_per_m": ["-1 W/m"]}, "an emitter of -1 W/m"),
        ({"emitter_w_per_m": ["0 W/m"]}, "tape that draws nothing"),
        ({"emitter_w_per_m": ["5 W/m", "0 W/m"], "lit": [2]}, "nothing that is lit draws anything"),
        ({"nominal_v": "240 V"}, "tape of 240 V"),
        ({"output_ohm": "-1 ohm"}, "resistance of a lead of -1 Ω"),
        ({"supply_v": "0 V"}, "the voltage of a supply of 0 V"),
    ],
)
def test_what_cannot_be_is_refused_with_the_mend(asked: dict[str, object], says: str) -> None:
    with pytest.raises(BadQuantity) as refused:
        a_drop(**asked)
    assert says in refused.value.message
    assert refused.value.mend


@pytest.mark.parametrize(
    "asked",
    [
        {"emitter_w_per_m": []}, {"emitter_w_per_m": ["1 W/m"] * 7}, {"length_m": "5"}, {"length_m": "5 W"},
        {"limit_pct": 0}, {"fed": "sideways"}, {"volts": 24}, {"length_m": "nan m"},
    ],
)  # fmt: skip
def test_what_is_no_question_is_refused_by_name(asked: dict[str, object]) -> None:
    with pytest.raises(ValidationError) as refused:
        a_drop(**asked)
    assert refused.value.errors()[0]["loc"][0] == next(iter(asked))


def test_the_longest_run_of_each_feed() -> None:
    """0.6 A/m, 0.1 Ω/m out and back: 1.2 V = 0.03 l²: 6.32 m; from two sides twice that, in whole pitches."""
    found = a_longest(**KNOWN)
    figures = values(found)
    assert figures["one_m"] == pytest.approx(6.3)
    assert figures["both_m"] == pytest.approx(12.6)
    # 6.67 m are the 4 A that a 5 A fuse holds, the largest that protects 18 AWG (7 A).
    assert figures["middle_m"] == pytest.approx(6.65)
    assert [one.what for one in found.assumed] == ["the maker's longest run"]


def test_the_makers_longest_run_ends_it_first() -> None:
    figures = values(a_longest(maker_m="5 m", **KNOWN))
    assert [figures["one_m"], figures["both_m"]] == pytest.approx([5.0, 10.0])


def test_no_run_at_all_is_told_and_is_not_nought_in_silence() -> None:
    found = a_longest(**KNOWN | {"lead_m": "2000 m"})
    assert "no run at all fed at one end" in found.says
