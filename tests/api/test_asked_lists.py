"""Lists over HTTP: sorted, narrowed, as of days gone by, as JSON and as CSV."""

import csv
import io
from datetime import UTC, datetime, timedelta

import pytest

from service.api.conventions.paging import parameters
from service.api.lists import LISTINGS
from service.stock.records import Place, PlaceKind
from service.store.work import Store
from tests import builders as build
from tests.api.conftest import TODAY, Service

YESTERDAY = TODAY - timedelta(days=1)
BEFORE = datetime(YESTERDAY.year, YESTERDAY.month, YESTERDAY.day, 12, tzinfo=UTC)


def a_shelf(store: Store) -> None:
    with store.writing("tests", at=BEFORE - timedelta(days=1)) as session:
        for n, name in enumerate(("b", "", "c", "a", "a"), start=1):
            session.add(Place(tag=f"P{n}", name=name, kind=PlaceKind.BIN))
    with store.writing("tests", at=BEFORE + timedelta(days=1)) as session:
        build.a_place(session, tag="P6", name="today")
        for place in session.query(Place).filter(Place.tag.in_(("P1", "P2"))):
            place.name = "changed"


def walked(service: Service, path: str) -> list[str]:
    tags: list[str] = []
    link = "/api/v1" + path
    while link:
        answer = service.client.get(link)
        tags += [row["tag"] for row in answer.json()]
        link = answer.links.get("next", {}).get("url", "")
    return tags


def test_a_sorted_list_keeps_its_order_and_its_filters_over_its_pages(service: Service) -> None:
    a_shelf(service.store)
    assert walked(service, "/places?sort=name&limit=1") == ["P4", "P5", "P3", "P1", "P2", "P6"]
    assert walked(service, "/places?sort=-name,-tag&limit=2&tag=p1,p2,p4,p5") == ["P2", "P1", "P5", "P4"]
    assert walked(service, "/places?tag=p1&tag=P5&limit=1") == ["P1", "P5"]


def test_a_list_as_of_a_day_gone_by_is_that_of_its_evening_and_says_so(service: Service) -> None:
    a_shelf(service.store)
    answer = service.get(f"/places?as_of={YESTERDAY}&sort=name")
    assert answer.headers["as-of"] == str(YESTERDAY)
    assert [(r["tag"], r["name"]) for r in answer.json()] == [
        ("P4", "a"), ("P5", "a"), ("P1", "b"), ("P3", "c"), ("P2", ""),
    ]  # fmt: skip
    assert walked(service, f"/places?as_of={YESTERDAY}&sort=name&limit=2") == ["P4", "P5", "P1", "P3", "P2"]
    assert service.get("/places?as_of=2020-01-01").json() == []
    now = service.get("/places").json()
    for day in (TODAY, TODAY + timedelta(days=9)):
        later = service.get(f"/places?as_of={day}")
        assert (later.json(), later.headers["as-of"]) == (now, str(day))
    assert "as-of" not in service.get("/places").headers


def test_a_single_thing_as_of_a_day_gone_by_has_no_version_to_change(service: Service) -> None:
    a_shelf(service.store)
    then = service.get(f"/places/p1?as_of={YESTERDAY}", if_none_match="*")
    assert (then.status_code, then.json()["name"], then.headers["as-of"]) == (200, "b", str(YESTERDAY))
    assert "etag" not in then.headers
    missing = service.get(f"/places/P6?as_of={YESTERDAY}")
    assert (missing.status_code, missing.json()["detail"]) == (404, "there was no place P6 then")
    assert service.get("/places/P6").headers["etag"] == '"1"'


def test_history_as_of_a_day_ends_with_that_day(service: Service) -> None:
    a_shelf(service.store)
    assert [c["what"] for c in service.get("/places/P1/history").json()] == ["made", "changed"]
    assert [c["what"] for c in service.get(f"/places/P1/history?as_of={YESTERDAY}").json()] == ["made"]
    assert len(service.get(f"/history?as_of={YESTERDAY}").json()) == 5


