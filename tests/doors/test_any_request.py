"""Whatever is asked, the service answers as it promises: never with a fault, and in the shape it published.

Requests are made up from the published OpenAPI document, sound ones and unsound ones alike, over the
demonstration season; about half of the things asked for are there. 5,000 in all, half on each database.
"""

import random
from collections.abc import Callable, Iterator
from typing import Any

import httpx
import requests
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import Case, GenerationMode
from schemathesis.checks import CHECKS, load_all_checks
from schemathesis.core.result import Ok

from service.store.work import Store
from tests.api.conftest import serving

LEAST = 2_500
PROMISES = ["not_a_server_error", "status_code_conformance", "content_type_conformance",
            "response_schema_conformance", "response_headers_conformance"]  # fmt: skip
MODES = (GenerationMode.POSITIVE, GenerationMode.NEGATIVE)
Known = dict[str, list[str]]


def test_no_request_is_answered_with_a_fault_or_out_of_shape(changing_season: Store) -> None:
    load_all_checks()
    asker = Asker()
    with serving(changing_season.url) as base, requests.Session() as asker.session:
        asker.base = base
        schema = schemathesis.openapi.from_url(f"{base}/api/v1/openapi.json")
        operations = [found.ok() for found in schema.get_all_operations() if isinstance(found, Ok)]
        asker.known = dict(known_things(base))
        each = -(-LEAST // (len(operations) * len(MODES)))
        faults = [
            f"{operation.label}: {fault}"
            for operation in operations
            for mode in MODES
            for fault in asker.faults(operation, mode, each)
        ]
    assert faults == []
    assert asker.count >= LEAST


def known_things(base: str) -> Iterator[tuple[str, list[str]]]:
    """For each list, what its things go by."""
    with httpx.Client(base_url=base, timeout=30) as client:
        for address in client.get("/api/v1").json()["lists"]:
            rows = client.get(address, params={"limit": 50}).json()
            keys = [row.get("tag") or row.get("code") or row["id"] for row in rows]
            yield address.rpartition("/")[2], [str(key) for key in keys]


class Asker:
    """Sends what is made up, and keeps count."""

    base = ""
    session: requests.Session
    known: Known

    def __init__(self) -> None:
        self.count = 0
        self.dice = random.Random(2026)

    def faults(self, operation: Any, mode: GenerationMode, most: int) -> list[str]:
        """What the service promised and did not keep; nothing if all was well."""
        checks: Any = CHECKS.get_by_names(PROMISES)

        @settings(
            max_examples=most,
            derandomize=True,
            deadline=None,
            database=None,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @given(case=operation.as_strategy(generation_mode=mode))
        def ask(case: Case[Any]) -> None:
            self.count += 1
            self.settle(case)
            case.call_and_validate(base_url=self.base, session=self.session, checks=checks, timeout=60)

        return self._of(ask)

    def _of(self, ask: Callable[[], None]) -> list[str]:
        try:
            ask()
        except Unsatisfiable:
            return []  # nothing can be asked wrongly where nothing is asked
        except (Exception, BaseExceptionGroup) as fault:
            said = [str(one) for one in getattr(fault, "exceptions", (fault,))]
            return [line.replace("\n", " ")[:600] for line in said]
        return []

    def settle(self, case: Case[Any]) -> None:
        """Half of the things asked for are there, half of the versions fit, and a plan takes no time."""
        step = case.operation.path.removeprefix("/api/v1").strip("/").split("/")[0]
        there = self.known.get(step, [])
        keys: dict[str, Any] = case.path_parameters or {}
        for name in ("key", "tag"):
            if name in keys and there and self.dice.random() < 0.5:
                keys[name] = self.dice.choice(there)
        if case.headers is not None and "If-Match" in case.headers and self.dice.random() < 0.5:
            case.headers["If-Match"] = "*"
        if step == "productions" and isinstance(case.body, dict) and "effort" in case.body:
            case.body["effort"] = 0.01
            case.body["deadline_s"] = 0.2
