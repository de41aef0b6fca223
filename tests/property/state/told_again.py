"""What a record comes to, reckoned a second time and plainly: dictionaries, one happening after the other.

Written from the model page, sections 2, 3 and 6, and the issue on the record; it shares nothing with the program but
the happenings. It is told what the folder holds as dictionaries too.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from optimiser.model import events as h

PLANNED_UNDER = ("owned:", "bought:", "kept:")


class Told:
    """Everything after some happenings. ``folder`` says: currency, stock by quote, price by quote, causes by fault,
    repairs by fault with their parts, results by fault and check, twins by fault, own rows as (part, condition, units),
    and by quote what tells it from others (part, supplier, condition, reference, pack).
    """

    def __init__(self, folder: dict[str, Any], happenings: Iterable[h.Happening]) -> None:
        self.folder = folder
        self.spent = 0
        self.stock = dict(folder["stock"])
        self.price, self.work = dict(folder["price"]), dict(folder["work"])
        self.odds = {fault: dict(causes) for fault, causes in folder["causes"].items()}
        self.heaps: dict[str, dict[str, Any]] = {}
        for number, (part, condition, units) in enumerate(folder["own"], start=1):
            self.heaps[f"owned:{number}"] = {
                "part": part, "condition": condition, "good": None, "units": units, "origin": f"owned:{number}",
                "purchase": None, "failed_on": [],
            }  # fmt: skip
        self.purchases: dict[int, dict[str, Any]] = {}
        self.nobodys: dict[str, str] = {}
        self.batches: dict[object, str] = {}
        self.row_of: dict[str, str] = {}
        self.faults = {fault: [] for fault in folder["causes"]}
        self.cured_by: dict[str, int | None] = dict.fromkeys(self.faults)
        self.left: dict[str, int] = {}
        self.unfit: set[int] = set()
        self.not_in_the_sheets: dict[int, h.PriceCorrected] = {}
        self.not_in_the_job: dict[int, h.WorkPriceCorrected] = {}
        listed = list(happenings)
        struck = {each.strikes for each in listed if isinstance(each, h.Strike)}
        for number, each in enumerate(listed, start=1):
            if number not in struck:
                self.take(number, each)

    def take(self, number: int, each: h.Happening) -> None:
        kind = each.kind.replace("-", "_")
        ours = getattr(each, "currency", self.folder["currency"]) == self.folder["currency"]
        if ours:
            self.spent += each.cash_minor
        elif each.cash_minor or kind in ("price", "work_price"):
            self.unfit.add(number)
            if kind in ("price", "work_price", "deposit_returned"):
                return
        if not getattr(self, f"take_{kind}", lambda *_: True)(number, each, ours):
            self.unfit.add(number)

    # what was seen

    def take_finding(self, _: int, each: Any, __: bool) -> bool:
        fits = each.result in self.folder["results"].get((each.fault, each.check), ())
        if fits:
            self.faults[each.fault].append(("found", each.check, each.result))
        return fits

    def take_it_is(self, _: int, each: Any, __: bool) -> bool:
        return self.cause(each, "is")

    def take_it_is_not(self, _: int, each: Any, __: bool) -> bool:
        return self.cause(each, "is-not")

    def cause(self, each: Any, word: str) -> bool:
        fits = each.fault in self.faults and each.cause in {*self.odds.get(each.fault, {}), "something-else"}
        if fits:
            self.faults[each.fault].append((word, each.cause))
        return fits

    def take_new_fault(self, _: int, each: Any, __: bool) -> bool:
        self.faults.setdefault(each.fault, [])
        self.cured_by[each.fault] = None
        self.left.pop(each.fault, None)
        return True

    def take_left(self, number: int, each: Any, _: bool) -> bool:
        if each.fault not in self.faults or self.cured_by[each.fault] is not None:
            return False
        self.left[each.fault] = number
        return True

    def take_came_right(self, _: int, each: Any, __: bool) -> bool:
        """Closed by no repair, of which nothing is told but that it is gone."""
        if each.fault not in self.faults:
            return False
        self.faults[each.fault].append(("tried", None, [], [], []))
        self.cured_by[each.fault] = len(self.faults[each.fault]) - 1
        self.left.pop(each.fault, None)
        return True

    def take_licensed_test(self, _: int, each: Any, __: bool) -> bool:
        return self.cured_by.get(each.fault) is not None

    def take_odds(self, _: int, each: Any, __: bool) -> bool:
        causes = self.odds.get(each.fault, {})
        if each.cause not in causes:
            return False
        whole = sum(causes.values())
        for fault, twin in self.folder["twins"].items():
            if fault == each.fault or twin == self.folder["twins"][each.fault] != "":
                self.odds[fault][each.cause] = each.now * sum(self.odds[fault].values()) / whole
        return True

    # what was bought and fitted

    def take_purchase(self, number: int, each: Any, ours: bool) -> bool:
        units = each.packs * each.pack
        self.purchases[number] = {
            "part": each.part, "units": units, "each": each.deposit_minor if ours else 0, "gone_back": 0, "back": 0,
            "quote": each.quote, "pack": each.pack, "currency": each.currency, "untried_back": 0, "refunded": 0,
            "price": each.price_minor + (each.deposit_minor if ours else 0) * each.pack, "row": None, "taken": 0,
        }  # fmt: skip
        self.heaps[f"bought:{number}"] = {
            "part": each.part, "condition": each.condition, "good": each.good_chance, "units": units,
            "origin": self.batch(number, each), "purchase": number, "failed_on": [],
        }  # fmt: skip
        return True

    def batch(self, number: int, each: Any) -> str:
        """Take the packs off their row, and say which purchase of the same quote was the first."""
        says = (each.part, each.supplier, each.condition, each.ref, each.pack)
        alike = [quote for quote, row in self.folder["rows"].items() if row == says]
        asked = [quote for quote in alike if self.price[quote] == each.price_minor]
        left = [quote for quote in asked if self.stock[quote] != 0] or asked
        row = each.quote if each.quote in (left or alike) else next(iter(left or alike), None)
        if row is not None and self.stock[row] is not None:
            self.purchases[number]["row"] = row
            self.purchases[number]["taken"] = min(self.stock[row], each.packs)
            self.stock[row] -= self.purchases[number]["taken"]
        origin = self.batches.setdefault(row or says, f"bought:{number}")
        if row is not None:
            self.row_of.setdefault(origin, row)
        return origin

    def take_fitting(self, number: int, each: Any, _: bool) -> bool:
        used, short = [], False
        for piece in each.pieces:
            if each.cured and piece.then == "kept":
                continue
            taken, missing = self.off_the_shelf(piece, f"fitted:{number}-{len(used) + 1}")
            short = short or missing
            for heap, units in taken:
                used.append((heap, piece))
                if heap["origin"].startswith("fitted:") and piece.quote in self.folder["price"]:
                    self.nobodys.setdefault(heap["origin"], piece.quote)
                if piece.then == "sent-back" and heap["purchase"] in self.purchases:
                    self.purchases[heap["purchase"]]["gone_back"] += units
                if piece.then == "kept":
                    self.heaps[f"kept:{number}-{len(used)}"] = {
                        **heap, "condition": piece.condition, "good": piece.good_chance, "units": units,
                        "failed_on": [*heap["failed_on"], (each.fault, each.repair, heap["origin"])],
                    }  # fmt: skip
        if each.fault not in self.faults:
            return False
        parts = self.folder["repairs"].get((each.fault, each.repair))
        self.faults[each.fault].append(
            (
                "tried",
                each.repair if parts is not None else None,
                [(heap["origin"], piece.good_chance) for heap, piece in used if parts and piece.part in parts],
                [heap["origin"] for heap, _ in used],
                [earlier for heap, _ in used for earlier in heap["failed_on"]],
            )
        )
        self.cured_by[each.fault] = len(self.faults[each.fault]) - 1 if each.cured else None
        if each.cured:
            self.left.pop(each.fault, None)
        return parts is not None and not short

    def off_the_shelf(self, piece: Any, unknown: str) -> tuple[list[tuple[dict[str, Any], int]], bool]:
        """Heaps with the units taken from each; and whether more was taken than there was."""
        fresh = [heap for heap in self.heaps.values() if heap["purchase"] is not None and not heap["failed_on"]]
        if piece.bought is not None or piece.quote.startswith(PLANNED_UNDER):
            first = [self.heaps[piece.quote]] if piece.quote in self.heaps else []
            first += [heap for heap in self.heaps.values() if piece.bought == heap["purchase"] is not None]
        else:
            bought = [number for number, each in self.purchases.items() if each["quote"] == piece.quote != ""]
            first = [heap for number in bought for heap in self.heaps.values() if heap["purchase"] == number]
        first = [heap for heap in first if heap["part"] == piece.part]
        if first and first[0] in fresh:
            alike = ("part", "condition", "good")
            first += [heap for heap in fresh if all(heap[key] == first[0][key] for key in alike)]
        left, taken = piece.units, []
        for heap in first:
            units = min(left, heap["units"])
            heap["units"] -= units
            left -= units
            taken += [(heap, units)] if units else []
        if left:
            nobodys = {"part": piece.part, "origin": unknown, "purchase": piece.bought, "failed_on": []}
            heap = {**first[0], "failed_on": []} if first else nobodys
            taken.append((heap, left))
        said = bool(first) or piece.bought is not None or piece.quote.startswith(PLANNED_UNDER)
        return taken, bool(left) and said

    def take_sent_back(self, _: int, each: Any, __: bool) -> bool:
        purchase = self.purchases.get(each.bought)
        if purchase is None or purchase["part"] != each.part:
            return False
        purchase["gone_back"] += each.units
        left = each.units
        for heap in self.heaps.values():
            if heap["purchase"] == each.bought:
                units = min(left, heap["units"])
                heap["units"] -= units
                left -= units
                purchase["untried_back"] += 0 if heap["failed_on"] else units
        if not left:
            self.sold_again(purchase)
        return not left

    def take_refund(self, _: int, each: Any, __: bool) -> bool:
        purchase = self.purchases.get(each.bought)
        if purchase is not None and purchase["currency"] == each.currency:
            purchase["refunded"] += each.amount_minor
            self.sold_again(purchase)
        return each.bought is None or purchase is not None

    def sold_again(self, purchase: dict[str, Any]) -> None:
        """All whole packs that went back untried, if the money for them is back: the seller has them once more."""
        packs = purchase["untried_back"] // purchase["pack"]
        if purchase["row"] is not None and purchase["refunded"] >= packs * purchase["price"]:
            given = purchase.setdefault("given", 0)
            again = min(packs - given, purchase["taken"])
            purchase["given"] = packs
            purchase["taken"] -= again
            self.stock[purchase["row"]] += again

    def take_deposit_returned(self, _: int, each: Any, __: bool) -> bool:
        if each.bought is not None:
            if each.bought in self.purchases:
                self.purchases[each.bought]["back"] += each.amount_minor
            return each.bought in self.purchases
        left = each.amount_minor
        for number, purchase in self.purchases.items():
            share = min(left, self.due.get(number, 0))
            purchase["back"] += share
            left -= share
        return True

    def take_work_price(self, number: int, each: Any, __: bool) -> bool:
        work = (each.fault, each.repair)
        for earlier, other in self.not_in_the_job.items():
            if (other.fault, other.repair, other.now_minor) == (*work, each.was_minor):
                self.unfit.discard(earlier)
        if self.work.get(work) == each.was_minor:
            self.work[work] = each.now_minor
        fits = self.work.get(work) == each.now_minor
        if not fits:
            self.not_in_the_job[number] = each
        return fits

    def take_price(self, number: int, each: Any, __: bool) -> bool:
        for earlier, other in self.not_in_the_sheets.items():
            if (other.quote, other.now_minor) == (each.quote, each.was_minor):
                self.unfit.discard(earlier)
        if self.price.get(each.quote) == each.was_minor:
            self.price[each.quote] = each.now_minor
        fits = self.price.get(each.quote) == each.now_minor
        if not fits:
            self.not_in_the_sheets[number] = each
        return fits

    # what it comes to

    @property
    def due(self) -> dict[int, int]:
        """Deposits still to come back, by purchase."""
        owed = {
            number: max(0, max(0, p["units"] - p["gone_back"]) * p["each"] - p["back"])
            for number, p in self.purchases.items()
        }
        return {number: minor for number, minor in owed.items() if minor}

    @property
    def on_order(self) -> dict[int, int]:
        """Pieces of each purchase that were never tried and are there."""
        found = {number: self.heaps[f"bought:{number}"]["units"] for number in self.purchases}
        return {number: units for number, units in found.items() if units}

    def lying(self) -> dict[tuple[str, str, str | None], int]:
        """Pieces on the shelf by part, condition, and the fault they were kept from."""
        found: dict[tuple[str, str, str | None], int] = {}
        for heap in self.heaps.values():
            if heap["units"]:
                key = (heap["part"], heap["condition"], heap["failed_on"][-1][0] if heap["failed_on"] else None)
                found[key] = found.get(key, 0) + heap["units"]
        return found

    @property
    def closed(self) -> set[str]:
        return {fault for fault, place in self.cured_by.items() if place is not None}

    def tried_quotes(self) -> dict[str, set[str]]:
        """By open fault the quotes of which a purchase was tried there."""
        found: dict[str, set[str]] = {}
        for fault, events in self.faults.items():
            if self.cured_by[fault] is None:
                origins = {origin for event in events if event[0] == "tried" for origin in event[3]}
                known = self.nobodys | self.row_of
                found[fault] = {known[origin] for origin in origins if origin in known} & set(self.folder["price"])
        return {fault: quotes for fault, quotes in found.items() if quotes}

    def evidence(self) -> dict[str, list[tuple[Any, ...]]]:
        """What was seen on each fault, attempts as (cured or failed, repair, pieces with their chances)."""
        sure = set()
        for fault, place in self.cured_by.items():
            if place is not None:
                sure |= set(self.faults[fault][place][4])
        found: dict[str, list[tuple[Any, ...]]] = {}
        for fault, events in self.faults.items():
            good_of: dict[tuple[str, str], float] = {}
            for place, event in enumerate(events):
                if event[0] != "tried":
                    found.setdefault(fault, []).append(event)
                elif event[1] is not None:
                    pieces = []
                    known_by = self.told_apart(fault, place)
                    if known_by is None:
                        continue
                    for origin, good in known_by:
                        known = good_of.setdefault(
                            (event[1], origin), 1.0 if (fault, event[1], origin) in sure else good
                        )
                        if (origin, known) not in pieces:
                            pieces.append((origin, known))
                    how = "cured" if self.cured_by[fault] == place else "failed"
                    found.setdefault(fault, []).append((how, event[1], tuple(pieces)))
        return found

    def told_apart(self, fault: str, place: int) -> list[tuple[str, float]] | None:
        """The pieces of an attempt; None where it was the very one that cured in the end, only made too early.

        A piece that failed, of a batch of which another cured by the same repair, is no more one with its batch.
        """
        _, repair, fits, *_ = self.faults[fault][place]
        at = self.cured_by[fault]
        if at is None or at == place or self.faults[fault][at][1] != repair:
            return fits
        _, _, cured_with, _, sure = self.faults[fault][at]
        batches = {origin for origin, _ in cured_with}
        same = {origin for origin in batches if (fault, repair, origin) in sure}
        if all(origin in same for origin, _ in fits):
            return None
        return [(origin if origin in same or origin not in batches else f"{origin} (another)", g) for origin, g in fits]
