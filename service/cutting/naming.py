"""An answer by count gets its tags and keys, always the same way; and the way back."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from service.cutting.board import ANY, Board, Kind, Length, Sort, group_pieces
from service.cutting.layout import Layout, Reel
from service.cutting.plan import NEW_LOT, Cut, ReelPlan, Unmet, Why
from service.cutting.problem import Problem, Stock, Wanted


@dataclass(frozen=True, slots=True)
class Named:
    """Reels in the order in which they are marked, and the pieces left out."""

    reels: tuple[ReelPlan, ...]
    unmet: tuple[Unmet, ...]


def name(problem: Problem, board: Board, layout: Layout) -> Named:
    """Pieces go on reels by group and key, reels by tag, so that equal answers get equal names."""
    unmet = _unmet(problem, board, layout)
    waiting = _cuts_by_kind(problem, board, layout, {each.key for each in unmet})
    group_of = {piece.key: piece.group or "" for piece in problem.wanted}
    reels = []
    for label, lot, length, reel, stock in _labelled(problem, board, layout):
        cuts = sorted(
            (waiting[kind].pop() for kind in reel.kinds),
            key=lambda cut: (-cut.pitches, group_of[cut.key], cut.key, cut.part),
        )
        left = length.pitches - reel.used_pitches
        reels.append(
            ReelPlan(
                label,
                lot,
                length.pitches,
                tuple(cuts),
                left,
                left >= problem.rules.keep_pitches,
                length.is_new,
                length.is_sealed,
                _joins_met(stock, cuts),
            )
        )
    return Named(tuple(reels), tuple(sorted(unmet)))


def sort_of(piece: Wanted) -> Sort:
    return Sort(piece.pitches, piece.priority, piece.may_join)


def _unmet(problem: Problem, board: Board, layout: Layout) -> list[Unmet]:
    """Of pieces that no solver tells apart, the last keys stay out."""
    groups = group_pieces(problem.wanted)
    unmet = [
        Unmet(piece.key, Why.NO_LOT)
        for group, of in zip(board.groups, layout.lots, strict=True)
        if of is None
        for piece in groups[group.name]
    ]
    short = Counter(layout.short)
    for piece in sorted(problem.wanted, key=lambda each: each.key, reverse=True):
        if piece.group is None and short[sort_of(piece)] > 0:
            short[sort_of(piece)] -= 1
            unmet.append(Unmet(piece.key, Why.TOO_LITTLE))
    return unmet


def _cuts_by_kind(
    problem: Problem, board: Board, layout: Layout, left_out: set[str]
) -> dict[Kind, list[Cut]]:
    """What is to be cut of each kind, last first."""
    layer_of = {group.name: of for group, of in zip(board.groups, layout.lots, strict=True)}
    joined = Counter(layout.joined)
    cuts: dict[Kind, list[tuple[str, Cut]]] = {}
    for piece in sorted(problem.wanted, key=lambda each: (each.group or "", each.key)):
        if piece.key in left_out:
            continue
        of = ANY if piece.group is None else layer_of[piece.group]
        if of is None:
            continue
        kind = (piece.pitches, of)
        ways = [way for way in sorted(joined) if way[0] == kind and joined[way] > 0] if piece.may_join else []
        parts = [(0, kind)]
        if ways:
            _, shorter, layer = ways[0]
            joined[ways[0]] -= 1
            parts = [(1, (piece.pitches - shorter, layer)), (2, (shorter, layer))]
        for part, each in parts:
            cuts.setdefault(each, []).append((piece.group or "", Cut(piece.key, part, each[0])))
    return {kind: [cut for _, cut in sorted(own, reverse=True)] for kind, own in cuts.items()}


def _labelled(
    problem: Problem, board: Board, layout: Layout
) -> list[tuple[str, str | None, Length, Reel, Stock | None]]:
    """Label, lot, length, content and what stands on the shelf, for each reel; new ones last."""
    shelf: dict[int, list[Stock]] = {}
    layer_of = {lot: number for number, lot in enumerate(board.lots) if lot is not None}
    number_of = {
        (each.layer, each.pitches, each.is_sealed): number
        for number, each in enumerate(board.lengths)
        if not each.is_new
    }
    for reel in sorted(problem.stock, key=lambda each: each.tag, reverse=True):
        layer = 0 if reel.lot is None else layer_of.get(reel.lot, 0)
        shelf.setdefault(number_of[layer, reel.pitches, reel.is_sealed], []).append(reel)
    ordered = sorted(layout.reels, key=lambda each: (each.length, [(-p, of) for p, of in each.kinds]))
    old, new = [], list[Reel]()
    for content in ordered:
        length = board.lengths[content.length]
        if length.is_new:
            new.append(content)
        else:
            reel = shelf[content.length].pop()
            old.append((reel.tag, reel.lot, length, content, reel))
    together = [each for each in new if _is_bound(board, each)]
    found: list[tuple[str, str | None, Length, Reel, Stock | None]] = []
    found += sorted(old, key=lambda each: each[0])
    for number, content in enumerate([*together, *(each for each in new if each not in together)], 1):
        label = f"new {number}"
        lot = NEW_LOT if len(together) > 1 and _is_bound(board, content) else label
        found.append((label, lot, board.lengths[content.length], content, None))
    return found


def _is_bound(board: Board, content: Reel) -> bool:
    """Something on this new reel wants its lot, which other new reels share."""
    layer = board.lengths[content.length].layer
    return board.lots[layer] == NEW_LOT and any(of == layer for _, of in content.kinds)


def _joins_met(stock: Stock | None, cuts: Sequence[Cut]) -> tuple[int, ...]:
    """Joints of the factory that lie inside a cut; one just at a mark is cut through."""
    if stock is None:
        return ()
    outer, met = stock.pitches, list[int]()
    for cut in cuts:
        met += [at for at in stock.joins if outer - cut.pitches < at < outer]
        outer -= cut.pitches
    return tuple(sorted(met, reverse=True))


def unname(problem: Problem, board: Board, named: Named) -> Layout | None:
    """The answer by count on another board of the same pieces; None where that board has no place for it."""
    group_of = {piece.key: piece.group for piece in problem.wanted}
    rank = {group.name: number for number, group in enumerate(board.groups)}
    numbers = {
        (each.layer, each.pitches, each.is_new, each.is_sealed): n for n, each in enumerate(board.lengths)
    }
    lone = sorted(board.lone)
    lots: dict[str, int] = {}
    reels = []

    def groups_on(reel: ReelPlan) -> list[int]:
        return sorted({rank[group] for cut in reel.cuts if (group := group_of[cut.key]) is not None})

    # A group may take no lone layer beyond its own number, so the first groups choose first.
    for reel in sorted(named.reels, key=lambda each: (groups_on(each), each.label)):
        own = groups_on(reel)
        layer = _layer_of(board, reel, own, lone)
        length = numbers.get((layer, reel.pitches, reel.is_new, reel.is_opened))
        if length is None or any(layer not in board.groups[n].layers for n in own):
            return None
        kinds = [(cut.pitches, ANY if group_of[cut.key] is None else layer) for cut in reel.cuts]
        if any(lots.setdefault(board.groups[n].name, layer) != layer for n in own):
            return None
        reels.append(Reel(length, tuple(sorted(kinds, reverse=True))))
    out = {each.key for each in named.unmet}
    short = [sort_of(piece) for piece in problem.wanted if piece.key in out and piece.group is None]
    of_groups = tuple(lots.get(group.name) for group in board.groups)
    return Layout(tuple(reels), of_groups, (), tuple(sorted(short)))


def _layer_of(board: Board, reel: ReelPlan, groups: Sequence[int], lone: list[int]) -> int:
    """Where the board keeps a reel; a lone layer that is taken is one less."""
    if not reel.is_new:
        lots = {lot: number for number, lot in enumerate(board.lots) if lot is not None}
        return 0 if reel.lot is None else lots.get(reel.lot, 0)
    homes = [
        each.layer
        for each in board.lengths
        if each.is_new and each.pitches == reel.pitches and each.layer not in board.lone
    ]
    home = homes[0] if homes else 0
    if groups and home not in board.groups[groups[0]].layers and lone:
        return lone.pop(0)
    return home
