"""A house with nothing on record: what to do first, step by step, by form alone."""

import re

import httpx
import pytest
from playwright.sync_api import Page, expect

from tests.web.conftest import hindrances, put_on

# (button, what is filled in, what is chosen): a small house, after the demonstration season.
FORMS = (
    ("Add a tape", {"Tape": "NW24", "Volts": "24", "Emitters": "W=9.6 W/m", "Pitch": "50 mm",
                    "Max run": "10"}),
    ("Add a kind of supply", {"Model": "S150", "Volts": "24", "Rated": "150", "Output cap": "6.25",
                              "Full to": "40", "Derate": "2.5", "Hottest": "70"}),
    ("Add a supply", {"Tag": "PS-61", "Model": "S150"}),
    ("Add a kind of decoder", {"Model": "D4", "Channels": "4", "Channel": "5", "Total": "15",
                               "Lowest": "12", "Highest": "24", "PWM": "4000"}),
    ("Add a decoder", {"Tag": "DC-61", "Model": "D4"}),
)  # fmt: skip


def test_what_no_plan_goes_without_is_asked_for_at_once(empty_site: str, scriptless: Page) -> None:
    for plural, labels in (
        ("supply-models", ("Full to", "Derate", "Hottest")),
        ("decoder-models", ("Channel", "Total")),
        ("battery-models", ("Max current",)),
    ):
        scriptless.goto(f"{empty_site}/add/{plural}")
        for label in labels:
            field = scriptless.get_by_label(re.compile(rf"^{label}\b.*no plan uses it while this is blank"))
            expect(field).to_be_visible()


def fill(at: Page, typed: dict[str, str]) -> None:
    for more in at.locator("details.more").all():
        more.locator("summary").click()
    for label, text in typed.items():
        field = at.get_by_label(re.compile(rf"^{label}\b")).first
        if field.evaluate("field => field.tagName") == "SELECT":
            field.select_option(text)
        else:
            field.fill(text)


@pytest.mark.parametrize("has_script", [True, False])
def test_the_first_button_of_an_empty_house_leads_to_a_kept_plan(
    empty_site: str, quiet_page: Page, scriptless: Page, has_script: bool
) -> None:
    at = quiet_page if has_script else scriptless
    put_on(at, empty_site, "day", "phone")
    at.goto(empty_site)
    expect(at.locator("h1")).to_have_text("From nothing to a first plan")
    for number, (button, typed) in enumerate(FORMS, 1):
        at.locator(".first-acts").get_by_role("link", name=button).click()
        fill(at, typed)
        at.get_by_role("button", name="Keep").click()
        expect(at.locator("h1")).to_have_text(f"{number} of 9 steps are done")
        expect(at.locator(".steps .done")).to_have_count(number)
    at.locator(".first-acts").get_by_role("link", name="Add a show").click()
    fill(at, {"Title": "The Lamp House", "Code": "LH", "Where it plays": "Slipway", "Mains": "230",
              "First day": "2026-11-01", "Last performance": "2026-12-20"})  # fmt: skip
    at.get_by_role("button", name="Add a show").click()
    at.goto(empty_site)
    at.locator(".first-acts").get_by_role("link", name="Add an element").click()
    fill(
        at,
        {"Tag": "LH-1", "Name": "Sign", "Tape": "NW24", "Pieces": "2 m", "Lead to": "5 m", "Wire": "18 AWG"},
    )
    at.get_by_role("button", name="Add it", exact=True).click()
    at.goto(empty_site)
    at.locator(".first-acts").get_by_role("button", name="Work out the feeds").click()
    expect(at.get_by_role("button", name="Keep this plan")).to_be_visible(timeout=90_000)
    at.goto(empty_site)
    at.locator(".first-acts").get_by_role("link", name="Look at the plan").click()
    at.get_by_role("button", name="Keep this plan").click()
    expect(at.get_by_role("status").filter(has_text="is kept")).to_be_visible()
    at.goto(empty_site)
    assert at.url == f"{empty_site}/find"
    at.goto(f"{empty_site}/elements/LH-1")
    expect(at.locator(".ways")).to_contain_text("PS-61")


def test_everybody_can_read_the_first_page(empty_site: str, quiet_page: Page) -> None:
    quiet_page.goto(f"{empty_site}/first")
    assert hindrances(quiet_page, "phone", "narrow", "desk") == []


def test_a_program_is_led_to_the_interface_and_a_house_at_work_to_its_feeds(site: str) -> None:
    def leads_to(accept: str) -> str:
        return httpx.get(site, headers={"Accept": accept}).headers["location"]

    assert leads_to("application/json") == "/api/v1"
    assert leads_to("text/html") == "/find"


def test_a_step_that_was_taken_wrong_comes_back_and_still_leads_on(empty_site: str, scriptless: Page) -> None:
    scriptless.goto(f"{empty_site}/first")
    scriptless.get_by_role("link", name="Add a tape").click()
    scriptless.get_by_label("Tape").fill("NW24")
    scriptless.get_by_role("button", name="Keep").click()
    expect(scriptless.get_by_role("alert")).to_contain_text("Nothing was stored yet")
    fill(scriptless, FORMS[0][1])
    scriptless.get_by_role("button", name="Keep").click()
    assert scriptless.url == f"{empty_site}/first"
