"""Photos and documents put to things and taken away again. They take a session and never commit."""

import hashlib
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import EmptyFile, FileTooLarge, NotFound, WrongFileKind
from service.stock.attachments import Attachment, AttachmentBody
from service.stock.media import KEPT, PLAIN, SHEET, media_type
from service.store.base import TagEntry, tag_key
from service.store.changing import refuse_stale
from service.store.listing import Asker

LONGEST_NAME = 200
NO_TEXT = (".jpg", ".jpeg", ".png", ".webp", ".pdf")


@dataclass(frozen=True, slots=True)
class Sent:
    """A file as it was sent, and what was said of it."""

    name: str
    body: bytes
    caption: str = ""
    taken_on: date | None = None


@dataclass(frozen=True, slots=True)
class Kept:
    """What is kept of an attachment; `sha256` of the body in small hexadecimal digits."""

    file_name: str
    media_type: str
    sha256: str
    body: bytes


def attach(session: Session, about: str, sent: Sent, by: str, largest_bytes: int) -> tuple[int, bool]:
    """The number of the attachment and whether it is new: the same file on the same thing is kept once.

    Raises NotFound, EmptyFile, FileTooLarge, WrongFileKind.
    """
    kind = told_kind(sent, largest_bytes)
    # Held, so that the same file sent twice at once is kept once.
    thing = session.scalars(
        select(TagEntry).where(TagEntry.key == tag_key(about)).with_for_update()
    ).one_or_none()
    if thing is None:
        raise NotFound(f"nothing has the tag {about}", "Read the label again, or look for it in the lists.")
    digest = hashlib.sha256(sent.body).hexdigest()
    there = session.scalars(
        select(Attachment.id).where(Attachment.about_key == thing.key, Attachment.sha256 == digest)
    ).one_or_none()
    if there is not None:
        return there, False
    new = Attachment(
        about_key=thing.key,
        file_name=plain_name(sent.name),
        media_type=kind,
        size_bytes=len(sent.body),
        sha256=digest,
        taken_on=sent.taken_on,
        added_by=by,
        caption=sent.caption,
    )
    session.add(new)
    session.flush()
    session.add(AttachmentBody(attachment_id=new.id, body=sent.body))
    session.flush()
    return new.id, True


def told_kind(sent: Sent, largest_bytes: int) -> str:
    """The media type of a file that may be kept."""
    if not sent.body:
        raise EmptyFile(f"{plain_name(sent.name)} is empty", "Send the file itself.")
    if len(sent.body) > largest_bytes:
        raise FileTooLarge(
            f"{plain_name(sent.name)} has {len(sent.body)} bytes; {largest_bytes} are taken",
            "Send a smaller picture, or only the pages that matter.",
        )
    kind = media_type(sent.body)
    if kind is None:
        raise WrongFileKind(
            f"{plain_name(sent.name)} is, by what is in it, of a kind that is not kept",
            f"These are kept: {', '.join(KEPT)}.",
        )
    if kind in (PLAIN, SHEET) and plain_name(sent.name).lower().endswith(NO_TEXT):
        raise WrongFileKind(
            f"{plain_name(sent.name)} holds text, whatever its name says",
            "Send the picture or paper itself, or give the text a name of its own.",
        )
    return kind


def plain_name(name: str) -> str:
    """The last part of a path, without what cannot be printed.

    >>> plain_name("C:\\\\photos\\\\attic.jpg"), plain_name("../a/b.pdf"), plain_name("")
    ('attic.jpg', 'b.pdf', 'file')
    """
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(letter for letter in last if letter.isprintable()).strip(" .")[:LONGEST_NAME] or "file"


def body_of(asker: Asker, number: int) -> Kept:
    """The file itself. Raises NotFound."""
    found = asker.execute(
        select(Attachment.file_name, Attachment.media_type, Attachment.sha256, AttachmentBody.body)
        .join(AttachmentBody, AttachmentBody.attachment_id == Attachment.id)
        .where(Attachment.id == number)
    ).one_or_none()
    if found is None:
        raise _no_attachment(number)
    return Kept(*found)


def sha256_of(asker: Asker, number: int) -> str:
    """What names the file's content, without reading it. Raises NotFound."""
    found: str | None = asker.execute(select(Attachment.sha256).where(Attachment.id == number)).scalar()
    if found is None:
        raise _no_attachment(number)
    return found


def take_away(session: Session, number: int, expected: frozenset[int] | None) -> None:
    """Neither the file nor what was said of it is kept any longer; that it was there stays on record.
    Raises NotFound, Stale."""
    thing = session.scalars(select(Attachment).where(Attachment.id == number).with_for_update()).one_or_none()
    if thing is None:
        raise _no_attachment(number)
    refuse_stale(f"attachment {number}", thing.version, expected)
    session.delete(session.get_one(AttachmentBody, number))
    session.flush()
    session.delete(thing)
    session.flush()


def _no_attachment(number: int) -> NotFound:
    return NotFound(f"there is no attachment {number}", "See the list at /api/v1/attachments.")
