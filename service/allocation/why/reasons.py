"""Why a run is dark: the one limit that binds, in figures, and the smallest thing that would mend it.

The kinds of gear are asked first, one limit after another in a fixed order; the first that no kind
passes is the reason. Where the kinds would do, the units are asked: how many are left, and where
there is still room.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

from service.allocation.change.room import Place, Room, Row
from service.allocation.problem import Block, DecoderModel, Feed, Problem, Run, SupplyModel, Unfed
from service.limits.blanks import missing


class Reason(NamedTuple):
    """The limit that binds; `value` against `bound` in `unit`, in words, and what would mend it."""

    limit: str
    value: float | None
    bound: float | None
    unit: str
    because: str
    mend: str

    def unfed(self, run: Run, block: Block) -> Unfed:
        return Unfed(run.tag, block.tag, *self)


def why_never(problem: Problem, block: Block, runs: Sequence[Run]) -> Reason | None:
    """The limit that keeps these runs, on one row of channels, off every unit there is; None if none does."""
    row = Row(block, tuple(runs))
    kinds = _Kinds(problem.supply_models, problem.decoder_models)
    return kinds.narrow(row) or _none_owned(problem, row, kinds) or _none_in_reach(problem, row, kinds)


def why_left(
    problem: Problem,
    feeds: Iterable[Feed],
    block: Block,
    runs: Sequence[Run],
    sites: Mapping[str, str] | None = None,
) -> Reason:
    """The limit that keeps these runs dark beside the feeds of a plan."""
    return reasons_left(problem, feeds, [Row(block, tuple(runs))], sites)[0]


def reasons_left(
    problem: Problem, feeds: Iterable[Feed], rows: Sequence[Row], sites: Mapping[str, str] | None = None
) -> list[Reason]:
    """Why each of several rows is dark beside the same feeds."""
    fed = list(feeds)
    room = Room(problem, fed, sites)
    return [
        why_never(problem, row.block, row.runs)
        or _held_by_a_lock(problem, fed, row, sites)
        or _nothing_left(problem, room, row)
        for row in rows
    ]


def said(value: float) -> str:
    """A figure with as many places as it needs, three at most."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _pair(value: float, bound: float) -> tuple[str, str]:
    """Two figures that still differ when they are read."""
    if said(value) == said(bound) and value != bound:
        return f"{value:.6f}", f"{bound:.6f}"
    return said(value), said(bound)


def _volts(class_mv: int) -> float:
    return class_mv / 1000


def _amps(load_uw: int, class_mv: int) -> float:
    return load_uw / (class_mv * 1000)


def _any_of(tags: Iterable[str]) -> str:
    named = sorted(set(tags))
    return named[0] if len(named) == 1 else f"{', '.join(named[:-1])} or {named[-1]}" if named else "none"


