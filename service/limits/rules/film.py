"""Film days: dimming that a camera sees."""

from service.limits import cautions
from service.limits.facts import DecoderFacts, ElementFacts
from service.limits.findings import Figure, Finding, Harm, Mend, Rule, Verdict, about, reaches
from service.limits.lookup import Lookup
from service.limits.mends.feeds import decoders_for

FILM = Rule(
    "film-pwm",
    "What is filmed dims faster than a camera sees",
    14,
    Harm.LOOKS,
    "element",
    "common practice: 2 000 Hz or more on a film day, never under 1 000; IEEE 1789-2015 (from memory) calls "
    "3 000 Hz and more without effect",
    cautions.DATA,
)


def film_pwm(element: ElementFacts, around: Lookup) -> Finding | None:
    """Each dimmed run of an element that is filmed dims at the house's frequency or above."""
    days = [day for day in around.show.film_days if day >= around.show.on or around.show.is_over]
    feeds = [run.feed for run in element.runs if run.feed is not None and run.feed.decoder is not None]
    if not days or not element.dimmed or not feeds:
        return None
    what = about(element.tag, element.tag, [element.tag])
    decoders = {f.decoder: around.decoders.get(f.decoder or "") for f in feeds}
    hertz = {tag: _hertz(element, decoder) for tag, decoder in sorted(decoders.items(), key=str)}
    blank = [str(tag) for tag, hz in hertz.items() if hz is None]
    known = {str(tag): hz for tag, hz in hertz.items() if hz is not None}
    slowest = min(known, key=lambda tag: (known[tag], tag), default="")
    watch_hz, over_hz = around.policy.film_watch_hz, around.policy.film_over_hz
    if blank and (not slowest or reaches(known[slowest], over_hz)):
        return FILM.unknown(what, f"the dimming frequency of {', '.join(blank)}", "the hertz it is set to")
    hz = known[slowest]
    is_over = not reaches(hz, over_hz)
    figure = Figure(hz, over_hz if is_over else watch_hz, "Hz", at_least=True)
    said = f"{element.tag} dims at {hz:g} Hz through {slowest} and is filmed on {days[0].isoformat()}"
    if reaches(hz, watch_hz):
        return FILM.ok(what, said, figure)
    verdict, end = (Verdict.OVER, "it will band") if is_over else (Verdict.WATCH, "it may band")
    message = f"{said}: under {figure.limit:g} Hz {end}"
    return FILM.finding(verdict, what, message, figure, _faster(element, decoders[slowest], around, figure))


def _hertz(element: ElementFacts, decoder: DecoderFacts | None) -> float | None:
    """Pixels dim themselves; anything else by what its decoder is set to."""
    if element.tape is not None and element.tape.signal == "pixel":
        return element.tape.pwm_hz
    return None if decoder is None else decoder.pwm_hz


def _faster(element: ElementFacts, decoder: DecoderFacts | None, around: Lookup, figure: Figure) -> Mend:
    """A free decoder that dims fast enough and would carry the element; else a setting of this one."""
    least_hz = around.policy.film_watch_hz
    fast = (
        []
        if decoder is None
        else [
            d
            for d in decoders_for(element, (decoder.link,), around)
            if d.pwm_hz and reaches(d.pwm_hz, least_hz)
        ]
    )
    if not fast:
        return Mend(f"set it to {least_hz:g} Hz or more if its maker lets you, or dim it by a faster decoder")
    best = fast[0]
    text = f"dim it by {best.tag} ({best.model}, free): {best.pwm_hz:g} Hz"
    return Mend(text, best.pwm_hz, figure.limit)
