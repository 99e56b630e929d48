"""The bench on a phone: a plan asked for, kept, done cut by cut, and a reel that turns out short."""

import re

from playwright.sync_api import Page, expect

from tests.web.conftest import hindrances, put_on

CUTTING = "/cutting"


def plan(at: Page, site: str, *titles: str) -> None:
    """A draft for those shows, on the page."""
    at.goto(site + CUTTING)
    for box in at.get_by_role("group", name="For").get_by_role("checkbox").all():
        box.uncheck()
    for title in titles:
        at.get_by_role("checkbox", name=title).check()
    at.get_by_role("button", name="Work out the cuts").click()
    expect(at.get_by_role("button", name="Keep this plan")).to_be_visible(timeout=90_000)


def test_the_bench_says_what_is_in_no_plan(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/find")
    quiet_page.get_by_role("link", name="Cutting").click()
    expect(quiet_page.locator("h1")).to_contain_text("are to be cut, and no plan is kept for them")
    expect(quiet_page.get_by_text("No plan is kept.")).to_be_visible()
    assert quiet_page.get_by_role("checkbox", name="Tidewrack").is_checked()


def test_an_empty_bench_says_where_pieces_come_from(quiet_page: Page, empty_site: str) -> None:
    quiet_page.goto(empty_site + CUTTING)
    expect(quiet_page.locator("h1")).to_have_text("Nothing is left to cut")
    expect(quiet_page.get_by_text("Pieces are drawn with the elements of a show.")).to_be_visible()


def test_a_plan_without_a_show_is_refused_with_what_was_chosen_kept(site: str, at: Page) -> None:
    at.goto(site + CUTTING)
    for box in at.get_by_role("group", name="For").get_by_role("checkbox").all():
        box.uncheck()
    at.get_by_role("checkbox", name="Reels may be bought for it").uncheck()
    at.get_by_role("button", name="Work out the cuts").click()
    expect(at.get_by_role("alert")).to_be_visible()
    assert not at.get_by_role("checkbox", name="Reels may be bought for it").is_checked()
    assert not at.get_by_role("checkbox", name="Tidewrack").is_checked()


def test_cut_after_cut_is_ticked_off_and_the_last_taken_back(own_site: str, at: Page) -> None:
    put_on(at, own_site, "night", "phone")
    plan(at, own_site, "Tidewrack")
    expect(at.locator("main")).to_contain_text("No better plan exists: that is proven.")
    # What stands on every cut list: power off, air, eyes, hands.
    expect(at.locator("main")).to_contain_text("Cut with the power off; ventilate when soldering")
    at.get_by_role("button", name="Keep this plan").click()
    head = at.locator("h1")
    expect(head).to_contain_text("cuts left, from")
    left = int(head.inner_text().split()[0])
    expect(at.locator("main")).to_contain_text("Cut with the power off; ventilate when soldering")

    said = at.locator(".next .answer dd").all_inner_texts()
    at.locator(".next").get_by_role("button", name=re.compile("^It is cut")).click()
    expect(head).to_contain_text(f"{left - 1} cuts left")
    done = at.get_by_role("status").filter(has_text="Cut: ")
    expect(done).to_contain_text("K-106")
    expect(done).to_contain_text(said[0])
    assert at.locator(".next .answer dd").all_inner_texts() != said
    at.locator(".next").get_by_role("button", name=re.compile("^Take back: ")).click()
    expect(head).to_contain_text(f"{left} cuts left")
    expect(at.get_by_role("status").filter(has_text="Taken back: ")).to_be_visible()
    assert at.locator(".next .answer dd").all_inner_texts() == said


def test_a_reel_that_is_short_is_counted_and_the_rest_planned_again(own_site: str, at: Page) -> None:
    """R-123 is sealed, 5 m by the book; the plan of Tidewrack cuts slats off it."""
    plan(at, own_site, "Tidewrack")
    at.get_by_role("button", name="Keep this plan").click()
    expect(at.locator("h1")).to_contain_text("cuts left, from")
    number = at.url.rsplit("/", 1)[1].partition("?")[0].partition("#")[0]
    roll = at.locator(".rolls > li", has=at.get_by_role("link", name="R-123"))
    roll.get_by_text("R-123 is short").click()
    roll.get_by_label("Length found on it").fill("4.43 m")
    roll.get_by_role("button", name="Count it so").click()
    expect(at.get_by_role("alert")).to_contain_text("is not a whole number of 50 mm cut pitches")
    expect(roll.get_by_label("Length found on it")).to_have_value("4.43 m")
    roll.get_by_label("Length found on it").fill("4.4 m")
    roll.get_by_role("button", name="Count it so").click()
    expect(at.locator("h1")).to_contain_text("cuts left, from", timeout=90_000)
    expect(at.locator("main")).not_to_contain_text(f"{number} for")
    at.goto(own_site + CUTTING)
    expect(at.locator(".plans").first).to_contain_text("R-123 was short: 4400 mm found")
    at.goto(f"{own_site}/reels/R-123")
    expect(at.locator("main")).to_contain_text("4.4")


def test_a_piece_of_a_reel_to_come_wants_the_tag_of_the_one_that_came(own_site: str, page: Page) -> None:
    plan(page, own_site, "Trench Lantern", "Tidewrack")
    page.get_by_role("button", name="Keep this plan").click()
    page.locator("summary", has_text="RGBW24").click()
    new = page.locator(".rolls > li", has_text="still to come").first
    field = new.get_by_label("Tag of the reel that came").first
    field.fill("R-118")
    new.get_by_role("button", name=re.compile("^It is cut")).first.click()
    expect(page.get_by_role("alert")).to_be_visible()
    expect(new.get_by_label("Tag of the reel that came").first).to_have_value("R-118")


def test_a_plan_can_be_read_and_worked_by_everybody(own_site: str, quiet_page: Page) -> None:
    plan(quiet_page, own_site, "Trench Lantern", "Tidewrack")
    assert hindrances(quiet_page, "desk", "narrow") == []
    quiet_page.get_by_role("button", name="Keep this plan").click()
    expect(quiet_page.locator("h1")).to_contain_text("cuts left, from")
    assert hindrances(quiet_page, "narrow", "desk") == []
