"""The report as one HTML file, the card for the garage wall and the paper for the sale.

START HERE: ``report_page`` gathers plain data section by section, ``page`` fills the templates with it. The templates
hold macros, one a section and one a picture, that take this data and decide nothing: whoever serves the same sections
from a running page fills the same macros.
"""

from optimiser.show.html.card_page import card
from optimiser.show.html.report_page import report
from optimiser.show.html.sale_page import sale

__all__ = ["card", "report", "sale"]
