"""A refusal over HTTP is the refusal of the house: the same class, the same words, the same mend."""

import pytest

from service import errors
from service.api.problems import STATUS, kinds
from service.client import Refusal, Wattwright
from service.client.refusals import refusal
from tests import builders as build
from tests.api.conftest import Service
from tests.client.proxy import Line, answer


@pytest.mark.parametrize("kind", list(STATUS), ids=lambda kind: kind.code)
def test_every_code_comes_back_as_its_own_class(kind: type[errors.ServiceError]) -> None:
    status = STATUS[kind][0]
    told = refusal(status, {"code": kind.code, "detail": "no", "mend": "Do."}, is_unsure=False)
    assert isinstance(told, kind)
    assert isinstance(told, Refusal)
    assert (told.code, told.status, told.detail, told.message, str(told), told.mend) == (
        kind.code, status, "no", "no", "no", "Do.",
    )  # fmt: skip


def test_a_code_that_no_class_has_is_a_plain_refusal() -> None:
    known = {kind.code for kind in STATUS} | {errors.Fault.code}
    of_protocol = [kind for kind in kinds() if kind.code not in known]
    assert "method-not-allowed" in {kind.code for kind in of_protocol}
    for kind in of_protocol:
        told = refusal(kind.status, {"code": kind.code, "detail": "no", "mend": "Do."}, is_unsure=False)
        assert type(told) is Refusal
        assert told.code == kind.code


def test_wrong_rows_come_back_with_their_places(wattwright: Wattwright) -> None:
    sheet = b"Tag,Kind\r\nA1,bin\r\nA2,cupboard\r\n"
    with pytest.raises(errors.BadSheets) as told:
        wattwright.ask("POST", "/sheets", files=[("places.csv", sheet)])
    (row,) = told.value.errors
    assert isinstance(row, errors.RowError)
    assert (row.sheet, row.row, row.column) == ("places", 3, "Kind")
    assert str(row).startswith("places, row 3, column 'Kind': ")


def test_a_wrong_value_is_named_by_where_it_stands(wattwright: Wattwright, house: build.House) -> None:
    del house
    with pytest.raises(errors.BadRequest) as told:
        wattwright.change("elements", "SQ-1", {"runs": [{"pieces": [{}]}], "priority": 10})
    assert isinstance(told.value, Refusal)
    assert {(e.sheet, e.column) for e in told.value.errors} == {
        ("elements", "runs.0.pieces.0.drawn_mm"),
        ("elements", "priority"),
    }


def test_what_would_be_over_comes_back_with_its_figures(
    service: Service, wattwright: Wattwright, house: build.House
) -> None:
    """14 m of 19.2 W/m more on a supply that may give 256 W for hours: 307.2 W."""
    with service.store.writing("tests") as session:
        wide = build.an_element(session, house.production, ((280,),), tag="SQ-2", tape=house.tape)
        other, dc = build.a_supply(session, tag="PS-2"), build.a_decoder(session, tag="DC-2")
        for unit in (other, dc):
            build.a_placing(session, house.plan, unit, place_id=house.scenic_unit.place_id)
        build.an_allotment(session, house.plan, wide.runs[0], other, decoder=dc)
        build.a_patch(session, house.plan, dc, start=101)
    etag = wattwright.ask("GET", "/elements/SQ-2/feed").headers["ETag"]
    with pytest.raises(errors.OverLimit) as told:
        wattwright.ask("PATCH", "/elements/SQ-2/feed", json={"supply": "PS-1"}, headers={"If-Match": etag})
    assert isinstance(told.value, Refusal)
    watts = [f for f in told.value.findings if f["code"] == "supply-watts"]
    assert [(f["value"], f["limit"], f["unit"]) for f in watts] == [(307.2, 256.0, "W")]


def test_a_fault_of_the_service_keeps_its_reference(line: Line, over_the_line: Wattwright) -> None:
    said = '{"code": "fault", "status": 500, "detail": "something", "mend": "m", "reference": "ab12"}'
    line.breaks(answer("500 Internal Server Error", said, content_type="application/problem+json"))
    with pytest.raises(errors.Fault, match=r"something \(reference ab12\)"):
        over_the_line.ask("GET", "/places")


@pytest.mark.parametrize(
    "odd", ['{"code": "stale", "errors": 7}', '{"code": "bad-values", "errors": [1, {"pointer": 3}]}']
)
def test_a_problem_of_an_odd_shape_is_still_a_refusal(
    line: Line, over_the_line: Wattwright, odd: str
) -> None:
    line.breaks(answer("422 Unprocessable Content", odd, content_type="application/problem+json"))
    with pytest.raises(Refusal) as told:
        over_the_line.ask("GET", "/places")
    assert told.value.mend
