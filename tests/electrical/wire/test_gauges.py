"""What a drum of wire says, and what the shop lets it carry."""

import pytest

from service.electrical.gauges import awg, gauge, known_gauge, metric, thicker_than
from service.errors import BadQuantity


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("18 AWG", "18 AWG"),
        ("awg18", "18 AWG"),
        (" 18awg ", "18 AWG"),
        ("2/0 AWG", "2/0 AWG"),
        ("0 AWG", "1/0 AWG"),
        ("1.5 mm²", "1.5 mm²"),
        ("1,5 mm2", "1.5 mm²"),
        ("2.50 mm^2", "2.5 mm²"),
        ("1 sq mm", "1 mm²"),
    ],
)
def test_a_drum_label_is_read_as_people_write_it(text: str, name: str) -> None:
    assert gauge(text).text == name


@pytest.mark.parametrize(
    "text", ["", "18", "1.5", "37 AWG", "5/0 AWG", "1.7 mm²", "mm²", "18 AWG x 2", "-1 AWG"]
)
def test_a_label_that_is_not_a_gauge_is_refused_and_never_guessed(text: str) -> None:
    with pytest.raises(BadQuantity):
        gauge(text)
    assert known_gauge(text) is None


def test_the_shop_figures_stand() -> None:
    """Common practice: 22 AWG 3 A, 20 5, 18 7, 16 10, 14 15, 12 20; a gauge outside has none."""
    shop = {22: 3.0, 20: 5.0, 18: 7.0, 16: 10.0, 14: 15.0, 12: 20.0}

    assert {number: awg(number).shop_limit_a for number in shop} == shop
    assert awg(24).shop_limit_a is None


@pytest.mark.parametrize("mm2", [0.5, 0.75, 1.0, 1.5, 2.5, 4.0])
def test_a_metric_core_never_carries_more_than_the_cord_table_or_the_next_thinner_shop_gauge(
    mm2: float,
) -> None:
    """BS 7671 Table 4F3A: 0.5 3 A, 0.75 6, 1.0 10, 1.5 16, 2.5 25, 4 32."""
    table = {0.5: 3.0, 0.75: 6.0, 1.0: 10.0, 1.5: 16.0, 2.5: 25.0, 4.0: 32.0}
    shop = {22: 3.0, 20: 5.0, 18: 7.0, 16: 10.0, 14: 15.0, 12: 20.0}
    thinner = [a for n, a in shop.items() if awg(n).section_m2 <= mm2 * 1e-6]

    assert metric(mm2).shop_limit_a == min(table[mm2], max(thinner))


def test_thicker_wire_is_offered_in_its_own_family() -> None:
    assert [g.text for g in thicker_than(awg(16))] == ["14 AWG", "12 AWG"]
    assert [g.text for g in thicker_than(metric(1.5))] == ["2.5 mm²", "4 mm²"]
    assert thicker_than(awg(12)) == ()


def test_a_gauge_knows_its_name_and_section() -> None:
    """ASTM B258 writes 1/0 for 0; 1 AWG is 1. A metric section is the nominal one."""
    assert [awg(number).text for number in (-3, 0, 1, 2)] == ["4/0 AWG", "1/0 AWG", "1 AWG", "2 AWG"]
    assert metric(1.5).section_m2 == pytest.approx(1.5e-6, rel=1e-12)
