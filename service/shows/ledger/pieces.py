"""Pieces of shows cut off reels, taken back, and recovered when a show is struck. Nothing here commits."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BadQuantity, InUse, NotFound, Refused
from service.season.records import Production, ProductionStatus
from service.shows.records import Element, ElementStatus, Piece, PieceCut, Run
from service.stock.ledger import acts
from service.stock.ledger.acts import Taken
from service.stock.ledger.reels import Entry, Held, held_by_id, write
from service.stock.records import Cut, CutKind, Reel, ReelState, Tape
from service.store.base import tag_key
from service.store.numbers import next_tags, prefix_of

_NAMED = re.compile(r"(\d{1,3})\s*([a-z]?)", re.I)
# What the pieces of such an element were made into is there, or was until the strike.
BUILT = (
    ElementStatus.BUILT,
    ElementStatus.TESTED,
    ElementStatus.INSTALLED,
    ElementStatus.WORKING,
    ElementStatus.DARK,
    ElementStatus.STRUCK,
)
OVER = frozenset({ProductionStatus.RETURNED, ProductionStatus.CANCELLED})


@dataclass(frozen=True, slots=True)
class Wanted:
    """A piece of an element, or one part of it where it has a join. `number` counts through the element."""

    element: Element
    run: Run
    piece: Piece
    number: int
    part: str = ""

    @property
    def name(self) -> str:
        return f"{self.element.tag} piece {self.number}{self.part}"


def wanted(session: Session, element: str, piece: str = "1") -> Wanted:
    """The piece by the element's tag and its own number: "1", or "1a" for the first part of a joined one.
    Locked until the transaction ends, so that it is not cut twice at once. Raises NotFound."""
    found = session.scalars(select(Element).where(Element.tag_key == tag_key(element))).one_or_none()
    if found is None:
        raise NotFound(f"there is no element {element}", "See the list at /api/v1/elements.")
    rows = session.execute(
        select(Piece, Run)
        .join(Run, Piece.run_id == Run.id)
        .where(Run.element_id == found.id)
        .order_by(Run.number, Piece.number)
        .with_for_update(of=Piece)
    ).all()
    stated = _NAMED.fullmatch(piece.strip())
    number = int(stated[1]) if stated else 0
    if stated is None or not 1 <= number <= len(rows):
        raise NotFound(
            f"{found.tag} has no piece {piece}",
            f"Name 1 to {len(rows)}, with a, b … for the parts of a piece with a join.",
        )
    one, run = rows[number - 1]
    return Wanted(found, run, one, number, stated[2].lower())


def cut_piece(
    session: Session,
    held: Held,
    want: Wanted,
    pitches: int | None,
    entry: Entry,
    otherwise: Sequence[str] = (),
) -> Taken:
    """The piece off the reel; without a length, as long as it is drawn. `otherwise`: what about it is not as
    it is drawn or seen, which the entry's note is to explain. Raises Refused, ReelTooShort."""
    if want.element.tape_id != held.tape.id:
        raise Refused(
            f"{held.tag} is {held.tape.tag}, which is not the tape of {want.element.tag}",
            "Cut it off a reel of its own tape.",
        )
    _refuse_cut_already(session, want)
    length = want.piece.cut_pitches if pitches is None else pitches
    if length is None:
        raise BadQuantity(f"how long {want.name} is cut is not known", "Give the length.")
    if otherwise and not entry.note:
        raise Refused("; ".join(otherwise), "Correct it; if it is meant so, say why in a note.")
    taken = acts.take(session, held, CutKind.PIECE, length, entry)
    session.add(PieceCut(piece_id=want.piece.id, cut_id=taken.cut.id, part=want.part))
    session.flush()
    return taken


def cut_otherwise(session: Session, held: Held, want: Wanted, pitches: int | None) -> list[str]:
    """What about a cut is not as its piece is drawn, or not of the lot that its match group is cut from."""
    found = []
    drawn = want.piece.cut_pitches
    # A part is shorter than its piece by right.
    if drawn is not None and pitches is not None and (pitches > drawn or (pitches < drawn and not want.part)):
        found.append(f"{want.name} is {held.shown(drawn)} as drawn, not {held.shown(pitches)}")
    lots = _lots_of_group(session, want, held.tape)
    if lots and held.reel.lot not in lots:
        own = f"of lot {held.reel.lot}" if held.reel.lot else "of no known lot"
        found.append(
            f"{held.tag} is {own}, and the match group of {want.element.tag} is cut from {', '.join(lots)}"
        )
    return found


