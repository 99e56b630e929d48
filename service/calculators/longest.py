"""What is the longest run: fed at one end, at both, in the middle."""

from dataclasses import replace

from pydantic import Field

from service.calculators.form import Assumed, Figure, Worked, beware, figure, plain
from service.calculators.tapes import (
    TapeAsk,
    assumed_rails,
    lead_not_given,
    rails_of,
    rails_times,
    unusual_volts,
    wire_named,
)
from service.electrical.advice.cases import Case, Limits
from service.electrical.advice.longest import longest_pitches
from service.electrical.tape import FeedStyle, Rails
from service.limits import cautions
from service.units import Metres, show

STYLES = {
    FeedStyle.ONE: "fed at one end",
    FeedStyle.BOTH: "fed at both ends",
    FeedStyle.MIDDLE: "fed in the middle",
}


class LongestAsk(TapeAsk):
    """Tape and lead; the run is what is looked for."""

    maker_m: Metres | None = Field(
        None, description="the maker's longest run from one end, in m", examples=["5 m"]
    )


def work(ask: LongestAsk) -> Worked:
    """Metres for each feed, and what ends them."""
    rails, stands_in = rails_of(ask)
    found = {style: longest_pitches(_case(ask, rails, style), _limits(ask)) for style in STYLES}
    parts = [f"{_metres_text(ask, found[style])} {words}" for style, words in STYLES.items()]
    longest = replace(_case(ask, rails, FeedStyle.ONE), lead_m=1.0).of(max(1, found[FeedStyle.ONE]))
    assumed = unusual_volts(ask) + lead_not_given(ask, longest.drop().lead_v)
    if ask.maker_m is None:
        assumed.append(
            Assumed(
                what="the maker's longest run",
                taken="none: volts, the lead's amps and its fuse were looked at",
                effect="a longer run than the maker allows overheats its rails; look at his sheet",
            )
        )
    if stands_in:
        half, twice = (
            _metres_text(
                ask, longest_pitches(_case(ask, rails_times(ask, factor), FeedStyle.ONE), _limits(ask))
            )
            for factor in (0.5, 2.0)
        )
        assumed.append(assumed_rails(ask, f"{half} from one end", f"{twice}"))
    return Worked(
        calculator="longest-run",
        says=f"Within {ask.limit_pct:g} %: {', '.join(parts)}.",
        is_within=None,
        figures=[_figure(ask, style, pitches) for style, pitches in found.items()],
        ways=[],
        assumed=assumed,
        formula=(
            "a l² + b l = volts that may be lost, a: the tape's R' i / 2 (a quarter of it from two sides), "
            "b: the lead's; then the amps of the lead's core, the fuse it takes, the maker's longest run, "
            "and whole cut pitches"
        ),
        source="elementary theory of an evenly loaded line; Ohm's law; IEC 60028, ASTM B258, IEC 60228",
        caution=beware(cautions.FIRE, cautions.DATA),
    )


def _case(ask: LongestAsk, rails: Rails, style: FeedStyle) -> Case:
    lead_m = ask.lead_m or 0.0
    return Case(rails, 1, ask.pitch_m, style, wire_named(ask.gauge), lead_m, ask.conductor_degc)


def _limits(ask: LongestAsk) -> Limits:
    return Limits(ask.limit_pct / 100.0, run_m=ask.maker_m)


def _metres_text(ask: LongestAsk, pitches: int) -> str:
    return show(pitches * ask.pitch_m, "m") if pitches else "no run at all"


def _figure(ask: LongestAsk, style: FeedStyle, pitches: int) -> Figure:
    if not pitches:
        return plain(f"{style}_m", "not one cut pitch", 0.0)
    return figure(f"{style}_m", pitches * ask.pitch_m, "m")
