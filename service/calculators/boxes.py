"""How warm does it get in this box, and what may the supply in it carry?"""

from enum import StrEnum
from math import ceil, floor

from pydantic import Field

from service.calculators.form import Ask, Assumed, Figure, Worked, beware, figure
from service.electrical.power.boxes import (
    PLASTIC_W_PER_M2_K,
    PLY_12_MM_W_PER_M2_K,
    SHEET_STEEL_W_PER_M2_K,
    Box,
    BoxState,
    Derating,
    Vent,
    box_state,
)
from service.electrical.supplies import ambient_factor, usable_w
from service.limits import cautions
from service.units import CubicMetresPerHour, DegreesC, Percent, PercentPerKelvin, SquareMetres, Watts, show

# What most supplies of this size print; from memory. Taken where nothing was given, and said.
FULL_TO_DEGC, DERATE_PCT_PER_K, MAX_DEGC = 40.0, 2.5, 70.0
WORST_EFFICIENCY_PCT, BEST_EFFICIENCY_PCT = 82.0, 94.0

# Slack for a figure that equals its limit, so that 100.0 % stays allowed.
SLACK = 1e-6


class Wall(StrEnum):
    """What the box is made of."""

    STEEL = "sheet steel"
    PLASTIC = "plastic"
    PLY = "12 mm ply"


PASSED = {
    Wall.STEEL: SHEET_STEEL_W_PER_M2_K,
    Wall.PLASTIC: PLASTIC_W_PER_M2_K,
    Wall.PLY: PLY_12_MM_W_PER_M2_K,
}


class BoxAsk(Ask):
    """A box, and the supply in it."""

    load_w: Watts = Field(description="watts the supply gives, at full, in W", examples=["184.32 W"])
    rated_w: Watts = Field(description="watts on its label, in W", examples=["320 W"])
    area_m2: SquareMetres = Field(
        description="faces in free air, not the one it stands on, in m²", examples=["0.40 m²"]
    )
    wall: Wall = Field(Wall.PLY, description="what the box is made of", examples=["12 mm ply"])
    vent: Vent = Field(Vent.SEALED, description="how its air moves", examples=["sealed"])
    fan_m3_per_h: CubicMetresPerHour | None = Field(
        None, gt=0.0, description="air its fan moves, in m³ an hour", examples=["20 m³/h"]
    )
    ambient_degc: DegreesC = Field(25.0, description="air outside the box in °C", examples=["30 °C"])
    other_heat_w: Watts = Field(0.0, description="heat of whatever else is in it, in W", examples=["5 W"])
    efficiency_pct: Percent | None = Field(
        None, gt=0.0, le=100.0, description="efficiency of the supply, in %", examples=["90 %"]
    )
    full_to_degc: DegreesC | None = Field(
        None, description="air up to which it gives all of its watts, in °C", examples=["40 °C"]
    )
    derate_pct_per_k: PercentPerKelvin = Field(
        DERATE_PCT_PER_K,
        ge=0.0,
        le=100.0,
        description="share lost for each kelvin above, in %",
        examples=["2.5 %/K"],
    )
    max_degc: DegreesC = Field(
        MAX_DEGC, description="warmest air its maker allows, in °C", examples=["70 °C"]
    )
    load_factor_pct: Percent = Field(
        80.0,
        gt=0.0,
        le=100.0,
        description="share of the watts that the house loads for hours, in %",
        examples=["80 %"],
    )


def work(ask: BoxAsk) -> Worked:
    """The air inside, what that leaves of the rating, and the load at which both meet."""
    state = _state(ask, WORST_EFFICIENCY_PCT)
    is_within = _is_within(state)
    share = "" if state.load_share is None else f", {100.0 * state.load_share:.1f} %"
    says = (
        f"{state.inside_degc:.1f} °C inside; {state.load_w:.2f} W of {_down_w(state.limit_w)}{share}. "
        f"Heat and limit meet at {_down_w(state.meets_w)}."
    )
    return Worked(
        calculator="box",
        says=says,
        is_within=is_within,
        figures=[
            figure("inside_degc", state.inside_degc, "degC"),
            _most("limit_w", state.limit_w),
            _most("meets_w", state.meets_w),
            figure("heat_w", state.heat_w, "W"),
            figure("rise_k", state.rise_k, "K", 1),
            figure("of_rating_pct", 100.0 * state.ambient_share, "%", 1),
        ],
        ways=[] if is_within else _ways(ask, state),
        assumed=_assumed(ask),
        formula=(
            "T = ambient + (P / efficiency - P + 0.02 P + other) x rise a watt; "
            "limit = rated x f(T) x share for hours"
        ),
        source="energy balance; heat that walls pass and half the rise with vents from memory",
        caution=beware(cautions.HEAT, cautions.MAINS),
    )


