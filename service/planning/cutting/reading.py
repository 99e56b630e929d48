"""What a cut plan is asked, read from the store: pieces still to be cut, and the tape there is for them."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from hashlib import sha256

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.cutting.problem import Buyable, Problem, Rules, Stock, Wanted
from service.errors import BadRequest, NotFound
from service.limits.policy import Policy
from service.planning.cutting.stock import (
    OVER,
    PIECES_OFF,
    TO_CUT,
    FreeReel,
    OnOrder,
    TapeStock,
    overpromised,
    read_stock,
)
from service.planning.snapshot.house import read_policy
from service.planning.snapshot.shelf import Shelf, read_shelf
from service.season.records import Production
from service.shows.records import Element, ElementStatus, Group, Piece, PieceCut, Run
from service.stock.records import Cut, Reel, Tape
from service.store.base import tag_key

DROPPED = (ElementStatus.STRUCK, ElementStatus.CUT_FROM_SHOW)
MOST_JOINTS = 1  # in one piece (common practice)
UNPRICED_CENTS = 1  # where no price is known only the number of reels counts


@dataclass(frozen=True, slots=True)
class PieceWanted:
    """A piece, or the rest of one that is cut in part. `number`: counted through the whole element;
    `parts`: how many parts of it are cut already."""

    id: int
    element_id: int
    element: str
    production: str
    number: int
    drawn_um: int
    pitches: int
    group: str | None
    may_join: bool
    priority: int
    parts: int = 0

    @property
    def key(self) -> str:
        return f"{self.element}/{self.number:03}"


@dataclass(frozen=True, slots=True)
class TapeQuestion:
    """All that is asked of one tape. `in_house_pitches`: what there is of it, promised or not; `others`: what
    other shows still want of it, in pitches, by show."""

    tape_id: int
    tape: str
    pitch_um: int
    problem: Problem
    pieces: Mapping[str, PieceWanted]
    reels: Mapping[str, FreeReel]
    on_order: tuple[OnOrder, ...]
    in_house_pitches: int
    others: Mapping[str, int]
    notes: tuple[str, ...] = ()

    def shown_m(self, pitches: int) -> float:
        """Whole pitches in metres, exact to the micrometre."""
        return pitches * self.pitch_um / 1e6


@dataclass(frozen=True, slots=True)
class CutQuestion:
    """What is asked of every tape at once."""

    production_ids: tuple[int, ...]
    codes: tuple[str, ...]
    tapes: tuple[TapeQuestion, ...]
    notes: tuple[str, ...] = ()
    policy: Policy = field(default_factory=Policy)

    @property
    def piece_ids(self) -> frozenset[int]:
        return frozenset(piece.id for tape in self.tapes for piece in tape.pieces.values())

    def fingerprint(self) -> str:
        """Equal for equal questions: pieces, reels, promises and orders."""
        told = [(tape.tape, tape.problem.fingerprint()) for tape in self.tapes]
        held = [(reel.tag, reel.id, reel.left_pitches) for tape in self.tapes for reel in tape.reels.values()]
        return sha256(repr((told, held, self.codes)).encode()).hexdigest()


def find_productions(session: Session, codes: Sequence[str]) -> list[Production]:
    """The shows of those codes, each once, in the order of their codes. Raises BadRequest, NotFound."""
    keys = sorted({tag_key(code) for code in codes})
    if not keys:
        raise BadRequest("no show is named", "Name at least one show by its code.")
    found = session.scalars(
        select(Production).where(Production.tag_key.in_(keys)).order_by(Production.tag_key)
    ).all()
    missing = [key for key in keys if key not in {show.tag_key for show in found}]
    if missing:
        raise NotFound(f"there is no production {missing[0]}", "See the list at /api/v1/productions.")
    return list(found)


def find_tapes(session: Session, tags: Iterable[str]) -> list[Tape]:
    """Raises NotFound."""
    keys = sorted({tag_key(tag) for tag in tags})
    found = session.scalars(select(Tape).where(Tape.tag_key.in_(keys)).order_by(Tape.tag_key)).all()
    missing = [key for key in keys if key not in {tape.tag_key for tape in found}]
    if missing:
        raise NotFound(f"there is no tape {missing[0]}", "See the list at /api/v1/tapes.")
    return list(found)


def read_question(
    session: Session,
    codes: Sequence[str],
    today: date,
    tapes: Sequence[str] = (),
    may_buy: bool = True,
) -> CutQuestion:
    """The pieces of those shows that are not cut, and what they may be cut from. `tapes`: only these, by tag.
    Without `may_buy` only reels that are there or on order. A number of statements that does not grow.
    """
    shows = find_productions(session, codes)
    asked = {tape.id: tape for tape in find_tapes(session, tapes)} if tapes else {}
    ids = [show.id for show in shows]
    pieces, notes = pieces_to_cut(session, ids, frozenset(asked))
    kinds = asked or _tapes(session, frozenset(pieces))
    stock = read_stock(session, sorted(kinds), ids, (p.id for own in pieces.values() for p in own))
    policy, lots = read_policy(session), _lots_of_groups(session, ids)
    shelf, own = read_shelf(session, today, today), {show.tag for show in shows}
    first_on = max(today, *(show.needed_from or show.build_start for show in shows))
    tapes_asked = [
        replace(
            _tape_question(tape, pieces.get(tape.id, []), stock, lots, (policy, may_buy, first_on)),
            in_house_pitches=sum(max(0, reel.left_pitches) for reel in shelf.reels_of(tape.id)),
            others=_others(shelf, tape, own),
        )
        for tape in sorted(kinds.values(), key=lambda each: each.tag_key)
    ]
    over = [f"{show.tag} is {show.status}." for show in shows if show.status in OVER]
    return CutQuestion(
        tuple(ids),
        tuple(show.tag for show in shows),
        tuple(each for each in tapes_asked if each.pieces),
        (*over, *notes),
        policy,
    )


def _tapes(session: Session, ids: frozenset[int]) -> dict[int, Tape]:
    return {tape.id: tape for tape in session.scalars(select(Tape).where(Tape.id.in_(ids)))}


def _others(shelf: Shelf, tape: Tape, own: set[str]) -> dict[str, int]:
    return {code: n for code, n in shelf.wanted(tape.id).items() if code not in own and n > 0}


def pieces_to_cut(
    session: Session, production_ids: Sequence[int], only: frozenset[int] = frozenset()
) -> tuple[dict[int, list[PieceWanted]], list[str]]:
    """Pieces still to be cut, by tape (`only`: of these); and what is left out without a cut on record."""
    rows = session.execute(
        select(
            Piece.id,
            Piece.drawn_um,
            Piece.cut_pitches,
            Element,
            Production.tag,
            Group.name,
        )
        .join(Run, Run.id == Piece.run_id)
        .join(Element, Element.id == Run.element_id)
        .join(Production, Production.id == Element.production_id)
        .outerjoin(Group, Group.id == Element.match_group_id)
        .where(
            Element.production_id.in_(production_ids),
            Element.retired_on.is_(None),
            Element.status.not_in(DROPPED),
        )
        .order_by(Element.tag_key, Run.number, Piece.number)
    ).all()
    cut = _cut_so_far(session, production_ids)
    found: dict[int, list[PieceWanted]] = defaultdict(list)
    numbers: dict[int, int] = defaultdict(int)
    undecided, unrecorded = set[str](), set[str]()
    for piece_id, drawn_um, pitches, element, code, group in rows:
        numbers[element.id] += 1
        if element.tape_id is None:
            undecided.add(element.tag)
            continue
        if only and element.tape_id not in only:
            continue
        left = still_to_cut(cut.get(piece_id, ()), pitches or 0)
        if not left:
            continue
        if element.status not in TO_CUT:
            unrecorded.add(element.tag)
            continue
        found[element.tape_id].append(
            PieceWanted(
                piece_id,
                element.id,
                element.tag,
                code,
                numbers[element.id],
                drawn_um,
                left,
                None if element.match_group_id is None else f"{code} {group}",
                element.join_allowed and piece_id not in cut,
                element.priority,
                len(cut.get(piece_id, ())),
            )
        )
    return found, _left_out(undecided, unrecorded)


def _left_out(undecided: set[str], unrecorded: set[str]) -> list[str]:
    notes = []
    if undecided:
        notes.append(f"The tape is not decided for {_few(undecided)}: not planned.")
    if unrecorded:
        notes.append(f"Built already without a cut on record, so not planned: {_few(unrecorded)}.")
    return notes


def _few(tags: Iterable[str]) -> str:
    named = sorted(tags)
    return ", ".join(named[:8]) + (f" and {len(named) - 8} more" if len(named) > 8 else "")


def _cut_so_far(session: Session, production_ids: Sequence[int]) -> dict[int, list[tuple[str, int]]]:
    """Part and pitches of each cut of each piece, disputed rows apart."""
    found: dict[int, list[tuple[str, int]]] = defaultdict(list)
    for piece_id, part, pitches in session.execute(
        select(PieceCut.piece_id, PieceCut.part, -Cut.change_pitches)
        .join(Cut, Cut.id == PieceCut.cut_id)
        .join(Piece, Piece.id == PieceCut.piece_id)
        .join(Run, Run.id == Piece.run_id)
        .join(Element, Element.id == Run.element_id)
        .where(Element.production_id.in_(production_ids), *PIECES_OFF)
        .order_by(PieceCut.id)
    ):
        found[piece_id].append((part, pitches))
    return found


def still_to_cut(cuts: Sequence[tuple[str, int]], pitches: int) -> int:
    """What is still to be cut of a piece: all of it, the rest where only parts with letters are cut, or
    nothing.

    >>> still_to_cut([], 40), still_to_cut([("a", 15)], 40), still_to_cut([("", 39)], 40)
    (40, 25, 0)
    """
    if any(not part for part, _ in cuts):
        return 0
    return max(0, pitches - sum(length for _, length in cuts))


def _lots_of_groups(session: Session, production_ids: Sequence[int]) -> dict[tuple[int, str], dict[str, int]]:
    """Lots that pieces of each match group are cut from already, with how many pieces, by tape and group."""
    found: dict[tuple[int, str], dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for tape_id, code, group, lot in session.execute(
        select(Reel.tape_id, Production.tag, Group.name, Reel.lot)
        .join(Cut, Cut.reel_id == Reel.id)
        .join(PieceCut, PieceCut.cut_id == Cut.id)
        .join(Piece, Piece.id == PieceCut.piece_id)
        .join(Run, Run.id == Piece.run_id)
        .join(Element, Element.id == Run.element_id)
        .join(Production, Production.id == Element.production_id)
        .join(Group, Group.id == Element.match_group_id)
        .where(
            Element.production_id.in_(production_ids),
            Element.status.not_in(DROPPED),
            Element.retired_on.is_(None),
            *PIECES_OFF,
        )
    ):
        found[tape_id, f"{code} {group}"][lot] += 1
    return found


def _tape_question(
    tape: Tape,
    pieces: Sequence[PieceWanted],
    stock: TapeStock,
    lots: Mapping[tuple[int, str], Mapping[str, int]],
    ask: tuple[Policy, bool, date],
) -> TapeQuestion:
    policy, may_buy, first_on = ask
    bound, notes = _bound(tape.id, {p.group for p in pieces if p.group}, lots)
    on_order, late = _in_time(stock, tape.id, first_on)
    buyable, cannot = _buyable(tape, on_order, may_buy)
    reels = stock.reels_of(tape.id)
    problem = Problem(
        tuple(Stock(r.tag, r.lot or None, r.free_pitches, r.is_sealed, r.joints) for r in reels),
        tuple(buyable),
        tuple(Wanted(p.key, p.pitches, p.group, p.may_join, p.priority) for p in pieces),
        _rules(tape, policy),
        bound,
    )
    said = [
        *overpromised(stock, tape.id, tape.pitch_um),
        *notes,
        *late,
        *cannot,
        *(f"{why}: not used." for tape_id, why in stock.left_out if tape_id == tape.id),
    ]
    return TapeQuestion(
        tape.id,
        tape.tag,
        tape.pitch_um,
        problem.in_order(),
        {piece.key: piece for piece in pieces},
        {reel.tag: reel for reel in reels},
        tuple(on_order),
        0,
        {},
        tuple(said),
    )


def _rules(tape: Tape, policy: Policy) -> Rules:
    rules = Rules.for_pitch(
        tape.pitch_um, round(policy.keep_offcut_m * 1e6), round(policy.join_min_piece_m * 1e6), MOST_JOINTS
    )
    return replace(
        rules,
        keep_pitches=max(1, rules.keep_pitches),
        shortest_joined_pitches=max(1, rules.shortest_joined_pitches),
    )


def _bound(
    tape_id: int, groups: set[str], lots: Mapping[tuple[int, str], Mapping[str, int]]
) -> tuple[dict[str, str], list[str]]:
    """The lot of each group that is cut in part, and what cannot be kept to."""
    bound, notes = dict[str, str](), list[str]()
    for group in sorted(groups):
        cut = lots.get((tape_id, group), {})
        known = {lot: count for lot, count in cut.items() if lot}
        if known:
            bound[group] = min(known, key=lambda lot: (-known[lot], lot))
        if len(known) > 1:
            notes.append(
                f"{group} is cut from lots {' and '.join(sorted(known))} already: it will not match."
            )
        if "" in cut:
            notes.append(f"{group} is cut in part from a reel whose lot nobody entered.")
    return bound, notes


def _in_time(stock: TapeStock, tape_id: int, first_on: date) -> tuple[list[OnOrder], list[str]]:
    """Order lines that come by the day on which the last of the shows begins to build, or by today."""
    mine = [line for line in stock.on_order if line.tape_id == tape_id and line.free]
    on_time = [line for line in mine if line.due_on is not None and line.due_on <= first_on]
    late = [line for line in mine if line not in on_time]
    said = [
        f"{line.name} ({line.free} reels) is due {line.due_on or 'on no known day'}: not counted on."
        for line in late
    ]
    return on_time, said


def _buyable(tape: Tape, on_order: Sequence[OnOrder], may_buy: bool) -> tuple[list[Buyable], list[str]]:
    """New reels, by length: those on order, and of the tape's own length as many as it takes."""
    coming: dict[int, int] = defaultdict(int)
    for line in on_order:
        length = line.reel_pitches or tape.reel_pitches
        if length:
            coming[length] += line.free
    found = {
        length: Buyable(length, UNPRICED_CENTS, reels, is_one_lot=True) for length, reels in coming.items()
    }
    notes = []
    if may_buy and tape.reel_pitches:
        price = round(tape.price * 100) if tape.price else UNPRICED_CENTS
        found[tape.reel_pitches] = Buyable(tape.reel_pitches, max(1, price), None, is_one_lot=True)
    elif may_buy:
        notes.append(f"How long a reel of {tape.tag} is nobody entered: none is bought.")
    return list(found.values()), notes
