"""One sheet, what is told of it, and what must come of it; and the job that it is for.

The layouts in this folder are invented from trade habit (general knowledge, no published source); so are the shops,
parts and prices.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from optimiser.quote_import import Told

PARTS = {
    "front-disc": "Front brake disc",
    "rear-shoe": "Rear brake shoe",
    "starter-motor": "Starter motor",
    "blower-motor": "Heater blower motor",
    "relay-12v": "Relay 12 V",
    "wing-mirror-left": "Wing mirror left",
    "wing-mirror-right": "Wing mirror right",
}
SHOPS = {
    "oddlode-rebuilds": "Oddlode Rebuilds",
    "mossback-yard": "Mossback Yard",
    "quillfeather": "Quillfeather Motor Factors",
}


@dataclass
class Layout:
    """A file, what is told of it, and what must come of it."""

    name: str
    data: bytes
    rows: str
    aside: str = ""
    doubts: str = ""
    told: Told = field(default_factory=Told)
    file: str = "oddlode.csv"
    currency: str = "GBP"
    cautions: tuple[str, ...] = ()
    """Words that the cautions and remarks must hold."""
