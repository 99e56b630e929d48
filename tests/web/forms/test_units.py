"""A person's own units, in what is read and in what is typed; what is not touched stays to its last digit."""

import re
from html import unescape

import httpx
import pytest

US = {"Cookie": "units=us"}
METRIC = {"Cookie": "units=metric"}


def form_of(page: str) -> dict[str, str]:
    """What the fields of a form say, sent as a browser would send them."""
    typed = dict(
        re.findall(r'<input(?: id="[^"]*")? ?(?:type="hidden" )?name="([^"]*)"[^>]*? ?value="([^"]*)"', page)
    )
    typed |= dict(re.findall(r'<textarea[^>]* name="([^"]*)"[^>]*>([^<]*)</textarea>', page))
    chosen = re.findall(r'<select[^>]* name="([^"]*)"[^>]*>(.*?)</select>', page, re.DOTALL)
    for name, options in chosen:
        one = re.search(r'<option(?: value="([^"]*)")? selected>([^<]*)', options)
        typed[name] = (one[1] or one[2]) if one else ""
    return {name: unescape(value) for name, value in typed.items()}


@pytest.mark.parametrize(
    ("headers", "labels"),
    [(US, ("Air outside (°F)", "Height (ft)")), (METRIC, ("Air outside (°C)", "Height (m)"))],
)
def test_a_form_asks_in_the_units_of_who_fills_it_in(
    site: str, headers: dict[str, str], labels: tuple[str, ...]
) -> None:
    page = httpx.get(f"{site}/enclosures/EN-1/change", headers=headers).text
    assert [label for label in labels if label not in page] == []
    assert "degC" not in page


@pytest.mark.parametrize(
    ("plural", "tag"),
    [("enclosures", "EN-1"), ("tapes", "CW24X"), ("supply-models", "S320"), ("elements", "SQ-01")],
)
def test_a_form_that_is_sent_as_it_came_changes_nothing(own_site: str, plural: str, tag: str) -> None:
    there = f"{own_site}/api/v1/{plural}/{tag}"
    before = httpx.get(there).json()
    page = f"{own_site}/{plural}/{tag}/change"
    typed = form_of(httpx.get(page, headers=US).text)
    assert len(typed) > 4
    sent = httpx.post(page, headers=US, data=typed)
    assert sent.status_code == 303, sent.text
    assert httpx.get(there).json() == before


def test_a_bare_figure_is_in_the_unit_of_its_label(own_site: str) -> None:
    page = f"{own_site}/enclosures/EN-1/change"
    typed = form_of(httpx.get(page, headers=US).text)
    said = {"air_outside": "86", "height": "20 in"}
    assert httpx.post(page, headers=US, data=typed | said).status_code == 303
    row = httpx.get(f"{own_site}/api/v1/enclosures/EN-1").json()
    assert row["ambient_degc"] == pytest.approx(30)
    assert row["height_m"] == pytest.approx(0.508)


def test_a_run_is_edited_in_the_readers_own_units(own_site: str) -> None:
    there, page = f"{own_site}/api/v1/elements/TL-25", f"{own_site}/productions/TL/elements/TL-25"
    before = httpx.get(there).json()["runs"]
    typed = form_of(httpx.get(page, headers=US).text)
    assert typed["pieces"].endswith(" ft")
    assert typed["lead"].endswith(" ft")
    assert httpx.post(page, headers=US, data=typed | {"name": "Told anew"}).status_code == 303
    assert httpx.get(there).json()["runs"] == before
    typed = form_of(httpx.get(page, headers=US).text)
    sent = httpx.post(page, headers=US, data=typed | {"pieces": "10 in; 2 ft 6 in"})
    assert sent.status_code == 303, sent.text
    after = httpx.get(there).json()["runs"]
    assert [run["pieces"][0]["drawn_mm"] for run in after] == [254, 762]
    assert {run["lead_m"] for run in after} == {run["lead_m"] for run in before}


@pytest.mark.parametrize(
    "path", ["/productions/SQ", "/supplies/PS-05", "/paper/feed-sheet?show=SQ", "/limits"]
)
def test_no_sentence_tells_metres_or_centigrade_to_who_reads_feet(site: str, path: str) -> None:
    page = httpx.get(site + path, headers=US, timeout=60).text
    assert re.findall(r"\d (?:m|mm|°C|W/m)(?![\w²³/])", page) == []
    assert re.search(r"\d (?:ft|°F|W/ft)", page)


def test_what_somebody_wrote_stays_as_it_was_written(own_site: str) -> None:
    page = httpx.get(f"{own_site}/enclosures/EN-1", headers=US).text
    assert "12 mm ply plinth, standing on deck" in unescape(page)
    counted = httpx.get(f"{own_site}/reels/R-179", headers=US).text
    assert "17 Aug 2026" in counted
    form = f"{own_site}/tapes/UV24/change"
    typed = form_of(httpx.get(form, headers=US).text) | {"emitters": "W 4,8 W/m"}
    refused = unescape(httpx.post(form, headers=US, data=typed).text)
    assert "'W 4,8 W/m'" in refused
    assert "W=4.8 W/m'" in refused


def test_what_is_entered_in_per_cent_is_told_in_per_cent(site: str) -> None:
    page = httpx.get(f"{site}/supply-models/S320").text
    assert "2.5 %/K" in page
    assert 'value="2.5"' in httpx.get(f"{site}/supply-models/S320/change").text
