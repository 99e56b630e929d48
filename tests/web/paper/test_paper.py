"""Papers of a show: read on a phone, printed under a number, taken away as files."""

import html
import re
from io import BytesIO

import httpx
import pytest
from playwright.sync_api import BrowserContext, Page, expect
from pypdf import PdfReader
from python_calamine import CalamineWorkbook

from service.paper.prints.registry import PAPERS
from tests.web.conftest import is_sideways, put_on, until
from tests.web.paper.files import pdf_text


def test_papers_are_offered_of_the_show_on_stage(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/paper")
    expect(quiet_page.locator("h1")).to_have_text("Paper for The Sleet Queen")
    quiet_page.get_by_role("link", name="Trench Lantern").click()
    expect(quiet_page.locator("h1")).to_have_text("Paper for Trench Lantern")
    quiet_page.get_by_role("link", name="Feed sheet").click()
    expect(quiet_page.locator("h1")).to_contain_text("over a limit")


def test_an_empty_house_is_told_what_comes_first(quiet_page: Page, empty_site: str) -> None:
    quiet_page.goto(f"{empty_site}/paper")
    expect(quiet_page.locator("h1")).to_have_text("There is nothing to print yet")
    expect(quiet_page.locator("main").get_by_role("link", name="Bring in a sheet")).to_be_visible()


def test_the_headline_is_the_finding_and_ends_in_a_move(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/paper/feed-sheet?show=SQ")
    expect(quiet_page.locator("h1")).to_have_text("4 supplies are over a limit")
    head = quiet_page.locator(".headrow", has_text="PS-01")
    expect(head).to_contain_text("311 W of 256 W, 121.5 %")
    expect(head).to_contain_text("55 W too much")
    expect(head).to_contain_text("Put it right: move SQ-17 with DC-21 to PS-03")


def test_figures_are_in_the_units_of_the_reader(quiet_page: Page, site: str) -> None:
    quiet_page.context.add_cookies([{"name": "units", "value": "us", "url": site}])
    quiet_page.goto(f"{site}/paper/lead-list?show=SQ")
    expect(quiet_page.locator("tr", has_text="SQ-21/1").first).to_contain_text("39.37 ft")


@pytest.mark.parametrize("name", PAPERS)
def test_what_is_on_the_screen_to_lead_elsewhere_is_not_on_paper(site: str, name: str) -> None:
    answer = httpx.get(f"{site}/paper/{name}.pdf?show=SQ", timeout=60)
    assert answer.headers["content-type"] == "application/pdf"
    assert "Season" not in pdf_text(answer.content)


def test_a_long_paper_repeats_its_heads_on_every_page(site: str) -> None:
    answer = httpx.get(f"{site}/paper/address-sheet.pdf?show=SQ", timeout=60)
    pages = [page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages]
    assert len(pages) > 1
    assert all("Slot" in page and "Colour" in page for page in pages)


def test_figures_of_the_file_are_those_of_the_page(site: str) -> None:
    text = pdf_text(httpx.get(f"{site}/paper/feed-sheet.pdf?show=SQ", timeout=60).content)
    assert "311 W of 256 W, 121.5 %" in text
    assert "DC-32 · 3 3/053 SQ-09 Attic window 3 12.5 W 0.52 A" in text


def test_a_print_has_a_number_and_the_next_reader_sees_what_moved_since(
    scriptless: Page, own_site: str
) -> None:
    scriptless.goto(f"{own_site}/paper/feed-sheet?show=SQ")
    scriptless.get_by_role("button", name="Print", exact=True).click()
    expect(scriptless.locator(".revision")).to_contain_text("Print number 1.")
    expect(scriptless.locator(".revision")).to_contain_text("Print it from your browser’s menu")
    scriptless.goto(f"{own_site}/paper/feed-sheet?show=SQ")
    expect(scriptless.locator(".revision")).to_contain_text("Last print: number 1, Feed sheet")
    expect(scriptless.locator(".revision")).to_contain_text("No feed moved since.")
    etag = httpx.get(f"{own_site}/api/v1/elements/SQ-09").headers["etag"]
    moved = httpx.patch(
        f"{own_site}/api/v1/elements/SQ-09", json={"place": "SL-DL"}, headers={"If-Match": etag}
    )
    assert moved.status_code == 200, moved.text
    scriptless.reload()
    scriptless.get_by_role("link", name="One thing moved since.").click()
    expect(scriptless.locator("h1")).to_have_text("One thing moved since print 1")
    expect(scriptless.locator("main")).to_contain_text("SQ-09/1")
    # What was printed under a number is no longer that.
    scriptless.goto(f"{own_site}/paper/feed-sheet?show=SQ&revision=1")
    expect(scriptless.locator(".revision")).not_to_contain_text("Print number 1.")


def test_with_script_the_printer_is_offered_at_once(
    context: BrowserContext, quiet_page: Page, own_site: str
) -> None:
    context.add_init_script("window.print = () => { window.printed = true }")
    quiet_page.goto(f"{own_site}/paper/lead-list?show=SQ")
    quiet_page.get_by_role("button", name="Print", exact=True).click()
    expect(quiet_page.locator(".revision")).to_contain_text("Print number 1.")
    until(quiet_page, "window.printed === true")


def test_a_numbered_file_says_its_number(own_site: str) -> None:
    answer = httpx.post(
        f"{own_site}/paper/lead-list/print",
        data={"show": "sq", "to": "pdf"},
        follow_redirects=True,
        timeout=60,
    )
    assert "Print number 1." in pdf_text(answer.content)
    assert "Not a numbered print." in pdf_text(
        httpx.get(f"{own_site}/paper/lead-list.pdf?show=SQ", timeout=60).content
    )


def test_a_spreadsheet_has_the_rows_of_the_page(site: str) -> None:
    book = httpx.get(f"{site}/paper/feed-sheet.xlsx?show=SQ").content
    rows = CalamineWorkbook.from_filelike(BytesIO(book)).get_sheet_by_name("Feed sheet").to_python()
    heads = rows[0]
    first = next(dict(zip(heads, row, strict=True)) for row in rows if "SQ-09" in row)
    assert (first["Supply"], first["Output"], first["Load W"]) == ("PS-25", 1.0, 12.48)
    text = httpx.get(f"{site}/paper/feed-sheet.csv?show=SQ").content
    assert text.startswith(b"\xef\xbb\xbfSupply,")
    assert len(text.decode("utf-8-sig").splitlines()) == len(rows)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("soon", "'soon' is no point in time of a show. Give since as a day"),
        ("2026-13-40", "2026-13-40 is not a day of the calendar"),
        ("plan:99", "SQ has no plan 99. Its latest is plan 1."),
        ("print:99", "SQ has no print 99. Nothing of it was printed yet."),
        ("2099-01-01", "1 Jan 2099 is still to come. Give since as a day up to today"),
        ("2020-01-01", "SQ was not on record on 1 Jan 2020"),
    ],
)
@pytest.mark.parametrize("name", ["changes", "label-changes"])
def test_a_point_in_time_that_cannot_be_comes_back_in_the_form(
    site: str, name: str, typed: str, said: str
) -> None:
    answer = httpx.get(f"{site}/paper/{name}", params={"show": "SQ", "since": typed})
    assert answer.status_code in (404, 422)
    text = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())
    assert said[:1].upper() + said[1:] in text
    assert f'value="{typed}"' in answer.text


