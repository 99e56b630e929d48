"""The season's page: every length in the reader's units, the worst days told, the figures as files."""

import csv
import io
import re

import httpx
import pytest
from playwright.sync_api import Page, expect
from python_calamine import CalamineWorkbook

from service.web.season.chart import FIGURE_ROOM

# What is written left of the first day and reaches into the days, or beyond the drawing.
BEYOND = """svg => {
    const side = what => what.getBoundingClientRect()
    const start = side(svg.querySelector("rect.bar")).left, end = side(svg).right
    return [...svg.querySelectorAll("text")]
        .filter(text => (side(text).left < start - 1 && side(text).right > start) || side(text).right > end)
        .map(text => text.textContent)
}"""
LENGTH = r"\d+(?:\.\d+)? (?:m|ft)\b"


def as_read(site: str, path: str, units: str) -> str:
    """The page without its marks, as a reader of these units gets it."""
    answer = httpx.get(f"{site}{path}", cookies={"units": units})
    assert answer.status_code == 200, answer.text
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", answer.text))


@pytest.mark.parametrize(
    ("units", "said"),
    [
        # Metres by the sheets of the season; feet: those over 0.3048, to two places.
        ("metric", ["RGBW24: 26.2 m short", "TL 56 m, TW 11.7 m; there are 31.5 m, 10 m due in",
                    "67.7 m wanted at most", "41.5 m there", "short 26.2 m"]),
        ("us", ["RGBW24: 85.96 ft short", "TL 183.73 ft, TW 38.39 ft; there are 103.35 ft, 32.81 ft due in",
                "222.11 ft wanted at most", "136.15 ft there", "short 85.96 ft"]),
    ],
)  # fmt: skip
def test_every_length_of_the_season_has_the_readers_unit(site: str, units: str, said: list[str]) -> None:
    text = as_read(site, "/season", units)
    assert [one for one in said if one not in text] == []
    other = "ft" if units == "metric" else "m"
    assert [found for found in re.findall(LENGTH, text) if found.endswith(f" {other}")] == []
    # What is counted in pieces stays without one.
    assert "Wanted by TL 11, SQ 8; there are 12, 0 due in." in text


def test_the_drawing_says_its_lengths_to_those_who_cannot_see_it(page: Page, site: str) -> None:
    page.context.add_cookies([{"name": "units", "value": "us", "url": site}])
    page.goto(f"{site}/season")
    drawing = page.locator("svg.chart")
    expect(drawing).to_have_attribute(
        "aria-label", re.compile("RGBW24: at most 222.11 ft wanted, 136.15 ft there")
    )


def test_of_neighbours_that_are_too_near_the_largest_is_labelled(quiet_page: Page, site: str) -> None:
    """DW4 is short of 3, then of 4, then of 2: the first two begin nearer than two figures have room."""
    quiet_page.goto(f"{site}/season")
    lines = [
        [
            (float(one.get_attribute("x") or 0), one.text_content())
            for one in line.locator("text.overtx").all()
        ]
        for line in quiet_page.locator("svg.chart g:has(> text.overtx)").all()
    ]
    # A part of the drawing is all that a phone shows: each figure says for itself what it is.
    said = [[text for _, text in line] for line in lines]
    assert ["short 1", "short 7"] in said  # D4
    [places] = [[x for x, _ in line] for line, texts in zip(lines, said, strict=True) if "short 4" in texts]
    assert ["short 4", "short 2"] in said
    assert places[1] - places[0] >= FIGURE_ROOM["piece"]


def test_labels_of_the_drawing_do_not_run_into_each_other(quiet_page: Page, site: str) -> None:
    quiet_page.set_viewport_size({"width": 1440, "height": 900})
    for units in ("metric", "us"):
        quiet_page.context.add_cookies([{"name": "units", "value": units, "url": site}])
        quiet_page.goto(f"{site}/season")
        drawing = quiet_page.locator("svg.chart")
        assert drawing.evaluate(BEYOND) == []


def test_what_an_overdue_unit_ends_is_taken_back_and_not_bought(page: Page, site: str) -> None:
    page.goto(f"{site}/season")
    first = page.locator("ul.sort > li").filter(has_text="D4: 1 short")
    expect(first).to_contain_text("This removes it: take DC-03 back from CO")
    expect(first).not_to_contain_text("bought")
    first.get_by_role("link", name="take DC-03 back from CO").click()
    expect(page).to_have_url(f"{site}/shelf/back?tags=DC-03&to=/season")
    expect(page.locator("[name=tags]")).to_have_value("DC-03")


def test_the_figures_are_taken_away_as_files(page: Page, site: str) -> None:
    page.goto(f"{site}/season")
    with page.expect_download() as csv_file:
        page.get_by_role("link", name="CSV", exact=True).click()
    with page.expect_download() as book_file:
        page.get_by_role("link", name="Workbook").click()
    assert csv_file.value.suggested_filename == "shortages-2026-11-25.csv"
    assert book_file.value.suggested_filename == "shortages-2026-11-25.xlsx"
    rows = list(csv.DictReader(io.StringIO(csv_file.value.path().read_text("utf-8-sig"))))
    tape = next(row for row in rows if row["item"] == "RGBW24")
    # Metric whoever reads it, like every CSV of the reports.
    assert (tape["short"], tape["unit"], tape["wanted_by"]) == ("26.2", "m", "TL 56 TW 11.7")
    assert (tape["wanted_shows"], tape["wanted_each"]) == ("TL TW", "56.0 11.7")
    of_api = httpx.get(f"{site}/api/v1/reports/shortages", headers={"Accept": "text/csv"}).text
    assert list(csv.DictReader(io.StringIO(of_api))) == rows
    sheet = CalamineWorkbook.from_path(book_file.value.path()).get_sheet_by_name("shortages").to_python()
    assert len(sheet) - 1 == len(rows) == page.locator("ul.sort").first.locator("li").count()


def test_where_nothing_is_short_no_figures_are_offered(quiet_page: Page, empty_site: str) -> None:
    quiet_page.goto(f"{empty_site}/season")
    expect(quiet_page.locator("h1")).to_have_text("No show is on record yet")
    expect(quiet_page.locator(".lede .acts a")).to_have_text(["Shows"])
