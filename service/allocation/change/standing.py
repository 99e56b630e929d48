"""What is installed, sorted: what stays without question, what may move, and what wants a place."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from service.allocation.change.room import BankRoom, Place, Room, Row, Tenant, bears, speaks, suits
from service.allocation.loads import stage_loads
from service.allocation.problem import Block, Feed, Installed, Problem, Run, Unit

# Installed rows that may be asked to move at once: each could want a unit of its own.
MOST_MOVING = 36


@dataclass(frozen=True, slots=True)
class Standing:
    """`frozen` rows stay; `movable` ones could be asked to move; `wanting` ones have no feed to keep.

    `sites`: where installed units stand. `never`: runs that no unit there is could feed.
    """

    frozen: tuple[Tenant, ...]
    movable: tuple[Tenant, ...]
    wanting: tuple[Tenant, ...]
    refed: frozenset[str]
    sites: dict[str, str]
    never: tuple[tuple[Block, tuple[Run, ...]], ...]

    def room(self, problem: Problem, kept: Iterable[Tenant]) -> Room:
        """The gear with these rows on it."""
        feeds = [feed for tenant in kept if tenant.home for feed in feeds_of(tenant.row, tenant.home)]
        return Room(problem, feeds, self.sites)


def feeds_of(row: Row, place: Place) -> list[Feed]:
    """The feeds of a row's runs from one place."""
    return [
        Feed(run.tag, place.supply, place.output, place.decoder, place.first_channel, row.channels)
        for run in row.runs
    ]


def within_need(problem: Problem) -> Problem:
    """The problem with no more idle units of a kind than its runs could use: looking at all takes time."""
    used = {tag for was in problem.installed for tag in (was.supply, was.decoder)}
    most = _wanting_runs(problem) + MOST_MOVING
    return replace(
        problem,
        supplies=_some_of_each(problem.supplies, used, most),
        decoders=_some_of_each(problem.decoders, used, most),
    )


def _some_of_each(units: Sequence[Unit], used: set[str], most: int) -> tuple[Unit, ...]:
    kept, seen = [], dict[tuple[str, str], int]()
    for unit in sorted(units):
        kind = (unit.model, unit.site)
        seen[kind] = seen.get(kind, 0) + (unit.tag not in used)
        if unit.tag in used or seen[kind] <= most:
            kept.append(unit)
    return tuple(kept)


def _wanting_runs(problem: Problem) -> int:
    """Runs that nothing there feeds."""
    there = {"", *(unit.tag for unit in problem.supplies), *(unit.tag for unit in problem.decoders)}
    alive = {was.run for was in problem.installed if was.supply in there and was.decoder in there}
    return sum(1 for block in problem.blocks for run in block.runs if run.tag not in alive)


def sort_installed(problem: Problem) -> Standing:
    """Every run of the problem in exactly one of the groups."""
    supplies = {unit.tag for unit in problem.supplies}
    decoders = {unit.tag for unit in problem.decoders}
    rows = _rows_installed(problem)
    alive, wanting = [], []
    for row, was in rows:
        home = Place(was.supply, was.output, was.decoder, was.first_channel)
        if was.supply in supplies and (not was.decoder or was.decoder in decoders):
            alive.append((Tenant(row, home), was.locked))
        elif was.decoder in decoders:
            wanting.append(Tenant(row, home, orphan=True))
        else:
            wanting.append(Tenant(row))
    refed = frozenset(run.tag for tenant in wanting for run in tenant.row.runs)
    sites = _sites(problem, rows)
    if wanting or problem.mend or _wanting_runs(problem):
        frozen, movable, over = _by_limits(problem, alive, sites)
    else:
        frozen, movable, over = [tenant for tenant, _ in alive], [], []
    whole = _that_fit_whole(problem, wanting, frozen, sites)
    stay = [*(tenant for tenant, _ in alive), *whole]
    added, never = _new_rows(problem, {run.tag for tenant in stay for run in tenant.row.runs})
    return Standing(
        frozen=tuple(frozen),
        movable=tuple(movable),
        wanting=(*over, *whole, *added),
        refed=refed,
        sites=sites,
        never=never,
    )


def _that_fit_whole(
    problem: Problem, wanting: Sequence[Tenant], frozen: Sequence[Tenant], sites: dict[str, str]
) -> list[Tenant]:
    """Rows that lost their gear, without those that nothing there could feed in one piece any more."""
    feeds = [feed for tenant in frozen if tenant.home for feed in feeds_of(tenant.row, tenant.home)]
    room = Room(problem, feeds, sites)
    return [tenant for tenant in wanting if len(tenant.row.runs) == 1 or room.places(tenant.row)]


def _rows_installed(problem: Problem) -> list[tuple[Row, Installed]]:
    """Installed runs of one block on the same channels move together; a lock on one holds all."""
    feeds = {was.run: was for was in problem.installed}
    rows: list[tuple[Row, Installed]] = []
    for block in sorted(problem.blocks, key=lambda each: each.tag):
        groups: dict[tuple[str, int, str, int], list[Run]] = defaultdict(list)
        for run in sorted(block.runs):
            was = feeds.get(run.tag)
            if was is not None:
                groups[was.supply, was.output, was.decoder, was.first_channel].append(run)
        for _, runs in sorted(groups.items()):
            locked = any(feeds[run.tag].locked for run in runs)
            rows.append((Row(block, tuple(runs)), replace(feeds[runs[0].tag], locked=locked)))
    return rows