def test_changes_are_asked_since_a_day_or_a_plan(scriptless: Page, site: str) -> None:
    scriptless.goto(f"{site}/paper/changes?show=SQ")
    scriptless.get_by_label("Since").fill("plan:1")
    scriptless.get_by_role("button", name="Show").click()
    expect(scriptless.locator("h1")).to_have_text("No feed moved since plan 1")
    for day in ("25 Nov 2026", "2026-11-25"):
        scriptless.get_by_label("Since").fill(day)
        scriptless.get_by_role("button", name="Show").click()
        expect(scriptless.locator("h1")).to_have_text("No feed moved since 25 Nov 2026")
        expect(scriptless.get_by_label("Since")).to_have_value(day)
    scriptless.get_by_label("Since").fill("yesterday")
    scriptless.get_by_role("button", name="Show").click()
    expect(scriptless.get_by_role("alert")).to_contain_text("is no point in time of a show")
    expect(scriptless.get_by_label("Since")).to_have_value("yesterday")


def test_a_walk_can_be_ticked_on_a_narrow_phone(quiet_page: Page, site: str) -> None:
    put_on(quiet_page, site, "red", "narrow")
    quiet_page.goto(f"{site}/paper/half-hour-check?show=SQ")
    assert not is_sideways(quiet_page)
    window = quiet_page.locator("tr", has_text="Attic window 3")
    for said in ("PS-25 · 1", "3/053"):
        expect(window).to_contain_text(said)
    box = window.locator(".tick").bounding_box()
    assert box is not None
    assert box["height"] >= 24
