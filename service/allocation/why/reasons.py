"""Why a run is dark: the one limit that binds, in figures, and the smallest thing that would mend it.

The kinds of gear are asked first, one limit after another in a fixed order; the first that no kind
passes is the reason. Where the kinds would do, the units are asked: how many are left, and where
there is still room. A limit that would bind next, once that gear is there, is told as well; and a run
is only told to be cut where both parts would fit.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from service.allocation.change.room import Place, Room, Row
from service.allocation.problem import Feed, Problem, Run
from service.allocation.why.kinds import Kinds, Reason, Side
from service.allocation.why.stock import none_in_reach, none_owned, nothing_left


def reasons_left(
    problem: Problem, feeds: Iterable[Feed], rows: Sequence[Row], sites: Mapping[str, str] | None = None
) -> list[Reason]:
    """Why each of several rows is dark beside the same feeds."""
    fed = list(feeds)
    room = Room(problem, fed, sites)
    told = []
    for row in rows:
        kinds = Kinds(problem)
        first = (
            _never(problem, row, kinds)
            or _held_by_a_lock(problem, fed, row, sites)
            or nothing_left(room, row, kinds)
        )
        assert first is not None
        told.append(_with_the_next(problem, room, row, _or_divide(room, row, first)))
    return told


def _never(problem: Problem, row: Row, kinds: Kinds) -> Reason | None:
    """The limit that keeps the row off every unit there is, whatever else is fed; None if none does."""
    return kinds.narrow(row) or none_owned(problem, row, kinds) or none_in_reach(problem, row, kinds)


def _with_the_next(problem: Problem, room: Room, row: Row, first: Reason) -> Reason:
    """The reason with what would bind once the gear that it wants is there."""
    if first.side is Side.NEITHER:
        return first
    kinds = Kinds(problem, given=first.side)
    after = _never(problem, row, kinds) or nothing_left(room, row, kinds)
    if after is None:
        return first
    return replace(first, then=f"{after.because}: {after.mend}")


def _or_divide(room: Room, row: Row, reason: Reason) -> Reason:
    """What is too large in one piece is offered in two, if there is room for both."""
    if not reason.is_size or not _both_fit(room, *_in_two(row)):
        return reason
    how = "cut the run in two" if len(row.runs) == 1 else "put its runs on two rows of channels"
    return replace(reason, mend=f"{reason.mend}, or {how}")


def _in_two(row: Row) -> tuple[Row, Row]:
    """The larger half and the rest: of one run by its cut pitches, of several run by run."""
    if len(row.runs) == 1:
        [run] = row.runs
        whole = run.pitches or 2
        larger = -(-whole // 2)
        halves = (_share_of(run, larger, whole), _share_of(run, whole - larger, whole))
        return Row(row.block, halves[:1]), Row(row.block, halves[1:])
    one, other = list[Run](), list[Run]()
    for run in sorted(row.runs, key=lambda run: (-run.load_uw, run.tag)):
        lighter = min((one, other), key=lambda runs: sum(each.load_uw for each in runs))
        lighter.append(run)
    larger_first = sorted((one, other), key=lambda runs: -sum(run.load_uw for run in runs))
    return Row(row.block, tuple(larger_first[0])), Row(row.block, tuple(larger_first[1]))


def _share_of(run: Run, part: int, whole: int) -> Run:
    """So many of the run's pitches, loads rounded up."""
    each = tuple(-(-uw * part // whole) for uw in run.channel_uw)
    return replace(run, load_uw=-(-run.load_uw * part // whole), channel_uw=each, pitches=part)


def _both_fit(room: Room, larger: Row, rest: Row) -> bool:
    for place in _few(room.places(larger)):
        with room.supposing(larger, place):
            if room.places(rest):
                return True
    return False


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
        if any(_beside(room, row, place, held) for place in _few(room.places(row))):
            where = f"{feed.decoder} from channel {feed.first_channel}" if feed.decoder else feed.supply
            because = f"{feed.run} is locked to {where}, on {feed.supply}/{feed.output}"
            return Reason("lock", None, None, "", because, f"unlock {feed.run}: it has room elsewhere")
    return None


def _beside(room: Room, row: Row, place: Place, held: Row) -> bool:
    """With the row there, the one that was locked still has somewhere to go."""
    with room.supposing(row, place):
        return bool(room.places(held))


def _few(places: Sequence[Place], most: int = 8) -> Sequence[Place]:
    """The first place on each of a few different outputs."""
    first: dict[tuple[str, int], Place] = {}
    for place in places:
        first.setdefault((place.supply, place.output), place)
    return list(first.values())[:most]
