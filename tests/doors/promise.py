"""What the API promises, cut down to what a program relies on, and what would break such a program."""

import json
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

STORED = Path(__file__).with_name("promise.json")
WORDS = frozenset({"description", "summary", "title", "examples", "example", "tags", "operationId", "info"})
METHODS = ("get", "post", "put", "patch", "delete")
Json = Any


def promise_of(document: Mapping[str, Json]) -> Json:
    """The published document without words: a better sentence breaks nothing."""
    return _wordless({name: document[name] for name in ("openapi", "paths", "components")})


def _wordless(value: Json, is_names: bool = False) -> Json:
    """`is_names`: the keys here are names of fields, one of which may well be `title`."""
    if isinstance(value, list):
        return [_wordless(one) for one in value]
    if not isinstance(value, Mapping):
        return value
    return {
        name: _wordless(one, name in {"properties", "paths", "schemas"} and not is_names)
        for name, one in value.items()
        if is_names or name not in WORDS
    }


def stored() -> Json:
    return json.loads(STORED.read_text(encoding="utf-8"))


def breaks(old: Json, new: Json) -> list[str]:
    """What a program written against `old` could do that `new` does not let it, one line each."""
    return [line for path in old["paths"] for line in _of_path(path, old, new)]


def _of_path(path: str, old: Json, new: Json) -> Iterator[str]:
    now = new["paths"].get(path)
    if now is None:
        yield f"{path}: gone"
        return
    for method in METHODS:
        if method not in old["paths"][path]:
            continue
        if method not in now:
            yield f"{method.upper()} {path}: gone"
            continue
        both = _Both(old, new)
        for line in both.operation(old["paths"][path][method], now[method]):
            yield f"{method.upper()} {path}: {line}"


class _Both:
    """Two documents whose parts are set against each other, references followed."""

    def __init__(self, old: Json, new: Json) -> None:
        self.old, self.new = old, new
        self.seen: set[tuple[str, str, str]] = set()

    def operation(self, old: Json, new: Json) -> Iterator[str]:
        yield from self.parameters(old.get("parameters", []), new.get("parameters", []))
        yield from self.body(old.get("requestBody"), new.get("requestBody"))
        for status, answer in old["responses"].items():
            now = new["responses"].get(status)
            if now is None:
                yield f"no answer {status} any more"
                continue
            for kind, said in answer.get("content", {}).items():
                if kind not in now.get("content", {}):
                    yield f"answer {status} is no {kind} any more"
                else:
                    there = now["content"][kind]
                    yield from self.answered(
                        said.get("schema", {}), there.get("schema", {}), f"answer {status}"
                    )

    def parameters(self, old: Json, new: Json) -> Iterator[str]:
        before, after = ({(p["in"], p["name"]): p for p in ps} for ps in (old, new))
        for key, was in before.items():
            if key not in after:
                yield f"parameter {key[1]} gone"
            else:
                yield from self.taken(was["schema"], after[key]["schema"], f"parameter {key[1]}")
                if after[key].get("required") and not was.get("required"):
                    yield f"parameter {key[1]} must be given now"
        for key, now in after.items():
            if key not in before and now.get("required"):
                yield f"parameter {key[1]} is new and must be given"

    def body(self, old: Json, new: Json) -> Iterator[str]:
        if old is None:
            if new is not None and new.get("required"):
                yield "a body must be given now"
            return
        if new is None:
            yield "takes no body any more"
            return
        for kind, was in old["content"].items():
            if kind not in new["content"]:
                yield f"takes no {kind} any more"
            else:
                yield from self.taken(was["schema"], new["content"][kind]["schema"], "body")

    # -- what is taken may only widen ---------------------------------------------------------------

    def taken(self, old: Json, new: Json, where: str) -> Iterator[str]:
        old, new, is_known = self._resolved("taken", old, new)
        if is_known:
            return
        yield from self._kinds(_alternatives(old), _alternatives(new), where, "is not taken any more")
        yield from _narrower(old, new, where)
        for name in set(new.get("required", ())) - set(old.get("required", ())):
            yield f"{where}.{name} must be given now"
        for name, was in old.get("properties", {}).items():
            if name in new.get("properties", {}):
                yield from self.taken(was, new["properties"][name], f"{where}.{name}")
            elif new.get("additionalProperties") is False:
                yield f"{where}.{name} gone"
        if "items" in old and "items" in new:
            yield from self.taken(old["items"], new["items"], f"{where}[]")

    # -- what is answered may only be more ----------------------------------------------------------

    def answered(self, old: Json, new: Json, where: str) -> Iterator[str]:
        old, new, is_known = self._resolved("answered", old, new)
        if is_known:
            return
        yield from self._kinds(_alternatives(new), _alternatives(old), where, "may be answered now")
        for name, was in old.get("properties", {}).items():
            if name not in new.get("properties", {}):
                yield f"{where}.{name} gone"
            else:
                yield from self.answered(was, new["properties"][name], f"{where}.{name}")
        for name in set(old.get("required", ())) - set(new.get("required", ())):
            if name in new.get("properties", {}):
                yield f"{where}.{name} may be left out now"
        if "items" in old and "items" in new:
            yield from self.answered(old["items"], new["items"], f"{where}[]")

    def _kinds(self, has: set[str], wide: set[str], where: str, said: str) -> Iterator[str]:
        if "any" not in wide:
            for kind in sorted(has - wide - ({"integer"} if "number" in wide else set())):
                yield f"{where}: {kind} {said}"

    def _resolved(self, how: str, old: Json, new: Json) -> tuple[Json, Json, bool]:
        """Both with their references followed; whether that pair was set against each other before."""
        pair = (how, old.get("$ref", ""), new.get("$ref", ""))
        is_known = bool(pair[1] and pair[2]) and pair in self.seen
        self.seen.add(pair)
        return _follow(self.old, old), _follow(self.new, new), is_known


def _follow(document: Json, schema: Json) -> Json:
    while "$ref" in schema:
        found: Json = document
        for step in schema["$ref"].removeprefix("#/").split("/"):
            found = found[step]
        schema = found
    return schema


def _alternatives(schema: Json) -> set[str]:
    """The JSON types a schema lets through."""
    if "anyOf" in schema or "oneOf" in schema:
        return {kind for one in schema.get("anyOf", schema.get("oneOf")) for kind in _alternatives(one)}
    if "$ref" in schema:
        return {"object"}
    kind = schema.get("type", "any")
    return set(kind) if isinstance(kind, list) else {kind}


def _narrower(old: Json, new: Json, where: str) -> Iterator[str]:
    """Choices and ranges that got smaller."""
    if "enum" in new:
        for gone in [one for one in old.get("enum", ()) if one not in new["enum"]]:
            yield f"{where}: {gone!r} is not taken any more"
    for name, is_worse in _ENDS.items():
        if name in new and (name not in old or is_worse(old[name], new[name])):
            yield f"{where}: {name} is {new[name]} now"


_ENDS: Mapping[str, Callable[[float, float], bool]] = {
    "minimum": lambda was, now: now > was,
    "exclusiveMinimum": lambda was, now: now > was,
    "minLength": lambda was, now: now > was,
    "minItems": lambda was, now: now > was,
    "maximum": lambda was, now: now < was,
    "exclusiveMaximum": lambda was, now: now < was,
    "maxLength": lambda was, now: now < was,
    "maxItems": lambda was, now: now < was,
}