class _Kinds:
    """Kinds of supply and decoder still in question, fewer with each limit asked."""

    def __init__(self, supplies: Sequence[SupplyModel], decoders: Sequence[DecoderModel]) -> None:
        self.supplies = list(supplies)
        self.decoders = list(decoders)

    def narrow(self, row: Row) -> Reason | None:
        """The first limit that no kind passes. What is left afterwards would do."""
        asked: tuple[Callable[[Row], Reason | None], ...] = (self._voltage, self._source)
        if row.channels:
            through = (self._voltage_through, self._polarity, self._signal, self._link)
            asked = (self._voltage, *through, self._source)
        figures: tuple[Callable[[Row], Reason | None], ...] = (self._output, self._watts)
        if row.channels:
            figures = (self._channel, self._count, self._bank, self._output, self._watts)
        for ask in (*asked, self._known, *figures):
            reason = ask(row)
            if reason is not None:
                return reason
        return None

    def _voltage(self, row: Row) -> Reason | None:
        block, offered = row.block, sorted({model.class_mv for model in self.supplies})
        self.supplies = [model for model in self.supplies if model.class_mv == block.class_mv]
        if self.supplies:
            return None
        volts = said(_volts(block.class_mv))
        there = _any_of(f"{said(_volts(mv))} V" for mv in offered)
        nearest = min(offered, key=lambda mv: (abs(mv - block.class_mv), mv), default=None)
        return Reason(
            "voltage",
            _volts(block.class_mv),
            None if nearest is None else _volts(nearest),
            "V",
            f"{volts} V tape, and the supplies give {there}",
            f"a {volts} V supply",
        )

    def _voltage_through(self, row: Row) -> Reason | None:
        block, before = row.block, self.decoders
        self.decoders = [m for m in before if m.min_mv <= block.class_mv <= m.max_mv]
        if self.decoders:
            return None
        volts = said(_volts(block.class_mv))
        ranges = _any_of(f"{said(_volts(m.min_mv))} to {said(_volts(m.max_mv))} V" for m in before)
        ends = [mv for model in before for mv in (model.min_mv, model.max_mv)]
        nearest = min(ends, key=lambda mv: (abs(mv - block.class_mv), mv), default=None)
        return Reason(
            "voltage",
            _volts(block.class_mv),
            None if nearest is None else _volts(nearest),
            "V",
            f"{volts} V tape, and the decoders take {ranges}",
            f"a decoder that takes {volts} V",
        )

    def _keep_decoders(
        self,
        keeps: Callable[[DecoderModel], bool],
        limit: str,
        because: Callable[[list[DecoderModel]], str],
        mend: str,
    ) -> Reason | None:
        before = self.decoders
        self.decoders = [model for model in before if keeps(model)]
        return None if self.decoders else Reason(limit, None, None, "", because(before), mend)

    def _polarity(self, row: Row) -> Reason | None:
        common = row.block.polarity
        return self._keep_decoders(
            lambda model: model.polarity == common,
            "polarity",
            lambda before: f"common {common} tape, and {_any_of(m.tag for m in before)} is for the other",
            f"a decoder for common {common} tape",
        )

    def _signal(self, row: Row) -> Reason | None:
        signal = row.block.signal
        return self._keep_decoders(
            lambda model: model.signal is signal,
            "signal",
            lambda before: f"wants {signal} signal, and {_any_of(m.tag for m in before)} gives another",
            f"a decoder that gives {signal} signal",
        )

    def _link(self, row: Row) -> Reason | None:
        links = row.block.links
        named = _any_of(str(link) for link in links)
        return self._keep_decoders(
            lambda model: model.link in links,
            "link",
            lambda before: f"takes {named} control, and {_any_of(m.tag for m in before)} is {before[0].link}",
            f"a {named} decoder, or a travelling cable",
        )

    def _source(self, row: Row) -> Reason | None:
        before, sources = self.supplies, row.block.sources
        self.supplies = [model for model in before if model.source in sources]
        if self.supplies:
            return None
        named = _any_of(str(source) for source in sources)
        there = _any_of(str(model.source) for model in before)
        volts = said(_volts(row.block.class_mv))
        return Reason(
            "source",
            None,
            None,
            "",
            f"may be fed from a {named} only, and at {volts} V there is only a {there}",
            f"a {volts} V {named}, or a travelling cable",
        )

    def _known(self, row: Row) -> Reason | None:
        """Limits nobody has entered are as good as none: such gear is never chosen."""
        supplies, decoders = self.supplies, self.decoders
        self.supplies = [m for m in supplies if m.usable_uw is not None and any(m.outputs_ua)]
        self.decoders = [m for m in decoders if m.channel_ua and any(b.usable_ua for b in m.banks)]
        blank: list[SupplyModel | DecoderModel] = [] if self.supplies else [*supplies]
        if row.channels and not self.decoders:
            blank += decoders
        if not blank:
            return None
        what, mend = missing({m.tag: m.blank for m in blank})
        because = f"only {_any_of(m.tag for m in blank)} would do, and {what}"
        return Reason("not-known", None, None, "", because, mend)

    def _too_much(self, row: Row, limit: str, value: float, bound: float, unit: str, what: str) -> Reason:
        """Value over bound; a row of several runs could be divided, one run only by more leads."""
        high, low = _pair(value, bound)
        mend = f"{what.format(f'at least {high}')}"
        mend += ", or cut the run in two" if len(row.runs) == 1 else ", or fewer runs on one row"
        return Reason(limit, value, bound, unit, f"{high} {unit} > {low} {unit} {_AT[limit]}", mend)

    def _channel(self, row: Row) -> Reason | None:
        class_mv = row.block.class_mv
        most_ua = max(model.channel_ua or 0 for model in self.decoders)
        self.decoders = [m for m in self.decoders if row.peak_uw * 1000 <= class_mv * (m.channel_ua or 0)]
        if self.decoders:
            return None
        value = _amps(row.peak_uw, class_mv)
        return self._too_much(
            row, "channel-current", value, most_ua / 1e6, "A", "a decoder with {} A a channel"
        )

    def _count(self, row: Row) -> Reason | None:
        most = max(bank.channels for model in self.decoders for bank in model.banks)
        wide = [m for m in self.decoders if any(b.channels >= row.channels for b in m.banks)]
        self.decoders = wide
        if wide:
            return None
        return Reason(
            "channel-count",
            float(row.channels),
            float(most),
            "",
            f"{row.channels} channels in a row > {most} on one bank",
            f"a decoder with {row.channels} channels on one bank",
        )

    def _bank(self, row: Row) -> Reason | None:
        class_mv = row.block.class_mv
        wide = [(m, b) for m in self.decoders for b in m.banks if b.channels >= row.channels]
        most_ua = max(bank.usable_ua or 0 for _, bank in wide)
        able = {m.tag for m, b in wide if row.load_uw * 1000 <= class_mv * (b.usable_ua or 0)}
        self.decoders = [model for model in self.decoders if model.tag in able]
        if self.decoders:
            return None
        value = _amps(row.load_uw, class_mv)
        return self._too_much(row, "bank-current", value, most_ua / 1e6, "A", "a decoder with {} A a bank")

    def _output(self, row: Row) -> Reason | None:
        class_mv = row.block.class_mv
        most_ua = max(ua or 0 for model in self.supplies for ua in model.outputs_ua)
        self.supplies = [
            m for m in self.supplies if any(row.load_uw * 1000 <= class_mv * (ua or 0) for ua in m.outputs_ua)
        ]
        if self.supplies:
            return None
        value = _amps(row.load_uw, class_mv)
        return self._too_much(
            row, "output-current", value, most_ua / 1e6, "A", "a supply with {} A an output"
        )

    def _watts(self, row: Row) -> Reason | None:
        most_uw = max(model.usable_uw or 0 for model in self.supplies)
        self.supplies = [model for model in self.supplies if row.load_uw <= (model.usable_uw or 0)]
        if self.supplies:
            return None
        return self._too_much(row, "supply-watts", row.load_uw / 1e6, most_uw / 1e6, "W", "a supply of {} W")


