"""Sheets over HTTP: all or nothing, looked at first if wished, never twice by accident."""

import io
import threading
import zipfile

import httpx
import pytest

from service.store.keys import RequestKey
from tests.api.conftest import Service

VENUES = b"Name,Mains V\r\nMain Stage,230\r\n"
PLACES = b"Tag,Kind,Name\r\nA1,bin,upper shelf\r\nA2,bin,lower shelf\r\n"


def post(service: Service, *files: tuple[str, bytes], query: str = "", **headers: str) -> httpx.Response:
    return service.client.post(
        f"/api/v1/sheets{query}",
        files=[("file", (name, content)) for name, content in files],
        headers={k.replace("_", "-"): v for k, v in headers.items()},
    )


def test_sheets_come_in_and_can_be_read_back(service: Service) -> None:
    answer = post(service, ("venues.csv", VENUES), ("places.csv", PLACES), x_by="Head")
    assert answer.status_code == 201, answer.text
    assert answer.json()["counts"] == {"venues": 1, "places": 2}
    assert [place["name"] for place in service.get("/places").json()] == ["upper shelf", "lower shelf"]
    assert service.get("/history").json()[-1]["by"] == "Head"


def test_a_zip_is_taken_like_its_files(service: Service) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("places.csv", PLACES)
    assert post(service, ("store.zip", packed.getvalue())).json()["counts"] == {"places": 2}


def test_a_dry_run_says_what_would_come_in_and_stores_nothing(service: Service) -> None:
    answer = post(service, ("places.csv", PLACES), query="?dry_run=true")
    assert (answer.status_code, answer.json()["dry_run"]) == (200, True)
    assert answer.json()["counts"] == {"places": 2}
    assert service.get("/places").json() == []
    assert service.get("/history").json() == []


@pytest.mark.parametrize("query", ["", "?dry_run=true"])
def test_one_bad_row_keeps_everything_out_and_is_named(service: Service, query: str) -> None:
    bad = b"Tag,Kind\r\nA1,bin\r\nA2,cupboard\r\n"
    answer = post(service, ("venues.csv", VENUES), ("places.csv", bad), query=query)
    assert (answer.status_code, answer.json()["code"]) == (422, "bad-sheets")
    (error,) = answer.json()["errors"]
    assert (error["sheet"], error["row"]) == ("places", 3)
    assert error["message"]
    assert error["mend"]
    assert service.get("/venues").json() == service.get("/places").json() == []


@pytest.mark.parametrize(
    "content", [b"", b"\x00\x01\x02", b"PK\x03\x04 not a zip", b"%PDF-1.7", b"one,two\r\n1,2\r\n"]
)
def test_a_file_that_is_no_sheet_is_refused(service: Service, content: bytes) -> None:
    answer = post(service, ("letter.csv", content))
    assert (answer.status_code, answer.json()["code"]) == (422, "bad-sheets")


def test_a_sheet_that_comes_twice_in_one_request_is_refused(service: Service) -> None:
    answer = post(service, ("places.csv", PLACES), ("Places.csv", PLACES))
    assert "twice" in answer.json()["errors"][0]["message"]


def test_the_same_request_with_the_same_key_brings_in_once(service: Service) -> None:
    first = post(service, ("places.csv", PLACES), idempotency_key="monday-1")
    again = post(service, ("places.csv", PLACES), idempotency_key="monday-1")
    assert (again.status_code, again.json()) == (201, first.json())
    assert again.headers["idempotency-replayed"] == "true"
    other = post(service, ("places.csv", PLACES + b"A3,bin,\r\n"), idempotency_key="monday-1")
    assert (other.status_code, other.json()["code"]) == (422, "key-reused")
    assert len(service.get("/places").json()) == 2
    unkeyed = post(service, ("places.csv", PLACES)).json()
    assert (unkeyed["counts"], unkeyed["same"]) == ({"places": 0}, {"places": 2})


def test_a_request_that_was_refused_may_be_mended_under_the_same_key(service: Service) -> None:
    assert post(service, ("places.csv", b"Tag,Kind\r\nA1,cave\r\n"), idempotency_key="k").status_code == 422
    assert post(service, ("places.csv", PLACES), idempotency_key="k").status_code == 201


def test_two_people_may_use_the_same_key(service: Service) -> None:
    assert post(service, ("places.csv", PLACES), idempotency_key="k", x_by="one").status_code == 201
    assert post(service, ("venues.csv", VENUES), idempotency_key="k", x_by="two").status_code == 201


def test_of_many_at_once_with_one_key_one_does_it(service: Service) -> None:
    """The others get the same answer, or are told that it is under way; nothing comes in twice."""
    answers: list[httpx.Response] = []

    def send() -> None:
        answers.append(post(service, ("places.csv", PLACES), idempotency_key="rush"))

    crew = [threading.Thread(target=send) for _ in range(6)]
    for one in crew:
        one.start()
    for one in crew:
        one.join()
    done = [a for a in answers if a.status_code == 201 and "idempotency-replayed" not in a.headers]
    assert len(done) == 1
    for answer in answers:
        assert answer.status_code in {201, 503}
        assert answer.status_code == 503 or answer.json() == done[0].json()
    assert len(service.get("/places").json()) == 2
    with service.store.reading() as session:
        assert session.get_one(RequestKey, ("api", "rush")).status == 201


@pytest.mark.parametrize("key", ["", "with blank", "é", "x" * 256])
def test_a_key_that_cannot_be_one_is_refused(service: Service, key: str) -> None:
    headers = {"idempotency-key": key.encode("latin-1")}
    answer = service.client.post("/api/v1/sheets", files=[("file", ("a.csv", PLACES))], headers=headers)  # type: ignore[arg-type]
    assert (answer.status_code, answer.json()["code"]) == (422, "bad-request")


def test_files_must_come_as_a_form(service: Service) -> None:
    plain = service.client.post("/api/v1/sheets", content=PLACES, headers={"content-type": "text/csv"})
    assert (plain.status_code, plain.json()["code"]) == (415, "wrong-content-type")
    broken = service.client.post(
        "/api/v1/sheets", content=b"x", headers={"content-type": "multipart/form-data"}
    )
    assert broken.status_code in {400, 422}
    empty = service.client.post("/api/v1/sheets", files=[("other", ("a.csv", PLACES))])
    assert (empty.status_code, empty.json()["code"]) == (422, "bad-request")


def test_what_may_be_written_in_sheets_is_published(service: Service) -> None:
    sheets = {sheet["name"]: sheet for sheet in service.get("/sheets").json()}
    assert {"tapes", "elements", "supplies"} <= set(sheets)
    assert any(column["required"] for column in sheets["elements"]["columns"])
