"""What every sheet of paper has to stand up to: its size, its time, long words, a printer without colour."""

import httpx
import pytest
from playwright.sync_api import Page, expect

from service.paper.prints.registry import PAPERS
from tests.web.paper.files import most_colour, overprinted, page_sizes_mm, pdf_of, pdf_pages

LONG = "Balustradenunterkantenbeleuchtungsstreifenabschnitt"
OF_HOUSE = [name for name, kind in PAPERS.items() if kind.of_house]


def address(name: str) -> str:
    return f"/paper/{name}.pdf?show=SQ" if PAPERS[name].of_show else f"/paper/{name}.pdf"


@pytest.mark.parametrize("name", PAPERS)
def test_every_sheet_says_what_it_is_when_it_stood_so_and_which_page_it_is(site: str, name: str) -> None:
    pages = pdf_pages(pdf_of(site, address(name)))
    for number, text in enumerate(pages, start=1):
        assert f"{number} / {len(pages)}" in text
        assert "As of 25 Nov 2026, as it stood at " in text
        assert ("The Sleet Queen SQ" in text) == PAPERS[name].of_show


@pytest.mark.parametrize("name", PAPERS)
@pytest.mark.parametrize(("units", "sides"), [("metric", (210, 297)), ("us", (216, 279))])
def test_the_sheet_is_the_one_in_the_readers_printer(
    site: str, name: str, units: str, sides: tuple[int, int]
) -> None:
    assert page_sizes_mm(pdf_of(site, address(name), units)) in ({sides}, {sides[::-1]})


@pytest.mark.parametrize("name", PAPERS)
def test_no_sheet_needs_colour(site: str, name: str) -> None:
    assert most_colour(pdf_of(site, address(name))) == 0


@pytest.mark.parametrize("name", OF_HOUSE)
def test_papers_of_the_house_name_no_show_and_have_no_number(site: str, name: str) -> None:
    [first, *_] = pdf_pages(pdf_of(site, f"/paper/{name}.pdf"))
    assert "Print number" not in first
    assert "Not a numbered print" not in first


@pytest.mark.parametrize("name", ["feed-sheet", "address-sheet", "lead-list", "half-hour-check", "take-list"])
def test_long_words_stay_in_their_columns(own_site: str, name: str) -> None:
    for what, tag, said in (
        ("elements", "SQ-09", {"name": LONG}),
        ("elements", "SQ-10", {"name": "Rim " + LONG}),
        ("places", "SL-DL", {"name": LONG}),
    ):
        at = f"{own_site}/api/v1/{what}/{tag}"
        etag = httpx.get(at).headers["etag"]
        answer = httpx.patch(at, json=said, headers={"If-Match": etag})
        assert answer.status_code == 200, answer.text
    content = pdf_of(own_site, address(name))
    assert LONG[:12] in "".join(pdf_pages(content)).replace(" ", "")
    assert overprinted(content) == []


def test_a_browser_prints_the_time_on_every_sheet_too(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/paper/address-sheet?show=SQ")
    line = quiet_page.locator("thead .eachsheet")
    expect(line).to_be_hidden()
    quiet_page.emulate_media(media="print")
    expect(line).to_be_visible()
    expect(line).to_contain_text("The Sleet Queen SQ, Address sheet. As of 25 Nov 2026, as it stood at ")
    pages = pdf_pages(quiet_page.pdf(prefer_css_page_size=True))
    assert len(pages) > 1
    assert all("as it stood at" in page for page in pages)
