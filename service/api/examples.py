"""An example beside every field and parameter of the published description.

The values lie in examples.json: what the service answers over the demonstration season, put on record by
`.ci/examples`. What no answer holds there is said once in that script, by the name of the field.
"""

import json
from collections.abc import Iterator, Mapping
from importlib.resources import files
from typing import Any

Json = Any
# Fields of any shape; in examples.json under this name.
ANYWHERE = "*"
SORTS: dict[str, Any] = {
    "string": str, "integer": int, "number": (int, float), "boolean": bool, "null": (),
    "array": (),
}  # fmt: skip


def add_examples(document: Json) -> None:
    """Give each field and parameter that has no example the one on record."""
    recorded = json.loads(files("service.api").joinpath("examples.json").read_text(encoding="utf-8"))
    for owner, name, field in bare_fields(document):
        value = _first_way(field)
        if value is None:
            value = recorded.get(owner, {}).get(name, recorded[ANYWHERE].get(name))
        if value is not None:
            field["examples"] = [value]
    for shape, name, field in bare_parameters(document):
        plain = name.removesuffix("_min").removesuffix("_max")
        known = (recorded.get(shape, {}), _of_shape(document, shape), recorded[ANYWHERE])
        found = [_first_way(field), *(said.get(word) for said in known for word in (name, plain))]
        numbered = [recorded[ANYWHERE]["id"]] if name == "key" else []
        ways = [way for value in (*found, *numbered) if value is not None for way in (value, [value])]
        fitting = [way for way in ways if _fits(way, field)]
        if fitting:
            field["examples"] = fitting[:1]


def bare_fields(document: Json) -> Iterator[tuple[str, str, Json]]:
    """What has a value of its own and no example: the shape that it is of, its name, its schema."""
    for owner, shape in document["components"]["schemas"].items():
        for name, field in shape.get("properties", {}).items():
            if is_leaf(field) and "examples" not in field and "const" not in field:
                yield owner, name, field


def bare_parameters(document: Json) -> Iterator[tuple[str, str, Json]]:
    """What is asked with and has no example: the shape of the answer, its name, its schema."""
    for operations in document["paths"].values():
        for operation in operations.values():
            for parameter in operation.get("parameters", ()):
                field = parameter["schema"]
                if not {"example", "examples"} & (parameter.keys() | field.keys()):
                    yield _shape_of_answer(operation), parameter["name"], field


def is_leaf(field: Mapping[str, Json]) -> bool:
    """Whether a field holds a value itself; else it is made of parts that have examples of their own."""
    ways = [*field.get("anyOf", ()), *field.get("oneOf", ())]
    if ways:
        return any(is_leaf(way) for way in ways if way.get("type") != "null")
    if field.get("type") == "array":
        return is_leaf(field.get("items", {}))
    return not {"$ref", "contentMediaType"} & field.keys()


def _first_way(field: Mapping[str, Json]) -> Json:
    """The first of the words that a field allows, where it allows only some."""
    if "enum" in field:
        return field["enum"][0]
    for part in (field.get("items"), *field.get("anyOf", ())):
        if part and (way := _first_way(part)) is not None:
            return way
    return None


def _fits(value: Json, field: Mapping[str, Json]) -> bool:
    """Whether a value is of the field's sort; whether it keeps to all of its limits is for a test to say."""
    if "anyOf" in field:
        return any(_fits(value, way) for way in field["anyOf"])
    if isinstance(value, list):
        return field.get("type") == "array" and all(_fits(one, field.get("items", {})) for one in value)
    sort = SORTS.get(field.get("type", ""), object)
    return isinstance(value, sort) and (sort is bool) == isinstance(value, bool)


def _shape_of_answer(operation: Mapping[str, Json]) -> str:
    """Name of the shape that is answered, or of the rows where it is a list; blank if it has none."""
    for code, answer in operation["responses"].items():
        if code.startswith("2"):
            shape = answer.get("content", {}).get("application/json", {}).get("schema", {})
            return str(shape.get("items", shape).get("$ref", "")).rpartition("/")[2]
    return ""


def _of_shape(document: Json, shape: str) -> dict[str, Json]:
    fields = document["components"]["schemas"].get(shape, {}).get("properties", {})
    found = {name: field["examples"][0] for name, field in fields.items() if field.get("examples")}
    return {name: one[0] if isinstance(one, list) and one else one for name, one in found.items()}
