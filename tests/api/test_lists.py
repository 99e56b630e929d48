"""Lists and single things, as JSON and CSV, in pages."""

import csv
import io
import json
import re
from datetime import date

import pytest
from sqlalchemy import event
from sqlalchemy.orm import Session

from service.api.lists import LISTINGS
from service.season.counting.records import Outcome, Stocktake, StocktakeLine, StocktakeStatus
from service.season.records import Delivery, FilmDay, OtherLoad
from service.shows.records import Cue
from service.stock.records import JoinKind, Place, PlaceKind, PolicyRow, Reach, ReelJoin
from service.store import listing as lists
from service.store.base import tag_key
from service.store.types import utc_now
from tests import builders as build
from tests.api.conftest import Service
from tests.shows import upkeep

TAGGED = {
    "places": "A1",
    "outlets": "C1",
    "tapes": "T-RGBW",
    "reels": "R-1",
    "supply-models": "S320",
    "decoder-models": "D4",
    "supplies": "PS-1",
    "decoders": "DC-1",
    "productions": "WIN",
    "elements": "SQ-1",
}


def _upkeep(session: Session, house: build.House) -> None:
    upkeep.a_connector(session)
    upkeep.a_season(session)
    person = upkeep.a_person(session)
    upkeep.an_attachment(session, house.element.tag)
    upkeep.a_fuse(session, unit_id=house.supply.id, output=1)
    upkeep.a_fuse(session, run_id=house.element.runs[0].id)
    upkeep.a_control_line(session, house.production, starts_at_id=house.place.id)
    upkeep.a_fault(session, element_id=house.element.id)
    upkeep.a_fault(session, unit_id=house.decoder.id, mended_on=date(2026, 11, 21))
    upkeep.a_bench_test(session, house.element)
    upkeep.a_note(session, house.production.tag)
    upkeep.a_work_order(session, production_id=house.production.id, person_id=person.id)


def _season(session: Session, house: build.House) -> None:
    """What came, a joint, a place counted."""
    line = build.an_order_line(session)
    session.add(Delivery(number="DN-1", line_id=line.id, quantity=1, received_on=date(2026, 11, 20)))
    session.add(ReelJoin(reel_id=house.reel.id, from_hub_pitches=1, kind=JoinKind.FACTORY))
    count = Stocktake(
        number="ST-001", place_id=house.place.id, status=StocktakeStatus.OPEN,
        counted_on=date(2026, 11, 20), begun_at=utc_now(),
    )  # fmt: skip
    session.add(count)
    session.flush()
    session.add(
        StocktakeLine(
            stocktake_id=count.id, thing_key=tag_key(house.supply.tag), is_expected=True, book_version=1,
            outcome=Outcome.TO_COUNT,
        )
    )  # fmt: skip


def test_every_list_and_every_row_of_it_can_be_read(service: Service, house: build.House) -> None:
    with service.store.writing("tests") as session:
        build.a_battery(session)
        build.a_group(session, house.production)
        build.an_enclosure(session)
        build.a_wire(session)
        _season(session, house)
        build.a_hold(session, house.production)
        build.a_hold(session, house.production, tape_id=house.tape.id, pitches=40)
        _upkeep(session, house)
        day = date(2026, 11, 20)
        session.add(Reach(place_id=house.place.id, gear_place_id=house.scenic_unit.place_id))
        session.add(PolicyRow(name="load_factor", value="0.75"))
        session.add(FilmDay(production_id=house.production.id, filmed_on=day))
        session.add(Cue(element_id=house.element.id, number=1, minutes=20.0, level_pct=100.0))
        session.add(OtherLoad(outlet_id=house.outlet.id, load_w=500.0, what="fog machine"))
    for address in service.get("").json()["lists"]:
        rows = service.client.get(address).json()
        assert rows, address
        row = rows[0]
        key = row.get("tag") if "id" not in row else row["id"]
        found = service.client.get(f"{address}/{key or row.get('code')}")
        assert found.status_code == 200, address
        assert found.json() == row


