"""A show from what is over to a kept plan, for somebody at a desk and for somebody without script."""

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import httpx
import pytest
from playwright.sync_api import Page, expect
from sqlalchemy import select

from service.planning.records import Plan, PlanStatus
from service.planning.snapshot.show import find_production
from service.store.types import utc_now
from service.store.work import Store
from tests.web.conftest import is_sideways, put_on, violations

SQ = "/productions/SQ"
MOVE = "Move Mirror frame with DC-21 to PS-03"


@pytest.fixture
def own_store(own_site: str, tmp_path: Any) -> Store:
    """The store behind `own_site`."""
    assert own_site
    return Store(f"sqlite:///{tmp_path / 'season.db'}")


def test_the_shows_are_listed_by_when_they_are_in_the_house(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/find")
    quiet_page.get_by_role("link", name="Shows").click()
    assert quiet_page.url == f"{site}/productions"
    titles = quiet_page.locator(".show-list b").all_inner_texts()
    assert titles[:2] == ["The Flask Room", "The Sleet Queen"]
    assert quiet_page.get_by_role("heading", name="To come", exact=True).is_visible()
    quiet_page.get_by_role("link", name="The Sleet Queen").click()
    expect(quiet_page.get_by_role("heading", level=1)).to_have_text("The Sleet Queen")


def test_a_show_says_how_it_stands_and_what_feeds_each_element(quiet_page: Page, site: str) -> None:
    quiet_page.goto(site + SQ)
    said = quiet_page.locator(".headed p").first
    expect(said).to_contain_text("24 elements, 23 fed.")
    expect(said).to_contain_text("One element has no feed yet.")
    # Worked by hand from the season's sheets: PS-25 output 1, DC-32 channel 3, universe 3, slot 51 + 3 - 1.
    row = quiet_page.locator("#SQ-09")
    for cell in ("Attic window 3", "PS-25 · 1", "DC-32 ch 3", "3/053", "NW24"):
        expect(row).to_contain_text(cell)
    expect(quiet_page.locator("#SQ-19")).to_contain_text("No feed yet")


def test_a_show_that_is_over_tells_only_what_it_should_have_given_back(quiet_page: Page, site: str) -> None:
    """DC-03 and PS-02 are 22 days late from CO, by the sheets of the season."""
    quiet_page.goto(f"{site}/productions/CO")
    heads = quiet_page.locator(".faulty h3").all_inner_texts()
    assert [head.partition(" is overdue 22 days")[0].strip() for head in heads] == ["DC-03", "PS-02"]
    expect(quiet_page.get_by_role("button", name="Work out the feeds")).to_have_count(0)


@pytest.mark.parametrize("code", ["SQ", "TL"])
def test_as_much_is_to_watch_as_the_report_lists(site: str, code: str) -> None:
    report = httpx.get(f"{site}/api/v1/reports/over-limit", params={"production": code}, timeout=60).json()
    listed = [row for row in report["rows"] if row["verdict"] == "watch"]
    assert listed
    assert f"{len(listed)} to watch" in httpx.get(f"{site}/productions/{code}", timeout=60).text


def test_a_load_is_drawn_with_its_limit_and_said_in_words(quiet_page: Page, site: str) -> None:
    """311.04 W on 320 W x 0.80 = 256 W is 55 W over; the upright stands at 80 % of every bar."""
    quiet_page.goto(site + SQ)
    bar = quiet_page.get_by_role("img", name="PS-01 carries 311 W of the 256 W we let it carry")
    assert bar.locator("line.upright").get_attribute("x1") == "80.0%"
    assert bar.locator("rect.tone0, rect.tone1").count() == 4
    expect(quiet_page.locator(".bars li", has_text="PS-01")).to_contain_text("55 W over")


def test_addresses_are_drawn_and_a_clash_is_marked(quiet_page: Page, site: str) -> None:
    quiet_page.goto(site + SQ)
    clash = quiet_page.locator(".universes li", has_text="Universe 3").first
    assert clash.locator("svg .clash").count() == 1
    clash.get_by_text("The same as a table").click()
    expect(clash.locator(".slots-of")).to_contain_text("043–047 DC-23")


def test_elements_are_found_while_typing_and_by_what_is_wrong(quiet_page: Page, site: str) -> None:
    quiet_page.goto(site + SQ)
    quiet_page.get_by_role("searchbox").press_sequentially("ps-25")
    expect(quiet_page.locator(".el tbody tr[id]")).to_have_count(8)
    quiet_page.get_by_role("link", name="No feed 1").click()
    expect(quiet_page.locator(".el tbody tr[id]")).to_have_count(1)
    expect(quiet_page.locator(".el")).to_contain_text("Lamp post B")


@pytest.mark.parametrize("script", [True, False])
def test_one_move_mends_what_is_over_and_is_on_record_with_its_name(
    own_site: str, own_store: Store, page: Page, scriptless: Page, script: bool
) -> None:
    """63.36 W go from PS-01 (311.04 W) to PS-03 (184.32 W): 247.68 W on each, of 256 W."""
    at = page if script else scriptless
    at.goto(own_site + SQ)
    at.get_by_role("link", name=MOVE).click()
    expect(at.get_by_role("heading", level=1)).to_have_text(f"{MOVE}?")
    changed = at.locator("main")
    expect(changed).to_contain_text("2 things are over a limit no more")
    expect(changed).to_contain_text("PS-01 output 1, DC-21 channel 1-2 → PS-03 output 1, DC-21 channel 1-2")
    expect(changed).to_contain_text("One lead to label anew")
    assert at.get_by_role("img", name="PS-03 carries 248 W of the 256 W we let it carry").is_visible()
    at.get_by_label("Your name").fill("A. Electrician")
    at.get_by_role("button", name="Do it").click()
    expect(at.get_by_role("status").filter(has_text="Done:")).to_contain_text(MOVE[1:])
    expect(at.locator("#SQ-17")).to_contain_text("PS-03 · 1")
    assert at.get_by_text("PS-01 carries").count() == 0
    assert at.get_by_role("link", name=MOVE).count() == 0
    with own_store.lookup() as connection:
        by = connection.exec_driver_sql(
            "select distinct \"by\" from audit where kind = 'allotments' and what = 'changed'"
        )
        assert [row[0] for row in by] == ["A. Electrician"]


def test_a_move_that_puts_something_else_over_says_so_and_wants_a_reason(
    own_site: str, quiet_page: Page
) -> None:
    """Lamp post B would hang 10.8 W more on PS-06, which is plugged into MD2, which is over already."""
    quiet_page.goto(own_site + SQ)
    quiet_page.get_by_role("link", name=re.compile("^Feed it from DC-22")).click()
    expect(quiet_page.locator("main")).to_contain_text("But this would be over: MD2 carries 17.25 A")
    why = quiet_page.get_by_label("Why it is done all the same")
    quiet_page.get_by_role("button", name="Do it").click()
    assert why.evaluate("field => field.matches(':invalid')")
    why.fill("the fog machine is out tonight")
    quiet_page.get_by_role("button", name="Do it").click()
    expect(quiet_page.locator("#SQ-19")).to_contain_text("PS-06 · 1")


def test_a_move_that_is_another_by_now_is_not_done(own_site: str, scriptless: Page, page: Page) -> None:
    scriptless.goto(own_site + SQ)
    scriptless.get_by_role("link", name=MOVE).click()
    page.goto(own_site + SQ)
    page.get_by_role("link", name=MOVE).click()
    page.get_by_role("button", name="Do it").click()
    expect(page.locator("#SQ-17")).to_contain_text("PS-03 · 1")
    scriptless.get_by_role("button", name="Do it").click()
    expect(scriptless.locator("main")).to_contain_text("PS-01 is not over that limit any more")
    scriptless.get_by_role("link", name="Go to that page").click()
    assert scriptless.url == own_site + SQ


@pytest.mark.parametrize("script", [True, False])
def test_the_feeds_are_worked_out_compared_and_kept(
    own_site: str, page: Page, scriptless: Page, script: bool
) -> None:
    at = page if script else scriptless
    put_on(at, own_site, "day", "phone")
    at.goto(own_site + SQ)
    at.get_by_role("button", name="Work out the feeds").click()
    # It shows how far it is and then, by itself, what came of it.
    expect(at.get_by_role("button", name="Keep this plan")).to_be_visible(timeout=60_000)
    expect(at.get_by_role("heading", level=1)).to_have_text("All 24 elements are fed, from 9 supplies")
    expect(at.locator("main")).to_contain_text("Beside plan 1, which is kept: 1 gets a feed.")
    expect(at.locator("main")).to_contain_text("3 leads to label anew")
    assert not is_sideways(at)
    assert not script or violations(at) == []
    number = at.url.rpartition("/")[2]
    at.get_by_role("button", name="Keep this plan").click()
    expect(at.get_by_role("status").filter(has_text="is kept")).to_contain_text(f"Plan {number} is kept")
    expect(at.locator("#SQ-19")).to_contain_text("PS-06 · 1")
    at.get_by_role("link", name="What changed, and what to label anew").click()
    expect(at.locator("main")).to_contain_text("The crew works from it")


def under_way(store: Store, **progress: Any) -> int:
    """A plan that somebody is working out, and how far they are; its number."""

    def action(session: Any) -> int:
        show = find_production(session, "SQ")
        last = max(session.scalars(select(Plan.number).where(Plan.production_id == show.id)), default=0)
        plan = Plan(
            production_id=show.id, number=last + 1, status=PlanStatus.WORKING, by="tests",
            from_on=show.build_start, until_on=show.return_by + timedelta(days=1), progress=progress,
        )  # fmt: skip
        session.add(plan)
        session.flush()
        return plan.number

    return store.write(action, by="tests")


def told(store: Store, number: int, change: Callable[[Plan], None]) -> None:
    def action(session: Any) -> None:
        show = find_production(session, "SQ")
        wanted = select(Plan).where(Plan.production_id == show.id, Plan.number == number)
        change(session.scalars(wanted).one())

    store.write(action, by="tests")


def test_progress_comes_by_itself_the_gap_shrinks_and_the_end_is_shown(
    own_site: str, own_store: Store, quiet_page: Page
) -> None:
    far = {"parts_done": 1, "parts": 4, "cost": 1500, "bound": 1000, "unfed": 2, "seconds": 1.0}
    number = under_way(own_store, **far)
    put_on(quiet_page, own_site, "red", "phone")
    quiet_page.goto(f"{own_site}{SQ}/plans/{number}")
    expect(quiet_page.locator("#parts-words")).to_have_text("Part 1 of 4 is done")
    expect(quiet_page.locator("#gap-words")).to_have_text("50 % more gear than the least that is proven")
    assert quiet_page.locator("[data-done]").get_attribute("width") in ("25%", "25.0%")
    assert violations(quiet_page) == []
    told(own_store, number, lambda plan: setattr(plan, "progress", far | {"parts_done": 3, "cost": 1100}))
    expect(quiet_page.locator("#parts-words")).to_have_text("Part 3 of 4 is done")
    expect(quiet_page.locator("#gap-words")).to_have_text("10 % more gear than the least that is proven")
    expect(quiet_page.locator("[data-done]")).to_have_attribute("width", "75%")
    points = quiet_page.locator("[data-gap]").get_attribute("points") or ""
    heights = [float(point.partition(",")[2]) for point in points.split()]
    # Lower on the screen is a smaller gap.
    assert heights == sorted(heights)
    assert heights[0] < heights[-1]

    def failed(plan: Plan) -> None:
        plan.status, plan.error, plan.finished_at = PlanStatus.FAILED, "the store was moved", utc_now()

    told(own_store, number, failed)
    expect(quiet_page.get_by_role("heading", level=1)).to_have_text("The feeds could not be worked out")
    expect(quiet_page.locator("main")).to_contain_text("the store was moved")


def test_without_script_the_page_looks_again_by_itself(
    own_site: str, own_store: Store, scriptless: Page
) -> None:
    number = under_way(own_store, parts_done=1, parts=2, cost=None, bound=None, unfed=0, seconds=0.1)
    scriptless.goto(f"{own_site}{SQ}/plans/{number}")
    expect(scriptless.locator("main")).to_contain_text("Part 1 of 2 is done")
    told(own_store, number, lambda plan: setattr(plan, "status", PlanStatus.CANCELLED))
    expect(scriptless.get_by_role("heading", level=1)).to_have_text(
        "It was stopped before it was done", timeout=15_000
    )


def test_what_is_under_way_can_be_stopped(own_site: str, own_store: Store, quiet_page: Page) -> None:
    number = under_way(own_store)
    told(own_store, number, lambda plan: setattr(plan, "status", PlanStatus.QUEUED))
    quiet_page.goto(f"{own_site}{SQ}/plans/{number}")
    expect(quiet_page.locator("#parts-words")).to_have_text("Waiting for its turn")
    quiet_page.get_by_role("button", name="Stop").click()
    expect(quiet_page.get_by_role("heading", level=1)).to_have_text("It was stopped before it was done")


@pytest.mark.parametrize("script", [True, False])
def test_an_element_is_changed_where_it_stands_and_what_is_wrong_is_said_at_its_field(
    own_site: str, page: Page, scriptless: Page, script: bool
) -> None:
    at = page if script else scriptless
    put_on(at, own_site, "day", "phone")
    at.goto(own_site + SQ)
    at.get_by_role("link", name="Edit Lamp post A", exact=True).click()
    row = at.locator("#SQ-18")
    row.get_by_label("Name").fill("Lamp post, left")
    row.get_by_label("Pieces, as drawn").fill("a bit")
    row.get_by_role("button", name="Keep").click()
    expect(at.locator("#SQ-18 .fault")).to_contain_text("a bit")
    assert not is_sideways(at)
    expect(at.locator("#SQ-18").get_by_label("Name")).to_have_value("Lamp post, left")
    at.locator("#SQ-18").get_by_label("Pieces, as drawn").fill("3 x 250 mm")
    at.locator("#SQ-18").get_by_role("button", name="Keep").click()
    expect(at.locator("#SQ-18")).to_contain_text("Lamp post, left")
    expect(at.get_by_role("status").filter(has_text="Done:")).to_contain_text("SQ-18")


def test_an_element_that_somebody_else_changed_meanwhile_is_not_overwritten(
    own_site: str, page: Page, scriptless: Page
) -> None:
    for at in (page, scriptless):
        at.goto(f"{own_site}{SQ}/elements/SQ-18")
    for at, name in ((page, "First"), (scriptless, "Second")):
        at.locator("#SQ-18").get_by_label("Name").fill(name)
        at.locator("#SQ-18").get_by_role("button", name="Keep").click()
    expect(page.locator("#SQ-18")).to_contain_text("First")
    expect(scriptless.locator("main")).to_contain_text("was changed since you read it")


def test_a_feed_is_locked_and_unlocked(own_site: str, quiet_page: Page) -> None:
    quiet_page.goto(f"{own_site}{SQ}/elements/SQ-18")
    quiet_page.get_by_role("button", name="Lock its feed").click()
    quiet_page.goto(f"{own_site}{SQ}?only=locked")
    expect(quiet_page.locator(".el tbody tr[id]")).to_have_count(1)
    expect(quiet_page.locator("#SQ-18")).to_contain_text("locked")
    quiet_page.goto(f"{own_site}{SQ}/elements/SQ-18")
    quiet_page.get_by_role("button", name="Unlock its feed").click()
    expect(quiet_page.get_by_role("button", name="Lock its feed")).to_be_visible()


@pytest.mark.parametrize("script", [True, False])
def test_an_empty_house_gets_a_show_and_its_first_element(
    empty_site: str, page: Page, scriptless: Page, script: bool
) -> None:
    at = page if script else scriptless
    at.goto(f"{empty_site}/productions")
    expect(at.get_by_role("heading", level=1)).to_have_text("Begin with a show")
    at.get_by_role("link", name="Add a show").click()
    for label, text in (
        ("Title", "The Paper Moon"), ("Code", "PM"), ("Where it plays", "Barn"),
        ("First day on stage", "2027-01-04"), ("Last performance", "2027-02-14"),
    ):  # fmt: skip
        at.get_by_label(label, exact=True).fill(text)
    at.get_by_role("button", name="Add a show").click()
    # A new stage wants its mains, and says so at the field.
    expect(at.locator(".fault")).to_contain_text("Mains volts there is missing")
    at.get_by_label("Mains volts there").fill("230")
    at.get_by_role("button", name="Add a show").click()
    expect(at.get_by_role("heading", level=1)).to_have_text("The Paper Moon")
    expect(at.get_by_role("heading", name="What lights up in this show?")).to_be_visible()
    at.get_by_role("link", name="Add an element").click()
    for label, text in (("Tag", "PM-01"), ("Name", "Moon rim"), ("Piece of scenery", "Moon")):
        at.get_by_label(label, exact=True).fill(text)
    at.get_by_label("Pieces, as drawn").fill("3 m")
    at.get_by_role("button", name="Add it", exact=True).click()
    expect(at.locator("#PM-01")).to_contain_text("Moon rim")
    expect(at.locator(".place")).to_have_text("Moon")


def test_nothing_shifts_while_a_show_is_drawn(page: Page, site: str) -> None:
    page.add_init_script(
        "window.shifts = 0; new PerformanceObserver(list => list.getEntries().forEach("
        "entry => { if (!entry.hadRecentInput) window.shifts += entry.value; }))"
        ".observe({type: 'layout-shift', buffered: true});"
    )
    for width in ("phone", "desk"):
        put_on(page, site, "day", width)
        page.goto(site + SQ)
        page.wait_for_load_state("networkidle")
        assert page.evaluate("window.shifts") == 0
