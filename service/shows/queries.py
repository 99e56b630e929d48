"""The lists of what lights up: scenic units, elements with their runs and pieces, runs on their own."""

from typing import Any

from sqlalchemy import ColumnElement, String, and_, case, cast, false, func, or_, select
from sqlalchemy.orm import aliased

from service.season.records import Production
from service.shows.records import (
    Cue,
    Element,
    ElementStatus,
    FeedStyle,
    Group,
    GroupKind,
    Motion,
    Piece,
    PieceCut,
    Run,
    ScenicUnit,
    Zone,
)
from service.stock.fittings import Connector
from service.stock.records import Cut, CutKind, Place, Reel, Tape
from service.store.listing import RETIRED, Child, Field, Filter, Listing, metres, millimetres, outer

_above = aliased(Place)
_control = aliased(Group)
_match = aliased(Group)
_undone = aliased(Cut)

SCENIC_UNITS = Listing(
    plural="scenic-units",
    one="a scenic unit",
    doc="Pieces of scenery, props and costumes that carry elements; each is a place of its own.",
    source=outer(
        ScenicUnit.__table__.join(Production.__table__).join(Place.__table__),
        (_above, Place.parent_id == _above.id),
    ),
    id=ScenicUnit.id,
    version=ScenicUnit.version,
    key=ScenicUnit.id,
    order=(Production.tag_key, ScenicUnit.name, ScenicUnit.id),
    is_tagged=False,
    fields=(
        Field("id", ScenicUnit.id, "number in the store; its address"),
        Field("production", Production.tag, "show code"),
        Field("name", ScenicUnit.name, "what people call it"),
        Field("tag", Place.tag, "its own tag as a place"),
        Field("place", _above.tag, "tag of the place it stands at", is_blank=True),
        Field("motion", ScenicUnit.motion, "static, rolling, flown, turntable, prop or costume"),
        Field("zone", ScenicUnit.zone, "dry, splash or wet"),
        Field("has_travelling_cable", ScenicUnit.has_travelling_cable, "whether a cable travels with it"),
        Field("changed_at", ScenicUnit.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("production", Production.tag_key, "show code", is_tag=True),
        Filter("name", ScenicUnit.name, "its name, exactly"),
        Filter("motion", ScenicUnit.motion, "how it moves", Motion),
    ),
)


GROUPS = Listing(
    plural="groups",
    one="a group",
    doc="Elements that move together (control) or are seen together (match).",
    source=Group.__table__.join(Production.__table__),
    id=Group.id,
    version=Group.version,
    key=Group.id,
    order=(Production.tag_key, Group.kind, Group.name, Group.id),
    is_tagged=False,
    fields=(
        Field("id", Group.id, "number in the store; its address"),
        Field("production", Production.tag, "show code"),
        Field("kind", Group.kind, "control: shares channels; match: one tape, one lot"),
        Field("name", Group.name, "what people call it"),
        Field("note", Group.note, "note"),
        Field("changed_at", Group.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("production", Production.tag_key, "show code", is_tag=True),
        Filter("kind", Group.kind, "control or match", GroupKind),
    ),
)


def _runs_text(rows: list[dict[str, Any]]) -> str:
    return "; ".join("+".join(f"{p['drawn_mm']:g}" for p in r["pieces"]) + " mm" for r in rows)


def _pieces_text(rows: list[dict[str, Any]]) -> str:
    return "+".join(f"{p['drawn_mm']:g}" for p in rows)


_PIECES = Child(
    name="pieces",
    doc="pieces in the order they are chained",
    source=Piece.__table__.join(Run.__table__).join(Element.__table__).outerjoin(Tape.__table__),
    id=Piece.id,
    parent=Piece.run_id,
    number=Piece.number,
    fields=(
        Field("number", Piece.number, "place in the chain, from 1"),
        Field("drawn_mm", millimetres(Piece.drawn_um), "length as drawn, in mm", is_blank=False),
        Field("cut_pitches", Piece.cut_pitches, "whole cut pitches; blank while the tape is undecided"),
        Field("cut_mm", millimetres(Piece.cut_pitches * 1.0 * Tape.pitch_um), "length to cut, in mm"),
    ),
    text=_pieces_text,
)

_WITH_CONNECTOR = outer(Run.__table__, (Connector, Run.lead_connector_id == Connector.id))
_RUN_FIELDS = (
    Field("number", Run.number, "number of the run, from 1"),
    Field("feed_style", Run.feed_style, "fed at one end, both ends or in the middle"),
    Field("lead_m", metres(Run.lead_um), "lead one way in m; blank: not known"),
    Field("lead_gauge", Run.lead_gauge, "gauge of the lead; blank: not chosen"),
    Field("lead_cores", Run.lead_cores, "cores of the lead; blank: not chosen"),
    Field("lead_connector", Connector.tag, "tag of the kind of connector on the lead", is_blank=True),
)

ELEMENTS = Listing(
    plural="elements",
    one="an element",
    doc="What must light up, with its runs and pieces.",
    source=outer(
        Element.__table__.join(Production.__table__),
        (ScenicUnit, Element.scenic_unit_id == ScenicUnit.id),
        (Place, Element.place_id == Place.id),
        (Tape, Element.tape_id == Tape.id),
        (_control, Element.control_group_id == _control.id),
        (_match, Element.match_group_id == _match.id),
    ),
    id=Element.id,
    version=Element.version,
    key=Element.tag_key,
    order=(Element.tag_key,),
    fields=(
        Field("tag", Element.tag, "tag printed on it"),
        Field("name", Element.name, "what people call it"),
        Field("production", Production.tag, "show code"),
        Field("scenic_unit", ScenicUnit.name, "the scenic unit that carries it", is_blank=True),
        Field("place", Place.tag, "tag of its place, if it is on no scenic unit", is_blank=True),
        Field("status", Element.status, "asked, drawn, cut, built, tested, installed, working, dark, …"),
        Field("status_note", Element.status_note, "what was said when it came to stand there"),
        Field("priority", Element.priority, "1 is fed first, 9 last"),
        Field("tape", Tape.tag, "tag of its tape; blank: undecided", is_blank=True),
        Field(
            "wired",
            Element.wired,
            "emitters that reach a channel, in pad order; or none",
            shown=lambda names: names or "none",
            stored=lambda names: "" if names == "none" else names,
        ),
        Field("is_dimmed", Element.is_dimmed, "whether it needs a decoder"),
        Field("control_group", _control.name, "moves together with, on the same channels", is_blank=True),
        Field("match_group", _match.name, "seen together with: one tape, one lot", is_blank=True),
        Field("mount", Element.mount, "what it is stuck to"),
        Field("zone", Element.zone, "dry, splash or wet, if not as the scenic unit"),
        Field("needs_battery", Element.needs_battery, "whether it must run from a battery"),
        Field("needs_wireless", Element.needs_wireless, "whether control must reach it without wire"),
        Field("fit", Element.fit, "how a drawn length becomes whole cut pitches"),
        Field("join_allowed", Element.join_allowed, "whether a piece may be joined"),
        Field("cap_pct", Element.cap_pct, "level cap in %; it never hides a load"),
        Field("cap_enforced_where", Element.cap_enforced_where, "where the cap is held"),
        Field("cap_signed_by", Element.cap_signed_by, "who signed the cap"),
        Field("cap_signed_on", Element.cap_signed_on, "day the cap was signed"),
        Field("note", Element.note, "the designer's note"),
        Field("retired_on", Element.retired_on, RETIRED),
        Field("changed_at", Element.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("production", Production.tag_key, "show code", is_tag=True),
        Filter("scenic_unit", ScenicUnit.name, "the scenic unit's name, exactly"),
        Filter("place", Place.tag_key, "tag of its place", is_tag=True),
        Filter("tape", Tape.tag_key, "tag of its tape", is_tag=True),
        Filter("status", Element.status, "where it stands", ElementStatus),
        Filter("priority", Element.priority, "1 to 9", int),
        Filter("zone", Element.zone, "its own zone", Zone),
    ),
    children=(
        Child(
            name="runs",
            doc="runs, each on a lead of its own",
            source=_WITH_CONNECTOR,
            id=Run.id,
            parent=Run.element_id,
            number=Run.number,
            fields=_RUN_FIELDS,
            text=_runs_text,
            children=(_PIECES,),
        ),
    ),
)

RUNS = Listing(
    plural="runs",
    one="a run",
    doc="Every run with its lead: the flat form of what the elements carry.",
    source=outer(
        Run.__table__.join(Element.__table__).join(Production.__table__),
        (Tape, Element.tape_id == Tape.id),
        (Connector, Run.lead_connector_id == Connector.id),
    ),
    id=Run.id,
    version=Run.version,
    key=Run.id,
    order=(Element.tag_key, Run.number),
    is_tagged=False,
    fields=(
        Field("id", Run.id, "number in the store; its address"),
        Field("element", Element.tag, "tag of its element"),
        Field("production", Production.tag, "show code"),
        Field("tape", Tape.tag, "tag of the tape", is_blank=True),
        *_RUN_FIELDS,
    ),
    filters=(
        Filter("production", Production.tag_key, "show code", is_tag=True),
        Filter("element", Element.tag_key, "tag of its element", is_tag=True),
        Filter("feed_style", Run.feed_style, "one, both or middle", FeedStyle),
        Filter("lead_gauge", Run.lead_gauge, "gauge, as it is listed"),
    ),
    children=(_PIECES,),
)

CUES = Listing(
    plural="cues",
    one="a cue",
    doc="Running orders of elements, stretch by stretch.",
    source=Cue.__table__.join(Element.__table__).join(Production.__table__),
    id=Cue.id,
    version=Cue.version,
    key=Cue.id,
    order=(Element.tag_key, Cue.number, Cue.id),
    is_tagged=False,
    fields=(
        Field("id", Cue.id, "number in the store; its address"),
        Field("element", Element.tag, "tag of its element"),
        Field("production", Production.tag, "show code"),
        Field("number", Cue.number, "its place in the order"),
        Field("name", Cue.name, "what it is"),
        Field("minutes", Cue.minutes, "how long it lasts, in minutes"),
        Field("level_pct", Cue.level_pct, "level in %"),
        Field("changed_at", Cue.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("production", Production.tag_key, "show code", is_tag=True),
        Filter("element", Element.tag_key, "tag of its element", is_tag=True),
    ),
)

CUT_ROWS = outer(
    Cut.__table__.join(Reel.__table__).join(Tape.__table__, Reel.tape_id == Tape.id),
    (PieceCut, PieceCut.cut_id == Cut.id),
    (Piece, PieceCut.piece_id == Piece.id),
    (Run, Piece.run_id == Run.id),
    (Element, Run.element_id == Element.id),
    (_undone, Cut.undoes_id == _undone.id),
)
_before, _before_run = aliased(Piece), aliased(Run)
# Pieces count through the whole element, run after run.
PIECE_NUMBER = (
    select(func.count())
    .select_from(_before)
    .join(_before_run, _before.run_id == _before_run.id)
    .where(
        _before_run.element_id == Run.element_id,
        or_(
            _before_run.number < Run.number,
            and_(_before_run.number == Run.number, _before.number <= Piece.number),
        ),
    )
    .correlate(Run, Piece)
    .scalar_subquery()
)
_earlier = aliased(Cut)
_FIRST_ROW = (
    select(func.min(_earlier.id))
    .where(
        _earlier.reel_id == Cut.reel_id,
        _earlier.kind.in_((CutKind.OPENING, CutKind.RECEIVED)),
        _earlier.number.is_(None),
    )
    .correlate(Cut)
    .scalar_subquery()
)
_CHANGE_M = metres(Cut.change_pitches * 1.0 * Tape.pitch_um)

CUTS = Listing(
    plural="cuts",
    one="a cut",
    doc="Ledger rows of reels, oldest first; what is left is their sum, disputed rows apart.",
    source=CUT_ROWS,
    id=Cut.id,
    version=Cut.version,
    key=Cut.id,
    order=(Cut.id,),
    is_tagged=False,
    fields=(
        Field("id", Cut.id, "number in the store; its address"),
        Field("number", Cut.number, "number on paper"),
        Field("reel", Reel.tag, "tag of the reel"),
        Field("kind", Cut.kind, "opening, received, piece, offcut, scrap, returned, recount or joined"),
        Field("change_pitches", Cut.change_pitches, "cut pitches added to the reel; cuts are negative"),
        Field("change_m", _CHANGE_M, "the same in m", is_blank=False),
        Field(
            "length_m",
            case((Cut.kind.in_((CutKind.RECOUNT, CutKind.JOINED)), _CHANGE_M), else_=func.abs(_CHANGE_M)),
            "its length in m, as it is entered; of a recount or a joint, less than nothing where it is less",
            is_blank=False,
        ),
        Field("element", Element.tag, "tag of the element its piece is for", is_blank=True),
        Field(
            "piece",
            case((Piece.id.is_not(None), cast(PIECE_NUMBER, String).concat(PieceCut.part))),
            "piece of that element; 1a, 1b where it has a join",
            is_blank=True,
        ),
        Field("cut_on", Cut.cut_on, "day"),
        Field("entered_by", Cut.entered_by, "who cut it"),
        Field(
            "status",
            case((Cut.is_disputed, "dispute"), else_="counted"),
            "counted, or dispute: outside the balance",
            is_blank=False,
        ),
        Field("is_disputed", Cut.is_disputed, "whether it stands outside the balance"),
        Field("undoes", _undone.number, "number of the row it takes back", is_blank=True),
        Field(
            "opens_reel",
            func.coalesce(Cut.id == _FIRST_ROW, false()),
            "whether it came with the reel",
            is_blank=False,
        ),
        Field("note", Cut.note, "note"),
    ),
    filters=(
        Filter("reel", Reel.tag_key, "tag of the reel", is_tag=True),
        Filter("kind", Cut.kind, "kind of row", CutKind),
        Filter("element", Element.tag_key, "tag of the element its piece is for", is_tag=True),
        Filter("is_disputed", Cut.is_disputed, "only disputed rows, or only others", bool),
    ),
)


def of_reel(reel_id: int) -> ColumnElement[bool]:
    return Cut.reel_id == reel_id


LISTINGS = (SCENIC_UNITS, GROUPS, ELEMENTS, RUNS, CUES, CUTS)
