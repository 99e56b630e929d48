"""A kept feed moved or locked by hand: the technician decides, the limits say what it does."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from service.control.addresses import Span, first_fit, slots_for
from service.errors import BadRequest, NotFound, OverLimit, Refused, Stale
from service.limits.findings import Finding, Harm, Verdict
from service.limits.registry import findings
from service.planning.queries import feed_of
from service.planning.records import Allotment, Patch, Placing, Plan, UnfedRun
from service.planning.schemas import FeedMove
from service.planning.snapshot.availability import free_units, read_claims
from service.planning.snapshot.house import DecoderKind, House, SourceKind, UnitRow, read_house
from service.planning.snapshot.season import plan_facts
from service.planning.snapshot.show import ElementRow, RunRow, ShowRows, kept_plan, read_show
from service.season.records import Production
from service.shows.records import Element
from service.store.base import tag_key

# Nobody's decision: tape that smokes, and two supplies that meet in a decoder.
NEVER = frozenset({"voltage-class", "bank-sources"})


@dataclass(frozen=True, slots=True)
class _Move:
    """What is moved, read once: the house, the show and the plan that the crew works from."""

    session: Session
    house: House
    rows: ShowRows
    plan: Plan
    element: ElementRow
    today: date
    despite: str | None


_CHANGES = ("supply", "output", "decoder", "first_channel", "locked")


def move_feed(
    session: Session, tag: str, wanted: FeedMove, today: date, if_match: str | None = None
) -> list[Finding]:
    """Feeds the element's runs as wanted, in the kept plan; returns what is over afterwards.

    Refused when that puts something over a limit that was not over before, unless `despite_limits` says why;
    and always when tape would smoke or two outputs would meet.
    """
    if all(getattr(wanted, name) is None for name in _CHANGES):
        raise BadRequest("nothing is said to change", f"Say one of {', '.join(_CHANGES)}.")
    move = _read(session, tag, wanted, today, if_match)
    before = _over(session, move)
    for run in _runs(move, wanted.run):
        _apply(move, run, wanted)
    session.flush()
    after = _over(session, move)
    worse = [f for key, f in after.items() if key not in before or _is_worse(before[key], f)]
    never = [f for f in worse if f.code in NEVER and f.harm is not Harm.VOLTAGE]
    if never or (worse and not move.despite):
        mend = "Choose another output or channel"
        if not never:
            mend += ", or say in despite_limits why a competent person has decided it"
        raise OverLimit(
            "that would put something over a limit: " + "; ".join(f.message for f in worse), f"{mend}.", worse
        )
    return list(after.values())


def _read(session: Session, tag: str, wanted: FeedMove, today: date, if_match: str | None) -> _Move:
    element = session.scalars(select(Element).where(Element.tag_key == tag_key(tag))).one_or_none()
    if element is None:
        raise NotFound(f"no element has the tag {tag!r}", "Look at the tag on the element.")
    production = session.get_one(Production, element.production_id)
    plan = kept_plan(session, production.id)
    if plan is None:
        raise Refused(
            f"{production.tag} has no kept plan, so {element.tag} has no feed to move",
            f"Work out a plan for {production.tag} and keep it first.",
        )
    session.refresh(plan, with_for_update=True)
    if if_match is not None and if_match != feed_of(session.connection(), element.tag)["etag"]:
        raise Stale(f"the feed of {element.tag} changed since you read it", "Read it again, then move it.")
    rows = read_show(session, production, plan)
    row = next((e for e in rows.elements if e.id == element.id), None)
    if row is None or row.tape is None:
        raise Refused(f"{element.tag} has no tape yet", "Say which tape it has before it is fed.")
    return _Move(session, read_house(session), rows, plan, row, today, wanted.despite_limits)


def _runs(move: _Move, number: int | None) -> Sequence[RunRow]:
    runs = [run for run in move.element.runs if number is None or run.number == number]
    if not runs:
        count = len(move.element.runs)
        it_has = "It has one run." if count == 1 else f"It has runs 1 to {count}."
        raise NotFound(f"{move.element.tag} has no run {number}", it_has)
    return runs


def _over(session: Session, move: _Move) -> dict[tuple[str, str], Finding]:
    facts = plan_facts(session, move.plan, move.today)
    return {(f.code, f.subject): f for f in findings(facts, move.house.policy) if f.verdict == Verdict.OVER}


def _is_worse(before: Finding, after: Finding) -> bool:
    return before.value is not None and after.value is not None and after.value > before.value * (1 + 1e-9)


def _apply(move: _Move, run: RunRow, wanted: FeedMove) -> None:
    session = move.session
    allotment = session.scalars(
        select(Allotment).where(Allotment.plan_id == move.plan.id, Allotment.run_id == run.id)
    ).one_or_none()
    if allotment is None:
        if wanted.supply is None:
            raise BadRequest(
                f"{move.element.tag} is not fed yet", "Name the supply, and the decoder if dimmed."
            )
        allotment = Allotment(plan_id=move.plan.id, run_id=run.id, output=1, channels=0)
        _set_supply(move, allotment, wanted.supply)
        session.add(allotment)
        session.execute(delete(UnfedRun).where(UnfedRun.plan_id == move.plan.id, UnfedRun.run_id == run.id))
    elif wanted.supply is not None:
        _set_supply(move, allotment, wanted.supply)
    if wanted.output is not None:
        allotment.output = wanted.output
    _check_output(move, allotment)
    if wanted.decoder is not None:
        _set_decoder(move, allotment, wanted.decoder)
    if wanted.first_channel is not None:
        allotment.first_channel = wanted.first_channel
    _check_channels(move, allotment)
    if wanted.locked is not None:
        allotment.is_locked = wanted.locked
    if wanted.despite_limits or not _only_locks(wanted):
        allotment.override_reason = wanted.despite_limits
    session.flush()


def _only_locks(wanted: FeedMove) -> bool:
    return (wanted.supply, wanted.output, wanted.decoder, wanted.first_channel) == (None,) * 4


def _unit(move: _Move, tag: str, kinds: Sequence[str]) -> UnitRow:
    unit = move.house.unit_by_tag(tag)
    if unit is None or unit.kind not in kinds:
        raise NotFound(f"no {' or '.join(kinds)} has the tag {tag!r}", "Look at the tag on the thing.")
    if unit.id in move.rows.placings:
        return unit
    window = (move.plan.from_on, move.plan.until_on)
    free, taken = free_units(
        move.house, read_claims(move.session, move.today), move.rows.production.id, window
    )
    if unit.id not in {u.id for u in free} and not move.despite:
        why = next((t.because for t in taken if t.unit.id == unit.id), f"{unit.tag} is not free")
        same = [u.tag for u in free if u.model_id == unit.model_id and u.id not in move.rows.placings]
        mend = (
            f"Free and sound instead: {', '.join(same[:5])}."
            if same
            else f"No other {move.house.model_tag(unit)} is free on these days: name a unit of another model."
        )
        raise Refused(why, mend)
    return unit


def _set_supply(move: _Move, allotment: Allotment, tag: str) -> None:
    unit = _unit(move, tag, ("supply", "battery"))
    before = allotment.supply_id
    allotment.supply_id, allotment.supply_model_id = unit.id, None
    if before != unit.id:
        allotment.output = 1
    _stand(move, unit, before)


def _stand(move: _Move, unit: UnitRow, beside: int | None) -> None:
    """A unit that is new in the show stands where the one it takes over from stood."""
    session = move.session
    known = session.scalars(
        select(Placing).where(Placing.plan_id == move.plan.id, Placing.unit_id == unit.id)
    ).one_or_none()
    if known is not None:
        return
    like = move.rows.placings.get(beside or 0)
    session.add(
        Placing(
            plan_id=move.plan.id,
            unit_id=unit.id,
            place_id=like.place_id if like is not None else None,
            scenic_unit_id=like.scenic_unit_id if like is not None else None,
            enclosure_id=like.enclosure_id if like is not None else None,
            outlet_id=like.outlet_id if like is not None and unit.kind == "supply" else None,
        )
    )
    session.flush()


def _source(move: _Move, allotment: Allotment) -> SourceKind:
    model_id = allotment.supply_model_id
    if allotment.supply_id is not None:
        model_id = move.house.units[allotment.supply_id].model_id
    return move.house.sources[model_id or 0]


def _check_output(move: _Move, allotment: Allotment) -> None:
    kind = _source(move, allotment)
    if not 1 <= allotment.output <= len(kind.caps_a):
        count = len(kind.caps_a)
        it_has = "It has one output." if count == 1 else f"It has outputs 1 to {count}."
        name = _named(move, allotment.supply_id, kind.tag)
        raise BadRequest(f"{name} has no output {allotment.output}", it_has)


def _named(move: _Move, unit_id: int | None, model: str) -> str:
    """A unit with its model, as in "DC-1 (D4)"; the model alone where no unit is chosen yet."""
    return model if unit_id is None else f"{move.house.units[unit_id].tag} ({model})"


def _set_decoder(move: _Move, allotment: Allotment, tag: str) -> None:
    before = allotment.decoder_id
    if tag == "":
        allotment.decoder_id = allotment.decoder_model_id = allotment.first_channel = None
        allotment.channels = 0
        return
    unit = _unit(move, tag, ("decoder",))
    allotment.decoder_id, allotment.decoder_model_id = unit.id, None
    allotment.channels = (
        1 if move.element.tape and move.element.tape.signal == "pixel" else len(move.element.wired)
    )
    if before != unit.id:
        allotment.first_channel = None
    _stand(move, unit, before or allotment.supply_id)
    _address(move, unit, before)


def _address(move: _Move, unit: UnitRow, before: int | None) -> None:
    """A decoder that takes over from one with nothing left on it inherits its address; else the first
    free."""
    session, plan_id = move.session, move.plan.id
    if session.scalars(select(Patch.id).where(Patch.plan_id == plan_id, Patch.decoder_id == unit.id)).first():
        return
    session.flush()
    left = session.scalars(
        select(Allotment.id).where(Allotment.plan_id == plan_id, Allotment.decoder_id == before)
    ).first()
    old = session.scalars(select(Patch).where(Patch.plan_id == plan_id, Patch.decoder_id == before)).all()
    if old and left is None:
        for patch in old:
            patch.decoder_id = unit.id
        session.flush()
        return
    kind = move.house.decoders[unit.model_id or 0]
    if kind.signal == "pixel":
        return  # how many slots a port takes depends on its pixels; reported as not known until entered
    spans = [
        Span(p.universe, p.start, p.footprint)
        for p in move.rows.patches
        if p.universe and p.start and p.footprint
    ]
    footprint = kind.footprint_8bit or slots_for(kind.channels)
    first = move.rows.production.default_universe or min((s.universe for s in spans), default=1)
    [(universe, start)] = first_fit([footprint], spans, first)
    session.add(
        Patch(
            plan_id=plan_id, decoder_id=unit.id, port=0, universe=universe, start=start, footprint=footprint
        )
    )
    session.flush()


def _decoder(move: _Move, allotment: Allotment) -> DecoderKind | None:
    model_id = allotment.decoder_model_id
    if allotment.decoder_id is not None:
        model_id = move.house.units[allotment.decoder_id].model_id
    return move.house.decoders.get(model_id or 0)


def _check_channels(move: _Move, allotment: Allotment) -> None:
    kind = _decoder(move, allotment)
    if kind is None:
        if allotment.first_channel is not None:
            raise BadRequest("a channel needs a decoder", "Name the decoder, or leave the channel out.")
        return
    if allotment.first_channel is None:
        allotment.first_channel = _first_free(move, allotment, kind)
    first, last = allotment.first_channel, allotment.first_channel + allotment.channels - 1
    if not any(b.first_channel <= first and last < b.first_channel + b.channels for b in kind.banks):
        name = _named(move, allotment.decoder_id, kind.tag)
        rows = " and ".join(f"{b.first_channel} to {b.first_channel + b.channels - 1}" for b in kind.banks)
        raise BadRequest(
            f"channels {first} to {last} are not on {name}"
            if last > first
            else f"channel {first} is not on {name}",
            f"Its channels with one power feed are {rows}.",
        )


def _first_free(move: _Move, allotment: Allotment, kind: DecoderKind) -> int:
    """The lowest row of channels nobody has; the element's own other runs share theirs."""
    own = {run.id for run in move.element.runs}
    others = move.session.scalars(
        select(Allotment).where(
            Allotment.plan_id == move.plan.id,
            Allotment.decoder_id == allotment.decoder_id,
            Allotment.first_channel.is_not(None),
        )
    ).all()
    for other in others:
        if other.run_id in own and other is not allotment and other.channels == allotment.channels:
            return other.first_channel or 1
    busy = {
        channel
        for other in others
        if other is not allotment and other.first_channel is not None
        for channel in range(other.first_channel, other.first_channel + other.channels)
    }
    for bank in kind.banks:
        for first in range(bank.first_channel, bank.first_channel + bank.channels - allotment.channels + 1):
            if not busy & set(range(first, first + allotment.channels)):
                return first
    wanted = "free channel" if allotment.channels == 1 else f"{allotment.channels} free channels in a row"
    name = _named(move, allotment.decoder_id, kind.tag)
    raise Refused(f"{name} has no {wanted}", "Choose a decoder with room.")