_AT = {
    "channel-current": "on one channel",
    "bank-current": "through one bank",
    "output-current": "from one output",
    "supply-watts": "from one supply",
}


def _none_owned(problem: Problem, row: Row, kinds: _Kinds) -> Reason | None:
    """Kinds that would do exist, but the production has no unit of any."""
    if not _owned(problem.supplies, kinds.supplies):
        return _supply_stock(row, kinds, 0.0)
    if row.channels and not _owned(problem.decoders, kinds.decoders):
        return _decoder_stock(row, kinds)
    return None


def _owned(units: Sequence[object], kinds: Sequence[SupplyModel] | Sequence[DecoderModel]) -> bool:
    able = {model.tag for model in kinds}
    return any(getattr(unit, "model", "") in able for unit in units)


def _none_in_reach(problem: Problem, row: Row, kinds: _Kinds) -> Reason | None:
    """Units that would do stand where the block may not be fed from, or not together."""
    supplies = {m.tag for m in kinds.supplies}
    decoders = {m.tag for m in kinds.decoders}
    racks = {unit.tag: unit.site for unit in problem.supplies if unit.model in supplies}
    boxes = {unit.tag: unit.site for unit in problem.decoders if unit.model in decoders}
    at = [*row.block.sites]
    if not at:
        return Reason(
            "site",
            None,
            None,
            "",
            "no place is named that it may be fed from",
            "say where its gear may stand",
        )
    for gear in (racks, boxes) if row.channels else (racks,):
        if not any(site in ("", *at) for site in gear.values()):
            tag, site = min(gear.items())
            return _wrong_site(row, f"{tag} stands at {site or 'no place'}", tag)
    together = {site for site in at if any(s in ("", site) for s in racks.values())}
    if row.channels and not any(s == "" or s in together for s in boxes.values()):
        return _wrong_site(row, "no supply and decoder stand together there", min(boxes))
    if row.channels and not any(any(s in ("", site) for s in boxes.values()) for site in together):
        return _wrong_site(row, "no supply and decoder stand together there", min(boxes))
    return None


def _wrong_site(row: Row, because: str, tag: str) -> Reason:
    named = _any_of(row.block.sites)
    return Reason("site", None, None, "", f"may be fed from {named}, and {because}", f"move {tag} to {named}")


