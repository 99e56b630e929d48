"""A season typed in from nothing: through the command line alone, and through HTTP alone, to a kept plan."""

import contextlib
import csv
import io
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import httpx
import pytest

import seed_demo
from service.cli import run
from service.kinds.columns import Column
from service.kinds.kind import Kind, Part
from service.kinds.registry import KINDS
from service.store.work import Store
from tests.api.conftest import serving
from tests.doors.sheets_out import content

BY = "command line"
# What feeds a show is worked out, and where its gear stands is said of a plan that is kept.
OF_A_PLAN = {"feeds", "gear on stage", "addresses"}
TYPED = [kind for kind in KINDS if kind.name not in OF_A_PLAN]
FROM = "2027-01-20"


def sheet_of(kind: Kind) -> Path:
    return seed_demo.folder() / f"{kind.name.replace(' ', '_')}.csv"


def words(path: Path) -> Iterator[list[str]]:
    """Each row of a sheet as a person would type it: HEAD=VALUE, the unit of the head behind the value."""
    with path.open(encoding="utf-8", newline="") as file:
        heads, *rows = csv.reader(file)
    for row in rows:
        yield [word(head, cell) for head, cell in zip(heads, row, strict=True) if cell]


def word(head: str, cell: str) -> str:
    match = re.fullmatch(r"(.*?)\s*\((.+)\)", head)
    return f"{match[1]}={cell} {match[2]}" if match else f"{head}={cell}"


def typed(*args: str) -> None:
    said, refused = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(refused):
        code = run(args)
    assert code == 0, f"{args}: {refused.getvalue()}"


def type_in(database_url: str) -> None:
    """Everything by the commands `add` and `allocate`."""
    where = ("--database", database_url)
    for kind in TYPED:
        assert kind.listing is not None
        if sheet_of(kind).exists():
            for row in words(sheet_of(kind)):
                typed("add", kind.listing.plural, *row, *where)
    # A show that leaves something dark ends with 1: the plan is kept all the same.
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        assert run(["allocate", "TW", "--from", FROM, "--keep", *where]) in {0, 1}
    typed("add", "gear-on-stage", "production=TW", "tag=PS-13", "place=NL-DK", "outlet=SD2", *where)


def body_of(columns: tuple[Column, ...], parts: tuple[Part, ...], row: Mapping[str, Any]) -> dict[str, Any]:
    """What makes the thing that a list answered with, in the API's own words."""
    said = {c.api_name: row[c.api_name] for c in columns if not (c.part or c.is_short)}
    for part in parts:
        said[part.name] = [body_of(part.columns, part.parts, one) for one in row[part.name]]
    said.pop("opened_by", None)  # whoever types it in
    return {name: value for name, value in said.items() if value not in (None, "", [])}


def post_in(base: str, season: Store) -> None:
    """Everything by POST, as the answers of a service over the same season would have it."""
    with (
        serving(season.url) as there,
        httpx.Client(base_url=there + "/api/v1", timeout=60) as answers,
        httpx.Client(base_url=base + "/api/v1", timeout=60, headers={"X-By": BY}) as client,
    ):
        for kind in TYPED:
            assert kind.listing is not None
            for row in pages(answers, f"/{kind.listing.plural}?limit=200"):
                if kind.is_exported(row):
                    made = client.post(f"/{kind.listing.plural}", json=body_of(kind.columns, kind.parts, row))
                    assert made.status_code == 201, (kind.name, row, made.json())
                    assert client.get(made.headers["location"].removeprefix("/api/v1")).status_code == 200
        asked = client.post("/productions/TW/plans", json={"from_on": FROM}, headers={"Prefer": "wait=30"})
        number = asked.json()["number"]
        plan = client.get(f"/productions/TW/plans/{number}")
        kept = client.post(f"/productions/TW/plans/{number}/keep", headers={"If-Match": plan.headers["etag"]})
        assert kept.json()["status"] == "kept", kept.json()
        stands = {"production": "TW", "unit": "PS-13", "place": "NL-DK", "outlet": "SD2"}
        assert client.post("/gear-on-stage", json=stands).status_code == 201


def pages(client: httpx.Client, path: str | None) -> Iterator[dict[str, Any]]:
    while path is not None:
        answer = client.get(path)
        assert answer.status_code == 200, answer.text
        yield from answer.json()
        link = answer.links.get("next", {}).get("url")
        path = link.removeprefix("/api/v1") if link else None


@pytest.mark.parametrize("season", ["sqlite"], indirect=True)
@pytest.mark.parametrize("where", ["sqlite", "postgresql"])
def test_a_season_typed_in_and_one_sent_over_http_are_the_same(
    where: str, season: Store, two_houses: dict[str, Store]
) -> None:
    """The command line on one database, HTTP on the other: the two hold equal content, plan and all."""
    other = "postgresql" if where == "sqlite" else "sqlite"
    type_in(two_houses[where].url)
    with serving(two_houses[other].url) as base:
        post_in(base, season)

    by_hand, by_http = content(two_houses[where], True), content(two_houses[other], True)

    for name in by_hand:
        assert by_hand[name] == by_http[name], name
    assert {name for name, rows in by_hand.items() if rows} >= {"elements", "feeds", "gear on stage"}
