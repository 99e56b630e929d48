"""Changes to runs. They take a session and never commit."""

from typing import Any

from sqlalchemy.orm import Session

from service.errors import NotFound
from service.shows.records import Element
from service.shows.schemas import RunChange
from service.store.changing import held, touch


def change_run(
    session: Session, tag: str, number: int, change: RunChange, expected: frozenset[int] | None
) -> Element:
    """The element whose run was changed; its version grows with any of its runs."""
    element = held(session, Element, tag, expected)
    run = next((r for r in element.runs if r.number == number), None)
    if run is None:
        raise NotFound(f"{element.tag} has no run {number}", f"It has {len(element.runs)}, counted from 1.")
    named: dict[str, Any] = change.named()
    if "lead_m" in named:
        named["lead_um"] = named.pop("lead_m")
    for name, value in named.items():
        setattr(run, name, value)
    if session.is_modified(run):
        touch(element)
    session.flush()
    return element