def _supply_stock(row: Row, kinds: _Kinds, best_w: float) -> Reason:
    need_w = row.load_uw / 1e6
    need, best = _pair(need_w, best_w)
    cheapest = min(kinds.supplies, key=lambda model: (model.cost, model.tag))
    room = f"; the most left on one output is {best} W" if best_w > 0 else ""
    return Reason(
        "supply-stock",
        need_w,
        max(best_w, 0.0),
        "W",
        f"needs 1 of {_any_of(m.tag for m in kinds.supplies)} ({need} W); 0 left{room}",
        f"one more {cheapest.tag}, or a supply of at least {need} W at {said(_volts(row.block.class_mv))} V",
    )


def _decoder_stock(row: Row, kinds: _Kinds) -> Reason:
    cheapest = min(kinds.decoders, key=lambda model: (model.cost, model.tag))
    amps = said(_amps(row.peak_uw, row.block.class_mv))
    word = "channel" if row.channels == 1 else "channels"
    return Reason(
        "decoder-stock",
        1.0,
        0.0,
        "",
        f"needs 1 of {_any_of(m.tag for m in kinds.decoders)} ({row.channels} {word} × {amps} A); 0 left",
        f"one more {cheapest.tag}",
    )


def _held_by_a_lock(
    problem: Problem, feeds: Sequence[Feed], row: Row, sites: Mapping[str, str] | None
) -> Reason | None:
    """One locked feed stands in the way, and would find another place if it were free to."""
    locked = {was.run: was for was in problem.installed if was.locked}
    for feed in feeds:
        if feed.run not in locked:
            continue
        room = Room(problem, [other for other in feeds if other.run != feed.run], sites)
        held = Row(room.block_of[feed.run], (room.run_of[feed.run],))
        if any(_both(problem, feeds, feed, row, held, place, sites) for place in _few(room.places(row))):
            where = f"{feed.decoder} from channel {feed.first_channel}" if feed.decoder else feed.supply
            return Reason(
                "lock",
                None,
                None,
                "",
                f"{feed.run} is locked to {where}, on {feed.supply}/{feed.output}",
                f"unlock {feed.run}: it has room elsewhere",
            )
    return None


def _both(
    problem: Problem,
    feeds: Sequence[Feed],
    feed: Feed,
    row: Row,
    held: Row,
    place: Place,
    sites: Mapping[str, str] | None,
) -> bool:
    room = Room(problem, [other for other in feeds if other.run != feed.run], sites)
    room.put(row, place)
    return bool(room.places(held))


def _few(places: Sequence[Place], most: int = 8) -> Sequence[Place]:
    """The first place on each of a few different outputs."""
    first: dict[tuple[str, int], Place] = {}
    for place in places:
        first.setdefault((place.supply, place.output), place)
    return list(first.values())[:most]


def _nothing_left(problem: Problem, room: Room, row: Row) -> Reason:
    """What is left does not do: no supply, no decoder, or not both together."""
    kinds = _Kinds(problem.supply_models, problem.decoder_models)
    kinds.narrow(row)
    able = {model.tag for model in kinds.supplies}
    outputs = [
        rack.left_uw(output)
        for rack in room.racks.values()
        if rack.model.tag in able and rack.site in ("", *row.block.sites)
        for output in range(1, len(rack.outputs_uw) + 1)
    ]
    most_uw = max(outputs, default=0)
    if most_uw < row.load_uw:
        return _supply_stock(row, kinds, most_uw / 1e6)
    if row.channels and not any(bank.gap(row.channels) is not None for _, bank in room.banks_for(row)):
        return _decoder_stock(row, kinds)
    return _packing(room, row, kinds, most_uw)


def _packing(room: Room, row: Row, kinds: _Kinds, most_uw: int) -> Reason:
    need = said(row.load_uw / 1e6)
    if room.places(row):
        return Reason(
            "packing",
            row.load_uw / 1e6,
            most_uw / 1e6,
            "W",
            f"{need} W would fit, but the search ended before it was placed",
            "allocate again with more effort",
        )
    decoder = min(kinds.decoders, key=lambda model: (model.cost, model.tag)).tag if row.channels else ""
    supply = min(kinds.supplies, key=lambda model: (model.cost, model.tag)).tag
    return Reason(
        "packing",
        row.load_uw / 1e6,
        most_uw / 1e6,
        "W",
        f"{need} W: {said(most_uw / 1e6)} W are left on one output and {row.channels} channels on a bank, "
        "but not on the same",
        f"one more {decoder or supply}" + (f" or {supply}" if decoder else ""),
    )
