"""The registry as a whole: order, completeness, honesty about blanks, laws."""

from dataclasses import fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.limits.facts import LeadFacts, PatchFacts, ShowFacts, TapeFacts
from service.limits.findings import SLACK, Finding, Harm, Verdict, by_harm, compared
from service.limits.mends.offers import offers
from service.limits.registry import LIMITS, by_code, findings
from tests.limits.builders import (
    NEUTRAL,
    RGBW,
    WARM_12,
    WHITES,
    a_battery,
    a_decoder,
    a_feed,
    a_show,
    a_supply,
    an_element,
    the,
)


def test_every_limit_has_a_code_of_its_own_a_title_a_source_and_a_rule_number() -> None:
    codes = [limit.code for limit in LIMITS]

    assert len(codes) == len(set(codes))
    assert all(limit.title and limit.source and limit.subject_kind for limit in LIMITS)
    assert all(1 <= limit.number <= 14 for limit in LIMITS)
    assert by_code("supply-watts").number == 2


def test_whatever_can_burn_or_shock_carries_a_caution() -> None:
    assert all(limit.caution for limit in LIMITS if limit.harm is Harm.FIRE)
    assert by_code("dimmed-circuit").caution
    assert by_code("battery-amps").caution


def test_an_empty_production_has_no_findings() -> None:
    assert findings(a_show()) == []


def _crowded() -> ShowFacts:
    """Something over in every harm, something watched, something unknown, something ok."""
    elements = [
        an_element("A", RGBW, 14.0, a_feed("PS-01", "DC-01")),
        an_element("B", WARM_12, 1.0, a_feed("PS-01", "DC-02", 1, 1)),
        an_element("C", NEUTRAL, 1.0, a_feed("BT-01", "DC-03", 1, 1), match_group="m", lots=("X",)),
        an_element("D", NEUTRAL, 1.0, None, match_group="m", lots=("Y",)),
        an_element(
            "E", WHITES, 1.0, a_feed("PS-02", "DC-04", 1, 1), wired=("WW",), lead=LeadFacts(None, None)
        ),
    ]
    return a_show(
        *elements,
        supplies=[a_supply("PS-01"), a_supply("PS-02", ambient_factor=None), a_battery("BT-01", 12.0)],
        decoders=[a_decoder(f"DC-0{n}") for n in range(1, 5)],
        patches=(PatchFacts("DC-01", None, 1, 510, 4), PatchFacts("DC-02", None, 1, 512, 4)),
    )


def test_findings_come_worst_first_over_before_watch_before_unknown_before_ok() -> None:
    found = findings(_crowded())
    order = [Verdict.OVER, Verdict.WATCH, Verdict.UNKNOWN, Verdict.OK]
    ranks = [(order.index(f.verdict), int(f.harm)) for f in found]

    assert ranks == sorted(ranks)
    assert {f.verdict for f in found} == set(order)
    assert {f.harm for f in found if f.verdict is Verdict.OVER} >= {
        Harm.FIRE,
        Harm.VOLTAGE,
        Harm.DARK,
        Harm.LOOKS,
    }
    assert found[0].harm is Harm.FIRE


def test_the_same_show_told_in_another_order_has_the_same_findings() -> None:
    show = _crowded()
    turned = replace(
        show,
        elements=show.elements[::-1],
        supplies=show.supplies[::-1],
        decoders=show.decoders[::-1],
        patches=show.patches[::-1],
    )

    assert sorted(findings(turned), key=by_harm) == sorted(findings(show), key=by_harm)


def test_every_finding_is_whole() -> None:
    codes = {limit.code for limit in LIMITS}
    for f in findings(_crowded()):
        assert f.code in codes
        assert f.message
        assert f.production == "SQ"
        assert f.tag
        assert (f.value is None) == (f.limit is None)
        if f.verdict is Verdict.UNKNOWN:
            assert f.message.startswith("cannot check ")
            assert f.message.partition("; ")[2], "it says what to do about it"
            assert f.value is None
        if f.verdict in (Verdict.OVER, Verdict.WATCH) and f.value is not None and f.limit is not None:
            assert f.margin is not None


def test_a_show_that_is_over_marks_its_findings_as_history() -> None:
    show = replace(_crowded(), is_over=True)

    assert all(f.is_history for f in findings(show))
    assert the(show, "voltage-class", "B").verdict is Verdict.OVER


METRES = st.integers(1, 400).map(lambda n: n * 0.05)


@given(METRES, st.floats(0.1, 1.0), st.floats(0.1, 1.0))
def test_a_supply_is_over_only_when_its_watts_pass_its_limit(
    metres: float, ambient: float, factor: float
) -> None:
    supply = a_supply("PS-01", ambient_factor=ambient, load_factor=factor)
    f = the(a_show(an_element("A", RGBW, metres, a_feed("PS-01")), supplies=[supply]), "supply-watts")

    assert f.value == pytest.approx(19.2 * metres)
    assert f.limit == pytest.approx(320.0 * ambient * factor)
    assert (f.verdict is Verdict.OVER) is (19.2 * metres > 320.0 * ambient * factor * (1 + SLACK))
    assert (f.margin or 0.0) == pytest.approx((f.limit or 0.0) - (f.value or 0.0))


