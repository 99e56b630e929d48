"""What a page says was done is so; what is said twice is written down once."""

import re

import httpx
import pytest


@pytest.mark.parametrize(
    "address",
    [
        "/productions/SQ?kept=999",
        "/productions/SQ?done=Everything%20is%20fine",
        "/productions/SQ?%64one=Everything%20is%20fine",
        "/shelf/out?undone=GHOST",
        "/elements/SQ-09?done=GHOST",
    ],
)
def test_an_address_alone_says_nothing_was_done(site: str, address: str) -> None:
    said = httpx.get(site + address)
    assert said.status_code == 200
    assert 'class="note done"' not in said.text
    assert "GHOST" not in said.text


def test_what_was_done_is_told_to_the_one_who_did_it(own_site: str) -> None:
    with httpx.Client(base_url=own_site, follow_redirects=True) as client:
        told = client.post("/elements/SQ-09/found", data={"choice": "out", "words": "smells"})
        assert 'class="note done"' in told.text
        assert "done=" in str(told.url)
        assert 'class="note done"' not in httpx.get(told.url).text


def test_found_twice_is_written_down_once_and_new_words_become_a_note(own_site: str) -> None:
    with httpx.Client(base_url=own_site, follow_redirects=True) as client:
        client.post("/elements/SQ-09/found", data={"choice": "out", "words": "smells"})
        again = client.post("/elements/SQ-09/found", data={"choice": "out", "words": "smells"})
        assert again.status_code == 200
        assert "written down already" in again.text
        assert "despite" not in again.text
        other = client.post("/elements/SQ-09/found", data={"choice": "flicker", "words": "only in scene two"})
        assert "written down already" in other.text
        assert "only in scene two" in other.text
        text = "It flickers; only in scene two"
        kept = client.post("/elements/SQ-09/note", data={"text": text})
        assert kept.status_code == 200
        notes = client.get("/api/v1/notes", params={"about": "SQ-09"}).json()
        assert [note["text"] for note in notes].count(text) == 1
        assert f"Note: {text}" in kept.text
        assert re.search(rf"Note N-\d+: {text}", kept.text)
        faults = [one for one in client.get("/api/v1/faults").json() if one["element"] == "SQ-09"]
        assert len([one for one in faults if one["mended_on"] is None]) == 1


def test_a_note_that_is_sent_twice_is_one_note(own_site: str) -> None:
    with httpx.Client(base_url=own_site) as client:
        for sent in (
            {"text": "hums", "name": "Ada"},
            {"text": " hums  ", "name": "Ada"},
            {"text": "hums", "name": "Ben"},
            {"text": "hums loudly", "name": "Ada"},
        ):
            assert client.post("/elements/SQ-09/note", data=sent).headers["location"].endswith("?done=note")
        notes = client.get("/api/v1/notes", params={"about": "SQ-09"}).json()
    said = [(one["text"], one["written_by"]) for one in notes]
    assert [said.count(one) for one in (("hums", "Ada"), ("hums", "Ben"), ("hums loudly", "Ada"))] == [
        1,
        1,
        1,
    ]


def test_works_twice_is_no_fault(own_site: str) -> None:
    with httpx.Client(base_url=own_site, follow_redirects=True) as client:
        client.post("/elements/SQ-09/found", data={"choice": "out"})
        for _ in range(2):
            said = client.post("/elements/SQ-09/works")
            assert said.status_code == 200
            assert "despite" not in said.text
