"""What is printed beside a finding whose neglect can hurt. Planning arithmetic, not an approval."""

SCOPE = (
    "Planning arithmetic only. Local code, the authority having jurisdiction, the venue's rules and the "
    "makers' sheets win; a licensed person decides."
)
MAINS = (
    "Mains is for qualified people: isolate and prove dead before opening. Never put a tape supply on a "
    "phase-cut dimmer unless its maker allows it. " + SCOPE
)
FIRE = (
    "Low voltage still burns: thin wire and bad joints get hot. Fuse each lead for its wire, at the "
    "source end. " + SCOPE
)
HEAT = "Tape, supplies and decoders need air; do not cover or bury them without a heat test. " + SCOPE
WRONG_VOLTAGE = "Switch it off before anything else: tape on too high a voltage smokes. " + SCOPE
TOO_LOW = "Too low a voltage only glows; never join sources in series to make up for it. " + SCOPE
OUTPUTS = "Do not tie outputs together unless the maker says they may be. " + SCOPE
BATTERY = (
    "Protected packs, the right charger, a fuse at the pack; never charge unattended, in a costume or "
    "on an escape route. " + SCOPE
)
WEARER = (
    "A worn piece meets sweat: insulate it, keep the voltage low, keep the pack quick to take off. " + SCOPE
)
MOVING = "A moving piece tears what holds it to the deck; a torn lead shorts. Fuse it at the source. " + SCOPE
WET = (
    "Limits fall where wet contact is likely: keep it under 30 V dc, seal every end that was cut, keep "
    "supplies and joints out of the water. " + SCOPE
)
CUTTING = "Cut with the power off; ventilate when soldering, protect eyes, wash hands. "
DATA = "Worked from entered ratings: measure a sample of each reel and each finished piece. " + SCOPE
BENCH = CUTTING + DATA
BAD_PACK = (
    "A pack that is swollen, hot or was dropped is retired: do not charge, wear or post it; keep it in the "
    "open, away from what burns. " + BATTERY
)
CONTROL = "Stand clear and tell the stage before changing an address: other scenery may light or flash."
EMERGENCY = "Never treat tape as emergency, exit or aisle lighting unless it was approved as such."
