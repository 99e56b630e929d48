"""Problem details (RFC 9457) as exceptions: the class the service raised, with what its answer said."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, cast

from service.errors import RowError, ServiceError


class Refusal(ServiceError):
    """What the service refused, and why.

    It is also of the class in `service.errors` that has its code: a `not-found` is a NotFound. `status`: of
    HTTP; `detail`: what was refused; `mend`: how to put it right; `errors`: each wrong row, value or
    parameter; `findings`: what would be over a limit; `problem`: the whole answer; `is_unsure`: the request
    was sent before, its answer was lost on the way, and it may have been done then.
    """

    def __init__(self, status: int, problem: Mapping[str, Any], is_unsure: bool = False) -> None:
        detail = str(problem.get("detail") or problem.get("title") or f"refused with {status}")
        if "reference" in problem:
            detail += f" (reference {problem['reference']})"
        ServiceError.__init__(self, detail, str(problem.get("mend") or "Correct the request."))
        self.code = str(problem["code"])
        self.status, self.detail, self.problem = status, detail, dict(problem)
        self.is_unsure = is_unsure
        about = _list_of(str(problem.get("instance", "")))
        self.errors = tuple(_row_error(fault, about) for fault in _mappings(problem.get("errors")))
        self.findings = tuple(_mappings(problem.get("findings")))


def refusal(status: int, problem: Mapping[str, Any], is_unsure: bool) -> Refusal:
    """The exception for a problem; a code that `service.errors` does not know is a plain Refusal."""
    return _KINDS.get(str(problem["code"]), Refusal)(status, problem, is_unsure)


def _mappings(value: object) -> Sequence[Mapping[str, Any]]:
    return [one for one in value if isinstance(one, Mapping)] if isinstance(value, list) else []


def _row_error(fault: Mapping[str, Any], about: str) -> RowError:
    """Rows of sheets come as they are; a value is named by a JSON pointer (RFC 6901), a parameter by its
    name."""
    if "sheet" in fault:
        return RowError(*(fault.get(name) for name in ("sheet", "row", "column", "message", "mend")))  # type: ignore[arg-type]
    steps = str(fault.get("pointer", "")).removeprefix("#").removeprefix("/").split("/")
    named = ".".join(step.replace("~1", "/").replace("~0", "~") for step in steps if step)
    where = named or fault.get("parameter") or fault.get("header") or fault.get("cookie")
    return RowError(about, None, where or None, str(fault.get("detail", "")), str(fault.get("mend", "")))


def _list_of(instance: str) -> str:
    """The list that an address belongs to, in words.

    >>> _list_of("/api/v1/supply-models/S320")
    'supply models'
    """
    return instance.removeprefix("/api/v1/").partition("/")[0].replace("-", " ")


def _below(kind: type[ServiceError]) -> Iterator[type[ServiceError]]:
    for one in kind.__subclasses__():
        yield one
        yield from _below(one)


def _told(kind: type[ServiceError]) -> type[Refusal]:
    return cast(type[Refusal], type(kind.__name__, (Refusal, kind), {"__module__": __name__}))


_KINDS = {
    kind.code: _told(kind)
    for kind in list(_below(ServiceError))
    if kind.__module__ == ServiceError.__module__
}
