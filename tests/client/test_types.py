"""What a script is told about types is what the service answers, and a type checker follows it."""

import subprocess
import sys
import types
import typing
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

import service
from service.api import sheets
from service.client import rows
from service.planning import schemas
from service.reports import loads, over_limit, stock_use
from tests.client.test_script import printed_script

ROOT = Path(__file__).resolve().parents[2]
SAID: dict[Any, type[BaseModel]] = {
    rows.LoadRow: loads.Row,
    rows.LimitRow: over_limit.Row,
    rows.StockRow: stock_use.Row,
    rows.Slot: schemas.SlotOut,
    rows.FeedRun: schemas.RunFeedOut,
    rows.Source: schemas.SourceOut,
    rows.Feed: schemas.FeedOut,
    rows.DarkRow: schemas.DarkOut,
    rows.PlanFeed: schemas.AllotmentOut,
    rows.Unfed: schemas.UnfedOut,
    rows.Plan: schemas.PlanDetail,
    rows.Difference: sheets.DifferenceOut,
    rows.BroughtIn: sheets.BroughtIn,
}
ROW_OF = {model: row for row, model in SAID.items()}
SCRIPT = """
from collections.abc import Iterator
from typing import Any, assert_type

from service.client import Feed, LoadRow, Refusal, Thing, Wattwright
from service.errors import NotFound

with Wattwright("http://127.0.0.1:8042", by="night crew") as house:
    assert_type(house.report("loads", production="SQ"), list[LoadRow])
    assert_type(house.report("loads")[0]["limit_w"], float | None)
    assert_type(house.report("another"), list[dict[str, Any]])
    assert_type(house.list("supplies", model="S320"), Iterator[dict[str, Any]])
    assert_type(house.get("elements", "SQ-09"), Thing)
    assert_type(house.feed("SQ-09"), Feed)
    try:
        row, etag = house.change("decoders", "DC-32", {"state": "faulty"})
    except NotFound as lost:
        assert_type(lost.mend, str)
    except Refusal as refused:
        assert_type(refused.status, int)
    house.report("loads")[0]["no_such_column"]  # this line is wrong
"""


def in_json(said: Any) -> Any:
    """The type of a value once it has gone through JSON."""
    if said in (date, datetime):
        return str
    if said in ROW_OF:
        return ROW_OF[said]
    kind, inner = typing.get_origin(said), typing.get_args(said)
    if kind is typing.Annotated:
        return in_json(inner[0])
    if kind in (typing.Union, types.UnionType):
        return typing.Union[tuple(in_json(one) for one in inner)]  # noqa: UP007
    return types.GenericAlias(kind, tuple(in_json(one) for one in inner)) if kind else said


@pytest.mark.parametrize("row", SAID, ids=lambda row: row.__name__)
def test_a_row_has_the_columns_and_types_that_are_answered(row: type) -> None:
    told = typing.get_type_hints(row)
    answered = {name: in_json(field.annotation) for name, field in SAID[row].model_fields.items()}
    assert told == answered


def test_a_strict_checker_follows_a_script(tmp_path: Path) -> None:
    """It finds the one line that is wrong, and nothing else, nor anything in the script of the README. The
    package says that it is typed."""
    assert (Path(service.__file__).parent / "py.typed").is_file()
    (tmp_path / "script.py").write_text(SCRIPT)
    (tmp_path / "printed.py").write_text(printed_script())
    checked = subprocess.run(
        [
            sys.executable,
            "-m",
            "mypy",
            "--strict",
            "--cache-dir",
            tmp_path / "cache",
            "script.py",
            "printed.py",
        ],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    wrong = [n for n, line in enumerate(SCRIPT.splitlines(), 1) if "this line is wrong" in line]
    found = [line for line in checked.stdout.splitlines() if line.startswith(("script.py", "printed.py"))]
    assert [line.split(":")[:2] for line in found] == [["script.py", str(n)] for n in wrong], checked.stdout
    assert "no_such_column" in found[0]
