"""From somebody's own sheet to rows on record, and back."""

import html
import re
import shutil
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import FilePayload, Page, expect
from python_calamine import CalamineWorkbook

import seed_demo
from service.paper.out.grids import workbook
from tests.api.conftest import serving
from tests.web.conftest import hindrances

DEPUTY = """Tag;Show;Tape;How long;Where
SQ-31;SQ;NW24;1.2;Deck
SQ-32;SQ;NW24;0.8;Deck
SQ-33;SQ;Warmish;0.8;Deck
;SQ;NW24;0.5;Deck
SQ-34;SQ;NW24;about 8;Deck
"""


def choose(page: Page, site: str, text: str = DEPUTY, name: str = "deputy.csv") -> None:
    page.goto(f"{site}/bring-in")
    page.get_by_label("Your file").set_input_files(
        {"name": name, "mimeType": "text/csv", "buffer": text.encode()}
    )
    page.get_by_role("button", name="Look at it").click()


@pytest.mark.parametrize("has_script", [True, False])
def test_good_rows_are_added_and_the_batch_is_taken_back(
    own_site: str, quiet_page: Page, scriptless: Page, has_script: bool
) -> None:
    page = quiet_page if has_script else scriptless
    choose(page, own_site)
    # A length that nobody gave a unit for is never guessed: its column is left out until it is matched.
    page.get_by_label("your “How long”").select_option("length")
    page.get_by_role("button", name="Read it so").click()
    expect(page.locator("h1")).to_have_text("No row is ready yet. 5 need you first.")
    page.get_by_label("its bare numbers are in").select_option("m")
    page.get_by_role("button", name="Read it so").click()
    expect(page.locator("h1")).to_have_text("2 rows are ready. 3 need you first.")
    expect(page.locator("main")).to_contain_text("Nothing has been written yet.")
    row = page.get_by_role("row").filter(has_text="SQ-33")
    expect(row.locator("mark")).to_have_text("Warmish")
    expect(row).to_contain_text("Warmish is not a tape that is known here")
    expect(page.get_by_role("row").filter(has_text="about 8")).to_contain_text(
        "is not one number and one unit"
    )
    assert httpx.get(f"{own_site}/api/v1/elements/SQ-31").status_code == 404
    page.get_by_role("button", name="Add the 2 good rows").click()
    expect(page.locator("h1")).to_have_text("2 rows are on record")
    assert httpx.get(f"{own_site}/api/v1/elements/SQ-31").json()["production"] == "SQ"
    page.get_by_role("button", name="Take all of it back").click()
    expect(page.locator("h1")).to_have_text("All of it was taken back")
    assert httpx.get(f"{own_site}/api/v1/elements/SQ-31").status_code == 404
    choose(page, own_site, "Tag,Show,Tape,Length m\nSQ-31,SQ,NW24,1.2\n")
    page.get_by_role("button", name="Add the one row").click()
    expect(page.locator("h1")).to_have_text("One row is on record")


def test_rows_that_need_somebody_come_back_as_a_sheet_that_can_be_sent_again(
    own_site: str, scriptless: Page
) -> None:
    choose(scriptless, own_site, "Tag,Show,Tape,Length m\nSQ-31,SQ,NW24,1\nSQ-33,SQ,Warmish,1\n")
    with scriptless.expect_download() as got:
        scriptless.get_by_role("link", name="Send me that row").click()
    content = got.value.path().read_bytes()
    [heads, row] = CalamineWorkbook.from_filelike(BytesIO(content)).get_sheet_by_name("elements").to_python()
    assert heads == ["Tag", "Show", "Tape", "Length m", "What is wrong", "Row"]
    assert row[:4] == ["SQ-33", "SQ", "Warmish", "1"]
    assert "not a tape that is known" in str(row[4])
    assert row[5] == 3
    mended = workbook("elements", list(map(str, heads)), [["SQ-33", "SQ", "NW24", *row[3:]]])
    scriptless.goto(f"{own_site}/bring-in")
    scriptless.get_by_label("Your file").set_input_files(
        {"name": "mended.xlsx", "mimeType": "application/octet-stream", "buffer": mended}
    )
    scriptless.get_by_role("button", name="Look at it").click()
    expect(scriptless.locator("h1")).to_have_text("One row is ready.")


