"""More is fed by asking what stands near a dark row to move: a few rows first, then ever more of them.

Each question is small: the rows that are asked may go anywhere there is room, everything else is held
where the plan has it by now. Answers are only taken if they are better, so the plan never gets worse,
and effort is counted in the solver's own work, so equal questions get equal plans.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from service.allocation.change.layout import Layout, worth
from service.allocation.change.quick import costs_of
from service.allocation.change.refit import refit
from service.allocation.change.room import Room, Row, Tenant, speaks, suits
from service.allocation.change.standing import Standing, could_be_fed, feeds_of
from service.allocation.problem import Problem
from service.allocation.search.watch import Pace

SIZES = (4, 8, 16, 32)  # rows asked to move at once
MOST_DARK = 6  # dark rows that are asked for together
ALL_WORK = 2.0  # deterministic units for all questions
EACH = 0.1  # of the work of one whole re-planning, for one question


def grow(problem: Problem, standing: Standing, layout: Layout, pace: Pace) -> Layout:
    """The layout, of all rows that may move and all that want a place, with more fed where that is found."""
    growing = _Growing(problem, standing, layout, pace)
    tried: set[tuple[int, ...]] = set()
    for size in SIZES:
        for dark in [*growing.hopeful()]:
            if growing.layout.places[dark] is not None:
                continue
            for asked in growing.near(dark, size):
                if growing.work >= ALL_WORK * pace.effort.scale or pace.must_stop():
                    return growing.layout
                if asked not in tried and growing.ask(asked):
                    tried.clear()
                tried.add(asked)
    return growing.layout


@dataclass(slots=True)
class _Growing:
    problem: Problem
    standing: Standing
    layout: Layout
    pace: Pace
    work: float = 0.0
    full: Room | None = None  # with every row where the plan has it, until that changes
    dark: list[int] | None = None

    def room(self, free: Sequence[int] = ()) -> Room:
        """The gear with all rows on it where the plan has them by now, without those that are asked."""
        without = set(free)
        pairs = [(tenant, tenant.home) for tenant in self.standing.frozen]
        pairs += [
            (tenant, place)
            for number, (tenant, place) in enumerate(
                zip(self.layout.tenants, self.layout.places, strict=True)
            )
            if number not in without
        ]
        feeds = [feed for tenant, place in pairs if place is not None for feed in feeds_of(tenant.row, place)]
        used = {tag for feed in feeds for tag in (feed.supply, feed.decoder)}
        sites = {tag: site for tag, site in self.layout.sites.items() if tag in used}
        return Room(self.problem, feeds, {**self.standing.sites, **sites})

    def hopeful(self) -> list[int]:
        """Dark rows that would have a place if nothing but locked feeds stood, the most urgent first."""
        if self.dark is None:
            dark = [number for number, place in enumerate(self.layout.places) if place is None]
            rows = [self.layout.tenants[number] for number in dark]
            able = {id(tenant) for tenant in could_be_fed(self.problem, self.standing, rows)}
            hopeful = [number for number in dark if id(self.layout.tenants[number]) in able]
            self.dark = sorted(hopeful, key=self._urgency)
        return self.dark

    def _urgency(self, number: int) -> tuple[int, int, int]:
        row = self.layout.tenants[number].row
        return row.block.priority, -row.load_uw, number

    def near(self, dark: int, size: int) -> Iterator[tuple[int, ...]]:
        """Sets of rows to ask with a dark one: those on outputs it could use, and those on banks it could.

        After those come rows on outputs where the first ones could go instead.
        """
        self.full = self.full or self.room()
        outputs, banks = self._on_outputs(), self._on_banks(self.full)
        row = self.layout.tenants[dark].row
        first = self._ranked_outputs(self.full, outputs, row, row.sites)
        sites = {s for group in first for n in group for s in self.layout.tenants[n].row.sites}
        further = self._ranked_outputs(self.full, outputs, row, sorted(sites - {*row.sites}))
        for groups in ([*first, *further], self._ranked_banks(self.full, banks, row)):
            asked = self._first_of(groups, size)
            if asked:
                yield tuple(sorted({*asked, *self._dark_beside(dark)}))

    def _on_outputs(self) -> dict[tuple[str, int], list[int]]:
        rows: dict[tuple[str, int], list[int]] = defaultdict(list)
        for number, place in enumerate(self.layout.places):
            if place is not None:
                rows[place.supply, place.output].append(number)
        return rows

    def _on_banks(self, room: Room) -> dict[tuple[str, int], list[int]]:
        rows: dict[tuple[str, int], list[int]] = defaultdict(list)
        for number, place in enumerate(self.layout.places):
            if place is not None and place.decoder:
                bank = room.boxes[place.decoder].bank_at(place.first_channel)
                rows[place.decoder, bank.bank.first_channel if bank else 0].append(number)
        return rows

    def _ranked_outputs(
        self, room: Room, rows: dict[tuple[str, int], list[int]], row: Row, sites: Sequence[str]
    ) -> list[list[int]]:
        """Rows on each output at these places, those first that have to give way to little."""
        ranked = []
        for (supply, output), numbers in rows.items():
            rack = room.racks[supply]
            if suits(rack.model, row.block) and rack.site in sites:
                lacks_uw = row.load_uw - rack.left_uw(output)
                # What is on one that is too small may have to make room for others all the same.
                is_too_small = lacks_uw > self._load_uw(numbers)
                key = (is_too_small, max(0, lacks_uw), len(numbers), supply, output)
                ranked.append((key, numbers))
        return [numbers for _, numbers in sorted(ranked)]

    def _ranked_banks(self, room: Room, rows: dict[tuple[str, int], list[int]], row: Row) -> list[list[int]]:
        """Rows on each bank that could carry the row, the emptiest banks first."""
        ranked = []
        for (decoder, first), numbers in rows.items():
            box = room.boxes[decoder]
            if row.channels and speaks(box.model, row.block) and box.site in row.sites:
                ranked.append(((len(numbers), self._load_uw(numbers), decoder, first), numbers))
        return [numbers for _, numbers in sorted(ranked)]

    def _load_uw(self, numbers: Sequence[int]) -> int:
        return sum(self.layout.tenants[number].row.load_uw for number in numbers)

    def _first_of(self, groups: Sequence[Sequence[int]], size: int) -> list[int]:
        """Whole groups up to so many rows, at least one."""
        asked: list[int] = []
        for numbers in groups:
            if asked and len(asked) + len(numbers) > size:
                break
            asked += numbers
        return asked

    def _dark_beside(self, dark: int) -> list[int]:
        """The dark row, and others that want the same voltage in the same places."""
        row = self.layout.tenants[dark].row
        beside = [
            number
            for number in self.hopeful()
            if (other := self.layout.tenants[number].row).block.class_mv == row.block.class_mv
            and set(other.sites) & set(row.sites)
            and number != dark
        ]
        return [dark, *beside[: MOST_DARK - 1]]

    def ask(self, asked: Sequence[int]) -> bool:
        """The rows are placed anew together; true if the plan is better for it."""
        room = self.room(asked)
        tenants: list[Tenant] = [self.layout.tenants[number] for number in asked]
        places = [self.layout.places[number] for number in asked]
        used = {tag for place in places if place for tag in (place.supply, place.decoder)}
        anew = {tag for tag in costs_of(room) if tag in used}
        sites = {tag: site for tag, site in self.layout.sites.items() if tag in anew}
        effort = self.pace.effort
        pace = replace(self.pace, effort=replace(effort, scale=effort.scale * EACH))
        found = refit(room, tenants, costs_of(room), places, sites, None, pace, more_or_nothing=True)
        self.work += found.work
        grown = list(self.layout.places)
        for number, place in zip(asked, found.places, strict=True):
            grown[number] = place
        kept = {tag for place in grown if place for tag in (place.supply, place.decoder)}
        sites = {tag: site for tag, site in {**self.layout.sites, **found.sites}.items() if tag in kept}
        after = Layout(self.layout.tenants, grown, sites, work=self.layout.work + found.work)
        costs = costs_of(self.standing.room(self.problem, self.standing.frozen))
        if worth(after, costs) >= worth(self.layout, costs):
            return False
        self.layout, self.full, self.dark = after, None, None
        return True
