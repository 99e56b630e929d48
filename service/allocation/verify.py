"""The rules of feeding again, without the solver and in the same whole numbers.

Nothing here is shared with what produced the answer; when nothing is wrong so far, the limits of the house
are asked as well. A feed that stands as it was installed may be over a limit (it stays and is reported
elsewhere), but nothing may be added to what is over, and with `mend` only a locked feed is let off.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

from service.allocation.facts import over_limits
from service.allocation.problem import (
    Answer,
    Bank,
    Block,
    DecoderModel,
    Feed,
    Installed,
    Problem,
    Run,
    SupplyModel,
    Unit,
)


def faults(problem: Problem, answer: Answer) -> list[str]:
    """Every rule the answer breaks, one sentence each; empty when it may be stored."""
    plan = _Plan(problem, answer)
    found = [*_everything_named_is_there(plan)]
    if found:
        return found
    rules = (
        _every_run_once,
        _locks_are_kept,
        _kinds_go_together,
        _gear_stands_where_it_may,
        _rows_lie_in_one_bank,
        _rows_do_not_cross,
        _one_output_feeds_a_bank,
        _channels_carry_their_current,
        _banks_carry_their_current,
        _outputs_carry_their_current,
        _supplies_carry_their_watts,
        _the_figures_are_true,
    )
    return [fault for rule in rules for fault in rule(plan)] or [*_the_limits_of_the_house_hold(plan)]


@dataclass(frozen=True)
class _Plan:
    """The answer's feeds beside what they speak of."""

    problem: Problem
    answer: Answer

    @cached_property
    def runs(self) -> dict[str, Run]:
        return {run.tag: run for block in self.problem.blocks for run in block.runs}

    @cached_property
    def block_of(self) -> dict[str, Block]:
        return {run.tag: block for block in self.problem.blocks for run in block.runs}

    @cached_property
    def supplies(self) -> dict[str, Unit]:
        return {unit.tag: unit for unit in self.problem.supplies}

    @cached_property
    def decoders(self) -> dict[str, Unit]:
        return {unit.tag: unit for unit in self.problem.decoders}

    @cached_property
    def installed(self) -> dict[str, Installed]:
        return {row.run: row for row in self.problem.installed}

    def supply_model(self, tag: str) -> SupplyModel:
        return next(m for m in self.problem.supply_models if m.tag == self.supplies[tag].model)

    def decoder_model(self, tag: str) -> DecoderModel:
        return next(m for m in self.problem.decoder_models if m.tag == self.decoders[tag].model)

    def stands(self, feed: Feed) -> bool:
        """The feed is as it was installed."""
        was = self.installed.get(feed.run)
        return was is not None and _same(was, feed)

    def let_off(self, feed: Feed) -> bool:
        """A limit broken by this feed is not the answer's doing."""
        was = self.installed.get(feed.run)
        if was is None or not _same(was, feed):
            return False
        return was.locked or not self.problem.mend or feed.run in self.rooted

    @cached_property
    def rooted(self) -> frozenset[str]:
        """Installed runs, with those on the same channels, that may be fed from nowhere: they stay."""
        rows: dict[tuple[str, str, int, str, int], list[Run]] = defaultdict(list)
        for was in self.problem.installed:
            if was.run in self.runs:
                at = (was.supply, was.output, was.decoder, was.first_channel)
                rows[self.block_of[was.run].tag, *at].append(self.runs[was.run])
        return frozenset(
            run.tag
            for row in rows.values()
            if not any(all(_is_near(run, site) for run in row) for site in self.block_of[row[0].tag].sites)
            for run in row
        )

    def bank_of(self, feed: Feed) -> Bank | None:
        """The bank that holds the whole row, if one does."""
        for bank in self.decoder_model(feed.decoder).banks:
            last = bank.first_channel + bank.channels
            if bank.first_channel <= feed.first_channel and feed.first_channel + feed.channels <= last:
                return bank
        return None

    def by_bank(self) -> dict[tuple[str, int], list[Feed]]:
        """Feeds through each bank; a row that lies in no bank is told elsewhere."""
        groups: dict[tuple[str, int], list[Feed]] = defaultdict(list)
        for feed in self.answer.feeds:
            bank = self.bank_of(feed) if feed.decoder else None
            if bank is not None:
                groups[feed.decoder, bank.first_channel].append(feed)
        return groups

    def over(self, feeds: Iterable[Feed], total_uw: int, class_mv: int, limit_ua: int | None) -> bool:
        """More current than the limit, or a limit nobody knows, and not all of it installed so.

        Microwatts over millivolts are milliamperes, so both sides are multiplied out: no division.
        """
        feeds = list(feeds)
        if all(self.let_off(feed) for feed in feeds):
            return False
        if limit_ua is None:
            return not all(self.stands(feed) for feed in feeds)
        return total_uw * 1000 > class_mv * limit_ua

    def load_uw(self, feeds: Iterable[Feed]) -> int:
        return sum(self.runs[feed.run].load_uw for feed in feeds)


