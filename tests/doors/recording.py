"""What the service answers over the demonstration season, field by field, for the examples it publishes."""

import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import httpx
from fastapi import FastAPI

from service.api.examples import ANYWHERE, bare_fields, is_leaf
from service.app import create_app
from service.config import Settings
from service.store import schema
from service.store.work import Store
from tests.acceptance.conftest import bring_season
from tests.api.conftest import serving
from tests.doors.test_statements import addresses

RECORD = Path(__file__).resolve().parents[2] / "service/api/examples.json"
Json = Any
# When a record is made and how long that took is no example's business: the same stands in every one.
MOMENT, SECONDS = "2026-11-25T19:28:00Z", 0.5
STEP = {"to": "faulty", "what": "no volts at the output"}
MIRROR = {"tag": "SQ-30", "production": "SQ", "tape": "TW24", "pieces": "3.33 m", "lead": "5 m"}
# Where reading alone shows nothing: acts of each sort, on the season.
ACTS: tuple[tuple[str, Json], ...] = (
    ("dark", {"dark": ["SQ-07", "SQ-09"], "lit": ["SQ-10"]}),
    ("what-if", {"suppositions": [{"suppose": "add", "kind": "elements", "values": MIRROR}]}),
    ("productions/TW/plans", {"effort": 0.01}),
    ("productions/TW/plans/1/keep", {}),
    ("productions/SQ/prints", {"paper": "feed sheet"}),
    ("supplies/PS-03/steps", STEP),
    ("elements/SQ-09/steps", {"to": "dark", "what": "no light at all"}),
    ("notes", {"about": "SQ-09", "text": "lead rubs on the hinge"}),
    ("batteries/BT-11/swaps", {"swap_for": "BT-13", "found": "swollen"}),
    ("swaps/S-001/undo", {}),
    ("batteries/BT-11/swaps", {"swap_for": "BT-03", "found": "dies in act two"}),
    ("cut-plans", {"productions": ["TW", "TL"]}),
    ("cut-plans/CP-001/keep", {}),
    ("cut-plans/CP-001/steps/1/done", {}),
    ("reels/R-122/offcuts", {"length_m": "300 mm", "note": "for the bench"}),
    ("reels/R-119/joins", {"other": "R-182", "note": "soldered on bench 1"}),
    ("cuts/K-074/settle", {"counts": False, "note": "entered twice"}),
    ("reel-joins", {"reel": "R-123", "from_hub_m": "2.5 m", "note": "from the factory"}),
    (
        "deliveries",
        {"number": "DN-118", "order": "PO-2611-1", "line": 1, "quantity": 1, "note": "one to come"},
    ),
    ("productions/TL/issue", {"tags": ["PS-11", "PS-02"], "each": True}),
    ("productions/TL/issue/undo", {"tags": ["PS-11"]}),
    ("productions/TW/issue", {"tags": ["BT-22"]}),
    ("returns", {"tags": ["PS-21", "PS-22"], "found": "hums at half load"}),
    ("returns/undo", {"tags": ["PS-22", "PS-31"], "each": True}),
    ("returns", {"tags": ["PS-22", "PS-31"], "each": True}),
    ("missing", {"tags": ["DC-03"]}),
    ("missing", {"tags": ["DC-03"], "each": True}),
    ("stocktakes", {"place": "A4"}),
    (
        "stocktakes/A4/counts",
        {"counts": [{"tag": "R-106", "length_mm": 3300}, {"tag": "R-107", "found": False, "note": "gone"}]},
    ),
    ("stocktakes/A4/look-for", {"tags": ["R-107"]}),
    ("stocktakes/A4/accept", {"tags": ["R-106", "R-108"], "each": True}),
    ("season/what-if", {"moves": [{"production": "TL", "later_by_days": 16}]}),
    (
        "supply-models",
        {"tag": "S60H", "output_v": 24, "rated_w": 60, "hire_price_per_week": "12.50"},
    ),
    ("connectors", {"tag": "CN-01", "family": "screw clamp", "pins": 4, "a_per_pin": "10 A"}),
)
# What nothing in the season shows, by the name of the field or parameter.
SAID: dict[str, Json] = {
    "accept": "application/json", "x-by": "bench 1", "if-match": '"3"', "if-none-match": '"3"',
    "idempotency-key": "monday-1", "prefer": "wait=20", "sort": "-changed_at", "q": "attic", "limit": 50,
    "cursor": "eyJhIjoxfQ", "retired": "no", "retired_on": "2027-03-08", "thing_id": 12, "id": 12,
    "key": "PS-01", "tag": "PS-01", "what": "SQ-09", "by": "bench 1", "kind": "supplies", "number": 1,
    "code": "SQ", "as_of": "2026-12-02", "changed_since": "2026-11-20T18:00:00Z", "everything": True,
    "is_open": True, "sheet": "elements", "row": 12, "column": "lead_m (m)", "thing": "SQ-09",
    "before": "5", "after": "6", "same": {"elements": 84}, "change": "changed", "dry_run": True,
    "remarks": ["2 blank rows"],
    "counts": {"elements": 85}, "last_tested_on": "2026-10-30", "cost_weight": 1.5, "load_factor": 0.7,
    "error": "the process that worked it out ended", "progress": {"parts_done": 3, "parts": 5},
    "override_reason": "one night only, agreed with the designer", "notes": ["SQ-17 moves to PS-03"],
    "despite_limits": "one night only, agreed with the designer", "despite": "tested on the bench by hand",
    "taken_on": "2026-11-20", "caption": "from the house", "added_by": "bench 1", "file_name": "attic.jpg",
    "media_type": "image/jpeg", "size_bytes": 184320, "sha256": "9f86d081884c7d659a2feaa0c55ad015"
    "a3bf4f1b2b0b822cd15d6c15b0f00a08", "measured_w_per_m": 18.7, "measured_w": 61.7, "measured_v": 23.8,
    "tested_on": "2026-11-06", "tested_by": "bench 1", "hours_at_full": 1.0, "cycles": 40, "measured_ah": 9.4,
    "rated_h": 20.0, "peukert_exponent": 1.2, "converter_efficiency": 0.9, "unit_load_limit": 32.0,
    "recorded": ["SQ-09"], "mirror": "attic pair", "cap_pct": 60.0, "cap_enforced_where": "in the decoder",
    "cap_signed_by": "bench 1", "cap_signed_on": "2026-11-20", "fan_m3_per_h": 20.0, "cause": "cold joint",
    "fix": "soldered anew", "minutes_dark": 12, "mended_on": "2026-11-25", "locked": True, "price": 71.0,
    "rating_a": 7.5,
    "fitted_on": "2026-11-09", "line_2": "24 V 320 W", "deadline_s": 60.0, "needed_to": "2027-04-06",
    "default_universe": 3, "lead_gauge": "18 AWG", "output_label": "A", "decoder_note": "hums at 10 %",
    "unfed_because": "no supply of 24 V is free", "unfed_mend": "one more S320", "pixel_idle_w": 0.05,
    "led_drop_v": 9.0, "asked_on": "2026-11-20", "done_by": "bench 1", "done_on": "2026-11-24",
    "received_on": "2026-12-18", "type": "/api/v1/problems/not-found", "detail": "there is no PS-99",
    "hired_from": "2026-12-21", "hired_to": "2027-01-11", "hire_from": "2026-12-21", "hire_to": "2027-01-11",
    "hire_price_per_week": 12.5, "hire_weeks": 3, "packs": 4, "move_needed_to": "2027-01-10",
    "later_by_days": 2, "back": ["PS-31"], "first_short_on": "2026-12-21", "late_orders": ["PO-2611-1"],
    "from": "2026-12-21", "to": "2027-01-11", "step": 1, "production": "SQ", "is_undone": True,
    "closed_by": "bench 1", "closed_at": "2026-11-25T18:20:00Z",
    "instance": "/api/v1/supplies/PS-99", "pieces": "2x1900", "outputs": "4x4.0", "emitters": "W=14.4",
}  # fmt: skip


