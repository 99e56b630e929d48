"""Reports over HTTP: the day they are of, their rows, and CSV."""

import csv
import io

import pytest
from python_calamine import CalamineWorkbook

from service.reports import REPORTS
from tests import builders as build
from tests.api.conftest import Service

pytestmark = pytest.mark.usefixtures("house")


def test_every_report_is_listed_and_says_its_day(service: Service) -> None:
    listed = service.get("/reports").json()
    assert {report["name"] for report in listed} == set(REPORTS)
    for report in listed:
        said = service.get(f"/reports/{report['name']}").json()
        assert (said["title"], said["as_of"], said["production"]) == (report["title"], "2026-11-25", None)


def test_a_report_may_be_asked_for_another_day_and_one_show(service: Service) -> None:
    said = service.get("/reports/loads?as_of=2026-12-01&production=win").json()
    assert said["as_of"] == "2026-12-01"
    (row,) = said["rows"]
    assert (row["production"], row["supply"], row["supply_w"], row["limit_w"]) == ("WIN", "PS-1", 38.4, 256.0)


def test_a_report_is_a_sheet_too(service: Service) -> None:
    answer = service.get("/reports/loads", accept="text/csv")
    (row,) = csv.DictReader(io.StringIO(answer.text))
    assert (row["supply"], row["supply_w"], row["elements"]) == ("PS-1", "38.4", "SQ-1")


def test_a_report_that_says_the_same_is_not_sent_again(service: Service) -> None:
    tag = service.get("/reports/stock-use").headers["etag"]
    assert service.get("/reports/stock-use", if_none_match=tag).status_code == 304
    with service.store.writing("tests") as session:
        build.a_supply(session)
    assert service.get("/reports/stock-use", if_none_match=tag).status_code == 200


def test_something_over_its_limit_is_reported_with_figures(service: Service, house: build.House) -> None:
    """14 m of 19.2 W/m more on a supply that may give 256 W for hours: 307.2 W, 120 %."""
    with service.store.writing("tests") as session:
        element = build.an_element(session, house.production, ((280,),), tape=house.tape)
        build.an_allotment(session, house.plan, element.runs[0], house.supply)
    said = service.get("/reports/over-limit").json()
    row = next(r for r in said["rows"] if r["code"] == "supply-watts")
    assert (row["verdict"], row["value"], row["limit"], row["unit"]) == ("over", 307.2, 256.0, "W")
    assert said["summary"]["over"] >= 1


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/reports/none", 404),
        ("/reports/loads?as_of=soon", 422),
        ("/reports/loads?production=NO", 404),
        ("/reports/loads?production=%00", 422),
    ],
)
def test_a_report_that_cannot_be_given_is_a_problem(service: Service, path: str, status: int) -> None:
    answer = service.get(path)
    assert answer.status_code == status
    assert answer.json()["mend"]


def test_a_report_is_a_workbook_too(service: Service) -> None:
    book = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    answer = service.get("/reports/loads", accept=book)
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, book)
    assert answer.headers["Content-Disposition"] == 'attachment; filename="loads-2026-11-25.xlsx"'
    (_, row) = (
        CalamineWorkbook.from_filelike(io.BytesIO(answer.content)).get_sheet_by_name("loads").to_python()
    )
    assert row[:2] == ["WIN", "PS-1"]
    assert service.get("/reports/loads", accept=book, if_none_match=answer.headers["ETag"]).status_code == 304
    assert service.get("/reports/loads", accept="image/png").status_code == 406
