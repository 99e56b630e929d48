"""What is printed on the thing itself: its tag, what it is, and the address its code leads to."""

from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import quote

from sqlalchemy.orm import Session

from service.errors import BadRequest, NotFound
from service.kinds.kind import Kind
from service.kinds.registry import KINDS
from service.store.base import tag_key
from service.store.listing import everything, plain_text


@dataclass(frozen=True, slots=True)
class Label:
    """One label. `address`: where its code leads, in any letter case, on the service's own address."""

    tag: str
    kind: str
    line_1: str
    line_2: str
    address: str


def labels(session: Session, plural: str, tags: Iterable[str] = ()) -> list[Label]:
    """Labels of a kind, of all that are in use or of the tags named, in the order of the list.

    Raises BadRequest for a kind that carries no tags, NotFound for a tag that is not of the kind.
    """
    kind = _tagged(plural)
    assert kind.listing is not None
    wanted = {tag_key(tag): tag for tag in tags}
    found = [
        (row, tag_key(row[kind.listing.key_name]))
        for _, _, row in everything(session, kind.listing)
        if (tag_key(row[kind.listing.key_name]) in wanted if wanted else row.get("retired_on") is None)
    ]
    missing = wanted.keys() - {key for _, key in found}
    if missing:
        named = ", ".join(sorted(wanted[key] for key in missing))
        raise NotFound(f"no {kind.listing.plural} have the tag {named}", f"See the list at /api/v1/{plural}.")
    return [_label(kind, row) for row, _ in found]


def _tagged(plural: str) -> Kind:
    tagged = {k.listing.plural: k for k in KINDS if k.listing is not None and k.listing.is_tagged}
    if plural not in tagged:
        raise BadRequest(f"{plural} carry no labels", f"Those that do: {', '.join(tagged)}.")
    return tagged[plural]


def _label(kind: Kind, row: dict[str, object]) -> Label:
    assert kind.listing is not None
    lines = [text for name in kind.label if (text := plain_text(row[name]))]
    tag = str(row[kind.listing.key_name])
    return Label(
        tag,
        kind.listing.one.partition(" ")[2],
        lines[0] if lines else "",
        ", ".join(lines[1:]),
        f"/l/{quote(tag, safe='')}",
    )
