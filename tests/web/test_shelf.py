"""The shelf: what there is, a delivery taken in, a place counted, gear out and back."""

import httpx
from playwright.sync_api import Page, expect

from tests.web.conftest import hindrances, is_sideways, put_on

SHELF = "/shelf"


def test_the_shelf_says_what_runs_short_and_which_reels_are_open(quiet_page: Page, site: str) -> None:
    quiet_page.goto(site + SHELF)
    head = quiet_page.locator("h1")
    expect(head).to_contain_text("short this season")
    expect(head).to_contain_text("reels are open")
    row = quiet_page.locator(".stock tr", has=quiet_page.get_by_role("link", name="S320", exact=True))
    # The sheets: six, of which PS-02 is overdue from CO, PS-04 with FR, the others with SQ.
    expect(row).to_contain_text("24 V, 320 W")
    expect(row).to_contain_text("SQ 4, CO 1, FR 1")
    expect(row).to_contain_text("1 overdue")
    row.get_by_role("link", name="S320", exact=True).click()
    assert quiet_page.url == f"{site}/supply-models/S320"


def test_tape_that_shows_want_beyond_what_there_is_says_so(quiet_page: Page, site: str) -> None:
    """67.7 m wanted, 31.5 m on reels, 10 m due before the second show begins (worked by hand)."""
    quiet_page.goto(site + SHELF)
    row = quiet_page.locator(".stock tr", has=quiet_page.get_by_role("link", name="RGBW24", exact=True))
    expect(row).to_contain_text("shows want 36.2 m more than there is")
    expect(row).to_contain_text("short 26.2 m")


def test_things_are_found_by_kind_and_while_typing(quiet_page: Page, site: str) -> None:
    quiet_page.goto(site + SHELF)
    quiet_page.locator(".kinds").get_by_role("link", name="Tape").click()
    names = quiet_page.locator(".stock tbody th[scope=row] a")
    expect(names.filter(has_text="S320")).to_have_count(0)
    quiet_page.get_by_role("searchbox").press_sequentially("12 v")
    expect(names).to_have_text(["PX12", "WW12"])
    quiet_page.get_by_role("searchbox").fill("nothing like it")
    expect(quiet_page.locator("#counts")).to_contain_text("Nothing here goes by “nothing like it”.")


def test_words_and_kind_stand_in_the_address_too(scriptless: Page, site: str) -> None:
    scriptless.goto(f"{site}/shelf?kind=supply")
    scriptless.get_by_role("searchbox").fill("384")
    scriptless.get_by_role("button", name="Find").click()
    expect(scriptless.locator(".stock tbody th[scope=row] a")).to_have_text(["S384"])


def test_open_reels_are_told_with_lot_and_length(quiet_page: Page, site: str) -> None:
    quiet_page.goto(site + SHELF)
    reel = quiet_page.locator(".reels > li", has=quiet_page.get_by_role("link", name="R-118"))
    for said in ("0.9 m left", "lot N-26A", "A1"):
        expect(reel).to_contain_text(said)


def test_an_empty_shelf_says_what_to_do_first(quiet_page: Page, empty_site: str) -> None:
    quiet_page.goto(empty_site + SHELF)
    expect(quiet_page.locator("h1")).to_have_text("Nothing is on the shelf yet")
    quiet_page.goto(f"{empty_site}/shelf/receive")
    expect(quiet_page.get_by_role("link", name="Enter an order")).to_be_visible()
    quiet_page.goto(f"{empty_site}/shelf/count")
    expect(quiet_page.get_by_role("link", name="Add a place")).to_be_visible()
    quiet_page.goto(f"{empty_site}/shelf/out")
    expect(quiet_page.locator("h1")).to_have_text("No show takes gear now")


def test_a_delivery_is_taken_in_once_and_can_be_taken_back(own_site: str, at: Page) -> None:
    at.goto(own_site + SHELF)
    at.get_by_role("link", name="Take in a delivery").click()
    expect(at.locator("h1")).to_have_text("One order line is still to come")
    _deliver(at, "DN-118", "2")
    expect(at.get_by_role("status").filter(has_text="Taken in.")).to_be_visible()
    tags = at.locator(".tags a").all_inner_texts()
    assert len(tags) == 2
    expect(at.get_by_role("link", name="Labels for these")).to_have_attribute(
        "href", f"/labels?what=reels&tags={tags[0]}%20{tags[1]}"
    )
    at.goto(own_site + SHELF)
    expect(at.locator("#reels")).to_contain_text(tags[0])

    at.goto(f"{own_site}/shelf/receive")
    expect(at.locator("h1")).to_have_text("Nothing that is on order is still to come")
    at.get_by_role("link", name="DN-118").click()
    at.get_by_role("button", name="Take all of it back").click()
    expect(at.get_by_role("status").filter(has_text="DN-118 was taken back")).to_be_visible()
    expect(at.locator("h1")).to_have_text("One order line is still to come")


