"""From something dark to what feeds it, in the hand of somebody in the dark."""

import re

import httpx
import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web.conftest import put_on, until


def test_a_name_leads_to_the_feed_with_script_and_answers_while_typing(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/find")
    quiet_page.get_by_role("searchbox").press_sequentially("attic 3")
    hits = quiet_page.locator(".hits a")
    expect(hits.first).to_contain_text("Attic window 3")
    hits.first.click()
    # Worked by hand from the season's sheets: PS-25 output 1, DC-32 channel 3, universe 3, slot 51 + 3 - 1.
    answer = quiet_page.locator(".ways")
    for said in ("PS-25", "DC-32", "3/053"):
        expect(answer).to_contain_text(said)


def test_a_name_leads_to_the_feed_without_script(scriptless: Page, site: str) -> None:
    scriptless.goto(f"{site}/find")
    scriptless.get_by_role("searchbox").fill("attic 3")
    scriptless.get_by_role("button", name="Find").click()
    scriptless.get_by_role("link", name="Attic window 3").click()
    expect(scriptless.locator(".ways")).to_contain_text("PS-25")


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("sq-09", "Attic window 3"),
        ("3/53", "Attic window 3"),
        ("ps25", "PS-25"),
        ("outlet md2", "MD2"),
        ("SLEET", "The Sleet Queen"),
    ],
)
def test_tags_addresses_gear_and_shows_are_found_in_any_letters(
    quiet_page: Page, site: str, typed: str, first: str
) -> None:
    quiet_page.goto(f"{site}/find?q={typed}")
    expect(quiet_page.locator(".hits a").first).to_contain_text(first)


