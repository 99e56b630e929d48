"""What the API has promised it keeps: the stored promise and the service of today are set side by side."""

import copy
from collections.abc import Callable
from typing import Any

import pytest

from service.app import create_app
from service.config import Settings
from service.store import schema
from service.store.work import Store
from tests.doors.promise import breaks, promise_of, stored


@pytest.fixture(scope="module")
def document(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    url = f"sqlite:///{tmp_path_factory.mktemp('promise') / 'empty.db'}"
    store = Store(url)
    schema.upgrade(store.engine)
    store.close()
    return create_app(Settings(database_url=url)).openapi()


def test_nothing_that_was_promised_is_gone(document: dict[str, Any]) -> None:
    """A program written against the stored promise still works. See *Deprecation* in README.md."""
    assert breaks(stored(), promise_of(document)) == []


def test_the_stored_promise_is_the_whole_of_it(document: dict[str, Any]) -> None:
    """What is new is promised from now on: put it on record with .ci/promise."""
    assert stored() == promise_of(document)


def test_every_field_and_parameter_says_what_it_is(document: dict[str, Any]) -> None:
    wordless = [
        f"{name}.{field}"
        for name, one in document["components"]["schemas"].items()
        for field, said in one.get("properties", {}).items()
        if not said.get("description") and not name.startswith(("Body_", "HTTPValidation", "ValidationError"))
    ]
    for path, methods in document["paths"].items():
        for method, one in methods.items():
            wordless += [f"{method} {path}: no summary"] * (not one.get("summary"))
            wordless += [
                f"{method} {path}: {p['name']}" for p in one.get("parameters", []) if not p.get("description")
            ]
    assert wordless == []


def _drop(document: Any, *steps: str) -> None:
    for step in steps[:-1]:
        document = document[step]
    del document[steps[-1]]


def _schema(document: Any, name: str) -> Any:
    return document["components"]["schemas"][name]


CHANGES: list[tuple[str, Callable[[Any], object], str]] = [
    ("a path", lambda d: _drop(d, "paths", "/api/v1/supplies"), "/api/v1/supplies: gone"),
    ("a method", lambda d: _drop(d, "paths", "/api/v1/supplies", "post"), "POST /api/v1/supplies: gone"),
    (
        "an answered field",
        lambda d: _drop(d, "components", "schemas", "Supply", "properties", "state"),
        "answer 200.state gone",
    ),
    (
        "a taken field",
        lambda d: _drop(d, "components", "schemas", "NewSupply", "properties", "home"),
        "body.home gone",
    ),
    (
        "a field that must be given",
        lambda d: _schema(d, "NewSupply")["required"].append("home"),
        "body.home must be given now",
    ),
    (
        "a choice",
        lambda d: _schema(d, "NewVenue")["properties"]["mains_v"]["anyOf"].pop(),
        "body.mains_v: string is not taken any more",
    ),
]


@pytest.mark.parametrize(("what", "change", "said"), CHANGES, ids=[what for what, *_ in CHANGES])
def test_what_would_break_a_program_is_told(
    document: dict[str, Any], what: str, change: Callable[[Any], object], said: str
) -> None:
    old = promise_of(document)
    new = copy.deepcopy(old)
    change(new)
    assert any(line.endswith(said) for line in breaks(old, new)), breaks(old, new)
    # The other way round it is an addition, and additions break nothing, but for what must be given less.
    assert not any(line.endswith("gone") for line in breaks(new, old)), what
