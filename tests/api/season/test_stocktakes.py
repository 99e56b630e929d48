"""A place counted over HTTP, from a phone or two."""

import httpx
import pytest

from tests import builders as build
from tests.api.conftest import Service

pytestmark = pytest.mark.usefixtures("shelf")


@pytest.fixture
def shelf(service: Service) -> None:
    """Bin B1 with PS-5, PS-6 and R-7 (100 cut pitches of 50 mm); PS-7 lives in B2."""
    with service.store.writing("tests") as session:
        first, second = build.a_place(session, tag="B1"), build.a_place(session, tag="B2")
        model, tape = build.a_supply_model(session, tag="S1"), build.a_tape(session, tag="T1")
        for tag, home in (("PS-5", first), ("PS-6", first), ("PS-7", second)):
            build.a_supply(session, model, tag=tag, home_id=home.id)
        build.a_reel(session, tape, tag="R-7", place_id=first.id)


def post(service: Service, path: str, body: object = None, **headers: str) -> httpx.Response:
    named = {"X-By": "Ada"} | {name.replace("_", "-"): value for name, value in headers.items()}
    return service.client.post(f"/api/v1{path}", json=body, headers=named)


def counted(service: Service, *counts: dict[str, object]) -> httpx.Response:
    return post(service, "/stocktakes/b1/counts", {"counts": list(counts)})


def test_a_place_is_counted_settled_and_closed(service: Service) -> None:
    begun = post(service, "/stocktakes", {"place": "b1", "note": "spring"})
    assert begun.status_code == 201, begun.text
    row = begun.json()
    assert (row["number"], row["place"], row["status"], row["to_count"]) == ("ST-001", "B1", "open", 3)
    assert begun.headers["Location"] == f"/api/v1/stocktakes/{row['id']}"
    assert service.get(f"/stocktakes/{row['id']}").json()["note"] == "spring"

    said = counted(
        service, {"tag": "PS-5"}, {"tag": "ps-6", "found": False}, {"tag": "PS-7"},
        {"tag": "R-7", "length_mm": 4850},
    ).json()  # fmt: skip
    assert [(line["tag"], line["outcome"], line["differences"]) for line in said["lines"]] == [
        ("PS-5", "agrees", []),
        ("PS-6", "differs", ["not found"]),
        ("PS-7", "differs", ["here; the book has it at B2"]),
        ("R-7", "differs", ["4850 mm left; the book says 5000 mm"]),
    ]
    assert said["stocktake"]["differs"] == 3
    differing = service.get("/stocktakes/1/differences").json()
    assert [(line["tag"], line["difference_m"]) for line in differing] == [
        ("PS-6", None), ("PS-7", None), ("R-7", -0.15),
    ]  # fmt: skip

    assert post(service, "/stocktakes/ST-001/look-for", {"tags": ["PS-6"]}).status_code == 200
    done = post(service, "/stocktakes/ST-001/accept", {}).json()
    assert [line["tag"] for line in done["lines"]] == ["R-7", "PS-7"]
    assert service.get("/reels/R-7").json()["left_pitches"] == 97
    back = post(service, "/stocktakes/ST-001/undo", {"tags": ["R-7"]}).json()
    assert [(line["tag"], line["outcome"]) for line in back["lines"]] == [("R-7", "differs")]
    assert service.get("/reels/R-7").json()["left_pitches"] == 100
    done = post(service, "/stocktakes/ST-001/accept", {}).json()
    assert service.get("/supplies/PS-6").json()["state"] == "good"
    assert [row["outcome"] for row in service.get("/stocktake-lines?stocktake=st-001&tag=ps-6").json()] == [
        "to look for"
    ]

    assert post(service, "/stocktakes/B1/close").status_code == 428
    version = done["stocktake"]["version"]
    assert post(service, "/stocktakes/B1/close", If_Match=f'"{row["version"]}"').status_code == 412
    closed = post(service, "/stocktakes/B1/close", If_Match=f'"{version}"')
    assert (closed.status_code, closed.json()["status"]) == (200, "closed")
    assert counted(service, {"tag": "PS-5"}).status_code == 404
    again = post(service, "/stocktakes/ST-001/counts", {"counts": [{"tag": "PS-5"}]})
    assert (again.status_code, again.json()["code"]) == (409, "step-refused")


