"""The tape and the lead that a question is about, and what is taken where they are not all known."""

from typing import Annotated

from pydantic import Field

from service.calculators.form import Ask, Assumed
from service.electrical.advice.cases import Wire, wire_of
from service.electrical.gauges import gauge, stock_sizes
from service.electrical.tape import Rails
from service.errors import BadQuantity
from service.units import DegreesC, Gauge, Metres, OhmsPerMetre, Percent, Volts, WattsPerMetre, show

# A rail of common tape, 10 mm wide with 2 oz copper shared by its rails; from memory.
RAIL_OHM_PER_M = 0.05
MOST_EMITTERS, MOST_PITCHES = 6, 4000
# Direct current beyond it is no longer limited wiring (NFPA 70 (2017) Ch. 9 Table 11(B), 411.1); tape runs on
# 5 to 24 V (common practice).
MOST_V, USUAL_V = 60.0, (5.0, 24.0)


class TapeAsk(Ask):
    """Tape, its feed and its lead."""

    emitter_w_per_m: Annotated[
        list[WattsPerMetre],
        Field(
            min_length=1,
            max_length=MOST_EMITTERS,
            description="watts a metre (W/m) of each emitter in pad order: one for plain tape, four for RGBW",
            examples=[["14.4 W/m"]],
        ),
    ]
    nominal_v: Volts = Field(24.0, description="voltage class of the tape in V", examples=["24 V"])
    pitch_m: Metres = Field(0.05, description="between two cut marks, in m", examples=["50 mm"])
    common_ohm_per_m: OhmsPerMetre | None = Field(
        None, description="resistance of the common rail in Ω/m at 20 °C", examples=["25 mΩ/m"]
    )
    return_ohm_per_m: OhmsPerMetre | None = Field(
        None, description="resistance of each return in Ω/m at 20 °C", examples=["50 mΩ/m"]
    )
    lead_m: Metres | None = Field(None, description="length of the lead in m, one way", examples=["12 m"])
    gauge: Gauge = Field("18 AWG", description="wire of the lead, AWG or mm²", examples=["18 AWG"])
    conductor_degc: DegreesC = Field(
        20.0, description="temperature of the copper in °C, tape and lead", examples=["40 °C"]
    )
    limit_pct: Percent = Field(
        5.0, gt=0.0, le=100.0, description="most that may be lost, in % of the nominal volts", examples=[5.0]
    )


def rails_of(ask: TapeAsk) -> tuple[Rails, float]:
    """The tape, and the ohms a metre that stand for a rail nobody gave; nothing if all were given."""
    for watts in ask.emitter_w_per_m:
        if not watts >= 0.0:
            raise BadQuantity(f"an emitter of {watts:g} W/m", "Give watts a metre of 0 or more.")
    if not sum(ask.emitter_w_per_m) > 0.0:
        raise BadQuantity("tape that draws nothing", "Give the watts a metre of at least one emitter.")
    for rail in (ask.common_ohm_per_m, ask.return_ohm_per_m):
        if rail is not None and not rail > 0.0:
            raise BadQuantity(
                f"a rail of {show(rail, 'ohm/m')}",
                "Give a resistance of more than 0 Ω/m, or leave it out if it is not known.",
            )
    common, back = ask.common_ohm_per_m, ask.return_ohm_per_m
    stands_in = RAIL_OHM_PER_M if common is None or back is None else 0.0
    rails = Rails(
        class_v=ask.nominal_v,
        common_ohm_per_m=RAIL_OHM_PER_M if common is None else common,
        emitters_w_per_m=tuple(ask.emitter_w_per_m),
        returns_ohm_per_m=(RAIL_OHM_PER_M if back is None else back,) * len(ask.emitter_w_per_m),
    )
    if not 0.0 < rails.class_v <= MOST_V:
        raise BadQuantity(
            f"tape of {rails.class_v:g} V",
            f"Give the tape's voltage as more than 0 and at most {MOST_V:g} V dc.",
        )
    return rails, stands_in


def rails_times(ask: TapeAsk, factor: float) -> Rails:
    """The tape if the rails that were not given had that many times the ohms taken for them."""
    rails, _ = rails_of(ask)
    common = rails.common_ohm_per_m * (factor if ask.common_ohm_per_m is None else 1.0)
    back = rails.returns_ohm_per_m[0] * (factor if ask.return_ohm_per_m is None else 1.0)
    return Rails(rails.class_v, common, rails.emitters_w_per_m, (back,) * len(ask.emitter_w_per_m))


def assumed_rails(ask: TapeAsk, half: str, twice: str) -> Assumed:
    """What the answer would be with rails half and twice as thin."""
    missing = [
        name
        for name, value in (("common", ask.common_ohm_per_m), ("returns", ask.return_ohm_per_m))
        if value is None
    ]
    return Assumed(
        what=f"resistance of the rails ({' and '.join(missing)})",
        taken=f"{show(RAIL_OHM_PER_M, 'ohm/m')} each, from memory: wide 24 V tape with 2 oz copper",
        effect=f"with half of that {half}, with twice that {twice}; measure a reel to know",
    )


def unusual_volts(ask: TapeAsk) -> list[Assumed]:
    """A word where tape of such a voltage is seldom seen."""
    low, high = USUAL_V
    if low <= ask.nominal_v <= high:
        return []
    return [
        Assumed(
            what="a usual voltage",
            taken=f"{ask.nominal_v:g} V, as typed; tape runs on {low:g} to {high:g} V (common practice)",
            effect="a slip in it turns every figure; look at the reel",
        )
    ]


def lead_not_given(ask: TapeAsk, v_per_m: float) -> list[Assumed]:
    """What each metre of a lead would add, where none was named."""
    if ask.lead_m is not None:
        return []
    return [
        Assumed(
            what="length of the lead",
            taken=f"none; its {ask.gauge} still has to carry the amps and take a fuse",
            effect=f"each metre of {ask.gauge} loses {v_per_m:.3f} V more",
        )
    ]


def wire_named(text: str) -> Wire:
    """The wire that was asked for, with the shop's limit."""
    return wire_of(gauge(text))


def shelf_like(text: str) -> list[Wire]:
    """Sizes of the tables of the same family, AWG or mm²."""
    return [wire_of(size) for size in stock_sizes(gauge(text).is_metric)]