def test_what_is_on_record_changes_only_when_somebody_says_so(own_site: str, scriptless: Page) -> None:
    choose(scriptless, own_site, "Tag,Show,Name\nSQ-01,SQ,Ice wall one\n", "elements.csv")
    expect(scriptless.locator("main")).to_contain_text("Ice wall panel 1 would become Ice wall one")
    scriptless.get_by_label("Rows may change").check()
    scriptless.get_by_role("button", name="Read it so").click()
    expect(scriptless.locator("main")).to_contain_text("One changes what is on record.")
    scriptless.get_by_role("button", name="Add the one row").click()
    assert httpx.get(f"{own_site}/api/v1/elements/SQ-01").json()["name"] == "Ice wall one"
    scriptless.get_by_role("button", name="Take all of it back").click()
    assert httpx.get(f"{own_site}/api/v1/elements/SQ-01").json()["name"] == "Ice wall panel 1"


def test_a_whole_house_comes_in_from_nothing(empty_site: str, scriptless: Page) -> None:
    scriptless.goto(f"{empty_site}/bring-in")
    scriptless.get_by_label("Your file").set_input_files(sorted(seed_demo.folder().glob("*.csv")))
    scriptless.get_by_role("button", name="Look at it").click()
    expect(scriptless.locator("h1")).to_contain_text("rows are ready.")
    expect(scriptless.locator("h1")).not_to_contain_text("need you first")
    scriptless.get_by_role("button", name="Add the").click()
    expect(scriptless.locator("h1")).to_contain_text("rows are on record")
    scriptless.goto(f"{empty_site}/paper/feed-sheet?show=SQ")
    expect(scriptless.locator("h1")).to_have_text("4 supplies are over a limit")


def test_a_table_that_nothing_is_known_of_waits_for_a_word(site: str, scriptless: Page) -> None:
    choose(scriptless, site, "Colour,Shape\nred,round\n", "odd.csv")
    expect(scriptless.locator("h1")).to_have_text("No row is ready yet.")
    scriptless.get_by_label("Each row is one of").select_option("venues")
    scriptless.get_by_role("button", name="Read it so").click()
    expect(scriptless.locator(".sort")).to_contain_text("Venue: this column is missing")


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("odd.csv", "Colour,Length\nred,1\n", "Heads that were read: Colour, Length. Known, of"),
        ("odd.csv", "Mood,Shape\nred,round\n", "Mood, Shape. None of them is known. Choose below what"),
        (
            "supplies.csv",
            "Tag,Model\n",
            "it has heads and no row below them Heads that were read: Tag, Model.",
        ),
        ("supplies.csv", "Tag,Colour\n", "Known, of supplies: Tag. Missing besides: Model. Fill in a row"),
        ("elements.csv", "zip,zap\n1,2\n", "none of its heads is known for such rows"),
    ],
)
def test_a_sheet_of_which_nothing_can_be_read_says_which_heads_were_read(
    site: str, name: str, text: str, said: str
) -> None:
    files = {"file": (name, text.encode(), "text/csv")}
    page = httpx.post(f"{site}/bring-in", files=files, follow_redirects=True).text
    told = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())
    assert said in told


def test_what_cannot_be_read_is_refused_with_what_to_do(site: str, scriptless: Page) -> None:
    choose(scriptless, site, "\x00\x01\x02", "picture.csv")
    expect(scriptless.locator("main")).to_contain_text("picture.csv is no sheet that can be read")
    scriptless.goto(f"{site}/bring-in/unheard-of")
    expect(scriptless.locator("main")).to_contain_text("Choose the file again.")


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("plot.pdf", b"%PDF-1.7\n1 0 obj << /Type /Catalog >> endobj", "is no sheet that can be read"),
        ("old.xls", b"\x09\x08\x10\x00\x00\x06\x05\x00", "is no sheet that can be read"),
        ("old.xls", bytes.fromhex("D0CF11E0"), "is no sheet that can be read"),
        (
            "old.xls",
            bytes.fromhex("D0CF11E0A1B11AE1") + bytes(512),
            "is an old or password-protected workbook",
        ),
        ("", b"", "No file was chosen"),
        ("plot.csv", b" \n", "plot.csv holds nothing to read: &#39;plot&#39; is empty."),
    ],
)
def test_what_is_no_sheet_brings_the_form_back_and_names_what_is(
    site: str, name: str, content: bytes, said: str
) -> None:
    answer = httpx.post(
        f"{site}/bring-in", files={"file": (name, content)}, follow_redirects=True, timeout=60
    )
    assert answer.status_code == 422
    assert said in answer.text
    assert ".xlsx" in answer.text
    assert "Look at it" in answer.text


ONE = "Tag,Show,Tape,Length m\nSQ-31,SQ,NW24,1.2\n"


def token_of(site: str, text: str) -> str:
    """A sheet that was sent and looked at, by its token."""
    answer = httpx.post(
        f"{site}/bring-in", files={"file": ("deputy.csv", text)}, follow_redirects=True, timeout=60
    )
    assert answer.status_code == 200, answer.text
    return answer.url.path.rpartition("/")[2]


