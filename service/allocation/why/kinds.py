"""Whether the kinds of gear the house knows would do for a row, limit after limit; and what would.

A limit is on one side, the supply's or the decoder's. With gear that is wanted on one side taken as given,
the other side can be asked by itself: what binds next is told with what binds first.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from service.allocation.change.room import Row
from service.allocation.problem import Block, DecoderModel, Problem, Run, Shares, Source, SupplyModel, Unfed
from service.allocation.why.words import amps, any_of, at_least, counted, micro_amps, pair, said, volts
from service.limits.blanks import missing


class Side(StrEnum):
    SUPPLY = "supply"
    DECODER = "decoder"
    NEITHER = "neither"  # where they stand, what is locked, what nobody entered


@dataclass(frozen=True, slots=True)
class Reason:
    """The limit that binds; `value` against `bound` in `unit`, in words, and what would mend it.

    `side`: the side whose gear the mend would add. `is_size`: the row is too large, and two parts of it
    might not be. `then`: what would bind next, with its mend.
    """

    limit: str
    value: float | None
    bound: float | None
    unit: str
    because: str
    mend: str
    side: Side = Side.NEITHER
    is_size: bool = False
    then: str = ""

    def unfed(self, run: Run, block: Block) -> Unfed:
        return Unfed(
            run.tag,
            block.tag,
            self.limit,
            self.value,
            self.bound,
            self.unit,
            self.because,
            self.mend,
            self.then,
        )


Check = Callable[[Row], Reason | None]


class Kinds:
    """Kinds of supply and decoder still in question, fewer with each limit asked."""

    def __init__(self, problem: Problem, given: Side | None = None) -> None:
        self.supplies = list(problem.supply_models)
        self.decoders = list(problem.decoder_models)
        self.shares = problem.shares
        self.given = given  # the side whose gear is taken as given
        # Of the right sort, before anybody asks how much they carry.
        self.right: tuple[list[SupplyModel], list[DecoderModel]] = ([], [])

    def narrow(self, row: Row) -> Reason | None:
        """The first limit that no kind passes. What is left afterwards would do."""
        for side, ask in self._asked(row):
            reason = None if side is self.given else ask(row)
            if reason is not None:
                return reason
        return None

    def _asked(self, row: Row) -> Iterator[tuple[Side, Check]]:
        yield Side.SUPPLY, self._voltage
        if row.channels:
            for ask in (self._voltage_through, self._polarity, self._signal, self._link):
                yield Side.DECODER, ask
        yield Side.SUPPLY, self._source
        yield Side.NEITHER, self._known
        if row.channels:
            for ask in (self._channel, self._count, self._bank):
                yield Side.DECODER, ask
        for ask in (self._output, self._watts):
            yield Side.SUPPLY, ask

    # What kind of gear

    def _voltage(self, row: Row) -> Reason | None:
        block, offered = row.block, sorted({model.class_mv for model in self.supplies})
        self.supplies = [model for model in self.supplies if model.class_mv == block.class_mv]
        if self.supplies:
            return None
        because = f"{volts(block.class_mv)} tape, and the supplies give {any_of(volts(mv) for mv in offered)}"
        return Reason(
            "voltage", *_against(block.class_mv, offered), "V", because,
            supply_wanted(row, self.shares), Side.SUPPLY,
        )  # fmt: skip

    def _voltage_through(self, row: Row) -> Reason | None:
        class_mv, before = row.block.class_mv, self.decoders
        self.decoders = [m for m in before if m.min_mv <= class_mv <= m.max_mv]
        if self.decoders:
            return None
        ranges = any_of(f"{said(m.min_mv / 1000)} to {volts(m.max_mv)}" for m in before)
        ends = [mv for model in before for mv in (model.min_mv, model.max_mv)]
        mend = decoder_wanted(row, self.shares, f"a decoder that takes {volts(class_mv)}")
        because = f"{volts(class_mv)} tape, and the decoders take {ranges}"
        return Reason("voltage", *_against(class_mv, ends), "V", because, mend, Side.DECODER)

    def _keep_decoders(
        self,
        row: Row,
        keeps: Callable[[DecoderModel], bool],
        limit: str,
        because: Callable[[list[DecoderModel]], str],
        what: str,
    ) -> Reason | None:
        before = self.decoders
        self.decoders = [model for model in before if keeps(model)]
        if self.decoders:
            return None
        mend = decoder_wanted(row, self.shares, what)
        return Reason(limit, None, None, "", because(before), mend, Side.DECODER)

    def _polarity(self, row: Row) -> Reason | None:
        common = row.block.polarity
        return self._keep_decoders(
            row,
            lambda model: model.polarity == common,
            "polarity",
            lambda before: f"common {common} tape, and {any_of(m.tag for m in before)} is for the other",
            f"a decoder for common {common} tape",
        )

    def _signal(self, row: Row) -> Reason | None:
        signal = row.block.signal
        return self._keep_decoders(
            row,
            lambda model: model.signal is signal,
            "signal",
            lambda before: f"wants {signal} signal, and {any_of(m.tag for m in before)} gives another",
            f"a decoder that gives {signal} signal",
        )

    def _link(self, row: Row) -> Reason | None:
        links = row.block.links
        named = any_of(str(link) for link in links)
        reason = self._keep_decoders(
            row,
            lambda model: model.link in links,
            "link",
            lambda before: f"takes {named} control, and {any_of(m.tag for m in before)} is {before[0].link}",
            f"a {named} decoder",
        )
        return reason and _or_a_cable(reason)

    def _source(self, row: Row) -> Reason | None:
        before, sources = self.supplies, row.block.sources
        self.supplies = [model for model in before if model.source in sources]
        if self.supplies:
            return None
        named = any_of(str(source) for source in sources)
        there = any_of(str(model.source) for model in before)
        because = (
            f"may be fed from a {named} only, and at {volts(row.block.class_mv)} there is only a {there}"
        )
        mend = supply_wanted(row, self.shares)
        return _or_a_cable(Reason("source", None, None, "", because, mend, Side.SUPPLY))

    def _known(self, row: Row) -> Reason | None:
        """Limits nobody has entered are as good as none: such gear is never chosen."""
        supplies, decoders = self.supplies, self.decoders
        self.supplies = [m for m in supplies if m.usable_uw is not None and any(m.outputs_ua)]
        self.decoders = [m for m in decoders if m.channel_ua and any(b.usable_ua for b in m.banks)]
        self.right = (self.supplies, self.decoders)
        blank: list[SupplyModel | DecoderModel] = []
        if not self.supplies and self.given is not Side.SUPPLY:
            blank += supplies
        if row.channels and not self.decoders and self.given is not Side.DECODER:
            blank += decoders
        if not blank:
            return None
        what, mend = missing({m.tag: m.blank for m in blank})
        because = f"only {any_of(m.tag for m in blank)} would do, and {what}"
        return Reason("not-known", None, None, "", because, mend)

    # How much it carries

    def _channel(self, row: Row) -> Reason | None:
        most_ua = max(model.channel_ua or 0 for model in self.decoders)
        self.decoders = [model for model in self.decoders if _channel_holds(model, row)]
        if self.decoders:
            return None
        value = amps(row.peak_uw, row.block.class_mv)
        return self._small_decoder("channel-current", value, most_ua / 1e6, "on one channel", row)

    def _count(self, row: Row) -> Reason | None:
        most = max(bank.channels for model in self.decoders for bank in model.banks)
        self.decoders = [model for model in self.decoders if _has_channels(model, row)]
        if self.decoders:
            return None
        because = f"{counted(row.channels, 'channel')} in a row > {most} on one bank"
        mend = decoder_wanted(row, self.shares, among=self.right[1])
        return Reason("channel-count", float(row.channels), float(most), "", because, mend, Side.DECODER)

    def _bank(self, row: Row) -> Reason | None:
        wide = [bank for model in self.decoders for bank in model.banks if bank.channels >= row.channels]
        self.decoders = [model for model in self.decoders if _bank_holds(model, row)]
        if self.decoders:
            return None
        value, bound = amps(row.load_uw, row.block.class_mv), max(bank.usable_ua or 0 for bank in wide) / 1e6
        return self._small_decoder("bank-current", value, bound, "through one bank", row)

    def _output(self, row: Row) -> Reason | None:
        most_ua = max(ua or 0 for model in self.supplies for ua in model.outputs_ua)
        self.supplies = [model for model in self.supplies if _output_holds(model, row)]
        if self.supplies:
            return None
        value = amps(row.load_uw, row.block.class_mv)
        return self._small_supply("output-current", value, most_ua / 1e6, "A", "from one output", row)

    def _watts(self, row: Row) -> Reason | None:
        most_uw = max(model.usable_uw or 0 for model in self.supplies)
        self.supplies = [model for model in self.supplies if row.load_uw <= (model.usable_uw or 0)]
        if self.supplies:
            return None
        return self._small_supply(
            "supply-watts", row.load_uw / 1e6, most_uw / 1e6, "W", "from one supply", row
        )

    def _small_decoder(self, limit: str, value: float, bound: float, where: str, row: Row) -> Reason:
        high, low = pair(value, bound)
        mend = decoder_wanted(row, self.shares, among=self.right[1])
        because = f"{high} A > {low} A {where}"
        return Reason(limit, value, bound, "A", because, mend, Side.DECODER, is_size=True)

    def _small_supply(
        self, limit: str, value: float, bound: float, unit: str, where: str, row: Row
    ) -> Reason:
        high, low = pair(value, bound)
        mend = supply_wanted(row, self.shares, self.right[0])
        because = f"{high} {unit} > {low} {unit} {where}"
        return Reason(limit, value, bound, unit, because, mend, Side.SUPPLY, is_size=True)


def supply_wanted(row: Row, shares: Shares, among: Sequence[SupplyModel] = ()) -> str:
    """A source that would feed the row, with the figures on its label.

    `among`: kinds that have the voltage; amps an output are only named where one of them lacks those.
    A battery is chosen by its amps: what it may give is not derated.
    """
    class_mv, sources = row.block.class_mv, row.block.sources
    needed_ua = micro_amps(row.load_uw, class_mv)
    if Source.SUPPLY not in sources:
        return f"a {volts(class_mv)} battery that gives {at_least(needed_ua, 'A', 1.0)}"
    named = any_of(str(source) for source in sources)
    text = f"a {volts(class_mv)} {named} of {at_least(row.load_uw, 'W', shares.supply)}"
    if all(_output_holds(model, row) for model in among):
        return text
    return f"{text} and {at_least(needed_ua, 'A an output', shares.output)}"


def decoder_wanted(
    row: Row, shares: Shares, what: str = "a decoder", among: Sequence[DecoderModel] = ()
) -> str:
    """A decoder that would feed the row, with the figures on its label.

    `among`: kinds of the right sort; only the figures that one of them lacks are named, or all of them.
    """
    class_mv, figures = row.block.class_mv, []
    if not all(_has_channels(model, row) for model in among) or (not among and row.channels > 1):
        figures.append(f"{counted(row.channels, 'channel')} on one bank")
    if not all(_channel_holds(model, row) for model in among) or not among:
        figures.append(at_least(micro_amps(row.peak_uw, class_mv), "A a channel", shares.channel))
    if not all(_bank_amps_hold(model, row) for model in among) or (not among and row.load_uw > row.peak_uw):
        figures.append(at_least(micro_amps(row.load_uw, class_mv), "A a bank", shares.bank))
    head = ", ".join(figures[:-1])
    return f"{what} with {head} and {figures[-1]}" if head else f"{what} with {figures[-1]}"


def _against(class_mv: int, offered: Sequence[int]) -> tuple[float, float | None]:
    """The voltage that is wanted and the nearest that there is, in V."""
    nearest = min(offered, key=lambda mv: (abs(mv - class_mv), mv), default=None)
    return class_mv / 1000, None if nearest is None else nearest / 1000


def _or_a_cable(reason: Reason) -> Reason:
    """What moves alone could also be fed along a cable that travels with it."""
    return replace(reason, mend=f"{reason.mend}, or a travelling cable")


def _channel_holds(model: DecoderModel, row: Row) -> bool:
    return row.peak_uw * 1000 <= row.block.class_mv * (model.channel_ua or 0)


def _has_channels(model: DecoderModel, row: Row) -> bool:
    return any(bank.channels >= row.channels for bank in model.banks)


def _bank_holds(model: DecoderModel, row: Row) -> bool:
    return any(
        bank.channels >= row.channels and row.load_uw * 1000 <= row.block.class_mv * (bank.usable_ua or 0)
        for bank in model.banks
    )


def _bank_amps_hold(model: DecoderModel, row: Row) -> bool:
    """The amps alone, of a decoder whose banks all have too few channels."""
    if _has_channels(model, row):
        return _bank_holds(model, row)
    return any(row.load_uw * 1000 <= row.block.class_mv * (bank.usable_ua or 0) for bank in model.banks)


def _output_holds(model: SupplyModel, row: Row) -> bool:
    return any(row.load_uw * 1000 <= row.block.class_mv * (ua or 0) for ua in model.outputs_ua)
