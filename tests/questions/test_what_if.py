"""What if, on the demonstration season: the figures of an addition, and nothing stored."""

import json
from datetime import date

import httpx
import pytest

from service.cli import run
from service.errors import BadRequest, BadValues, InUse, NotFound
from service.kinds.actions import Hand
from service.planning.moving import move_feed
from service.planning.schemas import FeedMove
from service.reports import over_limit
from service.reports.report import ReportAsk
from service.reports.supposing.asking import what_if
from service.reports.supposing.schemas import SupposedOut, WhatIf
from service.store.work import Store
from tests.api.conftest import serving
from tests.doors.sheets_out import content

DAY = date(2026, 11, 25)
HAND = Hand("tests", DAY)
MIRROR = {
    "suppose": "add", "kind": "elements",
    "values": {"tag": "SQ-30", "name": "Second mirror", "production": "SQ", "scenic_unit": "Mirror",
               "tape": "TW24", "pieces": "3.33 m", "lead": "5 m", "lead_gauge": "18 AWG"},
}  # fmt: skip
UNFED = {"suppose": "retire", "kind": "elements", "key": "SQ-19"}
OTHER_DATES = {
    "suppose": "change", "kind": "productions", "key": "TL", "values": {"needed_from": "2027-01-20"},
}  # fmt: skip


def supposed(store: Store, *suppositions: object, day: date = DAY) -> SupposedOut:
    ask = WhatIf.model_validate({"suppositions": suppositions})
    with store.supposing("tests") as session:
        return what_if(session, ask, HAND, day)


def test_a_mirror_of_3_33_m_tells_its_cut_its_load_and_where_it_fits(changing_season: Store) -> None:
    """floor(3330 / 50) = 66 pitches: 3 300 mm, 30 mm shorter; 3.3 m x 19.2 W/m = 63.36 W, 2.64 A, 1.32 A
    a colour. PS-01 has 311.04 W of 256.00 W already; PS-03 184.32 + 63.36 = 247.68 W; PS-06 238.56 W."""
    (added,) = supposed(changing_season, MIRROR).added
    (piece,) = added.pieces
    assert (piece.drawn_mm, piece.cut_mm, piece.shorter_by_mm) == (3330.0, 3300.0, 30.0)
    assert (added.load_w, added.common_a, added.channels) == (63.36, 2.64, 2)
    assert set(added.emitters_a.values()) == {1.32}
    fits = {fit.source: fit for fit in added.fits}
    assert (fits["PS-03"].w_after, fits["PS-03"].limit_w, fits["PS-03"].verdict) == (247.68, 256.0, "ok")
    assert (fits["PS-06"].w_after, fits["PS-06"].verdict) == (238.56, "ok")
    assert fits["PS-01"].breaks == "PS-01: 374.40 W of 256.00 W (146.2 %), 15.60 A of 10.64 A"
    assert (fits["PS-25"].verdict, fits["PS-25"].w_after) == ("over", 163.2)
    # In the plinth 247.68 W make 62.5 °C, which leaves 0.438 of 320 × 0.80 W.
    assert fits["PS-05"].verdict == "over"
    assert fits["PS-05"].breaks == "PS-05: 247.68 W of 112.17 W in EN-1 (220.8 %)"
    assert [fit.source for fit in added.fits][:1] == ["PS-03"]


def test_nothing_supposed_is_stored(changing_season: Store) -> None:
    before = content(changing_season, with_versions=True)
    supposed(changing_season, MIRROR, OTHER_DATES, UNFED)
    assert content(changing_season, with_versions=True) == before
    with changing_season.reading() as session:
        from service.store.audit import AuditEntry

        assert session.query(AuditEntry).filter_by(by="tests").count() == 0


