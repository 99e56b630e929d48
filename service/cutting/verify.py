"""Is a plan what it says it is? Judged from the problem alone, by nothing that helped to make it."""

from collections import Counter
from collections.abc import Iterator

from service.cutting.plan import NEW_LOT, CutPlan, ReelPlan
from service.cutting.problem import Problem


def faults(problem: Problem, plan: CutPlan) -> tuple[str, ...]:
    """Everything that is wrong with a plan, each in a sentence; () if nothing is.

    It does not say whether a better plan exists, only that no bound is above what it bounds.
    """
    return (
        *_piece_faults(problem, plan),
        *_reel_faults(problem, plan),
        *_buying_faults(problem, plan),
        *_lot_faults(problem, plan),
        *_sum_faults(problem, plan),
    )


def _piece_faults(problem: Problem, plan: CutPlan) -> Iterator[str]:
    """Each piece is cut whole, or joined as it may be, or told of as unmet."""
    unmet = Counter(each.key for each in plan.unmet)
    parts: dict[str, list[tuple[int, int]]] = {}
    for reel in plan.reels:
        for cut in reel.cuts:
            parts.setdefault(cut.key, []).append((cut.part, cut.pitches))
    known = {piece.key for piece in problem.wanted}
    yield from (f"{key} is cut but not wanted" for key in sorted(parts) if key not in known)
    yield from (f"{key} is unmet but not wanted" for key in sorted(unmet) if key not in known)
    shortest = problem.rules.shortest_joined_pitches
    for piece in problem.wanted:
        own = sorted(parts.get(piece.key, []))
        if unmet[piece.key]:
            if own or unmet[piece.key] > 1:
                yield f"{piece.key} is both cut and unmet, or unmet twice"
        elif len(own) == 1:
            if own != [(0, piece.pitches)]:
                yield f"{piece.key} is cut {own[0][1]} pitches long instead of {piece.pitches}"
        elif [part for part, _ in own] != [1, 2]:
            yield f"{piece.key} is neither cut once nor unmet"
        elif not piece.may_join or problem.rules.most_joints < 1:
            yield f"{piece.key} is joined and may not be"
        elif sum(pitches for _, pitches in own) != piece.pitches:
            yield f"{piece.key} is joined to another length"
        elif min(pitches for _, pitches in own) < shortest:
            yield f"{piece.key} has a part shorter than {shortest} pitches"


def _reel_faults(problem: Problem, plan: CutPlan) -> Iterator[str]:
    """What a reel is said to be is what stands on the shelf; what is cut and what is left make the reel."""
    shelf = {reel.tag: reel for reel in problem.stock}
    for label, count in Counter(reel.label for reel in plan.reels).items():
        if count > 1:
            yield f"{label} is planned twice"
    for reel in plan.reels:
        used = sum(cut.pitches for cut in reel.cuts)
        if not reel.cuts or reel.left_pitches < 0 or used + reel.left_pitches != reel.pitches:
            yield f"{reel.label} does not add up"
        if reel.is_kept != (reel.left_pitches >= problem.rules.keep_pitches):
            yield f"{reel.label} keeps what is scrap, or the other way about"
        if list(reel.cuts) != sorted(reel.cuts, key=lambda cut: -cut.pitches):
            yield f"{reel.label} is not marked from the longest down"
        if reel.is_new:
            if reel.label in shelf or reel.is_opened or reel.joins_met:
                yield f"{reel.label} is new and on the shelf"
            continue
        stands = shelf.get(reel.label)
        if stands is None:
            yield f"{reel.label} is not on the shelf"
        elif (stands.lot, stands.pitches, stands.is_sealed) != (reel.lot, reel.pitches, reel.is_opened):
            yield f"{reel.label} is not as it stands on the shelf"
        elif tuple(sorted(reel.joins_met)) != tuple(sorted(_met(reel, stands.joins))):
            yield f"{reel.label} does not tell of the joints inside its cuts"


def _met(reel: ReelPlan, joins: tuple[int, ...]) -> list[int]:
    """Joints that are no end of any cut and lie above what is left."""
    ends = {reel.pitches}
    for cut in reel.cuts:
        ends.add(min(ends) - cut.pitches)
    return [at for at in joins if at > reel.left_pitches and at not in ends]


