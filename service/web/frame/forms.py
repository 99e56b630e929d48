"""Forms: what was typed, read as what a room asks for, and shown again where it was refused."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, TypeVar

from fastapi import Depends, Request
from pydantic import BaseModel, ValidationError

from service.errors import BadValues, RefusedTags, RowError, ServiceError
from service.web.frame.faults import in_words
from service.web.frame.pages import status_of

LONGEST = 4_000  # characters of one field: a scanner may type many tags into it
M = TypeVar("M", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a form was not taken. `faults`: by the name of the field; `loose`: what belongs to none of them."""

    error: ServiceError
    faults: Mapping[str, str] = field(default_factory=dict)
    loose: tuple[RowError, ...] = ()

    @property
    def status(self) -> int:
        return status_of(self.error)


def refused(error: ServiceError, *fields: str) -> Refusal:
    """What is shown beside the fields of a form, and above it."""
    rows = error.errors if isinstance(error, BadValues | RefusedTags) else ()
    own = [row for row in rows if row.column in fields]
    faults = {str(row.column): f"{row.message}. {row.mend}" for row in own}
    return Refusal(error, faults, tuple(row for row in rows if row not in own))


def asked(model: type[M], **typed: Any) -> M:
    """What was typed, as the room takes it; what was left blank is left to its default. Raises BadValues."""
    try:
        return model.model_validate({key: value for key, value in typed.items() if value not in ("", None)})
    except ValidationError as error:
        refusal = BadValues([_fault(fault) for fault in error.errors()])
        # Each names its field already, and in words.
        refusal.message = "; ".join(row.message for row in refusal.errors)
        raise refusal from None


def _fault(fault: Mapping[str, Any]) -> RowError:
    name = str(fault["loc"][0]) if fault["loc"] else ""
    return RowError("", None, name, *in_words(fault, name))


async def _typed(request: Request) -> dict[str, str]:
    form = await request.form()
    return {
        name: value.replace("\x00", "").strip()[:LONGEST]
        for name, value in form.items()
        if isinstance(value, str)
    }


Typed = Annotated[dict[str, str], Depends(_typed)]


def tags_in(text: str) -> list[str]:
    """Tags as a scanner types them one after another, or a person with blanks, commas or lines between.

    >>> tags_in(" PS-11, dc-09\\nPS-12 ")
    ['PS-11', 'dc-09', 'PS-12']
    """
    return text.replace(",", " ").replace(";", " ").split()
