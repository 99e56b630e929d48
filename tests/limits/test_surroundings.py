"""What tape is fixed to, what gets wet or is worn, what is filmed. Common practice; IP codes by IEC 60529."""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from service.limits.facts import DecoderFacts, ElementFacts, ShowFacts, TapeFacts
from service.limits.findings import Harm, Verdict
from service.limits.policy import DEFAULT
from tests.limits.builders import (
    NEUTRAL,
    PIXEL_12,
    RED,
    RGBW,
    WARM_12,
    a_decoder,
    a_feed,
    a_show,
    a_supply,
    an_element,
    found,
    mend_of,
    the,
)


def kelp(tape: TapeFacts | None = RGBW, **more: Any) -> ElementFacts:
    return an_element("TL-17", tape, **more)


@pytest.mark.parametrize(
    ("tape", "mount", "verdict"),
    [
        (RGBW, "foam", Verdict.OVER),
        (RGBW, "stretched fabric", Verdict.OVER),
        (RGBW, "timber", Verdict.WATCH),
        (RGBW, "aluminium", Verdict.OK),
        (RGBW, "sheet steel", Verdict.OK),
        (NEUTRAL, "foam", Verdict.OK),  # 9.6 W/m
        (replace(NEUTRAL, emitters=(replace(NEUTRAL.emitters[0], w_per_m=10.0),)), "foam", Verdict.OK),
        (RGBW, None, Verdict.UNKNOWN),
        (NEUTRAL, None, Verdict.OK),
    ],
)
def test_bright_tape_wants_metal_and_never_lies_on_what_burns(
    tape: TapeFacts, mount: str | None, verdict: Verdict
) -> None:
    f = the(a_show(kelp(tape, mount=mount)), "mounting")

    assert f.verdict is verdict
    if verdict is not Verdict.UNKNOWN:
        assert (f.value, f.limit) == pytest.approx((tape.w_per_m, 10.0))
        assert f.unit == "W/m"


def test_tape_on_foam_is_a_matter_of_fire_and_gets_metal_offered() -> None:
    """19.2 W/m of 10: what is left of it is 52 %."""
    f = the(a_show(kelp(mount="foam")), "mounting")

    assert f.harm is Harm.FIRE
    assert f.margin == pytest.approx(-9.2)
    assert "aluminium strip" in mend_of(f)[0]
    assert "52 %" in mend_of(f)[0]
    assert f.caution


def test_what_has_no_tape_yet_is_not_mounted() -> None:
    show = a_show(kelp(None, mount="foam", zone="wet", motion="costume"))

    assert [f for code in ("mounting", "wet-zone", "worn-volts") for f in found(show, code)] == []


@pytest.mark.parametrize(
    ("zone", "ip", "verdict", "needs"),
    [
        ("wet", 20, Verdict.OVER, 67.0),
        ("wet", 65, Verdict.OVER, 67.0),
        ("wet", 67, Verdict.OK, 67.0),
        ("wet", 68, Verdict.OK, 67.0),
        ("splash", 20, Verdict.OVER, 65.0),
        ("splash", 65, Verdict.OK, 65.0),
        ("splash", 67, Verdict.OK, 65.0),
        ("splash", 70, Verdict.OVER, 65.0),  # tight against dust alone
    ],
)
def test_tape_is_as_tight_as_its_zone_is_wet(zone: str, ip: int, verdict: Verdict, needs: float) -> None:
    f = the(a_show(kelp(replace(RGBW, ip=ip), zone=zone)), "wet-zone")

    assert (f.verdict, f.value, f.limit, f.unit) == (verdict, float(ip), needs, "IP")
    assert f.margin == ip - needs


def test_a_blank_code_in_a_wet_zone_is_unknown_and_a_dry_zone_asks_for_none() -> None:
    assert the(a_show(kelp(zone="wet")), "wet-zone").verdict is Verdict.UNKNOWN
    assert found(a_show(kelp(zone="dry")), "wet-zone") == []


def test_a_tape_of_the_show_that_is_tight_enough_is_named() -> None:
    show = a_show(
        kelp(replace(RGBW, ip=20), zone="wet"),
        an_element("TL-18", replace(RGBW, tag="RGBW24X", ip=67)),
        an_element("TL-19", replace(NEUTRAL, ip=67)),
    )

    assert mend_of(the(show, "wet-zone", "TL-17")) == (
        "use RGBW24X, and seal its cut ends again; or move it out of the wet",
        67.0,
        67.0,
    )