def _sites(problem: Problem, rows: Sequence[tuple[Row, Installed]]) -> dict[str, str]:
    """Where units that feed something stand; where nobody wrote it down, the first place they may stand."""
    written = {unit.tag: unit.site for unit in (*problem.supplies, *problem.decoders)}
    sites: dict[str, str] = {}
    for row, was in rows:
        known = written.get(was.supply) or written.get(was.decoder)
        for tag in (was.supply, was.decoder):
            if tag in written:
                sites.setdefault(tag, written[tag] or known or min(row.sites or row.block.sites, default=""))
    return sites


def _by_limits(
    problem: Problem, alive: Sequence[tuple[Tenant, bool]], sites: dict[str, str]
) -> tuple[list[Tenant], list[Tenant], list[Tenant]]:
    """Locked rows are frozen. Rows over a limit are frozen too, unless they are to be mended.

    A limit that nobody knows is not one that is broken: what stands on it stays, and is reported. So does
    what loses too many volts wherever it is fed from: no move would mend that.
    """
    feeds = [feed for tenant, _ in alive if tenant.home for feed in feeds_of(tenant.row, tenant.home)]
    room = Room(problem, feeds, sites)
    frozen, movable, over = [], [], []
    for tenant, locked in alive:
        kind_fits = _is_of_the_kind(room, tenant)
        if locked or not tenant.row.sites:
            frozen.append(tenant)
        elif kind_fits and _is_within_limits(room, tenant):
            movable.append(tenant)
        elif problem.mend and not (kind_fits and _is_within_limits(room, tenant, known_only=True)):
            over.append(replace(tenant, may_stay=kind_fits))
        else:
            frozen.append(tenant)
    return frozen, movable, over


def _is_of_the_kind(room: Room, tenant: Tenant) -> bool:
    """Voltage, polarity, signal, link, source and place are right, and the row lies in one bank."""
    row, home = tenant.row, tenant.home
    assert home is not None
    rack = room.racks[home.supply]
    if not suits(rack.model, row.block) or rack.site not in row.sites:
        return False
    if bool(home.decoder) != bool(row.channels) or not home.decoder:
        return bool(home.decoder) == bool(row.channels)
    box = room.boxes[home.decoder]
    bank = box.bank_at(home.first_channel)
    if bank is None or box.bank_at(home.first_channel + row.channels - 1) is not bank:
        return False
    return speaks(box.model, row.block) and bears(box.model, rack.model) and box.site == rack.site


def _is_within_limits(room: Room, tenant: Tenant, known_only: bool = False) -> bool:
    """Nothing that carries the row carries too much, or something nobody knows, or two outputs.

    `known_only`: limits that nobody knows are passed over.
    """
    row, home = tenant.row, tenant.home
    assert home is not None
    rack = room.racks[home.supply]
    limits = [
        (rack.model.usable_uw, rack.free_uw),
        (rack.model.outputs_ua[home.output - 1], rack.outputs_uw[home.output - 1]),
    ]
    if home.decoder:
        box = room.boxes[home.decoder]
        bank = box.bank_at(home.first_channel)
        if bank is None or not _is_clear(bank, tenant):
            return False
        each_uw = box.channel_left_uw(row.block.class_mv)
        limits += [
            (bank.bank.usable_ua, bank.left_uw(row.block.class_mv)),
            (box.model.channel_ua, each_uw - max(bank.rows[home.first_channel].channel_uw)),
        ]
    return all(left_uw >= 0 or (known_only and limit is None) for limit, left_uw in limits)


def _is_clear(bank: BankRoom, tenant: Tenant) -> bool:
    """The bank has one output, and the row's channels are its own."""
    row, home = tenant.row, tenant.home
    assert home is not None
    if bank.output != (home.supply, home.output):
        return False
    own = bank.rows[home.first_channel]
    last = home.first_channel + row.channels
    crossing = [
        other
        for other in bank.rows.values()
        if other is not own
        and other.first_channel < last
        and own.first_channel < other.first_channel + len(other.channel_uw)
    ]
    return own.block == row.block.tag and not crossing


def _new_rows(
    problem: Problem, placed: set[str]
) -> tuple[list[Tenant], tuple[tuple[Block, tuple[Run, ...]], ...]]:
    """Runs that nothing feeds yet, in as few rows as the gear allows."""
    blocks = {block.tag: block for block in problem.blocks}
    fresh = tuple(
        replace(block, runs=tuple(run for run in block.runs if run.tag not in placed))
        for block in problem.blocks
        if any(run.tag not in placed for run in block.runs)
    )
    stage = stage_loads(replace(problem, blocks=fresh))
    rows = [
        Row(blocks[load.block], tuple(run for run in blocks[load.block].runs if run.tag in load.runs))
        for load in stage.loads
    ]
    return [Tenant(row) for row in rows], stage.never


def could_be_fed(problem: Problem, standing: Standing, dark: Sequence[Tenant]) -> list[Tenant]:
    """Dark rows that would have a place if nothing but locked feeds stood."""
    if not dark:
        return []
    room = standing.room(problem, standing.frozen)
    return [tenant for tenant in dark if room.places(tenant.row)]
