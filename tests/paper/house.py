"""A small invented house as sheets, for the tests to spoil one cell at a time."""

import io
import zipfile
from collections.abc import Mapping
from datetime import date

from service.errors import BadSheets, RowError
from service.paper.bring_in import NAMES, Brought, bring_in
from service.paper.files.raw import Reading
from service.paper.reading import read_bytes
from service.store.work import Store

TODAY = date(2026, 11, 25)

HOUSE = {
    "venues": "Venue,Mains (V)\nSlipway,120\n",
    "places": "Place,Kind,Venue\nB1,bin,\nSL-DR,stage,Slipway\n",
    "tapes": (
        "Tape,Volts,Emitters (W/m),Pitch (mm),Reel length (m)\n"
        "RGBW24,24,R=4.8; G=4.8; B=4.8; W=4.8,100,5\n"
        "NW24,24,W=9.6,50,5\n"
    ),
    "supply_models": (
        "Model,Volts,Rated,Outputs,Output,Full to,Derate,Hottest\n"
        "S320,24,320,1,13.3,40,2.5,70\nS384,24,384,4,4,50,2.5,70\n"
    ),
    "decoder_models": "Model,Channels,Channel (A),Total (A),Lowest (V),Highest (V)\nD4,4,5,15,12,24\n",
    "battery_models": "Model,Volts,Capacity (Ah),Max current\nB24-6,25.6,6,10\n",
    "supplies": "Tag,Model,Bin\nPS-01,S320,B1\nPS-11,S384,B1\n",
    "decoders": "Tag,Model\nDC-01,D4\nDC-02,D4\n",
    "batteries": "Tag,Model\nBT-01,B24-6\n",
    "boxes": "Tag,Material\nEN-1,sheet steel\n",
    "outlets": "Outlet,Venue,Breaker\nMD1,Slipway,20\n",
    "reels": "Reel,Tape,Lot,Received (m)\nR-101,RGBW24,C-26F,5\nR-102,NW24,N-26A,5\n",
    "productions": (
        "Code,Title,Venue,Build start,Load-in,Closing,Strike end,Return by\n"
        "SQ,The Sleet Queen,Slipway,2026-10-19,2026-11-09,2027-01-10,2027-01-12,2027-01-19\n"
    ),
    "scenic_units": "Production,Scenic unit,Motion,Place\nSQ,Ice wall,static,SL-DR\n",
    "elements": (
        "Element,Production,Scenic unit,Tape,Pieces (mm),Chained,Lead (m),Lead AWG\n"
        "SQ-01,SQ,Ice wall,RGBW24,2 x 2400,yes,6,18\n"
        "SQ-07,SQ,Ice wall,NW24,3 x 750,no,5,20\n"
    ),
}


def read(texts: Mapping[str, str]) -> Reading:
    """What an upload of these sheets holds: a zip of a CSV file each."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, text in texts.items():
            archive.writestr(f"{name}.csv", text)
    return read_bytes(buffer.getvalue(), "sheets.zip", NAMES)


def bring(store: Store, **sheets: str) -> Brought:
    """Bring sheets in, in one transaction."""
    reading = read(sheets)
    with store.writing("a test") as session:
        return bring_in(session, reading.sheets, "a test", TODAY)


def the_faults(store: Store, **sheets: str) -> tuple[RowError, ...]:
    """What is refused when these sheets come in."""
    try:
        bring(store, **sheets)
    except BadSheets as refusal:
        return refusal.errors
    raise AssertionError("the sheets came in")


def the_fault(store: Store, **sheets: str) -> RowError:
    """The one and only thing refused."""
    (fault,) = the_faults(store, **sheets)
    return fault
