"""The report: every section's data in the order of the work, filled into one file that needs nothing beside it."""

from __future__ import annotations

from optimiser.model.report import Report
from optimiser.show.html import fault_sheets, page, sections, taken_as_given
from optimiser.show.html.marks import CautionsTold

CONTENTS = (
    ("next", "What next"),
    ("pot", "The pot"),
    ("faults", "Fault by fault"),
    ("orders", "Orders"),
    ("more", "What more money would do"),
    ("moved", "What moved"),
    ("diary", "What happened"),
    ("given", "Taken as given"),
)
"""The sections by anchor and name, in the order of the work."""


def report(known: Report) -> str:
    anchors, told = fault_sheets.anchors(known.plan), CautionsTold()
    return page.filled(
        "report.html",
        contents=CONTENTS,
        next=sections.next_steps(known, told, anchors),
        diary=sections.happened(known),
        **but_next_and_diary(known, told, anchors),
    )


def but_next_and_diary(known: Report, told: CautionsTold, anchors: dict[str, str]) -> dict[str, object]:
    """All other sections, by the names that the templates have for them."""
    return {
        "head": sections.head(known.plan),
        "pot": sections.pot(known.plan, anchors),
        "faults": fault_sheets.sheets(known, told, anchors),
        "cured": sections.cured(known.plan),
        "orders": sections.orders(known.plan),
        "more": sections.more(known.stretch),
        "moved": sections.moved(known),
        "given": taken_as_given.given(known),
    }
