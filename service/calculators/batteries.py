"""How long does it run on this pack, and how many packs does a day want?"""

import re
from math import ceil

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
    c_rate,
    transport,
)
from service.electrical.power.ranges import within
from service.electrical.power.running import PacksNeeded, lasts_h, packs_needed
from service.errors import BadQuantity
from service.limits import cautions
from service.units import (
    QUANTITY,
    AmpereHours,
    Amperes,
    DegreesC,
    Hours,
    Minutes,
    Percent,
    Volts,
    Watts,
    is_unit,
    show,
    to_si,
)

# Part of the time, or minutes, at a level: "40 % at 100 %", "70 min at 100 %".
PART = re.compile(r"\s*(?P<time>[^@]{1,24}?)\s*(?:at|@)\s*(?P<level>[^@]{1,16})", re.IGNORECASE)
WRITE_A_PART = "Write for example '40 % at 100 %' or '70 min at 100 %'."
LONGEST_PART_MIN = 10_000.0


APART = "each for its own part of the load: packs are never joined, side by side or in a row"


class BatteryAsk(Ask):
    """A pack, what hangs on it, and how it is used."""

    pack_v: Volts = Field(description="nominal volts of the pack, in V", examples=["12.8 V"])
    capacity_ah: AmpereHours = Field(description="capacity in Ah, measured if it was", examples=["3 Ah"])
    load_w: Watts = Field(description="watts of the tape at full, in W", examples=["24.96 W"])
    idle_w: Watts = Field(0.0, description="watts of its decoder, always on, in W", examples=["1.2 W"])
    converter_pct: Percent = Field(
        100.0, gt=0.0, le=100.0, description="efficiency of a converter in between, in %", examples=["90 %"]
    )
    profile: list[str] = Field(
        [],
        max_length=24,
        description="parts of the time, in % or minutes, with their level; at full all the time if not given",
        examples=[["40 % at 100 %"]],
    )
    dimming: Dimming = Field(Dimming.LINEAR, description="how a level becomes light", examples=["linear"])
    usable_pct: Percent | None = Field(
        None,
        gt=0.0,
        le=100.0,
        description="share that comes out before it switches off, in %",
        examples=["80 %"],
    )
    reserve_pct: Percent = Field(
        100.0 * RESERVE_SHARE,
        ge=0.0,
        le=95.0,
        description="share of that kept in reserve, in %",
        examples=["30 %"],
    )
    peukert: float | None = Field(
        None, ge=1.0, le=2.0, description="Peukert exponent; none: by energy", examples=[1.2]
    )
    rated_h: Hours = Field(
        RATED_H, gt=0.0, le=1000.0, description="hours its capacity is rated over", examples=["20 h"]
    )
    air_degc: DegreesC = Field(COLD_FROM_DEGC, description="air it works in, in °C", examples=["25 °C"])
    most_a: Amperes | None = Field(
        None, description="most amps the pack gives for long, by its sheet", examples=["9 A"]
    )
    show_min: Minutes | None = Field(
        None, gt=0.0, le=10_000.0, description="minutes it must last, in min", examples=["150 min"]
    )
    shows: int = Field(1, ge=1, le=4, description="shows on one day", examples=[2])
    gap_h: Hours = Field(0.0, ge=0.0, le=24.0, description="hours between two shows", examples=["3 h"])
    charge_h: Hours | None = Field(
        None, gt=0.0, le=48.0, description="hours a charge takes", examples=["2.5 h"]
    )


