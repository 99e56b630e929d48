"""Two people with the same form open, and what nobody could mean."""

import httpx
from playwright.sync_api import Page, expect

from service.errors import RowError
from service.kinds.sheets.season import PRODUCTIONS
from service.web.records.forms import columns_asked, fields, loose


def test_the_second_sees_what_the_first_changed_and_may_keep_all_the_same(
    scriptless: Page, own_site: str
) -> None:
    address = f"{own_site}/supplies/PS-22/change"
    scriptless.goto(address)
    _meanwhile(address, {"where_note": "on the bench"})
    scriptless.get_by_label("Where now").fill("in the van")
    scriptless.get_by_role("button", name="Keep").click()
    expect(scriptless.get_by_role("alert")).to_contain_text("changed since you read it")
    expect(scriptless.get_by_label("Where now")).to_have_value("in the van")
    expect(scriptless.locator(".field.bad")).to_have_count(1)
    expect(scriptless.locator(".field.bad")).to_contain_text("It now says: on the bench")
    scriptless.get_by_role("button", name="Keep").click()
    assert httpx.get(f"{own_site}/api/v1/supplies/PS-22").json()["where_note"] == "in the van"


def _meanwhile(address: str, values: dict[str, str]) -> None:
    """Somebody else changes it, through the API."""
    there = address.replace("/supplies", "/api/v1/supplies").removesuffix("/change")
    made = httpx.patch(there, json=values, headers={"If-Match": httpx.get(there).headers["etag"]})
    assert made.status_code == 200, made.text


def test_the_same_where_an_element_stands_in_its_list(scriptless: Page, own_site: str) -> None:
    scriptless.goto(f"{own_site}/productions/FR/elements/FR-05")
    there = f"{own_site}/api/v1/elements/FR-05"
    made = httpx.patch(
        there, json={"name": "Tall flask"}, headers={"If-Match": httpx.get(there).headers["etag"]}
    )
    assert made.status_code == 200, made.text
    scriptless.get_by_label("Name", exact=True).fill("Round flask")
    scriptless.get_by_role("button", name="Keep").click()
    expect(scriptless.get_by_role("alert")).to_contain_text("changed since you read it")
    expect(scriptless.get_by_label("Name", exact=True)).to_have_value("Round flask")
    expect(scriptless.locator(".field.wrong")).to_contain_text("It now says: Tall flask")
    scriptless.get_by_role("button", name="Keep").click()
    assert httpx.get(there).json()["name"] == "Round flask"


def test_a_tag_that_is_taken_leaves_the_form_as_it_was_typed(own_site: str) -> None:
    refused = httpx.post(
        f"{own_site}/add/supplies", data={"tag": "PS-22", "model": "S320", "where_now": "new one"}
    )
    assert refused.status_code == 422
    assert "PS-22 is or was the tag of a unit" in refused.text
    assert 'value="PS-22"' in refused.text
    assert "new one" in refused.text


def test_no_version_is_too_long_to_be_refused(own_site: str) -> None:
    for version in ("9" * 5000, "-1", ""):
        refused = httpx.post(f"{own_site}/supplies/PS-22/change", data={"version": version, "model": "S320"})
        assert refused.status_code == 409, version[:9]
    assert httpx.get(f"{own_site}/notes/{'9' * 60}/change").status_code == 404


def test_every_fault_of_a_form_is_said(own_site: str) -> None:
    typed = {"code": "ZZ", "venue": "Nowhere", "load_in": "2027-01-10", "closing": "2027-01-20"}
    refused = httpx.post(f"{own_site}/productions/new", data=typed)
    assert refused.status_code == 422
    assert "mains_v is missing" not in refused.text
    assert "Mains volts there" in refused.text


def test_a_lock_is_taken_only_where_the_element_is(own_site: str) -> None:
    refused = httpx.post(f"{own_site}/productions/TW/elements/SQ-09/lock", data={"locked": "yes"})
    assert refused.status_code == 404


def test_a_fault_that_has_no_field_is_said_beside_one_that_has() -> None:
    columns = columns_asked(PRODUCTIONS, True)
    own = RowError("", None, "code", "it is odd", "Change it")
    other = RowError("", None, None, "the days clash", "Move one")
    form = fields(columns, {}, [own, other])
    assert [one.key for one in form if one.fault] == ["code"]
    assert loose(form, [own, other]) == [other]
