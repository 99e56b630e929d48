"""What is over in a season, worked out from its sheets alone: arithmetic in exact fractions, no limits of the
product, no database. Each function is one limit; the figure and its bound come with every fault.

Shares for hours of running are 0.80 of watts, output amps and channel amps (common practice, house rules).
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from tests.acceptance.worked import Row, Sheets, Worked, by, worked_elements

Key = tuple[str, str, str]  # production, code of the limit, what is over
Figures = tuple[Fraction, Fraction] | None
Found = Iterator[tuple[Key, Figures]]
LAST_SLOT = 512  # ANSI E1.11: slots 1 to 512


@dataclass
class Show:
    """One production: its elements, and the rows of every sheet that name it."""

    code: str
    row: Row
    elements: dict[str, Worked]
    feeds: list[Row]
    standing: dict[str, Row]
    addresses: list[Row]
    held: set[str]
    scenery: dict[str, Row]


@dataclass
class Season:
    shows: list[Show]
    units: dict[str, Row]
    models: dict[str, Row]
    outlets: dict[str, Row]
    lots: dict[str, set[str]] = field(default_factory=dict)  # element: lots it is cut from

    def model(self, name: str) -> Row:
        """Of a unit, or of a placeholder such as "any S320"."""
        model = name.removeprefix("any ") if name.startswith("any ") else self.units[name]["Model"]
        return self.models[model]


def read_season(sheets: Sheets) -> Season:
    elements = worked_elements(sheets)
    models = {r["Model"]: r for s in ("supply", "decoder", "battery") for r in sheets[f"{s}_models"]}
    units = {r["Tag"]: r for s in ("supplies", "decoders", "batteries") for r in sheets[s]}
    lots: dict[str, set[str]] = defaultdict(set)
    reels = by(sheets, "reels", "Reel")
    for cut in sheets["cuts"]:
        if cut["Kind"] == "piece" and cut["Status"] == "counted":
            lots[cut["Element"]].add(reels[cut["Reel"]]["Lot"])
    shows = []
    for row in sheets["productions"]:
        code = row["Code"]
        mine = {tag: e for tag, e in elements.items() if e.production == code}
        shows.append(
            Show(
                code,
                row,
                mine,
                [feed for feed in sheets["feeds"] if feed["Element"] in mine],
                {r["Tag"]: r for r in sheets["gear_on_stage"] if r["Production"] == code},
                [r for r in sheets["addresses"] if r["Production"] == code],
                {r["What"] for r in sheets["holds"] if r["Production"] == code},
                {r["Scenic unit"]: r for r in sheets["scenic_units"] if r["Production"] == code},
            )
        )
    return Season(shows, units, models, by(sheets, "outlets", "Outlet"), lots)


def faults(sheets: Sheets, today: date) -> dict[Key, Figures]:
    season = read_season(sheets)
    found: dict[Key, Figures] = {}
    for show in season.shows:
        for limit in LIMITS:
            found.update(limit(season, show, today))
    return found


def _share(rated: str) -> Fraction:
    return Fraction(rated) * Fraction(80, 100)


def supply_watts(season: Season, show: Show, _today: date) -> Found:
    carried: dict[str, Fraction] = defaultdict(Fraction)
    for feed in show.feeds:
        carried[feed["Supply"]] += show.elements[feed["Element"]].watts
    for supply, watts in carried.items():
        rated = season.model(supply).get("Rated (W)")
        if rated and watts > _share(rated):
            yield (show.code, "supply-watts", supply), (watts, _share(rated))


def output_amps(season: Season, show: Show, _today: date) -> Found:
    carried: dict[tuple[str, str], Fraction] = defaultdict(Fraction)
    for feed in show.feeds:
        carried[feed["Supply"], feed["Output"] or "1"] += show.elements[feed["Element"]].amps
    for (supply, output), amps in carried.items():
        cap = season.model(supply).get("Output (A)")
        if cap and amps > _share(cap):
            yield (show.code, "output-amps", f"{supply} output {output}"), (amps, _share(cap))


def channel_amps(season: Season, show: Show, _today: date) -> Found:
    carried: dict[tuple[str, int], Fraction] = defaultdict(Fraction)
    for feed in show.feeds:
        if feed["Decoder"] and season.model(feed["Decoder"])["Channel (A)"]:
            element = show.elements[feed["Element"]]
            first = int(feed["Channels"].partition("-")[0])
            for step, emitter in enumerate(element.wired):
                amps = element.channel_a(emitter, sum(element.runs_m, Fraction(0)))
                carried[feed["Decoder"], first + step] += amps
    for (decoder, channel), amps in carried.items():
        limit = _share(season.model(decoder)["Channel (A)"])
        if amps > limit:
            yield (show.code, "channel-amps", f"{decoder} channel {channel}"), (amps, limit)


def bank_amps(season: Season, show: Show, _today: date) -> Found:
    """All emitters count, wired or not; every decoder of the season has one power feed."""
    carried: dict[str, Fraction] = defaultdict(Fraction)
    for feed in show.feeds:
        if feed["Decoder"]:
            carried[feed["Decoder"]] += show.elements[feed["Element"]].amps
    for decoder, amps in carried.items():
        total = season.model(decoder)["Total (A)"]
        if total and amps > _share(total):
            yield (show.code, "bank-amps", decoder), (amps, _share(total))


def battery_amps(season: Season, show: Show, _today: date) -> Found:
    """A pack has one output, and its peak is not shared out."""
    carried: dict[str, Fraction] = defaultdict(Fraction)
    for feed in show.feeds:
        if "Max current (A)" in season.model(feed["Supply"]):
            carried[feed["Supply"]] += show.elements[feed["Element"]].amps
    for pack, amps in carried.items():
        peak = Fraction(season.model(pack)["Max current (A)"])
        if amps > peak:
            yield (show.code, "battery-amps", pack), (amps, peak)


def leads(_season: Season, show: Show, _today: date) -> Found:
    """Amps in the wire, volts lost, and the longest run, doubled when it is fed at both ends (theory)."""
    for element in show.elements.values():
        limits = element.limits
        for number in range(1, len(element.runs_m) + 1):
            run = f"{element.tag}/{number}"
            if element.drop.lead_a > limits.lead_a:
                yield (show.code, "lead-amps", run), (element.drop.lead_a, limits.lead_a)
            if element.drop.total_pct > 10:
                yield (show.code, "total-drop", run), (element.drop.total_pct, Fraction(10))
            if element.runs_m[number - 1] > limits.run_m:
                yield (show.code, "run-length", run), (element.runs_m[number - 1], limits.run_m)


def emitters_wired(_season: Season, show: Show, _today: date) -> Found:
    for feed in show.feeds:
        element = show.elements[feed["Element"]]
        missing = set(element.emitters) - set(element.wired)
        if missing:
            yield (show.code, "emitters-wired", element.tag), (Fraction(len(missing)), Fraction(0))


def voltage_class(season: Season, show: Show, _today: date) -> Found:
    for feed in show.feeds:
        element = show.elements[feed["Element"]]
        source_v = Fraction(season.model(feed["Supply"])["Class (V)"])
        if source_v != element.class_v:
            for number in range(1, len(element.runs_m) + 1):
                yield (show.code, "voltage-class", f"{element.tag}/{number}"), (source_v, element.class_v)


def match_lot(season: Season, show: Show, _today: date) -> Found:
    groups: dict[str, set[str]] = defaultdict(set)
    for tag, element in show.elements.items():
        if element.row["Match group"]:
            groups[element.row["Match group"]] |= season.lots.get(tag, set())
    for group, lots in groups.items():
        if len(lots) > 1:
            yield (show.code, "match-lot", group), (Fraction(len(lots)), Fraction(1))


def moving(season: Season, show: Show, _today: date) -> Found:
    """What moves without a travelling cable is fed by what rides on it, and hears without a wire."""
    for feed in show.feeds:
        element = show.elements[feed["Element"]]
        scenic = element.row["Scenic unit"]
        piece = show.scenery[scenic]
        if piece["Motion"] == "static" or piece["Travelling cable"] == "yes":
            continue
        if feed["Supply"].startswith("any "):
            continue  # where it will stand is not known
        rides = [show.standing.get(feed["Supply"], {}).get("Rides on", "") == scenic]
        if feed["Decoder"] and not feed["Decoder"].startswith("any "):
            rides.append(show.standing.get(feed["Decoder"], {}).get("Rides on", "") == scenic)
            rides.append(season.model(feed["Decoder"])["Link"] in {"wireless", "local"})
        if not all(rides):
            yield (show.code, "moving", element.tag), None


def dimmed_circuit(season: Season, show: Show, _today: date) -> Found:
    for tag, row in show.standing.items():
        if row["Outlet"] and season.outlets[row["Outlet"]]["Kind"] == "dimmed":
            yield (show.code, "dimmed-circuit", tag), None


def _name(row: Row) -> str:
    return f"{row['Decoder']} port {row['Port']}" if row["Port"] else row["Decoder"]


def past_the_last_slot(_season: Season, show: Show, _today: date) -> Found:
    for row in show.addresses:
        last = int(row["Start"]) + int(row["Slots"]) - 1
        if last > LAST_SLOT:
            yield (show.code, "universe", _name(row)), (Fraction(last), Fraction(LAST_SLOT))


def address_overlap(_season: Season, show: Show, _today: date) -> Found:
    """A pair is told once, on the one that starts later; the figure is how many slots it shares."""
    taken: dict[str, set[int]] = defaultdict(set)
    for row in sorted(show.addresses, key=lambda r: (int(r["Start"]), int(r["Slots"]), _name(r))):
        slots = set(range(int(row["Start"]), int(row["Start"]) + int(row["Slots"])))
        shared = slots & taken[row["Universe"]]
        taken[row["Universe"]] |= slots
        if shared:
            yield (show.code, "address-overlap", _name(row)), (Fraction(len(shared)), Fraction(0))


def unit_state(season: Season, show: Show, _today: date) -> Found:
    used = {feed[column] for feed in show.feeds for column in ("Supply", "Decoder")}
    for tag in used | set(show.standing) | show.held:
        if tag in season.units and season.units[tag]["State"] != "good":
            yield (show.code, "unit-state", tag), None


def no_feed(_season: Season, show: Show, today: date) -> Found:
    """Dark on a day that needs it: from the first preview to the closing."""
    first, last = (date.fromisoformat(show.row[day]) for day in ("First preview", "Closing"))
    if not first <= today <= last:
        return
    fed = {feed["Element"] for feed in show.feeds}
    for tag, element in show.elements.items():
        if tag not in fed and element.row["Status"] not in {"struck", "cut from show"}:
            yield (show.code, "no-feed", tag), (Fraction(len(element.runs_m)), Fraction(0))


LIMITS = (
    supply_watts, output_amps, channel_amps, bank_amps, battery_amps, leads, emitters_wired, voltage_class,
    match_lot, moving, dimmed_circuit, past_the_last_slot, address_overlap, unit_state, no_feed,
)  # fmt: skip
CODES = {
    "supply-watts", "output-amps", "channel-amps", "bank-amps", "battery-amps", "lead-amps", "total-drop",
    "run-length", "emitters-wired", "voltage-class", "match-lot", "moving", "dimmed-circuit", "universe",
    "address-overlap", "unit-state", "no-feed",
}  # fmt: skip
