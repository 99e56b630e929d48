"""What was expected of a value that does not fit, in the words of the house instead of the library's."""

from collections.abc import Mapping
from typing import Any

_WORDS = {
    "greater_than": "a number above {gt} is expected",
    "greater_than_equal": "{ge} is the least that is taken",
    "less_than": "a number below {lt} is expected",
    "less_than_equal": "{le} is the most that is taken",
    "finite_number": "a finite number is expected",
    "multiple_of": "a multiple of {multiple_of} is expected",
    "int_type": "a whole number is expected",
    "int_parsing": "a whole number is expected",
    "int_parsing_size": "a smaller whole number is expected",
    "int_from_float": "a whole number is expected",
    "float_type": "a number is expected",
    "float_parsing": "a number is expected",
    "bool_type": "true or false is expected",
    "bool_parsing": "true or false is expected",
    "string_type": "text is expected",
    "string_unicode": "text in UTF-8 is expected",
    "string_pattern_mismatch": "text of the form {pattern} is expected",
    "string_too_short": "text of at least {min_length} characters is expected",
    "string_too_long": "text of at most {max_length} characters is expected",
    "too_short": "a list of at least {min_length} is expected",
    "too_long": "a list of at most {max_length} is expected",
    "list_type": "a list is expected",
    "dict_type": "an object is expected",
    "model_type": "an object is expected",
    "model_attributes_type": "an object is expected",
    "enum": "one of these is expected: {expected}",
    "literal_error": "one of these is expected: {expected}",
    "date_type": "a day is expected, as YYYY-MM-DD",
    "date_parsing": "a day is expected, as YYYY-MM-DD",
    "date_from_datetime_parsing": "a day is expected, as YYYY-MM-DD",
    "date_from_datetime_inexact": "a day is expected, as YYYY-MM-DD",
    "datetime_type": "a moment is expected, as 2026-11-25T18:00:00Z",
    "datetime_parsing": "a moment is expected, as 2026-11-25T18:00:00Z",
    "datetime_from_date_parsing": "a moment is expected, as 2026-11-25T18:00:00Z",
    "timezone_aware": "a moment with its zone is expected, as 2026-11-25T18:00:00Z",
}


def expected(fault: Mapping[str, Any]) -> str:
    """The sentence for one fault that the library found.

    >>> expected({"type": "too_short", "ctx": {"min_length": 1}, "msg": ""})
    'a list of at least 1 is expected'
    >>> expected({"type": "greater_than", "ctx": {"gt": 0.0}, "msg": ""})
    'a number above 0 is expected'
    >>> expected({"type": "value_error", "msg": "Value error, it may not be blank"})
    'it may not be blank'
    """
    words = _WORDS.get(str(fault["type"]))
    if words is None:
        return str(fault["msg"]).removeprefix("Value error, ")
    figures = {n: f"{v:g}" if isinstance(v, float) else v for n, v in fault.get("ctx", {}).items()}
    return words.format(**figures)
