"""Changes to elements and their runs. They take a session and never commit."""

from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.electrical.tape import Fit, cut_pitches
from service.errors import BadRequest, InUse, NotFound
from service.shows.records import Element, Group, GroupKind, Piece, PieceCut, Run, ScenicUnit
from service.shows.schemas import ElementChange, RunChange
from service.stock.records import Place, Tape
from service.store.changing import find, held, touch


def change_element(
    session: Session, tag: str, change: ElementChange, expected: frozenset[int] | None
) -> Element:
    """The element as changed; pieces not yet cut follow its tape and fit rule."""
    element = held(session, Element, tag, expected)
    named: dict[str, Any] = change.named()
    _follow_names(session, element, named)
    before = element.tape_id
    for name, value in named.items():
        setattr(element, name, value)
    if {"tape_id", "wired"} & named.keys():
        _check_wired(session, element)
    if {"cap_pct", "cap_enforced_where", "cap_signed_by"} & named.keys():
        _check_cap(element)
    if {"tape_id", "fit"} & named.keys():
        _cut_again(session, element, is_other_tape=element.tape_id != before)
    session.flush()
    return element


def change_run(
    session: Session, tag: str, number: int, change: RunChange, expected: frozenset[int] | None
) -> Element:
    """The element whose run was changed; its version grows with any of its runs."""
    element = held(session, Element, tag, expected)
    run = next((r for r in element.runs if r.number == number), None)
    if run is None:
        raise NotFound(f"{element.tag} has no run {number}", f"It has {len(element.runs)}, counted from 1.")
    named: dict[str, Any] = change.named()
    if "lead_m" in named:
        named["lead_um"] = named.pop("lead_m")
    for name, value in named.items():
        setattr(run, name, value)
    if session.is_modified(run):
        touch(element)
    session.flush()
    return element


def _follow_names(session: Session, element: Element, named: dict[str, Any]) -> None:
    """Replace the tags and names of other things by the columns that point to them."""
    if "scenic_unit" in named:
        name = named.pop("scenic_unit")
        named["scenic_unit_id"] = None if name is None else _scenic_unit(session, element, name).id
    if "place" in named:
        tag = named.pop("place")
        named["place_id"] = None if tag is None else find(session, Place, tag, "place").id
    if "tape" in named:
        tag = named.pop("tape")
        named["tape_id"] = None if tag is None else find(session, Tape, tag, "tape").id
        if tag is None:
            named.setdefault("wired", "")
    for kind in GroupKind:
        field = f"{kind.value}_group"
        if field in named:
            named[f"{field}_id"] = _group_id(session, element, kind, named.pop(field))


def _scenic_unit(session: Session, element: Element, name: str) -> ScenicUnit:
    here = ScenicUnit.production_id == element.production_id
    unit = session.scalars(select(ScenicUnit).where(here, ScenicUnit.name == name)).one_or_none()
    if unit is None:
        known = session.scalars(select(ScenicUnit.name).where(here).order_by(ScenicUnit.name)).all()
        raise BadRequest(f"the show has no scenic unit {name}", f"It has: {', '.join(known) or 'none'}.")
    return unit


def _group_id(session: Session, element: Element, kind: GroupKind, name: str | None) -> int | None:
    if not name:
        return None
    here = (Group.production_id == element.production_id, Group.kind == kind, Group.name == name)
    group = session.scalars(select(Group).where(*here)).one_or_none()
    if group is None:
        group = Group(production_id=element.production_id, kind=kind, name=name)
        session.add(group)
        session.flush()
    return group.id


def _check_wired(session: Session, element: Element) -> None:
    """Names are emitters of the tape, each once, and are kept in pad order."""
    wired = element.wired.split()
    if not wired:
        element.wired = ""
        return
    if element.tape_id is None:
        raise BadRequest(f"{element.tag} has no tape, so nothing can be wired", "Choose the tape first.")
    tape = session.get_one(Tape, element.tape_id)
    pads = [emitter.name for emitter in tape.emitters]
    unknown = [name for name in wired if name not in pads]
    if unknown:
        raise BadRequest(
            f"{tape.tag} has no emitter {unknown[0]}", f"Say in wired which of these are: {' '.join(pads)}."
        )
    element.wired = " ".join(name for name in pads if name in wired)


def _check_cap(element: Element) -> None:
    if element.cap_pct is not None and not (element.cap_enforced_where and element.cap_signed_by):
        raise BadRequest(
            f"the level cap of {element.tag} must say where it is enforced and who signed it",
            "Send cap_enforced_where and cap_signed_by too.",
        )


def _cut_again(session: Session, element: Element, is_other_tape: bool) -> None:
    """Whole cut pitches of every piece not cut yet; a cut piece keeps its tape."""
    pieces = [piece for run in element.runs for piece in run.pieces]
    cut = _cut_pieces(session, element)
    if cut and is_other_tape:
        raise InUse(
            f"{len(cut)} of {len(pieces)} pieces of {element.tag} are cut already",
            "Return or scrap what was cut before the tape is changed.",
        )
    tape = None if element.tape_id is None else session.get_one(Tape, element.tape_id)
    for piece in pieces:
        if piece.id not in cut:
            piece.cut_pitches = (
                None if tape is None else cut_pitches(piece.drawn_um, tape.pitch_um, Fit(element.fit.value))
            )


def _cut_pieces(session: Session, element: Element) -> set[int]:
    query = select(PieceCut.piece_id).join(Piece).join(Run).where(Run.element_id == element.id)
    return set(session.scalars(query).all())