@pytest.mark.parametrize(
    ("asked", "count"),
    [
        ("/faults?is_open=true&element=sq-1", 1),
        ("/faults?is_open=true&unit=dc-1", 0),
        ("/faults?is_open=false", 1),
        ("/notes?about=win&is_open=true", 1),
        ("/work-orders?is_open=false", 0),
        ("/work-orders?person=Ada", 1),
        ("/bench-tests?element=SQ-1&passed=true", 1),
        ("/fuses?production=win", 1),
        ("/fuses?unit=PS-1", 1),
        ("/attachments?about=SQ-1", 1),
        ("/control-lines?universe=2", 0),
    ],
)
def test_a_list_of_upkeep_is_narrowed(service: Service, house: build.House, asked: str, count: int) -> None:
    with service.store.writing("tests") as session:
        _upkeep(session, house)
    assert len(service.get(asked).json()) == count


@pytest.mark.parametrize("plural", TAGGED)
@pytest.mark.usefixtures("house")
def test_a_tag_is_found_in_any_letter_case(service: Service, plural: str) -> None:
    upper = service.get(f"/{plural}/{TAGGED[plural].upper()}")
    lower = service.get(f"/{plural}/{TAGGED[plural].lower()}")
    assert upper.status_code == lower.status_code == 200
    assert upper.json() == lower.json()


def test_an_element_comes_with_its_runs_and_pieces_and_units_in_the_names(service: Service) -> None:
    with service.store.writing("tests") as session:
        build.an_element(session, tag="SQ-9", runs=((10, 20), (5,)))
    element = service.get("/elements/sq-9").json()
    assert [run["lead_m"] for run in element["runs"]] == [3.0, 3.0]
    assert [[p["cut_mm"] for p in run["pieces"]] for run in element["runs"]] == [[500.0, 1000.0], [250.0]]


def test_what_is_left_on_a_reel_is_exact(service: Service) -> None:
    """66 cut pitches of 50 mm are 3.3 m, not 3.3000000000000003."""
    with service.store.writing("tests") as session:
        build.a_reel(session, left_pitches=66, tag="R-66")
    assert '"left_m":3.3,' in service.get("/reels/R-66").text


def test_a_hold_shows_its_last_day(service: Service, house: build.House) -> None:
    """Days are kept half-open and shown with the last one included."""
    with service.store.writing("tests") as session:
        build.a_hold(session, house.production)
    assert service.get("/holds").json()[0]["to_on"] == "2026-12-18"


def test_the_cuts_of_a_reel_are_its_own(service: Service, house: build.House) -> None:
    with service.store.writing("tests") as session:
        build.a_cut(session, session.merge(house.reel), 14, number="K-1")
        build.a_reel(session)
    cuts = service.get("/reels/r-1/cuts").json()
    assert [(c["number"], c["change_m"]) for c in cuts] == [(None, 5.0), ("K-1", -0.7)]


@pytest.mark.usefixtures("house")
def test_a_missing_thing_is_a_problem_that_says_where_to_look(service: Service) -> None:
    problem = service.get("/reels/R-99")
    assert problem.status_code == 404
    assert problem.headers["content-type"] == "application/problem+json"
    assert problem.json() == {
        "type": "/api/v1/problems/not-found",
        "title": "Not found",
        "status": 404,
        "detail": "there is no reel R-99",
        "code": "not-found",
        "mend": "See the list at /api/v1/reels.",
        "instance": "/api/v1/reels/R-99",
    }
    assert "label" not in problem.text
    wrong_kind = service.get("/reels/PS-1").json()
    assert wrong_kind["detail"] == "PS-1 is not a reel"
    assert "/api/v1/l/PS-1" in wrong_kind["mend"]


@pytest.mark.usefixtures("house")
def test_a_label_leads_to_what_it_is_on(service: Service) -> None:
    for prefix in ("/l", "/api/v1/l"):
        for plural, tag in TAGGED.items():
            answer = service.client.get(f"{prefix}/{tag.lower()}")
            assert (answer.status_code, answer.headers["location"]) == (307, f"/api/v1/{plural}/{tag}")
    assert service.client.get("/l/nowhere").status_code == 404


