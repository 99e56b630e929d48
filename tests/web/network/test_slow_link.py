"""When the network stalls, what is kept on the phone is shown instead, and says so."""

import gzip
import re
import urllib.request
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.web.conftest import until, violations
from tests.web.network.relay import Relay, relayed

NO_ANSWER = re.compile(r"^No answer from the house\. Kept on this device \d+ \w+, \d\d:\d\d")


@pytest.fixture
def line(own_site: str) -> Iterator[Relay]:
    with relayed(own_site) as relay:
        yield relay


@pytest.fixture
def phone(browser: Browser, line: Relay) -> Iterator[Page]:
    """A phone that has kept the feeds of tonight."""
    context = browser.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(f"{line.address}/find")
    page.evaluate("navigator.serviceWorker.ready")
    until(page, "caches.match('/elements/SQ-24').then(kept => Boolean(kept))")
    page.reload()
    yield page
    line.flow()
    context.close()


def test_a_stalled_answer_gives_way_to_the_kept_one(phone: Page, line: Relay) -> None:
    expect(phone.locator("#net")).to_be_hidden()
    line.stall()
    phone.goto(f"{line.address}/elements/SQ-09")
    expect(phone.locator(".ways")).to_contain_text("PS-25")
    expect(phone.locator("#net")).to_have_text(NO_ANSWER)
    assert violations(phone) == []


def test_a_search_without_an_answer_leads_to_the_kept_list(phone: Page, line: Relay) -> None:
    line.stall()
    phone.goto(f"{line.address}/find?q=attic")
    expect(phone.locator("#net")).to_have_text(NO_ANSWER)
    phone.get_by_role("searchbox").fill("sq-09 attic")
    expect(phone.locator(".kept:visible")).to_have_count(1)


def test_a_live_search_without_an_answer_says_so_until_there_is_one(phone: Page, line: Relay) -> None:
    line.stall()
    box = phone.get_by_role("searchbox")
    box.fill("sq-09")
    expect(phone.locator("#net")).to_contain_text("may not be what you asked for")
    line.flow()
    box.fill("sq-10")
    expect(phone.locator("#hits")).to_contain_text("SQ-10")
    expect(phone.locator("#net")).to_be_hidden()


def test_an_answer_that_comes_in_time_is_the_fresh_one(phone: Page, line: Relay) -> None:
    phone.goto(f"{line.address}/elements/SQ-09")
    expect(phone.locator("#net")).to_be_hidden()
    phone.get_by_role("link", name="Say what you found").click()
    phone.get_by_role("button", name="Write it down").click()
    phone.goto(f"{line.address}/elements/SQ-09")
    expect(phone.locator(".head")).to_contain_text("Dark since")


def test_a_form_that_finds_nobody_comes_back_with_what_was_typed_to_be_sent_again(
    phone: Page, line: Relay
) -> None:
    phone.goto(f"{line.address}/elements/SQ-09/found")
    phone.get_by_label("In your words").fill('rubs on the "hinge" & <b>')
    line.cut()
    phone.get_by_role("button", name="Write it down").click()
    expect(phone.locator("h1")).to_have_text("Not sent")
    expect(phone.locator("#net")).to_be_hidden()
    assert violations(phone) == []
    line.mend()
    phone.get_by_role("button", name="Send it again").click()
    expect(phone.locator(".head")).to_contain_text("Dark since")
    expect(phone.locator("main")).to_contain_text('rubs on the "hinge" & <b>')


@pytest.mark.parametrize("status", [502, 504])
def test_a_web_server_that_reaches_nobody_is_no_answer(phone: Page, line: Relay, status: int) -> None:
    phone.goto(f"{line.address}/elements/SQ-09/found")
    phone.get_by_label("In your words").fill("rubs on the hinge")
    line.lose_service(status)
    phone.get_by_role("button", name="Write it down").click()
    expect(phone.locator("h1")).to_have_text("Not sent")
    phone.goto(f"{line.address}/elements/SQ-09")
    expect(phone.locator(".ways")).to_contain_text("PS-25")
    expect(phone.locator("#net")).to_have_text(NO_ANSWER)
    phone.goto(f"{line.address}/season")
    expect(phone.locator("h1")).to_have_text("No connection")


def test_a_file_that_finds_nobody_is_to_be_chosen_again(phone: Page, line: Relay) -> None:
    phone.goto(f"{line.address}/bring-in")
    phone.get_by_label("Your file").set_input_files(
        {"name": "deputy.csv", "mimeType": "text/csv", "buffer": b"Tag,Model\nPS-99,S320\n"}
    )
    line.cut()
    phone.get_by_role("button", name="Look at it").click()
    expect(phone.locator("h1")).to_have_text("Not sent")
    expect(phone.locator("main")).to_contain_text("a file is not kept here")
    expect(phone.get_by_text("What you typed is kept here")).to_be_hidden()
    expect(phone.get_by_role("button", name="Send it again")).to_be_hidden()
    assert violations(phone) == []
    line.mend()
    phone.get_by_role("link", name="Choose the file again").click()
    expect(phone.get_by_label("Your file")).to_be_visible()


@pytest.mark.parametrize("name", ["site.css", "site.js"])
def test_what_pages_load_is_packed_for_those_who_take_it(site: str, name: str) -> None:
    ask = urllib.request.Request(f"{site}/static/any/{name}", headers={"Accept-Encoding": "gzip"})
    with urllib.request.urlopen(ask) as packed, urllib.request.urlopen(f"{site}/static/any/{name}") as plain:
        assert packed.headers["Content-Encoding"] == "gzip"
        assert gzip.decompress(packed.read()) == plain.read()
