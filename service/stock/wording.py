"""What a unit or a reel has on record, in words: for who reads that it was changed, and knows no columns."""

from collections.abc import Iterable, Mapping
from typing import Any

from service.units import show_um

_WORDS = {
    "home_id": "its home",
    "place_id": "its place",
    "seen_place_id": "where it was seen",
    "seen_on": "when it was seen",
    "where_note": "the note on its whereabouts",
    "state_note": "the note on its state",
    "left_pitches": "its length",
    "received_pitches": "the length it came with",
    "hired_from": "the first day of its hire",
    "hired_until": "the last day of its hire",
    "retired_on": "when it was retired",
    "last_tested_on": "when it was tested last",
    "measured_ah": "its measured capacity",
    "parent_id": "the reel it was cut from",
}
_PLACES = ("home_id", "place_id", "seen_place_id")
_LENGTHS = ("left_pitches", "received_pitches")
_UNSAID = ("hired_until", "measured_ah")  # the day after, and a bare figure: the word alone is plainer


def words(names: Iterable[str]) -> str:
    """What those columns hold.

    >>> words(["seen_place_id", "left_pitches", "state"])
    'where it was seen, its length and its state'
    """
    said = list(dict.fromkeys(_word(name) for name in names))
    return " and ".join(filter(None, (", ".join(said[:-1]), *said[-1:])))


def words_now(values: Mapping[str, Any], places: Mapping[int, str], pitch_um: int) -> str:
    """The same with what each is now, as the record of changes has it; places by their tags.

    >>> words_now({"home_id": 11, "left_pitches": 95, "state_note": ""}, {11: "B3"}, 50_000)
    'its home is now B3, its length is now 4750 mm, the note on its state is now blank'
    """
    return ", ".join(
        f"{_word(name)} is now {said}" if said else f"{_word(name)} was changed"
        for name, said in ((name, _said(name, value, places, pitch_um)) for name, value in values.items())
    )


def _word(name: str) -> str:
    return _WORDS.get(name) or f"its {name.removesuffix('_id').removesuffix('_on').replace('_', ' ')}"


def _said(name: str, value: Any, places: Mapping[int, str], pitch_um: int) -> str:
    """A value for people; nothing where it would be the number of a row."""
    if value in (None, ""):
        return "blank"
    if name in _PLACES:
        return places.get(value, "")
    if name in _LENGTHS:
        return show_um(value * pitch_um) if pitch_um else ""
    return "" if name in _UNSAID or name.endswith("_id") else str(value)
