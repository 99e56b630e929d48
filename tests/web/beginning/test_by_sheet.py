"""A new user, with nothing but their sheets: to a kept plan, printed labels and a found feed, on a phone."""

from io import BytesIO

import pypdfium2
import pytest
from playwright.sync_api import FilePayload, Page, expect
from pyzbar.pyzbar import decode

from tests.web.conftest import put_on

# A small house, after the demonstration season: two lamp posts and a sign, one supply, one decoder.
SHEETS = {
    "venues.csv": "Venue,Mains V\nSlipway,230\n",
    "tapes.csv": ("Tape,Volts,Emitters,Pitch mm,Max run m\nNW24,24,W=9.6 W/m,50,10\n"),
    "supply models.csv": (
        "Model,Volts,Rated W,Output cap A,Full to,Derate,Hottest\nS150,24,150,6.25,40,2.5,70\n"
    ),
    "supplies.csv": "Tag,Model\nPS-61,S150\n",
    "decoder models.csv": (
        "Model,Channels,Channel A,Total A,Lowest V,Highest V,PWM Hz\nD4,4,5,15,12,24,4000\n"
    ),
    "decoders.csv": "Tag,Model\nDC-61,D4\n",
    "productions.csv": (
        "Code,Title,Venue,Build start,Load-in,Opening,Closing,Strike end,Return by\n"
        "LH,The Lamp House,Slipway,2026-10-01,2026-11-01,2026-11-20,2026-12-20,2026-12-22,2026-12-30\n"
    ),
    "elements.csv": (
        "Element,Production,Name,Tape,Pieces,Lead,Lead gauge\n"
        "LH-1,LH,Lamp post left,NW24,1 m,4 m,18 AWG\nLH-2,LH,Lamp post right,NW24,1 m,4 m,18 AWG\n"
        "LH-3,LH,Sign,NW24,2 m,5 m,18 AWG\n"
    ),
}


@pytest.mark.parametrize("has_script", [True, False])
def test_from_nothing_to_a_feed_that_is_found(
    empty_site: str, quiet_page: Page, scriptless: Page, has_script: bool
) -> None:
    at = quiet_page if has_script else scriptless
    put_on(at, empty_site, "day", "phone")
    at.goto(empty_site)
    expect(at.locator("h1")).to_have_text("From nothing to a first plan")
    at.locator("main").get_by_role("link", name="Bring in a sheet").click()
    at.get_by_label("Your file").set_input_files(
        [FilePayload(name=name, mimeType="text/csv", buffer=text.encode()) for name, text in SHEETS.items()]
    )
    at.get_by_role("button", name="Look at it").click()
    expect(at.locator("h1")).to_have_text("10 rows are ready.")
    at.get_by_role("button", name="Add the 10 good rows").click()
    expect(at.locator("h1")).to_have_text("10 rows are on record")

    at.locator("main").get_by_role("link", name="Shows").click()
    at.get_by_role("link", name="The Lamp House").click()
    at.get_by_role("button", name="Work out the feeds").click()
    expect(at.get_by_role("button", name="Keep this plan")).to_be_visible(timeout=90_000)
    at.get_by_role("button", name="Keep this plan").click()
    expect(at.get_by_role("status").filter(has_text="is kept")).to_be_visible()

    at.goto(f"{empty_site}/paper/feed-sheet?show=LH")
    expect(at.locator("h1")).to_have_text("The one supply is within what it may carry")
    expect(at.locator("main")).to_contain_text("38.4 W of 120 W")  # 4 m at 9.6 W/m; 150 W × 0.80

    at.goto(f"{empty_site}/labels?show=LH")
    at.get_by_label("Address of this service").fill("http://rack.example")
    address = f"{empty_site}/labels.pdf?show=LH&what=leads&base=http://rack.example"
    page = pypdfium2.PdfDocument(BytesIO(at.request.get(address).body()))[0].render(scale=300 / 72).to_pil()
    codes = sorted(one.data.decode() for one in decode(page))
    assert codes == [f"HTTP://RACK.EXAMPLE/L/LH-{n}" for n in (1, 2, 3)]

    at.goto(empty_site + codes[2].removeprefix("HTTP://RACK.EXAMPLE"))
    expect(at.locator("h1")).to_have_text("Sign")
    for said in ("PS-61", "DC-61"):
        expect(at.locator(".ways")).to_contain_text(said)
    at.goto(f"{empty_site}/find")
    at.get_by_role("searchbox").fill("sign")
    at.get_by_role("button", name="Find").click()
    at.get_by_role("link", name="Sign").first.click()
    expect(at.locator(".ways")).to_contain_text("PS-61")
