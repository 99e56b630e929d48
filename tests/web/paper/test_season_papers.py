"""Take, return, order and stocktake lists: on the screen, as files, under a number."""

from io import BytesIO

import httpx
import pytest
from playwright.sync_api import Page, expect
from python_calamine import CalamineWorkbook

from service.paper.prints.registry import PAPERS
from tests.web.conftest import hindrances
from tests.web.paper.files import pdf_of, pdf_text

LISTS = ("take-list?show=TL", "return-list", "order-list", "stocktake-sheet")


@pytest.mark.parametrize("path", LISTS)
def test_lists_can_be_read_by_everybody_in_every_look(quiet_page: Page, site: str, path: str) -> None:
    answer = quiet_page.goto(f"{site}/paper/{path}")
    assert answer is not None
    assert answer.status == 200
    assert hindrances(quiet_page, "narrow", "desk") == []


def test_papers_of_the_house_are_offered_beside_those_of_a_show(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/paper?show=TL")
    of_show = quiet_page.locator(".picks").first
    expect(of_show.get_by_role("listitem")).to_have_count(sum(kind.of_show for kind in PAPERS.values()))
    of_house = quiet_page.get_by_role("region", name="For the whole house")
    expect(of_house.get_by_role("listitem")).to_have_count(sum(kind.of_house for kind in PAPERS.values()))
    of_show.get_by_role("link", name="Take list").click()
    expect(quiet_page.locator("h1")).to_contain_text("cannot go yet")
    row = quiet_page.locator("tr", has_text="PS-02").first
    expect(row).to_contain_text("TL-01, TL-02")
    expect(quiet_page.locator("main")).to_contain_text("PS-02 is with CO, 22 days overdue (due 3 Nov 2026)")


def test_the_return_list_says_how_late_and_whom_it_hurts(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/paper/return-list")
    expect(quiet_page.locator("h1")).to_have_text("2 things are late, DC-03 by 22 days")
    expect(quiet_page.locator("main")).to_contain_text(
        "22 days late. TL is to have it from 4 Jan 2027 and feeds TL-01, TL-02, TL-03, TL-04, TL-05, TL-06, "
        "TL-07, TL-08 by it, 192 W."
    )


def test_the_order_list_is_its_report_on_the_page_and_in_every_file(site: str) -> None:
    report = httpx.get(f"{site}/api/v1/reports/order-list", timeout=60).json()["rows"]
    assert report
    page = httpx.get(f"{site}/paper/order-list", timeout=60).text
    file = pdf_text(pdf_of(site, "/paper/order-list.pdf"))
    book = httpx.get(f"{site}/paper/order-list.xlsx", timeout=60).content
    heads, *rows = CalamineWorkbook.from_filelike(BytesIO(book)).get_sheet_by_name("Order list").to_python()
    cells = {(row[heads.index("Act")], row[heads.index("What")], str(row[heads.index("Wanted from")])):
             dict(zip(heads, row, strict=True)) for row in rows}  # fmt: skip
    for order in report:
        assert order["item"] in page
        assert order["item"] in file
        found = cells[order["act"], order["item"], order["needed_from"]]
        assert found["How many"] == order["quantity"]
        assert (found["Need"], found["Counted in"]) == (order["wanted"], order["unit"])
        assert found["Not known"] == order["unknown"]
    assert len(rows) == len(report)
    text = httpx.get(f"{site}/paper/order-list.csv", timeout=60).content.decode("utf-8-sig")
    assert len(text.splitlines()) == len(report) + 1


def test_orders_of_one_show_are_those_that_it_wants(site: str) -> None:
    report = httpx.get(f"{site}/api/v1/reports/order-list?production=TW", timeout=60).json()["rows"]
    page = httpx.get(f"{site}/paper/order-list.csv?show=TW", timeout=60).content.decode("utf-8-sig")
    assert len(page.splitlines()) == len(report) + 1


def test_a_printed_list_says_whether_anything_was_put_on_record_since(
    scriptless: Page, own_site: str
) -> None:
    scriptless.goto(f"{own_site}/paper/take-list?show=TL")
    scriptless.get_by_role("button", name="Print", exact=True).click()
    expect(scriptless.locator(".revision")).to_contain_text("Print number 1.")
    scriptless.goto(f"{own_site}/paper/take-list?show=TL")
    expect(scriptless.locator(".revision")).to_contain_text("Nothing was put on record since.")
    # A unit goes out: no feed moves, and yet the list reads otherwise.
    gone = httpx.post(f"{own_site}/api/v1/productions/TL/issue", json={"tags": ["PS-11"]})
    assert gone.status_code < 300, gone.text
    scriptless.reload()
    expect(scriptless.locator(".revision")).to_contain_text("it may read otherwise now")
    scriptless.goto(f"{own_site}/paper/take-list?show=TL&revision=1")
    expect(scriptless.locator(".revision")).not_to_contain_text("Print number 1.")


def test_the_index_says_of_each_paper_when_it_was_printed_and_leads_to_what_moved_since(
    scriptless: Page, own_site: str
) -> None:
    for name in ("lead-list", "feed-sheet", "lead-list"):
        httpx.post(f"{own_site}/paper/{name}/print", data={"show": "SQ"}, timeout=60)
    scriptless.goto(f"{own_site}/paper?show=SQ")
    leads = scriptless.locator(".picks").first.get_by_role("listitem").filter(has_text="Lead list")
    expect(leads).to_contain_text("Print 3, ")
    leads.get_by_role("link", name="Changes since print 3").click()
    expect(scriptless.locator("h1")).to_have_text("No feed moved since print 3")
    scriptless.goto(f"{own_site}/paper?show=SQ")
    feeds = scriptless.locator(".picks").first.get_by_role("listitem").filter(has_text="Feed sheet")
    expect(feeds).to_contain_text("Print 2, ")
    scriptless.goto(f"{own_site}/paper?show=TW")
    expect(scriptless.locator("main")).not_to_contain_text("Print 3")