def test_a_costume_is_of_the_low_class_or_is_looked_at() -> None:
    watched = the(a_show(an_element("FR-14", RED, motion="costume")), "worn-volts")

    assert (watched.verdict, watched.value, watched.limit) == (Verdict.WATCH, 24.0, 12.0)
    low = the(a_show(an_element("SQ-23", WARM_12, motion="costume")), "worn-volts")
    assert low.verdict is Verdict.OK
    assert found(a_show(an_element("SQ-01", RED)), "worn-volts") == []


FILMED = date(2027, 3, 6)


def filmed(element: ElementFacts, *decoders: DecoderFacts, **more: object) -> ShowFacts:
    more = {"film_days": (FILMED,), **more}
    return a_show(element, supplies=[a_supply("PS-01")], decoders=decoders, **more)


@pytest.mark.parametrize(
    ("hz", "verdict", "limit"),
    [
        (500.0, Verdict.OVER, 1000.0),
        (1000.0, Verdict.WATCH, 2000.0),
        (1999.0, Verdict.WATCH, 2000.0),
        (2000.0, Verdict.OK, 2000.0),
        (4000.0, Verdict.OK, 2000.0),
    ],
)
def test_slow_dimming_is_watched_on_a_film_day_and_very_slow_is_over(
    hz: float, verdict: Verdict, limit: float
) -> None:
    show = filmed(an_element("TL-09", feed=a_feed("PS-01", "DC-01")), a_decoder("DC-01", pwm_hz=hz))
    f = the(show, "film-pwm")

    assert (f.verdict, f.value, f.limit, f.margin) == (verdict, hz, limit, hz - limit)
    assert "2027-03-06" in f.message


def test_only_what_is_dimmed_and_filmed_from_now_on_is_asked() -> None:
    dimmed, decoder = an_element("TL-09", feed=a_feed("PS-01", "DC-01")), a_decoder("DC-01")
    straight = an_element("TL-15", feed=a_feed("PS-01"), dimmed=False)

    assert found(filmed(dimmed, decoder, film_days=()), "film-pwm") == []
    assert found(filmed(dimmed, decoder, film_days=(date(2026, 11, 24),)), "film-pwm") == []
    assert len(found(filmed(dimmed, decoder, film_days=(date(2026, 11, 25),)), "film-pwm")) == 1
    assert found(filmed(straight), "film-pwm") == []
    assert found(filmed(replace(dimmed, dimmed=False), decoder), "film-pwm") == []


def test_a_frequency_nobody_entered_is_unknown_unless_another_is_too_slow_already() -> None:
    two = an_element("TL-09", metres=[1.0, 1.0], feed=[a_feed("PS-01", "DC-01"), a_feed("PS-01", "DC-02")])
    blank, slow = a_decoder("DC-01", pwm_hz=None), a_decoder("DC-02", pwm_hz=500.0)

    assert the(filmed(two, blank, a_decoder("DC-02")), "film-pwm").verdict is Verdict.UNKNOWN
    assert the(filmed(two, blank, slow), "film-pwm").verdict is Verdict.OVER


def test_pixels_dim_themselves() -> None:
    """The driver's frequency is no matter; the tape's own is."""
    tape = replace(PIXEL_12, pwm_hz=400.0)
    driver = a_decoder("DC-52", signal="pixel", pwm_hz=2000.0)
    show = filmed(an_element("TL-22", tape, feed=a_feed("PS-01", "DC-52", 1, 1)), driver)

    assert the(show, "film-pwm").value == 400.0


def test_a_free_decoder_that_is_fast_enough_is_offered_with_its_frequency() -> None:
    free = (a_decoder("DC-02"), a_decoder("DC-21", 5, 8.0, 30.0, model="D5", pwm_hz=4000.0))
    element = an_element("TL-09", feed=a_feed("PS-01", "DC-01"))
    f = the(filmed(element, a_decoder("DC-01", pwm_hz=500.0), free_decoders=free), "film-pwm")

    assert mend_of(f) == ("dim it by DC-21 (D5, free): 4000 Hz", 4000.0, 1000.0)


def test_the_house_may_set_its_own_figures() -> None:
    policy = replace(DEFAULT, mount_w_per_m=20.0, film_watch_hz=900.0, film_over_hz=900.0, worn_v=24.0)
    show = filmed(
        an_element("TL-09", mount="foam", motion="costume", feed=a_feed("PS-01", "DC-01")),
        a_decoder("DC-01"),
    )

    for code in ("mounting", "film-pwm", "worn-volts"):
        assert the(show, code, policy=policy).verdict is Verdict.OK
        assert the(show, code).verdict is not Verdict.OK