def _is_near(run: Run, site: str) -> bool:
    """The run's lead from there is no longer than its volts and its wire let it be."""
    if run.reach is None:
        return True
    lead_um = dict(run.reach.from_um).get(site, run.reach.lead_um)
    return run.reach.longest_um >= 0 and (lead_um is None or lead_um <= run.reach.longest_um)


def _same(was: Installed, feed: Feed) -> bool:
    place = (was.supply, was.output, was.decoder)
    if place != (feed.supply, feed.output, feed.decoder):
        return False
    return not was.decoder or was.first_channel == feed.first_channel


def _everything_named_is_there(plan: _Plan) -> Iterator[str]:
    for feed in plan.answer.feeds:
        if feed.run not in plan.runs:
            yield f"{feed.run}: fed, but there is no such run"
        if feed.supply not in plan.supplies:
            yield f"{feed.run}: there is no supply {feed.supply}"
        elif not 1 <= feed.output <= len(plan.supply_model(feed.supply).outputs_ua):
            yield f"{feed.run}: {feed.supply} has no output {feed.output}"
        if feed.decoder and feed.decoder not in plan.decoders:
            yield f"{feed.run}: there is no decoder {feed.decoder}"


def _every_run_once(plan: _Plan) -> Iterator[str]:
    """Fed once or left dark once, never both, never forgotten."""
    told = Counter([feed.run for feed in plan.answer.feeds] + [dark.run for dark in plan.answer.unfed])
    for run in sorted(plan.runs):
        if told[run] != 1:
            yield f"{run}: told {told[run]} times, must be fed once or left dark once"
    for run in sorted(set(told) - set(plan.runs)):
        yield f"{run}: left dark, but there is no such run"


def _locks_are_kept(plan: _Plan) -> Iterator[str]:
    """A locked feed is as it was, as long as its gear is there."""
    feeds = {feed.run: feed for feed in plan.answer.feeds}
    for was in plan.problem.installed:
        if not was.locked or was.run not in plan.runs or _orphan(plan, was):
            continue
        if was.run not in feeds or not _same(was, feeds[was.run]):
            yield f"{was.run}: locked, but not fed as it was"


def _orphan(plan: _Plan, was: Installed) -> bool:
    return was.supply not in plan.supplies or bool(was.decoder and was.decoder not in plan.decoders)


def _kinds_go_together(plan: _Plan) -> Iterator[str]:
    """Voltage, polarity, signal, link, kind of source, and the number of channels are the block's own."""
    for feed in plan.answer.feeds:
        if plan.let_off(feed):
            continue
        block, supply = plan.block_of[feed.run], plan.supply_model(feed.supply)
        if supply.class_mv != block.class_mv:
            yield f"{feed.run}: {block.class_mv} mV tape on {supply.class_mv} mV supply {feed.supply}"
        if supply.source not in block.sources:
            yield f"{feed.run}: {supply.source} {feed.supply} may not feed it"
        if feed.channels != block.channels:
            yield f"{feed.run}: {feed.channels} channels, needs {block.channels}"
        if bool(feed.decoder) != bool(block.channels):
            yield f"{feed.run}: {'needs a decoder' if block.channels else 'goes straight on an output'}"
        if feed.decoder:
            supply = plan.supply_model(feed.supply)
            yield from _decoder_is_of_the_kind(feed, block, plan.decoder_model(feed.decoder), supply)


def _decoder_is_of_the_kind(
    feed: Feed, block: Block, decoder: DecoderModel, supply: SupplyModel
) -> Iterator[str]:
    given_mv = supply.output_mv or supply.class_mv
    if not decoder.min_mv <= given_mv <= decoder.max_mv:
        yield f"{feed.run}: {given_mv} mV is outside what {feed.decoder} takes"
    if decoder.polarity != block.polarity:
        yield f"{feed.run}: {block.polarity} tape on {decoder.polarity} decoder {feed.decoder}"
    if decoder.signal is not block.signal:
        yield f"{feed.run}: {block.signal} tape on {decoder.signal} decoder {feed.decoder}"
    if decoder.link not in block.links:
        yield f"{feed.run}: a {decoder.link} decoder may not feed it"


