"""The words on the pages: one Fluent catalogue a language, English where another has none."""

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from fluent.runtime import FluentBundle, FluentResource

FOLDER = Path(__file__).parents[1] / "words"
FIRST = "en"
LONGEST = 200  # characters of one value, where what is said would be too long to be put together


class NoSuchWords(LookupError):
    """A page asks for words that no catalogue holds; a fault of the page."""


@lru_cache
def languages() -> tuple[str, ...]:
    """The languages there are words in, English first."""
    found = sorted(path.stem for path in FOLDER.glob("*.ftl"))
    return (FIRST, *(name for name in found if name != FIRST))


@lru_cache
def _bundle(language: str) -> FluentBundle:
    # Marks that keep text of another direction apart cannot be searched or copied: no tag has one.
    bundle = FluentBundle([language], use_isolating=False)
    bundle.add_resource(FluentResource((FOLDER / f"{language}.ftl").read_text(encoding="utf-8")))
    return bundle


def says(key: str, language: str = FIRST) -> bool:
    """Whether some catalogue has words for that key."""
    return any(_bundle(name).has_message(key) for name in (language, FIRST))


def shortened(text: str, most: int = LONGEST) -> str:
    """
    >>> shortened("far too long", 7)
    'far to…'
    """
    return text if len(text) <= most else f"{text[: most - 1]}…"


def say(key: str, values: Mapping[str, Any], language: str = FIRST) -> str:
    """The words of that key with the values put in; what is too long for that, shortened. Raises NoSuchWords.

    >>> say("elements", {"count": 1}), say("elements", {"count": 3})
    ('1 element', '3 elements')
    """
    for name in (language, FIRST):
        bundle = _bundle(name)
        if bundle.has_message(key):
            pattern = bundle.get_message(key).value
            if pattern is not None:
                text, faults = bundle.format_pattern(pattern, dict(values))
                if faults:
                    short = {n: shortened(v) if isinstance(v, str) else v for n, v in values.items()}
                    text, faults = bundle.format_pattern(pattern, short)
                if faults:
                    raise NoSuchWords(f"{key} in {name}: {faults[0]}")
                return str(text)
    raise NoSuchWords(f"no words for {key}")
