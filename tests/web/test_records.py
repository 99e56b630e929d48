"""Adding and changing anything by hand, with no script at all."""

from playwright.sync_api import Page, expect


def test_a_supply_is_added_and_its_state_changed(scriptless: Page, own_site: str) -> None:
    scriptless.goto(f"{own_site}/add")
    scriptless.get_by_role("link", name="supplies").click()
    scriptless.get_by_label("Tag").fill("PS-99")
    scriptless.get_by_label("Model").fill("S320")
    scriptless.get_by_role("button", name="Keep").click()
    assert scriptless.url.startswith(f"{own_site}/supplies/PS-99")
    scriptless.get_by_role("link", name="Change it").click()
    scriptless.get_by_label("State", exact=False).first.select_option("suspect")
    scriptless.get_by_role("button", name="Keep").click()
    expect(scriptless.locator("main")).to_contain_text("suspect")


def test_what_cannot_be_is_said_at_its_field_and_what_was_typed_stays(
    scriptless: Page, own_site: str
) -> None:
    scriptless.goto(f"{own_site}/add/supplies")
    scriptless.get_by_label("Tag").fill("PS-98")
    scriptless.get_by_label("Model").fill("S3200")
    scriptless.get_by_role("button", name="Keep").click()
    expect(scriptless.get_by_role("alert")).to_contain_text("Nothing was stored yet")
    expect(scriptless.locator(".field.bad")).to_contain_text("Nearest is S320")
    expect(scriptless.get_by_label("Tag")).to_have_value("PS-98")


def test_a_change_made_meanwhile_by_somebody_else_is_not_overwritten(scriptless: Page, own_site: str) -> None:
    scriptless.goto(f"{own_site}/supplies/PS-13/change")
    other = scriptless.context.new_page()
    other.goto(f"{own_site}/supplies/PS-13/change")
    other.get_by_label("Where now").fill("on the bench")
    other.get_by_role("button", name="Keep").click()
    scriptless.get_by_label("Where now").fill("in the van")
    scriptless.get_by_role("button", name="Keep").click()
    expect(scriptless.get_by_role("alert")).to_contain_text("PS-13 was changed since you read it")
    other.goto(f"{own_site}/supplies/PS-13/change")
    expect(other.get_by_label("Where now")).to_have_value("on the bench")
