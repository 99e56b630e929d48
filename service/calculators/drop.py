"""What drop: volts and light along a run of tape, worked out segment by segment."""

from collections.abc import Iterator
from math import isfinite

from pydantic import Field

from service.calculators.form import Assumed, Figure, Worked, beware, figure, plain
from service.calculators.tapes import (
    MOST_PITCHES,
    TapeAsk,
    assumed_rails,
    lead_not_given,
    rails_of,
    rails_times,
    shelf_like,
    unusual_volts,
    wire_named,
)
from service.electrical.advice.cases import Case, Limits
from service.electrical.advice.options import Option, options
from service.electrical.conductors import warming
from service.electrical.fuses import NoFuse, fuse_for
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
FED = {FeedStyle.ONE: FeedAt.START, FeedStyle.BOTH: FeedAt.BOTH, FeedStyle.MIDDLE: FeedAt.MIDDLE}
# A supply may be set up to a tenth above the tape's volts; common practice, the maker's sheet wins.
MOST_OF_NOMINAL = 1.1
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
    run = solve(_network(ask, _case(ask, rails)))[0]
    ends = {FeedAt.START: "at one end", FeedAt.END: "at the far end", FeedAt.BOTH: "at both ends"}
    where = ends.get(ask.fed, "in the middle" if ask.fed is FeedAt.MIDDLE else "at opposite ends")
    verdict = "within" if _keeps_volts(ask, run) else "more than"
    says = (
        f"{show(_length_m(ask), 'm')} fed {where} loses {_lost_v(run):.2f} V ({_lost_pct(run):.2f} %) "
        f"at {run.worst_at_m:.2f} m; {verdict} the {ask.limit_pct:g} % asked for."
    )
    wrong = list(_wrong(ask, run))
    assumed = _assumed(ask, run)
    if stands_in:
        assumed.append(assumed_rails(ask, *(_lost_text(ask, factor) for factor in (0.5, 2.0))))
    is_within = _keeps_volts(ask, run) and not wrong
    return Worked(
        calculator="drop",
        says=" ".join([says, *wrong]),
        is_within=is_within,
        figures=_figures(ask, run, rails),
        ways=[] if is_within else _ways(ask, rails, run),
        assumed=assumed,
        formula=(
            "every cut pitch is a load between its rails; Kirchhoff's laws along the run, solved until the "
            f"volts stand still; {DRAWS[ask.draw]}. Quick sum: R' i L²/2 fed at one end, R' i L²/8 from "
            "two sides"
        ),
        source="Ohm's and Kirchhoff's laws; IEC 60028 (copper), ASTM B258 (AWG), IEC 60228 (mm²)",
        caution=beware(cautions.FIRE, cautions.DATA),
    )


def _lost_v(run: Along) -> float:
    return run.supply_v - run.least_v


def _lost_pct(run: Along) -> float:
    return 100.0 * _lost_v(run) / run.nominal_v


def _keeps_volts(ask: DropAsk, run: Along) -> bool:
    return _lost_pct(run) <= ask.limit_pct * (1.0 + 1e-9)


def _wrong(ask: DropAsk, run: Along) -> Iterator[str]:
    """What is not as it should be, whatever the run itself loses."""
    if run.supply_v > MOST_OF_NOMINAL * ask.nominal_v:
        yield f"{run.supply_v:g} V on {ask.nominal_v:g} V tape: switch it off, it burns."
    short_pct = 100.0 * (ask.nominal_v - run.least_v) / ask.nominal_v
    if run.supply_v < ask.nominal_v and short_pct > ask.limit_pct * (1.0 + 1e-9):
        yield f"The supply gives less than {ask.nominal_v:g} V: the far end is {short_pct:.1f} % short."
    wire, lead_a = wire_named(ask.gauge), run.feed_a[0]
    if wire.limit_a is None:
        return
    if lead_a > wire.limit_a * (1.0 + 1e-9):
        yield f"Its lead carries {lead_a:.2f} A; {wire.text} takes {wire.limit_a:g} A."
    elif isinstance(fuse := fuse_for(lead_a, wire.limit_a), NoFuse):
        yield f"No fuse protects its lead: {fuse.why}."


def picture(ask: DropAsk) -> str:
    """The volts along the run as a drawing (SVG)."""
    rails, _ = rails_of(ask)
    run = solve(_network(ask, _case(ask, rails)))[0]
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


def _case(ask: DropAsk, rails: Rails) -> Case:
    """The run as it is asked for; what is fed from two corners counts as fed at one end."""
    return Case(
        rails,
        _pitches(ask),
        ask.pitch_m,
        STYLES.get(ask.fed, FeedStyle.ONE),
        wire_named(ask.gauge),
        ask.lead_m or 0.0,
        ask.conductor_degc,
    )


