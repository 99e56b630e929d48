"""What is typed beside a form comes back with its fault, said once."""

import sqlite3
from contextlib import closing
from pathlib import Path

import httpx
import pytest


@pytest.mark.parametrize(
    ("act", "typed", "fault"),
    [
        ("note", {"text": "   "}, "may not be blank"),
        ("note", {"text": "w" * 401}, "At most 400"),
        ("note", {"text": "a\x07b"}, "control characters"),
        ("note", {"text": "hums", "name": "n" * 81}, "at most 80"),
        ("found", {"choice": "dim", "words": "w" * 181}, "at most 180"),
        ("found", {"choice": "dim", "words": "a\x07b"}, "control characters"),
        ("found", {"choice": "dim", "words": "hums", "name": "n" * 81}, "at most 80"),
    ],
)
def test_a_form_comes_back_with_what_was_typed(
    own_site: str, act: str, typed: dict[str, str], fault: str
) -> None:
    said = httpx.post(f"{own_site}/elements/SQ-03/{act}", data=typed)
    assert said.status_code == 422
    assert said.text.count(fault) == 1
    assert f'action="/elements/SQ-03/{act}"' in said.text
    assert all(value.strip() in said.text for value in typed.values())


def test_a_name_keeps_only_what_can_be_printed(own_site: str) -> None:
    with httpx.Client(base_url=own_site, cookies={"name": "Z%07Q%0AL%1B"}) as client:
        done = client.post("/elements/SQ-03/note", data={"text": "hums\r\nloudly"})
        assert done.status_code == 303
        (note,) = [one for one in client.get("/api/v1/notes").json() if one["text"] == "hums loudly"]
        assert 'value="ZQL"' in client.get("/wishes").text
        assert note["text"] == "hums loudly"
        assert "ZQL" in client.get("/elements/SQ-03/found").text


def test_a_name_typed_in_any_form_is_put_on_record_as_it_can_be_printed(
    own_site: str, tmp_path: Path
) -> None:
    forms = [
        ("/shelf/count", {"place": "B1"}),
        ("/shelf/out", {"show": "SQ", "tags": "PS-41"}),
        ("/shelf/back", {"tags": "PS-41"}),
        ("/batteries/BT-11/swaps/BT-03", {"choice": "swollen", "show": "SQ"}),
        ("/cutting", {"productions": "TL"}),
    ]
    for number, (path, said) in enumerate(forms):
        done = httpx.post(own_site + path, data=said | {"name": f" {number}Z\x07Q\nL\x1b"}, timeout=60)
        assert done.status_code == 303, (path, done.text)
        assert f"name={number}ZQL;" in done.headers["set-cookie"]
    with closing(sqlite3.connect(tmp_path / "season.db")) as store:
        names = {name for (name,) in store.execute("SELECT by FROM audit")}
    assert {f"{number}ZQL" for number in range(len(forms))} <= names
    assert [name for name in names if not name.isprintable()] == []
