"""Supplies in closed boxes: how warm the air gets in there, and what that leaves of the rating.

Load decides heat and heat decides the limit. A supply that holds on the bench can shut down an hour into a
session in a box, so the box is judged at the load it is given, and the load at which both meet is told.
"""

from dataclasses import dataclass
from enum import StrEnum

from service.electrical.power.ranges import AIR_DEGC, share, within
from service.electrical.supplies import ambient_factor, usable_w

# Share of the load that decoders in the same box turn into heat. Common practice.
DECODER_LOSS_SHARE = 0.02

# Heat a wall lets through, W/m2 K, still air on both sides. From memory; measure the air in the box.
SHEET_STEEL_W_PER_M2_K = 5.5
PLASTIC_W_PER_M2_K = 3.5
PLY_12_MM_W_PER_M2_K = 2.5

# Share of the rise that is left with vents top and bottom. From memory.
VENTED_RISE_SHARE = 0.5

# Watts one cubic metre of air an hour carries off per kelvin: 1.2 kg/m3 x 1005 J/(kg K) / 3600 s. Physics.
AIR_WH_PER_M3_K = 0.34


class Vent(StrEnum):
    SEALED = "sealed"
    VENTED = "vented"  # openings at the top and at the bottom
    FAN = "fan"


@dataclass(frozen=True, slots=True)
class Box:
    """`area_m2`: faces in free air, not the one it stands on. `ambient_degc`: the air outside it."""

    area_m2: float | None
    passed_w_per_m2_k: float | None
    ambient_degc: float | None
    vent: Vent = Vent.SEALED
    fan_m3_per_h: float | None = None


@dataclass(frozen=True, slots=True)
class Derating:
    """A supply as its maker rates it, and the share of what is left that the house loads for hours."""

    rated_w: float | None
    efficiency: float | None
    full_to_degc: float | None
    derate_per_k: float | None
    max_degc: float | None
    load_factor: float = 0.80


@dataclass(frozen=True, slots=True)
class BoxState:
    """One supply in one box at one load.

    `heat_w`: all that gets warm in there. `rise_k`: air inside over air outside. `ambient_share`: what is
    left of the rating in that air. `meets_w`: the greatest load that is still within the limit its own heat
    leaves. `load_share`: load over limit, None where no watt may be loaded.
    """

    load_w: float
    heat_w: float
    rise_k: float
    inside_degc: float
    ambient_share: float
    limit_w: float
    meets_w: float

    @property
    def load_share(self) -> float | None:
        return self.load_w / self.limit_w if self.limit_w > 0.0 else None


def supply_heat_w(load_w: float, efficiency: float | None) -> float:
    """Watts a supply turns into heat.

        P / efficiency - P

    Source: definition of efficiency.
    Raises BadQuantity for an efficiency that is not above 0 and at most 1, and for watts below 0.

    >>> round(supply_heat_w(384.0, 0.88), 1)
    52.4
    """
    load = within("the load", load_w, 0.0, 1e6, "W")
    return load / share("the efficiency", efficiency) - load


def rise_k_per_w(box: Box) -> float:
    """Kelvins the air inside gets warmer for each watt of heat.

        sealed  1 / (k A);   vented  half of that;   fan  1 / (0.34 m3/h), or sealed if that is less

    Walls and fan are each reckoned alone, so the true rise is smaller: the error lies on the safe side.

    Source: k and the half from memory; the fan from the heat air carries (physics).
    Holds for: air mixed well, heat spread over hours. Foam, drapes or a second box around it make it warmer.
    Raises BadQuantity where area, heat passed or the fan's air is not given or cannot be.

    >>> rise_k_per_w(Box(0.40, PLY_12_MM_W_PER_M2_K, 30.0))
    1.0
    """
    area_m2 = within("the faces in free air", box.area_m2, 0.001, 1000.0, "m²")
    passed = within("the heat passed", box.passed_w_per_m2_k, 0.1, 25.0, "W/m²K")
    sealed = 1.0 / (passed * area_m2)
    if box.vent is Vent.VENTED:
        return VENTED_RISE_SHARE * sealed
    if box.vent is Vent.FAN:
        moved = within("the fan's air", box.fan_m3_per_h, 0.1, 100_000.0, "m³/h")
        return min(sealed, 1.0 / (AIR_WH_PER_M3_K * moved))
    return sealed