def work(ask: BatteryAsk) -> Worked:
    """Hours to the reserve and to the end, and the packs that the shows of a day want."""
    pack, demand, profile = _pack(ask), _demand(ask), _profile(ask)
    safe_h, all_h = lasts_h(demand, pack, profile, reserve=True), lasts_h(demand, pack, profile)
    if safe_h is None or all_h is None:
        raise BadQuantity("nothing is drawn from the pack", "Give a load, an idle draw, or a level above 0.")
    peak_a = _peak_a(ask, demand, profile)
    figures = [
        figure("lasts_h", safe_h, "h"),
        figure("empty_h", all_h, "h"),
        figure("usable_wh", pack.usable_wh, "Wh"),
        figure("budget_wh", pack.budget_wh, "Wh"),
        figure("mean_w", sum(time * demand.pack_w(level) for time, level in profile), "W"),
        figure("peak_a", peak_a, "A"),
        plain("c_rate", _c_rate(ask, peak_a), c_rate(ask.capacity_ah, peak_a)),
    ]
    says = f"{_time(safe_h)} with the reserve kept, {_time(all_h)} until it switches off."
    is_within, ways = None, list[str]()
    if ask.most_a is not None:
        is_within, ways = _by_its_amps(ask.most_a, peak_a)
        if not is_within:
            beyond = f"{peak_a:.2f} A are more than the {ask.most_a:g} A it gives"
            says = f"{beyond}: it switches off or gets hot. {says}"
    if ask.show_min is not None:
        needed = _needed(ask, pack, safe_h)
        does_last = ask.show_min <= 60.0 * safe_h * (1.0 + 1e-9)
        is_within = does_last and is_within is not False
        figures += _of_a_day(needed)
        says += f" {ask.show_min:g} minutes want {_packs(needed.at_once)}; {_packs(needed.for_day)} a day."
        if not does_last:
            ways.append(f"swap packs in the dark, or carry {_packs(needed.at_once)}, {APART}")
    carried = transport(ask.pack_v, ask.capacity_ah)
    figures.append(figure("transport_wh", carried.wh, "Wh"))
    return Worked(
        calculator="battery",
        says=says,
        is_within=is_within,
        figures=figures,
        ways=ways,
        assumed=_assumed(ask, pack, demand, peak_a),
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
    parts = [_part(text) for text in ask.profile]
    if len({unit for _, unit, _ in parts}) > 1:
        raise BadQuantity(
            "the profile has minutes in one part and shares in another", "Write all parts in the same way."
        )
    # Minutes count as shares of their sum; shares have to make 100 % as they stand.
    whole = sum(time for time, _, _ in parts) if parts[0][1] == "min" else 100.0
    return tuple((time / whole, level_pct / 100.0) for time, _, level_pct in parts)


def _part(text: str) -> tuple[float, str, float]:
    """Time, "min" or "%", and level in %, as in "70 min at 100 %"."""
    found = PART.fullmatch(text)
    time = QUANTITY.fullmatch(found["time"]) if found else None
    if found is None or time is None:
        raise BadQuantity(f"{text!r} is not a part of the time and a level", WRITE_A_PART)
    level_pct = to_si(found["level"], "%", bare="%")
    if time["unit"] is None or is_unit(time["unit"], "%"):
        return to_si(found["time"], "%", bare="%"), "%", level_pct
    minutes = to_si(found["time"], "min")
    return within("a part of the time", minutes, 0.01, LONGEST_PART_MIN, "min"), "min", level_pct


def _peak_a(ask: BatteryAsk, demand: Demand, profile: tuple[tuple[float, float], ...]) -> float:
    """Amps out of the pack while a pulse lasts: dimming makes it shorter, not smaller."""
    is_lit = any(time > 0.0 and level > 0.0 for time, level in profile)
    return demand.pack_w(1.0 if is_lit else 0.0) / ask.pack_v


def _c_rate(ask: BatteryAsk, peak_a: float) -> str:
    return f"{c_rate(ask.capacity_ah, peak_a):.3g} C: {peak_a:.3g} A out of {ask.capacity_ah:g} Ah"


def _by_its_amps(most_a: float, peak_a: float) -> tuple[bool, list[str]]:
    most = within("the most amps of the pack", most_a, 0.001, 10_000.0, "A")
    if peak_a <= most * (1.0 + 1e-6):
        return True, []
    return False, [f"divide the load over {_packs(ceil(peak_a / most - 1e-6))}, {APART}"]


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


def _assumed(ask: BatteryAsk, pack: Pack, demand: Demand, peak_a: float) -> list[Assumed]:
    told, found = ask.model_fields_set, []
    if ask.usable_pct is None:
        found.append(
            Assumed(
                what="share of the capacity that comes out before it switches off",
                taken=f"{100.0 * USABLE_SHARE:g} % (common practice)",
                effect=f"each part more or less is {show(pack.rated_wh / 100.0, 'Wh')}; try a full discharge",
            )
        )
    if ask.most_a is None:
        found.append(
            Assumed(
                what="most amps the pack gives",
                taken=f"none: it is asked for {_c_rate(ask, peak_a)}",
                effect="its sheet decides; asked for more, a pack switches off or gets hot",
            )
        )
    if "air_degc" not in told:
        found.append(
            Assumed(
                what="air the pack works in",
                taken=f"{ask.air_degc:g} °C",
                effect="each kelvin colder costs 1 % of its hours (from memory)",
            )
        )
    if not ask.profile:
        found.append(
            Assumed(
                what="how the tape is used",
                taken="at full all the time",
                effect=f"dark it takes {show(demand.pack_w(0.0), 'W')} instead of "
                f"{show(demand.pack_w(1.0), 'W')}",
            )
        )
    return found
