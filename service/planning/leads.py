"""How far each run may be fed from: lengths of lead between places, against what its volts and wire bear."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from service.allocation.problem import Reach
from service.limits.facts import LeadFacts, ShowFacts, WireFacts
from service.limits.lookup import Lookup
from service.limits.reach import LedRun, longer_leads, longest_lead
from service.planning.snapshot.facts import tape_facts
from service.planning.snapshot.house import House
from service.planning.snapshot.show import ElementRow, RunRow

MOST_M = 1e6  # a lead that nothing limits is no longer than this


class Leads:
    """The drums of a house and its rules, asked about one run after another."""

    def __init__(self, house: House) -> None:
        self.house = house
        drums = tuple(
            WireFacts(gauge, ohm_per_m, limit_a)
            for gauge, (ohm_per_m, limit_a) in sorted(house.wires.items())
            if ohm_per_m is not None
        )
        # Of a show, only the drums and the rules are looked at here.
        self._around = Lookup(ShowFacts("", date.min, False, wires=drums), house.policy)

    def reach_of(self, element: ElementRow, run: RunRow, sites: Iterable[str]) -> Reach | None:
        """What keeps the run from being fed from some of these sites; None where it may be fed from all.

        From a place that a reach is written for, the lead is as long as that reach, or as typed where that is
        longer; from everywhere else as typed. Where neither is known, only its tape and amps count.
        """
        led = _led(self.house, element, run)
        found = longest_lead(led, self._around)
        reach = Reach(
            longest_um=-1 if found.lead_m is None else int(min(found.lead_m, MOST_M) * 1e6),
            lead_um=run.lead_um,
            from_um=_lengths(self.house, element, run),
            limit="lead-length" if found.value is None else found.code,
            value=found.value,
            bound=found.bound,
            unit=found.unit,
            because=found.because,
        )
        if all(reach.holds(site) for site in sites):
            return None
        longer = longer_leads(led, self._around)
        return replace(
            reach, others=tuple((int(min(other.lead_m, MOST_M) * 1e6), other.text) for other in longer)
        )


def near_places(house: House, element: ElementRow) -> list[int]:
    """The element's place and the one around it: a reach may be written for either."""
    own = house.places.get(element.place_id or 0)
    return [] if own is None else [own.id, *([own.parent_id] if own.parent_id else [])]


def _led(house: House, element: ElementRow, run: RunRow) -> LedRun:
    assert element.tape is not None
    ohm_per_m, limit_a = house.lead(run.lead_gauge)
    return LedRun(
        tape_facts(element.tape),
        run.pitches * element.tape.pitch_um / 1e6,
        run.feed_style,
        LeadFacts(None, run.lead_gauge, ohm_per_m, limit_a, run.lead_cores),
    )


def _lengths(house: House, element: ElementRow, run: RunRow) -> tuple[tuple[str, int], ...]:
    """Length of lead from each place that a reach is written for; the element's own place first."""
    found: dict[str, int] = {}
    for place_id in near_places(house, element):
        for gear, lead_um in house.reaches.get(place_id, ()):
            if lead_um is not None:
                found.setdefault(house.places[gear].tag, max(lead_um, run.lead_um or 0))
    return tuple(sorted(found.items()))
