"""What the wire of a lead may carry, by every set of figures that the house asks for."""

from dataclasses import dataclass
from functools import lru_cache

from service.electrical.ampacity import AmpacitySet, Decided, decide
from service.electrical.gauges import known_gauge
from service.limits.facts import LeadFacts
from service.limits.policy import Policy

# Where nobody typed the cores of a lead: a common and four colours, all carrying. Common practice.
ASSUMED_CORES = 5

# House rules that ask for a set beside the shop's own.
ASKED_BY = {
    "wire_us_cord": AmpacitySet.US_CORD,
    "wire_us_fixture": AmpacitySet.US_FIXTURE_WIRE,
    "wire_us_small": AmpacitySet.US_SMALL_WIRE,
    "wire_us_stage": AmpacitySet.US_STAGE_CORD,
    "wire_iec_cord": AmpacitySet.IEC_CORD,
}


@dataclass(frozen=True, slots=True)
class CoreLimit:
    """The strictest figure for one core. `limit_a` None: neither the drum nor any set has one.

    `fuse_a`: the greatest fuse that protects it. `decided` None: the gauge is not known.
    """

    limit_a: float | None
    fuse_a: float | None
    decided: Decided | None

    @property
    def text(self) -> str:
        """Every set's figure or silence, where there is more to say than the shop's own; else blank."""
        if self.decided is None:
            return ""
        said = [str(figure) for figure in self.decided.figures]
        said += [f"{which}: no figure" for which in self.decided.silent]
        return "; ".join(said) if len(said) > 1 or "×" in said[0] else ""


def sets_asked(policy: Policy) -> tuple[AmpacitySet, ...]:
    """The shop's own set, and those that the house asks for beside it.

    >>> [str(which) for which in sets_asked(Policy(wire_us_cord=1.0))]
    ['shop', 'us cord']
    """
    return (AmpacitySet.SHOP, *(which for name, which in ASKED_BY.items() if getattr(policy, name)))


def core_limit(lead: LeadFacts, policy: Policy) -> CoreLimit:
    """The stricter of the figure entered for the drum and every set's for its gauge.

    Sets are corrected for the cores that carry (all of the lead's) and for the air outside boxes; the drum's
    own figure stands as it was entered.

    Source: `service.electrical.ampacity`; where sets differ the strictest decides (house rule).
    """
    found = _by_sets(lead.gauge, sets_asked(policy), lead.cores or ASSUMED_CORES, policy.open_air_degc)
    if found is None:
        return CoreLimit(lead.limit_a, lead.limit_a, None)
    drum = [] if lead.limit_a is None else [lead.limit_a]
    limits_a = [*drum, *(figure.limit_a for figure in found.figures)]
    fuses_a = [*drum, *(figure.device_a for figure in found.figures)]
    return CoreLimit(min(limits_a, default=None), min(fuses_a, default=None), found)


@lru_cache(maxsize=1024)
def _by_sets(gauge: str | None, sets: tuple[AmpacitySet, ...], cores: int, air_degc: float) -> Decided | None:
    size = known_gauge(gauge)
    return None if size is None else decide(size, sets, cores, air_degc)
