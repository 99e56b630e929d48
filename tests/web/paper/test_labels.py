"""Labels on any sheet, and their codes read back."""

import re
from io import BytesIO
from pathlib import Path
from urllib.parse import quote

import httpx
import pypdfium2
import pytest
from PIL.Image import Image
from playwright.sync_api import Page, expect
from pyzbar.pyzbar import decode

from service.paper.label_sheets import MOST_LABELS, SHEETS, LabelSheet
from service.stock.records import Place, PlaceKind
from service.store.work import Store
from tests.web.conftest import hindrances, put_on
from tests.web.paper.files import overprinted, pdf_of, pdf_text

HOST = "http://rack.example:8042"
DPI = 300


def sheets_of(site: str, query: str) -> list[Image]:
    """The pages of the file, as a printer would draw them."""
    answer = httpx.get(f"{site}/labels.pdf?{query}&base={HOST}", timeout=60)
    assert answer.status_code == 200, answer.text
    file = pypdfium2.PdfDocument(BytesIO(answer.content))
    return [page.render(scale=DPI / 72).to_pil() for page in file]


def read_back(page: Image, sheet: LabelSheet, n: int) -> list[str]:
    """What a reader finds on the n-th label, held against its edges alone."""
    x, y = sheet.corner(n)
    dots = DPI / 25.4
    edges = (x * dots, y * dots, (x + sheet.label_w) * dots, (y + sheet.label_h) * dots)
    left, top, right, foot = map(round, edges)
    return [one.data.decode() for one in decode(page.crop((left, top, right, foot)))]


@pytest.mark.parametrize("name", SHEETS)
def test_every_code_on_every_sheet_leads_to_its_thing(site: str, name: str) -> None:
    sheet = SHEETS[name]
    [page] = sheets_of(site, f"show=SQ&what=gear&sheet={name}")[:1]
    found = [read_back(page, sheet, n) for n in range(sheet.per_page)]
    named = [codes[0] for codes in found if codes]
    assert named[:3] == [f"{HOST}/l/{tag}".upper() for tag in ("BT-02", "BT-11", "PS-01")]
    assert len(named) == len(set(named)) == min(sheet.per_page, 24)