def _lots_of_group(session: Session, want: Wanted, tape: Tape) -> list[str]:
    """The known lots that the pieces of an element's match group, its own too, are cut from."""
    if want.element.match_group_id is None:
        return []
    rows = (
        select(Reel.lot)
        .join(Cut, Cut.reel_id == Reel.id)
        .join(PieceCut, PieceCut.cut_id == Cut.id)
        .join(Piece, Piece.id == PieceCut.piece_id)
        .join(Run, Run.id == Piece.run_id)
        .join(Element, Element.id == Run.element_id)
        .where(
            Element.match_group_id == want.element.match_group_id,
            Reel.tape_id == tape.id,
            Reel.lot != "",
            Cut.kind == CutKind.PIECE,
            Cut.is_disputed.is_(False),
        )
    )
    return sorted(set(session.scalars(rows)))


def _refuse_cut_already(session: Session, want: Wanted) -> None:
    """A piece is cut once, whole or each of its parts; what is disputed does not count."""
    rows = session.execute(
        select(Cut.number, Reel.tag, PieceCut.part)
        .join(PieceCut, PieceCut.cut_id == Cut.id)
        .join(Reel, Cut.reel_id == Reel.id)
        .where(PieceCut.piece_id == want.piece.id, Cut.kind == CutKind.PIECE, Cut.is_disputed.is_(False))
        .order_by(Cut.id)
    )
    for number, reel, part in rows:
        if part == want.part or not part or not want.part:
            raise Refused(
                f"{want.name} is cut already: {number} off {reel}",
                f"Take {number} back first if it is to be cut again.",
            )


def find_cut(session: Session, number: str) -> Cut:
    """The ledger row of that number, in any letter case. Raises NotFound."""
    cut = session.scalars(select(Cut).where(Cut.number == number.strip())).one_or_none()
    cut = cut or session.scalars(select(Cut).where(Cut.number == number.strip().upper())).one_or_none()
    if cut is None:
        raise NotFound(f"there is no cut {number}", "See the list at /api/v1/cuts.")
    return cut


def take_back(session: Session, number: str, entry: Entry) -> tuple[Held, Cut]:
    """The row taken back by another; the piece that it was cut for is to be cut again. Raises Refused."""
    held, cut = _held_with(session, number)
    if not entry.note:
        standing = built_of(session, cut)
        if standing is not None:
            raise InUse(*standing)
    back = acts.take_back(session, held, cut, entry)
    _free_piece(session, cut)
    return held, back


def built_of(session: Session, cut: Cut) -> tuple[str, str] | None:
    """Why a cut is not taken back without a note, with the mend: what was made of it stands, or stood."""
    row = session.execute(
        select(Element.tag, Element.status, Production.tag)
        .join(Production, Production.id == Element.production_id)
        .join(Run, Run.element_id == Element.id)
        .join(Piece, Piece.run_id == Run.id)
        .join(PieceCut, PieceCut.piece_id == Piece.id)
        .where(PieceCut.cut_id == cut.id, Element.status.in_(BUILT))
    ).first()
    if row is None or cut.kind is not CutKind.PIECE or cut.is_disputed:
        return None
    element, status, show = row
    return (
        f"{cut.number} was cut for {element}, which is {status.value} in {show}",
        f"Once it is struck, recover the piece; if {cut.number} was never cut, say so in a note.",
    )


def settle(session: Session, number: str, counts: bool, entry: Entry) -> tuple[Held, Cut]:
    """A disputed row counted after all, or void for good with the reason. Raises Refused, ReelTooShort."""
    held, cut = _held_with(session, number)
    link = session.scalars(select(PieceCut).where(PieceCut.cut_id == cut.id)).one_or_none()
    if not counts:
        done = acts.void(session, held, cut, entry)
        _free_piece(session, cut)
        return held, done
    twin = None if link is None else _twin(session, link)
    done = acts.count(session, held, cut, entry, twin)
    if link is not None:
        link.cut_id = done.id
        session.flush()
    return held, done


