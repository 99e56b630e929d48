"""One unit put in the place of another from a phone: what could, what it changes, and taking it back."""

import httpx
import pytest
from playwright.sync_api import Page, expect

from tests.web.conftest import put_on, violations


def put_in(at: Page) -> None:
    """From what somebody sees of BT-03 to the swap done."""
    at.get_by_role("link", name="Take BT-03").click()
    expect(at.locator("h1")).to_have_text("Put BT-03 in for BT-11?")
    expect(at.locator(".caution")).to_contain_text("A pack that is swollen, hot or was dropped is retired")
    expect(at.locator(".differs")).to_contain_text("B12-10 instead of B12-3")
    at.get_by_role("button", name="Put BT-03 in for BT-11").click()
    expect(at.locator("h1")).to_have_text("BT-03 is in for BT-11")
    expect(at.locator("main")).to_contain_text("SQ-23/1: BT-11 output 1 → BT-03 output 1")


def test_two_taps_from_what_is_dark_to_another_pack_and_back(own_site: str, quiet_page: Page) -> None:
    """A pack of 10 Ah mends the robe whose own dies at minute 156."""
    put_on(quiet_page, own_site, "red", "phone")
    quiet_page.goto(f"{own_site}/elements/SQ-23")
    best = quiet_page.locator(".swaps .offers li").first
    expect(best).to_contain_text("BT-03")
    assert violations(quiet_page) == []
    put_in(quiet_page)
    assert violations(quiet_page) == []
    quiet_page.goto(f"{own_site}/batteries/BT-11/swaps/BT-03?show=SQ&of=SQ-23")
    expect(quiet_page.locator("h1")).to_have_text("BT-03 is in for BT-11")
    quiet_page.get_by_role("link", name="SQ-23").last.click()
    expect(quiet_page.locator(".ways")).to_contain_text("BT-03")
    expect(quiet_page.locator(".past")).to_contain_text(
        "BT-03 put in for BT-11. BT-11 · 1, DC-44 · 1 → BT-03 · 1, DC-44 · 1"
    )

    quiet_page.locator(".past").get_by_role("link", name="S-001").click()
    quiet_page.get_by_role("button", name="Take it back").click()
    expect(quiet_page.locator("h1")).to_have_text("BT-11 is back, BT-03 is free again")
    quiet_page.goto(f"{own_site}/elements/SQ-23")
    expect(quiet_page.locator(".ways")).to_contain_text("BT-11")
    expect(quiet_page.locator(".past li").first).to_contain_text("S-001 taken back")


def test_the_same_without_script_and_the_fault_and_the_note_are_on_record(
    own_site: str, scriptless: Page
) -> None:
    scriptless.goto(f"{own_site}/elements/SQ-23")
    scriptless.get_by_role("link", name="Swap BT-11").click()
    expect(scriptless.locator("h1")).to_have_text("BT-03 can stand in for BT-11, with differences")
    put_in(scriptless)
    [fault] = [one for one in httpx.get(f"{own_site}/api/v1/faults").json() if one["unit"] == "BT-11"]
    assert (fault["symptom"], fault["swapped_for"]) == ("It gives nothing", "BT-03")
    expect(scriptless.locator(".record")).to_contain_text(fault["number"])
    notes = httpx.get(f"{own_site}/api/v1/notes", params={"about": "SQ"}).json()
    assert any(one["text"].startswith("BT-03 is in for BT-11: It gives nothing") for one in notes)
    scriptless.goto(f"{own_site}/batteries/BT-11")
    expect(scriptless.locator(".past")).to_contain_text(
        "S-001: BT-03 put in for BT-11 in SQ: It gives nothing"
    )


def test_what_is_with_another_show_is_taken_in_first_and_then_put_in(at: Page, own_site: str) -> None:
    """Only DC-31 has twelve channels; FR, which is dark, has it."""
    at.goto(f"{own_site}/decoders/DC-32/swaps?show=SQ&of=SQ-09")
    expect(at.locator("h1")).to_have_text("Whatever could stand in for DC-32 has a hitch")
    [offer] = at.locator(".offers li").all()
    expect(offer).to_contain_text("take it back from FR first")
    expect(offer.get_by_role("link", name="Take DC-31", exact=True)).to_have_count(0)
    expect(at.locator("main")).to_contain_text("This would help: one more D12")
    at.get_by_text("Why others will not do").click()
    expect(at.locator("details")).to_contain_text("it has 4 channels; 8 are used on DC-32")
    offer.get_by_role("link", name="Take DC-31 in first").click()
    expect(at.get_by_label("Tags")).to_have_value("DC-31")
    at.get_by_role("button", name="It is back").click()
    expect(at).to_have_url(f"{own_site}/decoders/DC-32/swaps?show=SQ&of=SQ-09")
    expect(at.locator(".offers li").get_by_role("link", name="Take DC-31", exact=True)).to_be_visible()


def test_a_swap_that_is_refused_because_another_show_has_it_leads_to_where_it_is_taken_in(
    scriptless: Page, site: str
) -> None:
    scriptless.goto(f"{site}/decoders/DC-32/swaps/DC-31?show=SQ")
    expect(scriptless.locator("main")).to_contain_text("DC-31 is with FR until 30 Nov 2026")
    scriptless.get_by_role("link", name="Take DC-31 in first").click()
    expect(scriptless.get_by_label("Tags")).to_have_value("DC-31")