def test_the_same_note_twice_is_said_plainly_and_another_count_refused(own_site: str, at: Page) -> None:
    at.goto(f"{own_site}/shelf/receive")
    _deliver(at, "DN-118", "1")
    at.goto(f"{own_site}/shelf/receive")
    _deliver(at, "dn-118", "1")
    said = "DN-118 was taken in already, 25 Nov 2026, with the same. Nothing was done now."
    expect(at.get_by_role("status").filter(has_text=said)).to_be_visible()
    expect(at.locator(".tags a")).to_have_count(1)
    at.goto(f"{own_site}/shelf/receive")
    _deliver(at, "DN-119", "7")
    expect(at.get_by_role("alert")).to_contain_text(
        "7 came of PO-2611-1 line 1, and 1 of 2 are still to come"
    )
    expect(at.get_by_label("Number of the delivery note")).to_have_value("DN-119")


def _deliver(at: Page, note: str, count: str) -> None:
    at.get_by_label("Number of the delivery note").fill(note)
    at.get_by_label("How many came").fill(count)
    at.get_by_role("button", name="Take it in").click()


def test_a_place_is_counted_settled_and_closed_on_a_phone(own_site: str, at: Page) -> None:
    """B4 holds the eight S96. One is not there, one hums, and there is one that the book has elsewhere."""
    put_on(at, own_site, "night", "phone")
    at.goto(f"{own_site}/shelf/count")
    at.get_by_role("button", name="Count it B4").click()
    expect(at.locator("h1")).to_have_text("B4: 0 of 8 counted")
    assert not is_sideways(at)
    lines = at.locator(".ticks li")
    expect(lines).to_have_count(8)
    tags = [text.split()[0] for text in lines.locator("legend").all_inner_texts()]

    at.get_by_label("Tag of a thing that is here").fill(f"{tags[0].lower()} {tags[1]}")
    at.get_by_role("button", name="It is here").click()
    expect(at.locator("h1")).to_have_text("B4: 2 of 8 counted")
    at.get_by_label("Tag of a thing that is here").fill("XX-99")
    at.get_by_role("button", name="It is here").click()
    expect(at.get_by_role("alert")).to_contain_text("No unit or reel has the tag XX-99")
    expect(at.get_by_label("Tag of a thing that is here")).to_have_value("XX-99")

    for tag in tags[2:7]:
        lines.filter(has_text=tag).get_by_label("here", exact=True).check()
    bad = lines.filter(has_text=tags[6])
    bad.get_by_text("Something is wrong with it").click()
    bad.get_by_label("It is").select_option("suspect")
    lines.filter(has_text=tags[7]).get_by_label("not here").check()
    at.get_by_role("button", name="Write down what I ticked").click()
    expect(at.get_by_role("alert")).to_contain_text(f"{tags[6]} is suspect without a word why")
    assert lines.filter(has_text=tags[7]).get_by_label("not here").is_checked()
    bad.get_by_label("In your words").fill("hums at half load")
    at.get_by_role("button", name="Write down what I ticked").click()
    expect(at.locator("h1")).to_have_text("B4: 2 things differ from the book")
    at.get_by_label("Tag of a thing that is here").fill("PS-41")
    at.get_by_role("button", name="It is here").click()
    expect(at.locator("h1")).to_have_text("B4: 3 things differ from the book")
    expect(at.locator("main")).to_contain_text("PS-41: here; the book has it at B5")
    assert at.get_by_role("button", name="Close the count").count() == 0
    at.get_by_role("button", name=f"Put the book right {tags[6]}").click()
    at.get_by_role("button", name="Put the book right PS-41").click()
    expect(at.locator("h1")).to_have_text("B4: one thing differs from the book")
    at.get_by_role("button", name=f"Look for it {tags[7]}").click()
    expect(at.locator("h1")).to_have_text("B4: all 9 counted")
    at.get_by_role("button", name=f"Put the book right {tags[7]}").click()
    at.get_by_text("settled").click()
    at.get_by_role("button", name="Take it back PS-41").click()
    expect(at.locator("h1")).to_have_text("B4: one thing differs from the book")
    expect(at.locator("main")).to_contain_text("PS-41: here; the book has it at B5")
    at.get_by_role("button", name="Put the book right PS-41").click()
    at.get_by_role("button", name="Close the count").click()
    expect(at.locator("h1")).to_have_text("B4 is counted")
    at.goto(f"{own_site}/l/{tags[7]}")
    expect(at.locator("main")).to_contain_text("missing")


