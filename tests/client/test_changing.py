"""Things made, changed and taken out of use, each once and on the version meant."""

from datetime import date
from pathlib import Path

import pytest

from service.client import Refusal, Wattwright
from service.errors import (
    AlreadyExists,
    BadRequest,
    BadValues,
    InUse,
    NotFound,
    Stale,
    StepRefused,
    Unreachable,
)
from tests.api.conftest import Service
from tests.client.proxy import LOST, PASS, SILENT, UNANSWERED, Line

pytestmark = pytest.mark.usefixtures("house")
LOSSES = [LOST, UNANSWERED]


def made_since(service: Service, mark: int) -> list[tuple[str, str, str]]:
    rows = service.get("/history?limit=200").json()
    return [(row["what"], row["kind"], row["tag"]) for row in rows if row["id"] > mark]


def last_change(service: Service) -> int:
    return int(service.get("/history?limit=200").json()[-1]["id"])


def test_a_thing_is_made_and_comes_back_with_its_etag(service: Service, wattwright: Wattwright) -> None:
    row, etag = wattwright.create("supplies", {"tag": "PS-9", "model": "S320"})
    assert (row["tag"], row["model"], etag) == ("PS-9", "S320", '"1"')
    assert wattwright.get("supplies", "ps-9") == (row, etag)
    assert service.get("/supplies/PS-9/history").json()[0]["by"] == "night crew"


def test_days_go_as_text(wattwright: Wattwright) -> None:
    values = {"tag": "PS-9", "model": "S320", "last_tested_on": date(2026, 10, 1)}
    assert wattwright.create("supplies", values).row["last_tested_on"] == "2026-10-01"


@pytest.mark.parametrize("loss", LOSSES)
def test_a_thing_whose_answer_was_lost_is_made_once(
    service: Service, line: Line, over_the_line: Wattwright, loss: str
) -> None:
    """The same key goes with it each time, so the service knows it again."""
    before = last_change(service)
    line.breaks(loss, loss)
    row, _ = over_the_line.create("supplies", {"tag": "PS-9", "model": "S320"})
    assert row["tag"] == "PS-9"
    assert len(line.seen) == 3
    assert len({request.headers["idempotency-key"] for request in line.seen}) == 1
    assert len({request.body for request in line.seen}) == 1
    made = [one for one in made_since(service, before) if one[2] == "PS-9"]
    assert made == [("made", "units", "PS-9")]


def test_two_things_made_one_after_the_other_go_under_two_keys(line: Line, over_the_line: Wattwright) -> None:
    for tag in ("PS-8", "PS-9"):
        over_the_line.create("supplies", {"tag": tag, "model": "S320"})
    first, second = line.seen
    assert first.headers["idempotency-key"] != second.headers["idempotency-key"]


def test_a_used_tag_and_a_wrong_value_are_refused_as_the_house_refuses_them(wattwright: Wattwright) -> None:
    with pytest.raises(AlreadyExists) as used:
        wattwright.create("supplies", {"tag": "ps-1", "model": "S320"})
    assert used.value.mend
    with pytest.raises(BadValues) as wrong:
        wattwright.create("supplies", {"tag": "PS-9", "model": "S321"})
    assert isinstance(wrong.value, Refusal)
    assert (wrong.value.status, wrong.value.code) == (422, "bad-values")
    assert [(e.sheet, e.column) for e in wrong.value.errors] == [("supplies", "model")]


def test_a_change_reads_the_etag_it_needs(wattwright: Wattwright) -> None:
    row, etag = wattwright.change("elements", "sq-1", {"name": "attic"})
    assert (row["name"], etag) == ("attic", '"2"')


def test_a_change_meant_for_a_version_gone_by_is_refused(wattwright: Wattwright) -> None:
    _, read = wattwright.get("elements", "SQ-1")
    wattwright.change("elements", "SQ-1", {"name": "somebody else's"})
    with pytest.raises(Stale) as refused:
        wattwright.change("elements", "SQ-1", {"name": "attic"}, if_match=read)
    assert isinstance(refused.value, Refusal)
    assert (refused.value.status, refused.value.is_unsure) == (412, False)
    assert wattwright.get("elements", "SQ-1").row["name"] == "somebody else's"


@pytest.mark.parametrize("loss", LOSSES)
def test_a_change_whose_answer_was_lost_is_found_to_be_in(
    service: Service, line: Line, over_the_line: Wattwright, loss: str
) -> None:
    """Sent again it is refused with 412, because the version it was meant for is gone: by its own doing."""
    line.breaks(loss)
    row, etag = over_the_line.change("elements", "SQ-1", {"name": "attic", "priority": 1}, if_match='"1"')
    assert (row["name"], row["priority"], etag) == ("attic", 1, '"2"')
    wanted = ["PATCH", "PATCH"] if loss == LOST else ["PATCH", "PATCH", "GET"]
    assert [request.method for request in line.seen] == wanted
    changed = [
        one["after"] for one in service.get("/elements/SQ-1/history").json() if one["what"] == "changed"
    ]
    assert changed == [{"name": "attic", "priority": 1}]


