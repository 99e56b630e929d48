"""Photos and documents put to things: told by what is in them, kept once, handed out to be kept."""

import hashlib
from typing import Any

import httpx
import pytest
from sqlalchemy import func, select

from service.stock.attachments import AttachmentBody
from service.store.audit import AuditEntry
from tests.api.conftest import Service
from tests.shows.upkeep import PHOTO

pytestmark = pytest.mark.usefixtures("house")
PDF = b"%PDF-1.7\n%\xe2\xe3\n1 0 obj"
WEBP = b"RIFF\x24\x00\x00\x00WEBPVP8 " + bytes(30)
JPEG = b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01" + bytes(20)


def sent(
    service: Service, body: bytes, name: str = "attic.png", about: str = "sq-1", key: str = "", **said: str
) -> httpx.Response:
    headers = {"X-By": "Ada"} | ({"Idempotency-Key": key} if key else {})
    form = {"about": about} | said
    return service.client.post(
        "/api/v1/attachments", files={"file": (name, body)}, data=form, headers=headers
    )


def bodies(service: Service) -> int:
    with service.store.reading() as session:
        return session.scalar(select(func.count()).select_from(AttachmentBody)) or 0


def test_a_photo_is_kept_with_what_was_said_of_it_and_given_back_as_it_came(service: Service) -> None:
    answer = sent(service, PHOTO, caption=" the attic ", taken_on="2026-11-20")
    assert answer.status_code == 201
    row = answer.json()
    assert answer.headers["Location"] == f"/api/v1/attachments/{row['id']}"
    assert (row["about"], row["about_kind"], row["file_name"]) == ("SQ-1", "element", "attic.png")
    assert (row["media_type"], row["size_bytes"]) == ("image/png", len(PHOTO))
    assert (row["caption"], row["taken_on"], row["added_by"]) == ("the attic", "2026-11-20", "Ada")
    assert row["sha256"] == hashlib.sha256(PHOTO).hexdigest()
    assert service.get(f"/attachments/{row['id']}").json() == row
    assert service.get("/attachments?about=SQ-1").json() == [row]

    file = service.get(f"/attachments/{row['id']}/file")
    assert file.content == PHOTO
    assert file.headers["Content-Type"] == "image/png"
    assert file.headers["ETag"] == f'"{row["sha256"]}"'


def test_a_file_is_handed_out_to_be_kept_and_never_run(service: Service) -> None:
    number = sent(service, b"just words", 'h\u00f6he "1".html').json()["id"]
    headers = service.get(f"/attachments/{number}/file").headers
    assert headers["Content-Type"] == "text/plain; charset=utf-8"
    assert headers["Content-Disposition"].startswith("attachment; ")
    assert "filename*=UTF-8''h%C3%B6he" in headers["Content-Disposition"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in headers["Content-Security-Policy"]


def test_a_file_that_is_known_is_not_sent_again(service: Service) -> None:
    row = sent(service, PHOTO).json()
    tag = f'"{row["sha256"]}"'
    again = service.get(f"/attachments/{row['id']}/file", If_None_Match=tag)
    assert (again.status_code, again.content, again.headers["ETag"]) == (304, b"", tag)


@pytest.mark.parametrize(
    ("body", "kind"),
    [(PHOTO, "image/png"), (JPEG, "image/jpeg"), (WEBP, "image/webp"), (PDF, "application/pdf"),
     ("Höhe 3 m".encode(), "text/plain"), (b"a;b\n1;2\n", "text/csv"), (b"one, two", "text/plain")],
)  # fmt: skip
def test_the_kind_is_told_by_what_is_in_it_and_not_by_its_name(
    service: Service, body: bytes, kind: str
) -> None:
    assert sent(service, body, "photo.exe").json()["media_type"] == kind


@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        (b"", 422, "empty-file"),
        (b"a" * 8_000_001, 413, "file-too-large"),
        (b"<!doctype html><script>alert(1)</script>", 415, "wrong-file-kind"),
        (b"  <svg xmlns='http://www.w3.org/2000/svg'/>", 415, "wrong-file-kind"),
        (b"GIF89a" + bytes(20), 415, "wrong-file-kind"),
        (b"PK\x03\x04" + bytes(40), 415, "wrong-file-kind"),
        (b"MZ" + bytes(60), 415, "wrong-file-kind"),
        (b"words\x00more", 415, "wrong-file-kind"),
        (b"RIFF\x24\x00\x00\x00WAVEfmt " + bytes(30), 415, "wrong-file-kind"),
    ],
    ids=["empty", "large", "html", "svg", "gif", "zip", "program", "nul", "sound"],
)
def test_what_is_not_kept_is_refused_by_name(service: Service, body: bytes, status: int, code: str) -> None:
    answer = sent(service, body)
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert answer.json()["mend"]
    assert bodies(service) == 0


