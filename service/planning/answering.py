"""An answer of the allocator turned into a draft: allotments, where gear stands, addresses, what is dark."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sqlalchemy import Row
from sqlalchemy.orm import Session

from service.allocation.problem import Answer, Block, Feed, Unfed
from service.control.addresses import Span, first_fit, slots_for
from service.electrical.power import mains
from service.planning.asking import Question, is_open
from service.planning.records import Allotment, Patch, Placing, Plan, UnfedRun
from service.planning.snapshot.fed import run_w
from service.planning.snapshot.house import DecoderKind, OutletRow, UnitRow
from service.shows.records import ElementStatus


@dataclass(slots=True)
class Draft:
    """The rows of one answer, ready to be added to a plan."""

    allotments: list[Allotment] = field(default_factory=list)
    placings: list[Placing] = field(default_factory=list)
    patches: list[Patch] = field(default_factory=list)
    unfed: list[UnfedRun] = field(default_factory=list)


def draft_of(question: Question, answer: Answer) -> Draft:
    """Rows for the answer. Placeholders get units when some are left, and stay placeholders when not; feeds
    of struck elements stay as they are, for the gear is still out and the record still true."""
    units = {unit.tag: unit for unit in question.house.units.values()}
    draft = Draft()
    answer = replace(answer, feeds=tuple(sorted((*answer.feeds, *_chosen(question, answer)))))
    for feed in answer.feeds:
        draft.allotments.append(_allotment(question, units, feed))
    answered = {a.run_id for a in draft.allotments}
    carried = [row for row in _carried(question) if row.run_id not in answered]
    draft.allotments += [_copy(Allotment, row) for row in carried]
    stays = {row.supply_id for row in carried} | {row.decoder_id for row in carried}
    draft.placings = _placings(question, answer, units, stays)
    draft.patches = _patches(question, answer, units, stays)
    draft.unfed = [_unfed(question, one) for one in answer.unfed]
    return draft


def _carried(question: Question) -> list[Row[Any]]:
    """Kept feeds that the allocator was not asked about: placeholders, and what is struck."""
    asked = {run.id for _, run in question.runs.values()}
    struck = {r.id for e in question.rows.elements if e.status == ElementStatus.STRUCK for r in e.runs}
    return [
        row
        for run_id, row in question.rows.allotments.items()
        if is_open(row) or (run_id in struck and run_id not in asked)
    ]


def _chosen(question: Question, answer: Answer) -> list[Feed]:
    """Feeds of placeholders ("any S320, any D4") for which the answer leaves a free unit of each model."""
    house = question.house
    used = {f.supply for f in answer.feeds} | {f.decoder for f in answer.feeds}
    left = {
        unit.tag: unit.model
        for unit in (*question.problem.supplies, *question.problem.decoders)
        if unit.tag not in used and not unit.site
    }
    feeds = []
    for element in question.rows.elements:
        rows = {run.number: question.rows.allotments.get(run.id) for run in element.runs}
        waiting = {n: row for n, row in rows.items() if row is not None and is_open(row)}
        for supply_model, decoder_model in sorted(
            {(row.supply_model_id, row.decoder_model_id or 0) for row in waiting.values()}
        ):
            kind = house.decoders.get(decoder_model)
            supply = _first(left, house.sources[supply_model].tag)
            decoder = _first(left, kind.tag) if kind else ""
            if supply is None or decoder is None:
                continue
            left.pop(supply)
            left.pop(decoder, None)
            feeds += [
                Feed(f"{element.tag}/{n}", supply, row.output, decoder, row.first_channel or 0, row.channels)
                for n, row in waiting.items()
                if (row.supply_model_id, row.decoder_model_id or 0) == (supply_model, decoder_model)
            ]
    return feeds


def _first(left: dict[str, str], model: str) -> str | None:
    return min((tag for tag, of in left.items() if of == model), default=None)


def store_draft(session: Session, plan: Plan, draft: Draft) -> None:
    rows: list[Allotment | Placing | Patch | UnfedRun] = [
        *draft.allotments, *draft.placings, *draft.patches, *draft.unfed,
    ]  # fmt: skip
    for row in rows:
        row.plan_id = plan.id
    session.add_all(rows)
    session.flush()


def _copy(record: type[Any], row: Row[Any]) -> Any:
    own = {"id", "plan_id", "version", "created_at", "changed_at"}
    return record(**{k: v for k, v in row._mapping.items() if k not in own})


def _allotment(question: Question, units: dict[str, UnitRow], feed: Feed) -> Allotment:
    _, run = question.runs[feed.run]
    before = question.rows.allotments.get(run.id)
    return Allotment(
        run_id=run.id,
        supply_id=units[feed.supply].id,
        output=feed.output,
        decoder_id=units[feed.decoder].id if feed.decoder else None,
        first_channel=feed.first_channel if feed.decoder else None,
        channels=feed.channels,
        is_locked=bool(before is not None and before.is_locked),
    )


def _unfed(question: Question, one: Unfed) -> UnfedRun:
    return UnfedRun(
        run_id=question.runs[one.run][1].id,
        limit=one.limit,
        value=one.value,
        bound=one.bound,
        unit=one.unit,
        because=one.because,
        mend=_mend(question, one),
    )


def _mend(question: Question, one: Unfed) -> str:
    """What would feed the run, when that is free again, and what would bind then."""
    mend = "; ".join(filter(None, (one.mend, _clears(question, one))))
    return f"{mend.removesuffix('.')}. Then {one.then}" if one.then else mend


def _clears(question: Question, one: Unfed) -> str:
    """When the first unit that would do is free again; blank when stock is not what binds."""
    if one.limit not in {"decoder-stock", "supply-stock"}:
        return ""
    block = next(b for b in question.problem.blocks if b.tag == one.block)
    fits = _would_do(question, block, one.limit)
    away = [t for t in question.taken if t.unit.model_id in fits]
    if not away:
        return ""
    dated = sorted((t.clears_on, t.unit.tag, t) for t in away if t.clears_on is not None)
    if dated:
        day, tag, taken = dated[0]
        model = question.house.model_tag(taken.unit)
        return f"{tag} ({model}) is free from {day.isoformat()}: plan from that day, or move the dates."
    return "; ".join(sorted(t.because for t in away)[:4]) + "."


def _would_do(question: Question, block: Block, limit: str) -> set[int]:
    house = question.house
    if limit == "supply-stock":
        return {
            k.id
            for k in house.sources.values()
            if round(k.class_v * 1000) == block.class_mv and k.kind in block.sources
        }
    return {k.id for k in house.decoders.values() if _decoder_would_do(k, block)}


def _decoder_would_do(kind: DecoderKind, block: Block) -> bool:
    return (
        kind.polarity == block.polarity
        and kind.signal == block.signal
        and kind.link in block.links
        and kind.min_v * 1000 <= block.class_mv <= kind.max_v * 1000
        and kind.channels >= block.channels
    )


def _placings(
    question: Question, answer: Answer, units: dict[str, UnitRow], stays: set[int | None]
) -> list[Placing]:
    """Units already placed stay where they are; new ones go where most of what they feed is."""
    kept = question.rows.placings
    fed_by: dict[str, list[Feed]] = {}
    for feed in answer.feeds:
        fed_by.setdefault(feed.supply, []).append(feed)
        if feed.decoder:
            fed_by.setdefault(feed.decoder, []).append(feed)
    waiting = {row.supply_id for row in question.rows.allotments.values()} | {
        row.decoder_id for row in question.rows.allotments.values() if row.supply_id is None
    }
    placings = [
        _copy(Placing, row)
        for unit_id, row in kept.items()
        if (unit := question.house.units.get(unit_id)) is not None
        and (unit.tag in fed_by or unit_id not in waiting or unit_id in stays)
    ]
    outlets = _Outlets(question, [p for p in placings if p.outlet_id is not None], answer)
    for placing in placings:
        unit = question.house.units[placing.unit_id]
        if outlets.is_dimmed(placing.outlet_id) and _is_changed(question, fed_by.get(unit.tag, ())):
            chosen = outlets.choose(unit, placing.place_id)
            placing.outlet_id = chosen.id if chosen else None
    for tag, feeds in sorted(fed_by.items()):
        unit = units[tag]
        if unit.id not in kept:
            placings.append(_place(question, unit, feeds, outlets))
    return placings


def _is_changed(question: Question, feeds: Sequence[Feed]) -> bool:
    """Something here was chosen anew, so that what it hangs on must be sound too."""
    stood = {(one.run, one.supply, one.output) for one in question.problem.installed}
    return any((feed.run, feed.supply, feed.output) not in stood for feed in feeds)


def _place(question: Question, unit: UnitRow, feeds: Sequence[Feed], outlets: "_Outlets") -> Placing:
    elements = [question.runs[feed.run][0] for feed in feeds]
    scenic = {e.scenic_unit_id for e in elements}
    rides = scenic.pop() if len(scenic) == 1 and all(_moves_alone(e) for e in elements) else None
    places = Counter(_standing_place(question, e.place_id) for e in elements)
    place_id = min((-count, place or 0) for place, count in places.items())[1] or None
    kind = question.house.sources.get(unit.model_id or 0)
    mains = kind is not None and kind.kind == "supply"
    outlet = outlets.choose(unit, place_id) if mains else None
    return Placing(
        unit_id=unit.id,
        place_id=place_id,
        scenic_unit_id=rides,
        enclosure_id=None,
        outlet_id=outlet.id if outlet else None,
    )


def _moves_alone(element: Any) -> bool:
    return bool(element.needs_battery or (element.motion != "static" and not element.travelling_cable))


def _standing_place(question: Question, place_id: int | None) -> int | None:
    """The place under a scenic unit: gear for a wall stands beside the wall, not on it."""
    place = question.house.places.get(place_id or 0)
    if place is not None and place.kind == "scenic unit" and place.parent_id is not None:
        return place.parent_id
    return place_id


class _Outlets:
    """Mains amps left on each undimmed outlet of the venue while supplies are given outlets one by one."""

    def __init__(self, question: Question, placed: Iterable[Placing], answer: Answer) -> None:
        self.question = question
        self.watts: Counter[str] = Counter()
        for feed in answer.feeds:
            element, run = question.runs[feed.run]
            if element.tape is not None:
                self.watts[feed.supply] += round(run_w(element.tape, run) * 1000)
        share = question.house.policy.breaker_factor
        self.room: dict[int, float] = {
            o.id: mains.limit_a(o.breaker_a, share)
            for o in question.house.outlets.values()
            if o.breaker_a and o.volts_v and o.kind != "dimmed" and self._is_here(o)
        }
        for placing in placed:
            if placing.outlet_id in self.room:
                unit = question.house.units[placing.unit_id]
                self.room[placing.outlet_id] -= self._amps(unit, question.house.outlets[placing.outlet_id])
        show = question.rows.production
        for outlet_id in self.room:
            outlet = question.house.outlets[outlet_id]
            for other in outlet.others:
                if other.production_id in (None, show.id):
                    self.room[outlet_id] -= other.load_w / (outlet.volts_v or 1.0)
        for plug in question.claims.plugs:
            stands = plug.from_on <= show.strike_end and plug.last_on >= show.load_in
            plugged = question.house.units.get(plug.unit_id)
            if plug.outlet_id in self.room and plug.production_id != show.id and stands and plugged:
                outlet = question.house.outlets[plug.outlet_id]
                self.room[plug.outlet_id] -= self._draw_a(plugged, plug.load_w, outlet)

    def _is_here(self, outlet: OutletRow) -> bool:
        """At the production's venue; where nobody wrote which it is at, if there is only the one."""
        house, venue_id = self.question.house, self.question.rows.production.venue_id
        place = house.places.get(outlet.place_id or 0)
        at = outlet.venue_id or (place.venue_id if place else None)
        return at == venue_id if at is not None else len(house.venues) == 1

    def is_dimmed(self, outlet_id: int | None) -> bool:
        outlet = self.question.house.outlets.get(outlet_id or 0)
        return outlet is not None and outlet.kind == "dimmed"

    def _amps(self, unit: UnitRow, outlet: OutletRow) -> float:
        return self._draw_a(unit, self.watts[unit.tag] / 1000.0, outlet)

    def _draw_a(self, unit: UnitRow, load_w: float, outlet: OutletRow) -> float:
        """As the limits reckon it: where a sheet is silent, by the worst that is usual. What is no supply
        counts for nothing."""
        kind = self.question.house.sources.get(unit.model_id or 0)
        if kind is None:
            return 0.0
        given_w = mains.output_w(load_w)
        return mains.draw(given_w, outlet.volts_v or 0.0, kind.efficiency, kind.power_factor).current_a

    def choose(self, unit: UnitRow, place_id: int | None) -> OutletRow | None:
        """The outlet with the most room that holds it, one at the same place first; None if none does."""
        outlets = self.question.house.outlets
        fits = [
            (outlets[o].place_id != place_id, -room, outlets[o].tag, o)
            for o, room in self.room.items()
            if room >= self._amps(unit, outlets[o]) - mains.SLACK_A
        ]
        if not fits:
            return None
        chosen = outlets[min(fits)[3]]
        self.room[chosen.id] -= self._amps(unit, chosen)
        return chosen


