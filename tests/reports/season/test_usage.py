"""Tape used, scrapped and recovered: what the ledger says, month by month."""

from datetime import date

import pytest

from service.errors import BadRequest, NotFound
from service.reports.report import ReportAsk
from service.reports.season import usage
from service.shows.ledger import doing
from service.shows.ledger.doing import Doer
from service.shows.ledger.schemas import BackAsk, CutAsk, JoinAsk, OffcutAsk, RecountAsk, RecoverAsk, ScrapAsk
from service.shows.records import ElementStatus
from service.stock.records import ReelState
from service.store.work import Store
from tests import builders as build

TODAY = date(2026, 11, 25)
DOER = Doer("bench", TODAY)
OCTOBER = date(2026, 10, 20)


@pytest.fixture
def house(store: Store) -> Store:
    """October: 1.3 m for SQ, 0.2 m scrap, a metre cut and taken back. November: 0.5 m for LH, and of SQ 1.2 m
    recovered. Offcuts, joints, recounts and disputed rows move no tape in or out of use."""
    with store.writing("bench") as session:
        tape = build.a_tape(session, tag="NW24")
        shows = {code: build.a_production(session, tag=code) for code in ("SQ", "LH")}
        window = build.an_element(session, shows["SQ"], ((26,),), tag="SQ-1", tape=tape)
        build.an_element(session, shows["LH"], ((10,),), tag="LH-1", tape=tape)
        reel = build.a_reel(session, tape, tag="R-1", lot="A", state=ReelState.OPEN)
        build.a_cut(session, reel, 26, number="K-900", is_disputed=True)
        doing.cut(session, "R-1", CutAsk(element="SQ-1", on=OCTOBER), DOER)
        doing.scrap(session, "R-1", ScrapAsk(length_m=0.2, on=OCTOBER), DOER)
        wrong = doing.cut(session, "R-1", CutAsk(length_m=1, kind="piece", on=OCTOBER), DOER).rows[0].number
        doing.take_back(session, wrong, BackAsk(), DOER)
        doing.cut(session, "R-1", CutAsk(element="LH-1"), DOER)
        doing.make_offcut(session, "R-1", OffcutAsk(length_m=0.3, tag="R-2"), DOER)
        doing.join(session, "R-1", JoinAsk(other="R-2"), DOER)
        doing.recount(session, "R-1", RecountAsk(length_m=2.5), DOER)
        window.status = ElementStatus.STRUCK
        session.flush()
        doing.recover(session, "SQ-1", RecoverAsk(length_m=1.2), DOER)
    return store


def told(store: Store, **ask: object) -> list[tuple[object, ...]]:
    with store.reading() as session:
        rows = usage.rows(session, ReportAsk(TODAY, **ask))  # type: ignore[arg-type]
    return [tuple(row.model_dump().values()) for row in rows]


def test_each_month_tells_what_each_show_used_and_what_was_lost(house: Store) -> None:
    assert told(house) == [
        ("2026-10", "NW24", None, 0, 0.0, 0.2, 0.0, 13.333),  # 0.2 of 1.5 m
        ("2026-10", "NW24", "SQ", 1, 1.3, 0.0, 0.0, 13.333),
        ("2026-11", "NW24", "LH", 1, 0.5, 0.0, 0.0, 0.0),
        ("2026-11", "NW24", "SQ", 0, 0.0, 0.0, 1.2, 0.0),
    ]
    with house.reading() as session:
        ask = ReportAsk(TODAY)
        said = usage.summary(session, ask, usage.rows(session, ask))
    assert said == {"rows": 4, "used_m": 1.8, "scrapped_m": 0.2, "recovered_m": 1.2, "scrap_pct": 10.0}


def test_it_may_be_asked_of_a_span_and_of_one_show(house: Store) -> None:
    assert [row[:3] for row in told(house, production="sq")] == [
        ("2026-10", "NW24", "SQ"),
        ("2026-11", "NW24", "SQ"),
    ]
    assert {row[0] for row in told(house, to_on=date(2026, 10, 31))} == {"2026-10"}
    assert {row[0] for row in told(house, from_on=date(2026, 11, 1))} == {"2026-11"}
    assert told(house, to_on=date(2026, 10, 19)) == []
    with pytest.raises(BadRequest, match="2026-10-01 comes before 2026-11-01"):
        told(house, from_on=date(2026, 11, 1), to_on=date(2026, 10, 1))
    with pytest.raises(NotFound, match="there is no production XX"):
        told(house, production="xx")
