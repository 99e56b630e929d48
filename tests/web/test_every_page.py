"""What holds for every page, in every look, at every width."""

import re

import httpx
import pytest
from playwright.sync_api import Page

from tests.web.conftest import LOOKS, hindrances, is_sideways, put_on, violations

PAGES = (
    "/find", "/find?q=attic", "/find?q=nothing+called+this", "/elements/SQ-09", "/elements/SQ-19",
    "/elements/SQ-09/found", "/elements/TL-22", "/supplies/PS-25", "/supplies/PS-01", "/decoders/DC-32",
    "/batteries/BT-11", "/outlets/MD2", "/reels/R-111", "/kept", "/wishes", "/season",
    "/paper", "/paper/feed-sheet?show=SQ", "/paper/address-sheet?show=SQ", "/paper/half-hour-check?show=SQ",
    "/paper/take-list?show=TL", "/paper/return-list", "/paper/order-list",
    "/paper/battery-sheet?show=SQ", "/paper/dark-list", "/paper/changes?show=SQ",
    "/limits", "/help", "/first", "/supplies/PS-25/swaps?show=SQ", "/decoders/DC-32/swaps",
    "/batteries/BT-11/swaps/BT-03?show=SQ&of=SQ-23", "/elements/SQ-23",
    "/bring-in", "/labels?show=SQ", "/labels?show=SQ&what=gear&sheet=own&skip=3",
    "/productions", "/productions/SQ", "/productions/CO", "/productions/SQ?only=over", "/productions/new",
    "/productions/SQ/elements/SQ-18", "/productions/SQ/elements", "/productions/SQ/plans/1",
    "/productions/SQ/mend?limit=supply-watts&of=PS-01", "/productions/SQ/mend?limit=no-feed&of=SQ-19",
    "/shelf", "/shelf?kind=tape&q=12+v", "/shelf/receive", "/shelf/count", "/shelf/out", "/shelf/out?show=SQ",
    "/shelf/back", "/cutting",
)  # fmt: skip


@pytest.mark.parametrize("path", PAGES)
def test_everybody_can_read_and_work_it_in_every_look(quiet_page: Page, site: str, path: str) -> None:
    answer = quiet_page.goto(site + path)
    assert answer is not None
    assert answer.status == 200
    assert hindrances(quiet_page, "phone", "desk") == []
    for width in ("narrow", "tablet"):
        put_on(quiet_page, site, "day", width)
        assert not is_sideways(quiet_page), width


@pytest.mark.parametrize("path", PAGES)
def test_nothing_is_written_into_a_page_that_could_run_or_restyle_it(site: str, path: str) -> None:
    answer = httpx.get(site + path)
    policy = answer.headers["content-security-policy"]
    assert "'unsafe" not in policy
    assert "default-src 'none'" in policy
    assert re.findall(r"<style|\sstyle=|<script(?![^>]*\ssrc=)|\son[a-z]+=", answer.text) == []


@pytest.mark.parametrize("path", PAGES)
def test_a_look_changes_nothing_but_colours(site: str, path: str) -> None:
    """So that a page need not be loaded again to be seen in another look. The clock goes on meanwhile."""
    own = re.compile(r' data-look="\w+"|aria-pressed="\w+"|<meta name="theme-color"[^>]+>|\b\d\d:\d\d\b')
    seen = {look: httpx.get(site + path, headers={"Cookie": f"look={look}"}).text for look in LOOKS}
    assert all(f'data-look="{look}"' in text for look, text in seen.items())
    assert len({own.sub("", text) for text in seen.values()}) == 1


@pytest.mark.parametrize("look", LOOKS)
def test_a_refusal_is_a_page_that_says_what_to_do(page: Page, site: str, look: str) -> None:
    put_on(page, site, look, "phone")
    answer = page.goto(f"{site}/elements/XX-99")
    assert answer is not None
    assert answer.status == 404
    assert "No element has the tag 'XX-99'" in page.locator("main").inner_text()
    assert "What to do" in page.locator("main").inner_text()
    assert violations(page) == []


def test_an_address_that_is_nowhere_is_a_page_for_a_browser_only(page: Page, site: str) -> None:
    answer = page.goto(f"{site}/nowhere-at-all")
    assert answer is not None
    assert answer.status == 404
    assert "There is no page at /nowhere-at-all." in page.locator("main").inner_text()
    assert violations(page) == []
    told = page.request.get(f"{site}/nowhere-at-all", headers={"Accept": "application/json"})
    assert told.status == 404
    assert told.json()["code"] == "not-found"
