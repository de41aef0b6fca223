"""Happenings of every kind, as odd as they may be."""

from __future__ import annotations

from datetime import UTC, datetime

from hypothesis import strategies as st

from optimiser.model import events as h
from optimiser.money import GREATEST_MINOR, PLACES

text = st.text(st.characters(exclude_categories=["Cs"]), max_size=60)
ids = st.text(st.characters(categories=["L", "N", "P", "S"]), min_size=1, max_size=20)
times = st.datetimes(datetime(1971, 1, 1), datetime(9997, 1, 1), timezones=st.timezones() | st.just(UTC))  # noqa: DTZ001
sources = st.from_regex(r"[a-z][a-z0-9 -]{0,10}", fullmatch=True)
amounts = st.integers(0, GREATEST_MINOR)
numbers = st.integers(1, 10**9)
units = st.integers(1, 10**6)
days = st.integers(0, 10**6)
shares = st.floats(0, 1)
odds = st.floats(0, 1e9, exclude_min=True)
currencies = st.sampled_from(sorted(PLACES))
conditions = st.sampled_from(["new", "refurbished", "salvage"])
said = {"at": times, "source": sources}
money = said | {"currency": currencies}
pieces = st.builds(
    h.FittedPiece,
    part=ids,
    units=units,
    quote=text,
    bought=st.none() | numbers,
    condition=conditions,
    good_chance=shares,
    then=st.sampled_from(["stays-on", "kept", "sent-back"]),
)
back = money | {"amount_minor": amounts, "bought": st.none() | numbers, "text": text}
KINDS: dict[type[h.EventHead], st.SearchStrategy[h.Happening]] = {
    h.CheckMade: st.builds(h.CheckMade, **money, fault=ids, check=ids, result=ids, cost_minor=amounts),
    h.SeenToBe: st.builds(h.SeenToBe, **said, fault=ids, cause=ids),
    h.SeenNotToBe: st.builds(h.SeenNotToBe, **said, fault=ids, cause=ids),
    h.AfterCure: st.builds(h.AfterCure, **said, fault=ids, works=st.booleans()),
    h.Purchase: st.builds(
        h.Purchase,
        **money,
        quote=text,
        part=ids,
        supplier=ids,
        condition=conditions,
        packs=units,
        pack=units,
        price_minor=amounts,
        postage_minor=amounts,
        deposit_minor=amounts,
        ref=text,
        good_chance=shares,
        refund_share=shares,
        lead_days=days,
        warranty_months=st.none() | days,
    ),
    h.Fitting: st.builds(
        h.Fitting,
        **money,
        fault=ids,
        repair=ids,
        pieces=st.lists(pieces, max_size=3).map(tuple),
        cured=st.booleans(),
        price_minor=amounts,
    ),
    h.SentBack: st.builds(h.SentBack, **said, part=ids, units=units, bought=numbers),
    h.Refund: st.builds(h.Refund, **back),
    h.DepositReturned: st.builds(h.DepositReturned, **back),
    h.Spend: st.builds(h.Spend, **money, amount_minor=amounts, fault=st.none() | ids, text=text),
    h.NewFault: st.builds(
        h.NewFault,
        **said,
        fault=ids,
        title=text,
        severity=st.sampled_from([None, "minor", "major", "dangerous"]),
        back=st.booleans(),
    ),
    h.CameRight: st.builds(h.CameRight, **said, fault=ids),
    h.LicensedTest: st.builds(h.LicensedTest, **said, fault=ids),
    h.LeftAsItIs: st.builds(h.LeftAsItIs, **said, fault=ids, text=text),
    h.PriceCorrected: st.builds(
        h.PriceCorrected,
        **money,
        quote=text,
        part=ids,
        supplier=ids,
        condition=conditions,
        ref=text,
        was_minor=amounts,
        now_minor=amounts,
    ),
    h.WorkPriceCorrected: st.builds(
        h.WorkPriceCorrected, **money, fault=ids, repair=ids, was_minor=amounts, now_minor=amounts
    ),
    h.OddsCorrected: st.builds(h.OddsCorrected, **said, fault=ids, cause=ids, was=odds, now=odds),
    h.Note: st.builds(h.Note, **said, fault=st.none() | ids, text=text),
    h.Lost: st.builds(h.Lost, **said),
}
"""A strategy for every kind that may be appended."""
happenings = st.one_of(list(KINDS.values()))
