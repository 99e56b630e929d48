"""What hangs on a wall circuit on its fullest day: this production's supplies, others', and other things."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date

from service.electrical.power import mains
from service.limits.facts import MainsFacts, OutletFacts
from service.limits.lookup import Lookup

USUAL_V = 120.0  # only to find the fullest day where nobody entered the volts


@dataclass(frozen=True, slots=True)
class Plugged:
    """One supply on a circuit. `production` blank: of this one."""

    supply: str
    load_w: float
    figures: MainsFacts
    production: str = ""

    def a(self, volts_v: float) -> float:
        return self._draw(volts_v).current_a

    def least_a(self, volts_v: float) -> float:
        """With the best that is usual where a figure is blank."""
        found = self._draw(volts_v)
        share = 1.0
        for one in found.assumed:
            share *= one.at_best / one.at_worst if one.at_worst else 1.0
        return found.current_a * share

    def assumed(self, volts_v: float) -> tuple[str, ...]:
        return tuple(f"{self.supply}: {one.text}" for one in self._draw(volts_v).assumed if self.load_w)

    def _draw(self, volts_v: float) -> mains.Draw:
        given_w = mains.output_w(self.load_w)
        return mains.draw(given_w, volts_v, self.figures.efficiency, self.figures.power_factor)


@dataclass(frozen=True, slots=True)
class Fullest:
    """A circuit on the day on which most hangs on it; `on` None: every day alike."""

    outlet: OutletFacts
    plugged: tuple[Plugged, ...]
    on: date | None
    other_w: float = field(default=0.0)

    def a(self, volts_v: float) -> float:
        return sum(p.a(volts_v) for p in self.plugged) + self.other_w / volts_v

    def least_a(self, volts_v: float) -> float:
        return sum(p.least_a(volts_v) for p in self.plugged) + self.other_w / volts_v

    @property
    def sharers(self) -> tuple[str, ...]:
        return tuple(sorted({p.production for p in self.plugged if p.production}))

    @property
    def shared_text(self) -> str:
        """Who else is on it, and when; blank where nobody is."""
        if not self.sharers or self.on is None:
            return ""
        others = (
            f"{code} ({', '.join(p.supply for p in self.plugged if p.production == code)})"
            for code in self.sharers
        )
        return f"; shared with {' and '.join(others)} on {self.on.isoformat()}"


def fullest(outlet: OutletFacts, around: Lookup) -> Fullest:
    """The day on which it carries the most amps."""
    volts_v = outlet.volts_v or USUAL_V
    return max(_each(outlet, around), key=lambda day: (round(day.a(volts_v), 9), len(day.plugged)))


def busiest(outlet: OutletFacts, around: Lookup) -> Fullest:
    """The day on which the most supplies are plugged into it."""
    return max(_each(outlet, around), key=lambda day: len(day.plugged))


def _each(outlet: OutletFacts, around: Lookup) -> list[Fullest]:
    other_w = sum(w for _, w in outlet.others)
    return [Fullest(outlet, tuple(plugged), on, other_w) for on, plugged in _days(outlet, around)]


def _days(outlet: OutletFacts, around: Lookup) -> Iterator[tuple[date | None, list[Plugged]]]:
    """Each day on which another production joins, and a day without any."""
    own = {
        tag: Plugged(tag, supply.load_w, supply.mains)
        for tag in outlet.supplies
        if (supply := around.supplies.get(tag)) is not None
    }
    yield None, list(own.values())
    for day in sorted({plug.from_on for plug in outlet.shared}):
        on = dict(own)
        for plug in outlet.shared:
            # A unit that two shows claim is still only one: it draws the larger of its two loads.
            if plug.from_on <= day <= plug.last_on and plug.load_w >= getattr(
                on.get(plug.supply), "load_w", 0.0
            ):
                on[plug.supply] = Plugged(plug.supply, plug.load_w, plug.mains, plug.production)
        yield day, list(on.values())
