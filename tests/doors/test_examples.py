"""Every field and parameter that is published has an example, and the example is allowed there."""

from collections.abc import Iterator
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from service.api.examples import bare_fields, bare_parameters, is_leaf
from service.app import create_app
from service.config import Settings
from service.store import schema
from service.store.work import Store

UNITS = {
    "_w": "W", "_a": "A", "_v": "V", "_m": "m", "_mm": "mm", "_pct": "%", "_degc": "°C", "_hz": "Hz",
    "_ah": "Ah", "_wh": "Wh", "_ohm_per_m": "Ω/m", "_w_per_m": "W/m", "_mm2": "mm²",
}  # fmt: skip
WORDS = {"W": "watts", "A": "amps", "V": "volts", "m": "metres", "mm": "millimetres", "%": "percent"}


@pytest.fixture(scope="module")
def document(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    url = f"sqlite:///{tmp_path_factory.mktemp('examples') / 'empty.db'}"
    store = Store(url)
    schema.upgrade(store.engine)
    store.close()
    return create_app(Settings(database_url=url)).openapi()


def fields(document: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    for owner, shape in document["components"]["schemas"].items():
        for name, field in shape.get("properties", {}).items():
            yield f"{owner}.{name}", field
    for path, operations in document["paths"].items():
        for method, operation in operations.items():
            for parameter in operation.get("parameters", ()):
                yield f"{method} {path} {parameter['name']}", parameter["schema"]


def test_nothing_is_published_without_an_example(document: dict[str, Any]) -> None:
    assert [f"{owner}.{name}" for owner, name, _ in bare_fields(document)] == []
    assert [f"{shape}?{name}" for shape, name, _ in bare_parameters(document)] == []


def test_every_example_is_allowed_where_it_stands(document: dict[str, Any]) -> None:
    wrong, seen = [], 0
    for where, field in fields(document):
        judge = Draft202012Validator(
            {**field, "components": document["components"]},
            format_checker=Draft202012Validator.FORMAT_CHECKER,
        )
        for example in field.get("examples", ()):
            seen += 1
            wrong += [f"{where}: {fault.message}" for fault in judge.iter_errors(example)]
    assert wrong == []
    assert seen > 1_500


def test_every_figure_names_its_unit_in_words_too(document: dict[str, Any]) -> None:
    silent = []
    for owner, shape in document["components"]["schemas"].items():
        for name, field in shape.get("properties", {}).items():
            ending = next((e for e in sorted(UNITS, key=len, reverse=True) if f"_{name}".endswith(e)), None)
            if ending is None or not is_leaf(field):
                continue
            unit, said = UNITS[ending], field["description"]
            if f" {unit}" not in f" {said}".replace("(", " ") and WORDS.get(unit, unit) not in said:
                silent.append(f"{owner}.{name}: {said}")
    assert silent == []