def test_a_batch_outlives_the_process_that_stored_it(season_file: Path, tmp_path: Path) -> None:
    path = tmp_path / "season.db"
    shutil.copy(season_file, path)
    with serving(f"sqlite:///{path}") as site:
        stored, waiting = token_of(site, ONE), token_of(site, ONE.replace("31", "32"))
        httpx.post(f"{site}/bring-in/{stored}/add", timeout=60)
    with serving(f"sqlite:///{path}") as site:
        # What waited was not stored, and nothing of it is: choosing it again loses nothing.
        gone = httpx.get(f"{site}/bring-in/{waiting}")
        assert gone.status_code == 404
        assert "nothing of it was written" in gone.text
        assert "Choose the file again." in gone.text
        assert httpx.get(f"{site}/api/v1/elements/SQ-32").status_code == 404
        assert f"/bring-in/{stored}/done" in httpx.get(f"{site}/bring-in").text
        undone = httpx.post(f"{site}/bring-in/{stored}/undo", follow_redirects=True, timeout=60)
        assert "All of it was taken back" in undone.text
        assert httpx.get(f"{site}/api/v1/elements/SQ-31").status_code == 404
        again = token_of(site, ONE)
        httpx.post(f"{site}/bring-in/{again}/add", timeout=60)
        assert httpx.get(f"{site}/api/v1/elements/SQ-31").status_code == 200


def test_pressed_twice_a_batch_is_stored_once_and_can_still_be_taken_back(own_site: str) -> None:
    token = token_of(own_site, ONE)
    with ThreadPoolExecutor(4) as people:
        answers = list(
            people.map(
                lambda _: httpx.post(f"{own_site}/bring-in/{token}/add", follow_redirects=True, timeout=60),
                range(4),
            )
        )
    assert [answer.status_code for answer in answers] == [200] * 4
    assert all("One row is on record" in answer.text for answer in answers)
    # Who goes back to the preview is told that it is done.
    assert httpx.get(f"{own_site}/bring-in/{token}").headers["location"] == f"/bring-in/{token}/done"
    undone = [
        httpx.post(f"{own_site}/bring-in/{token}/undo", follow_redirects=True, timeout=60) for _ in range(2)
    ]
    assert all("All of it was taken back" in answer.text for answer in undone)
    assert httpx.get(f"{own_site}/api/v1/elements/SQ-31").status_code == 404


def test_from_a_sheet_that_was_added_its_links_lead_to_what_came_of_it(own_site: str) -> None:
    token = token_of(own_site, ONE + "SQ-33,SQ,Warmish,1\n")
    asked = f"{own_site}/bring-in/{token}"
    httpx.post(f"{asked}/add", timeout=60)
    with httpx.Client(follow_redirects=True, timeout=60) as client:
        for said in (client.get(f"{asked}/rows.xlsx?table=0"), client.post(asked)):
            assert said.status_code == 200
            assert "One row is on record" in said.text
            assert "Look at what was left out" in said.text


def test_of_two_batches_with_the_same_rows_each_takes_back_its_own(own_site: str) -> None:
    first = token_of(own_site, ONE)
    second = token_of(own_site, ONE + "SQ-32,SQ,NW24,0.8\n")
    httpx.post(f"{own_site}/bring-in/{first}/add", timeout=60)
    done = httpx.post(f"{own_site}/bring-in/{second}/add", follow_redirects=True, timeout=60)
    assert "One row is on record" in done.text  # the other says what is on record already
    httpx.post(f"{own_site}/bring-in/{second}/undo", timeout=60)
    assert httpx.get(f"{own_site}/api/v1/elements/SQ-31").status_code == 200
    assert httpx.get(f"{own_site}/api/v1/elements/SQ-32").status_code == 404
    httpx.post(f"{own_site}/bring-in/{first}/undo", timeout=60)
    assert httpx.get(f"{own_site}/api/v1/elements/SQ-31").status_code == 404


def test_a_sheet_that_says_nothing_new_has_nothing_to_take_back(own_site: str) -> None:
    httpx.post(f"{own_site}/bring-in/{token_of(own_site, ONE)}/add", timeout=60)
    token = token_of(own_site, ONE)
    done = httpx.post(f"{own_site}/bring-in/{token}/add", follow_redirects=True, timeout=60)
    assert "Nothing of it was new" in done.text
    assert "Take all of it back" not in done.text