def _gear_stands_where_it_may(plan: _Plan) -> Iterator[str]:
    """Each unit has one place, its own if it stands already, and all it feeds may be fed from there."""
    for feed in plan.answer.feeds:
        units = [plan.supplies[feed.supply], *([plan.decoders[feed.decoder]] if feed.decoder else [])]
        for unit in units:
            site = plan.answer.sites.get(unit.tag)
            if site is None:
                yield f"{feed.run}: {unit.tag} has no place"
            elif unit.site and site != unit.site:
                yield f"{unit.tag}: stands at {unit.site}, planned at {site}"
            elif site not in plan.block_of[feed.run].sites and not plan.let_off(feed):
                yield f"{feed.run}: may not be fed from {unit.tag} at {site or 'no place'}"
            elif not _is_near(plan.runs[feed.run], site) and not plan.let_off(feed):
                yield f"{feed.run}: its lead would be too long from {unit.tag} at {site}"
        places = {plan.answer.sites.get(unit.tag) for unit in units}
        if len(places) > 1 and not plan.let_off(feed):
            yield f"{feed.run}: {feed.supply} and {feed.decoder} stand in different places"


def _rows_lie_in_one_bank(plan: _Plan) -> Iterator[str]:
    for feed in plan.answer.feeds:
        if feed.decoder and plan.bank_of(feed) is None and not plan.let_off(feed):
            yield f"{feed.run}: channels from {feed.first_channel} do not lie in one bank of {feed.decoder}"


def _rows_do_not_cross(plan: _Plan) -> Iterator[str]:
    """A channel serves one emitter of one block: rows are shared whole or not at all."""
    users: dict[tuple[str, int], set[tuple[str, int]]] = defaultdict(set)
    standing: dict[tuple[str, int], bool] = defaultdict(lambda: True)
    for feed in plan.answer.feeds:
        if not feed.decoder:
            continue
        for channel in range(feed.first_channel, feed.first_channel + feed.channels):
            users[feed.decoder, channel].add((plan.block_of[feed.run].tag, feed.first_channel))
            standing[feed.decoder, channel] &= plan.let_off(feed)
    for (decoder, channel), blocks in sorted(users.items()):
        if len(blocks) > 1 and not standing[decoder, channel]:
            yield f"{decoder} channel {channel}: {' and '.join(sorted(tag for tag, _ in blocks))} cross"


def _one_output_feeds_a_bank(plan: _Plan) -> Iterator[str]:
    for (decoder, first), feeds in sorted(plan.by_bank().items()):
        outputs = {(feed.supply, feed.output) for feed in feeds}
        if len(outputs) > 1 and not all(plan.let_off(feed) for feed in feeds):
            names = " and ".join(f"{supply}/{output}" for supply, output in sorted(outputs))
            yield f"{decoder}, bank from channel {first}: {names} meet"


def _channels_carry_their_current(plan: _Plan) -> Iterator[str]:
    """Runs on the same channels add up, emitter by emitter."""
    rows: dict[tuple[str, int], list[Feed]] = defaultdict(list)
    for feed in plan.answer.feeds:
        if feed.decoder:
            rows[feed.decoder, feed.first_channel].append(feed)
    for (decoder, first), feeds in sorted(rows.items()):
        class_mv = plan.block_of[feeds[0].run].class_mv
        limit_ua = plan.decoder_model(decoder).channel_ua
        for offset in range(max(feed.channels for feed in feeds)):
            total_uw = sum(sum(plan.runs[feed.run].channel_uw[offset : offset + 1]) for feed in feeds)
            if plan.over(feeds, total_uw, class_mv, limit_ua):
                where = f"{decoder} channel {first + offset}"
                yield f"{where}: {total_uw} uW at {class_mv} mV, limit {limit_ua} uA"


