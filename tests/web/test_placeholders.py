"""Gear that no unit is chosen for yet has a model, and no page of its own."""

import re

import httpx
import pytest

TO_A_PLACEHOLDER = re.compile(r'href="[^"]*/any%20[^"]*"')


@pytest.mark.parametrize("path", ["/productions/TL", "/elements/TL-25", "/paper/feed-sheet?show=TL"])
def test_what_no_unit_is_chosen_for_leads_nowhere(site: str, path: str) -> None:
    page = httpx.get(site + path, timeout=60)
    assert page.status_code == 200
    assert "any S320" in page.text
    assert TO_A_PLACEHOLDER.findall(page.text) == []