def many_places(service: Service, count: int) -> None:
    with service.store.writing("tests") as session:
        session.add_all(Place(tag=f"P{n:04d}", name="bin", kind=PlaceKind.BIN) for n in range(count))


def test_four_hundred_and_fifty_rows_come_in_pages_without_a_gap(service: Service) -> None:
    many_places(service, 450)
    tags, link, sizes = [], "/api/v1/places?limit=200&kind=bin", []
    while link:
        answer = service.client.get(link)
        sizes.append(len(answer.json()))
        tags += [row["tag"] for row in answer.json()]
        link = answer.links.get("next", {}).get("url", "")
    assert sizes == [200, 200, 50]
    assert tags == [f"P{n:04d}" for n in range(450)]


def test_a_page_has_a_hundred_rows_unless_asked_and_never_more_than_two_hundred(service: Service) -> None:
    many_places(service, 101)
    assert len(service.get("/places").json()) == 100
    assert service.get("/places?limit=201").status_code == 422
    assert service.get("/places?limit=0").status_code == 422
    exactly = service.get("/places?limit=101")
    assert len(exactly.json()) == 101
    assert "link" not in exactly.headers


def test_a_cursor_of_another_list_or_filter_is_refused(service: Service) -> None:
    many_places(service, 3)
    cursor = (
        service.client.get("/api/v1/places?limit=1").links["next"]["url"].split("cursor=")[1].split("&")[0]
    )
    assert service.get(f"/places?limit=1&cursor={cursor}").json()[0]["tag"] == "P0001"
    for path in (f"/reels?cursor={cursor}", f"/places?kind=bin&cursor={cursor}", "/places?cursor=%C3%A9",
                 "/places?cursor=AAAA", "/places?cursor=WyJ4Il0"):  # fmt: skip
        problem = service.get(path)
        assert (problem.status_code, problem.json()["code"]) == (422, "bad-request"), path


@pytest.mark.usefixtures("house")
def test_a_filter_is_equality_and_tags_are_in_any_case(service: Service) -> None:
    with service.store.writing("tests") as session:
        build.a_reel(session)
    assert [r["tag"] for r in service.get("/reels?tape=t-rgbw").json()] == ["R-1"]
    assert service.get("/reels?tape=nothing").json() == []
    assert [c["reel"] for c in service.get("/cuts?reel=r-1&is_disputed=false").json()] == ["R-1"]


@pytest.mark.parametrize(
    ("query", "where", "said"),
    [
        ("colour=red", "colour", "it takes limit, cursor, sort, as_of, tag, tape, lot, place, state"),
        ("loot=L1", "loot", "did you mean lot?"),
        ("state=shiny", "state", "'sealed', 'open'"),
        ("limit=many", "limit", "integer"),
        ("lot=%00", "lot", "NUL"),
        ("lot=" + "x" * 200, "lot", "at most 120"),
    ],
)
def test_a_question_that_cannot_be_read_names_the_parameter(
    service: Service, query: str, where: str, said: str
) -> None:
    problem = service.get(f"/reels?{query}")
    assert problem.status_code == 422
    assert problem.json()["errors"][0]["parameter"] == where
    assert said in problem.json()["errors"][0]["detail"]


@pytest.mark.parametrize("path", ["/venues/0", "/venues/x", "/venues/99999999999999999999", "/reels/%00"])
def test_a_key_that_cannot_be_one_is_refused(service: Service, path: str) -> None:
    assert service.get(path).status_code == 422


@pytest.mark.usefixtures("house")
def test_csv_has_a_head_row_and_the_same_rows(service: Service) -> None:
    answer = service.get("/tapes", accept="text/csv")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8; header=present"
    assert answer.headers["vary"] == "Accept"
    assert answer.text.endswith("\r\n")
    (row,) = csv.DictReader(io.StringIO(answer.text))
    assert (row["tag"], row["pitch_mm"], row["price"]) == ("T-RGBW", "50.0", "")
    assert row["emitters"] == "red=4.8; green=4.8; blue=4.8; white=4.8"


def test_csv_comes_in_pages_too(service: Service) -> None:
    many_places(service, 3)
    answer = service.get("/places?limit=2", accept="text/csv")
    assert len(answer.text.splitlines()) == 3
    assert "next" in answer.links


