"""Every way to cut a tiny problem, tried one after the other: what the planner is compared with."""

from collections.abc import Iterator
from dataclasses import dataclass

from service.cutting.problem import Problem, Wanted

Rank = tuple[tuple[int, ...], int, int, int, int]  # unmet by priority, price, opened, joints, scrap


@dataclass(frozen=True)
class Rod:
    """One reel that could be cut. `lot`: None where it is not known."""

    lot: str | None
    pitches: int
    price_cents: int
    is_sealed: bool


def rods(problem: Problem) -> list[Rod]:
    """The shelf, and as many new reels as anyone could want: two for each piece that may be joined."""
    found = [Rod(reel.lot, reel.pitches, 0, reel.is_sealed) for reel in problem.stock]
    useful = sum(2 if piece.may_join else 1 for piece in problem.wanted)
    for each in problem.buyable:
        for number in range(useful if each.most is None else min(each.most, useful)):
            lot = "asked for as one" if each.is_one_lot else f"alone {each.pitches}/{number}"
            found.append(Rod(lot, each.pitches, each.price_cents, False))
    return found


def best_rank(problem: Problem) -> Rank:
    """The best that any way to cut comes to."""
    every = rods(problem)
    pieces = sorted(problem.wanted, key=lambda piece: (piece.group or "", -piece.pitches, piece.key))
    priorities = sorted({piece.priority for piece in pieces})
    best: list[Rank] = []

    def go(at: int, left: list[int], lots: dict[str, str | None], out: list[Wanted], joints: int) -> None:
        if at == len(pieces):
            rank = _rank(problem, every, left, priorities, out, joints)
            if not best or rank < best[0]:
                best[:] = [rank]
            return
        piece = pieces[at]
        for cuts in _ways(problem, piece, every, left):
            lot = every[cuts[0][0]].lot if cuts else OUT
            if piece.group is not None and not _agrees(problem, piece.group, lot, lots):
                continue
            for number, pitches in cuts:
                left[number] -= pitches
            more = lots if piece.group is None else {**lots, piece.group: lot}
            go(at + 1, left, more, out if cuts else [*out, piece], joints + (len(cuts) == 2))
            for number, pitches in cuts:
                left[number] += pitches

    go(0, [rod.pitches for rod in every], {}, [], 0)
    return best[0]


OUT = "left out"


def _agrees(problem: Problem, group: str, lot: str | None, lots: dict[str, str | None]) -> bool:
    """A group comes whole from one known lot, the one that it is bound to; or stays out whole."""
    if lot is None or lots.get(group, lot) != lot:
        return False
    return lot == OUT or problem.lot_of_group.get(group, lot) == lot


def _ways(
    problem: Problem, piece: Wanted, every: list[Rod], left: list[int]
) -> Iterator[list[tuple[int, int]]]:
    """Left out, on one reel, or on two of one lot; of untouched equal reels only the first."""
    yield []
    tried = set()
    for number, rod in enumerate(every):
        if left[number] >= piece.pitches and (rod, left[number]) not in tried:
            tried.add((rod, left[number]))
            yield [(number, piece.pitches)]
    if not piece.may_join or not problem.rules.most_joints:
        return
    shortest = problem.rules.shortest_joined_pitches
    for part in range(shortest, piece.pitches - shortest + 1):
        pairs = set()
        for one, first in enumerate(every):
            for two, second in enumerate(every):
                key = first, left[one], second, left[two]
                if one == two or first.lot is None or first.lot != second.lot or key in pairs:
                    continue
                if left[one] >= part and left[two] >= piece.pitches - part:
                    pairs.add(key)
                    yield [(one, part), (two, piece.pitches - part)]


def _rank(
    problem: Problem, every: list[Rod], left: list[int], priorities: list[int], out: list[Wanted], joints: int
) -> Rank:
    used = [(rod, rest) for rod, rest in zip(every, left, strict=True) if rest < rod.pitches]
    return (
        tuple(sum(piece.priority == each for piece in out) for each in priorities),
        sum(rod.price_cents for rod, _ in used),
        sum(rod.is_sealed for rod, _ in used),
        joints,
        sum(rest for _, rest in used if rest < problem.rules.keep_pitches),
    )