def _twin(session: Session, link: PieceCut) -> str | None:
    """The counted row of the same piece, or part of it."""
    return session.scalar(
        select(Cut.number)
        .join(PieceCut, PieceCut.cut_id == Cut.id)
        .where(
            PieceCut.piece_id == link.piece_id,
            PieceCut.part == link.part,
            Cut.kind == CutKind.PIECE,
            Cut.is_disputed.is_(False),
        )
        .limit(1)
    )


def _held_with(session: Session, number: str) -> tuple[Held, Cut]:
    """A row with its reel held, read once the reel is."""
    cut = find_cut(session, number)
    (held,) = held_by_id(session, [cut.reel_id])
    return held, cut


def _free_piece(session: Session, cut: Cut) -> None:
    for link in session.scalars(select(PieceCut).where(PieceCut.cut_id == cut.id)):
        session.delete(link)
    session.flush()


@dataclass(frozen=True, slots=True)
class Offcut:
    """What a recovered piece becomes: its tag (blank: the next free one) and where it is put."""

    tag: str = ""
    place_id: int | None = None


def recover(
    session: Session, want: Wanted, pitches: int | None, offcut: Offcut, entry: Entry
) -> tuple[Held, Cut]:
    """A piece of a struck element as an offcut of the reel that it was cut from, in its lot; shorter than it
    was where its ends were trimmed. Raises Refused, NotFound."""
    cut = _cut_of(session, want)
    (held,) = held_by_id(session, [cut.reel_id])
    _refuse_unstruck(session, want)
    length = -cut.change_pitches if pitches is None else pitches
    if not 1 <= length <= -cut.change_pitches:
        back, was = held.shown(length), held.shown(-cut.change_pitches)
        raise BadQuantity(
            f"{want.name} was cut {was} long, so {back} cannot come back",
            "Give the length that is left of it.",
        )
    reel = Reel(
        tag=offcut.tag or next_tags(session, prefix_of(held.tag))[0],
        tape_id=held.tape.id,
        lot=held.reel.lot,
        place_id=offcut.place_id or held.reel.place_id,
        state=ReelState.OFFCUT,
        left_pitches=0,
        parent_id=held.reel.id,
        note=f"out of {want.name}",
    )
    session.add(reel)
    session.flush()
    came = entry.saying(f"cut as {cut.number}")
    new = Held(reel, held.tape)
    row = write(session, new, CutKind.RETURNED, length, came)
    session.add(PieceCut(piece_id=want.piece.id, cut_id=row.id, part=want.part))
    session.flush()
    return new, row


def tape_of(session: Session, want: Wanted) -> Tape:
    """The tape of a piece's element. Raises NotFound while it is undecided."""
    if want.element.tape_id is None:
        raise NotFound(f"the tape of {want.element.tag} is not decided", "Name a piece that was cut.")
    return session.get_one(Tape, want.element.tape_id)


def _cut_of(session: Session, want: Wanted) -> Cut:
    """The row a piece was cut by, unless it came back already."""
    rows = session.execute(
        select(Cut, Reel.tag)
        .join(PieceCut, PieceCut.cut_id == Cut.id)
        .join(Reel, Cut.reel_id == Reel.id)
        .where(PieceCut.piece_id == want.piece.id, PieceCut.part == want.part, Cut.is_disputed.is_(False))
        .order_by(Cut.id)
    ).all()
    back = next(((cut, tag) for cut, tag in rows if cut.kind is CutKind.RETURNED), None)
    if back is not None:
        as_reel = f"{back[1]} ({back[0].number})"
        raise Refused(f"{want.name} came back already, as {as_reel}", "Name another piece.")
    found = next((cut for cut, _ in rows if cut.kind is CutKind.PIECE), None)
    if found is None:
        raise NotFound(
            f"no reel is on record that {want.name} was cut from",
            "Name a piece that has its cut on record, or enter the length as a reel of its own.",
        )
    return found


def _refuse_unstruck(session: Session, want: Wanted) -> None:
    show = session.get_one(Production, want.element.production_id)
    done = (ElementStatus.STRUCK, ElementStatus.CUT_FROM_SHOW)
    if want.element.status not in done and show.status not in OVER:
        raise InUse(
            f"{want.element.tag} is {want.element.status.value} in {show.tag}, which is {show.status.value}",
            f"Take {want.element.tag} to struck first; a cut that was never made is taken back instead.",
        )
