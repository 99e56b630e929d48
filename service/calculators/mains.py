"""What does this supply take from the wall, and how many does a circuit carry?"""

from pydantic import Field

from service.calculators.form import Ask, Assumed, Figure, Worked, beware, figure, plain
from service.electrical.power.mains import (
    TRIPS_AT,
    Curve,
    Draw,
    Surge,
    branch_a,
    breaker_for_a,
    draw,
    inrush,
    limit_a,
    peak_v,
    per_circuit,
    surge,
    trip_band_a,
)
from service.limits import cautions
from service.units import Amperes, Percent, Volts, Watts

# Above it the mains are not those whose breakers come in the sizes of NFPA 70. Common practice.
US_MAINS_V = 150.0


class MainsAsk(Ask):
    """Supplies of one kind on one circuit."""

    given_w: Watts = Field(description="watts that one supply gives, in W", examples=["384 W"])
    supplies: int = Field(1, ge=1, le=1000, description="supplies of this kind on the circuit", examples=[4])
    mains_v: Volts = Field(120.0, description="mains in V", examples=["120 V"])
    efficiency_pct: Percent | None = Field(
        None, gt=0.0, le=100.0, description="efficiency of the supply, in %", examples=["88 %"]
    )
    power_factor: float | None = Field(None, gt=0.0, le=1.0, description="its power factor", examples=[0.95])
    inrush_a: Amperes | None = Field(
        None, description="its inrush in A, from a cold start", examples=["60 A"]
    )
    breaker_a: Amperes = Field(20.0, description="breaker of the circuit in A", examples=["20 A"])
    curve: Curve | None = Field(None, description="the breaker's curve, by IEC 60898-1", examples=["C"])
    load_factor_pct: Percent = Field(
        80.0, gt=0.0, le=100.0, description="share of the breaker loaded for hours, in %", examples=["80 %"]
    )


def work(ask: MainsAsk) -> Worked:
    """Amps of one and of all, how many a circuit carries, and what switching them on does."""
    one = draw(ask.given_w, ask.mains_v, _share(ask.efficiency_pct), ask.power_factor)
    allowed_a = limit_a(ask.breaker_a, ask.load_factor_pct / 100.0)
    most = per_circuit(one.current_a, ask.breaker_a, ask.load_factor_pct / 100.0)
    total_a = ask.supplies * one.current_a
    is_carried = total_a <= allowed_a * (1.0 + 1e-9)
    alone = _alone(ask)
    fits = f"a circuit carries {most}" if most else "not even one is within it"
    says = f"{_them(ask.supplies)} {total_a:.2f} A of {allowed_a:g} A; {fits}. {_start(ask, alone)}"
    return Worked(
        calculator="mains",
        says=says,
        is_within=_is_within(is_carried, alone),
        figures=[
            figure("each_a", one.current_a, "A", 3),
            figure("total_a", total_a, "A", 3),
            figure("limit_a", allowed_a, "A"),
            plain("per_circuit", f"{most}", most),
            figure("each_input_w", one.input_w, "W", 1),
            figure("each_va", one.apparent_va, "VA", 1),
            figure("each_heat_w", one.heat_w, "W", 1),
            *_breaker(ask, total_a),
            *_surge(ask),
            figure("mains_peak_v", peak_v(ask.mains_v), "V", 1),
        ],
        ways=[*([] if is_carried else _lighter(ask, one, most)), *_steadier(ask, alone)],
        assumed=_assumed(ask, one),
        formula=(
            "I = P / (V x efficiency x power factor); breaker >= 1.25 x amps for hours; groups by the curve"
        ),
        source=(
            "single-phase power; NFPA 70 (2017) 210.20(A), 240.6(A), elsewhere the share is house policy; "
            "IEC 60898-1 for trip bands"
        ),
        caution=beware(cautions.MAINS),
    )


def _share(percent: float | None) -> float | None:
    return None if percent is None else percent / 100.0


def _them(supplies: int) -> str:
    return "It takes" if supplies == 1 else f"{supplies} of them take"


def _is_within(is_carried: bool, alone: Surge | None) -> bool | None:
    """None where the amps are carried and one alone may trip the breaker: neither can be said."""
    if not is_carried or alone is Surge.TRIPS:
        return False
    return None if alone is Surge.MAY_TRIP else True


def _alone(ask: MainsAsk) -> Surge | None:
    """What switching on one by itself does; None where that cannot be told."""
    if ask.inrush_a is None or ask.curve is None:
        return None
    return surge(ask.inrush_a, ask.breaker_a, ask.curve)


