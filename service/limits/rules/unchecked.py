"""What cannot be judged from the figures at hand, said out loud: a blank never reads as ok."""

from service.limits import cautions
from service.limits.facts import ElementFacts, SupplyFacts
from service.limits.findings import Finding, Harm, Rule, Verdict, about
from service.limits.lookup import Lookup

BATTERY_TIME = Rule(
    "battery-time",
    "A pack lasts through the show with a reserve",
    10,
    Harm.DARK,
    "battery",
    "common practice: run the whole show on a charged pack before it is trusted",
    cautions.BATTERY,
)
PIXEL_IDLE = Rule(
    "pixel-idle",
    "What pixel tape draws when it is dark is known",
    2,
    Harm.PAPER,
    "element",
    "common practice: pixel tape draws idle current for as long as it is powered",
    cautions.DATA,
)


def battery_time(supply: SupplyFacts, _around: Lookup) -> Finding | None:
    """The pack outlasts the show."""
    if supply.kind != "battery" or not supply.load_w:
        return None
    what = about(supply.tag, supply.tag, (load.element for o in supply.outputs for load in o.loads))
    said = (
        f"cannot check {supply.tag}: how long it lasts is not known; time it at full through a whole "
        "running order, and keep a charged spare"
    )
    return BATTERY_TIME.finding(Verdict.UNKNOWN, what, said)


def pixel_idle(element: ElementFacts, _around: Lookup) -> Finding | None:
    """The idle watts a pixel are entered."""
    tape = element.tape
    if tape is None or tape.signal != "pixel" or tape.pixel_idle_w is not None:
        return None
    what = about(element.tag, element.tag, (element.tag,))
    return PIXEL_IDLE.unknown(what, f"what a dark pixel of {tape.tag} draws", "the idle watts a pixel")
