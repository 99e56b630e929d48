"""What was done with reels, and what came, comes out of its own sheets again as it was."""

from datetime import date

import pytest
from sqlalchemy import select

import seed_demo
from service.kinds import actions
from service.kinds.receiving.deliveries import DELIVERIES
from service.paper.bring_in import NAMES, bring_in
from service.paper.out.files import as_zip
from service.paper.out.tables import everything_out
from service.paper.reading import read_bytes
from service.season.receiving.actions import receive
from service.season.receiving.schemas import DeliveryAsk
from service.shows.ledger import doing
from service.shows.ledger.doing import Doer
from service.shows.ledger.history import history
from service.shows.ledger.schemas import (
    BackAsk,
    CutAsk,
    JoinAsk,
    OffcutAsk,
    RecountAsk,
    RecoverAsk,
    ScrapAsk,
    SettleAsk,
)
from service.shows.records import Element, ElementStatus
from service.stock.records import Reel
from service.store.work import Store
from tests import builders as build
from tests.doors.sheets_out import content
from tests.kinds.hands import HAND

DOER = Doer("bench", seed_demo.AS_OF)


@pytest.fixture
def used(changing_season: Store) -> Store:
    """The season, and after it one of each thing that can be done to a reel, and deliveries of it."""
    with changing_season.writing("bench") as session:
        doing.settle(session, "K-074", SettleAsk(counts=False, note="entered twice"), DOER)
        doing.cut(session, "R-121", CutAsk(element="TW-08", piece="2"), DOER)
        doing.take_back(session, "K-073", BackAsk(note="never cut"), DOER)
        doing.make_offcut(session, "R-121", OffcutAsk(length_m=0.6, tag="R-240"), DOER)
        doing.join(session, "R-122", JoinAsk(other="R-240"), DOER)
        doing.recount(session, "R-122", RecountAsk(length_m=2.5), DOER)
        doing.scrap(session, "R-111", ScrapAsk(), DOER)
        session.scalars(select(Element).where(Element.tag == "SQ-07")).one().status = ElementStatus.STRUCK
        session.flush()
        doing.recover(session, "SQ-07", RecoverAsk(length_m=1.2), DOER)
        for number in ("DN-1", "DN-2"):
            ask = DeliveryAsk(number=number, order="PO-2611-1", line=1, quantity=1, lot="C-26F")
            received = receive(session, ask, "gate", seed_demo.AS_OF)
        actions.retire(session, DELIVERIES, received.delivery.id, None, HAND)
        model = build.a_supply_model(session, tag="S12", hire_lead_days=5, pack_quantity=2)
        build.an_order_line(
            session, order_number="PO-9", line=1, model_id=model.id, quantity=2, is_hire=True,
            hire_from=date(2026, 12, 1), hire_until=date(2026, 12, 21),
        )  # fmt: skip
        receive(
            session, DeliveryAsk(number="DN-3", order="PO-9", line=1, quantity=1), "gate", seed_demo.AS_OF
        )
    return changing_season


def lives(store: Store) -> dict[str, list[tuple[object, ...]]]:
    """Every reel's rows: what was left after each, where its length went, and its joints."""
    with store.reading() as session:
        told = {tag: history(session, tag) for tag in session.scalars(select(Reel.tag).order_by(Reel.tag))}
    return {
        tag: [
            *(
                (r.number, r.kind, r.change_m, r.left_m, r.other, r.element, r.piece, r.undoes)
                for r in life.rows
            ),
            *((j.from_hub_m, j.kind) for j in life.joints),
            *((kin.tag, kin.parent) for kin in (*life.above, *life.below)),
        ]
        for tag, life in told.items()
    }


def test_reels_and_deliveries_come_out_of_their_sheets_as_they_were(
    used: Store, two_houses: dict[str, Store]
) -> None:
    with used.reading() as session:
        file = as_zip(everything_out(session))
    before = content(used)
    assert [row["Reels"] for row in before["deliveries"]] == ["R-242", ""]
    assert len(before["reel joins"]) == 1
    for store in two_houses.values():
        sheets = read_bytes(file, "all.zip", NAMES).sheets
        store.write(lambda s, read=sheets: bring_in(s, read, "bench", seed_demo.AS_OF), "bench")  # type: ignore[misc]
        assert content(store) == before
        assert {tag: sorted(map(str, rows)) for tag, rows in lives(store).items()} == {
            tag: sorted(map(str, rows)) for tag, rows in lives(used).items()
        }
