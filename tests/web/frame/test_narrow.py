"""Long words of people on the narrowest phone: nothing goes sideways."""

import httpx
import pytest
from playwright.sync_api import Page

from tests.web.conftest import is_sideways, put_on

LONG = "W" * 80


@pytest.mark.parametrize(
    "path",
    [
        "/productions/SQ?only=over", f"/find?q={LONG}", f"/productions/SQ?q={LONG}", f"/shelf?q={LONG}",
        f"/nowhere/{LONG}", f"/supplies/{LONG}", f"/elements/{LONG}", f"/paper?show={LONG}", f"/paper/{LONG}",
        f"/labels?tags={LONG}", f"/labels?base={LONG}", f"/labels?show={LONG}",
        f"/labels?sheet=own&left={LONG[:20]}",
    ],
)  # fmt: skip
def test_nothing_that_is_asked_for_goes_sideways(page: Page, site: str, path: str) -> None:
    put_on(page, site, "day", "narrow")
    page.goto(site + path)
    assert not is_sideways(page)


def test_words_that_were_written_down_do_not_go_sideways(page: Page, own_site: str) -> None:
    found = {"choice": "flicker", "words": LONG, "name": LONG}
    assert httpx.post(f"{own_site}/elements/SQ-09/found", data=found).status_code == 303
    put_on(page, own_site, "day", "narrow")
    refused = {"tags": LONG, "show": "SQ"}
    assert httpx.post(f"{own_site}/shelf/out", data=refused).status_code == 422
    for path in ("/elements/SQ-09", "/productions/SQ", "/paper/dark-list", "/supplies/PS-25"):
        page.goto(own_site + path)
        assert not is_sideways(page), path
    page.goto(f"{own_site}/shelf/out?show=SQ")
    page.get_by_label("Tags").fill(LONG)
    page.get_by_role("button", name="Out to SQ").click()
    assert page.get_by_role("alert").count() or page.get_by_text(LONG).count()
    assert not is_sideways(page)
