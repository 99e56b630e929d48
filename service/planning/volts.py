"""Volts along the runs of an element as they stand: every cut pitch, from its supply to its far end."""

from dataclasses import dataclass
from datetime import date

from pydantic import BaseModel, Field
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.electrical.conductors import warming
from service.electrical.tape import FeedStyle
from service.errors import NoSteadyState, NotFound
from service.ladder.networks import Chain, Draw, FeedAt, Lead, Network, Section
from service.ladder.picture import METRES, Limit, Ruler, volts_along
from service.ladder.solving import Along, solve
from service.limits.facts import ElementFacts, RunFacts, SupplyFacts, TapeFacts
from service.limits.lookup import Lookup, lead_ohm_per_m, rails_of
from service.limits.policy import Policy
from service.planning.snapshot.house import read_policy
from service.planning.snapshot.season import season_facts
from service.season.records import Production
from service.shows.records import Element
from service.store.base import tag_key

FED = {FeedStyle.ONE: FeedAt.START, FeedStyle.BOTH: FeedAt.BOTH, FeedStyle.MIDDLE: FeedAt.MIDDLE}
NOT_COUNTED = "the drop of the decoder, of connectors and of joints, which nobody entered"


class RunVoltsOut(BaseModel):
    """One run, all its emitters at full. The true run lies between the two ways of drawing."""

    run: str = Field(description="element and number of the run", examples=["SQ-21/1"])
    tape: str = Field(description="tag of the tape", examples=["RGBW24"])
    length_m: float = Field(description="metres of tape", examples=[8.0])
    fed: str = Field(description="one: at one end; both: at both ends; middle", examples=["one"])
    supply_v: float | None = Field(default=None, description="volts that its supply gives", examples=[24.0])
    least_v: float | None = Field(
        default=None, description="volts at the worst load, if loads hold their current", examples=[21.03]
    )
    least_resistor_v: float | None = Field(
        default=None, description="the same volts if loads are resistors, which draw less", examples=[21.48]
    )
    lost_pct: float | None = Field(
        default=None, description="volts lost there, in % of the nominal", examples=[12.38]
    )
    worst_at_m: float | None = Field(
        default=None, description="where that is, in m from the start", examples=[7.95]
    )
    falls_first: str = Field(default="", description="the emitter that has the fewest volts", examples=["R"])
    least_light_pct: float | None = Field(
        default=None,
        description="light there in % of full, if loads are resistors; strings of LEDs lose far more: a 12 V "
        "tape of 9 V strings is at 73.9 % with 6.5 % lost (published)",
        examples=[89.5],
    )
    lead_a: float | None = Field(default=None, description="amps in the common of each lead", examples=[6.4])
    unknown: str = Field(
        default="", description="what is missing, where nothing could be worked out", examples=[""]
    )
    assumed: str = Field(
        default="",
        description="what was taken where the plan says nothing",
        examples=["no feed yet: a supply of 24 V was taken"],
    )
    not_counted: str = Field(
        default=NOT_COUNTED,
        description="what is left out, so that the truth is lower",
        examples=[NOT_COUNTED],
    )


@dataclass(frozen=True, slots=True)
class _Found:
    element: ElementFacts
    supplies: dict[str, SupplyFacts]
    policy: Policy


def volts_of(session: Session, tag: str, day: date) -> list[RunVoltsOut]:
    """Every run of the element on that day.

    Raises: NotFound.
    """
    found = _found(session, tag, day)
    return [_out(found, run) for run in found.element.runs]


def picture_of(session: Session, tag: str, number: int, day: date) -> str:
    """The volts along one run as a drawing (SVG).

    Raises: NotFound, where there is no such run or a figure is missing; NoSteadyState.
    """
    return _drawn(_found(session, tag, day), number)


def picture_in(around: Lookup, tag: str, number: int, ruler: Ruler = METRES) -> str:
    """The same of an element of a show that was read already, its lengths as `ruler` says."""
    return _drawn(_Found(around.elements[tag], around.supplies, around.policy), number, ruler)


def _drawn(found: _Found, number: int, ruler: Ruler = METRES) -> str:
    run = next((run for run in found.element.runs if run.number == number), None)
    if run is None:
        raise NotFound(f"{found.element.tag} has no run {number}", f"It has {len(found.element.runs)} runs.")
    tape, missing = found.element.tape, _missing(found.element, run)
    if tape is not None and (wrong := _wrong_class(found, run, tape)):
        raise NotFound(
            f"the volts along {run.tag} cannot be worked out: {wrong}",
            f"Feed it from a {tape.class_v:g} V supply.",
        )
    if tape is None or missing:
        raise NotFound(f"the volts along {run.tag} cannot be worked out", f"Enter {missing}.")
    along = _solved(found, run, tape, Draw.CURRENT)
    limit_pct = 100.0 * found.policy.drop_over
    limit = Limit(along.supply_v - found.policy.drop_over * tape.class_v, f"{limit_pct:g} % lost")
    names = [emitter.name for emitter in tape.emitters]
    return volts_along(along, f"Volts along {run.tag}, {found.element.name}", names, [limit], ruler)