def record() -> dict[str, dict[str, Json]]:
    """One value for each field that has no example of its own, by the shape or address it is of."""
    with tempfile.TemporaryDirectory() as folder:
        store = Store(f"sqlite:///{folder}/season.db")
        schema.upgrade(store.engine)
        bring_season(store)
        seen: dict[tuple[str, str], Json] = {}
        with serving(store.url) as base, httpx.Client(base_url=base, timeout=120) as client:
            # What the framework writes of itself: without the examples of an earlier record.
            document = FastAPI.openapi(create_app(Settings(database_url=store.url)))
            for operation, answer in _answers(client, document):
                for owner, name, value in _values(document, _shape_of(operation, answer), answer.json()):
                    seen.setdefault((owner, name), value)
        store.close()
    return _settled(document, seen)


def _answers(client: httpx.Client, document: Json) -> Iterator[tuple[Json, httpx.Response]]:
    for act, body in ACTS:
        headers = {"If-Match": "*", "Prefer": "wait=30"}
        answer = client.post(f"/api/v1/{act}", json=body, headers=headers)
        if not answer.is_success:
            raise LookupError(f"{act}: {answer.text}")
        yield document["paths"][_path_of(document, f"/api/v1/{act}", "post")]["post"], answer
    for address in addresses(client):
        query = {"kind": "supplies"} if address.endswith("/labels") else {}
        answer = client.get(address, params=query)
        if answer.is_success and "json" in answer.headers["content-type"]:
            path = _path_of(document, address, "get")
            yield document["paths"][path]["get"], answer