def _state(ask: BoxAsk, unknown_efficiency_pct: float, vent: Vent | None = None) -> BoxState:
    efficiency_pct = ask.efficiency_pct or unknown_efficiency_pct
    box = Box(ask.area_m2, PASSED[ask.wall], ask.ambient_degc, vent or ask.vent, ask.fan_m3_per_h)
    supply = Derating(
        ask.rated_w,
        efficiency_pct / 100.0,
        FULL_TO_DEGC if ask.full_to_degc is None else ask.full_to_degc,
        ask.derate_pct_per_k / 100.0,
        ask.max_degc,
        ask.load_factor_pct / 100.0,
    )
    return box_state(box, supply, ask.load_w, ask.other_heat_w)


def _is_within(state: BoxState) -> bool:
    return state.load_w <= state.limit_w * (1.0 + SLACK)


def _down_w(watts: float) -> str:
    """Watts that may be loaded, never more than there are.

    >>> _down_w(173.98), _down_w(256.0)
    ('173.9 W', '256.0 W')
    """
    return f"{floor(10.0 * watts + SLACK) / 10.0:.1f} W"


def _up_w(watts: float) -> str:
    """Watts to take off, never fewer than it needs.

    >>> _up_w(0.02), _up_w(10.0)
    ('0.1 W', '10.0 W')
    """
    return f"{ceil(10.0 * watts - SLACK) / 10.0:.1f} W"


def _most(name: str, watts: float) -> Figure:
    return Figure(name=name, value=watts, unit="W", text=_down_w(watts))


def _ways(ask: BoxAsk, state: BoxState) -> list[str]:
    """Each would do: what is not enough is not offered."""
    ways = []
    if state.meets_w >= 1.0:
        ways.append(f"take {_up_w(state.load_w - state.meets_w)} off it")
    if ask.vent is Vent.SEALED:
        vented = _state(ask, WORST_EFFICIENCY_PCT, Vent.VENTED)
        if _is_within(vented):
            allowed = _down_w(vented.limit_w)
            ways.append(f"open it top and bottom: {vented.inside_degc:.1f} °C, {allowed} allowed")
    free_w = _free_air_w(ask)
    if ask.load_w <= free_w * (1.0 + SLACK):
        return [*ways, f"stand the supply in free air: {_down_w(free_w)} allowed"]
    rated_w = ask.load_w * ask.rated_w / free_w if free_w > 0.0 else None
    if rated_w is None:
        return [*ways, "cooler air: outside the box too it is warmer than its maker allows"]
    return [
        *ways,
        f"a second supply, or a bigger one: {_down_w(free_w)} are allowed in free air too; "
        f"there it takes one of {ceil(rated_w - SLACK)} W or more, in this box more still",
    ]


def _free_air_w(ask: BoxAsk) -> float:
    """Watts the supply may carry for hours in the air outside the box."""
    full_to_degc = FULL_TO_DEGC if ask.full_to_degc is None else ask.full_to_degc
    left = ambient_factor(ask.ambient_degc, full_to_degc, ask.derate_pct_per_k / 100.0, ask.max_degc)
    return usable_w(ask.rated_w, left, ask.load_factor_pct / 100.0)


def _assumed(ask: BoxAsk) -> list[Assumed]:
    found = []
    if ask.efficiency_pct is None:
        best = _state(ask, BEST_EFFICIENCY_PCT)
        found.append(
            Assumed(
                what="efficiency of the supply",
                taken=f"{WORST_EFFICIENCY_PCT:g} %, the worst of what is usual (common practice)",
                effect=f"at {BEST_EFFICIENCY_PCT:g} % it is {show(best.inside_degc, 'degC')} inside and "
                f"{best.limit_w:.1f} W allowed",
            )
        )
    if ask.full_to_degc is None:
        found.append(
            Assumed(
                what="air up to which the supply gives all of its watts",
                taken=f"{FULL_TO_DEGC:g} °C, from memory",
                effect=f"each kelvin less costs {ask.derate_pct_per_k:g} % of its watts; look at its sheet",
            )
        )
    return [*found, *_assumed_air(ask)]


def _assumed_air(ask: BoxAsk) -> list[Assumed]:
    told, found = ask.model_fields_set, []
    if "ambient_degc" not in told:
        warmer = _state(
            ask.model_copy(update={"ambient_degc": ask.ambient_degc + 10.0}), WORST_EFFICIENCY_PCT
        )
        found.append(
            Assumed(
                what="air outside the box",
                taken=f"{ask.ambient_degc:g} °C",
                effect=f"10 K warmer leave {_down_w(warmer.limit_w)} allowed",
            )
        )
    if "wall" not in told:
        steel = _state(ask.model_copy(update={"wall": Wall.STEEL}), WORST_EFFICIENCY_PCT)
        found.append(
            Assumed(
                what="what the box is made of",
                taken=f"{ask.wall}, which holds the most heat of those known",
                effect=f"in sheet steel it is {show(steel.inside_degc, 'degC')} inside",
            )
        )
    if "derate_pct_per_k" not in told or "max_degc" not in told:
        found.append(
            Assumed(
                what="how the supply loses watts in warm air",
                taken=f"{ask.derate_pct_per_k:g} % a kelvin, none above {ask.max_degc:g} °C, from memory",
                effect="a supply that stops sooner goes dark in the same box; look at its sheet",
            )
        )
    return found
