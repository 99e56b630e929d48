"""A problem without names: lengths by count, so that equal lengths are one thing to the solvers.

A *layer* is a lot from which match groups may be cut; layer 0 is all tape whose lot does not matter.
A *kind* is a length in one layer, or in `ANY` where it may come from every one of them.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from service.cutting.plan import NEW_LOT
from service.cutting.problem import Buyable, Problem, Wanted

ANY = -1
Kind = tuple[int, int]  # pitches, layer


class Sort(NamedTuple):
    """Pieces that no solver tells apart."""

    pitches: int
    priority: int
    may_join: bool


@dataclass(frozen=True, slots=True, order=True)
class Length:
    """Equal reels of one layer. `price_cents`: 0 on the shelf. `most`: how many there are, or can be had."""

    layer: int
    pitches: int
    is_new: bool
    is_sealed: bool
    price_cents: int
    most: int


@dataclass(frozen=True, slots=True)
class Group:
    """A match group. `layers`: lots that it may be cut from."""

    name: str
    pieces: Mapping[Sort, int]
    layers: tuple[int, ...]

    @property
    def total_pitches(self) -> int:
        return sum(sort.pitches * count for sort, count in self.pieces.items())

    def by_length(self) -> Counter[int]:
        return _by_length(self.pieces)


@dataclass(frozen=True, slots=True)
class Board:
    """`lots`: the name of each layer. `single`: pieces without a group.

    `lone`: layers of a single new reel each, for reels that cannot be asked for as one lot. `can_be_had`:
    new reels of each length, over all layers. `must_meet`: nothing need stay unmet. `joined`: layers from
    which parts of a piece may be joined.
    """

    lots: tuple[str | None, ...]
    lone: frozenset[int]
    lengths: tuple[Length, ...]
    groups: tuple[Group, ...]
    single: Mapping[Sort, int]
    can_be_had: Mapping[int, int]
    must_meet: bool
    joined: frozenset[int]

    @property
    def longest(self) -> int:
        return max((each.pitches for each in self.lengths), default=0)

    @property
    def needed_pitches(self) -> int:
        own = sum(sort.pitches * count for sort, count in self.single.items())
        return own + sum(group.total_pitches for group in self.groups)

    def single_by_length(self) -> Counter[int]:
        return _by_length(self.single)

    def reach_of(self, layer: int) -> int:
        """The longest reel of a layer."""
        return max((each.pitches for each in self.lengths if each.layer == layer), default=0)


def _by_length(sorts: Mapping[Sort, int]) -> Counter[int]:
    counts: Counter[int] = Counter()
    for sort, count in sorts.items():
        counts[sort.pitches] += count
    return counts


def _sorts(pieces: Iterable[Wanted]) -> Counter[Sort]:
    return Counter(Sort(each.pitches, each.priority, each.may_join) for each in pieces)


def group_pieces(wanted: Iterable[Wanted]) -> dict[str, list[Wanted]]:
    """The pieces of each match group, by name."""
    groups: dict[str, list[Wanted]] = {}
    for piece in sorted(wanted, key=lambda each: each.key):
        if piece.group is not None:
            groups.setdefault(piece.group, []).append(piece)
    return groups


def lay_out(problem: Problem, apart: Collection[str] = (), with_joints: bool = False) -> Board:
    """The board of a problem. A lot `apart` has a layer of its own, so that parts can be joined from it.

    Other lots have one where they could hold the longest piece and the sum of some group; all other tape
    is alike and stands in layer 0.
    """
    groups = group_pieces(problem.wanted)
    shelf: dict[str, list[int]] = {}
    for reel in problem.stock:
        if reel.lot is not None:
            shelf.setdefault(reel.lot, []).append(reel.pitches)
    longest = {name: max(each.pitches for each in own) for name, own in groups.items()}
    total = {name: sum(each.pitches for each in own) for name, own in groups.items()}

    def may_be_cut(name: str, lot: str) -> bool:
        bound = problem.lot_of_group.get(name, lot)
        holds = lot in apart or max(shelf[lot]) >= longest[name]
        return bound == lot and holds and sum(shelf[lot]) >= total[name]

    lots: list[str | None] = [None]
    lots += [lot for lot in sorted(shelf) if lot in apart or any(may_be_cut(name, lot) for name in groups)]
    layer = {lot: number for number, lot in enumerate(lots) if lot is not None}
    layers = {name: [layer[lot] for lot in layer if may_be_cut(name, lot)] for name in groups}
    lone = _add_new_lots(problem, layers, lots, with_joints)
    return Board(
        tuple(lots),
        frozenset(lone),
        _lengths(problem, lots, layer, lone),
        tuple(
            Group(name, _sorts(own), tuple(layers[name]))
            for name, own in sorted(groups.items(), key=lambda item: (-total[item[0]], item[0]))
        ),
        _sorts(piece for piece in problem.wanted if piece.group is None),
        {each.pitches: _most(each, 2 * len(problem.wanted)) for each in problem.buyable},
        _must_meet(problem, groups),
        frozenset(n for n, lot in enumerate(lots) if with_joints and (lot in apart or lot == NEW_LOT)),
    )


def _must_meet(problem: Problem, groups: Mapping[str, list[Wanted]]) -> bool:
    """Any number of new reels that hold every piece, of one lot for groups, leave nothing unmet."""
    longest = max((piece.pitches for piece in problem.wanted), default=0)
    return any(
        each.most is None and each.pitches >= longest and (each.is_one_lot or not groups)
        for each in problem.buyable
    ) and not any(name in groups for name in problem.lot_of_group)


def _add_new_lots(
    problem: Problem, layers: dict[str, list[int]], lots: list[str | None], with_joints: bool
) -> list[int]:
    """Layers of new reels go to the lots and to the groups not bound to one; the lone ones come back."""
    free = sorted(
        (name for name in layers if name not in problem.lot_of_group),
        key=lambda name: (-sum(each.pitches for each in problem.wanted if each.group == name), name),
    )
    if any(each.is_one_lot for each in problem.buyable) and (free or with_joints):
        lots.append(NEW_LOT)
        for name in free:
            layers[name].append(len(lots) - 1)
    alone = [each for each in problem.buyable if not each.is_one_lot]
    if not alone:
        return []
    lone: list[int] = []
    # The first group takes the first such reel, or none; so reels that differ only in name are tried once.
    for number in range(len(free)):
        lots.append(f"{NEW_LOT} {number + 1}")
        lone.append(len(lots) - 1)
        for name in free[number:]:
            layers[name].append(len(lots) - 1)
    return lone


def _most(each: Buyable, needed: int) -> int:
    """Nobody needs more reels than pieces, nor more than there are."""
    return needed if each.most is None else min(each.most, needed)


def _lengths(
    problem: Problem, lots: list[str | None], layer: Mapping[str, int], lone: list[int]
) -> tuple[Length, ...]:
    """Equal reels counted; new reels stand in the layer that can do most."""
    counts: Counter[tuple[int, int, bool]] = Counter()
    for reel in problem.stock:
        home = 0 if reel.lot is None else layer.get(reel.lot, 0)
        counts[home, reel.pitches, reel.is_sealed] += 1
    found = [
        Length(at, pitches, False, is_sealed, 0, count) for (at, pitches, is_sealed), count in counts.items()
    ]
    # A joined piece takes two reels.
    needed = 2 * len(problem.wanted)
    together = lots.index(NEW_LOT) if NEW_LOT in lots else 0
    for each in problem.buyable:
        most = _most(each, needed)
        if most < 1:
            continue
        home = together if each.is_one_lot else 0
        found.append(Length(home, each.pitches, True, False, each.price_cents, most))
        if not each.is_one_lot:
            found += [Length(at, each.pitches, True, False, each.price_cents, 1) for at in lone]
    return tuple(sorted(found))