def test_a_code_in_capitals_leads_on(quiet_page: Page, site: str) -> None:
    sheet = SHEETS["a4-3x8"]
    [page] = sheets_of(site, "show=SQ&what=leads&tags=SQ-09")
    [found] = read_back(page, sheet, 0)
    quiet_page.goto(site + found.removeprefix(HOST.upper()))
    assert quiet_page.url == f"{site}/elements/SQ-09"


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_of_any_size_is_begun_where_it_is_free(site: str, name: str) -> None:
    sheet = SHEETS[name]
    used = sheet.per_page - 2
    pages = sheets_of(site, f"show=SQ&what=elements&sheet={name}&skip={used}")
    assert len(pages) == 1 + -(-22 // sheet.per_page)  # 24 elements, two of them on the first
    said = httpx.get(f"{site}/labels?show=SQ&what=elements&sheet={name}&skip={used}", timeout=60).text
    assert f"24 labels on {len(pages)} sheet" in re.sub(r"[\u2066-\u2069]", "", said)
    first = [read_back(pages[0], sheet, n) for n in range(sheet.per_page)]
    assert first == [[]] * used + [[f"{HOST}/l/SQ-{n:02d}".upper()] for n in (1, 2)]
    assert read_back(pages[1], sheet, 0) == [f"{HOST}/l/SQ-03".upper()]
    refused = httpx.get(f"{site}/labels.pdf?show=SQ&what=elements&sheet={name}&skip={sheet.per_page}")
    assert refused.status_code == 422
    assert "Take a new sheet: 0." in refused.text


def test_used_labels_are_left_out_and_the_rest_goes_on_the_next_sheet(site: str) -> None:
    sheet = SHEETS["a4-3x8"]
    pages = sheets_of(site, "show=SQ&what=elements&sheet=a4-3x8&skip=5")
    assert len(pages) == 2  # 24 elements on the 19 that are left, and 5 more
    assert [read_back(pages[0], sheet, n) for n in range(5)] == [[]] * 5
    assert read_back(pages[0], sheet, 5) == [f"{HOST}/l/SQ-01".upper()]
    assert read_back(pages[1], sheet, 4) == [f"{HOST}/l/SQ-24".upper()]
    assert read_back(pages[1], sheet, 5) == []


def test_own_measures_are_taken_in_any_unit_and_kept(scriptless: Page, site: str) -> None:
    scriptless.goto(f"{site}/labels?show=SQ")
    scriptless.get_by_label("Sheet", exact=True).select_option("own")
    scriptless.get_by_text("Measures of the sheet").click()
    measures = {
        "Page, wide": "4 in", "Page, high": "6 in", "Labels across": "1", "Labels down": "3",
        "Label, wide": "3.5 in", "Label, high": "1.75 in", "Left edge to first label": "0.25 in",
        "Top edge to first label": "0.25 in", "From label to label, across": "3.5 in",
        "From label to label, down": "1.8 in",
    }  # fmt: skip
    for label, value in measures.items():
        scriptless.get_by_label(label).fill(value)
    scriptless.get_by_label("Address of this service").fill(HOST)
    scriptless.get_by_role("button", name="Show").click()
    expect(scriptless.locator("h1")).to_have_text("32 labels on 11 sheets")
    scriptless.goto(f"{site}/labels?show=SQ&what=gear")
    expect(scriptless.get_by_label("Page, wide")).to_have_value("101.6")
    expect(scriptless.get_by_label("Address of this service")).to_have_value(f"{HOST}/")


@pytest.mark.parametrize(
    ("query", "label", "typed", "said"),
    [
        ("left=wide", "Left edge to first label", "wide", "“wide” is not a length"),
        ("page_w=210%2C5", "Page, wide", "210,5", "“210,5” is not a length"),
        ("top=-5", "Top edge to first label", "-5", "less than nothing"),
        ("across=2.5", "Labels across", "2.5", "“2.5” is not a count"),
        ("label_w=90&pitch_x=66", "Label, wide", "90", "These labels would lie on one another"),
        ("show=SQ&what=leads&label_w=10&label_h=8", "Label, wide", "10", "not stand on a label of 10 × 8 mm"),
        ("left=40", "Left edge to first label", "40", "beyond the page of 210 × 297 mm"),
        ("skip=24", "Labels of the first sheet", "24", "Take a new sheet: 0."),
        ("skip=some", "Labels of the first sheet", "some", "“some” is not a count"),
        ("base=two+words", "Address of this service", "two words", "no address of this service"),
        *(
            (f"base={quote(typed)}", "Address of this service", typed, "no address of this service")
            for typed in ("javascript:alert(1)", "ftp://rack.example", "mailto:a@rack.example", "http://")
        ),
    ],
)
def test_what_cannot_be_comes_back_as_it_was_typed_with_the_reason(
    scriptless: Page, site: str, query: str, label: str, typed: str, said: str
) -> None:
    for page in ("labels", "labels.pdf"):
        answer = scriptless.goto(f"{site}/{page}?sheet=own&page_h=297&{query}")
        assert answer is not None
        assert answer.status == 422
        expect(scriptless.get_by_label(label)).to_have_value(typed)
        expect(scriptless.locator(".labelform")).to_contain_text(said)
    assert scriptless.context.cookies(site) == []


@pytest.mark.parametrize("kept", ["zzz", "a_b_c", "0_0_0_0_0_0_0_0_0_0", "_"])
def test_a_sheet_that_is_remembered_wrong_is_forgotten(site: str, kept: str) -> None:
    answer = httpx.get(f"{site}/labels?show=SQ", cookies={"labels": kept, "address": "two words"})
    assert answer.status_code == 200
    assert '<option value="a4-3x8" selected>' in answer.text


@pytest.mark.parametrize(
    ("query", "field", "typed", "said", "status"),
    [
        ("tags=SQ-09+SQ-0x+SQ-10", "Only these tags", "SQ-09 SQ-0x SQ-10", "Nothing has the tag SQ-0x.", 422),
        ("tags=SQ-0x+SQ-0y", "Only these tags", "SQ-0x SQ-0y", "Nothing has the tags SQ-0x, SQ-0y.", 422),
        ("show=NOPE", "Show", "NOPE", r"No show has the code \W?NOPE\W{1,2} Choose one from the list", 404),
    ],
)  # fmt: skip
def test_what_cannot_be_chosen_comes_back_as_it_was_typed_with_the_reason(
    scriptless: Page, site: str, query: str, field: str, typed: str, said: str, status: int
) -> None:
    for page in ("labels", "labels.pdf"):
        answer = scriptless.goto(f"{site}/{page}?what=gear&sheet=a4-5x13&skip=5&base={HOST}&{query}")
        assert answer is not None
        assert answer.status == status
        at = scriptless.get_by_label(field, exact=field == "Show")
        expect(at).to_have_value(typed)
        expect(at).to_have_accessible_description(re.compile(said))
        expect(scriptless.get_by_label("Sheet", exact=True)).to_have_value("a4-5x13")
        expect(scriptless.get_by_label("Labels of the first sheet")).to_have_value("5")
        expect(scriptless.get_by_label("Address of this service")).to_have_value(f"{HOST}/")
        expect(scriptless.locator("input[value=gear]")).to_be_checked()
        expect(scriptless.locator(".labelsheet .print path")).to_have_count(0)
    assert scriptless.context.cookies(site) == []


def test_more_labels_than_can_be_laid_out_at_once_are_refused_in_the_form(
    scriptless: Page, own_site: str, tmp_path: Path
) -> None:
    store = Store(f"sqlite:///{tmp_path / 'season.db'}")
    with store.writing("crew") as session:
        session.add_all(Place(tag=f"Z-{n}", name="bin", kind=PlaceKind.BIN) for n in range(MOST_LABELS + 1))
    store.close()
    for page in ("labels", "labels.pdf"):
        answer = scriptless.goto(f"{own_site}/{page}?what=places&skip=5")
        assert answer is not None
        assert answer.status == 422
        expect(scriptless.get_by_role("group", name="Labels for")).to_have_accessible_description(
            re.compile(rf"These are \d+ labels; at most {MOST_LABELS} at once. Choose fewer.")
        )
        expect(scriptless.get_by_label("Labels of the first sheet")).to_have_value("5")


@pytest.mark.parametrize("query", ["tags=SQ-0x", "show=NOPE", "what=zebras"])
def test_a_refusal_can_be_read_and_mended_in_every_look(page: Page, site: str, query: str) -> None:
    page.goto(f"{site}/labels?{query}")
    assert hindrances(page, "narrow", "desk") == []


@pytest.mark.parametrize(
    ("query", "said"),
    [("show=CO&what=leads", "no feeds of this show are kept"), ("what=zebras", "Zebras carry no labels")],
)  # fmt: skip
def test_a_file_without_a_label_is_refused_in_words(
    scriptless: Page, site: str, query: str, said: str
) -> None:
    answer = scriptless.goto(f"{site}/labels.pdf?{query}")
    assert answer is not None
    assert answer.status == 422
    expect(scriptless.get_by_role("group", name="Labels for")).to_have_accessible_description(
        re.compile(said)
    )


def test_what_an_empty_house_cannot_print_is_refused_in_its_form(scriptless: Page, empty_site: str) -> None:
    for query, said in (
        ("what=elements", "These labels are of one show"),
        ("show=NO", "No show has the code"),
        ("", "nothing of this to print"),
    ):
        scriptless.goto(f"{empty_site}/labels.pdf?{query}")
        expect(scriptless.locator(".labelform")).to_contain_text(said)
        expect(scriptless.locator("main")).to_contain_text("on record first")


def test_the_first_free_label_is_tapped(quiet_page: Page, site: str) -> None:
    put_on(quiet_page, site, "night", "phone")
    quiet_page.goto(f"{site}/labels?show=SQ&what=gear")
    quiet_page.get_by_role("link", name="Begin at label 7").click()
    expect(quiet_page.get_by_label("Labels of the first sheet that are used")).to_have_value("6")
    expect(quiet_page.locator(".used")).to_have_count(6)


def test_an_address_that_no_phone_reaches_is_said(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/labels?show=SQ")
    expect(quiet_page.locator("#base-why")).to_contain_text("of this machine alone")
    quiet_page.goto(f"{site}/labels?show=SQ&base=rack.example:8042")
    expect(quiet_page.locator("#base-why")).to_have_text("It goes into every code.")


def test_nothing_is_printed_over_anything_on_low_labels(site: str) -> None:
    low = "page_w=210&page_h=297&across=2&down=35&label_w=90&label_h=8&left=5&top=5&pitch_x=100&pitch_y=8"
    content = pdf_of(site, f"/labels.pdf?show=SQ&what=elements&sheet=own&{low}&base={HOST}")
    assert "SQ-24" in pdf_text(content)
    assert overprinted(content) == []


def test_each_thing_is_offered_once(scriptless: Page, site: str) -> None:
    scriptless.goto(f"{site}/labels?show=SQ&what=elements")
    offered = [box.get_attribute("value") for box in scriptless.locator("input[name=what]").all()]
    assert len(offered) == len(set(offered))
    assert offered[:3] == ["leads", "elements", "gear"]
    expect(scriptless.locator("input[name=what][checked]")).to_have_count(1)


def test_an_empty_house_is_told_what_comes_first(at: Page, empty_site: str) -> None:
    at.goto(f"{empty_site}/labels")
    expect(at.locator("input[value=elements]")).to_have_count(0)
    expect(at.locator("main .note")).to_contain_text("on record first")
    at.locator("main").get_by_role("link", name="First steps").click()
    expect(at).to_have_url(f"{empty_site}/first")