def test_a_thing_taken_out_of_use_is_answered_by_its_tag_and_listed_when_asked_for(service: Service) -> None:
    a_shelf(service.store)
    tag = service.get("/places/P3").headers["etag"]
    assert service.client.delete("/api/v1/places/P3", headers={"If-Match": tag}).status_code == 200
    assert "P3" not in walked(service, "/places")
    assert walked(service, "/places?retired=yes") == ["P3"]
    assert "P3" in walked(service, "/places?retired=all")
    assert service.get("/places/P3").json()["retired_on"] == str(TODAY)


@pytest.mark.parametrize(
    "other",
    [
        "/places?sort=-name&limit=1", "/places?limit=1", "/places?sort=name,tag&limit=1",
        f"/places?sort=name&limit=1&as_of={YESTERDAY}", "/places?sort=name&limit=1&q=a",
        "/places?sort=name&limit=1&retired=all", "/outlets?sort=tag&limit=1",
    ],
)  # fmt: skip
def test_a_cursor_of_another_order_day_or_filter_is_refused(service: Service, other: str) -> None:
    a_shelf(service.store)
    link = service.get("/places?sort=name&limit=1").links["next"]["url"]
    cursor = link.split("cursor=")[1].split("&")[0]
    assert service.get(f"/places?sort=name&limit=1&cursor={cursor}").status_code == 200
    problem = service.get(f"{other}&cursor={cursor}")
    assert (problem.status_code, problem.json()["code"]) == (422, "bad-request")
    assert "this order and this day" in problem.json()["detail"]


@pytest.mark.parametrize(
    ("query", "name", "said"),
    [
        ("sort=colour", "sort", "it has tag, name, kind"),
        ("as_of=yesterday", "as_of", "YYYY-MM-DD"),
        ("as_of=2026-02-30", "as_of", "YYYY-MM-DD"),
        ("limit=0", "limit", "an integer from 1 to 200"),
        ("limit=1e2", "limit", "an integer from 1 to 200"),
        ("kind=attic", "kind", "'scenic unit'"),
    ],
)
def test_a_question_that_cannot_be_read_names_what_is_wrong(
    service: Service, query: str, name: str, said: str
) -> None:
    problem = service.get(f"/places?{query}")
    assert problem.status_code == 422
    (fault,) = problem.json()["errors"]
    assert fault["parameter"] == name
    assert said in fault["detail"]


def test_every_fault_of_a_question_is_named_at_once(service: Service) -> None:
    problem = service.get("/places?sort=x&as_of=y&limit=z&kind=q&colour=red").json()
    assert {fault["parameter"] for fault in problem["errors"]} == {"sort", "as_of", "limit", "kind", "colour"}


@pytest.mark.usefixtures("house")
def test_csv_has_the_names_of_json_in_lists_and_in_single_things(service: Service) -> None:
    for path in ("/places", "/tapes", "/elements", "/supplies", "/history", "/productions/WIN/plans"):
        rows = service.get(path).json()
        sheet = csv.DictReader(io.StringIO(service.get(path, accept="text/csv").text))
        assert sheet.fieldnames == list(rows[0])
    first = service.get("/history").json()[0]["id"]
    for path in ("/tapes/T-RGBW", "/elements/sq-1", f"/history/{first}"):
        answer = service.get(path, accept="text/csv")
        one = service.get(path)
        sheet = csv.DictReader(io.StringIO(answer.text))
        assert sheet.fieldnames == list(one.json())
        assert len(list(sheet)) == 1
        assert answer.headers["etag"] == one.headers["etag"]
        assert answer.headers["vary"] == "Accept"


def test_every_parameter_of_every_list_is_described_with_what_it_means(service: Service) -> None:
    paths = service.get("/openapi.json").json()["paths"]
    for listing in LISTINGS:
        said = paths[f"/api/v1/{listing.plural}"]["get"]["parameters"]
        asked = {p["name"]: p for p in said if p["in"] == "query"}
        assert list(asked) == [p["name"] for p in parameters(listing)]
        assert all(len(p["description"]) > 10 for p in asked.values())
    shelf = {p["name"]: p for p in paths["/api/v1/wires"]["get"]["parameters"]}
    assert "Ω/m at 20 °C" in shelf["ohm_per_m_min"]["description"]
    assert (shelf["gauge"]["style"], shelf["gauge"]["explode"]) == ("form", False)