def _patches(
    question: Question, answer: Answer, units: dict[str, UnitRow], stays: set[int | None]
) -> list[Patch]:
    """Addresses of decoders that stay are kept; new ones take the first free slots."""
    used = {feed.decoder for feed in answer.feeds if feed.decoder}
    waiting = {row.decoder_id for row in question.rows.allotments.values()}
    kept = [
        row
        for row in question.rows.patches
        if (unit := question.house.units.get(row.decoder_id)) is not None
        and (unit.tag in used or row.decoder_id not in waiting or row.decoder_id in stays)
    ]
    # A decoder that the crew works with already has an address, known here or not: it is never given another.
    settled = {row.decoder_id for row in question.rows.allotments.values()}
    known = {(row.decoder_id, row.port) for row in kept}
    wanted = [
        (unit, port, footprint, pixels)
        for tag in sorted(used)
        for unit in (units[tag],)
        for port, footprint, pixels in _footprints(question, answer, unit)
        if (unit.id, port) not in known and unit.id not in settled and footprint
    ]
    spans = [
        Span(row.universe, row.start, row.footprint)
        for row in kept
        if row.universe and row.start and row.footprint
    ]
    first = question.rows.production.default_universe or min((s.universe for s in spans), default=1)
    places = first_fit([footprint for _, _, footprint, _ in wanted], spans, first)
    fresh = [
        Patch(
            decoder_id=unit.id, port=port, universe=universe, start=start, footprint=footprint,
            mode="pixel" if pixels else "8-bit", pixels=pixels, mirror="",
        )
        for (unit, port, footprint, pixels), (universe, start) in zip(wanted, places, strict=True)
    ]  # fmt: skip
    return [*(_copy(Patch, row) for row in kept), *fresh]


def _footprints(question: Question, answer: Answer, unit: UnitRow) -> list[tuple[int, int, int | None]]:
    """(port, slots, pixels) for each address the decoder wants; port 0 is the whole decoder."""
    kind = question.house.decoders[unit.model_id or 0]
    if kind.signal != "pixel":
        return [(0, kind.footprint_8bit or slots_for(kind.channels), None)]
    pixels: Counter[int] = Counter()
    slots = 3
    for feed in answer.feeds:
        if feed.decoder == unit.tag:
            element, run = question.runs[feed.run]
            tape = element.tape
            if tape is not None and tape.pixels_per_m:
                pixels[feed.first_channel] += round(tape.pixels_per_m * run.pitches * tape.pitch_um / 1e6)
                slots = tape.slots_per_pixel or slots
    return [(port, count * slots, count) for port, count in sorted(pixels.items())]