def _start(ask: MainsAsk, alone: Surge | None) -> str:
    """How to switch them on. What surges beyond the breaker alone is helped by no grouping."""
    if ask.curve is not None and alone is not None and alone is not Surge.HOLDS:
        low_a, high_a = trip_band_a(ask.breaker_a, ask.curve)
        against = f"{low_a:g} to {high_a:g} A at which a {ask.breaker_a:g} A curve {ask.curve} breaker trips"
        return (
            f"One alone {alone}: {ask.inrush_a:g} A against {against}; starting them in groups does not help."
        )
    if ask.supplies == 1:
        return (
            "The breaker holds its inrush."
            if alone
            else "Whether the breaker holds it at first is not known."
        )
    steps = inrush([ask.inrush_a] * ask.supplies, ask.breaker_a, ask.curve).steps
    if steps == 1:
        return "They may start together."
    return f"Start them in {steps} groups."


def _lighter(ask: MainsAsk, one: Draw, most: int) -> list[str]:
    """What brings the amps of a circuit within its limit."""
    if most:
        others = -(-ask.supplies // most) - 1
        where = "another circuit" if others == 1 else f"{others} other circuits, at most {most} on each"
        return [f"plug {ask.supplies - most} of them in on {where}"]
    breaker_a = one.current_a / (ask.load_factor_pct / 100.0)
    ways = [f"a bigger circuit: one takes {one.current_a:.2f} A, for a breaker of {breaker_a:.1f} A or more"]
    if one.assumed:
        ways.append("look up its efficiency and power factor: the worst of what is usual was taken")
    return [*ways, "several smaller supplies, on several circuits"]


def _steadier(ask: MainsAsk, alone: Surge | None) -> list[str]:
    """What lets one be switched on, where one alone surges beyond what the breaker certainly holds."""
    if ask.inrush_a is None or alone in (None, Surge.HOLDS):
        return []
    needed = [f"curve {curve} of {ask.inrush_a / low:.3g} A or more" for curve, (low, _) in TRIPS_AT.items()]
    return [
        f"a breaker that holds {ask.inrush_a:g} A ({', or '.join(needed)}), on a wire that is made for it",
        "a supply with less inrush, or a limiter of inrush that its maker allows",
    ]


def _breaker(ask: MainsAsk, total_a: float) -> list[Figure]:
    if ask.curve is not None or ask.mains_v > US_MAINS_V:
        return []
    needed_a = branch_a(total_a)
    if needed_a > 100.0:
        return [plain("breaker_a", "more than 100 A: divide them", None)]
    return [figure("breaker_a", breaker_for_a(needed_a), "A")]


def _surge(ask: MainsAsk) -> list[Figure]:
    if ask.inrush_a is None:
        return [plain("inrush_a", "not known")]
    total_a = ask.inrush_a * ask.supplies
    figures = [figure("inrush_a", total_a, "A")]
    if ask.curve is not None:
        low_a, high_a = trip_band_a(ask.breaker_a, ask.curve)
        said = surge(total_a, ask.breaker_a, ask.curve)
        figures.append(plain("switched_on_together", f"{said} ({low_a:g} to {high_a:g} A)"))
    return figures


def _assumed(ask: MainsAsk, one: Draw) -> list[Assumed]:
    found = [
        Assumed(
            what=each.figure,
            taken=f"{each.taken:g}, the worst of what is usual ({each.source})",
            effect=f"at {each.best:g} one takes {each.at_best:.3g} A instead of {each.at_worst:.3g} A",
        )
        for each in one.assumed
    ]
    return [*found, *_assumed_start(ask), *_assumed_circuit(ask, one)]


def _assumed_start(ask: MainsAsk) -> list[Assumed]:
    if ask.inrush_a is None:
        return [
            Assumed(
                what="inrush of the supply",
                taken="none: each starts by itself"
                if ask.curve
                else "none: groups are counted as common practice does, four on 20 A",
                effect="a cold supply may surge 60 A and more; its sheet, and the breaker maker's count, win",
            )
        ]
    if ask.curve is None:
        holds = ", ".join(f"{curve} {trip_band_a(ask.breaker_a, curve)[0]:g} A" for curve in TRIPS_AT)
        return [
            Assumed(
                what="the breaker's curve",
                taken="none: groups are counted as common practice does, four on 20 A",
                effect=f"a breaker of {ask.breaker_a:g} A certainly holds, by its curve, {holds}",
            )
        ]
    return []


def _assumed_circuit(ask: MainsAsk, one: Draw) -> list[Assumed]:
    found = []
    if "mains_v" not in ask.model_fields_set:
        at_230_v_a = one.current_a * ask.mains_v / 230.0
        found.append(
            Assumed(
                what="the mains",
                taken=f"{ask.mains_v:g} V",
                effect=f"at 230 V one takes {at_230_v_a:.3g} A instead of {one.current_a:.3g} A",
            )
        )
    if "breaker_a" not in ask.model_fields_set:
        found.append(
            Assumed(
                what="the breaker",
                taken=f"{ask.breaker_a:g} A",
                effect=f"each ampere less takes {ask.load_factor_pct / 100.0:g} A off the limit",
            )
        )
    return found