def test_a_key_leads_to_the_search_and_arrows_to_what_was_found(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/season")
    quiet_page.keyboard.press("/")
    box = quiet_page.get_by_role("searchbox")
    expect(box).to_be_focused()
    assert quiet_page.url == f"{site}/find#q"
    quiet_page.keyboard.type("attic 3/")
    expect(box).to_have_value("attic 3/")
    box.fill("attic")
    links = quiet_page.locator(".hits a")
    expect(links.first).to_contain_text("Attic window")
    quiet_page.keyboard.press("ArrowDown")
    expect(links.first).to_be_focused()
    quiet_page.keyboard.press("ArrowDown")
    expect(links.nth(1)).to_be_focused()
    quiet_page.keyboard.press("ArrowUp")
    quiet_page.keyboard.press("ArrowUp")
    expect(box).to_be_focused()
    quiet_page.keyboard.press("ArrowDown")
    quiet_page.keyboard.press("Escape")
    expect(box).to_be_focused()
    quiet_page.keyboard.press("Escape")
    expect(box).to_have_value("")
    quiet_page.keyboard.press("Escape")
    expect(box).not_to_be_focused()
    quiet_page.keyboard.press("/")
    quiet_page.keyboard.type("attic 3")
    expect(links.first).to_contain_text("Attic window 3")
    quiet_page.keyboard.press("ArrowDown")
    quiet_page.keyboard.press("Enter")
    expect(quiet_page.locator("h1")).to_have_text("Attic window 3")


def test_single_keys_can_be_switched_off(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/wishes")
    quiet_page.get_by_label("off", exact=True).check()
    quiet_page.get_by_role("button", name="Keep").click()
    expect(quiet_page.get_by_label("off", exact=True)).to_be_checked()
    quiet_page.goto(f"{site}/find")
    quiet_page.keyboard.press("/")
    expect(quiet_page.get_by_role("searchbox")).not_to_be_focused()
    quiet_page.goto(f"{site}/season")
    quiet_page.keyboard.press("/")
    assert quiet_page.url == f"{site}/season"


def test_how_pages_are_worked_is_one_link_away(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/find")
    quiet_page.get_by_role("link", name="How pages are worked").click()
    for head in ("With a keyboard", "Three looks", "Units", "Without a network"):
        expect(quiet_page.get_by_role("heading", name=head)).to_be_visible()


def test_what_is_not_there_is_said_with_what_to_try(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/find?q=<b>zz</b>")
    expect(quiet_page.locator("#hits")).to_contain_text("Nothing called “<b>zz</b>”. Try the tag")


def test_a_label_in_small_letters_leads_to_its_thing(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/l/sq-09")
    assert quiet_page.url == f"{site}/elements/SQ-09"
    quiet_page.goto(f"{site}/L/ps-25")
    assert quiet_page.url == f"{site}/supplies/PS-25"


def test_what_else_goes_dark_is_told_by_output(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/elements/SQ-09")
    others = quiet_page.locator(".pull li")
    assert [re.sub(r"\D", "", row) for row in others.locator("b").all_inner_texts()] == list("1245678")


def test_what_was_found_is_written_down_in_two_taps_and_taken_back(own_site: str, quiet_page: Page) -> None:
    put_on(quiet_page, own_site, "red", "phone")
    quiet_page.goto(f"{own_site}/elements/SQ-09")
    quiet_page.get_by_role("link", name="Say what you found").click()
    quiet_page.get_by_role("button", name="Write it down").click()
    expect(quiet_page.get_by_role("status").filter(has_text="Written down")).to_be_visible()
    expect(quiet_page.locator(".head")).to_contain_text("Dark since 25 Nov 2026: It is out")
    quiet_page.get_by_role("button", name="It works again").click()
    expect(quiet_page.get_by_role("link", name="Say what you found")).to_be_visible()
    expect(quiet_page.locator(".past")).to_contain_text("working: seen to work")


def test_a_look_is_kept_and_leads_nowhere_else(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/find")
    quiet_page.get_by_role("button", name="Night").click()
    expect(quiet_page.locator("html")).to_have_attribute("data-look", "night")
    assert quiet_page.url == f"{site}/find"


def test_lengths_are_read_as_the_reader_wishes(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/elements/SQ-09")
    expect(quiet_page.locator(".chain")).to_contain_text("1.3 m")
    quiet_page.goto(f"{site}/wishes")
    quiet_page.get_by_label("feet and inches").check()
    quiet_page.get_by_role("button", name="Keep").click()
    quiet_page.goto(f"{site}/elements/SQ-09")
    expect(quiet_page.locator(".chain")).to_contain_text("4.27 ft")


def test_without_a_network_the_feeds_of_tonight_are_there(browser: Browser, own_site: str) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(f"{own_site}/find")
    page.evaluate("navigator.serviceWorker.ready")
    until(page, "caches.match('/elements/SQ-24').then(kept => Boolean(kept))")
    context.set_offline(True)
    page.goto(f"{own_site}/elements/SQ-09")
    expect(page.locator(".ways")).to_contain_text("PS-25")
    expect(page.locator("#net")).to_contain_text("No connection. Kept on this device")
    page.goto(f"{own_site}/find?q=mirror")
    expect(page.get_by_role("searchbox")).to_have_value("mirror")
    expect(page.locator(".kept:visible")).to_have_count(1)
    expect(page.locator("[data-none]")).to_be_hidden()
    for typed in ("sq-09 attic", "3/53"):
        page.get_by_role("searchbox").fill(typed)
        expect(page.locator(".kept:visible")).to_have_count(1)
    page.get_by_role("searchbox").fill("zzz")
    expect(page.locator("[data-none]")).to_contain_text("Nothing that is kept has all these words.")
    expect(page.locator("[data-none]")).to_be_visible()
    context.close()


def test_a_word_typed_wrong_leads_to_the_nearest_that_is_known(scriptless: Page, site: str) -> None:
    scriptless.goto(f"{site}/find?q=attik+windw+3")
    told = scriptless.locator("#hits").inner_text()
    assert "Nothing called “attik windw 3”. This is for “attic window 3”." in told
    assert "Attic window 3" in told
    scriptless.goto(f"{site}/find?q=zzzzz")
    assert "Try the tag" in scriptless.locator("#hits").inner_text()
    assert scriptless.locator("#hits a").count() == 0


def test_a_tag_typed_without_its_hyphen_and_zeros_finds_it(scriptless: Page, site: str) -> None:
    scriptless.goto(f"{site}/find?q=sq9")
    assert scriptless.locator("#hits a").first.get_attribute("href") == "/elements/SQ-09"


def test_a_place_finds_what_stands_there(scriptless: Page, site: str) -> None:
    scriptless.goto(f"{site}/find?q=deck+left")
    assert scriptless.locator("#hits a", has_text="PS-25").inner_text().endswith("supply")


def test_the_way_back_leads_to_what_was_found(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/find")
    quiet_page.fill("#q", "attic window 3")
    quiet_page.locator("#hits a", has_text="Attic window 3").click()
    quiet_page.wait_for_url("**/elements/SQ-09")
    quiet_page.go_back()
    expect(quiet_page.locator("#hits a", has_text="Attic window 3")).to_be_visible()
    expect(quiet_page.locator("#q")).to_have_value("attic window 3")


def test_what_a_supply_feeds_is_listed_on_a_phone_and_drawn_at_a_desk(quiet_page: Page, site: str) -> None:
    for width, is_drawn in (("phone", False), ("desk", True)):
        put_on(quiet_page, site, "day", width)
        quiet_page.goto(f"{site}/supplies/PS-25")
        row = quiet_page.get_by_role("row", name="Attic window 3")
        expect(row).to_be_visible(visible=not is_drawn)
        expect(quiet_page.locator(".wide-chart svg")).to_be_visible(visible=is_drawn)


def test_why_nothing_feeds_it_is_said_once_for_all_its_runs(own_site: str) -> None:
    with httpx.Client(base_url=f"{own_site}/api/v1", timeout=60) as client:
        body, wait = {"from_on": "2027-01-20"}, {"Prefer": "wait=30"}
        asked = client.post("/productions/TW/plans", json=body, headers=wait).json()
        plan = f"/productions/TW/plans/{asked['number']}"
        kept = client.post(f"{plan}/keep", headers={"If-Match": client.get(plan).headers["etag"]})
        assert kept.json()["status"] == "kept", kept.text
        feeds = [client.get(f"/elements/TW-{number:02}/feed").json() for number in range(1, 13)]
    dark = [feed for feed in feeds if any(run["unfed_because"] for run in feed["runs"])]
    assert dark
    for feed in dark:
        said = httpx.get(f"{own_site}/elements/{feed['element']}").text
        assert {said.count(run["unfed_because"][1:]) for run in feed["runs"] if run["unfed_because"]} == {1}


def test_what_stands_in_a_warm_box_is_over_on_the_feed_too(quiet_page: Page, site: str) -> None:
    """PS-05 carries 184.32 W in the plinth, where that load leaves it 165.34 W (season's sheets)."""
    quiet_page.goto(f"{site}/elements/SQ-05")
    way = quiet_page.locator(".chain")
    expect(way).to_contain_text("of 165")
    expect(way.locator(".st.over")).to_contain_text("18.98 W")
    source = httpx.get(f"{site}/api/v1/elements/SQ-05/feed").json()["sources"][0]
    assert (source["enclosure"] is not None, source["limit_w"]) == (True, pytest.approx(165.34, abs=0.01))
    assert source["load_pct"] == 111.5
