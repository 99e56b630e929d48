"""Tape as the published cases have it, and what is read from a solved run."""

from service.ladder.networks import Chain, Draw, FeedAt, Lead, Network, Section
from service.ladder.solving import Along, solve

NO_LEAD = Lead()


def a_section(
    rail_ohm_per_m: float = 0.10,
    draw: Draw = Draw.CURRENT,
    *,
    pitches: int = 100,
    pitch_m: float = 0.05,
    nominal_v: float = 24.0,
    w_per_m: float = 14.4,
    led_drop_v: float = 0.0,
) -> Section:
    """Tape of one emitter: 5 m of 24 V, 14.4 W/m, 100 pitches of 50 mm, unless told."""
    rails = (rail_ohm_per_m,)
    return Section(pitches, pitch_m, nominal_v, (w_per_m,), rail_ohm_per_m, rails, draw, led_drop_v)


def four_colours(draw: Draw, lit: tuple[bool, ...] = ()) -> Section:
    """5 m of 24 V, 0.2 A/m a colour, common 0.05 and each return 0.12 Ω/m, 100 mm pitch."""
    return Section(50, 0.1, 24.0, (4.8,) * 4, 0.05, (0.12,) * 4, draw, lit=lit)


def along(section: Section, feed: FeedAt = FeedAt.START, lead: Lead = NO_LEAD) -> Along:
    """The section by itself, from a supply of its nominal voltage."""
    return solve(Network(section.nominal_v, (Chain((section,), feed),), lead))[0]
