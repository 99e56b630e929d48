"""The best plan of a tiny problem, found by trying everything: no solver, no bound, no cleverness.

A row is what must share channels: a block's runs in as few rows as any gear there allows. Each row is
tried dark, and on every output, bank and position. Keys compare as the aims do: watts left dark by
priority, then runs moved, then runs that leave their channels, then the gear's weight.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from service.allocation.problem import Block, DecoderModel, Feed, Installed, Problem, Run, SupplyModel, Unit

Key = tuple[tuple[int, ...], int, int, int]
Row = tuple[Block, tuple[Run, ...]]
Choice = tuple[Unit, int, Unit | None, int, str]


@dataclass
class Best:
    """The best of all plans: what it leaves dark, moves, displaces and costs, and one plan that does it."""

    key: Key
    feeds: tuple[Feed, ...]
    sites: dict[str, str]
    tried: int


@dataclass
class _State:
    problem: Problem
    supply_uw: dict[str, int] = field(default_factory=dict)
    output_uw: dict[tuple[str, int], int] = field(default_factory=dict)
    bank_uw: dict[tuple[str, int], int] = field(default_factory=dict)
    bank_output: dict[tuple[str, int], tuple[str, int]] = field(default_factory=dict)
    channels: set[tuple[str, int]] = field(default_factory=set)
    sites: dict[str, str] = field(default_factory=dict)
    feeds: list[Feed] = field(default_factory=list)
    uses: dict[str, int] = field(default_factory=dict)


class Everything:
    """One pass over all plans of a problem."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.supply_models = {model.tag: model for model in problem.supply_models}
        self.decoder_models = {model.tag: model for model in problem.decoder_models}
        runs = {run.tag for block in problem.blocks for run in block.runs}
        self.installed = {row.run: row for row in problem.installed if row.run in runs}
        self.there = {unit.tag for unit in (*problem.supplies, *problem.decoders)}
        self.standing = {tag for row in self.installed.values() for tag in (row.supply, row.decoder)}
        self.priorities = sorted({block.priority for block in problem.blocks})
        self.best: Best | None = None
        self.tried = 0

    def search(self) -> Best:
        rows: list[Row] = []
        dark = dict.fromkeys(self.priorities, 0)
        groupings: list[list[list[Row]]] = []
        for block in sorted(self.problem.blocks, key=lambda each: (each.priority, each.tag)):
            able = tuple(run for run in block.runs if self._could(block, (run,)))
            dark[block.priority] += sum(run.load_uw for run in block.runs if run not in able)
            groupings.append([[(block, part) for part in parts] for parts in self._fewest(block, able)])
        for rows in _one_of_each(groupings):
            self._place(rows, 0, _State(self.problem), (self._dark(dark), 0, 0, 0), dark)
        assert self.best is not None
        self.best.tried = self.tried
        return self.best

    def _fewest(self, block: Block, runs: tuple[Run, ...]) -> list[list[tuple[Run, ...]]]:
        for count in range(len(runs) + 1):
            ways = [w for w in _partitions(runs, count) if all(self._could(block, part) for part in w)]
            if ways:
                return ways
        return [[]]

    def _could(self, block: Block, runs: tuple[Run, ...]) -> bool:
        """Some output and some bank there are could carry these runs on one row, were nothing else on."""
        return any(True for _ in self._choices((block, runs), _State(self.problem)))

    def _dark(self, dark: dict[int, int]) -> tuple[int, ...]:
        return tuple(dark[priority] for priority in self.priorities)

    def _place(self, rows: list[Row], at: int, state: _State, key: Key, dark: dict[int, int]) -> None:
        if self.best is not None and key >= self.best.key:
            return
        self.tried += 1
        if at == len(rows):
            self.best = Best(key, tuple(sorted(state.feeds)), dict(state.sites), 0)
            return
        block, runs = rows[at]
        for choice in self._choices(rows[at], state):
            cost, moves, displaced = self._put(rows[at], choice, state)
            self._place(
                rows, at + 1, state, (key[0], key[1] + moves, key[2] + displaced, key[3] + cost), dark
            )
            self._undo(rows[at], choice, state)
        if not any(run.tag in self.installed and self._held(self.installed[run.tag]) for run in runs):
            dark[block.priority] += sum(run.load_uw for run in runs)
            gone = sum(
                1 for run in runs if run.tag in self.installed and not self._orphan(self.installed[run.tag])
            )
            off = sum(
                1 for run in runs if run.tag in self.installed and self._has_channels(self.installed[run.tag])
            )
            self._place(rows, at + 1, state, (self._dark(dark), key[1] + gone, key[2] + off, key[3]), dark)
            dark[block.priority] -= sum(run.load_uw for run in runs)

    def _held(self, was: Installed) -> bool:
        return was.locked and not self._orphan(was)

    def _orphan(self, was: Installed) -> bool:
        return was.supply not in self.there or bool(was.decoder and was.decoder not in self.there)

    def _has_channels(self, was: Installed) -> bool:
        return bool(was.decoder) and was.decoder in self.there

    def _choices(self, row: Row, state: _State) -> Iterator[Choice]:
        block, runs = row
        held = [self.installed[run.tag] for run in runs if run.tag in self.installed]
        for supply, output, site in self._outputs(row, state):
            for decoder, first in self._channels(row, state, (supply.tag, output), site):
                choice = (supply, output, decoder, first, site)
                if all(not self._held(was) or _as_it_was(was, choice) for was in held):
                    yield choice
        del block

    def _outputs(self, row: Row, state: _State) -> Iterator[tuple[Unit, int, str]]:
        block, load_uw = row[0], sum(run.load_uw for run in row[1])
        fresh: set[tuple[str, str]] = set()
        for supply in self.problem.supplies:
            model: SupplyModel = self.supply_models[supply.model]
            if supply.tag not in self.standing and not state.uses.get(supply.tag):
                if (supply.model, supply.site) in fresh:
                    continue
                fresh.add((supply.model, supply.site))
            if (
                model.class_mv != block.class_mv
                or model.source not in block.sources
                or model.usable_uw is None
            ):
                continue
            if state.supply_uw.get(supply.tag, 0) + load_uw > model.usable_uw:
                continue
            own = state.sites.get(supply.tag) or supply.site
            for output, limit_ua in enumerate(model.outputs_ua, 1):
                on_uw = state.output_uw.get((supply.tag, output), 0) + load_uw
                if limit_ua is None or on_uw * 1000 > block.class_mv * limit_ua:
                    continue
                yield from ((supply, output, site) for site in _near(row) if own in ("", site))

    def _channels(
        self, row: Row, state: _State, output: tuple[str, int], site: str
    ) -> Iterator[tuple[Unit | None, int]]:
        block, runs = row
        if not block.channels:
            yield None, 0
            return
        fresh: set[tuple[str, str]] = set()
        for decoder in self.problem.decoders:
            model = self.decoder_models[decoder.model]
            if decoder.tag not in self.standing and not state.uses.get(decoder.tag):
                if (decoder.model, decoder.site) in fresh:
                    continue
                fresh.add((decoder.model, decoder.site))
            own = state.sites.get(decoder.tag) or decoder.site
            if own not in ("", site) or not _speaks(model, block) or model.channel_ua is None:
                continue
            peaks = [sum(run.channel_uw[n] for run in runs) for n in range(block.channels)]
            if max(peaks) * 1000 > block.class_mv * model.channel_ua:
                continue
            yield from ((decoder, first) for first in self._positions(row, state, output, decoder, model))

    def _positions(
        self, row: Row, state: _State, output: tuple[str, int], decoder: Unit, model: DecoderModel
    ) -> Iterator[int]:
        block, load_uw = row[0], sum(run.load_uw for run in row[1])
        for bank in model.banks:
            key = (decoder.tag, bank.first_channel)
            on_uw = state.bank_uw.get(key, 0) + load_uw
            if bank.usable_ua is None or on_uw * 1000 > block.class_mv * bank.usable_ua:
                continue
            if state.bank_output.get(key, output) != output:
                continue
            for first in range(bank.first_channel, bank.first_channel + bank.channels - block.channels + 1):
                if all((decoder.tag, n) not in state.channels for n in range(first, first + block.channels)):
                    yield first
                    # Nothing is installed: side by side from the first channel, no other way is better.
                    if not self.installed:
                        break

    def _put(self, row: Row, choice: Choice, state: _State) -> tuple[int, int, int]:
        block, runs = row
        supply, output, decoder, first, site = choice
        cost = 0
        for unit in (supply, decoder):
            if unit is None:
                continue
            if not state.uses.get(unit.tag) and unit.tag not in self.standing and not unit.site:
                models = self.supply_models if unit is supply else self.decoder_models
                cost += models[unit.model].cost
            state.uses[unit.tag] = state.uses.get(unit.tag, 0) + 1
            state.sites[unit.tag] = site
        self._carry(row, choice, state, +1)
        tag = decoder.tag if decoder else ""
        state.feeds += [Feed(run.tag, supply.tag, output, tag, first, block.channels) for run in runs]
        moves = displaced = 0
        for run in runs:
            was = self.installed.get(run.tag)
            if was is None:
                continue
            if not self._orphan(was):
                moves += not _as_it_was(was, choice)
            if self._has_channels(was):
                displaced += (was.decoder, was.first_channel) != (tag, first)
        return cost, moves, displaced

    def _carry(self, row: Row, choice: Choice, state: _State, sign: int) -> None:
        supply, output, decoder, first, _ = choice
        load_uw = sign * sum(run.load_uw for run in row[1])
        state.supply_uw[supply.tag] = state.supply_uw.get(supply.tag, 0) + load_uw
        state.output_uw[supply.tag, output] = state.output_uw.get((supply.tag, output), 0) + load_uw
        if decoder is None:
            return
        banks = self.decoder_models[decoder.model].banks
        bank = next(b for b in banks if b.first_channel <= first < b.first_channel + b.channels)
        key = (decoder.tag, bank.first_channel)
        taken = {(decoder.tag, n) for n in range(first, first + row[0].channels)}
        state.channels = state.channels | taken if sign > 0 else state.channels - taken
        state.bank_uw[key] = state.bank_uw.get(key, 0) + load_uw
        if sign > 0:
            state.bank_output[key] = (supply.tag, output)
        elif not state.bank_uw[key]:
            del state.bank_output[key]

    def _undo(self, row: Row, choice: Choice, state: _State) -> None:
        self._carry(row, choice, state, -1)
        del state.feeds[-len(row[1]) :]
        for unit in (choice[0], choice[2]):
            if unit is not None:
                state.uses[unit.tag] -= 1
                if not state.uses[unit.tag]:
                    del state.uses[unit.tag], state.sites[unit.tag]


