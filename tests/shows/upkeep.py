"""Builders for what is fitted, found, measured, noted and asked for; as those of tests/builders.py."""

import hashlib
from datetime import UTC, date, datetime
from typing import Any, TypeVar

from sqlalchemy.orm import Session

from service.season.records import Production, Season
from service.shows.faults import BenchTest, Fault
from service.shows.fittings import ControlLine, Fuse
from service.shows.records import Element
from service.shows.upkeep import Note, WorkOrder
from service.stock.attachments import Attachment, AttachmentBody
from service.stock.fittings import Connector
from service.stock.people import Person
from service.store.base import tag_key

T = TypeVar("T")
PHOTO = b"\x89PNG\r\n\x1a\n" + b"pixels"  # the first bytes of every PNG file (ISO/IEC 15948)


def _stored(session: Session, thing: T) -> T:
    session.add(thing)
    session.flush()
    return thing


def a_connector(session: Session, **given: Any) -> Connector:
    plain = {"tag": "XC4", "family": "four-pin circular", "pins": 4, "a_per_pin": 7.5, "gender": "pins"}
    return _stored(session, Connector(**plain | given))


def a_person(session: Session, **given: Any) -> Person:
    return _stored(session, Person(**{"name": "Ada", "role": "chief electrician"} | given))


def a_season(session: Session, **given: Any) -> Season:
    plain = {"name": "Winter", "from_on": date(2026, 9, 1), "until_on": date(2027, 4, 1)}
    return _stored(session, Season(**plain | given))


def an_attachment(session: Session, about: str, body: bytes = PHOTO, **given: Any) -> Attachment:
    plain = {
        "about_key": tag_key(about),
        "file_name": "window.png",
        "media_type": "image/png",
        "size_bytes": len(body),
        "sha256": hashlib.sha256(body).hexdigest(),
        "caption": "from the house",
    }
    kept = _stored(session, Attachment(**plain | given))
    _stored(session, AttachmentBody(attachment_id=kept.id, body=body))
    return kept


def a_fuse(session: Session, **given: Any) -> Fuse:
    """5 A in the lead of `run_id=` or on the unit `unit_id=`."""
    return _stored(
        session, Fuse(**{"rating_a": 5.0, "kind": "blade", "fitted_on": date(2026, 10, 12)} | given)
    )


def a_control_line(session: Session, production: Production, **given: Any) -> ControlLine:
    return _stored(
        session, ControlLine(**{"name": "line 1", "universe": 1} | given, production_id=production.id)
    )


def a_fault(session: Session, **given: Any) -> Fault:
    """Open, about `element_id=` or `unit_id=`."""
    return _stored(session, Fault(**{"found_on": date(2026, 11, 20), "symptom": "no light"} | given))


def a_bench_test(session: Session, element: Element | None = None, **given: Any) -> BenchTest:
    """A passed one, about the element or `unit_id=`."""
    plain: dict[str, Any] = {
        "tested_on": date(2026, 11, 2),
        "tested_by": "Ada",
        "passed": True,
        "hours_at_full": 2.0,
        "element_id": element.id if element else None,
        "tape_id": element.tape_id if element else None,
    }
    return _stored(session, BenchTest(**plain | given))


def a_note(session: Session, about: str, **given: Any) -> Note:
    plain = {"text": "warmer, please", "written_by": "Ada", "written_at": datetime(2026, 11, 20, tzinfo=UTC)}
    return _stored(session, Note(**plain | given, about_key=tag_key(about)))


def a_work_order(session: Session, **given: Any) -> WorkOrder:
    return _stored(session, WorkOrder(**{"what": "new lead", "asked_on": date(2026, 11, 20)} | given))
