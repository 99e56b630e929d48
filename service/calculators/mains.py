"""What does this supply take from the wall, and how many does a circuit carry?"""

from pydantic import Field

from service.calculators.form import Ask, Assumed, Figure, Worked, beware, figure, plain
from service.electrical.power.mains import (
    Curve,
    Draw,
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
from service.units import Amperes, Volts, Watts


class MainsAsk(Ask):
    """Supplies of one kind on one circuit."""

    given_w: Watts = Field(description="watts that one supply gives, in W", examples=["384 W"])
    supplies: int = Field(1, ge=1, le=1000, description="supplies of this kind on the circuit", examples=[4])
    mains_v: Volts = Field(120.0, description="mains in V", examples=["120 V"])
    efficiency_pct: float | None = Field(
        None, gt=0.0, le=100.0, description="efficiency of the supply, in %", examples=[88.0]
    )
    power_factor: float | None = Field(None, gt=0.0, le=1.0, description="its power factor", examples=[0.95])
    inrush_a: Amperes | None = Field(
        None, description="its inrush in A, from a cold start", examples=["60 A"]
    )
    breaker_a: Amperes = Field(20.0, description="breaker of the circuit in A", examples=["20 A"])
    curve: Curve | None = Field(None, description="the breaker's curve, by IEC 60898-1", examples=["C"])
    load_factor_pct: float = Field(
        80.0, gt=0.0, le=100.0, description="share of the breaker loaded for hours, in %", examples=[80.0]
    )


def work(ask: MainsAsk) -> Worked:
    """Amps of one and of all, how many a circuit carries, and what switching them on does."""
    one = draw(ask.given_w, ask.mains_v, _share(ask.efficiency_pct), ask.power_factor)
    allowed_a = limit_a(ask.breaker_a, ask.load_factor_pct / 100.0)
    most = per_circuit(one.current_a, ask.breaker_a, ask.load_factor_pct / 100.0)
    total_a = ask.supplies * one.current_a
    together = inrush([ask.inrush_a] * ask.supplies, ask.breaker_a, ask.curve)
    is_within = total_a <= allowed_a * (1.0 + 1e-9)
    says = (
        f"{ask.supplies} of them take {total_a:.2f} A of {allowed_a:g} A; a circuit carries {most}. "
        f"Start them in {together.steps} group{'' if together.steps == 1 else 's'}."
    )
    return Worked(
        calculator="mains",
        says=says,
        is_within=is_within,
        figures=[
            figure("each_a", one.current_a, "A", 3),
            figure("total_a", total_a, "A", 3),
            figure("limit_a", allowed_a, "A"),
            plain("per_circuit", f"{most}", most),
            figure("each_input_w", one.input_w, "W", 1),
            figure("each_va", one.apparent_va, "VA", 1),
            figure("each_heat_w", one.heat_w, "W", 1),
            *_breaker(total_a),
            *_surge(ask),
            figure("mains_peak_v", peak_v(ask.mains_v), "V", 1),
        ],
        ways=[] if is_within else [f"plug {ask.supplies - most} of them in on another circuit"],
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


def _breaker(total_a: float) -> list[Figure]:
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
    if ask.inrush_a is None:
        found.append(
            Assumed(
                what="inrush of the supply",
                taken="none: groups are counted as common practice does, four on 20 A",
                effect="a cold supply may surge 60 A and more; its sheet, and the breaker maker's count, win",
            )
        )
    return found
