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
