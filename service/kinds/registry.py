"""Every kind of thing the house keeps, in the order in which one refers to another. Lists, sheets, templates,
exports, the API, the command line and labels are all read from here: a new kind is one entry."""

from service.kinds.kind import Kind
from service.kinds.sheets import cuts, feeds, gear, models, rules, season, shows, stock, tape

KINDS: tuple[Kind, ...] = (
    stock.VENUES,
    stock.PLACES,
    stock.REACHES,
    rules.RULES,
    stock.WIRE,
    tape.TAPES,
    models.SUPPLY_MODELS,
    models.DECODER_MODELS,
    models.BATTERY_MODELS,
    gear.SUPPLIES,
    gear.DECODERS,
    gear.BATTERIES,
    gear.ENCLOSURES,
    gear.OUTLETS,
    tape.REELS,
    season.PRODUCTIONS,
    season.FILM_DAYS,
    season.OTHER_LOADS,
    season.ORDERS,
    shows.SCENIC_UNITS,
    shows.ELEMENTS,
    shows.CUES,
    cuts.CUTS,
    season.HOLDS,
    feeds.FEEDS,
    feeds.STANDING,
    feeds.ADDRESSES,
)
