"""What the tape is fixed to, and what gets wet or is worn."""

from service.limits import cautions
from service.limits.facts import ElementFacts, TapeFacts
from service.limits.findings import About, Figure, Finding, Harm, Mend, Rule, Verdict, about, compared
from service.limits.lookup import Lookup

MOUNTING = Rule(
    "mounting",
    "Tape is fixed to what takes its heat away",
    14,
    Harm.FIRE,
    "element",
    "common practice: more than 10 W/m wants metal behind it, and never lies on foam or fabric",
    cautions.HEAT,
)
WET_ZONE = Rule(
    "wet-zone",
    "Tape is as tight as its zone is wet",
    14,
    Harm.DARK,
    "element",
    "IEC 60529: second figure 5 keeps out jets, 7 a dip; common practice: IP65 for splash, IP67 for wet",
    cautions.WET,
)
WORN_VOLTS = Rule(
    "worn-volts",
    "What is worn is of a low voltage",
    10,
    Harm.PAPER,
    "element",
    "common practice: 12 V is preferred on the body, where a worn insulation meets sweat",
    cautions.WEARER,
)

# What is wrong with the piece itself, so that no other feed puts it right.
OF_THE_PIECE = frozenset({MOUNTING.code, WET_ZONE.code, WORN_VOLTS.code})

METAL = ("alumin", "metal", "steel", "brass", "copper")
BURNS = ("foam", "fabric", "cloth", "paper", "card")


def _element(element: ElementFacts) -> About:
    return about(element.tag, element.tag, [element.tag])


def mounting(element: ElementFacts, around: Lookup) -> Finding | None:
    """Bright tape lies on metal; on foam or fabric it is over, on anything else worth a look."""
    tape = element.tape
    if tape is None:
        return None
    limit = around.policy.mount_w_per_m
    figure = Figure(tape.w_per_m, limit, "W/m")
    said = f"{element.tag} is {tape.w_per_m:g} W/m"
    if not element.mount:
        if compared(tape.w_per_m, limit) is Verdict.OK:
            return MOUNTING.ok(_element(element), f"{said}, no more than anything takes", figure)
        return MOUNTING.unknown(
            _element(element), "what it is fixed to", "its mount: aluminium, timber, foam, fabric"
        )
    mount = element.mount.casefold()
    if compared(tape.w_per_m, limit) is Verdict.OK or any(word in mount for word in METAL):
        return MOUNTING.ok(_element(element), f"{said} on {element.mount}", figure)
    message = f"{said} on {element.mount}; more than {limit:g} W/m wants metal behind it"
    verdict = Verdict.WATCH
    if any(word in mount for word in BURNS):
        message = f"{said} on {element.mount}, which holds the heat and can burn; it takes {limit:g} W/m"
        verdict = Verdict.OVER
    return MOUNTING.finding(verdict, _element(element), message, figure, _cooler(tape, element, limit))


def _cooler(tape: TapeFacts, element: ElementFacts, limit: float) -> Mend:
    """Metal first; else what is left of the tape's light, enforced where nobody can pass it."""
    share = limit / tape.w_per_m
    text = (
        f"fix it to an aluminium strip that stands off the {element.mount}, and test it hot; or take a tape "
        f"of {limit:g} W/m or less ({100.0 * share:.0f} % of these watts)"
    )
    return Mend(text, limit, limit)


def wet_zone(element: ElementFacts, around: Lookup) -> Finding | None:
    """The tape's IP code holds in its zone; a cut end must be sealed again."""
    needed = {"splash": around.policy.splash_ip, "wet": around.policy.wet_ip}.get(element.zone)
    tape = element.tape
    if tape is None or needed is None:
        return None
    if tape.ip is None:
        return WET_ZONE.unknown(_element(element), f"how tight {tape.tag} is", "its IP code, such as 67")
    figure = Figure(float(tape.ip), needed, "IP", at_least=True)
    said = f"{element.tag} is in a {element.zone} zone and {tape.tag} is IP{tape.ip:02d}"
    if tape.ip >= needed and tape.ip % 10 >= int(needed) % 10:
        return WET_ZONE.ok(_element(element), f"{said}; seal its cut ends again", figure)
    message = f"{said}; the zone needs IP{needed:.0f}"
    text = f"use tape of IP{needed:.0f} or more and seal its cut ends again, or move it out of the wet"
    tight = sorted(
        {t.tag for e in around.show.elements if (t := e.tape) is not None and _does(t, tape, needed)}
    )
    if tight:
        text = f"use {tight[0]}, and seal its cut ends again; or move it out of the wet"
    return WET_ZONE.finding(Verdict.OVER, _element(element), message, figure, Mend(text, needed, needed))


def _does(other: TapeFacts, tape: TapeFacts, needed: float) -> bool:
    """A tape of the same voltage and colours that is tight enough."""
    names = {e.name for e in tape.emitters}
    return (
        other.ip is not None
        and other.ip >= needed
        and other.class_v == tape.class_v
        and {e.name for e in other.emitters} == names
    )


def worn_volts(element: ElementFacts, around: Lookup) -> Finding | None:
    """A costume is of the low class, or is looked at."""
    tape = element.tape
    if element.motion != "costume" or tape is None:
        return None
    limit = around.policy.worn_v
    figure = Figure(tape.class_v, limit, "V")
    said = f"{element.tag} is worn and of {tape.class_v:g} V tape"
    if compared(tape.class_v, limit) is Verdict.OK:
        return WORN_VOLTS.ok(_element(element), said, figure)
    mend = Mend(f"use {limit:g} V tape and a {limit:g} V pack", limit, limit)
    message = f"{said}; {limit:g} V is preferred on the body"
    return WORN_VOLTS.finding(Verdict.WATCH, _element(element), message, figure, mend)