def _near(row: Row) -> list[str]:
    """Places from which no lead of these runs would be too long."""
    block, runs = row
    near = []
    for site in block.sites:
        leads = [
            (dict(run.reach.from_um).get(site, run.reach.lead_um) or 0, run.reach.longest_um)
            for run in runs
            if run.reach is not None
        ]
        if all(lead_um <= longest_um for lead_um, longest_um in leads):
            near.append(site)
    return near


def _as_it_was(was: Installed, choice: Choice) -> bool:
    supply, output, decoder, first, _ = choice
    if (was.supply, was.output, was.decoder) != (supply.tag, output, decoder.tag if decoder else ""):
        return False
    return decoder is None or was.first_channel == first


def _speaks(model: DecoderModel, block: Block) -> bool:
    return (
        model.min_mv <= block.class_mv <= model.max_mv
        and model.polarity == block.polarity
        and model.signal is block.signal
        and model.link in block.links
    )


def _partitions(runs: tuple[Run, ...], count: int) -> Iterator[list[tuple[Run, ...]]]:
    """The runs in exactly so many groups, each way once."""
    if not runs:
        if count == 0:
            yield []
        return
    first, rest = runs[0], runs[1:]
    for parts in _partitions(rest, count - 1) if count else ():
        yield [(first,), *parts]
    for parts in _partitions(rest, count):
        for n in range(len(parts)):
            yield [*parts[:n], (first, *parts[n]), *parts[n + 1 :]]


def _one_of_each(groupings: list[list[list[Row]]]) -> Iterator[list[Row]]:
    if not groupings:
        yield []
        return
    for rows in groupings[0]:
        for more in _one_of_each(groupings[1:]):
            yield [*rows, *more]
