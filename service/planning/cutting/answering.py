"""A cut plan as it is stored: its steps in marking order, and its figures tape by tape."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from service.cutting.lots import Yield
from service.cutting.plan import Cut, CutPlan, ReelPlan, Why
from service.cutting.problem import Problem, Stock
from service.planning.cutting.reading import CutQuestion, PieceWanted, TapeQuestion
from service.planning.cutting.schemas import (
    CutTapeOut,
    GroupLotOut,
    OffcutOut,
    TapeBoundsOut,
    UnmetPieceOut,
)
from service.units import show_um

LETTERS = "abcdefghijklmnopqrstuvwxyz"
Solve = Callable[[Problem], CutPlan]
MOST_LOTS_TRIED, MOST_PIECES_TRIED = 6, 200


@dataclass(frozen=True, slots=True)
class StepDraft:
    """One cut to be stored. `piece_id` None: what is left of the reel, which is scrap."""

    tape_id: int
    reel_id: int | None
    new_reel: str | None
    piece_id: int | None
    part: str
    pitches: int


@dataclass(frozen=True, slots=True)
class TapeAnswer:
    """A solved tape. `yields`: what each lot gives each match group; `offers`: fewer reels than are bought
    would do, if they came of a lot that is on the shelf."""

    question: TapeQuestion
    plan: CutPlan
    yields: tuple[Yield, ...] = ()
    offers: tuple[str, ...] = ()


def step_drafts(answers: Sequence[TapeAnswer]) -> list[StepDraft]:
    """Every cut in the order in which it is marked: tape, lot, reel, longest first; reels to come last."""
    return [
        step
        for answer in answers
        for reel in sorted(answer.plan.reels, key=lambda r: (r.is_new, r.lot or "", _counted(r.label)))
        for step in _steps_of(answer.question, reel)
    ]


def _counted(label: str) -> tuple[str, int, str]:
    """Labels in the order people count: new 2 before new 10."""
    stem, _, end = label.rpartition(" ")
    return (stem, int(end), label) if end.isdecimal() else (label, 0, label)


def _steps_of(tape: TapeQuestion, reel: ReelPlan) -> Iterator[StepDraft]:
    shelf = tape.reels.get(reel.label)
    place = (tape.tape_id, shelf.id if shelf else None, None if shelf else reel.label)
    for cut in reel.cuts:
        piece = tape.pieces[cut.key]
        yield StepDraft(*place, piece.id, part_of(piece, cut), cut.pitches)
    if is_scrap(tape, reel):
        yield StepDraft(*place, None, "", reel.left_pitches)


def part_of(piece: PieceWanted, cut: Cut) -> str:
    """The letter of a part; none for a piece in one length."""
    if not cut.part and not piece.parts:
        return ""
    return LETTERS[piece.parts + max(0, cut.part - 1)]


def is_scrap(tape: TapeQuestion, reel: ReelPlan) -> bool:
    """Whether what is left of a reel is thrown out: not where others are promised the rest of it."""
    shelf = tape.reels.get(reel.label)
    return bool(reel.cuts and reel.left_pitches and not reel.is_kept and (shelf is None or shelf.is_whole))


def figures(answer: TapeAnswer) -> CutTapeOut:
    """The plan of one tape, for people."""
    tape, plan = answer.question, answer.plan
    used = [reel for reel in plan.reels if reel.cuts]
    scrap = sum(reel.left_pitches for reel in used if is_scrap(tape, reel))
    fresh = Counter(reel.pitches for reel in used if reel.is_new)
    coming = _coming(tape, fresh)
    others = sum(tape.others.values())
    left = _left_after(tape, used) - scrap
    price = _price(tape, fresh, coming)
    bounds = plan.bounds
    return CutTapeOut(
        tape=tape.tape,
        pieces=len(tape.pieces),
        needed_m=tape.shown_m(sum(piece.pitches for piece in tape.pieces.values())),
        met=len(tape.pieces) - len(plan.unmet),
        unmet=[_unmet(tape, each.key, each.why, answer.yields) for each in plan.unmet],
        opened=plan.opened,
        opened_reels=sorted(reel.label for reel in used if reel.is_opened),
        new_reels=sum(fresh.values()),
        on_order=sum(coming.values()),
        to_buy=sum(fresh.values()) - sum(coming.values()),
        price=None if price is None else float(price),
        scrap_m=tape.shown_m(scrap),
        offcuts=[_offcut(tape, reel) for reel in used if reel.is_kept and reel.left_pitches],
        joints=plan.joints,
        bounds=TapeBoundsOut(
            unmet=bounds.unmet,
            new_reels=bounds.new_reels,
            opened=bounds.opened,
            scrap_m=tape.shown_m(min(scrap, bounds.scrap_pitches)),
        ),
        is_proven=plan.is_proven,
        gap_pct=None if plan.gap is None else round(100 * plan.gap, 3),
        stopped_early=plan.stopped_early,
        lots=[_lot(tape, each) for each in answer.yields],
        left_m=tape.shown_m(left),
        others_m=tape.shown_m(others),
        others=sorted(tape.others),
        short_for_others_m=tape.shown_m(max(0, others - left)),
        notes=[*tape.notes, *answer.offers, *_of_new_lots(tape, used), *plan.notes],
    )


def _coming(tape: TapeQuestion, fresh: Mapping[int, int]) -> Counter[int]:
    """New reels that are on order already, by length."""
    ordered = Counter[int]()
    usual = max((each.pitches for each in tape.problem.buyable), default=0)
    for line in tape.on_order:
        ordered[line.reel_pitches or usual] += line.free
    return Counter({length: min(count, ordered[length]) for length, count in fresh.items()})


def _price(tape: TapeQuestion, fresh: Counter[int], coming: Counter[int]) -> Decimal | None:
    """Of the reels to be bought; None where a price is not known."""
    prices = {each.pitches: each.price_cents for each in tape.problem.buyable}
    bought = fresh - coming
    if any(prices.get(length, 1) <= 1 for length in bought):
        return None
    return sum((Decimal(prices[length] * count) / 100 for length, count in bought.items()), Decimal(0))


def _left_after(tape: TapeQuestion, used: Sequence[ReelPlan]) -> int:
    """Pitches of the tape in the house after the plan, promised to others or not."""
    cut = sum(cut.pitches for reel in used for cut in reel.cuts if not reel.is_new)
    fresh = sum(reel.left_pitches for reel in used if reel.is_new)
    return tape.in_house_pitches - cut + fresh


def _offcut(tape: TapeQuestion, reel: ReelPlan) -> OffcutOut:
    shelf = tape.reels.get(reel.label)
    left = reel.left_pitches + (shelf.left_pitches - shelf.free_pitches if shelf else 0)
    lot = shelf.lot or None if shelf else None
    return OffcutOut(
        reel=reel.label,
        lot=lot,
        left_m=tape.shown_m(left),
        label=label_of_rest(reel.label, tape.tape, lot, left * tape.pitch_um),
    )


def label_of_rest(reel: str, tape: str, lot: str | None, left_um: int) -> str:
    """What is written on a reel for what is left on it.

    >>> label_of_rest("R-106", "RGBW24", "C-26F", 1_400_000)
    'R-106 · RGBW24 · lot C-26F · 1400 mm left'
    """
    return " · ".join(filter(None, (reel, tape, f"lot {lot}" if lot else "", f"{show_um(left_um)} left")))


def _lot(tape: TapeQuestion, found: Yield) -> GroupLotOut:
    says = found.says
    if found.missing_reels:
        more = "1 more reel" if found.missing_reels == 1 else f"{found.missing_reels} more reels"
        says += f"; {more} of it would"
    return GroupLotOut(
        group=found.group,
        lot=found.lot,
        on_hand_m=tape.shown_m(found.pitches),
        yields_all=found.yields_all,
        missing_pieces=found.wanted_pieces - found.pieces,
        says=says,
    )


def _unmet(tape: TapeQuestion, key: str, why: Why, yields: Sequence[Yield]) -> UnmetPieceOut:
    piece = tape.pieces[key]
    return UnmetPieceOut(
        element=piece.element,
        piece=piece.number,
        cut_mm=piece.pitches * tape.pitch_um / 1000,
        why=str(why),
        mend=_mend(tape, piece, why, yields),
    )


def _mend(tape: TapeQuestion, piece: PieceWanted, why: Why, yields: Sequence[Yield]) -> str:
    if why is Why.TOO_LONG:
        lengths = [*(s.pitches for s in tape.problem.stock), *(b.pitches for b in tape.problem.buyable)]
        longest = show_um(max(lengths, default=0) * tape.pitch_um)
        return f"Allow a joint in {piece.element}, or draw it in two: the longest length there is {longest}."
    if why is Why.NO_LOT:
        return _lot_to_buy(tape, piece.group or "", yields)
    if any(each.most is None for each in tape.problem.buyable):
        return f"Enter how much {tape.tape} there is to come, and plan again."
    return f"Plan it with reels to be bought, or order {tape.tape}."


def _lot_to_buy(tape: TapeQuestion, group: str, yields: Sequence[Yield]) -> str:
    """Reels of which lot would do for a match group, where some are cut already of that lot."""
    short = {each.lot: each.missing_reels for each in yields if each.group == group and each.missing_reels}
    bound = tape.problem.lot_of_group.get(group)
    if bound is not None:
        more = f"{short[bound]} of lot {bound}" if bound in short else f"more of lot {bound}"
        return f"Buy {more}, which some of {group} is cut from; or cut the whole group again of another lot."
    ways = [f"{count} of lot {lot}" for lot, count in short.items()]
    return f"Buy {' or '.join([*ways, 'new reels of one lot'])} for {group}."


def _of_new_lots(tape: TapeQuestion, used: Sequence[ReelPlan]) -> list[str]:
    """Match groups that are cut from new reels: those must come as one lot."""
    groups: dict[str, set[str]] = {}
    for reel in used:
        for cut in reel.cuts:
            group = tape.pieces[cut.key].group
            if group and reel.is_new:
                groups.setdefault(group, set()).add(reel.label)
    return [
        f"Ask for one lot: {', '.join(sorted(labels, key=_counted))} must match for {group}."
        for group, labels in sorted(groups.items())
        if len(labels) > 1
    ]


def same_lot_offers(tape: TapeQuestion, plan: CutPlan, solve: Solve) -> tuple[str, ...]:
    """Where match groups make a plan buy: whether fewer reels would do if they were of a lot that is here."""
    fresh = [reel for reel in plan.reels if reel.is_new and reel.cuts]
    groups = {piece.group for piece in tape.pieces.values() if piece.group}
    lots = sorted({reel.lot for reel in tape.problem.stock if reel.lot})
    too_many = len(lots) > MOST_LOTS_TRIED or len(tape.pieces) > MOST_PIECES_TRIED
    if not fresh or not groups or plan.unmet or too_many:
        return ()
    longest = max(reel.pitches for reel in fresh)
    for count in range(1, len(fresh)):
        for lot in lots:
            more = tuple(Stock(f"one more {n}", lot, longest) for n in range(count))
            if not solve(replace(tape.problem, stock=(*tape.problem.stock, *more), buyable=())).unmet:
                reels = "1 reel" if count == 1 else f"{count} reels"
                return (
                    f"{reels} of lot {lot}, which is on the shelf, would do instead of the "
                    f"{len(fresh)} new ones: ask for that lot first.",
                )
    return ()


def found_of(question: CutQuestion, answers: Sequence[TapeAnswer]) -> dict[str, Any]:
    """What is kept of a plan beside its steps."""
    return {
        "error": None,
        "notes": list(question.notes),
        "tapes": [figures(answer).model_dump(mode="json") for answer in answers],
    }