def test_a_change_that_somebody_elses_overtook_is_refused_though_an_answer_was_lost(
    service: Service, line: Line, over_the_line: Wattwright
) -> None:
    """The request never arrived; before it came again, another change took the version."""
    service.patch("/elements/SQ-1", {"name": "somebody else's"}, if_match='"1"')
    line.breaks(LOST)
    with pytest.raises(Stale) as refused:
        over_the_line.change("elements", "SQ-1", {"name": "attic"}, if_match='"1"')
    assert isinstance(refused.value, Refusal)
    assert refused.value.is_unsure
    assert over_the_line.get("elements", "SQ-1").row["name"] == "somebody else's"


def test_a_change_for_any_version_is_not_sent_again_where_it_may_have_been_done(
    line: Line, over_the_line: Wattwright
) -> None:
    """Under `*` a second one could undo what somebody did in between."""
    line.breaks(UNANSWERED)
    with pytest.raises(Unreachable, match="cannot be reached") as refused:
        over_the_line.change("elements", "SQ-1", {"name": "attic"}, if_match="*")
    assert "Look whether the change is in" in refused.value.mend
    assert len(line.seen) == 1


@pytest.mark.parametrize("loss", LOSSES)
def test_a_step_whose_answer_was_lost_is_taken_once(
    service: Service, line: Line, over_the_line: Wattwright, loss: str
) -> None:
    before = last_change(service)
    line.breaks(PASS, loss)
    row, etag = over_the_line.step("supplies", "ps-1", "Suspect", "hums")
    assert (row["state"], row["state_note"]) == ("suspect", "hums")
    assert over_the_line.get("supplies", "PS-1").etag == etag
    changes = [one for one in made_since(service, before) if one[:2] == ("changed", "units")]
    assert len(changes) == 1
    with pytest.raises(StepRefused, match="PS-1 is suspect already"):
        over_the_line.step("supplies", "PS-1", "suspect", "hums")
    with pytest.raises(Stale):
        over_the_line.step("supplies", "PS-1", "good", if_match='"99"')
    assert over_the_line.path("supplies", "PS-1")["stands"] == "suspect"


def test_a_photo_is_kept_once_and_comes_back(line: Line, over_the_line: Wattwright, tmp_path: Path) -> None:
    note = tmp_path / "joint.txt"
    note.write_text("joint 3 soldered anew")
    line.breaks(LOST)
    row, _ = over_the_line.attach("sq-1", note, "bench")
    assert (row["about"], row["file_name"], row["caption"]) == ("SQ-1", "joint.txt", "bench")
    assert [one["id"] for one in over_the_line.list("attachments", about="SQ-1")] == [row["id"]]
    assert over_the_line.attached(row["id"]) == note.read_bytes()
    with pytest.raises(NotFound):
        over_the_line.attached(77)


@pytest.mark.parametrize("loss", [*LOSSES, SILENT])
def test_a_thing_is_taken_out_of_use_once(
    service: Service, line: Line, wattwright: Wattwright, hasty: Wattwright, loss: str
) -> None:
    wattwright.create("supplies", {"tag": "PS-9", "model": "S320"})
    line.breaks(PASS, loss)
    row, _ = hasty.retire("supplies", "ps-9")
    assert (row["tag"], row["state"]) == ("PS-9", "retired")
    history = service.get("/supplies/PS-9/history").json()
    assert [one["what"] for one in history] == ["made", "changed"]


@pytest.mark.parametrize("loss", LOSSES)
def test_a_thing_is_brought_back_into_use_once(
    service: Service, line: Line, wattwright: Wattwright, over_the_line: Wattwright, loss: str
) -> None:
    wattwright.create("supplies", {"tag": "PS-9", "model": "S320"})
    wattwright.retire("supplies", "PS-9")
    line.breaks(PASS, loss)
    assert over_the_line.restore("supplies", "PS-9").row["tag"] == "PS-9"
    last = service.get("/supplies/PS-9/history").json()[-1]
    assert last["after"]["retired_on"] is None
    with pytest.raises(BadRequest, match="PS-9 is not retired"):
        wattwright.restore("supplies", "PS-9")


def test_what_has_no_tag_is_gone_and_comes_back_as_it_was(
    line: Line, wattwright: Wattwright, over_the_line: Wattwright
) -> None:
    """The answer is lost; sent again there is nothing left to take out."""
    made = wattwright.create("venues", {"name": "Barn", "mains_v": 120})
    line.breaks(PASS, UNANSWERED)
    assert over_the_line.retire("venues", made.row["id"]) == made
    with pytest.raises(NotFound):
        wattwright.get("venues", made.row["id"])


def test_a_thing_that_is_in_use_stays(wattwright: Wattwright) -> None:
    with pytest.raises(InUse, match="PS-1 feeds SQ-1"):
        wattwright.retire("supplies", "PS-1")
    with pytest.raises(NotFound):
        wattwright.retire("supplies", "PS-99")