@pytest.mark.parametrize("name", ["a.jpg", "A.JPEG", "a.png", "a.webp", "plan.pdf"])
def test_text_under_the_name_of_a_picture_or_paper_is_no_photo(service: Service, name: str) -> None:
    answer = sent(service, b"this is not a picture", name)
    assert (answer.status_code, answer.json()["code"]) == (415, "wrong-file-kind")
    assert answer.json()["detail"] == f"{name} holds text, whatever its name says"
    assert bodies(service) == 0
    assert sent(service, b"this is not a picture", "a.txt").status_code == 201


def test_exactly_the_largest_size_is_kept(service: Service) -> None:
    assert sent(service, b"a" * 8_000_000, "long.txt").status_code == 201


def test_a_file_about_nothing_is_refused(service: Service) -> None:
    answer = sent(service, PHOTO, about="SQ-99")
    assert (answer.status_code, answer.json()["code"]) == (404, "not-found")
    assert bodies(service) == 0


def test_the_same_file_on_the_same_thing_is_kept_once(service: Service) -> None:
    first = sent(service, PHOTO, caption="one")
    second = sent(service, PHOTO, "other.png", caption="two")
    assert (second.status_code, second.json()) == (200, first.json())
    assert second.headers["Location"] == first.headers["Location"]
    assert sent(service, PHOTO, about="win").status_code == 201
    assert bodies(service) == 2


def test_a_repeat_with_the_same_key_is_answered_as_the_first(service: Service) -> None:
    first = sent(service, PHOTO, key="photo-1")
    again = sent(service, PHOTO, key="photo-1")
    assert (again.status_code, again.json()) == (201, first.json())
    assert again.headers["Idempotency-Replayed"] == "true"
    other = sent(service, PDF, key="photo-1")
    assert other.json()["code"] == "key-reused"
    assert bodies(service) == 1


def test_what_is_taken_away_is_gone_and_stays_on_record(service: Service) -> None:
    row = sent(service, PHOTO).json()
    address = f"/api/v1/attachments/{row['id']}"
    assert service.client.delete(address).status_code == 428
    assert service.client.delete(address, headers={"If-Match": '"9"'}).status_code == 412
    gone = service.client.delete(address, headers={"If-Match": '"1"'})
    assert (gone.status_code, gone.json()) == (200, row)
    for path in (address, f"{address}/file"):
        assert service.client.get(path).status_code == 404
    assert service.client.delete(address, headers={"If-Match": "*"}).status_code == 404
    assert bodies(service) == 0
    with service.store.reading() as session:
        kept = select(AuditEntry.what).where(AuditEntry.kind == "attachments").order_by(AuditEntry.id)
        kinds = session.scalars(kept).all()
    assert kinds == ["made", "removed"]


@pytest.mark.parametrize(
    ("form", "named"),
    [
        ({"about": "SQ-1", "captoin": "x"}, "#/captoin"),
        ({"about": "SQ-1", "taken_on": "20/11/2026"}, "#/taken_on"),
        ({"about": " "}, "#/about"),
        ({}, "#/about"),
        ({"about": "SQ-1", "caption": "x" * 401}, "#/caption"),
        ({"about": "SQ-1", "caption": "a\x00b"}, "#/caption"),
    ],
)
def test_a_form_that_cannot_be_read_is_pointed_at(service: Service, form: dict[str, Any], named: str) -> None:
    answer = service.client.post("/api/v1/attachments", files={"file": ("a.png", PHOTO)}, data=form)
    assert answer.status_code == 422
    assert [fault["pointer"] for fault in answer.json()["errors"]] == [named]


def test_a_photo_is_sent_as_a_form(service: Service) -> None:
    assert service.client.post("/api/v1/attachments", content=PHOTO).status_code == 415
