"""Text that is kept can be printed, whichever door it comes through."""

import httpx
import pytest
from pydantic import BaseModel, ValidationError

from service.planning.cutting.schemas import CutPlanRequest
from service.planning.issuing.schemas import IssueAsk, MissingAsk, ReturnAsk
from service.planning.swapping.schemas import SwapAsk
from service.season.counting.schemas import BeginAsk
from service.season.receiving.schemas import DeliveryAsk
from service.shows.ledger.schemas import OpenAsk
from service.shows.records import ElementStatus
from tests import builders as build
from tests.api.conftest import Service

BELL = "a\x07b"


@pytest.mark.parametrize(
    ("asked", "given"),
    [
        (IssueAsk, {"tags": [BELL]}),
        (ReturnAsk, {"tags": ["PS-1"], "found": BELL}),
        (MissingAsk, {"tags": ["PS-1"], "what": BELL}),
        (BeginAsk, {"place": "B1", "note": BELL}),
        (DeliveryAsk, {"number": "1", "order": "1", "line": 1, "quantity": 1, "note": BELL}),
        (OpenAsk, {"note": BELL}),
        (CutPlanRequest, {"productions": ["SQ"], "note": BELL}),
        (SwapAsk, {"swap_for": "PS-2", "found": BELL}),
        (SwapAsk, {"swap_for": "PS-2", "despite_limits": "it is\x1bfine"}),
    ],
)
def test_an_act_takes_no_control_characters(asked: type[BaseModel], given: dict[str, object]) -> None:
    with pytest.raises(ValidationError, match="text without control characters is expected"):
        asked.model_validate(given)


@pytest.mark.parametrize("body", [{"what": BELL}, {"what": "no light", "despite": "it\x1bis so"}])
def test_a_step_takes_none(service: Service, body: dict[str, str]) -> None:
    with service.store.writing("tests") as session:
        build.a_house(session).element.status = ElementStatus.WORKING
    answer = _step(service, body | {"to": "dark"})
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, f"#/{list(body)[-1]}")
    assert "control characters" in answer.text


def test_nor_does_the_name_of_who_asks(service: Service) -> None:
    with service.store.writing("tests") as session:
        build.a_house(session).element.status = ElementStatus.WORKING
    answer = _step(service, {"to": "dark", "what": "no light"}, by=b"A\x85da")
    assert (answer.status_code, "control characters" in answer.text) == (422, True)


def _step(service: Service, body: dict[str, str], by: bytes = b"Ada") -> httpx.Response:
    headers = {b"If-Match": b"*", b"X-By": by}
    return service.client.post("/api/v1/elements/SQ-1/steps", json=body, headers=headers)
