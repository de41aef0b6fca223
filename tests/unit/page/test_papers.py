"""Papers to save from the page: what ``report`` writes, as files that no browser shows in the page's place."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from optimiser import service
from optimiser.page.live import Live
from optimiser.show import html, wanted_words
from tests.unit.page.serving_a_job import Browser

Planning = tuple[Live, Callable[[], Browser]]


def test_every_paper_is_offered_and_is_what_the_report_writes(planning: Planning) -> None:
    live, new = planning
    browser = new()
    shown = browser.rested()
    sale = service.sale_paper(live.now())
    wanted = {
        "report.html": html.report(shown.report),
        "card.html": html.card(shown.report),
        "wanted.txt": wanted_words.listed(shown.plan, shown.report.wanted),
        "sale.html": html.sale(sale),
        "sale-with-prices.html": html.sale(sale, prices=True),
    }
    page = browser.get("/papers")
    assert all(f'href="/papers/{file}" download="{file}"' in page for file in wanted)
    for file, said in wanted.items():
        answer = browser.client.get(f"/papers/{file}")
        assert answer.status_code == 200
        assert answer.text == said
        assert answer.headers["content-disposition"] == f'attachment; filename="{file}"'


def test_without_a_plan_the_paper_for_the_buyer_can_be_had_all_the_same(quiet: tuple[Live, Browser]) -> None:
    _, browser = quiet
    assert "There is no plan yet to print." in browser.get("/papers/report.html", 422)
    assert "Thistle" in browser.get("/papers/sale.html")


@pytest.mark.parametrize("file", ["job.toml", "..%2fjob.toml", "%2e%2e", "report.html%00", "Report.html", "x" * 5000])
def test_no_other_file_can_be_had(file: str, planning: Planning) -> None:
    _, new = planning
    answer = new().client.get(f"/papers/{file}")
    assert answer.status_code == 404
    assert "cap =" not in answer.text
