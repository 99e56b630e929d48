"""Whatever is asked, at whatever address, is answered in a way that says what was wrong with it.

Every operation of the published description is asked with odd keys, odd parameters and odd bodies.
"""

import itertools
import time
from collections.abc import Iterator
from typing import Any

import pytest

from tests import builders as build
from tests.api.conftest import Service

pytestmark = pytest.mark.usefixtures("house")

ODD = (
    "x", "0", "-1", "2", "99999999999999999999", "%00", "é", "a" * 81, "'; --", "*", " ", "1e9", "NaN", "🎭",
    "0001-01-01", "9999-12-31",
)  # fmt: skip
BODIES: tuple[Any, ...] = (
    {}, [], "text", 7, None, {"x": 1}, {"state": []}, {"name": {}}, {"lead_m": [1]}, {"lead_m": True},
    {"measured_ah": None}, {"measured_ah": {}}, {"measured_ah": 1e300}, {"lead_gauge": []},
    {"effort": "1e400"}, {"supply": "\u0000", "output": 10**30}, {"supply": "PS-1", "first_channel": 10**30},
    {"run": 10**30}, {"decoder": "'; --"}, {"tape": "\t"}, {"home": ""}, {"last_tested_on": "2026-02-30"},
    {"from_on": "9999-12-31"}, {"to_on": "9999-12-31"}, {"from_on": "0001-01-01", "to_on": "9999-12-31"},
    {"note": "🎭" * 400}, {"cap_pct": 50, "cap_enforced_where": "desk", "cap_signed_by": "é"},
)  # fmt: skip


def operations(service: Service, method: str) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    """(address with {keys}, query parameters as published) of every operation with that method."""
    described = service.get("/openapi.json").json()
    for path, methods in described["paths"].items():
        if method in methods:
            parameters = methods[method].get("parameters", [])
            yield path, [p for p in parameters if p["in"] == "query"]


def filled(path: str, value: str) -> str:
    for key in ("key", "tag", "code", "number"):
        path = path.replace("{" + key + "}", value)
    return path


def test_an_odd_key_is_answered_below_500_everywhere(service: Service) -> None:
    asked = 0
    for (path, _), value in itertools.product(operations(service, "get"), ODD):
        if "{" in path:
            answer = service.client.get(filled(path, value))
            assert answer.status_code < 500, (path, value, answer.text)
            asked += 1
    assert asked > 500


def test_an_odd_parameter_is_answered_below_500_everywhere(service: Service) -> None:
    """With every odd value where a parameter is met first, with two of them in turn where it comes again."""
    asked, met, in_turn = 0, set[str](), itertools.cycle(ODD)
    for path, parameters in operations(service, "get"):
        if path.endswith("}/history"):
            continue  # the same list as /history, once for every kind of thing
        key = "WIN" if "{code}" in path else "1" if "{number}" in path else "SQ-1"
        for parameter in parameters:
            name, kind = parameter["name"], f"{parameter['name']} {parameter['schema']}"
            values = ODD if kind not in met else tuple(itertools.islice(in_turn, 2))
            met.add(kind)
            for value in values:
                answer = service.client.get(filled(path, key) + f"?{name}={value}")
                assert answer.status_code < 500, (path, name, value, answer.text)
                asked += 1
    assert asked > 1000


@pytest.mark.parametrize("method", ["patch", "post"])
def test_an_odd_body_is_answered_below_500_everywhere(service: Service, method: str) -> None:
    with service.store.writing("tests") as session:
        build.a_battery(session, tag="BT-1")
    for path, _ in operations(service, method):
        address = path.replace("{number}", "1").replace("{code}", "WIN")
        for tag, body in itertools.product(("SQ-1", "PS-1", "BT-1", "NO"), BODIES):
            if "{tag}" not in path and tag != "NO":
                continue
            answer = service.client.request(
                method, address.replace("{tag}", tag), json=body, headers={"if-match": "*"}
            )
            assert answer.status_code < 500, (method, path, tag, body, answer.text)
            if answer.status_code >= 400:
                assert answer.json()["mend"], (method, path, body)
    while any(p["status"] in {"queued", "working"} for p in service.get("/productions/WIN/plans").json()):
        time.sleep(0.1)  # the next test empties the database
