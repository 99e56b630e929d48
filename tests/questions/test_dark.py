"""The demonstration season with things dark in it, asked at every door."""

import json
from datetime import date

import httpx
import pytest
from sqlalchemy import select

from service.cli import run
from service.errors import BadRequest, NotFound
from service.planning.dark.asking import causes_of
from service.planning.dark.schemas import CausesOut, DarkAsk
from service.shows.records import Element, ElementStatus
from service.store.work import Store
from tests.api.conftest import serving
from tests.planning.test_queries import counted

DAY = date(2026, 11, 25)
ATTIC = [f"SQ-{n:02}" for n in range(7, 15)]


def asked(store: Store, *dark: str, lit: tuple[str, ...] = ()) -> CausesOut:
    with store.reading() as session:
        return causes_of(session, DarkAsk(dark=list(dark), lit=list(lit)), DAY)


def test_one_window_out_is_its_lead_or_its_channel(season: Store) -> None:
    """Attic window 3 alone: lead, joint or channel 3; PS-25 would darken the seven others too."""
    found = asked(season, "sq-09")
    assert [cause.name for cause in found.causes[:2]] == ["SQ-09/1", "DC-32 channel 3"]
    supply = next(cause for cause in found.causes if cause.name == "PS-25")
    assert [other.element for other in supply.others] == [tag for tag in ATTIC if tag != "SQ-09"]


def test_the_whole_row_out_is_what_all_of_it_hangs_on(season: Store) -> None:
    found = asked(season, *ATTIC)
    whole = [cause.name for cause in found.causes if cause.explained == 8 and not cause.others]
    assert whole == ["DC-32", "PS-25", "EN-2", "MD1"]
    assert found.together == ["DC-32"]


def test_a_lit_neighbour_rules_the_supply_out(season: Store) -> None:
    found = asked(season, "SQ-07", "SQ-09", lit=("SQ-10",))
    supply = next(cause for cause in found.causes if cause.name == "PS-25")
    assert supply.is_ruled_out
    assert "SQ-10 is lit" in supply.check
    assert found.together == ["SQ-07/1", "SQ-09/1"]


def test_what_nothing_feeds_is_dark_for_that(season: Store) -> None:
    found = asked(season, "SQ-19")
    assert ([one.run for one in found.unfed], found.causes) == (["SQ-19/1", "SQ-19/2", "SQ-19/3"], [])


def test_what_is_on_record_as_dark_counts_too(changing_season: Store) -> None:
    with changing_season.writing("deck") as session:
        element = session.scalars(select(Element).where(Element.tag == "SQ-10")).one()
        element.status = ElementStatus.DARK
    found = asked(changing_season, "SQ-09")
    assert found.recorded == ["SQ-10"]
    assert {run.run for run in found.dark} == {"SQ-09/1", "SQ-10/1"}


@pytest.mark.parametrize("tag", ["SQ-99", "SQ-09/4"])
def test_a_tag_or_run_that_is_not_there_is_refused(season: Store, tag: str) -> None:
    with pytest.raises(NotFound):
        asked(season, tag)


def test_nothing_is_dark_and_lit(season: Store) -> None:
    with pytest.raises(BadRequest, match="SQ-09/1 is said to be dark and lit"):
        asked(season, "SQ-09", lit=("SQ-09/1",))


def test_many_dark_cost_as_few_statements_as_one(season: Store) -> None:
    with counted(season) as one:
        asked(season, "SQ-09")
    with counted(season) as many:
        asked(season, *ATTIC, "TL-01", lit=("SQ-01",))
    assert len(one) == len(many) <= 4


def test_the_api_and_the_terminal_answer_alike(season: Store, capsys: pytest.CaptureFixture[str]) -> None:
    body = {"dark": ["SQ-07", "SQ-09"], "lit": ["SQ-10"]}
    with serving(season.url) as base, httpx.Client(base_url=base + "/api/v1", timeout=30) as client:
        answer = client.post("/dark", json=body)
        sheet = client.post("/dark", json=body, headers={"Accept": "text/csv"}).text.splitlines()
        wrong = client.post("/dark", json={"dark": []})
        assert client.get("/dark").json() == []
    assert sheet[0].startswith("rank,what,name,place,explained,of,explains,others")
    assert len(sheet) == 1 + len(answer.json()["causes"])
    assert (wrong.status_code, wrong.json()["errors"][0]["pointer"]) == (422, "#/dark")
    where = ("--database", season.url, "--as-of", "2026-11-25")
    assert run(["dark", "SQ-07", "SQ-09", "--lit", "SQ-10", "--json", *where]) == 0
    assert json.loads(capsys.readouterr().out) == answer.json()
    assert run(["dark", "SQ-07", "SQ-09", "--lit", "SQ-10", *where]) == 0
    assert "Look first at: SQ-07/1 and SQ-09/1" in capsys.readouterr().out
