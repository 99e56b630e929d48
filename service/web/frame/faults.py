"""What is wrong with something typed or asked: the library finds it, and the catalogue says it."""

from collections.abc import Mapping
from typing import Any

from service.web.frame.words import FIRST, say, says

_SAID = {
    "missing": "given-missing",
    "string_too_long": "given-too-long",
    "string_too_short": "given-too-short",
    "string_pattern_mismatch": "given-no-tag",
    "string_type": "given-no-text",
    "int_type": "given-no-whole-number",
    "int_parsing": "given-no-whole-number",
    "int_parsing_size": "given-no-whole-number",
    "int_from_float": "given-no-whole-number",
    "float_type": "given-no-number",
    "float_parsing": "given-no-number",
    "finite_number": "given-no-number",
    "bool_type": "given-no-yes",
    "bool_parsing": "given-no-yes",
    "date_type": "given-no-day",
    "date_parsing": "given-no-day",
    "date_from_datetime_parsing": "given-no-day",
    "date_from_datetime_inexact": "given-no-day",
    "greater_than": "given-not-above",
    "greater_than_equal": "given-too-small",
    "less_than": "given-not-below",
    "less_than_equal": "given-too-great",
    "too_short": "given-too-few",
    "too_long": "given-too-many",
    "enum": "given-no-choice",
    "literal_error": "given-no-choice",
    "extra_forbidden": "given-unknown",
}
_OWN = "value_error"  # raised by a rule of this service, in its own words


def in_words(fault: Mapping[str, Any], name: str, language: str = FIRST) -> tuple[str, str]:
    """What is wrong and how to mend it. `name`: the field's, as the form sends it; "" where it is of none.

    >>> in_words({"type": "string_too_long", "ctx": {"max_length": 80}}, "name")
    ('your name: at most 80 characters are taken', 'Correct it and send it again.')
    >>> in_words({"type": "value_error", "ctx": {"error": ValueError("it is blank. Fill it in.")}}, "")
    ('it is blank', 'Fill it in.')
    """
    kind = str(fault["type"])
    mend = say("given-mend", {}, language)
    if kind == _OWN:
        said, _, own_mend = str(fault["ctx"]["error"]).partition(". ")
        said, mend = said.rstrip("."), own_mend or mend
    else:
        said = say(_SAID.get(kind, "given-odd"), _figures(fault), language)
    return (f"{field_in_words(name, language)}: {said}" if name else said), mend


def field_in_words(name: str, language: str = FIRST) -> str:
    """
    >>> field_in_words("received_on"), field_in_words("lot_size")
    ('the day it came', 'lot size')
    """
    key = f"given-the-{name.replace('_', '-')}"
    return say(key, {}, language) if says(key, language) else name.replace("_", " ")


def _figures(fault: Mapping[str, Any]) -> dict[str, Any]:
    figures = {}
    for name, value in fault.get("ctx", {}).items():
        figures[name.replace("_", "-")] = value if isinstance(value, int | float) else str(value)
    return figures | {"expected": str(figures.get("expected", "")).replace("'", "")}
