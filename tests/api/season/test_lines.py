"""The season through the API, on the demonstration season: JSON, CSV and what is refused."""

import csv
import io

import httpx
import pytest
from pydantic import BaseModel

from service.planning.season.schemas import ClashOut, CommitmentOut, LineStepOut, OrderOut, ShortageOut
from tests.acceptance.conftest import bring_season
from tests.api.conftest import Service

ROWS: dict[str, type[BaseModel]] = {
    "/season/shortages": ShortageOut,
    "/season/clashes": ClashOut,
    "/season/commitments": CommitmentOut,
    "/season/orders": OrderOut,
}


@pytest.fixture
def season(service: Service) -> Service:
    bring_season(service.store)
    return service


def suppose(season: Service, body: object, **headers: str) -> httpx.Response:
    return season.client.post("/api/v1/season/what-if", json=body, headers=headers)


def test_a_line_is_answered_with_its_steps_and_shortages(season: Service) -> None:
    said = season.get("/season/line?item=d4&from=2027-01-01&to=2027-03-01").json()

    assert (said["item"], said["unit"], said["short"], said["worst_on"]) == ("D4", "piece", 7, "2027-01-04")
    assert [(s["from_on"], s["to_on"], s["wanted"], s["short"]) for s in said["steps"]] == [
        ("2027-01-01", "2027-01-03", 8, 0), ("2027-01-04", "2027-01-19", 19, 7),
        ("2027-01-20", "2027-03-01", 11, 0),
    ]  # fmt: skip
    [short] = said["shortages"]
    assert (short["clears_on"], short["move_needed_from"]) == ("2027-01-20", "2027-01-20")


def test_a_line_is_a_sheet_of_its_steps_too(season: Service) -> None:
    answer = season.get("/season/line?item=WW24&lot=W-26B", accept="text/csv")
    rows = list(csv.DictReader(io.StringIO(answer.text)))

    assert list(rows[0]) == list(LineStepOut.model_fields)
    assert [(row["from_on"], row["wanted"], row["short"]) for row in rows] == [
        ("2026-11-25", "0.0", "0.0"), ("2026-12-28", "0.8", "0.0"), ("2027-01-04", "4.0", "0.4"),
    ]  # fmt: skip


def test_every_list_is_answered_as_json_and_as_a_sheet_of_the_same_rows(season: Service) -> None:
    for path, row in ROWS.items():
        said = season.get(path)
        assert said.status_code == 200, said.text
        sheet = list(csv.DictReader(io.StringIO(season.get(path, accept="text/csv").text)))
        assert (list(sheet[0]), len(sheet)) == (list(row.model_fields), len(said.json())), path


def test_clashes_and_shortages_are_those_of_one_show_where_it_is_named(season: Service) -> None:
    assert len(season.get("/season/clashes?production=tl").json()) == 2
    assert season.get("/season/clashes?production=FR").json() == []
    assert {row["item"] for row in season.get("/season/shortages?production=TW").json()} == {
        "DW4", "B24-6", "RGBW24", "R-111",
    }  # fmt: skip


def test_what_is_supposed_is_answered_and_not_stored(season: Service) -> None:
    before = season.get("/season/shortages").content
    said = suppose(season, {"moves": [{"production": "tl", "needed_from": "2027-01-20"}]})

    assert said.status_code == 200
    assert {row["item"] for row in said.json()["gone"]} >= {"D12", "S150L", "S320"}
    assert season.get("/season/shortages").content == before
    assert season.get("/productions/TL").json()["needed_from"] is None


@pytest.mark.parametrize(
    ("path", "status", "said"),
    [
        ("/season/line", 422, "item"),
        ("/season/line?item=none", 404, "no model, tape or reel has the tag 'none'"),
        ("/season/line?item=WW24&lot=none", 404, "WW24 has no lot 'none'"),
        ("/season/line?item=D4&from=2026-11-24", 422, "2026-11-24 is before 2026-11-25"),
        ("/season/shortages?from=2027-02-01&to=2027-01-01", 422, "2027-01-01 comes before 2027-02-01"),
        ("/season/shortages?production=ZZ", 404, "no production has the code 'ZZ'"),
        ("/season/clashes?production=ZZ", 404, "no production has the code 'ZZ'"),
        ("/season/clashes?since=2027-01-01", 422, "since is not a parameter of this address"),
        ("/reports/stock-use?from=2027-02-01&to=2027-01-01", 422, "2027-01-01 comes before 2027-02-01"),
        ("/reports/loads?from=2027-02-01", 422, "from is not a parameter of this address"),
    ],
)
def test_what_cannot_be_asked_is_a_problem_with_its_mend(
    season: Service, path: str, status: int, said: str
) -> None:
    answer = season.get(path)

    assert answer.status_code == status
    assert said in answer.text
    assert answer.json()["mend"]


@pytest.mark.parametrize(
    ("body", "status", "said"),
    [
        ({}, 422, "suppose at least one thing"),
        ({"moves": [{"production": "TL"}]}, 422, "give new days"),
        ({"moves": [{"production": "TL", "needed_from": "2027-01-26"}]}, 422, "TL loads in on 2027-01-25"),
        ({"moves": [{"production": "CO", "later_by_days": 3}]}, 422, "CO is over"),
        ({"quantities": [{"production": "TW", "item": "DW4", "quantity": -1}]}, 422, "quantity"),
        ({"back": ["PS-01"]}, 404, "PS-01 is not overdue"),
        ({"move": []}, 422, "move"),
    ],
)
def test_what_cannot_be_supposed_is_a_problem_with_its_mend(
    season: Service, body: object, status: int, said: str
) -> None:
    answer = suppose(season, body)

    assert answer.status_code == status
    assert said in answer.text
    assert answer.json()["mend"]