def test_rows_that_were_left_out_wait_to_be_mended(own_site: str, scriptless: Page) -> None:
    choose(scriptless, own_site, "Tag,Show,Tape,Length m\nSQ-31,SQ,NW24,1\nSQ-33,SQ,Warmish,1\n")
    scriptless.get_by_role("button", name="Add the one row").click()
    expect(scriptless.locator("main")).to_contain_text("One row was left out")
    scriptless.get_by_role("link", name="Look at what was left out").click()
    expect(scriptless.locator("h1")).to_have_text("No row is ready yet. One needs you first.")
    expect(scriptless.locator("mark")).to_have_text("Warmish")


def test_thousands_of_rows_are_looked_at_page_by_page(own_site: str, scriptless: Page) -> None:
    rows = "".join(f"SQ-{n},SQ,{'NW24' if n % 20 else 'Warmish'},1\n" for n in range(1000, 6000))
    choose(scriptless, own_site, "Tag,Show,Tape,Length m\n" + rows)
    expect(scriptless.locator("h1")).to_have_text("4,750 rows are ready. 250 need you first.")
    expect(scriptless.locator("mark")).to_have_count(100)
    scriptless.get_by_role("link", name="Later rows").click()
    expect(scriptless.locator("main")).to_contain_text("page 2 of 3")
    scriptless.get_by_role("link", name="Later rows").click()
    expect(scriptless.locator("mark")).to_have_count(50)
    expect(scriptless.get_by_role("row").filter(has_text="SQ-5980")).to_have_count(1)
    expect(scriptless.get_by_role("link", name="Later rows")).to_have_count(0)
    assert len(scriptless.content()) < 300_000


def test_the_preview_can_be_read_and_worked_by_everybody(quiet_page: Page, site: str) -> None:
    choose(quiet_page, site)
    assert hindrances(quiet_page, "narrow", "phone", "desk") == []


def choose_two(page: Page, site: str, *texts: str) -> None:
    page.goto(f"{site}/bring-in")
    files: list[FilePayload] = [
        {"name": f"deputy {n}.csv", "mimeType": "text/csv", "buffer": text.encode()}
        for n, text in enumerate(texts, 1)
    ]
    page.get_by_label("Your file").set_input_files(files)
    page.get_by_role("button", name="Look at it").click()


def test_of_two_files_of_the_same_rows_the_second_comes_in_after_the_first(
    own_site: str, scriptless: Page
) -> None:
    heads = "Tag,Show,Tape,Length m\n"
    choose_two(
        scriptless, own_site, f"{heads}SQ-31,SQ,NW24,1\nSQ-33,SQ,Warmish,1\n", f"{heads}SQ-32,SQ,NW24,1\n"
    )
    expect(scriptless.locator("h1")).to_have_text("One row is ready. One needs you first.")
    expect(scriptless.locator("main")).to_contain_text("Another table of elements comes first")
    scriptless.get_by_role("button", name="Add the one row").click()
    expect(scriptless.locator("main")).to_contain_text("2 rows were left out: look at them next.")
    scriptless.get_by_role("link", name="Look at what was left out").click()
    expect(scriptless.locator("h1")).to_have_text("One row is ready.")
    scriptless.get_by_role("button", name="Add the one row").click()
    scriptless.get_by_role("link", name="Look at what was left out").click()
    expect(scriptless.locator("h1")).to_have_text("No row is ready yet. One needs you first.")
    for tag in ("SQ-31", "SQ-32"):
        assert httpx.get(f"{own_site}/api/v1/elements/{tag}").status_code == 200


def test_what_is_on_record_already_is_not_told_as_ready(own_site: str, scriptless: Page) -> None:
    text = "Tag,Show,Tape,Length m\nSQ-31,SQ,NW24,1\n"
    choose(scriptless, own_site, text)
    scriptless.get_by_role("button", name="Add the one row").click()
    choose(scriptless, own_site, text)
    expect(scriptless.locator("h1")).to_have_text("All of it is on record already.")
    expect(scriptless.get_by_role("button", name="Add the")).to_have_count(0)
    choose(scriptless, own_site, text + "SQ-32,SQ,NW24,1\n")
    expect(scriptless.locator("h1")).to_have_text("One row is ready.")


def test_the_good_rows_among_thousands_of_bad_ones_are_ready(site: str, scriptless: Page) -> None:
    rows = "".join(f"SQ-{n},SQ,{'Warmish,about' if n % 5 else 'NW24,1'}\n" for n in range(1000, 21000))
    choose(scriptless, site, "Tag,Show,Tape,Length m\n" + rows)
    expect(scriptless.locator("h1")).to_have_text("4,000 rows are ready. 16,000 need you first.")
