"""What the wire of a lead may carry: the shop's figures, and the sets a house asks for beside them."""

from dataclasses import replace

import pytest

from service.limits.facts import LeadFacts, ShowFacts, WireFacts
from service.limits.findings import Verdict
from service.limits.policy import DEFAULT, Policy
from service.limits.wires import ASKED_BY, core_limit, sets_asked
from tests.limits.builders import RGBW, a_show, an_element, mend_of, the

US_CORD = Policy(wire_us_cord=1.0)
EVERY_SET = replace(DEFAULT, **dict.fromkeys(ASKED_BY, 1.0))


def _run(metres: float, lead: LeadFacts, wires: tuple[WireFacts, ...] = ()) -> ShowFacts:
    """RGBW of 19.2 W/m on 24 V: 0.8 A a metre."""
    return a_show(an_element("E", RGBW, metres, lead=lead), wires=wires)


def test_the_shop_decides_alone_unless_the_house_asks() -> None:
    """Common practice: 18 AWG 7 A."""
    limit = core_limit(LeadFacts(5.0, "18 AWG", cores=5), DEFAULT)

    assert [str(which) for which in sets_asked(DEFAULT)] == ["shop"]
    assert (limit.limit_a, limit.fuse_a, limit.text) == (7.0, 7.0, "")


def test_every_set_can_be_asked_for_and_the_strictest_decides() -> None:
    """18 AWG, five cores: 7 A by the shop; NFPA 70 (2017) Table 400.5(A) 5.6, 402.5 4.8; BS 7671 3.79."""
    limit = core_limit(LeadFacts(5.0, "18 AWG", cores=5), EVERY_SET)

    assert len(sets_asked(EVERY_SET)) == 6
    assert limit.limit_a == pytest.approx(6.0 * (2 / 5) ** 0.5)
    assert "us cord: 7 A × 0.80 = 5.60 A" in limit.text
    assert "us fixture wire: 6 A × 0.80 = 4.80 A" in limit.text
    assert limit.text.endswith("us stage cord: no figure")


def test_a_lead_is_over_by_a_set_that_the_house_asks_for_and_both_figures_are_printed() -> None:
    """7.5 m is 6 A: 7 A by the shop, 5.6 by NFPA 70 (2017) 400.5(A); 16 AWG carries 8."""
    show = _run(7.5, LeadFacts(0.5, "18 AWG", cores=5))
    shop, asked = the(show, "lead-amps"), the(show, "lead-amps", policy=US_CORD)

    assert (shop.verdict, shop.limit) == (Verdict.OK, 7.0)
    assert asked.verdict is Verdict.OVER
    assert asked.limit == pytest.approx(5.6)
    assert "(shop: 7 A; us cord: 7 A × 0.80 = 5.60 A)" in asked.message


def test_the_mend_keeps_the_set_that_the_house_asks_for() -> None:
    """4.9 m is 3.92 A: 20 AWG takes 5 by the shop and has no figure as a cord; five cores of 18 carry 5.6."""
    show = _run(4.9, LeadFacts(0.5, "22 AWG", cores=5))

    assert "use 20 AWG: 3.92 A of 5.00 A" in mend_of(the(show, "lead-amps"))[0]
    crowded = _run(4.9, LeadFacts(0.5, "18 AWG", cores=10))
    text, after, limit = mend_of(the(crowded, "lead-amps", policy=US_CORD))
    assert "use 16 AWG: 3.92 A of 5.00 A" in text
    assert after == pytest.approx(3.92)
    assert limit == pytest.approx(5.0)


def test_leads_in_warm_air_carry_less() -> None:
    """60 degC insulation at 40 degC: 0.82 (NFPA 70 (2023) Table 310.15(B)(1)(1))."""
    warm = core_limit(LeadFacts(5.0, "18 AWG", cores=5), Policy(open_air_degc=40.0))

    assert warm.limit_a == pytest.approx(5.74)
    assert warm.text == "shop: 7 A × 0.82 = 5.74 A"


def test_a_drum_s_own_lower_figure_stays() -> None:
    assert core_limit(LeadFacts(5.0, "18 AWG", None, 4.0, cores=5), US_CORD).limit_a == 4.0
    assert core_limit(LeadFacts(5.0, "18 AWG", None, 9.0, cores=5), US_CORD).limit_a == pytest.approx(5.6)
    assert core_limit(LeadFacts(5.0, "bell wire", 0.02, 4.0), US_CORD).limit_a == 4.0
    assert core_limit(LeadFacts(5.0, "bell wire"), US_CORD).limit_a is None


def test_where_the_cores_are_not_known_five_are_assumed() -> None:
    lead = LeadFacts(5.0, "18 AWG")

    assert core_limit(lead, US_CORD) == core_limit(replace(lead, cores=5), US_CORD)
    assert core_limit(lead, US_CORD) != core_limit(replace(lead, cores=2), US_CORD)


def test_the_fuse_of_a_stage_cord_stays_below_its_amps() -> None:
    """NFPA 70 (2017) Table 520.44(C)(3): 12 AWG 32 A, its device 20 A; the shop says 20 A."""
    limit = core_limit(LeadFacts(5.0, "10 AWG", cores=3), Policy(wire_us_stage=1.0))

    assert (limit.limit_a, limit.fuse_a) == (41.0, 25.0)
