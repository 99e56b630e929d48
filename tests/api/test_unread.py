"""What nothing would read is refused, so that nobody takes it for done."""

import pytest

from tests.api.conftest import Service

pytestmark = pytest.mark.usefixtures("house")


@pytest.mark.parametrize(
    ("address", "takes"),
    [
        ("/reports/loads", "it takes production, everything, as_of"),
        ("/reports/over-limit", "production"),
        ("/reports", "it takes none"),
        ("/elements/SQ-1/feed", "it takes none"),
        ("/supplies/PS-1/feeds", "it takes none"),
        ("/supplies/PS-1/dark", "it takes none"),
        ("/productions/WIN/plans", "limit"),
        ("/supplies", "it takes limit, cursor"),
        ("/supplies/PS-1", "it takes as_of"),
    ],
)
def test_a_parameter_that_nothing_reads_is_refused_everywhere(
    service: Service, address: str, takes: str
) -> None:
    problem = service.get(f"{address}?prodution=SQ")

    assert problem.status_code == 422
    assert problem.json()["errors"][0]["parameter"] == "prodution"
    assert takes in problem.json()["detail"]


@pytest.mark.parametrize("body", [{}, {"supply": None}, {"supply": None, "locked": None, "run": 1}])
def test_a_move_of_a_feed_that_moves_nothing_is_refused(service: Service, body: dict[str, object]) -> None:
    problem = service.patch("/elements/SQ-1/feed", body, if_match="*")

    assert problem.status_code == 422
    assert problem.json()["mend"] == "Say one of supply, output, decoder, first_channel, locked."


@pytest.mark.parametrize(
    ("body", "why"),
    [(b"[" * 200_000, "too deeply nested"), (b'{"note": "\xff"}', "not UTF-8"), (b'{"note": ', "not JSON")],
)
def test_json_that_cannot_be_read_is_one_kind_of_problem(service: Service, body: bytes, why: str) -> None:
    headers = {"content-type": "application/json", "if-match": "*"}
    answer = service.client.patch("/api/v1/elements/SQ-1/feed", content=body, headers=headers)

    assert (answer.status_code, answer.json()["code"]) == (422, "bad-request")
    assert why in answer.json()["errors"][0]["detail"]


@pytest.mark.parametrize(
    ("body", "twice"),
    [
        (b'{"name": "attic", "priority": 1, "name": "cellar"}', "name"),
        (b'{"runs": [{"lead_m": 1, "pieces": [], "lead_m": 2}]}', "lead_m"),
    ],
)
def test_a_value_that_stands_twice_in_a_body_is_refused_by_name(
    service: Service, body: bytes, twice: str
) -> None:
    """Of two, one would be dropped without a word (RFC 8259, 4)."""
    headers = {"content-type": "application/json", "if-match": "*"}
    answer = service.client.patch("/api/v1/elements/SQ-1", content=body, headers=headers)

    assert (answer.status_code, answer.json()["code"]) == (422, "bad-request")
    assert answer.json()["detail"] == f"{twice} stands twice in the body"
    assert service.get("/elements/SQ-1").json()["name"] == "upper window"


@pytest.mark.parametrize("old", ['W/"1"', "1", "PS-1", '""', '"one"'])
def test_what_is_no_etag_of_a_version_is_not_called_stale(service: Service, old: str) -> None:
    """A weak tag never matches (RFC 9110, 13.1.1), but the thing has not changed."""
    answer = service.patch("/elements/SQ-1", {"name": "attic"}, if_match=old)

    assert answer.status_code == 412
    assert answer.json()["detail"] == f"If-Match {old} is not the ETag of a version"
    assert answer.json()["mend"] == 'Send the ETag as it was answered, quotes and all, such as "7".'


@pytest.mark.parametrize(
    ("address", "body", "said"),
    [
        ("/dark", {"dark": []}, "a list of at least 1 is expected"),
        ("/productions/WIN/plans", {"seed": -1}, "0 is the least that is taken"),
        ("/productions/WIN/plans", {"effort": 0}, "a number above 0 is expected"),
        ("/productions/WIN/plans", {"effort": "much"}, "a number is expected"),
        ("/productions/WIN/plans", {"from_on": "soon"}, "a day is expected, as YYYY-MM-DD"),
        ("/elements/SQ-1/steps", {"to": "x" * 25}, "text of at most 24 characters is expected"),
        ("/elements/SQ-1/steps", [], "an object is expected"),
    ],
)
def test_what_does_not_fit_is_told_in_the_words_of_the_house(
    service: Service, address: str, body: object, said: str
) -> None:
    answer = service.client.post(f"/api/v1{address}", json=body, headers={"if-match": "*"})

    assert answer.status_code == 422
    assert answer.json()["detail"] == said
