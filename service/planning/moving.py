"""A kept feed moved or locked by hand: the technician decides, the limits say what it does."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from service.errors import BadRequest, NotFound, OverLimit, Refused, Stale
from service.limits.findings import Finding, Harm, Verdict
from service.limits.registry import findings
from service.planning.queries import feed_of
from service.planning.records import Allotment, Patch, Placing, Plan, UnfedRun
from service.planning.schemas import FeedMove
from service.planning.snapshot.availability import Claims, free_units, read_claims
from service.planning.snapshot.facts import show_facts
from service.planning.snapshot.house import House, UnitRow, read_house
from service.planning.snapshot.reading import read_show
from service.planning.snapshot.show import ElementRow, RunRow, ShowRows, kept_plan
from service.planning.supposing.claims import claims_with
from service.planning.supposing.rearranging import rearranged
from service.planning.supposing.rows import Allotted
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
    claims: Claims
    rows: ShowRows
    plan: Plan
    despite: str | None

    def element(self, tag: str) -> ElementRow:
        """The element of the show with that tag, which must have its tape."""
        key = tag_key(tag)
        row = next((e for e in self.rows.elements if tag_key(e.tag) == key), None)
        if row is None or row.tape is None:
            raise Refused(f"{tag} has no tape yet", "Say which tape it has before it is fed.")
        return row


_CHANGES = ("supply", "output", "decoder", "first_channel", "locked")


def move_feed(
    session: Session, tag: str, wanted: FeedMove, today: date, if_match: str | None = None
) -> list[Finding]:
    """Feeds the element's runs as wanted, in the kept plan; returns what is over afterwards.

    Refused when that puts something over a limit that was not over before, unless `despite_limits` says why;
    and always when tape would smoke or two outputs would meet.
    """
    return move_together(session, [(tag, wanted)], today, if_match)


def move_together(
    session: Session, moves: Sequence[tuple[str, FeedMove]], today: date, if_match: str | None = None
) -> list[Finding]:
    """The same for several elements of one show, judged when all of them are moved: what hangs on one
    decoder bank cannot go one after another. `if_match`: of the first."""
    if any(all(getattr(wanted, name) is None for name in _CHANGES) for _, wanted in moves):
        raise BadRequest("nothing is said to change", f"Say one of {', '.join(_CHANGES)}.")
    move = _read(session, *moves[0], today, if_match)
    before, moved, done = _over(move, move.rows), move.rows, []
    find = _finder(move)
    for tag, wanted in moves:
        element = move.element(tag)
        runs = _runs(element, wanted.run)
        moved = rearranged(move.house, moved, element, runs, wanted, find)
        done += [(run, wanted) for run in runs]
    after = _over(move, moved)
    worse = [f for key, f in after.items() if key not in before or _is_worse(before[key], f)]
    never = [f for f in worse if f.code in NEVER and f.harm is not Harm.VOLTAGE]
    if never or (worse and not move.despite):
        mend = "Choose another output or channel"
        if not never:
            mend += ", or say in despite_limits why a competent person has decided it"
        raise OverLimit(
            "that would put something over a limit: " + "; ".join(f.message for f in worse), f"{mend}.", worse
        )
    for run, wanted in done:
        _store(move, run, moved.allotments[run.id], wanted)
    _store_gear(move, moved)
    session.flush()
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
    house, claims = read_house(session), read_claims(session, today)
    return _Move(session, house, claims, rows, plan, wanted.despite_limits)


def _runs(element: ElementRow, number: int | None) -> Sequence[RunRow]:
    runs = [run for run in element.runs if number is None or run.number == number]
    if not runs:
        count = len(element.runs)
        it_has = "It has one run." if count == 1 else f"It has runs 1 to {count}."
        raise NotFound(f"{element.tag} has no run {number}", it_has)
    return runs


def _over(move: _Move, rows: ShowRows) -> dict[tuple[str, str], Finding]:
    claims = claims_with(move.claims, rows)
    free, _ = free_units(move.house, claims, rows.production.id, (move.plan.from_on, move.plan.until_on))
    facts = show_facts(move.house, rows, claims, free)
    return {(f.code, f.subject): f for f in findings(facts, move.house.policy) if f.verdict == Verdict.OVER}


def _is_worse(before: Finding, after: Finding) -> bool:
    return before.value is not None and after.value is not None and after.value > before.value * (1 + 1e-9)


def _store(move: _Move, run: RunRow, to: Allotted, wanted: FeedMove) -> None:
    session = move.session
    allotment = session.scalars(
        select(Allotment).where(Allotment.plan_id == move.plan.id, Allotment.run_id == run.id)
    ).one_or_none()
    if allotment is None:
        session.execute(delete(UnfedRun).where(UnfedRun.plan_id == move.plan.id, UnfedRun.run_id == run.id))
        allotment = Allotment(plan_id=move.plan.id)
    for column in fields(Allotted):
        setattr(allotment, column.name, getattr(to, column.name))
    if wanted.despite_limits or not _only_locks(wanted):
        allotment.override_reason = wanted.despite_limits
    session.add(allotment)


def _store_gear(move: _Move, moved: ShowRows) -> None:
    """Where gear that is new in the show stands, and the slots that decoders listen to."""
    session, plan_id = move.session, move.plan.id
    for unit_id, placed in moved.placings.items():
        if unit_id not in move.rows.placings:
            session.add(Placing(plan_id=plan_id, **asdict(placed)))
    before = {patch.id: patch.decoder_id for patch in move.rows.patches}
    for patch in moved.patches:
        values = asdict(patch)
        number = values.pop("id")
        if number is None:
            session.add(Patch(plan_id=plan_id, **values))
        elif patch.decoder_id != before[number]:
            session.get_one(Patch, number).decoder_id = patch.decoder_id


def _only_locks(wanted: FeedMove) -> bool:
    return (wanted.supply, wanted.output, wanted.decoder, wanted.first_channel) == (None,) * 4


def _finder(move: _Move) -> Callable[[str, Sequence[str]], UnitRow]:
    """Finds units that the show has, or may take: refused, with what is free instead, where it may not."""
    window = (move.plan.from_on, move.plan.until_on)
    free, taken = free_units(move.house, move.claims, move.rows.production.id, window)

    def find(tag: str, kinds: Sequence[str]) -> UnitRow:
        unit = move.house.unit_by_tag(tag)
        if unit is None or unit.kind not in kinds:
            raise NotFound(f"no {' or '.join(kinds)} has the tag {tag!r}", "Look at the tag on the thing.")
        is_free = unit.id in {u.id for u in free}
        if unit.id in move.rows.placings or is_free or move.despite:
            return unit
        why = next((t.because for t in taken if t.unit.id == unit.id), f"{unit.tag} is not free")
        same = [u.tag for u in free if u.model_id == unit.model_id and u.id not in move.rows.placings]
        mend = (
            f"Free and sound instead: {', '.join(same[:5])}."
            if same
            else f"No other {move.house.model_tag(unit)} is free on these days: name a unit of another model."
        )
        raise Refused(why, mend)

    return find