def test_other_dates_take_a_shortage_away(changing_season: Store) -> None:
    """D4 on 2027-01-10: 8 (SQ) + 11 (TL) wanted of 12, short 7; with TL from 2027-01-20 none is short."""
    found = supposed(changing_season, OTHER_DATES, day=date(2027, 1, 10))
    (stock,) = [row for row in found.stock if row.item == "D4"]
    assert (stock.short_before, stock.short_after) == (7, 0)
    assert all(row.supposed for row in found.findings)


def test_a_cap_hides_no_load(changing_season: Store) -> None:
    """A cap of 60 % on the river edge leaves its drop and its amps as they are."""
    cap = {"cap_pct": 60, "cap_enforced_where": "decoder", "cap_signed_by": "LX"}
    found = supposed(
        changing_season, {"suppose": "change", "kind": "elements", "key": "SQ-21", "values": cap}
    )
    assert not [row for row in found.gone if row.verdict == "over"]
    assert any(row.subject.startswith("SQ-21") and row.verdict == "over" for row in found.findings)


def test_what_is_supposed_and_then_done_gives_the_same_findings(changing_season: Store) -> None:
    move = FeedMove(supply="PS-03", output=1)
    thought = supposed(changing_season, {"suppose": "move_feed", "element": "SQ-17", "to": move.model_dump()})
    done = changing_season.write(
        lambda s: move_feed(s, "SQ-17", move.model_copy(update={"despite_limits": "only supposed"}), DAY),
        "deck",
    )
    assert done
    with changing_season.reading() as session:
        real = over_limit.rows(session, ReportAsk(DAY, today=DAY))
    assert [row.model_dump(exclude={"supposed", "change"}) for row in thought.findings] == [
        row.model_dump() for row in real
    ]


@pytest.mark.parametrize(
    ("supposition", "error", "said"),
    [
        ({"suppose": "add", "kind": "lamps", "values": {}}, BadRequest, "no kind lamps"),
        ({"suppose": "add", "kind": "supplies", "values": {"tag": "X"}}, BadValues, "model is missing"),
        ({"suppose": "retire", "kind": "supplies", "key": "PS-99"}, NotFound, "PS-99"),
        ({"suppose": "change", "kind": "supplies", "key": "PS-01", "values": {}}, BadRequest, "nothing"),
        ({"suppose": "retire", "kind": "supplies", "key": "PS-01"}, InUse, "PS-01 feeds"),
        ({"suppose": "retire", "kind": "venues", "key": "Slipway"}, NotFound, "by their number"),
    ],
)
def test_what_could_not_be_done_cannot_be_supposed(
    season: Store, supposition: object, error: type[Exception], said: str
) -> None:
    with pytest.raises(error, match=said):
        supposed(season, supposition)


def test_the_api_and_the_terminal_answer_alike(
    changing_season: Store, capsys: pytest.CaptureFixture[str]
) -> None:
    with serving(changing_season.url) as base, httpx.Client(base_url=base + "/api/v1", timeout=60) as client:
        answer = client.post("/what-if", json={"suppositions": [OTHER_DATES]})
        sheet = client.post("/what-if", json={"suppositions": [OTHER_DATES]}, headers={"Accept": "text/csv"})
        wrong = client.post("/what-if", json={"suppositions": [{"suppose": "fly"}]})
    assert (answer.status_code, wrong.status_code) == (200, 422)
    assert len(sheet.text.splitlines()) == 1 + len(answer.json()["findings"])
    where = ("--database", changing_season.url, "--as-of", "2026-11-25")
    words = ("what-if", "change", "production", "TL", "needed_from=2027-01-20")
    assert run([*words, "--json", *where]) == 0
    assert json.loads(capsys.readouterr().out) == answer.json()
    assert run([*words, *where]) == 0
    assert "Nothing was stored." in capsys.readouterr().out
    mirror = ("production=SQ", "tape=TW24", "pieces=3.33 m", "scenic unit=Mirror", "lead=5 m")
    assert run(["what-if", "add", "element", *mirror, *where]) == 0
    assert "3330 mm drawn, 3300 mm cut, 30 mm shorter; 63.36 W, 2.64 A common" in capsys.readouterr().out
