"""Voltage class, watts and amps: sources, outputs, decoder banks and channels."""

from dataclasses import replace

from service.limits import cautions
from service.limits.facts import SupplyFacts
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
from service.limits.lookup import BankOf, ChannelOf, Lookup, OutputOf, RunOf
from service.limits.mends.feeds import right_class
from service.limits.mends.moves import lighten, unload
from service.limits.mends.swaps import spread_channel

CONTINUOUS = "common practice: 80 % for hours; the idea of continuous load in NFPA 70 (2017) 210.20(A)"
FULL_PULSE = "common practice: 80 % for hours; pulse-width dimming is full current in the pulse (physics)"

VOLTAGE_CLASS = Rule(
    "voltage-class",
    "Tape and source are of one voltage class",
    1,
    Harm.FIRE,
    "run",
    "common practice: 12.8 V counts as 12 V, 25.6 V as 24 V; tape takes its nominal voltage only",
    cautions.WRONG_VOLTAGE,
)
POLARITY = Rule(
    "polarity",
    "Tape and decoder share the same common",
    1,
    Harm.VOLTAGE,
    "run",
    "common practice: common positive and common negative are not interchangeable",
    cautions.WRONG_VOLTAGE,
)
DECODER_VOLTS = Rule(
    "decoder-volts",
    "A decoder is fed inside its voltage range",
    1,
    Harm.FIRE,
    "decoder",
    "the maker's sheet of the decoder",
    cautions.WRONG_VOLTAGE,
)
SUPPLY_WATTS = Rule(
    "supply-watts",
    "A supply carries no more than it can for hours",
    2,
    Harm.DARK,
    "supply",
    CONTINUOUS,
    cautions.HEAT,
)
OUTPUT_AMPS = Rule(
    "output-amps",
    "A supply output carries no more amps than it can for hours",
    2,
    Harm.DARK,
    "supply",
    CONTINUOUS,
    cautions.FIRE,
)
BATTERY_AMPS = Rule(
    "battery-amps",
    "A pack is never asked for more than its peak amps",
    10,
    Harm.DARK,
    "battery",
    "the maker's sheet of the pack; all emitters at full, because pulse-width dimming peaks there (physics)",
    cautions.BATTERY,
)
CHANNEL_AMPS = Rule(
    "channel-amps",
    "A decoder channel carries no more than it can for hours",
    4,
    Harm.DARK,
    "decoder",
    FULL_PULSE,
    cautions.FIRE,
)
BANK_AMPS = Rule(
    "bank-amps",
    "A decoder bank carries no more than it can for hours",
    4,
    Harm.DARK,
    "decoder",
    FULL_PULSE,
    cautions.FIRE,
)
BANK_SOURCES = Rule(
    "bank-sources",
    "One supply output feeds a decoder bank",
    4,
    Harm.FIRE,
    "decoder",
    "common practice; NFPA 70 (2017) 725.121(B): Class 2 outputs are not paralleled unless listed for it",
    cautions.OUTPUTS,
)


def voltage_class(found: RunOf, around: Lookup) -> Finding | None:
    """A run sits on a source of its own class; too high is the worst thing there is."""
    tape, feed = found.element.tape, found.run.feed
    if tape is None or feed is None:
        return None
    what = about(found.run.tag, found.element.tag, [found.element.tag])
    supply = around.supplies.get(feed.supply)
    if supply is None:
        return VOLTAGE_CLASS.unknown(what, f"the voltage of {feed.supply}", "what kind of source it is")
    figure = Figure(supply.class_v, tape.class_v, "V")
    said = f"{found.run.tag} is {tape.class_v:g} V tape on {supply.tag}, a {supply.class_v:g} V {supply.kind}"
    if abs(supply.class_v - tape.class_v) < 1e-6:
        return VOLTAGE_CLASS.ok(what, said, figure)
    too_high = supply.class_v > tape.class_v
    end = "it burns bright, then dies, and may smoke" if too_high else "it will not light properly"
    mend = right_class(found, supply, around)
    harm = Harm.FIRE if too_high else Harm.VOLTAGE
    over = VOLTAGE_CLASS.finding(Verdict.OVER, what, f"{said}: {end}", figure, mend, harm)
    return over if too_high else replace(over, caution=cautions.TOO_LOW)


def polarity(found: RunOf, around: Lookup) -> Finding | None:
    """A run's common matches its decoder's."""
    tape, feed = found.element.tape, found.run.feed
    decoder = around.decoders.get(feed.decoder or "") if feed else None
    if tape is None or decoder is None:
        return None
    what = about(found.run.tag, found.element.tag, [found.element.tag])
    if not tape.polarity or not decoder.polarity:
        whose = tape.tag if not tape.polarity else decoder.tag
        return POLARITY.unknown(
            what, f"which rail of {whose} is common", "common positive or common negative"
        )
    said = f"{found.run.tag} is {tape.polarity} tape on {decoder.tag}, which is {decoder.polarity}"
    if tape.polarity == decoder.polarity:
        return POLARITY.ok(what, said)
    mend = Mend(f"feed it from a {tape.polarity} decoder")
    return POLARITY.finding(Verdict.OVER, what, f"{said}: it stays dark or lights wrongly", None, mend)