@given(st.floats(0.001, 1e6))
def test_equality_is_ok_and_one_part_in_a_thousand_is_not(limit: float) -> None:
    assert compared(limit, limit) is Verdict.OK
    assert compared(limit * (1 + SLACK / 2), limit) is Verdict.OK
    assert compared(limit * 1.001, limit) is Verdict.OVER


@given(METRES, METRES)
def test_more_tape_never_makes_a_show_better(metres: float, more: float) -> None:
    def count(length: float) -> int:
        show = a_show(
            an_element("A", RGBW, length, a_feed("PS-01", "DC-01")),
            supplies=[a_supply("PS-01")],
            decoders=[a_decoder("DC-01")],
        )
        return sum(f.verdict is Verdict.OVER for f in findings(show))

    assert count(metres + more) >= count(metres)


BLANKS = [
    ("rated_w", "supply-watts"),
    ("ambient_factor", "supply-watts"),
]


@pytest.mark.parametrize(("name", "code"), BLANKS)
@given(METRES)
def test_a_blank_never_reads_as_ok(name: str, code: str, metres: float) -> None:
    supply = replace(a_supply("PS-01"), **{name: None})  # type: ignore[arg-type]
    show = a_show(an_element("A", RGBW, metres, a_feed("PS-01")), supplies=[supply])

    assert the(show, code).verdict is Verdict.UNKNOWN


@given(
    st.sampled_from([RGBW, WHITES, NEUTRAL]),
    METRES,
    st.sampled_from(["one", "both", "middle"]),
    st.floats(0.5, 40),
)
def test_a_lead_that_is_offered_really_clears_it(
    tape: TapeFacts, metres: float, style: str, lead_m: float
) -> None:
    element = an_element("A", tape, metres, lead=LeadFacts(lead_m, "22 AWG"), style=style)
    f = the(a_show(element), "total-drop")

    if f.mend is not None and f.mend.value_after is not None and f.mend.limit_after is not None:
        assert compared(f.mend.value_after, f.mend.limit_after) is Verdict.OK
        assert f.mend.value_after < (f.value or 0.0)


@given(st.lists(METRES, min_size=1, max_size=6), st.lists(METRES, max_size=3))
def test_a_move_that_is_offered_really_clears_it_and_overloads_nothing(
    own: list[float], other: list[float]
) -> None:
    def built(moved: dict[str, str]) -> ShowFacts:
        elements = [
            an_element(
                f"{supply}-{n}", RGBW, metres, a_feed(moved.get(f"{supply}-{n}", supply)), dimmed=False
            )
            for supply, lengths in (("PS-01", own), ("PS-02", other))
            for n, metres in enumerate(lengths)
        ]
        return a_show(*elements, supplies=[a_supply("PS-01"), a_supply("PS-02")])

    f = the(built({}), "supply-watts", "PS-01")
    if f.verdict is Verdict.OVER and f.mend is not None:
        moved = [word for word in f.mend.text.replace(":", " ").split() if word.startswith("PS-01-")]
        after = built(dict.fromkeys(moved, "PS-02"))
        assert the(after, "supply-watts", "PS-01").verdict is Verdict.OK
        assert the(after, "supply-watts", "PS-01").value == pytest.approx(f.mend.value_after)
        before = the(built({}), "supply-watts", "PS-02").verdict
        assert before is Verdict.OK
        assert the(after, "supply-watts", "PS-02").verdict is Verdict.OK


def test_an_addition_is_offered_every_supply_of_its_class_with_the_figures() -> None:
    """63.36 W more: PS-03 247.68 of 256.00 W, PS-25 163.20 of 120.00 W (150 W x 0.80)."""
    elements = [
        an_element("SQ-03", RGBW, 9.6, a_feed("PS-03")),
        an_element("SQ-07", NEUTRAL, 10.4, a_feed("PS-25")),
    ]
    supplies = [
        a_supply("PS-03"),
        a_supply("PS-25", 150.0, (6.25,)),
        a_supply("PS-26", outlet_kind="dimmed"),
        a_supply("PS-51", class_v=12.0),
        a_supply("PS-61", None),
    ]
    show = a_show(*elements, supplies=supplies, free_supplies=(a_supply("PS-13", 384.0, (4.0,) * 4),))
    found = {o.supply: o for o in offers(show, 63.36, 24.0)}

    assert list(found) == ["PS-03", "PS-13", "PS-25", "PS-61"]
    assert round(found["PS-03"].w_after, 2) == 247.68
    assert found["PS-03"].limit_w == 256.0
    assert (found["PS-25"].verdict, round(found["PS-25"].w_after, 2)) == (Verdict.OVER, 163.2)
    assert found["PS-61"].verdict is Verdict.UNKNOWN
    assert found["PS-13"].is_free


def test_a_finding_knows_its_margin_and_share() -> None:
    f = Finding(
        "c", Harm.DARK, Verdict.OVER, "supply", "PS-01", "m", "s", value=311.04, limit=256.0, unit="W"
    )

    assert f.margin == pytest.approx(-55.04)
    assert f.share_pct == pytest.approx(121.5)
    assert replace(f, limit=None).margin is None
    assert replace(f, limit=0.0).share_pct is None


def test_a_finding_said_of_a_show_is_the_same_but_for_that() -> None:
    values = {f.name: f"<{f.name}>" for f in fields(Finding)}
    found = Finding(**values)  # type: ignore[arg-type]
    said = found.said_of("WIN", True, "nominal")
    assert said == replace(found, production="WIN", is_history=True, load_basis="nominal")
