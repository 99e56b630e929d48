"""The demonstration season put in disorder by a seed: other tags, other days, other rows first, one show
twice, other loads on other supplies. What must be found afterwards is worked out again from the sheets."""

import random
import re
from collections.abc import Callable
from datetime import date, timedelta

from tests.acceptance.worked import Row, Sheets

TAGGED = {
    "elements": "Element", "supplies": "Tag", "decoders": "Tag", "batteries": "Tag", "boxes": "Tag",
    "reels": "Reel", "outlets": "Outlet", "cuts": "Cut", "holds": "Hold",
}  # fmt: skip
WORDS = {"Name", "Title", "Note", "State note", "Reason", "Where now", "Scenic unit", "Match group"}
DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
# Sheets with rows of one production, and the column that says which; cuts and holds stay with the first.
OF_A_SHOW = {"scenic_units": "Production", "gear_on_stage": "Production", "addresses": "Production"}
OF_AN_ELEMENT = ("feeds", "running_orders")


def disordered(sheets: Sheets, seed: int, today: date) -> tuple[Sheets, date]:
    """The same season out of order, and the day on which it is looked at."""
    rng = random.Random(seed)
    sheets = {name: [dict(row) for row in rows] for name, rows in sheets.items()}
    _show_it_twice(sheets, rng.choice(["FR", "SQ", "TL"]), "ZZ")
    _feed_from_elsewhere(sheets, rng, 6)
    _pile_up(sheets, rng)
    _draw_longer(sheets, rng, 6)
    _rename(sheets, rng)
    days = timedelta(days=rng.randrange(-400, 400))
    _every_cell(sheets, lambda _, text: _moved(text, days))
    for rows in sheets.values():
        # The first row keeps its place: its columns are the head of the sheet.
        rng.shuffle(rows)
    return sheets, today + days + timedelta(days=rng.choice([0, 20, 60, 90]))


def _show_it_twice(sheets: Sheets, code: str, again: str) -> None:
    """The show under another code: other elements on the same gear; its pieces are not cut."""
    [show] = [row for row in sheets["productions"] if row["Code"] == code]
    sheets["productions"].append(show | {"Code": again, "Title": show["Title"] + " again"})
    tags = {r["Element"]: f"{again}-{r['Element']}" for r in sheets["elements"] if r["Production"] == code}
    for name, column in OF_A_SHOW.items():
        sheets[name] += [row | {column: again} for row in sheets[name] if row[column] == code]
    for name in OF_AN_ELEMENT:
        sheets[name] += [r | {"Element": tags[r["Element"]]} for r in sheets[name] if r["Element"] in tags]
    sheets["elements"] += [
        row | {"Element": tags[row["Element"]], "Production": again}
        for row in sheets["elements"]
        if row["Element"] in tags
    ]


def _feed_from_elsewhere(sheets: Sheets, rng: random.Random, count: int) -> None:
    """Some feeds come from another supply or battery, whatever it may carry and wherever it stands."""
    sources = [row["Tag"] for name in ("supplies", "batteries") for row in sheets[name]]
    for feed in rng.sample(sheets["feeds"], count):
        feed["Supply"], feed["Output"] = rng.choice(sources), "1"


def _pile_up(sheets: Sheets, rng: random.Random) -> None:
    """Five four-colour elements of one show on one decoder and one small pack."""
    code = rng.choice(["SQ", "TL"])
    mine = {row["Element"] for row in sheets["elements"] if row["Production"] == code}
    wide = [feed for feed in sheets["feeds"] if feed["Element"] in mine and feed["Channels"] == "1-4"]
    piled = [feed for feed in wide if not feed["Decoder"].startswith("any ")][:5]
    for feed in piled:
        feed.update({"Decoder": piled[0]["Decoder"], "Supply": "BT-11", "Output": "1"})


def _draw_longer(sheets: Sheets, rng: random.Random, count: int) -> None:
    """Some elements that are not cut yet are drawn longer or shorter, off the cut pitch too."""
    cut = {row["Element"] for row in sheets["cuts"]}
    uncut = [row for row in sheets["elements"] if row["Element"] not in cut]
    for row in rng.sample(uncut, count):
        times, found, length = row["Pieces (mm)"].rpartition(" x ")
        row["Pieces (mm)"] = f"{times}{found}{int(length) + rng.randrange(-100, 900)}"


def _rename(sheets: Sheets, rng: random.Random) -> None:
    """Every tag of a thing becomes another, wherever a whole cell names it; codes of shows too."""
    old = [row[column] for name, column in TAGGED.items() for row in sheets[name]]
    numbers = rng.sample(range(100, 9999), len(old))
    names = {
        tag: f"{rng.choice('BGHJKMQV')}{rng.choice('AEIOU')}.{n}" for tag, n in zip(old, numbers, strict=True)
    }
    codes = {row["Code"]: f"{rng.choice('BGHJKM')}{n}" for n, row in enumerate(sheets["productions"], 10)}

    def renamed(column: str, text: str) -> str:
        if column in WORDS:
            return text
        return codes.get(text, text) if column in {"Production", "Code"} else names.get(text, text)

    _every_cell(sheets, renamed)


def _every_cell(sheets: Sheets, change: Callable[[str, str], str]) -> None:
    for name, rows in sheets.items():
        sheets[name] = [_changed(row, change) for row in rows]


def _changed(row: Row, change: Callable[[str, str], str]) -> Row:
    return {column: change(column, text) for column, text in row.items()}


def _moved(text: str, days: timedelta) -> str:
    return (date.fromisoformat(text) + days).isoformat() if DAY.fullmatch(text) else text
