"""What drop: volts and light along a run of tape, worked out segment by segment."""

from math import isfinite

from pydantic import Field

from service.calculators.form import Assumed, Figure, Worked, beware, figure, plain
from service.calculators.tapes import (
    MOST_PITCHES,
    TapeAsk,
    assumed_rails,
    rails_of,
    rails_times,
    shelf_like,
    wire_named,
)
from service.electrical.advice.cases import Case, Limits
from service.electrical.advice.options import options
from service.electrical.conductors import warming
from service.electrical.tape import FeedStyle, Rails, cut_pitches, quick_drop
from service.errors import BadQuantity, NoSteadyState
from service.ladder.networks import Chain, Draw, FeedAt, Lead, Network, Section
from service.ladder.picture import Limit, volts_along
from service.ladder.solving import Along, solve
from service.limits import cautions
from service.units import Metres, Ohms, Volts, show

STYLES = {
    FeedAt.START: FeedStyle.ONE,
    FeedAt.END: FeedStyle.ONE,
    FeedAt.BOTH: FeedStyle.BOTH,
    FeedAt.MIDDLE: FeedStyle.MIDDLE,
}
DRAWS = {
    Draw.CURRENT: "each load holds its nominal current",
    Draw.POWER: "each load holds its nominal watts",
    Draw.RESISTOR: "each load is a resistor",
    Draw.LED: "each load is a fixed drop and a resistor",
}


class DropAsk(TapeAsk):
    """A run of tape, where its lead joins it, and how it draws."""

    length_m: Metres = Field(description="length of the run in m", examples=["5 m"])
    fed: FeedAt = Field(FeedAt.START, description="where the lead joins the run", examples=["start"])
    supply_v: Volts | None = Field(
        None, description="volts at the supply; the nominal ones if not given", examples=["24 V"]
    )
    draw: Draw = Field(Draw.CURRENT, description="how the current follows the volts", examples=["current"])
    led_drop_v: Volts | None = Field(
        None, description="volts that the LEDs of a segment drop, for draw=led", examples=["18 V"]
    )
    lit: list[int] = Field(
        [],
        description="which emitters are on, counted from 1; all if not given",
        examples=[[1]],
        max_length=6,
    )
    output_ohm: Ohms = Field(
        0.0, description="resistance of the decoder's channel, switched on, in Ω", examples=["15 mΩ"]
    )


def work(ask: DropAsk) -> Worked:
    """The run as it settles, and what would help if it loses too much.

    Raises: BadQuantity; NoSteadyState where no volts satisfy the run.
    """
    rails, stands_in = rails_of(ask)
    run = solve(_network(ask, rails))[0]
    lost_v = run.supply_v - run.least_v
    lost_pct = 100.0 * lost_v / ask.nominal_v
    wire = wire_named(ask.gauge)
    is_too_thin = ask.lead_m > 0.0 and wire.limit_a is not None and run.feed_a[0] > wire.limit_a
    keeps_volts = lost_pct <= ask.limit_pct * (1.0 + 1e-9)
    ends = {FeedAt.START: "at one end", FeedAt.END: "at the far end", FeedAt.BOTH: "at both ends"}
    where = ends.get(ask.fed, "in the middle" if ask.fed is FeedAt.MIDDLE else "at opposite ends")
    says = (
        f"{show(_length_m(ask), 'm')} fed {where} loses {lost_v:.2f} V ({lost_pct:.2f} %) at "
        f"{run.worst_at_m:.2f} m; {'within' if keeps_volts else 'more than'} the {ask.limit_pct:g} % "
        "asked for."
    )
    if is_too_thin:
        says += f" Its lead carries {run.feed_a[0]:.2f} A; {wire.text} takes {wire.limit_a:g} A."
    is_within = keeps_volts and not is_too_thin
    assumed = _assumed(ask)
    if stands_in:
        assumed.append(assumed_rails(ask, *(_lost_text(ask, factor) for factor in (0.5, 2.0))))
    return Worked(
        calculator="drop",
        says=says,
        is_within=is_within,
        figures=_figures(ask, run, rails),
        ways=[] if is_within else _ways(ask, rails),
        assumed=assumed,
        formula=(
            "every cut pitch is a load between its rails; Kirchhoff's laws along the run, solved until the "
            f"volts stand still; {DRAWS[ask.draw]}. Quick sum: R' i L²/2 fed at one end, R' i L²/8 from "
            "two sides"
        ),
        source="Ohm's and Kirchhoff's laws; IEC 60028 (copper), ASTM B258 (AWG), IEC 60228 (mm²)",
        caution=beware(cautions.FIRE, cautions.DATA),
    )


def picture(ask: DropAsk) -> str:
    """The volts along the run as a drawing (SVG)."""
    rails, _ = rails_of(ask)
    run = solve(_network(ask, rails))[0]
    allowed = Limit(run.supply_v - ask.limit_pct / 100.0 * ask.nominal_v, f"{ask.limit_pct:g} % lost")
    return volts_along(run, f"Volts along {show(_length_m(ask), 'm')} of tape", limits=[allowed])


