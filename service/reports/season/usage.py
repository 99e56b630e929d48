"""Tape used, scrapped and recovered, month by month, out of the ledger of reels."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from pydantic import BaseModel, Field
from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session, aliased

from service.errors import BadRequest
from service.planning.cutting.reading import find_productions
from service.reports.report import Report, ReportAsk
from service.season.records import Production
from service.shows.records import Element, Piece, PieceCut, Run
from service.stock.records import Cut, CutKind, Reel, Tape
from service.units import MICROMETRES_PER_METRE


class Row(BaseModel):
    """One tape in one month, for one show or for none."""

    month: str = Field(description="month, as YYYY-MM")
    tape: str = Field(description="tag of the tape")
    production: str | None = Field(description="show code; blank: for no show, as scrap mostly is")
    pieces: int = Field(description="pieces cut")
    used_m: float = Field(description="cut into pieces, in m; what was taken back is left out")
    scrapped_m: float = Field(description="thrown away, in m")
    recovered_m: float = Field(description="back as offcuts when shows were struck, in m")
    tape_scrap_pct: float | None = Field(
        description="of all that was cut of this tape this month, the share thrown away, in percent"
    )


@dataclass(slots=True)
class _Sum:
    pieces: int = 0
    used_um: int = 0
    scrapped_um: int = 0
    recovered_um: int = 0

    def add(self, kind: CutKind, count: int, length_um: int) -> None:
        if kind is CutKind.PIECE:
            self.pieces += count
            self.used_um -= length_um
        elif kind is CutKind.SCRAP:
            self.scrapped_um -= length_um
        else:
            self.recovered_um += length_um

    @property
    def scrap_pct(self) -> float | None:
        return _share(self.scrapped_um, self.used_um)


def _share(scrapped: float, used: float) -> float | None:
    """
    >>> _share(100, 900), _share(0, 0)
    (10.0, None)
    """
    return round(100 * scrapped / (used + scrapped), 3) if used + scrapped else None


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    code = find_productions(session, [ask.production])[0].tag if ask.production else None
    sums: dict[tuple[str, str, str | None], _Sum] = defaultdict(_Sum)
    tapes: dict[tuple[str, str], _Sum] = defaultdict(_Sum)
    for day, tape, production, kind, count, length_um in session.execute(_moved(*_days(ask))):
        month = f"{day:%Y-%m}"
        sums[month, tape, production].add(kind, count, int(length_um))
        tapes[month, tape].add(kind, count, int(length_um))
    ordered = sorted(sums.items(), key=lambda each: (*each[0][:2], each[0][2] or ""))
    return [
        Row(
            month=month,
            tape=tape,
            production=production,
            pieces=found.pieces,
            used_m=_m(found.used_um),
            scrapped_m=_m(found.scrapped_um),
            recovered_m=_m(found.recovered_um),
            tape_scrap_pct=tapes[month, tape].scrap_pct,
        )
        for (month, tape, production), found in ordered
        if code is None or production == code
    ]


def _days(ask: ReportAsk) -> tuple[date | None, date]:
    """From the first row there is to the day of the report, unless other days are asked for."""
    last = ask.to_on or ask.as_of
    if ask.from_on is not None and last < ask.from_on:
        raise BadRequest(f"{last} comes before {ask.from_on}", "Swap the two days.")
    return ask.from_on, last


def _moved(first: date | None, last: date) -> Select[date, str, str, CutKind, int, int]:
    """What was cut or came back on each day; rows that were taken back, and what took them back, are out."""
    undoing = aliased(Cut)
    query = (
        select(
            Cut.cut_on,
            Tape.tag,
            Production.tag,
            Cut.kind,
            func.count(Cut.id),
            func.sum(Cut.change_pitches * Tape.pitch_um),
        )
        .join(Reel, Cut.reel_id == Reel.id)
        .join(Tape, Reel.tape_id == Tape.id)
        .outerjoin(PieceCut, PieceCut.cut_id == Cut.id)
        .outerjoin(Piece, PieceCut.piece_id == Piece.id)
        .outerjoin(Run, Piece.run_id == Run.id)
        .outerjoin(Element, Run.element_id == Element.id)
        .outerjoin(Production, Element.production_id == Production.id)
        .where(
            Cut.kind.in_((CutKind.PIECE, CutKind.SCRAP, CutKind.RETURNED)),
            Cut.is_disputed.is_(False),
            Cut.undoes_id.is_(None),
            ~select(undoing.id).where(undoing.undoes_id == Cut.id).exists(),
            Cut.cut_on <= last,
        )
        .group_by(Cut.cut_on, Tape.tag, Production.tag, Cut.kind)
    )
    return query if first is None else query.where(Cut.cut_on >= first)


def _m(length_um: int) -> float:
    return round(length_um / MICROMETRES_PER_METRE, 6)


def summary(_session: Session, _ask: ReportAsk, found: Sequence[BaseModel]) -> dict[str, object]:
    shown = [row for row in found if isinstance(row, Row)]
    used, scrapped = sum(row.used_m for row in shown), sum(row.scrapped_m for row in shown)
    return {
        "rows": len(shown),
        "used_m": round(used, 6),
        "scrapped_m": round(scrapped, 6),
        "recovered_m": round(sum(row.recovered_m for row in shown), 6),
        "scrap_pct": _share(scrapped, used),
    }


REPORT = Report("usage", "Tape used, scrapped and recovered", Row, rows, summary, spans=True)