def _buying_faults(problem: Problem, plan: CutPlan) -> Iterator[str]:
    """New reels can be had, in that number."""
    offered = {each.pitches: each for each in problem.buyable}
    bought = Counter(reel.pitches for reel in plan.reels if reel.is_new)
    for pitches, count in sorted(bought.items()):
        offer = offered.get(pitches)
        if offer is None:
            yield f"a new reel of {pitches} pitches cannot be had"
        elif offer.most is not None and count > offer.most:
            yield f"{count} new reels of {pitches} pitches cannot be had"
    for reel in plan.reels:
        if reel.is_new and reel.lot == NEW_LOT and not offered[reel.pitches].is_one_lot:
            yield f"{reel.label} cannot be asked for as one lot with others"
        if reel.is_new and reel.lot not in (NEW_LOT, reel.label):
            yield f"{reel.label} is of lot {reel.lot}, which nobody promised"


def _lot_faults(problem: Problem, plan: CutPlan) -> Iterator[str]:
    """A match group comes whole, from one lot that is known; so do the parts of a joined piece."""
    lot_of: dict[str, set[str | None]] = {}
    for reel in plan.reels:
        for cut in reel.cuts:
            lot_of.setdefault(cut.key, set()).add(reel.lot)
    unmet = {each.key for each in plan.unmet}
    groups: dict[str, list[str]] = {}
    for piece in problem.wanted:
        if len(lot_of.get(piece.key, ())) > 1 or (
            None in lot_of.get(piece.key, ()) and sum(_parts_of(plan, piece.key)) > 1
        ):
            yield f"{piece.key} is joined of two lots"
        if piece.group is not None:
            groups.setdefault(piece.group, []).append(piece.key)
    for group, keys in sorted(groups.items()):
        out = [key for key in keys if key in unmet]
        if out and len(out) < len(keys):
            yield f"match group {group} is cut in part"
        lots = {lot for key in keys for lot in lot_of.get(key, ())}
        if len(lots) > 1 or None in lots:
            yield f"match group {group} is cut from more than one lot, or one that is not known"
        if lots and group in problem.lot_of_group and lots != {problem.lot_of_group[group]}:
            yield f"match group {group} is bound to another lot"


def _parts_of(plan: CutPlan, key: str) -> Iterator[int]:
    return (1 for reel in plan.reels for cut in reel.cuts if cut.key == key)


def _sum_faults(problem: Problem, plan: CutPlan) -> Iterator[str]:
    """Every figure is what the reels come to, and none is below its bound."""
    price = {each.pitches: each.price_cents for each in problem.buyable}
    new = [reel for reel in plan.reels if reel.is_new]
    left = [reel.left_pitches for reel in plan.reels]
    keep = problem.rules.keep_pitches
    joined = {cut.key for reel in plan.reels for cut in reel.cuts if cut.part}
    figures = {
        "price": (plan.price_cents, sum(price.get(reel.pitches, 0) for reel in new)),
        "new reels": (plan.new_reels, len(new)),
        "opened": (plan.opened, sum(reel.is_opened for reel in plan.reels)),
        "joints": (plan.joints, len(joined)),
        "scrap": (plan.scrap_pitches, sum(each for each in left if each < keep)),
        "longest left": (plan.longest_left, max((each for each in left if each >= keep), default=0)),
    }
    for name, (told, counted) in figures.items():
        if told != counted:
            yield f"{name} is told as {told} and comes to {counted}"
    bounds = {
        "unmet": (plan.bounds.unmet, len(plan.unmet)),
        "price": (plan.bounds.price_cents, plan.price_cents),
        "new reels": (plan.bounds.new_reels, plan.new_reels),
        "opened": (plan.bounds.opened, plan.opened),
        "scrap": (plan.bounds.scrap_pitches, plan.scrap_pitches),
    }
    for name, (bound, value) in bounds.items():
        if bound > value:
            yield f"{name} is bounded by {bound} and comes to {value}"
        if plan.is_proven and bound < value and name != "new reels":
            yield f"{name} is called proven at {value} over a bound of {bound}"
