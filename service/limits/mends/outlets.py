"""Another outlet for some of what hangs on a full one."""

from collections.abc import Iterator, Sequence
from itertools import combinations

from service.electrical.power import mains
from service.limits.circuits import Fullest, fullest
from service.limits.facts import OutletFacts
from service.limits.findings import Mend, Verdict, compared
from service.limits.lookup import Lookup
from service.limits.mends.acts import Replug

MOST_MOVED = 3
MOST_TRIED = 12  # smallest things looked at; keeps the search short on a crowded circuit


def replug(full: Fullest, limit_a: float, around: Lookup) -> Mend:
    """The fewest things, and of those the fewest amps, whose going clears it and for which there is room."""
    volts_v = full.outlet.volts_v or 0.0
    total_a = full.a(volts_v)
    things = sorted(_things(full, volts_v), key=lambda thing: (round(thing[1], 6), thing[0]))[:MOST_TRIED]
    homes = sorted(_homes(full.outlet, around), key=lambda h: _nearness(h, full.outlet))
    for size in range(1, MOST_MOVED + 1):
        for choice in sorted(combinations(things, size), key=lambda c: round(sum(a for _, a in c), 6)):
            moved_a = sum(a for _, a in choice)
            if compared(total_a - moved_a, limit_a) is Verdict.OVER:
                continue
            for home in homes:
                there = fullest(home, around)
                home_limit_a = mains.limit_a(home.breaker_a or 0.0, around.policy.breaker_factor)
                after_a = there.a(home.volts_v or 0.0) + moved_a * volts_v / (home.volts_v or 1.0)
                if compared(after_a, home_limit_a) is Verdict.OK:
                    names = " and ".join(name for name, _ in choice)
                    left = f"{full.outlet.tag} {total_a - moved_a:.2f} A of {limit_a:.2f} A"
                    right = f"{home.tag} {after_a:.2f} A of {home_limit_a:.2f} A"
                    text = f"plug {names} into {home.tag}: {left}, {right}"
                    return Mend(text, total_a - moved_a, limit_a, _acts(full, [n for n, _ in choice], home))
    over_a = total_a - limit_a
    return Mend(f"take {over_a:.2f} A off it; no other circuit of the venue that is known has room for it")


def _acts(full: Fullest, names: Sequence[str], home: OutletFacts) -> tuple[Replug, ...]:
    """Where all that moves are supplies: what else hangs there is of the venue, not of the show."""
    supplies = {plugged.supply for plugged in full.plugged if not plugged.production}
    return tuple(Replug(name, home.tag) for name in names) if supplies.issuperset(names) else ()


def _things(full: Fullest, volts_v: float) -> Iterator[tuple[str, float]]:
    """What this production may move: its own supplies with something on them, and other loads."""
    for plugged in full.plugged:
        if not plugged.production and plugged.load_w:
            yield plugged.supply, plugged.a(volts_v)
    for what, w in full.outlet.others:
        yield f"the {what}" if what else "the other load", w / volts_v


def _homes(full: OutletFacts, around: Lookup) -> list[OutletFacts]:
    """Undimmed circuits of the same venue whose figures are known."""
    return [
        outlet
        for outlet in (*around.show.outlets, *around.show.free_outlets)
        if outlet.tag != full.tag
        and outlet.kind != "dimmed"
        and outlet.venue == full.venue
        and outlet.breaker_a
        and outlet.volts_v
    ]


def _nearness(home: OutletFacts, full: OutletFacts) -> tuple[bool, bool, int, str]:
    return home.place != full.place, home.kind != "constant", len(home.supplies), home.tag
