"""What cannot be judged is said, and nothing else of it."""

from dataclasses import replace

from service.limits.facts import ElementFacts, LoadFacts, OutputFacts, ShowFacts, SupplyFacts
from service.limits.findings import Verdict
from service.limits.lookup import Lookup
from service.limits.policy import DEFAULT
from service.limits.rules import unchecked
from tests.limits.builders import a_show, a_supply, an_element


def around(show: ShowFacts) -> Lookup:
    return Lookup(show, DEFAULT)


def loaded(supply: SupplyFacts) -> SupplyFacts:
    return replace(supply, outputs=(OutputFacts(1, 13.3, (LoadFacts("SQ-1/1", "SQ-1", 24.0, 1.0),)),))


def test_a_pack_with_something_on_it_is_timed_by_hand() -> None:
    pack = replace(loaded(a_supply("PS-01")), kind="battery")
    found = unchecked.battery_time(pack, around(a_show()))
    assert found is not None
    assert found.verdict is Verdict.UNKNOWN
    assert unchecked.battery_time(loaded(a_supply("PS-01")), around(a_show())) is None


def pixels(idle_w: float | None) -> ElementFacts:
    element = an_element("SQ-1")
    assert element.tape is not None
    return replace(element, tape=replace(element.tape, signal="pixel", pixel_idle_w=idle_w))


def test_a_pixel_without_an_idle_figure_is_asked_for_one() -> None:
    found = unchecked.pixel_idle(pixels(None), around(a_show()))
    assert found is not None
    assert found.verdict is Verdict.UNKNOWN
    assert "idle watts" in found.message
    assert unchecked.pixel_idle(pixels(0.05), around(a_show())) is None