def test_a_cell_that_a_spreadsheet_would_run_is_made_text(service: Service) -> None:
    with service.store.writing("tests") as session:
        build.a_place(session, tag="P-1", name='=HYPERLINK("http://example.org")')
        build.a_cut(session, build.a_reel(session), 14, note="@sum")
    (row,) = csv.DictReader(io.StringIO(service.get("/places", accept="text/csv").text))
    assert row["name"] == """'=HYPERLINK("http://example.org")"""
    cut = list(csv.DictReader(io.StringIO(service.get("/cuts", accept="text/csv").text)))[1]
    assert (cut["note"], cut["change_pitches"]) == ("'@sum", "-14")


@pytest.mark.parametrize(
    ("accept", "status", "kind"),
    [
        ("*/*", 200, "application/json"),
        ("text/csv;q=0.5, application/json;q=0.4", 200, "text/csv"),
        ("text/csv;q=0.5, application/json", 200, "application/json"),
        ("text/*, application/json;q=0.2", 200, "text/csv"),
        ("text/csv;q=0, */*;q=0.1", 200, "application/json"),
        ("image/png", 406, "application/problem+json"),
    ],
)
@pytest.mark.usefixtures("house")
def test_the_format_is_what_the_caller_likes_best(
    service: Service, accept: str, status: int, kind: str
) -> None:
    answer = service.get("/reels", accept=accept)
    assert (answer.status_code, answer.headers["content-type"].split(";")[0]) == (status, kind)


@pytest.mark.usefixtures("house")
def test_a_known_version_is_not_sent_again(service: Service) -> None:
    tag = service.get("/elements/SQ-1").headers["etag"]
    assert tag == '"1"'
    for known in (tag, f"W/{tag}", f'"x", {tag}', "*"):
        again = service.get("/elements/SQ-1", if_none_match=known)
        assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)
    assert service.get("/elements/SQ-1", if_none_match='"2"').status_code == 200


@pytest.mark.parametrize("plural", ["elements", "tapes", "productions"])
def test_a_list_takes_as_many_selects_for_many_rows_as_for_few(service: Service, plural: str) -> None:
    with service.store.writing("tests") as session:
        show = build.a_production(session)
        for _ in range(3):
            build.an_element(session, show)
    listing = next(one for one in LISTINGS if one.plural == plural)

    def selects() -> int:
        seen: list[object] = []

        def note(*told: object) -> None:
            seen.append(told)

        event.listen(service.store.engine, "before_cursor_execute", note)
        try:
            with service.store.reading() as session:
                assert lists.page(session, listing, {}, None, 200).rows
        finally:
            event.remove(service.store.engine, "before_cursor_execute", note)
        return len(seen)

    few = selects()
    with service.store.writing("tests") as session:
        for _ in range(40):
            build.an_element(session)
    assert selects() == few


@pytest.mark.usefixtures("house")
def test_the_history_of_an_element_has_its_runs_in_it(service: Service) -> None:
    made = service.get("/elements/SQ-1/history").json()
    assert {(c["kind"], c["what"], c["by"]) for c in made} == {
        ("elements", "made", "tests"), ("runs", "made", "tests"), ("pieces", "made", "tests"),
    }  # fmt: skip
    assert [c["tag"] for c in service.get("/history?tag=PS-1").json()] == ["PS-1"]


def test_the_published_description_has_every_unit_and_problem(service: Service) -> None:
    described = service.get("/openapi.json").json()
    assert described["openapi"].startswith("3.1")
    shapes = described["components"]["schemas"]
    assert "in m" in shapes["Reel"]["properties"]["left_m"]["description"]
    assert {"type", "title", "status", "detail", "code", "mend", "instance"} <= set(
        shapes["Problem"]["properties"]
    )
    undescribed = [
        f"{name}.{field}"
        for name, shape in shapes.items()
        for field, said in shape.get("properties", {}).items()
        if not said.get("description")
    ]
    assert undescribed == []
    named = set(re.findall(r'"#/components/schemas/([^"]+)"', json.dumps(described)))
    assert named <= set(shapes)
