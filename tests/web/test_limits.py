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


def test_the_figures_of_the_house_are_in_the_readers_units(quiet_page: Page, site: str) -> None:
    said = {
        "metric": {
            "keep_offcut_m": ["0.3 m", "0.3 m", "from 0 m to 2 m"],
            "mount_w_per_m": ["10 W/m", "10 W/m", "from 1 W/m to 40 W/m"],
            "open_air_degc": ["25 °C", "25 °C", "from -20 °C to 60 °C"],
        },
        "us": {
            "keep_offcut_m": ["0.98 ft", "0.98 ft", "from 0 ft to 6.56 ft"],
            "mount_w_per_m": ["3.05 W/ft", "3.05 W/ft", "from 0.3 W/ft to 12.19 W/ft"],
            "open_air_degc": ["77 °F", "77 °F", "from -4 °F to 140 °F"],
        },
    }
    for units, rules in said.items():
        quiet_page.context.add_cookies([{"name": "units", "value": units, "url": site}])
        quiet_page.goto(f"{site}/limits")
        for rule, cells in rules.items():
            row = quiet_page.get_by_role("row").filter(has_text=rule)
            expect(row.get_by_role("cell")).to_have_text([rule, *cells])


def test_the_volts_along_a_run_are_told_in_the_readers_units(quiet_page: Page, site: str) -> None:
    for units, sign, axis in (("metric", "4.75 m", "metres"), ("us", "15.58 ft", "feet")):
        quiet_page.context.add_cookies([{"name": "units", "value": units, "url": site}])
        quiet_page.goto(f"{site}/supplies/PS-05")
        drawing = quiet_page.locator(".volts svg")
        expect(drawing.locator("desc")).to_contain_text(f"{sign} from the start")
        expect(drawing).to_contain_text(f"{axis} from the start")
