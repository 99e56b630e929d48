"""What could stand in for a unit of a running show, the best first, and why the others will not do."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy.orm import Session

from service.limits.findings import Verdict
from service.planning.snapshot.fed import fed_runs
from service.planning.snapshot.house import UnitRow
from service.planning.swapping.carrying import DoesNotFitError, Exchange, carried, exchanged
from service.planning.swapping.judging import Found, Judged, Place, judged, renaming
from service.planning.swapping.reading import Question, read_question
from service.planning.swapping.schemas import (
    CAUTIONS,
    CandidateOut,
    CarriedOut,
    ElsewhereOut,
    ListensOut,
    SwapRow,
    SwapsOut,
    UnfitOut,
)
from service.planning.swapping.setting import moves_of, sets_of, where_is
from service.planning.swapping.standing import Share, Standing, promised, standings
from service.season.queries import last_day
from service.stock.gear import GearKind

MOST = 30  # candidates, and lines of what will not do
_SHARES = {share: order for order, share in enumerate(Share)}
_RANK = {Verdict.OK: 0, Verdict.WATCH: 1, Verdict.UNKNOWN: 2, Verdict.OVER: 3}


@dataclass(frozen=True, slots=True)
class Candidate:
    """A unit that can carry what the old one carries, with what that does to the show."""

    standing: Standing
    judged: Judged

    @property
    def verdict(self) -> Verdict:
        """What it leaves over a limit counts as much as what it makes worse."""
        told = (*self.judged.worse, *self.judged.stays)
        return max((f.verdict for f in told), key=_RANK.__getitem__, default=Verdict.OK)


def swaps_of(session: Session, tag: str, code: str | None, today: date) -> SwapsOut:
    """Raises NotFound, BadRequest, Refused."""
    return answered(read_question(session, tag, code, today))


def answered(question: Question) -> SwapsOut:
    """What could stand in; for a box, what is in it."""
    if question.old.kind == GearKind.ENCLOSURE:
        return _answer(question, [], [], "")
    near = standings(question.house, question.claims, question.asking, _of_kind(question))
    found, refused = _sorted_out(question, near)
    found.sort(key=lambda c: _best_first(question, c))
    helps = "" if any(_is_whole(c) for c in found) else _helps(question, near)
    return _answer(question, found[:MOST], refused[:MOST], helps)


def rows_of(found: SwapsOut) -> list[SwapRow]:
    """Candidates, then what will not do, unit by unit."""
    rows = [
        SwapRow(
            unit=c.unit,
            model=c.model,
            does=c.share,
            last_on=c.last_on,
            where=c.where,
            verdict=c.verdict,
            moves="; ".join(f"{m.run}: {m.before} to {m.after}" for m in c.moves),
            sets="; ".join(c.sets),
            worse="; ".join(c.worse),
            stays="; ".join(c.stays),
            mends="; ".join(c.mends),
            because=c.because,
        )
        for c in found.candidates
    ]
    rows += [
        SwapRow(unit=tag, model=r.model, does="no", because=r.because)
        for r in found.refused
        for tag in r.units
    ]
    return rows


def _of_kind(question: Question) -> list[UnitRow]:
    old = question.old
    return [u for u in question.house.gear if u.kind == old.kind and u.id != old.id]


def _is_whole(candidate: Candidate) -> bool:
    return candidate.standing.share is Share.FREE and candidate.verdict is not Verdict.OVER


def _sorted_out(question: Question, near: Sequence[Standing]) -> tuple[list[Candidate], list[UnfitOut]]:
    """What could stand in, and what will not do, the nearest first: one line a reason."""
    place = place_of(question)
    judge = _Judge(question, place, place.found(question.rows, question.claims))
    feeds = _feeds(question)
    found: list[Candidate] = []
    lines: dict[tuple[bool, str, str], list[str]] = defaultdict(list)
    for one in near:
        unit, model = one.unit, question.house.model_tag(one.unit)
        if misfit := judge.misfit(unit):
            lines[True, model, misfit].append(unit.tag)
        elif unit.id in feeds:
            because = f"it feeds {', '.join(sorted(feeds[unit.id]))} in {question.production.tag}"
            lines[False, model, because].append(unit.tag)
        elif one.share is Share.TAKEN:
            lines[False, model, one.because].append(unit.tag)
        elif (verdict := judge(one)).never:
            lines[True, model, verdict.never[0].message].append(unit.tag)
        else:
            found.append(Candidate(one, verdict))
    own = question.house.model_tag(question.old)
    order = sorted(lines.items(), key=lambda item: (item[0][0], item[0][1] != own, item[0][1], item[1]))
    return found, [UnfitOut(units=tags, model=m, because=why) for (_, m, why), tags in order]


def _feeds(question: Question) -> dict[int, set[str]]:
    """By unit, the elements that it feeds in the show."""
    feeds: dict[int, set[str]] = defaultdict(set)
    for fed in fed_runs(question.rows):
        for number in (fed.supply_id, fed.decoder_id):
            if number is not None:
                feeds[number].add(fed.element.tag)
    return feeds


class _Judge:
    """Asks of one unit of each kind that the limits cannot tell apart, and answers for the others."""

    def __init__(self, question: Question, place: Place, before: Found) -> None:
        self.question, self.place, self.before = question, place, before
        self.misfits: dict[int | None, str] = {}
        self.known: dict[object, tuple[str, Judged]] = {}

    def misfit(self, unit: UnitRow) -> str:
        """Why its model cannot carry it at all; blank: it can."""
        if unit.model_id not in self.misfits:
            try:
                self._exchange(unit)
                self.misfits[unit.model_id] = ""
            except DoesNotFitError as error:
                self.misfits[unit.model_id] = str(error)
        return self.misfits[unit.model_id]

    def __call__(self, one: Standing) -> Judged:
        unit, fuses = one.unit, self.question.rows.unit_fuses
        alike = (unit.model_id, unit.measured_ah, fuses.get(unit.id, ()), one.until_on is None)
        if alike not in self.known:
            rows = self._exchange(unit).rows
            verdict = judged(self.place, self.before, self.question.old, unit, rows)
            self.known[alike] = (unit.tag, verdict)
        tag, verdict = self.known[alike]
        return verdict if tag == unit.tag else verdict.renamed(renaming(tag, unit.tag))

    def _exchange(self, unit: UnitRow) -> Exchange:
        return exchanged(self.question.house, self.question.rows, self.question.old, unit)


def place_of(question: Question) -> Place:
    return Place(question.house, question.claims, question.rows, question.day)


def _best_first(question: Question, candidate: Candidate) -> tuple[object, ...]:
    house, unit = question.house, candidate.standing.unit
    source, decoder = house.sources.get(unit.model_id or 0), house.decoders.get(unit.model_id or 0)
    size: tuple[float, ...] = (0.0,)
    if source is not None:
        amp_hours = source.pack.capacity_ah if source.pack else None
        size = (source.rated_w or amp_hours or 0.0,)
    elif decoder is not None:
        size = (float(decoder.channels), decoder.channel_a or 0.0)
    return (
        candidate.verdict is Verdict.OVER,
        _SHARES[candidate.standing.share],
        _RANK[candidate.verdict],
        unit.model_id != question.old.model_id,
        not is_near(question, unit),
        size,
        unit.tag,
    )


def is_near(question: Question, unit: UnitRow) -> bool:
    """It is in the venue of the show, or lies in the bin where the old one belongs."""
    there = where_is(question, unit)
    place = next((p for p in question.house.places.values() if p.tag == there), None)
    if place is not None and place.venue_id is not None:
        return place.venue_id == question.rows.production.venue_id
    return place is not None and place.id == question.old.home_id


def _helps(question: Question, near: Iterable[Standing]) -> str:
    """What would give a whole one of that model: one mended, found, brought back, clear by then, or more."""
    old, house = question.old, question.house
    own = [one for one in near if one.unit.model_id == old.model_id]
    ways = [
        f"{one.unit.to_have} ({one.unit.state_note or one.unit.state})"
        for one in own
        if not one.unit.is_sound
    ]
    ways += [f"get {one.unit.tag} back: {one.because}" for one in own if "overdue" in one.because]
    dated = sorted((one.until_on, one.unit.tag) for one in own if one.share is Share.TAKEN and one.until_on)
    if dated and dated[0][0] is not None and dated[0][0] < question.asking.days[1]:
        ways.append(f"{dated[0][1]} is to be had from {dated[0][0].isoformat()}")
    model = house.model_tag(old)
    more = f"one more {model}"
    if question.lead_days is not None:
        takes = timedelta(days=question.lead_days + round(house.policy.receiving_days))
        more += f" (here {(question.claims.today + takes).isoformat()} at the earliest)"
    return "; or ".join([*ways, more])


def _answer(
    question: Question, found: Sequence[Candidate], refused: Sequence[UnfitOut], helps: str
) -> SwapsOut:
    house, old, rows = question.house, question.old, question.rows
    placed = rows.placings.get(old.id)
    start, end = question.asking.days
    place = house.places.get(placed.place_id) if placed is not None else None
    box = house.named(placed.enclosure_id).tag if placed is not None and placed.enclosure_id else ""
    outlet = house.outlets.get(placed.outlet_id) if placed is not None else None
    inside = [u for u, p in rows.placings.items() if p.enclosure_id == old.id]
    return SwapsOut(
        unit=old.tag,
        kind=old.kind,
        model=house.model_tag(old),
        state=old.state,
        state_note=old.state_note,
        production=question.production.tag,
        plan=question.plan.number,
        from_on=start,
        to_on=last_day(end),
        place=place.tag if place else "",
        box=box,
        outlet=outlet.tag if outlet else "",
        carries=_carries(question),
        addresses=[
            ListensOut(
                port=p.port or None, universe=p.universe, start=p.start, footprint=p.footprint, mode=p.mode
            )
            for p in rows.patches
            if p.decoder_id == old.id
        ],
        inside=sorted(house.named(u).tag for u in inside),
        elsewhere=[
            ElsewhereOut(production=code, from_on=plan.from_on, to_on=last_day(plan.until_on))
            for code, plan in question.others
            if plan.until_on > start
        ],
        candidates=[candidate_out(question, one) for one in found],
        refused=list(refused),
        helps=helps,
        caution=CAUTIONS[old.kind],
    )


def _carries(question: Question) -> list[CarriedOut]:
    is_decoder = question.old.kind == GearKind.DECODER
    return [
        CarriedOut(
            run=f.run_tag,
            number=(f.first_channel or 1) if is_decoder else f.output,
            channels=f.channels,
            load_w=round(f.load_w, 6),
            load_a=round(f.load_a, 6),
        )
        for f in carried(question.rows, question.old.id)
    ]


def candidate_out(question: Question, one: Candidate) -> CandidateOut:
    unit, old = one.standing.unit, question.old
    exchange = exchanged(question.house, question.rows, old, unit)
    return CandidateOut(
        unit=unit.tag,
        model=question.house.model_tag(unit),
        share=one.standing.share,
        last_on=last_day(one.standing.until_on) if one.standing.until_on else None,
        because=one.standing.because,
        promised=promised(question.house, question.claims, question.asking, unit.model_id),
        where=where_is(question, unit),
        is_same_model=unit.model_id == old.model_id,
        is_near=is_near(question, unit),
        verdict=one.verdict,
        moves=moves_of(question, unit, exchange),
        sets=sets_of(question, unit, exchange),
        worse=[f.message for f in one.judged.worse],
        stays=[f.message for f in one.judged.stays],
        mends=[f.message for f in one.judged.mended],
    )
