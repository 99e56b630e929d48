"""The calculators through HTTP: typed parameters, CSV, a drawing, refusals that name the parameter."""

import csv
import io
from collections.abc import Mapping
from xml.etree import ElementTree

import httpx
import pytest

from tests.api.conftest import Service

DROP: dict[str, object] = {
    "emitter_w_per_m": ["4.8 W/m"] * 4,
    "length_m": "8 m",
    "lead_m": "12 m",
    "pitch_m": "100 mm",
}


def ask(
    service: Service, name: str, asked: Mapping[str, object], accept: str = "application/json"
) -> httpx.Response:
    return service.client.get(f"/api/v1/calculators/{name}", params=asked, headers={"Accept": accept})  # type: ignore[arg-type]


def test_the_list_names_each_and_what_it_takes(service: Service) -> None:
    found = {one["name"]: one for one in service.get("/calculators").json()}
    assert {"drop", "longest-run", "gauge", "fuse", "battery", "mains", "box", "marking", "line"} == set(
        found
    )
    assert "length_m" in found["drop"]["asks"]


def test_a_drop_is_answered_as_figures_and_as_a_sheet(service: Service) -> None:
    found = ask(service, "drop", DROP).json()
    assert found["is_within"] is False
    assert found["figures"][0]["name"] == "lost_v"
    sheet = ask(service, "drop", DROP, "text/csv")
    rows = list(csv.DictReader(io.StringIO(sheet.text)))
    assert rows[0]["name"] == "lost_v"
    assert float(rows[0]["value"]) == pytest.approx(found["figures"][0]["value"])


def test_the_volts_are_drawn(service: Service) -> None:
    answer = ask(service, "drop/picture", DROP, "image/svg+xml")
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert ElementTree.fromstring(answer.text).tag == "{http://www.w3.org/2000/svg}svg"


@pytest.mark.parametrize(
    ("name", "asked", "status", "says"),
    [
        ("drop", DROP | {"length_m": "8 W"}, 422, "is a power, not a length"),
        ("drop", DROP | {"lenght_m": "8 m"}, 422, "lenght_m is not a parameter of this address"),
        ("drop", {"length_m": "8 m"}, 422, "emitter_w_per_m"),
        ("drop", DROP | {"common_ohm_per_m": "0 Ω/m"}, 422, "a rail of 0"),
        ("drop", DROP | {"draw": "power", "length_m": "40 m"}, 409, "no voltage holds"),
        ("fuse", {"load_a": "3 A", "gauge": "thin"}, 422, "is not a wire size"),
        ("nothing", {}, 404, ""),
    ],
)
def test_what_cannot_be_answered_is_a_problem_with_a_mend(
    service: Service, name: str, asked: dict[str, object], status: int, says: str
) -> None:
    answer = ask(service, name, asked)
    assert answer.status_code == status, answer.text
    assert says in answer.text
    assert answer.json()["mend"]
