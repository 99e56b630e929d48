"""The drawing says what the figures say, to those who see it and to those who do not."""

import re
from xml.etree import ElementTree

import pytest

from service.ladder.networks import Draw, FeedAt
from service.ladder.picture import FEET, METRES, Limit, volts_along
from tests.ladder.tapes import a_section, along, four_colours

SVG = "{http://www.w3.org/2000/svg}"


def texts(drawing: str) -> list[str]:
    return [each.text or "" for each in ElementTree.fromstring(drawing).iter(f"{SVG}text")]


@pytest.mark.parametrize("feed", FeedAt)
def test_it_stays_in_its_frame_and_has_no_colour_and_no_script(feed: FeedAt) -> None:
    drawing = volts_along(along(a_section(0.10), feed), "A run", limits=[Limit(22.8, "5 %")])
    root = ElementTree.fromstring(drawing)
    assert root.get("viewBox") == "0 0 640 260"
    assert {each.tag for each in root.iter()} <= {
        SVG + name for name in ("svg", "title", "desc", "path", "circle", "text")
    }
    assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', drawing)) <= {"none", "currentColor"}
    (circle,) = root.iter(f"{SVG}circle")
    assert 56 <= float(circle.get("cx", "0")) <= 624
    assert 28 <= float(circle.get("cy", "0")) <= 220


def test_the_words_name_the_worst_point() -> None:
    """Case S1: 23.25 V at the far end."""
    drawing = volts_along(along(a_section(0.05)), "Ice edge <left>", ["W"])
    root = ElementTree.fromstring(drawing)
    assert root.findtext(f"{SVG}title") == "Ice edge <left>"
    assert (
        root.findtext(f"{SVG}desc")
        == "24.00 V at the supply. Fewest volts: 23.25 V, W, 4.97 m from the start."
    )
    assert "23.25 V" in texts(drawing)


def test_its_lengths_can_be_told_in_feet() -> None:
    """The same case: 4.975 m over 0.3048 is 16.32 ft, and the drawing is no other."""
    metres, feet = (
        volts_along(along(a_section(0.05)), "Ice edge", ["W"], ruler=one) for one in (METRES, FEET)
    )
    said = ElementTree.fromstring(feet).findtext(f"{SVG}desc")
    assert said == "24.00 V at the supply. Fewest volts: 23.25 V, W, 16.32 ft from the start."
    assert [text for text in texts(feet) if "from the start" in text] == ["feet from the start"]
    assert re.findall(r'<path d="M[\d.]+ [\d.]+L[^"]*"', feet) == re.findall(
        r'<path d="M[\d.]+ [\d.]+L[^"]*"', metres
    )
    # 5 m are 16.4 ft: the mark of 15 ft stands at 4.572 m of them, between the edges at 56 and 624.
    (mark,) = (e for e in ElementTree.fromstring(feet).iter(f"{SVG}text") if e.text == "15")
    assert float(mark.get("x", "0")) == pytest.approx(56 + 568 * 4.572 / 5.0, abs=0.06)


def test_each_emitter_that_is_on_has_a_line_of_its_own() -> None:
    lit = (True, False, True, True)
    drawing = volts_along(along(four_colours(Draw.RESISTOR, lit)), "Four", "RGBW")
    assert drawing.count('stroke-width="2"') == 2 * 3  # in the drawing and in its key
    assert {"R", "B", "W"} <= set(texts(drawing))
    assert "G" not in texts(drawing)


def test_a_run_without_loss_is_drawn_too() -> None:
    drawing = volts_along(along(a_section(0.0, pitches=1)), "One pitch")
    assert "24.00 V" in texts(drawing)
