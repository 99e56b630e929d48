"""The whole life of a reel: every row with what was left after it, and where each length is now."""

from collections import defaultdict
from typing import Any

from sqlalchemy import String, and_, cast, select
from sqlalchemy.orm import Session, aliased

from service.season.records import Production
from service.shows.ledger.doing import joints_out, reel_of, reel_out
from service.shows.ledger.schemas import HistoryOut, HistoryRowOut, KinOut, metres
from service.shows.queries import PIECE_NUMBER
from service.shows.records import Element, Piece, PieceCut, Run
from service.stock.ledger.reels import Held
from service.stock.records import Cut, CutKind, Place, Reel

_undone, _undoing = aliased(Cut), aliased(Cut)


def history(session: Session, tag: str) -> HistoryOut:
    """The reel of that tag, the reels it came off and those cut off it, its joints and its ledger. Raises
    NotFound. As many selects for a long life as for a short one."""
    held = reel_of(session, tag)
    above, below = _above(session, held), _below(session, held)
    return HistoryOut(
        reel=reel_out(session, held),
        above=above,
        below=below,
        joints=joints_out(session, held),
        rows=_rows(session, held, _others(session, held, above)),
    )


def _kin(reel: Any, parent: str | None, pitch_um: int) -> KinOut:
    return KinOut(
        tag=reel.tag, parent=parent, state=reel.state.value, left_m=metres(reel.left_pitches, pitch_um)
    )


def _above(session: Session, held: Held) -> list[KinOut]:
    """The parent, its parent and so on."""
    first = select(Reel.id, Reel.parent_id).where(Reel.id == held.reel.parent_id)
    line = first.cte("line", recursive=True)
    line = line.union(select(Reel.id, Reel.parent_id).join(line, Reel.id == line.c.parent_id))
    found = {reel.id: reel for reel in session.scalars(select(Reel).join(line, Reel.id == line.c.id))}
    kin, at = [], held.reel.parent_id
    while at is not None and at in found:
        reel = found.pop(at)
        parent = found.get(reel.parent_id) if reel.parent_id is not None else None
        kin.append(_kin(reel, None if parent is None else parent.tag, held.tape.pitch_um))
        at = reel.parent_id
    return kin


def _below(session: Session, held: Held) -> list[KinOut]:
    """Every reel that was cut off it, and off those, in the order in which they were made."""
    tree = select(Reel.id).where(Reel.parent_id == held.reel.id).cte("tree", recursive=True)
    tree = tree.union(select(Reel.id).join(tree, Reel.parent_id == tree.c.id))
    parent = aliased(Reel)
    rows = session.execute(
        select(Reel, parent.tag)
        .join(tree, Reel.id == tree.c.id)
        .join(parent, Reel.parent_id == parent.id)
        .order_by(Reel.id)
    )
    return [_kin(reel, tag, held.tape.pitch_um) for reel, tag in rows]


def _others(session: Session, held: Held, above: list[KinOut]) -> dict[int, str]:
    """The reel that each length came from or went to, by row. Nothing stored ties an offcut to the row that
    made it, or the two rows of a joint: they are paired by length, in the order in which they stand."""
    reel = held.reel
    mine = session.execute(
        select(Cut.id, Cut.kind, Cut.change_pitches, Cut.number, Cut.undoes_id)
        .where(Cut.reel_id == reel.id)
        .order_by(Cut.id)
    ).all()
    offcuts: dict[int, list[str]] = defaultdict(list)
    for tag, pitches in session.execute(
        select(Reel.tag, Cut.change_pitches)
        .join(Cut, Cut.reel_id == Reel.id)
        .where(Reel.parent_id == reel.id, Cut.number.is_(None))
        .order_by(Cut.id)
    ):
        offcuts[pitches].append(tag)
    joins = session.execute(
        select(Cut.id, Cut.change_pitches, Reel.tag)
        .join(Reel, Cut.reel_id == Reel.id)
        .where(Cut.kind == CutKind.JOINED, Reel.tape_id == reel.tape_id, Reel.id != reel.id)
    ).all()
    found: dict[int, str] = {}
    for row in mine:
        comes_off = row.number is None or (row.kind is CutKind.RETURNED and row.undoes_id is None)
        if row.kind is CutKind.OFFCUT and offcuts[-row.change_pitches]:
            found[row.id] = offcuts[-row.change_pitches].pop(0)
        elif row.kind is CutKind.JOINED:
            pairs = [join for join in joins if join.change_pitches == -row.change_pitches]
            if pairs:
                found[row.id] = min(pairs, key=lambda join: abs(join.id - row.id)).tag
        elif comes_off and above:
            found[row.id] = above[0].tag
    return found


def _rows(session: Session, held: Held, others: dict[int, str]) -> list[HistoryRowOut]:
    rows = session.execute(
        select(
            Cut,
            _undone.number.label("undoes"),
            _undoing.number.label("undone_by"),
            Production.tag.label("production"),
            Element.tag.label("element"),
            Element.status,
            Place.tag.label("place"),
            Run.number.label("run"),
            Piece.id.label("piece_id"),
            cast(PIECE_NUMBER, String).label("piece"),
            PieceCut.part,
        )
        .select_from(Cut)
        .outerjoin(_undone, Cut.undoes_id == _undone.id)
        .outerjoin(_undoing, _undoing.undoes_id == Cut.id)
        .outerjoin(PieceCut, PieceCut.cut_id == Cut.id)
        .outerjoin(Piece, PieceCut.piece_id == Piece.id)
        .outerjoin(Run, Piece.run_id == Run.id)
        .outerjoin(Element, Run.element_id == Element.id)
        .outerjoin(Production, Element.production_id == Production.id)
        .outerjoin(Place, Element.place_id == Place.id)
        .where(Cut.reel_id == held.reel.id)
        .order_by(Cut.id)
    ).all()
    back, left, said = _came_back(session, held), 0, []
    for row in rows:
        cut = row.Cut
        left += 0 if cut.is_disputed else cut.change_pitches
        is_piece = cut.kind is CutKind.PIECE and row.piece_id is not None
        said.append(
            HistoryRowOut(
                number=cut.number,
                reel=held.tag,
                cut_on=cut.cut_on,
                kind=cut.kind.value,
                change_pitches=cut.change_pitches,
                change_m=metres(cut.change_pitches, held.tape.pitch_um),
                left_m=metres(left, held.tape.pitch_um),
                is_disputed=cut.is_disputed,
                entered_by=cut.entered_by,
                undoes=row.undoes,
                undone_by=row.undone_by,
                other=others.get(cut.id),
                production=row.production,
                element=row.element,
                run=row.run,
                piece=None if row.piece_id is None else f"{row.piece}{row.part}",
                element_status=None if row.status is None else row.status.value,
                element_place=row.place,
                came_back_as=back.get((row.piece_id, row.part)) if is_piece else None,
                note=cut.note,
            )
        )
    return said


def _came_back(session: Session, held: Held) -> dict[tuple[int, str], str]:
    """The offcut that each recovered piece of this reel became."""
    mine = aliased(PieceCut)
    rows = session.execute(
        select(PieceCut.piece_id, PieceCut.part, Reel.tag)
        .join(Cut, and_(PieceCut.cut_id == Cut.id, Cut.kind == CutKind.RETURNED))
        .join(Reel, Cut.reel_id == Reel.id)
        .join(mine, mine.piece_id == PieceCut.piece_id)
        .join(_undone, mine.cut_id == _undone.id)
        .where(_undone.reel_id == held.reel.id)
    )
    return {(piece_id, part): tag for piece_id, part, tag in rows}
