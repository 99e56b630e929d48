"""Wall circuits: the amps that everything on one draws for hours, and how many start at once."""

from service.electrical.power import mains
from service.limits import cautions
from service.limits.circuits import Fullest, busiest, fullest
from service.limits.facts import OutletFacts
from service.limits.findings import (
    About,
    Figure,
    Finding,
    Harm,
    Mend,
    Rule,
    Verdict,
    about,
    compared,
    share_text,
)
from service.limits.lookup import Lookup
from service.limits.mends.outlets import replug

MAINS_AMPS = Rule(
    "mains-amps",
    "A wall circuit carries no more than it can for hours",
    9,
    Harm.DARK,
    "outlet",
    "NFPA 70 (2017) 210.20(A): 80 % of the breaker; amps by efficiency and power factor, 2 % for decoders",
    cautions.MAINS,
)
INRUSH = Rule(
    "mains-inrush",
    "Few supplies start at once on one breaker",
    9,
    Harm.DARK,
    "outlet",
    "common practice: four on 20 A with nothing that staggers them; trip bands of IEC 60898-1",
    cautions.MAINS,
)


def _subject(outlet: OutletFacts, around: Lookup) -> About:
    runs = (found for tag in outlet.supplies for found in around.runs_of_supply(tag))
    return about(outlet.tag, outlet.tag, (found.element.tag for found in runs))


def mains_amps(outlet: OutletFacts, around: Lookup) -> Finding | None:
    """Supplies of this production and of those that share it then, and other loads, within the breaker."""
    what, there = _subject(outlet, around), fullest(outlet, around)
    if not there.plugged:
        return None
    if outlet.breaker_a is None:
        return MAINS_AMPS.unknown(what, "what its breaker is", "the amps of the breaker")
    if outlet.volts_v is None:
        return MAINS_AMPS.unknown(what, "its voltage", "the volts of the mains")
    most_a, least_a = there.a(outlet.volts_v), there.least_a(outlet.volts_v)
    limit_a = mains.limit_a(outlet.breaker_a, around.policy.breaker_factor)
    assumed = "; ".join(said for p in there.plugged for said in p.assumed(outlet.volts_v))
    figure = Figure(most_a, limit_a, "A")
    said = f"{outlet.tag} carries {most_a:.2f} A ({_parts(there, outlet.volts_v)}) of {limit_a:.2f} A"
    said += f" ({outlet.breaker_a:g} A × {around.policy.breaker_factor:.2f}), {share_text(most_a, limit_a)}"
    said += there.shared_text + (f"; {assumed}" if assumed else "")
    if compared(most_a, limit_a) is Verdict.OK:
        return MAINS_AMPS.ok(what, said, figure)
    if compared(least_a, limit_a) is Verdict.OK:
        missing = f"whether {least_a:.2f} to {most_a:.2f} A is within {limit_a:.2f} A ({assumed})"
        return MAINS_AMPS.unknown(what, missing, "efficiency and power factor from the maker's sheets")
    return MAINS_AMPS.finding(Verdict.OVER, what, said, figure, replug(there, limit_a, around))


def _parts(there: Fullest, volts_v: float) -> str:
    """What makes up the amps: the supplies together, then each other thing."""
    tapes = sum(p.a(volts_v) for p in there.plugged)
    parts = [f"{_count(len(there.plugged), 'supply', 'supplies')} {tapes:.2f} A"]
    parts += [f"{what or 'other load'} {w / volts_v:.2f} A" for what, w in there.outlet.others]
    return " + ".join(parts)


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def mains_inrush(outlet: OutletFacts, around: Lookup) -> Finding | None:
    """Not more supplies than the breaker is known to hold when they are switched on together."""
    what, there = _subject(outlet, around), busiest(outlet, around)
    count = len(there.plugged)
    if not count:
        return None
    if outlet.breaker_a is None:
        if count == 1:
            return None
        return INRUSH.unknown(what, "what its breaker is", "the amps of the breaker")
    on_20_a = int(around.policy.inrush_supplies)
    most = mains.at_once(outlet.breaker_a, on_20_a)
    surge = mains.inrush([p.figures.inrush_a for p in there.plugged], outlet.breaker_a, on_20_a=on_20_a)
    figure = Figure(float(count), float(most), "supplies")
    amps = f"{surge.at_least_a:g} A" if not surge.unknown else f"{surge.at_least_a:g} A and more"
    said = f"{_count(count, 'supply', 'supplies')} on {outlet.tag} ({outlet.breaker_a:g} A) surge {amps}"
    said += f" together{there.shared_text}"
    if surge.unknown:
        said += f"; the inrush of {_count(surge.unknown, 'one', 'of them')} is not known"
    if count <= most:
        return INRUSH.ok(what, said, figure)
    size = -(-count // surge.steps)
    text = f"switch them on in {surge.steps} groups of at most {size}, a second apart"
    mend = Mend(text, float(size), float(most))
    return INRUSH.finding(Verdict.WATCH, what, f"{said}; {most} at once is common practice", figure, mend)