def decoder_volts(at: BankOf, around: Lookup) -> Finding | None:
    """Each source of a bank lies inside the decoder's range."""
    sources = [s for tag, _ in at.bank.sources if (s := around.supplies.get(tag)) is not None]
    if not sources:
        return None
    low, high = at.decoder.min_v, at.decoder.max_v
    what = about(at.name, at.decoder.tag, around.elements_of_unit(at.decoder.tag))
    supply = next((s for s in sources if not low <= s.real_v <= high), sources[0])
    too_high = supply.real_v > high
    figure = Figure(supply.real_v, low if supply.real_v < low else high, "V")
    said = f"{at.decoder.tag} takes {low:g} to {high:g} V and {supply.tag} gives {supply.real_v:g} V"
    if low <= supply.real_v <= high:
        return DECODER_VOLTS.ok(what, said, figure)
    mend = Mend(f"feed it from a source between {low:g} and {high:g} V, or use another decoder")
    harm = Harm.FIRE if too_high else Harm.VOLTAGE
    return DECODER_VOLTS.finding(Verdict.OVER, what, said, figure, mend, harm)


def supply_watts(supply: SupplyFacts, around: Lookup) -> Finding | None:
    """The load stays within rated watts, times what the air leaves of them, times the share for hours."""
    if supply.kind == "battery":
        return None
    what = about(supply.tag, supply.tag, (load.element for o in supply.outputs for load in o.loads))
    if supply.rated_w is None:
        return SUPPLY_WATTS.unknown(what, "what it is rated for", "the watts on its plate")
    if supply.ambient_factor is None or supply.limit_w is None:
        return SUPPLY_WATTS.unknown(what, "how warm the air around it gets", "the temperature, or its box")
    limit_w, load_w = supply.limit_w, supply.load_w
    figure = Figure(load_w, limit_w, "W")
    share = share_text(load_w, limit_w)
    if compared(load_w, limit_w) is Verdict.OK:
        if blank := around.untaped_on(around.runs_of_supply(supply.tag)):
            return SUPPLY_WATTS.unknown(what, f"the tape of {', '.join(blank)}", "it")
        return SUPPLY_WATTS.ok(
            what, f"{supply.tag} carries {load_w:.2f} W of {limit_w:.2f} W, {share}", figure
        )
    message = (
        f"{supply.tag} carries {load_w:.2f} W; its limit is {limit_w:.2f} W ({_made_of(supply)}), {share}"
    )
    hot_w = supply.rated_w * supply.ambient_factor
    if compared(load_w, hot_w) is Verdict.OK:
        message += "; still under the nameplate, so it will run on the bench and trip in a long session"
        return SUPPLY_WATTS.finding(Verdict.OVER, what, message, figure, lighten(supply, around))
    message += f"; also over {hot_w:.2f} W, all that it can give" + (
        "" if hot_w == supply.rated_w else " so warm"
    )
    return SUPPLY_WATTS.finding(Verdict.OVER, what, message, figure, lighten(supply, around), Harm.FIRE)


def _made_of(supply: SupplyFacts) -> str:
    warm = "" if supply.ambient_factor == 1.0 else f" × {supply.ambient_factor:.3f} for the warm air"
    return f"{supply.rated_w:g} W{warm} × {supply.load_factor:.2f}"


def output_amps(at: OutputOf, around: Lookup) -> Finding | None:
    """Each output stays within its own cap times the share for hours."""
    supply, output = at
    if supply.kind == "battery" or not output.loads:
        return None
    what = about(at.name, supply.tag, (load.element for load in output.loads))
    limit_a = around.output_limit_a(supply, output)
    if limit_a is None or output.cap_a is None:
        return OUTPUT_AMPS.unknown(what, "what the output may carry", "its amps from the maker's sheet")
    figure = Figure(output.load_a, limit_a, "A")
    share = share_text(output.load_a, limit_a)
    if compared(output.load_a, limit_a) is Verdict.OK:
        said = f"{at.name} carries {output.load_a:.2f} A of {limit_a:.2f} A, {share}"
        return OUTPUT_AMPS.ok(what, said, figure)
    return _over_amps(OUTPUT_AMPS, what, figure, output.cap_a, unload(supply, output, around))