def test_what_changed_meanwhile_is_refused_with_who_changed_it(service: Service) -> None:
    post(service, "/stocktakes", {"place": "B1"})
    counted(service, {"tag": "PS-5", "found": False})
    service.patch("/supplies/PS-5", {"where_note": "on the bench", "home": "B2"}, If_Match="*", X_By="Bo")
    answer = post(service, "/stocktakes/B1/accept", {"tags": ["PS-5"]})
    assert (answer.status_code, answer.json()["code"]) == (409, "book-changed")
    assert answer.json()["errors"] == [
        {
            "pointer": "#/tags/0",
            "detail": "PS-5 was changed by Bo since it was counted: its home is now B2, "
            "the note on its whereabouts is now on the bench",
            "mend": "Count PS-5 again.",
            "code": "book-changed",
        }
    ]
    each = post(service, "/stocktakes/B1/accept", {"tags": ["PS-5"], "each": True}).json()
    assert (each["lines"], len(each["refused"])) == ([], 1)
    counted(service, {"tag": "PS-5", "found": False})
    assert post(service, "/stocktakes/B1/accept", {"tags": ["PS-5"]}).status_code == 200
    assert service.get("/supplies/PS-5").json()["state"] == "missing"


def test_it_is_begun_once_and_counted_once_however_often_it_is_sent(service: Service) -> None:
    first = post(service, "/stocktakes", {"place": "B1"}, Idempotency_Key="monday-1")
    again = post(service, "/stocktakes", {"place": "B1"}, Idempotency_Key="monday-1")
    assert (again.status_code, again.json()) == (201, first.json())
    other = post(service, "/stocktakes", {"place": "B1"})
    assert (other.status_code, other.json()["code"]) == (409, "in-use")
    assert other.json()["detail"] == "ST-001 counts B1 already, begun by Ada"


def test_lists_are_given_as_csv(service: Service) -> None:
    post(service, "/stocktakes", {"place": "B1"})
    lines = service.get("/stocktakes/B1/lines", Accept="text/csv").text.splitlines()
    assert lines[0].startswith("stocktake,place,tag,item,expected")
    assert [line.split(",")[2] for line in lines[1:]] == ["PS-5", "PS-6", "R-7"]
    report = service.get("/reports/stocktake", Accept="text/csv").text.splitlines()
    assert report == lines


@pytest.mark.parametrize(
    ("path", "body", "status"),
    [
        ("/stocktakes", {"place": "NOWHERE"}, 422),
        ("/stocktakes/ST-9/counts", {"counts": [{"tag": "PS-5"}]}, 404),
        ("/stocktakes/B1/counts", {"counts": []}, 422),
        ("/stocktakes/B1/counts", {"counts": [{"tag": "PS-5"}, {"tag": "ZZ-1"}]}, 409),
        ("/stocktakes/B1/counts", {"counts": [{"tag": "R-7", "length_mm": 4970}]}, 409),
        ("/stocktakes/B1/counts", {"counts": [{"tag": "R-7", "length_mm": -50}]}, 422),
        ("/stocktakes/B1/accept", {"tags": ["PS-5"]}, 409),
        ("/stocktakes/B1/accept", {"all": True}, 422),
        ("/stocktakes/B1/undo", {"tags": ["PS-5"]}, 409),
        ("/stocktakes/B1/undo", {}, 422),
    ],
)
def test_what_cannot_be_counted_leaves_everything_as_it_was(
    service: Service, path: str, body: dict[str, object], status: int
) -> None:
    post(service, "/stocktakes", {"place": "B1"})
    answer = post(service, path, body)
    assert answer.status_code == status, answer.text
    assert answer.json()["mend"]
    assert {line["outcome"] for line in service.get("/stocktakes/B1/lines").json()} == {"to count"}