def test_a_reel_is_counted_by_its_length(own_site: str, at: Page) -> None:
    at.goto(f"{own_site}/shelf/count")
    at.get_by_role("button", name="Count it A1").click()
    reel = at.locator(".ticks li", has_text="R-118")
    reel.get_by_label("here", exact=True).check()
    reel.get_by_label("Left on it, measured").fill("800")
    at.get_by_role("button", name="Write down what I ticked").click()
    expect(at.get_by_role("alert")).to_contain_text("R-118: ")
    expect(at.get_by_role("alert")).not_to_contain_text("ength:R-118")
    expect(reel.get_by_label("Left on it, measured")).to_have_value("800")
    reel.get_by_label("Left on it, measured").fill("800 mm")
    at.get_by_role("button", name="Write down what I ticked").click()
    expect(at.locator("main")).to_contain_text("R-118: 800 mm left; the book says 900 mm")
    at.get_by_role("button", name="Put the book right R-118").click()
    at.goto(own_site + SHELF)
    expect(at.locator(".reels > li", has=at.get_by_role("link", name="R-118"))).to_contain_text("0.8 m left")


def test_a_long_count_is_turned_page_by_page(own_site: str, at: Page) -> None:
    """40 to a page: of 43 in a new bin, three stand on the second."""
    made = at.request.post(f"{own_site}/api/v1/places", data={"tag": "B9", "kind": "bin"})
    assert made.status == 201, made.text()
    for number in range(43):
        unit = {"tag": f"PX-{number:02}", "model": "S60", "home": "B9"}
        made = at.request.post(f"{own_site}/api/v1/supplies", data=unit)
        assert made.status == 201, made.text()
    at.goto(f"{own_site}/shelf/count")
    at.get_by_role("button", name="Count it B9").click()
    expect(at.locator(".ticks li")).to_have_count(40)
    at.get_by_role("link", name="Next page").click()
    expect(at.locator(".ticks li")).to_have_count(3)
    at.locator(".ticks li").first.get_by_label("here", exact=True).check()
    at.get_by_role("button", name="Write down what I ticked").click()
    expect(at.locator("h1")).to_have_text("B9: 1 of 43 counted")


def test_gear_goes_out_and_comes_back_tag_after_tag(own_site: str, at: Page) -> None:
    at.goto(f"{own_site}/shelf/out")
    at.get_by_role("link", name="The Sleet Queen").click()
    tags = at.get_by_label("Tags")
    tags.fill("ps-01")
    tags.press("Enter")
    gone = at.locator(".moved li")
    expect(gone).to_have_count(1)
    expect(gone.first).to_contain_text("back by 19 Jan 2027")
    tags.fill("PS-03, PS-02 no-such-tag")
    at.get_by_role("button", name="Out to SQ").click()
    expect(gone).to_have_count(2)
    stayed = at.get_by_role("alert")
    expect(stayed).to_contain_text("2 stay as they are")
    expect(stayed).to_contain_text("PS-02 is with CO, 22 days overdue")
    expect(tags).to_have_value("PS-02 no-such-tag")
    at.get_by_role("button", name="Take back PS-03").click()
    expect(gone).to_have_count(1)

    at.goto(f"{own_site}/shelf/back")
    expect(at.locator("h1")).to_have_text("2 units should be back by now")
    at.get_by_label("Tags").fill("PS-02")
    at.get_by_label("Tags").press("Enter")
    expect(at.locator("h1")).to_have_text("One unit should be back by now")
    at.get_by_text("Something is wrong with it").click()
    at.get_by_label("Tags").fill("DC-03")
    at.get_by_label("What was found").fill("smells burnt")
    at.get_by_role("button", name="It is back").click()
    expect(at.locator("h1")).to_have_text("Nothing is overdue")
    expect(at.locator(".moved li", has_text="DC-03")).to_contain_text("faulty")
    at.get_by_role("button", name="Take back DC-03").click()
    expect(at.locator("h1")).to_have_text("One unit should be back by now")


def test_a_count_and_a_delivery_can_be_read_and_worked_by_everybody(own_site: str, quiet_page: Page) -> None:
    quiet_page.goto(f"{own_site}/shelf/count")
    quiet_page.get_by_role("button", name="Count it A1").click()
    quiet_page.locator(".ticks li").first.get_by_label("not here").check()
    quiet_page.get_by_role("button", name="Write down what I ticked").click()
    expect(quiet_page.locator("h1")).to_contain_text("differs")
    assert hindrances(quiet_page, "narrow", "desk") == []
    quiet_page.goto(f"{own_site}/shelf/receive")
    _deliver(quiet_page, "DN-118", "1")
    expect(quiet_page.get_by_role("status").filter(has_text="Taken in.")).to_be_visible()
    assert hindrances(quiet_page, "narrow", "desk") == []


def test_tags_typed_for_a_show_that_is_not_there_are_not_lost(own_site: str) -> None:
    answer = httpx.post(f"{own_site}/shelf/out", data={"show": "GHOST", "tags": "PS-11 dc-09"})
    assert answer.status_code == 404
    assert 'value="PS-11 dc-09"' in answer.text
    assert 'name="show" value="SQ"' in answer.text
