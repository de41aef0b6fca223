"""Plans as frames: declared columns in their order, units told, money exact, safe to show in a notebook."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path

import pandas as pd
import pytest

from optimiser import service
from optimiser.errors import CallError
from optimiser.model.plan import Comparison, Plan
from optimiser.show import as_csv, tables
from tests.tiny_job import BASE, NEW, ROUTED, USED, VARIANTS, but, planned, routed

OF_A_PLAN = {
    "plan": (tables.plan, tables.PLAN, tables.plan_rows),
    "parts": (tables.parts, tables.PARTS, tables.parts_rows),
    "orders": (tables.orders, tables.ORDERS, tables.orders_rows),
    "money": (tables.money, tables.MONEY, tables.money_rows),
    "not_offered": (tables.not_offered, tables.NOT_OFFERED, tables.not_offered_rows),
}


@pytest.fixture(scope="module")
def compared() -> Comparison:
    return service.compare(VARIANTS["workshop"], "horn")


@pytest.mark.parametrize("name", OF_A_PLAN)
@pytest.mark.parametrize("variant", ["base", "deposit", "owned", "lapsed", "empty"])
def test_a_frame_has_the_declared_columns_and_says_its_units(name: str, variant: str) -> None:
    frame_of, columns, rows = OF_A_PLAN[name]
    plan = planned(variant)
    frame = frame_of(plan)
    assert list(frame.columns) == [column.name for column in columns]
    assert len(frame) == len(list(rows(plan)))
    assert frame.attrs["currency"] == "GBP"
    assert list(frame.attrs["columns"]) == list(frame.columns)
    assert all(": " in said for said in frame.attrs["columns"].values())


def every_table(plan: Plan, compared: Comparison) -> Iterator[tuple[tuple[tables.Column, ...], list[tables.Row]]]:
    for _, columns, rows in OF_A_PLAN.values():
        yield columns, list(rows(plan))
    yield tables.COMPARISON, list(tables.comparison_rows(compared))


def test_every_row_is_as_wide_as_its_heading_and_money_is_exact(compared: Comparison) -> None:
    for columns, rows in every_table(planned("deposit"), compared):
        for row in rows:
            assert len(row) == len(columns)
            for cell, column in zip(row, columns):
                if column.unit == "money":
                    assert cell is None or (isinstance(cell, Decimal) and cell.as_tuple().exponent == -2)
                if column.unit == "0..1":
                    assert cell is None or 0 <= cell <= 1


@pytest.mark.parametrize("variant", ["base", "postage", "packs", "deposit", "access", "owned", "set"])
def test_landed_costs_sum_to_the_net_cost_exactly(variant: str) -> None:
    plan = planned(variant)
    money = tables.money(plan).set_index("line")["amount"]
    net = money["orders"] + money["direct"] + money["deposits"] - money["deposits_due"]
    assert sum(tables.plan(plan)["landed"]) == net == Decimal(plan.purse.net_minor) / 100
    assert money["remaining"] == money["orders"] + money["direct"] + money["deposits"] + money["fallbacks"] + money["unspent"]  # noqa: E501 # fmt: skip


@pytest.mark.parametrize("variant", ROUTED)
def test_landed_costs_sum_to_the_net_cost_with_routes_too(variant: str) -> None:
    plan = routed(variant)
    money = tables.money(plan).set_index("line")["amount"]
    assert sum(tables.plan(plan)["landed"]) == Decimal(plan.purse.net_minor) / 100
    assert money["remaining"] == money["orders"] + money["direct"] + money["deposits"] + money["fallbacks"] + money["unspent"]  # noqa: E501 # fmt: skip


def test_minutes_are_those_of_the_longest_path() -> None:
    """Check 5, plug 10, pump 20; a horn's two attempts of 20 each; without fallbacks the option's own."""
    assert list(tables.plan(routed("three_results"))["minutes"]) == [5 + 10 + 20]
    assert list(tables.plan(routed("fallback"))["minutes"]) == [40, 10]
    assert list(tables.plan(planned("base"))["minutes"]) == [20, 10]
    assert list(tables.plan(planned("set"))["minutes"]) == [20, 0]


def test_a_route_in_the_plan_s_table() -> None:
    """A route that begins with a check has no repair of its own yet, and says why."""
    (row,) = tables.plan(routed("three_results")).to_dict("records")
    assert (row["repair"], row["by"], row["why"], row["supplier"]) == ("", "", "check-first", "")
    assert row["chance"] == pytest.approx(0.3 * 0.98 + 0.5 * (0.75 + 0.25 * 0.25 * 0.98))
    first = tables.plan(routed("fallback")).set_index("fault").loc["horn"]
    assert (first["repair"], first["supplier"], first["condition"]) == ("swap", "birch", "salvage")


def test_goods_and_fitted_pieces_of_the_orders() -> None:
    (row,) = tables.orders(planned("packs")).to_dict("records")
    assert (row["packs"], row["pack"], row["goods"], row["fitted"]) == (1, 4, Decimal("9.00"), 2)


def test_where_parts_come_from() -> None:
    plan = tables.plan(planned("owned")).set_index("fault")
    assert (plan.loc["horn", "supplier"], plan.loc["horn", "condition"]) == ("shelf", "new")
    assert list(tables.parts(planned("owned"))["source"]) == ["owned"]


def test_the_comparison_has_one_choice_with_switch_points(compared: Comparison) -> None:
    frame = tables.comparison(compared).set_index("chosen")
    assert list(frame.columns.insert(6, "chosen")) == [column.name for column in tables.COMPARISON]
    assert list(frame.loc[["yes"], "repair"]) == ["shop"]
    assert frame.loc["yes", "price_up_to"] >= frame.loc["yes", "landed"]
    assert 0 <= frame.loc["yes", "chance_down_to"] <= frame.loc["yes", "chance"]
    others = frame.loc["no"]
    assert others["price_up_to"].isna().all()
    assert others["chance_down_to"].isna().all()


def test_cost_per_fix_is_landed_by_chance(compared: Comparison) -> None:
    row = next(r for r in compared.rows if r.option.repair == "shop")
    assert tables.cost_per_fix(row, 1700) == 1789  # 17.00 / 0.95 = 17.894...


def test_the_shortest_warranty_counts_and_a_silent_part_has_none() -> None:
    def warranty(*months: int | None) -> int | None:
        parts = {f"p{n}": 1 for n in range(len(months))}
        quotes = tuple(but(NEW, id=f"quotes.csv:{n + 2}", part=f"p{n}", warranty_months=m)
                       for n, m in enumerate(months))  # fmt: skip
        horn = but(BASE.faults[0], repairs=(but(BASE.faults[0].repairs[0], parts=parts),))
        job = but(BASE, faults=(horn,), quotes=quotes, pot=but(BASE.pot, cap_minor=10000))
        return tables.shortest_warranty(service.compare(job, "horn").rows[0])

    assert (warranty(24, 12), warranty(24, None), warranty(0), warranty()) == (12, None, 0, None)


@pytest.mark.parametrize("name", OF_A_PLAN)
def test_frames_show_in_a_notebook_and_nobodys_text_becomes_markup(name: str) -> None:
    evil = but(BASE, quotes=(but(NEW, ref="<script>alert(1)</script>"), USED))
    html = OF_A_PLAN[name][0](service.plan(evil))._repr_html_()
    assert "<table" in html
    assert "<script>" not in html


def test_a_frame_is_a_view_that_changes_nothing() -> None:
    plan = planned("base")
    frame: pd.DataFrame = tables.plan(plan)
    frame["landed"] = Decimal(0)
    assert sum(tables.plan(plan)["landed"]) == Decimal("11.50")


CALLS: list[Callable[[Plan], pd.DataFrame]] = [tables.plan, tables.parts, tables.orders, tables.not_offered]


@pytest.mark.parametrize("call", CALLS)
def test_an_empty_job_gives_empty_frames_with_all_columns(call: Callable[[Plan], pd.DataFrame]) -> None:
    frame = call(planned("empty"))
    assert frame.empty
    assert len(frame.columns) > 3


def test_csv_is_the_table_and_comes_whole_or_not_at_all(tmp_path: Path) -> None:
    plan = service.plan(but(BASE, quotes=(but(NEW, ref='5" "long", new\nline'), USED)))
    path = tmp_path / "orders.csv"
    as_csv.write(path, tables.ORDERS, tables.orders_rows(plan))
    raw = path.read_bytes()
    (row,) = csv.DictReader(io.StringIO(raw.decode("utf-8"), newline=""))
    assert row["ref"] == '5" "long", new\nline'
    assert row["price"] == "9.00"
    assert raw.count(b"\r\n") == 2  # RFC 4180: lines end in CRLF
    assert [p.name for p in tmp_path.iterdir()] == ["orders.csv"]


def test_csv_that_cannot_be_written_leaves_nothing_behind(tmp_path: Path) -> None:
    with pytest.raises(CallError, match="cannot be written"):
        as_csv.write(tmp_path / "no" / "such.csv", tables.MONEY, [])
    (tmp_path / "taken").mkdir()
    with pytest.raises(CallError, match="cannot be written"):
        as_csv.write(tmp_path / "taken", tables.MONEY, [])
    assert [p.name for p in tmp_path.iterdir()] == ["taken"]


def test_csv_that_breaks_off_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "money.csv"
    path.write_text("old", encoding="utf-8")

    def rows() -> Iterator[tables.Row]:
        yield ("cap", Decimal(1))
        raise OSError(28, "No space left on device")

    with pytest.raises(CallError, match="No space left"):
        as_csv.write(path, tables.MONEY, rows())
    assert path.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["money.csv"]