def battery_amps(supply: SupplyFacts, around: Lookup) -> Finding | None:
    """A pack gives all of it at full without its protection opening."""
    loaded = [o for o in supply.outputs if o.loads]
    if supply.kind != "battery" or not loaded:
        return None
    what = about(supply.tag, supply.tag, (load.element for o in loaded for load in o.loads))
    worst = max(loaded, key=lambda o: (o.cap_a is None, o.load_a / (o.cap_a or 1.0)))
    limit_a = around.output_limit_a(supply, worst)
    if limit_a is None:
        return BATTERY_AMPS.unknown(what, "its greatest current", "the peak amps from the maker's sheet")
    figure = Figure(worst.load_a, limit_a, "A")
    said = f"{supply.tag} gives {worst.load_a:.2f} A of {limit_a:.2f} A, {share_text(worst.load_a, limit_a)}"
    if compared(worst.load_a, limit_a) is Verdict.OK:
        return BATTERY_AMPS.ok(what, said, figure)
    said += "; its protection opens and everything on it goes dark"
    return BATTERY_AMPS.finding(Verdict.OVER, what, said, figure, unload(supply, worst, around))


def channel_amps(at: ChannelOf, around: Lookup) -> Finding | None:
    """What shares a channel stays within its rating times the share for hours."""
    if not at.channel.loads:
        return None
    what = about(at.name, at.decoder.tag, (load.element for load in at.channel.loads))
    limit_a = around.channel_limit_a(at.decoder)
    if limit_a is None or at.decoder.channel_a is None:
        return CHANNEL_AMPS.unknown(what, f"what a {at.word} may carry", f"the amps per {at.word}")
    load_a = at.channel.load_a
    figure = Figure(load_a, limit_a, "A")
    if compared(load_a, limit_a) is Verdict.OK:
        share = share_text(load_a, limit_a)
        return CHANNEL_AMPS.ok(what, f"{at.name} carries {load_a:.2f} A of {limit_a:.2f} A, {share}", figure)
    return _over_amps(CHANNEL_AMPS, what, figure, at.decoder.channel_a, spread_channel(at, around))


def bank_amps(at: BankOf, around: Lookup) -> Finding | None:
    """All channels of a bank together stay within its total times the share for hours."""
    fed = around.runs_of_decoder(at.decoder.tag)
    if not at.bank.load_a and not fed:
        return None
    what = about(at.name, at.decoder.tag, around.elements_of_unit(at.decoder.tag))
    limit_a = around.bank_limit_a(at.decoder, at.bank)
    if limit_a is None or at.bank.total_a is None:
        return BANK_AMPS.unknown(what, "what it may carry in all", "its total amps")
    figure = Figure(at.bank.load_a, limit_a, "A")
    if compared(at.bank.load_a, limit_a) is Verdict.OK:
        if blank := around.untaped_on(fed):
            return BANK_AMPS.unknown(what, f"the tape of {', '.join(blank)}", "it")
        said = f"{at.name} carries {at.bank.load_a:.2f} A of {limit_a:.2f} A in all"
        return BANK_AMPS.ok(what, f"{said}, {share_text(at.bank.load_a, limit_a)}", figure)
    mend = _lighter_bank(at, limit_a)
    return _over_amps(BANK_AMPS, what, figure, at.bank.total_a, mend)


def _lighter_bank(at: BankOf, limit_a: float) -> Mend | None:
    """The lightest element whose going clears the bank."""
    loads: dict[str, float] = {}
    for channel in at.bank.channels:
        for load in channel.loads:
            loads[load.element] = loads.get(load.element, 0.0) + load.a
    for tag, load_a in sorted(loads.items(), key=lambda pair: (round(pair[1], 6), pair[0])):
        left_a = at.bank.load_a - load_a
        if compared(left_a, limit_a) is Verdict.OK:
            text = f"move {tag} to another decoder: {at.name} {left_a:.2f} A of {limit_a:.2f} A"
            return Mend(text, left_a, limit_a)
    return None


def bank_sources(at: BankOf, around: Lookup) -> Finding | None:
    """No two outputs meet through a decoder."""
    sources = sorted(set(at.bank.sources))
    if not sources:
        return None
    what = about(at.name, at.decoder.tag, around.elements_of_unit(at.decoder.tag))
    figure = Figure(float(len(sources)), 1.0, "outputs")
    names = " and ".join(f"{tag} output {number}" for tag, number in sources)
    if len(sources) == 1:
        return BANK_SOURCES.ok(what, f"{at.name} is fed by {names}", figure)
    keep = f"{sources[0][0]} output {sources[0][1]}"
    mend = Mend(f"feed {at.name} from {keep} alone and give the rest a bank of its own", 1.0, 1.0)
    message = f"{names} meet in {at.name}; one output feeds a bank"
    return BANK_SOURCES.finding(Verdict.OVER, what, message, figure, mend)


def _over_amps(rule: Rule, what: About, figure: Figure, rated_a: float, mend: Mend | None) -> Finding:
    """Over the house's limit it may fail in time; over the maker's rating it gets hot."""
    message = (
        f"{what.subject} carries {figure.value:.2f} A; its limit is {figure.limit:.2f} A "
        f"({rated_a:g} A × {figure.limit / rated_a:.2f}), {share_text(figure.value, figure.limit)}"
    )
    harm = None
    if compared(figure.value, rated_a) is Verdict.OVER:
        message += f"; also over the {rated_a:.2f} A rating"
        harm = Harm.FIRE
    return rule.finding(Verdict.OVER, what, message, figure, mend, harm)