def _path_of(document: Json, address: str, method: str) -> str:
    steps = address.split("/")
    for path, operations in sorted(document["paths"].items(), key=lambda one: str(one[0]).count("{")):
        wanted = str(path).split("/")
        if method not in operations or len(wanted) != len(steps):
            continue
        if all(w == s or w.startswith("{") for w, s in zip(wanted, steps, strict=True)):
            return str(path)
    raise LookupError(address)


def _shape_of(operation: Json, answer: httpx.Response) -> Json:
    said = operation["responses"].get(str(answer.status_code)) or operation["responses"]["4XX"]
    content = said.get("content", {})
    return next(iter(content.values())).get("schema", {}) if content else {}


def _values(document: Json, shape: Json, value: Json, owner: str = "") -> Iterator[tuple[str, str, Json]]:
    """Every value in an answer, with the shape and the field it was found in."""
    if "$ref" in shape:
        name = shape["$ref"].rpartition("/")[2]
        yield from _values(document, document["components"]["schemas"][name], value, name)
        return
    for way in (*shape.get("anyOf", ()), *shape.get("oneOf", ())):
        yield from _values(document, way, value, owner)
    if isinstance(value, list):
        for one in value:
            yield from _values(document, shape.get("items", {}), one, owner)
    elif isinstance(value, Mapping):
        for name, field in shape.get("properties", {}).items():
            found = value.get(name)
            if found in (None, "", [], {}):
                continue
            if is_leaf(field) and owner:
                yield owner, name, found[:2] if isinstance(found, list) else _steady(name, field, found)
            else:
                yield from _values(document, field, found, owner)
        more = shape.get("additionalProperties")
        if isinstance(more, Mapping):
            for one in value.values():
                yield from _values(document, more, one, owner)


def _steady(name: str, field: Json, value: Json) -> Json:
    if "/date-time/" in _kind(field):
        return MOMENT
    return SECONDS if name == "seconds" else value


def _settled(document: Json, seen: Mapping[tuple[str, str], Json]) -> dict[str, dict[str, Json]]:
    """A field that no answer filled takes the value of a field of the same name and shape elsewhere."""
    elsewhere: dict[tuple[str, str], Json] = {}
    for (owner, name), value in seen.items():
        field = document["components"]["schemas"][owner]["properties"][name]
        elsewhere.setdefault((name, _kind(field)), value)
    for shape in document["components"]["schemas"].values():
        for name, field in shape.get("properties", {}).items():
            for value in field.get("examples", ())[:1]:
                elsewhere.setdefault((name, _kind(field)), value)
    settled: dict[str, dict[str, Json]] = {ANYWHERE: dict(SAID)}
    for owner, name, field in bare_fields(document):
        value = seen.get((owner, name), elsewhere.get((name, _kind(field))))
        if value is not None:
            settled.setdefault(owner, {})[name] = value
    return settled


def _kind(field: Json) -> str:
    ways = [way for way in field.get("anyOf", [field]) if way.get("type") != "null"]
    return "|".join(
        sorted(f"{way.get('type')}/{way.get('format', '')}/{way.get('enum', '')}" for way in ways)
    )
