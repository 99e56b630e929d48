"""The page that explains each limit."""

import httpx
from playwright.sync_api import Page, expect

from service.limits.registry import LIMITS


def test_every_limit_is_there_with_its_source(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/find")
    quiet_page.get_by_role("link", name="What each limit means").click()
    expect(quiet_page.locator("h1")).to_have_text(f"{len(LIMITS)} limits are asked of every show")
    for limit in LIMITS:
        part = quiet_page.locator(f"[id='{limit.code}']").inner_text()
        assert limit.title in part
        assert " ".join(limit.source.split()) in " ".join(part.split())


def test_a_figure_that_this_house_set_itself_is_marked(own_site: str, scriptless: Page) -> None:
    known = httpx.get(f"{own_site}/api/v1/house-rules", params={"rule": "drop_over"}).json()
    rule = f"{own_site}/api/v1/house-rules/{known[0]['id']}"
    made = httpx.patch(rule, json={"value": "8 %"}, headers={"If-Match": httpx.get(rule).headers["etag"]})
    assert made.status_code == 200, made.text
    scriptless.goto(f"{own_site}/limits")
    row = scriptless.get_by_role("row").filter(has_text="drop_over")
    expect(row.locator(".st.tight")).to_have_text("0.08")
    expect(row).to_contain_text("0.1")


def test_the_page_can_be_walked_with_a_keyboard(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/limits")
    quiet_page.keyboard.press("Tab")
    expect(quiet_page.get_by_role("link", name="Skip to the page")).to_be_focused()
    quiet_page.keyboard.press("Enter")
    quiet_page.keyboard.press("Tab")
    expect(quiet_page.get_by_role("link", name="Fire or heat")).to_be_focused()
