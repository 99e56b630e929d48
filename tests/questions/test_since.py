"""What moved in the demonstration season: since a print, since a plan, since a day."""

import json
from datetime import UTC, date, datetime, timedelta

import httpx
import pytest
from sqlalchemy import update

from service.cli import run
from service.errors import BadRequest, NotFound
from service.kinds.sheets.shows import ELEMENTS
from service.planning.since.asking import Span, prints, record_print, relabel, since
from service.store.audit import AuditEntry
from service.store.work import Store
from tests.api.conftest import serving
from tests.kinds.hands import changed

DAY = date(2026, 11, 25)


def end_of(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=UTC) + timedelta(days=1)


def told(store: Store, span: Span, code: str = "sq") -> list[tuple[str, str, str, str]]:
    with store.reading() as session:
        return [(c.what, c.about, c.before, c.after) for c in since(session, code, span, end_of)]


def printed(store: Store) -> int:
    return store.write(lambda s: record_print(s, "SQ", "feed sheet", "deck", DAY).number, "deck")


def move_mirror(store: Store, to: str) -> None:
    """SQ-17 and its decoder go to another supply, by hand, through the API."""
    with serving(store.url) as base, httpx.Client(base_url=base + "/api/v1", timeout=30) as client:
        feed = client.get("/elements/SQ-17/feed")
        moved = client.patch(
            "/elements/SQ-17/feed",
            json={"supply": to, "output": 1},
            headers={"If-Match": feed.headers["etag"]},
        )
        assert moved.status_code == 200, moved.json()


def test_since_the_last_print_a_feed_moved_and_two_loads_with_it(changing_season: Store) -> None:
    """PS-01 121.5 to 96.8 %, PS-03 72.0 to 96.8 %: the mirror frame went across."""
    number = printed(changing_season)
    assert told(changing_season, Span(f"print:{number}")) == []
    move_mirror(changing_season, "PS-03")
    assert told(changing_season, Span(f"print:{number}")) == [
        ("moved", "SQ-17/1", "PS-01 output 1, DC-21 channel 1-2", "PS-03 output 1, DC-21 channel 1-2"),
        ("load", "PS-01", "311.04 W (121.5 %)", "247.68 W (96.8 %)"),
        ("load", "PS-03", "184.32 W (72.0 %)", "247.68 W (96.8 %)"),
    ]
    with changing_season.reading() as session:
        (label,) = relabel(session, "SQ", Span(f"print:{number}"), end_of)
    assert (label.run, label.before) == ("SQ-17/1", "PS-01·1  DC-21·1-2  3/29")
    assert label.after == "PS-03·1  DC-21·1-2  3/29"
    again = printed(changing_season)
    assert told(changing_season, Span(f"print:{number}", f"print:{again}"))[0][0] == "moved"
    assert told(changing_season, Span(f"print:{again}")) == []


def test_since_a_day_gone_by_an_element_was_shortened_on_another_lead(
    changing_season: Store,
) -> None:
    with changing_season.writing("tests") as session:
        session.execute(update(AuditEntry).values(at=datetime(2026, 11, 20, 12, tzinfo=UTC)))
    with changing_season.writing("bench") as session:
        run = {"pieces": [{"drawn_mm": 2000}] * 2, "lead_m": 7.5, "lead_gauge": "16 AWG"}
        changed(session, ELEMENTS, "TL-14", runs=[run])
    assert told(changing_season, Span("2026-11-20"), "TL") == [
        ("length", "TL-14/1", "4400 mm", "4000 mm"),
        ("lead", "TL-14/1", "6000 mm of 18 AWG", "7500 mm of 16 AWG"),
        ("load", "PS-12", "238.08 W (77.5 %)", "230.40 W (75.0 %)"),
    ]
    assert told(changing_season, Span("2026-11-20", "2026-11-21"), "TL") == []


def test_two_plans_differ_as_the_plan_says(changing_season: Store) -> None:
    assert told(changing_season, Span("plan:1")) == []


@pytest.mark.parametrize(
    ("span", "error", "said"),
    [
        (Span("Tuesday"), BadRequest, "no point in time"),
        (Span("2026-02-30"), BadRequest, "not a day"),
        (Span("plan:9"), NotFound, "SQ has no plan 9"),
        (Span("print:1"), NotFound, "SQ has no print 1"),
        (Span("2020-01-01"), BadRequest, "was not on record on 2020-01-01"),
    ],
)
def test_a_point_that_is_not_there_is_refused(
    season: Store, span: Span, error: type[Exception], said: str
) -> None:
    with season.reading() as session, pytest.raises(error, match=said):
        since(session, "SQ", span, end_of)


def test_a_span_that_runs_backwards_is_refused(changing_season: Store) -> None:
    first, second = printed(changing_season), printed(changing_season)
    with changing_season.reading() as session, pytest.raises(BadRequest, match="comes before"):
        since(session, "SQ", Span(f"print:{second}", f"print:{first}"), end_of)
    with changing_season.reading() as session:
        assert [one.number for one in prints(session, "SQ")] == [2, 1]


def test_the_api_and_the_terminal_answer_alike(
    changing_season: Store, capsys: pytest.CaptureFixture[str]
) -> None:
    with serving(changing_season.url) as base, httpx.Client(base_url=base + "/api/v1", timeout=30) as client:
        made = client.post("/productions/SQ/prints", json={"paper": "feed sheet"}, headers={"X-By": "deck"})
        assert (made.status_code, made.json()["number"], made.json()["printed_by"]) == (201, 1, "deck")
        move_mirror(changing_season, "PS-03")
        answer = client.get("/productions/SQ/changes", params={"since": "print:1"}).json()
        sheet = client.get(
            "/productions/SQ/relabel", params={"since": "print:1"}, headers={"Accept": "text/csv"}
        )
        missing = client.get("/productions/SQ/changes")
    assert sheet.text.splitlines()[0] == "run,name,place,before,after"
    assert missing.status_code == 422
    assert run(["changes", "SQ", "--since", "print:1", "--json", "--database", changing_season.url]) == 0
    assert json.loads(capsys.readouterr().out) == answer