def _pitches(ask: DropAsk) -> int:
    if not (ask.pitch_m > 0.0 and isfinite(ask.pitch_m)):
        raise BadQuantity(f"a cut pitch of {ask.pitch_m:g} m", "Give it as more than 0 m, such as 50 mm.")
    pitches = cut_pitches(round(max(ask.length_m, 0.0) * 1e6), max(1, round(ask.pitch_m * 1e6)))
    if not 1 <= pitches <= MOST_PITCHES:
        raise BadQuantity(
            f"{ask.length_m:g} m is {pitches} cut pitches of {ask.pitch_m:g} m",
            f"Give a run of 1 to {MOST_PITCHES} cut pitches.",
        )
    return pitches


def _length_m(ask: DropAsk) -> float:
    return _pitches(ask) * ask.pitch_m


def _network(ask: DropAsk, rails: Rails) -> Network:
    emitters = len(rails.emitters_w_per_m)
    if any(not 1 <= number <= emitters for number in ask.lit):
        raise BadQuantity(
            f"emitters {', '.join(map(str, ask.lit))} of {emitters}",
            f"Name emitters from 1 to {emitters}, in pad order.",
        )
    if ask.draw is Draw.LED and ask.led_drop_v is None:
        raise BadQuantity(
            "a load of LEDs and a resistor without the LEDs' drop",
            "Give led_drop_v, such as 18 V for six white LEDs in series, or another draw.",
        )
    section = Section(
        pitches=_pitches(ask),
        pitch_m=ask.pitch_m,
        nominal_v=ask.nominal_v,
        emitters_w_per_m=rails.emitters_w_per_m,
        common_ohm_per_m=rails.common_ohm_per_m,
        returns_ohm_per_m=rails.returns_ohm_per_m,
        draw=ask.draw,
        led_drop_v=ask.led_drop_v or 0.0,
        lit=tuple(number + 1 in ask.lit for number in range(emitters)) if ask.lit else (),
    )
    if ask.lead_m < 0.0:
        raise BadQuantity(f"a lead {ask.lead_m:g} m long", "Give a length of 0 m or more, one way.")
    core_ohm = wire_named(ask.gauge).ohm_per_m * warming(ask.conductor_degc) * ask.lead_m
    supply_v = ask.nominal_v if ask.supply_v is None else ask.supply_v
    lead = Lead(core_ohm, core_ohm, ask.output_ohm)
    return Network(supply_v, (Chain((section,), ask.fed),), lead, ask.conductor_degc)


def _figures(ask: DropAsk, run: Along, rails: Rails) -> list[Figure]:
    lost_v = run.supply_v - run.least_v
    figures = [
        figure("lost_v", lost_v, "V", 3),
        figure("lost_pct", 100.0 * lost_v / ask.nominal_v, "%", 2),
        figure("limit_pct", ask.limit_pct, "%"),
        figure("least_v", run.least_v, "V", 3),
        figure("worst_at_m", run.worst_at_m, "m"),
        plain("falls_first", f"emitter {run.first_to_fall + 1}", run.first_to_fall + 1),
        figure("least_light_pct", 100.0 * run.least_light, "%", 1),
        figure("supply_a", run.total_a, "A", 3),
        figure("lead_common_a", run.feed_a[0], "A", 3),
        _wire_limit(ask),
        figure("tape_w", sum(ask.emitter_w_per_m) * _length_m(ask), "W"),
    ]
    if ask.fed in STYLES:
        quick = quick_drop(
            rails,
            _length_m(ask),
            STYLES[ask.fed],
            wire_named(ask.gauge).ohm_per_m,
            ask.lead_m,
            ask.conductor_degc,
        )
        figures.append(figure("quick_lead_pct", quick.lead_pct, "%", 2))
        figures.append(figure("quick_total_pct", quick.total_pct, "%", 2))
    return figures


def _wire_limit(ask: DropAsk) -> Figure:
    limit_a = wire_named(ask.gauge).limit_a
    if limit_a is None:
        return plain("lead_limit_a", f"no shop figure for {ask.gauge}")
    return figure("lead_limit_a", limit_a, "A")


def _ways(ask: DropAsk, rails: Rails) -> list[str]:
    style = STYLES.get(ask.fed, FeedStyle.ONE)
    case = Case(
        rails,
        _pitches(ask),
        ask.pitch_m,
        style,
        wire_named(ask.gauge),
        ask.lead_m,
        ask.conductor_degc,
    )
    found = options(case, Limits(ask.limit_pct / 100.0), shelf_like(ask.gauge))
    return [way.text for way in found if not way.breaks]


def _assumed(ask: DropAsk) -> list[Assumed]:
    found = []
    length_m = _length_m(ask)
    if abs(length_m - ask.length_m) > 1e-6:
        found.append(
            Assumed(
                what="a length on the cut marks",
                taken=(
                    f"{show(length_m, 'm')}: whole pitches of {show(ask.pitch_m, 'm')}, not longer than drawn"
                ),
                effect=f"{show(ask.length_m - length_m, 'm')} less tape than was asked for",
            )
        )
    return found


def _lost_text(ask: DropAsk, factor: float) -> str:
    try:
        run = solve(_network(ask, rails_times(ask, factor)))[0]
    except NoSteadyState:
        return "nothing is left"
    return f"{100.0 * (run.supply_v - run.least_v) / ask.nominal_v:.2f} %"