def _banks_carry_their_current(plan: _Plan) -> Iterator[str]:
    for (decoder, first), feeds in sorted(plan.by_bank().items()):
        bank = next(b for b in plan.decoder_model(decoder).banks if b.first_channel == first)
        class_mv, total_uw = plan.block_of[feeds[0].run].class_mv, plan.load_uw(feeds)
        if plan.over(feeds, total_uw, class_mv, bank.usable_ua):
            where = f"{decoder}, bank from channel {first}"
            yield f"{where}: {total_uw} uW at {class_mv} mV, limit {bank.usable_ua} uA"


def _outputs_carry_their_current(plan: _Plan) -> Iterator[str]:
    outputs: dict[tuple[str, int], list[Feed]] = defaultdict(list)
    for feed in plan.answer.feeds:
        outputs[feed.supply, feed.output].append(feed)
    for (supply, output), feeds in sorted(outputs.items()):
        model = plan.supply_model(supply)
        limit_ua, total_uw = model.outputs_ua[output - 1], plan.load_uw(feeds)
        if plan.over(feeds, total_uw, model.class_mv, limit_ua):
            yield f"{supply}/{output}: {total_uw} uW at {model.class_mv} mV, limit {limit_ua} uA"


def _supplies_carry_their_watts(plan: _Plan) -> Iterator[str]:
    supplies: dict[str, list[Feed]] = defaultdict(list)
    for feed in plan.answer.feeds:
        supplies[feed.supply].append(feed)
    for supply, feeds in sorted(supplies.items()):
        limit_uw, total_uw = plan.supply_model(supply).usable_uw, plan.load_uw(feeds)
        if all(plan.let_off(feed) for feed in feeds):
            continue
        if total_uw > limit_uw if limit_uw is not None else not all(plan.stands(feed) for feed in feeds):
            yield f"{supply}: {total_uw} uW, limit {limit_uw} uW"


def _the_figures_are_true(plan: _Plan) -> Iterator[str]:
    """What the answer says of itself: what moved, what is dark, what it costs, what is split."""
    answer, rows = plan.answer, [row for row in plan.problem.installed if row.run in plan.runs]
    fed = {feed.run: feed for feed in answer.feeds}
    orphans = {row.run for row in rows if _orphan(plan, row)}
    moved = {r.run for r in rows if r.run in fed and r.run not in orphans and not _same(r, fed[r.run])}
    dark: Counter[int] = Counter()
    for unfed in answer.unfed:
        dark[plan.block_of[unfed.run].priority] += plan.runs[unfed.run].load_uw
    told = (
        ("moved", set(answer.moved), moved),
        ("refed", set(answer.refed), orphans & set(fed)),
        ("unfed_uw", +Counter(answer.unfed_uw), dark),
        ("split", set(answer.split) & _spread(plan), _spread(plan)),
        ("cost", answer.cost, _cost(plan)),
    )
    for name, says, counted in told:
        if says != counted:
            yield f"{name}: the answer says {says}, the feeds say {counted}"
    if answer.bound > answer.cost:
        yield f"bound {answer.bound} is above the cost {answer.cost}"


def _spread(plan: _Plan) -> set[str]:
    """Blocks that the answer put on more than one row of channels."""
    rows: dict[str, set[tuple[str, int]]] = defaultdict(set)
    anew = {plan.block_of[feed.run].tag for feed in plan.answer.feeds if not plan.stands(feed)}
    for feed in plan.answer.feeds:
        if feed.decoder:
            rows[plan.block_of[feed.run].tag].add((feed.decoder, feed.first_channel))
    return {tag for tag in anew if len(rows[tag]) > 1}


def _cost(plan: _Plan) -> int:
    """Weight of the units used that did not stand there before."""
    rows = [row for row in plan.problem.installed if row.run in plan.runs]
    standing = {tag for row in rows for tag in (row.supply, row.decoder)}
    supplies = {feed.supply for feed in plan.answer.feeds} - standing
    decoders = {feed.decoder for feed in plan.answer.feeds if feed.decoder} - standing
    return sum(plan.supply_model(tag).cost for tag in supplies if not plan.supplies[tag].site) + sum(
        plan.decoder_model(tag).cost for tag in decoders if not plan.decoders[tag].site
    )


def _the_limits_of_the_house_hold(plan: _Plan) -> Iterator[str]:
    """Asked of the registry that every report reads, so that a plan and a report cannot disagree."""
    feeds = {feed.run: feed for feed in plan.answer.feeds}
    for finding in over_limits(plan.problem, plan.answer):
        if not all(plan.let_off(feeds[run]) for run in finding.elements if run in feeds):
            yield f"{finding.code}: {finding.message}"