def _found(session: Session, tag: str, day: date) -> _Found:
    code = session.scalars(
        select(Production.tag)
        .join(Element, Element.production_id == Production.id)
        .where(Element.tag_key == tag_key(tag), Element.retired_on.is_(None))
    ).one_or_none()
    shows = [] if code is None else season_facts(session, day, code)
    for show in shows:
        for element in show.elements:
            if tag_key(element.tag) == tag_key(tag):
                supplies = {supply.tag: supply for supply in show.supplies}
                return _Found(element, supplies, read_policy(session))
    raise NotFound(f"there is no element {tag}", "List the elements to see their tags.")


def _wrong_class(found: _Found, run: RunFacts, tape: TapeFacts) -> str:
    """What is fed with volts it is not made for; blank where that is in order.

    How such tape draws is nowhere on its sheet: any figure would be made up.
    """
    supply = _supply(found, run)
    if supply is None or abs(supply.class_v - tape.class_v) < 1e-6:
        return ""
    return f"{tape.class_v:g} V tape on {supply.tag}, a {supply.class_v:g} V {supply.kind}"


def _supply(found: _Found, run: RunFacts) -> SupplyFacts | None:
    return found.supplies.get(run.feed.supply) if run.feed else None


def _assumed(found: _Found, run: RunFacts, tape: TapeFacts) -> str:
    """What volts were taken where the plan does not say them."""
    if _supply(found, run) is not None:
        return ""
    why = f"the volts of {run.feed.supply} are not known" if run.feed else "no feed yet"
    return f"{why}: a supply of {tape.class_v:g} V was taken"


def _missing(element: ElementFacts, run: RunFacts) -> str:
    """What has to be entered first; blank where everything is there."""
    tape = element.tape
    if tape is None:
        return "its tape"
    if not run.pieces or round(run.length_m / tape.pitch_m) < 1:
        return "its pieces"
    if tape.common_ohm_per_m is None or any(e.return_ohm_per_m is None for e in tape.emitters):
        return f"the resistance of {tape.tag}'s rails"
    if run.lead.length_m is None:
        return "how long its lead is"
    return "" if lead_ohm_per_m(run.lead) is not None else "the wire of its lead"


def _out(found: _Found, run: RunFacts) -> RunVoltsOut:
    tape = found.element.tape
    told = RunVoltsOut(
        run=run.tag, tape=tape.tag if tape else "", length_m=round(run.length_m, 6), fed=run.feed_style
    )
    wrong = _wrong_class(found, run, tape) if tape else ""
    missing = wrong or _missing(found.element, run)
    if tape is None or missing:
        return told.model_copy(update={"unknown": missing})
    try:
        held = _solved(found, run, tape, Draw.CURRENT)
        less = _solved(found, run, tape, Draw.RESISTOR)
    except NoSteadyState as refused:
        return told.model_copy(update={"unknown": refused.message})
    return told.model_copy(
        update={
            "supply_v": held.supply_v,
            "least_v": round(held.least_v, 4),
            "least_resistor_v": round(less.least_v, 4),
            "lost_pct": round(100.0 * (held.supply_v - held.least_v) / tape.class_v, 3),
            "worst_at_m": round(held.worst_at_m, 4),
            "falls_first": tape.emitters[held.first_to_fall].name,
            "least_light_pct": round(100.0 * less.least_light, 2),
            "lead_a": round(held.feed_a[0], 4),
            "assumed": _assumed(found, run, tape),
        }
    )


def _solved(found: _Found, run: RunFacts, tape: TapeFacts, draw: Draw) -> Along:
    rails = rails_of(tape)
    section = Section(
        pitches=round(run.length_m / tape.pitch_m),
        pitch_m=tape.pitch_m,
        nominal_v=tape.class_v,
        emitters_w_per_m=rails.emitters_w_per_m,
        common_ohm_per_m=rails.common_ohm_per_m,
        returns_ohm_per_m=rails.returns_ohm_per_m,
        draw=draw,
    )
    degc = found.policy.conductor_degc
    core_ohm = (lead_ohm_per_m(run.lead) or 0.0) * (run.lead.length_m or 0.0) * warming(degc)
    supply = _supply(found, run)
    supply_v = tape.class_v if supply is None else supply.real_v
    chain = Chain((section,), FED[FeedStyle(run.feed_style)])
    return solve(Network(supply_v, (chain,), Lead(core_ohm, core_ohm), degc))[0]