def _network(ask: DropAsk, case: Case) -> Network:
    """The case, drawn and switched as it is asked for: as it stands, or changed by an option."""
    rails, emitters = case.rails, len(case.rails.emitters_w_per_m)
    if any(not 1 <= number <= emitters for number in ask.lit):
        raise BadQuantity(
            f"emitters {', '.join(map(str, ask.lit))} of {emitters}",
            f"Name emitters from 1 to {emitters}, in pad order.",
        )
    lit = tuple(number + 1 in ask.lit or not ask.lit for number in range(emitters))
    if not any(on and watts > 0.0 for on, watts in zip(lit, rails.emitters_w_per_m, strict=True)):
        raise BadQuantity("nothing that is lit draws anything", "Light an emitter whose watts are above 0.")
    section = Section(
        pitches=case.pitches,
        pitch_m=case.pitch_m,
        nominal_v=rails.class_v,
        emitters_w_per_m=rails.emitters_w_per_m,
        common_ohm_per_m=rails.common_ohm_per_m,
        returns_ohm_per_m=rails.returns_ohm_per_m,
        draw=ask.draw,
        led_drop_v=_led_drop_v(ask, rails.class_v),
        lit=lit,
    )
    core_ohm = case.wire.ohm_per_m * warming(case.conductor_degc) * case.lead_m
    given_v = ask.nominal_v if ask.supply_v is None else ask.supply_v
    lead = Lead(core_ohm, core_ohm, ask.output_ohm)
    is_asked = case.style is STYLES.get(ask.fed, FeedStyle.ONE)
    chain = Chain((section,), ask.fed if is_asked else FED[case.style])
    return Network(given_v * rails.class_v / ask.nominal_v, (chain,), lead, case.conductor_degc)


def _led_drop_v(ask: DropAsk, class_v: float) -> float:
    """The drop of the LEDs in series, as many more where the tape is of a higher voltage."""
    if ask.draw is not Draw.LED:
        return 0.0
    if ask.led_drop_v is None:
        raise BadQuantity(
            "a load of LEDs and a resistor without the LEDs' drop",
            "Give led_drop_v, such as 18 V for six white LEDs in series, or another draw.",
        )
    supply_v = ask.nominal_v if ask.supply_v is None else ask.supply_v
    if supply_v <= ask.led_drop_v < ask.nominal_v:
        raise BadQuantity(
            f"a supply of {supply_v:g} V for LEDs that drop {ask.led_drop_v:g} V: none of them lights",
            f"Give a supply of more than {ask.led_drop_v:g} V.",
        )
    return ask.led_drop_v * class_v / ask.nominal_v


def _figures(ask: DropAsk, run: Along, rails: Rails) -> list[Figure]:
    figures = [
        figure("lost_v", _lost_v(run), "V", 3),
        figure("lost_pct", _lost_pct(run), "%", 2),
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
            ask.lead_m or 0.0,
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


def _ways(ask: DropAsk, rails: Rails, run: Along) -> list[str]:
    """What would do, each solved again as the run itself was: same draw, output, supply and emitters."""
    case = _case(ask, rails)
    found = options(case, Limits(ask.limit_pct / 100.0), shelf_like(ask.gauge))
    return [text for way in found if (text := _way(ask, way, run))]


def _way(ask: DropAsk, way: Option, run: Along) -> str:
    """The option with what it really leads to; blank where it does not do."""
    # What is not kept by the quick sum may be by the run as it is drawn, but amps and fuse are what they are.
    if {"lead amps", "fuse"} & {*way.breaks}:
        return ""
    try:
        after = solve(_network(ask, way.case))[0]
    except NoSteadyState:
        return ""
    changed = ask.model_copy(update={"gauge": way.case.wire.text, "nominal_v": way.case.rails.class_v})
    if ask.supply_v is not None:
        changed = changed.model_copy(update={"supply_v": after.supply_v})
    if not _keeps_volts(changed, after) or any(_wrong(changed, after)):
        return ""
    text = f"{way.what}: {_lost_v(after):.2f} V instead of {_lost_v(run):.2f} V"
    if way.case.rails.class_v != ask.nominal_v:
        text += f", {_lost_pct(after):.2f} % instead of {_lost_pct(run):.2f} %"
    return text


def _assumed(ask: DropAsk, run: Along) -> list[Assumed]:
    lead_v = (run.feed_a[0] + max(run.feed_a[1:])) * wire_named(ask.gauge).ohm_per_m
    found = unusual_volts(ask) + lead_not_given(ask, lead_v)
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
        run = solve(_network(ask, _case(ask, rails_times(ask, factor))))[0]
    except NoSteadyState:
        return "nothing is left"
    return f"{_lost_pct(run):.2f} %"
