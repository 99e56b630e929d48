"""A supply, a battery, a decoder or an outlet, as somebody meets it whose light is out."""

import re

import httpx
import pytest
from playwright.sync_api import Page

from tests.web.conftest import hindrances


def _words(site: str, path: str) -> str:
    text = httpx.get(site + path).text
    return " ".join(re.sub(r"<[^>]+>", " ", text[text.index("<main") :]).split())


@pytest.mark.parametrize(
    ("path", "words"),
    [
        # What feeds it, what each channel carries of what it may, where it listens, where it stands.
        ("/decoders/DC-21", ("fed by PS-01 output 1", "Mirror frame WW 1.32 A of 6.4 A 3/029", "deck right")),
        (
            "/decoders/DC-21",
            ("All together 2.64 A of 24 A", "Pull DC-21 and these go dark Mirror frame SQ-17"),
        ),
        ("/decoders/DC-32", ("1 Attic window 1 W 0.52 A of 2.4 A 3/051", "In the box EN-2", "not set")),
        # A box over its limit says by how much; where it is nearly full too.
        ("/outlets/MD2", ("MD2: 17.15 A of 16 A: too much", "PS-01 PS-03 PS-05 PS-06 PS-51")),
        ("/outlets/SD1", ("FR 12 Oct 2026 – 30 Nov 2026 5.1 A of 12 A: look here", "surge 280 A together")),
        # Who has it, and where it lies when nobody has.
        ("/batteries/BT-11", ("Who has it The Sleet Queen, until 19 Jan 2027", "It stands at wardrobe.")),
        ("/batteries/BT-03", ("Who has it Nobody: it is in", "Its place E1, batteries and chargers")),
        ("/supplies/PS-02", ("Who has it The Clockmaker&#39;s Orchard: due back 3 Nov 2026, 22 days late",)),
    ],
)
def test_its_page_answers_what_is_asked_beside_it(site: str, path: str, words: tuple[str, ...]) -> None:
    said = _words(site, path)
    assert [wanted for wanted in words if wanted not in said] == [], said


def test_the_supply_of_a_decoder_is_one_link_away_and_not_told_over_again(site: str) -> None:
    text = httpx.get(f"{site}/decoders/DC-21").text
    assert 'href="/supplies/PS-01"' in text
    assert "Ice wall panel" not in text


def test_a_decoder_can_be_read_by_everybody_in_the_narrowest_window(quiet_page: Page, site: str) -> None:
    quiet_page.goto(f"{site}/decoders/DC-32")
    assert hindrances(quiet_page, "narrow") == []