def box_state(
    box: Box,
    supply: Derating,
    load_w: float,
    other_heat_w: float = 0.0,
    decoder_loss_share: float = DECODER_LOSS_SHARE,
) -> BoxState:
    """How warm it gets in the box, what the supply may carry in that air, and where load and limit meet.

        T = ambient + (P / efficiency - P + 0.02 P + other) * rise per watt;   limit = rated * f(T) * 0.80

    `other_heat_w`: whatever else gets warm in the same box, other supplies too. `decoder_loss_share` is 0
    where the decoders stand outside.

    Source: energy balance; factors as in `rise_k_per_w` and `service.electrical.supplies`.
    Raises BadQuantity for a figure that is missing or out of its range.

    >>> plinth = Box(0.40, PLY_12_MM_W_PER_M2_K, 30.0)
    >>> state = box_state(plinth, Derating(320.0, 0.90, 40.0, 0.025, 70.0), 184.32)
    >>> round(state.inside_degc, 1), round(state.limit_w, 1), round(state.meets_w, 1)
    (54.2, 165.3, 174.0)
    """
    ambient = within("the air outside the box", box.ambient_degc, *AIR_DEGC, "°C")
    other = within("the other heat", other_heat_w, 0.0, 1e6, "W")
    decoders = within("the decoders' share", decoder_loss_share, 0.0, 1.0)
    heat_w = supply_heat_w(load_w, supply.efficiency) + decoders * load_w + other
    per_w = rise_k_per_w(box)
    inside = ambient + heat_w * per_w
    left = _air_share(supply, inside)
    return BoxState(
        load_w=load_w,
        heat_w=heat_w,
        rise_k=heat_w * per_w,
        inside_degc=inside,
        ambient_share=left,
        limit_w=usable_w(_rated_w(supply), left, _load_factor(supply)),
        meets_w=_meets_w(
            supply, ambient + other * per_w, (supply_heat_w(1.0, supply.efficiency) + decoders) * per_w
        ),
    )


def _rated_w(supply: Derating) -> float:
    return within("the rated watts", supply.rated_w, 0.1, 1e6, "W")


def _load_factor(supply: Derating) -> float:
    return share("the load factor", supply.load_factor)


def _curve(supply: Derating) -> tuple[float, float, float]:
    full_to = within("the air it is full to", supply.full_to_degc, *AIR_DEGC, "°C")
    per_k = within("the derating", supply.derate_per_k, 0.0, 1.0, "per K")
    highest = within("the greatest air", supply.max_degc, full_to, 150.0, "°C")
    return full_to, per_k, highest


def _air_share(supply: Derating, degc: float) -> float:
    full_to, per_k, highest = _curve(supply)
    return ambient_factor(degc, full_to, per_k, highest)


def _meets_w(supply: Derating, unloaded_degc: float, k_per_load_w: float) -> float:
    """The greatest P with P <= rated * load factor * f(unloaded + c P).

    The right side never rises with P, so there is one such load. It lies on the flat part of the curve, or on
    the slope, where P = B (1 - k (T0 + c P - full)) is solved for P, or where the air reaches the greatest
    the maker allows and the limit falls to nothing.
    """
    full_to, per_k, highest = _curve(supply)
    most = usable_w(_rated_w(supply), 1.0, _load_factor(supply))
    if unloaded_degc > highest:
        return 0.0
    if unloaded_degc + k_per_load_w * most <= full_to:
        return most
    on_slope = most * (1.0 - per_k * (unloaded_degc - full_to)) / (1.0 + most * per_k * k_per_load_w)
    stops_at = (highest - unloaded_degc) / k_per_load_w if k_per_load_w > 0.0 else most
    return max(0.0, min(on_slope, stops_at))
