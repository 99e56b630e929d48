"""How long does it run on this pack, and how many packs does a day want?"""

import re

from pydantic import Field

from service.calculators.form import Ask, Assumed, Figure, Worked, beware, figure, plain
from service.electrical.power.packs import (
    COLD_FROM_DEGC,
    RATED_H,
    RESERVE_SHARE,
    USABLE_SHARE,
    Demand,
    Dimming,
    Pack,
    transport,
)
from service.electrical.power.running import PacksNeeded, lasts_h, packs_needed
from service.errors import BadQuantity
from service.limits import cautions
from service.units import AmpereHours, DegreesC, Volts, Watts, show

# Part of the time at a level, both in percent: "40 % at 100 %".
PART = re.compile(
    r"\s*(\d{1,3}(?:\.\d{1,4})?)\s*%?\s*(?:at|@)\s*(\d{1,3}(?:\.\d{1,4})?)\s*%?\s*", re.IGNORECASE
)


class BatteryAsk(Ask):
    """A pack, what hangs on it, and how it is used."""

    pack_v: Volts = Field(description="nominal volts of the pack, in V", examples=["12.8 V"])
    capacity_ah: AmpereHours = Field(description="capacity in Ah, measured if it was", examples=["3 Ah"])
    load_w: Watts = Field(description="watts of the tape at full, in W", examples=["24.96 W"])
    idle_w: Watts = Field(0.0, description="watts of its decoder, always on, in W", examples=["1.2 W"])
    converter_pct: float = Field(
        100.0, gt=0.0, le=100.0, description="efficiency of a converter in between, in %", examples=[90.0]
    )
    profile: list[str] = Field(
        [],
        max_length=24,
        description="parts of the time with their level; at full all the time if not given",
        examples=[["40 % at 100 %"]],
    )
    dimming: Dimming = Field(Dimming.LINEAR, description="how a level becomes light", examples=["linear"])
    usable_pct: float | None = Field(
        None,
        gt=0.0,
        le=100.0,
        description="share that comes out before it switches off, in %",
        examples=[80.0],
    )
    reserve_pct: float = Field(
        100.0 * RESERVE_SHARE,
        ge=0.0,
        le=95.0,
        description="share of that kept in reserve, in %",
        examples=[30.0],
    )
    peukert: float | None = Field(
        None, ge=1.0, le=2.0, description="Peukert exponent; none: by energy", examples=[1.2]
    )
    rated_h: float = Field(
        RATED_H, gt=0.0, le=1000.0, description="hours its capacity is rated over", examples=[20.0]
    )
    air_degc: DegreesC = Field(COLD_FROM_DEGC, description="air it works in, in °C", examples=["25 °C"])
    show_min: float | None = Field(
        None, gt=0.0, le=10_000.0, description="minutes it must last, in min", examples=[150.0]
    )
    shows: int = Field(1, ge=1, le=4, description="shows on one day", examples=[2])
    gap_h: float = Field(0.0, ge=0.0, le=24.0, description="hours between two shows", examples=[3.0])
    charge_h: float | None = Field(None, gt=0.0, le=48.0, description="hours a charge takes", examples=[2.5])


def work(ask: BatteryAsk) -> Worked:
    """Hours to the reserve and to the end, and the packs that the shows of a day want."""
    pack, demand, profile = _pack(ask), _demand(ask), _profile(ask)
    safe_h, all_h = lasts_h(demand, pack, profile, reserve=True), lasts_h(demand, pack, profile)
    if safe_h is None or all_h is None:
        raise BadQuantity("nothing is drawn from the pack", "Give a load, an idle draw, or a level above 0.")
    figures = [
        figure("lasts_h", safe_h, "h"),
        figure("empty_h", all_h, "h"),
        figure("usable_wh", pack.usable_wh, "Wh"),
        figure("budget_wh", pack.budget_wh, "Wh"),
        figure("mean_w", sum(time * demand.pack_w(level) for time, level in profile), "W"),
    ]
    says = f"{_time(safe_h)} with the reserve kept, {_time(all_h)} until it switches off."
    is_within, ways = None, list[str]()
    if ask.show_min is not None:
        needed = _needed(ask, pack, safe_h)
        is_within = ask.show_min <= 60.0 * safe_h * (1.0 + 1e-9)
        figures += _of_a_day(needed)
        says += f" {ask.show_min:g} minutes want {_packs(needed.at_once)}; {_packs(needed.for_day)} a day."
        ways = [] if is_within else [f"swap packs in the dark, or carry {needed.at_once} side by side"]
    carried = transport(ask.pack_v, ask.capacity_ah)
    figures.append(figure("transport_wh", carried.wh, "Wh"))
    return Worked(
        calculator="battery",
        says=says,
        is_within=is_within,
        figures=figures,
        ways=ways,
        assumed=_assumed(ask, pack),
        formula=(
            "usable = V x Ah x usable share x share left in the cold; "
            "draw = (idle + load x duty) / converter; duty: level, or its square; "
            "with an exponent t = H (C / (I H))^k"
        ),
        source=(
            "energy balance; Peukert's law, an estimate for lead-acid at a steady current; cold 1 % a kelvin "
            "below 25 °C from memory; 49 CFR 175.10 for transport"
        ),
        caution=f"In transport: {carried.caution}. {beware(cautions.BATTERY)}",
    )


def _pack(ask: BatteryAsk) -> Pack:
    return Pack(
        ask.pack_v,
        ask.capacity_ah,
        USABLE_SHARE if ask.usable_pct is None else ask.usable_pct / 100.0,
        ask.peukert,
        ask.rated_h,
        ask.air_degc,
        ask.reserve_pct / 100.0,
    )


def _demand(ask: BatteryAsk) -> Demand:
    return Demand(ask.load_w, ask.idle_w, ask.converter_pct / 100.0, ask.dimming)


def _profile(ask: BatteryAsk) -> tuple[tuple[float, float], ...]:
    if not ask.profile:
        return ((1.0, 1.0),)
    parts = []
    for text in ask.profile:
        found = PART.fullmatch(text)
        if found is None:
            raise BadQuantity(
                f"{text!r} is not a part of the time and a level", "Write for example '40 % at 100 %'."
            )
        parts.append((float(found[1]) / 100.0, float(found[2]) / 100.0))
    return tuple(parts)


def _needed(ask: BatteryAsk, pack: Pack, safe_h: float) -> PacksNeeded:
    assert ask.show_min is not None
    used_wh = pack.budget_wh * ask.show_min / 60.0 / safe_h
    return packs_needed(used_wh, pack, ask.shows, ask.gap_h, ask.charge_h)


def _of_a_day(needed: PacksNeeded) -> list[Figure]:
    return [
        plain("packs_at_once", _packs(needed.at_once), needed.at_once),
        plain("packs_a_day", f"{_packs(needed.for_day)}: {needed.why}", needed.for_day),
    ]


def _packs(count: int) -> str:
    return f"{count} pack" if count == 1 else f"{count} packs"


def _time(hours: float) -> str:
    """Hours and whole minutes; never more than there are.

    >>> _time(1.9999)
    '1 h 59 min'
    """
    minutes = int(hours * 60.0 + 1e-9)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60} min"


def _assumed(ask: BatteryAsk, pack: Pack) -> list[Assumed]:
    if ask.usable_pct is not None:
        return []
    return [
        Assumed(
            what="share of the capacity that comes out before it switches off",
            taken=f"{100.0 * USABLE_SHARE:g} % (common practice)",
            effect=f"each part more or less is {show(pack.rated_wh / 100.0, 'Wh')}; try a full discharge",
        )
    ]
