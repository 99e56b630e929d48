"""Elements worked out from the sheets alone, in exact fractions: a second sum beside the product's own.

Only the csv module reads here, and nothing of the product is used: two sums that agree were made twice.
"""

import csv
import io
from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

Row = dict[str, str]
Sheets = dict[str, list[Row]]
MILLI = Fraction(1, 1000)


def read_sheets(folder: Path) -> Sheets:
    """Every sheet by its name; cells as text, as they stand."""
    sheets: Sheets = {}
    for path in sorted(folder.glob("*.csv")):
        with path.open(newline="", encoding="utf-8") as file:
            sheets[path.stem] = list(csv.DictReader(file))
    return sheets


def as_texts(sheets: Sheets) -> dict[str, str]:
    """The other way: the text of each sheet, columns in the order of its first row."""
    texts = {}
    for name, rows in sheets.items():
        file = io.StringIO()
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        texts[name] = file.getvalue()
    return texts


def write_sheets(sheets: Sheets, folder: Path) -> None:
    """One file a sheet."""
    for name, text in as_texts(sheets).items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")


def by(sheets: Sheets, sheet: str, column: str) -> dict[str, Row]:
    """The rows of a sheet by what one column says."""
    return {row[column]: row for row in sheets[sheet]}


def pieces_mm(text: str) -> list[int]:
    """ "2 x 600" is two pieces of 600 mm; a number alone is one piece."""
    count, times, length = text.partition(" x ")
    return [int(length)] * int(count) if times else [int(count)]


@dataclass(frozen=True)
class Drop:
    """Volts lost in one run at full, as shares of the tape's volts, and amps in one lead."""

    lead_pct: Fraction
    total_pct: Fraction
    lead_a: Fraction


@dataclass(frozen=True)
class Limits:
    """Amps the wire of its lead takes, and the longest run as it is fed."""

    lead_a: Fraction
    run_m: Fraction


@dataclass(frozen=True)
class Worked:
    """One element: `runs_m` is metres of tape on each lead, `watts` all emitters at full."""

    tag: str
    production: str
    class_v: Fraction
    emitters: dict[str, Fraction]  # watts a metre
    wired: tuple[str, ...]
    runs_m: tuple[Fraction, ...]
    drop: Drop
    limits: Limits
    row: Row

    @property
    def w_per_m(self) -> Fraction:
        return sum(self.emitters.values(), Fraction(0))

    @property
    def watts(self) -> Fraction:
        return self.w_per_m * sum(self.runs_m)

    @property
    def amps(self) -> Fraction:
        return self.watts / self.class_v

    def channel_a(self, emitter: str, metres: Fraction) -> Fraction:
        return self.emitters[emitter] * metres / self.class_v


def worked_elements(sheets: Sheets) -> dict[str, Worked]:
    tapes, wire = by(sheets, "tapes", "Tape"), {row["Gauge"]: row for row in sheets["wire"]}
    return {row["Element"]: _worked(row, tapes[row["Tape"]], wire) for row in sheets["elements"]}


def _worked(row: Row, tape: Row, wire: dict[str, Row]) -> Worked:
    pitch = int(tape["Pitch (mm)"])
    cut = [Fraction(length // pitch * pitch, 1000) for length in pieces_mm(row["Pieces (mm)"])]
    runs = (sum(cut, Fraction(0)),) if row["Chained"] == "yes" else tuple(cut)
    pads = dict(pad.strip().split("=") for pad in tape["Emitters (W/m)"].split(";"))
    emitters = {name: Fraction(w_per_m) for name, w_per_m in pads.items()}
    class_v = Fraction(tape["Class (V)"])
    drum = wire[row["Lead AWG"] + " AWG"]
    longest = Fraction(tape["Max run (m)"]) * (2 if row["Feed style"] == "both" else 1)
    return Worked(
        tag=row["Element"],
        production=row["Production"],
        class_v=class_v,
        emitters=emitters,
        wired=tuple(row["Emitters wired"].split()),
        runs_m=runs,
        drop=_drop(row, tape, emitters, max(runs), Fraction(drum["Core (ohm/m)"])),
        limits=Limits(Fraction(drum["Limit (A)"]), longest),
        row=row,
    )


def _drop(row: Row, tape: Row, emitters: dict[str, Fraction], metres: Fraction, ohm_per_m: Fraction) -> Drop:
    """Evenly loaded line at full: half the resistance from one end, an eighth from two sides (theory).

    The worst emitter counts; its return and the common carry current out and back (Ohm's law).
    """
    volts, two_sided = Fraction(tape["Class (V)"]), row["Feed style"] == "both"
    common_a = sum(emitters.values(), Fraction(0)) * metres / volts
    own_a = max(emitters.values()) * metres / volts
    leads = 2 if two_sided else 1
    lead_v = (common_a + own_a) / leads * ohm_per_m * Fraction(row["Lead (m)"])
    common, back = (Fraction(tape[f"{rail} rail (mΩ/m)"]) * MILLI for rail in ("Common", "Return"))
    tape_v = (common_a * common + own_a * back) * metres / 2 / (4 if two_sided else 1)
    return Drop(100 * lead_v / volts, 100 * (lead_v + tape_v) / volts, common_a / leads)


def watts_by_production(elements: dict[str, Worked]) -> dict[str, Fraction]:
    sums: dict[str, Fraction] = defaultdict(Fraction)
    for element in elements.values():
        sums[element.production] += element.watts
    return dict(sums)
