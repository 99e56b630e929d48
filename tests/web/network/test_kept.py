"""What a phone shows where there is no network: what it keeps, and a page of ours for all else."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web.conftest import until, violations


@pytest.fixture
def away(browser: Browser, site: str) -> Iterator[Page]:
    """A phone that has kept the feeds of tonight, where there is no network."""
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(f"{site}/find")
    page.evaluate("navigator.serviceWorker.ready")
    until(page, "caches.match('/elements/SQ-24').then(kept => Boolean(kept))")
    until(page, "caches.match('/elements/SQ-09').then(kept => Boolean(kept))")
    page.reload()
    page.goto(f"{site}/elements/SQ-09/found")
    context.set_offline(True)
    yield page
    context.close()


@pytest.mark.parametrize("path", ["/l/sq-09", "/L/SQ-09", "/elements/sq-09", "/elements/SQ-09"])
def test_a_label_leads_to_the_kept_feed_in_any_letters(away: Page, site: str, path: str) -> None:
    away.goto(site + path)
    expect(away.locator(".ways")).to_contain_text("PS-25")
    expect(away.locator("#net")).to_contain_text("Nothing can be sent from it")


@pytest.mark.parametrize(
    "path",
    [
        "/season",
        "/productions/SQ",
        "/shelf",
        "/cutting",
        "/paper/feed-sheet",
        "/elements/SQ-09/found",
        "/l/PS-25",
    ],
)
def test_what_is_not_kept_is_a_page_that_leads_to_what_is(away: Page, site: str, path: str) -> None:
    away.goto(site + path)
    expect(away.locator("h1")).to_have_text("No connection")
    expect(away.locator("#net")).to_have_text("")  # no copy of it is kept: nothing says that one is
    assert violations(away) == []
    away.get_by_role("link", name="Feeds on stage").click()
    expect(away.locator("h1")).to_have_text("Feeds on stage")


def test_what_is_typed_without_a_network_is_looked_for_in_what_is_kept(away: Page, site: str) -> None:
    said: list[str] = []
    away.goto(f"{site}/elements/SQ-09")
    away.context.set_offline(False)
    away.goto(f"{site}/find")
    away.context.set_offline(True)
    away.on("console", lambda line: said.append(line.text) if line.type in ("error", "warning") else None)
    away.locator("[data-into]").fill("sq-9")
    found = away.locator("#hits .kept")
    expect(found.first).to_contain_text("Attic window 3")
    away.locator("[data-into]").fill("nothing called this")
    expect(away.locator("#hits")).to_contain_text("Nothing that is kept has all these words")
    assert said == []


def test_a_form_that_was_open_when_the_network_went_keeps_what_was_typed(away: Page, site: str) -> None:
    away.context.set_offline(False)
    away.goto(f"{site}/elements/SQ-09/found")
    away.context.set_offline(True)
    away.get_by_label("In your words").fill("gone since the storm")
    away.locator("main form button").last.click()
    expect(away.locator("#net")).to_contain_text("Not sent: there is no connection")
    expect(away.get_by_label("In your words")).to_have_value("gone since the storm")
    assert away.url == f"{site}/elements/SQ-09/found"


def test_a_kept_copy_holds_nothing_that_pretends_to_be_sent(away: Page, site: str) -> None:
    away.goto(f"{site}/elements/SQ-09")
    expect(away.get_by_role("button", name="Night")).to_be_disabled()
    for name in ("Say what you found", "Swap PS-25"):
        link = away.get_by_role("link", name=name)
        expect(link).to_have_attribute("aria-disabled", "true")
        expect(link).not_to_have_attribute("href", "")
        assert link.get_attribute("href") is None
    assert violations(away) == []
