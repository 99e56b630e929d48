"""The lists of connectors, people, and photos and documents of things."""

from service.stock.attachments import Attachment
from service.stock.fittings import Connector
from service.stock.people import Person
from service.store.base import TagEntry
from service.store.listing import RETIRED, Field, Filter, Listing

CONNECTORS = Listing(
    plural="connectors",
    one="a connector",
    doc="Kinds of connector, with what a pin may carry.",
    source=Connector,
    id=Connector.id,
    version=Connector.version,
    key=Connector.tag_key,
    order=(Connector.tag_key,),
    fields=(
        Field("tag", Connector.tag, "the house's name for this kind of connector"),
        Field("family", Connector.family, "what the trade calls it"),
        Field("pins", Connector.pins, "pins"),
        Field("a_per_pin", Connector.a_per_pin, "what one pin may carry for hours, in A"),
        Field("gender", Connector.gender, "which half it is"),
        Field("mates_with", Connector.mates_with, "what it plugs into"),
        Field("note", Connector.note, "note"),
        Field("retired_on", Connector.retired_on, RETIRED),
        Field("changed_at", Connector.changed_at, "last change, UTC"),
    ),
    filters=(Filter("family", Connector.family, "what the trade calls it, exactly"),),
)

PEOPLE = Listing(
    plural="people",
    one="a person",
    doc="Whom work is asked of, and how to reach them.",
    source=Person,
    id=Person.id,
    version=Person.version,
    key=Person.id,
    order=(Person.name, Person.id),
    is_tagged=False,
    fields=(
        Field("id", Person.id, "number in the store; its address"),
        Field("name", Person.name, "name"),
        Field("role", Person.role, "what they do"),
        Field("contact", Person.contact, "how to reach them"),
        Field("changed_at", Person.changed_at, "last change, UTC"),
    ),
    filters=(Filter("name", Person.name, "name, exactly"), Filter("role", Person.role, "role, exactly")),
)

ATTACHMENTS = Listing(
    plural="attachments",
    one="an attachment",
    doc="Photos and documents of things; the file itself is at its address with /file.",
    source=Attachment.__table__.join(TagEntry.__table__),
    id=Attachment.id,
    version=Attachment.version,
    key=Attachment.id,
    order=(Attachment.id,),
    is_tagged=False,
    fields=(
        Field("id", Attachment.id, "number in the store; its address"),
        Field("about", TagEntry.tag, "tag of the thing it shows"),
        Field("about_kind", TagEntry.kind, "kind of thing"),
        Field("file_name", Attachment.file_name, "name of the file as it was sent"),
        Field("media_type", Attachment.media_type, "what is in it"),
        Field("size_bytes", Attachment.size_bytes, "size in bytes"),
        Field("sha256", Attachment.sha256, "SHA-256 of what is in it (FIPS 180-4)"),
        Field("taken_on", Attachment.taken_on, "day it was taken"),
        Field("added_by", Attachment.added_by, "who added it"),
        Field("caption", Attachment.caption, "what it shows"),
        Field("changed_at", Attachment.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("about", Attachment.about_key, "tag of the thing", is_tag=True),
        Filter("media_type", Attachment.media_type, "what is in it, exactly"),
    ),
)

LISTINGS = (CONNECTORS, PEOPLE, ATTACHMENTS)