def test_where_nothing_hangs_on_it_the_page_of_the_feed_stays_whole(site: str) -> None:
    part = httpx.get(f"{site}/supplies/PS-13/swaps/best", params={"of": "SQ-09"})
    assert part.status_code == 200
    assert "PS-13 is in no kept plan" in part.text
    refused = httpx.get(f"{site}/supplies/DC-32/swaps")
    assert refused.status_code == 404
    assert "DC-32 is a decoder" in refused.text


def test_what_changed_meanwhile_is_said_and_what_was_typed_stays(own_site: str, scriptless: Page) -> None:
    first = f"{own_site}/batteries/BT-11/swaps/BT-03?show=SQ&of=SQ-23"
    scriptless.goto(first)
    scriptless.get_by_label("It does not last").check()
    scriptless.get_by_label("In your words").fill("dies in act two")
    other = scriptless.context.new_page()
    other.goto(f"{own_site}/batteries/BT-11/change")
    other.get_by_label("Where now").fill("in the van")
    other.get_by_role("button", name="Keep").click()
    scriptless.get_by_role("button", name="Put BT-03 in for BT-11").click()
    expect(scriptless.get_by_role("alert")).to_contain_text("changed since you read it")
    expect(scriptless.get_by_label("In your words")).to_have_value("dies in act two")
    expect(scriptless.get_by_label("It does not last")).to_be_checked()
    scriptless.get_by_role("button", name="Put BT-03 in for BT-11").click()
    expect(scriptless.locator("main")).to_contain_text("It does not last; dies in act two")


def test_what_puts_something_over_a_limit_wants_a_reason(own_site: str, scriptless: Page) -> None:
    """99.84 W of the attic windows on a supply of 110 W, which may carry 88 W for hours (× 0.80)."""
    forms = (
        ("supply-models", {"f-model": "S110", "f-volts": "24", "f-rated": "110", "f-output_cap": "6.25",
                           "f-efficiency": "90 %", "f-full_to": "60", "f-derate": "2.5", "f-hottest": "80"}),
        ("supplies", {"f-tag": "PS-71", "f-model": "S110"}),
    )  # fmt: skip
    for kind, typed in forms:
        scriptless.goto(f"{own_site}/add/{kind}")
        for more in scriptless.locator("details.more summary").all():
            more.click()
        for name, text in typed.items():
            scriptless.locator(f"[id='{name}']").fill(text)
        scriptless.get_by_role("button", name="Keep").click()
    scriptless.goto(f"{own_site}/supplies/PS-25/swaps?show=SQ&of=SQ-09")
    weak = scriptless.locator(".offers li").filter(has_text="PS-71")
    expect(weak.locator(".st.over").first).to_be_visible()
    weak.get_by_role("link", name="Take PS-71").click()
    expect(scriptless.locator(".caution")).to_contain_text("isolate and prove dead before opening")
    why = scriptless.get_by_label("Why it is done all the same")
    asked = httpx.post(f"{own_site}/supplies/PS-25/swaps/PS-71", data={"choice": "hot", "show": "SQ"})
    assert asked.status_code == 422
    assert "over a limit" in asked.text
    why.fill("no")
    assert not why.evaluate("field => field.checkValidity()")
    why.fill("one scene only, measured")
    scriptless.get_by_role("button", name="Put PS-71 in for PS-25").click()
    expect(scriptless.locator("main")).to_contain_text("despite limits: one scene only, measured")


def test_what_is_only_exchanged_gets_no_fault_record(own_site: str, scriptless: Page) -> None:
    scriptless.goto(f"{own_site}/batteries/BT-11/swaps/BT-03")
    scriptless.get_by_label("Nothing: it is only exchanged").check()
    scriptless.get_by_role("button", name="Put BT-03 in for BT-11").click()
    expect(scriptless.locator("h1")).to_have_text("BT-03 is in for BT-11")
    assert "Fault record" not in scriptless.locator(".record").inner_text()
    assert all(one["unit"] != "BT-11" for one in httpx.get(f"{own_site}/api/v1/faults").json())


@pytest.mark.parametrize(
    ("path", "said"),
    [
        # 311.04 W of 256 W (320 W × 0.80); 12.96 A of 10.64 A (13.3 A × 0.80).
        ("PS-01", ("PS-01 carries 311 W of the 256 W we let it carry", "12.96 A of 10.64 A")),
        # Each output 3.20 A (4.0 A × 0.80) at 24 V.
        ("PS-11", ("PS-11 output 1 carries 77 W of the 77 W we let it carry", "3.2 A of 3.2 A")),
    ],
)
def test_a_supply_and_each_output_has_its_bar(
    quiet_page: Page, site: str, path: str, said: tuple[str, str]
) -> None:
    quiet_page.goto(f"{site}/supplies/{path}")
    expect(quiet_page.get_by_role("img", name=said[0]).first).to_be_visible()
    expect(quiet_page.locator(".unit-bars").first).to_contain_text(said[1])


def test_a_supply_leads_to_what_could_stand_in_by_show(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/supplies/PS-25")
    quiet_page.get_by_role("link", name="Swap PS-25").click()
    expect(quiet_page.locator(".offers li")).to_have_count(5)
    expect(quiet_page.locator(".offers li").last).to_contain_text("PS-04")
