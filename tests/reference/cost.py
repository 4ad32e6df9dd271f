"""Prices and weighs what a plan takes, as docs/rounding.md describes it.

Which sizes were opened is taken from the tool's nest, after a check that every piece is placed; what they cost is not.
"""

import math
from collections import defaultdict
from fractions import Fraction

from book import key, percent, plain
from measures import LENGTH, NUMBER, WEIGHT, digits_text, exact_text, measure, rounded, unit


class Difference(Exception):
    """A figure of the tool that is not the reference's."""


def same(what, ours, theirs):
    if ours != theirs:
        raise Difference(f"{what}: the reference says {ours!r}, the tool {theirs!r}")


def shown_length(figure):
    """Returns a length of JSON output in inches."""
    return Fraction(figure["value"]) * unit(figure["unit"])[0]


def sizes_of(figure):
    return tuple(shown_length(figure[side]) for side in ("length", "width") if figure.get(side))


def item_measure(item, name, otherwise):
    return item.measures.get(name, Fraction(otherwise))


class Need:
    """What one plan needs of one item, summed by kind and size, for one unit."""

    def __init__(self, item):
        self.item = item
        self.good, self.required = defaultdict(Fraction), defaultdict(Fraction)
        self.takes = []

    def lines(self):
        """Returns good and required as `explode --flat` states them, by unit and size."""
        lines = {}
        for use, size in self.good:
            scale = Fraction(1)
            name = {"piece": "piece", "size": "size", "run": "ft"}.get(use, self.item.unit)
            if use == "run":
                scale = Fraction(1, 12)
            elif use == "amount":
                scale = 1 / self.item.unit_factor
            figures = (self.good[use, size] * scale, self.required[use, size] * scale)
            if figures != (0, 0):
                lines[name, size] = tuple(exact_text(figure) for figure in figures)
        return lines


def needs(walk):
    """Returns the needs of a plan by item name."""
    found = {}
    for take in walk.takes:
        need = found.setdefault(key(take.item.name), Need(take.item))
        need.good[take.use, take.size] += take.good
        need.required[take.use, take.size] += take.required
        need.takes.append(take)
    return found


class Prices:
    """Which row gives a price on the book's day."""

    def __init__(self, book):
        self.book = book
        self.rates = defaultdict(list)
        for row in book.rows("rates"):
            self.rates[row["currency"]].append((row["date"], plain(row["rate"])))

    def rate(self, currency):
        """Returns the book's currency for one of this, at the latest rate not after the day; None without one."""
        if currency in ("", self.book.settings.get("currency", "USD")):
            return Fraction(1)
        day = self.book.day
        known = [rate for rate in sorted(self.rates[currency]) if not day or rate[0] <= day]
        return known[-1][1] if known else None

    def of(self, item, size):
        """Returns money for one whole size, or for one base unit of an item without sizes; None where nothing says."""
        found, past = [], []
        for index, row in enumerate(self.book.rows("prices")):
            if key(row["item"]) != key(item.name) or (plain(row.get("from_quantity")) or 0) > 1:
                continue
            bare = self.book.settings.get("length_unit", "in")
            sides = tuple(measure(row[side], bare)[0] for side in ("length", "width") if row.get(side))
            if sides and (size is None or sides != tuple(side for side in (size.length, size.width) if side)[: len(sides)]):
                continue
            rate = self.rate(row.get("currency", ""))
            if rate is None:
                continue
            money = plain(row["price"]) * rate * self.factor(item, size, row.get("price_unit", ""))
            start, end = row.get("from_date", ""), row.get("to_date", "")
            day = self.book.day
            rank = (key(row.get("vendor", "")) != key(item.vendor), not sides)
            if day and start > day:
                continue
            if day and end and end < day:
                past.append(((tuple(-ord(c) for c in end),) + rank, money))
                continue
            later = tuple(-ord(letter) for letter in start.ljust(10, "0"))
            found.append((rank + (later, money, index), money))
        if found:
            return min(found)[1]
        if size is not None and size.price is not None:
            return size.price * self.factor(item, size, size.price_unit)
        if item.price is not None:
            return item.price * self.factor(item, size, item.price_unit)
        return min(past)[1] if past else None

    def factor(self, item, size, name):
        """Returns how many price units one whole size, or one base unit, is."""
        if not name:
            name = "each" if item.is_cut or item.form == "count" else item.unit
        if item.pack and name == item.pack[0]:
            holds, counts_sizes = item.pack[1], item.pack[2]
            return 1 / holds if counts_sizes or size is None else size.measure(item) / holds
        if name in ("BF", "MBF") and item.is_cut:
            sides = item.nominal
            return sides[0] * sides[1] * size.length / 144 / (1 if name == "BF" else 1000)
        factor, dimension = unit(name)
        whole = Fraction(1) if size is None else size.measure(item)
        if item.is_cut and dimension == NUMBER:
            return 1 / factor
        if dimension == item.dimension:
            return whole / factor
        if dimension == WEIGHT:
            return whole * item.weight / factor
        if item.form == "roll" and dimension == LENGTH:
            return size.length / factor
        raise AssertionError((item.name, name))


class Costs:
    """The amounts of one plan for a lot."""

    def __init__(self, book, walk, lot, told):
        self.book, self.walk, self.lot = book, walk, lot
        self.prices = Prices(book)
        self.items = {}
        told_items = {key(item["item"]): item for item in told["items"]}
        found = needs(walk)
        same("items", sorted(found), sorted(told_items))
        for name, need in found.items():
            try:
                self.items[name] = self.item(need, told_items[name])
            except Difference as difference:
                raise Difference(f"{walk.plan}, {name}, {difference}") from None
        self.burdens = self.lay_burdens()

    def money(self, value):
        return rounded(value, self.book.digits, self.book.half_even)

    def weight(self, value):
        factor = unit(self.book.settings.get("weight_unit", "lb"))[0]
        return rounded(value / factor, 4, self.book.half_even)

    def item(self, need, told):
        item, lot = need.item, self.lot
        quantity = sum((take.blank for take in need.takes), Fraction(0)) * lot
        rides = sum((take.rides for take in need.takes), Fraction(0)) * lot * item.rides
        if item.is_cut:
            cost, bought, credit, priced = self.cut(need, told)
        else:
            required = need.required["amount", ()] * lot
            bought = Fraction(math.ceil(required)) if item.form == "count" else required
            price = self.prices.of(item, None)
            cost, credit, priced = bought * (price or 0), Fraction(0), price is not None
        variance = Fraction(0)
        share = quantity / bought if bought else Fraction(1)
        if item.fixed_yield and item.is_cut:
            by_yield = self.by_yield(need)
            variance, cost = cost - by_yield, by_yield
        weight = item.weight or Fraction(0)
        figures = {
            "quantity": digits_text(rounded(quantity / item.unit_factor, 4, self.book.half_even), 4),
            "unit": item.unit,
            "cost": digits_text(self.money(cost), self.book.digits),
            "is_unpriced": not priced,
            "weight": digits_text(self.weight(rides * weight), 4),
            "purchased_weight": digits_text(self.weight(bought * weight), 4),
            "credit": digits_text(self.money(credit), self.book.digits),
            "yield_variance": digits_text(self.money(variance), self.book.digits),
            "yield_percent": exact_text(Fraction(rounded(share * 100, 8, True), 10**8)),
        }
        for name, figure in figures.items():
            same(name, figure, told[name])
        return {
            "item": item,
            "need": need,
            "cost": self.money(cost),
            "weight": self.weight(rides * weight),
            "purchased": self.weight(bought * weight),
            "quantity": quantity,
            "yield": item.fixed_yield if item.fixed_yield and item.is_cut else share,
        }

    def cut(self, need, told):
        """Returns what the opened sizes cost, their measure, the credit for offcuts, and whether all had a price."""
        item = need.item
        nest = told.get("nest")
        self.conserve(need, nest)
        opened, taken, offcuts = defaultdict(int), defaultdict(Fraction), defaultdict(Fraction)
        for layout in nest["layouts"] if nest else []:
            size = sizes_of(layout)
            opened[size] += layout["repeat"]
            taken[size] += layout["repeat"] * shown_length(layout["taken"])
            for rest in layout["offcuts"]:
                area = shown_length(rest["length"]) * (1 if item.form == "linear" else shown_length(rest["width"]))
                offcuts[size] += layout["repeat"] * area
        for (use, sides), required in need.required.items():
            if use == "size":
                opened[sides] += math.ceil(required * self.lot)
                taken[sides] += math.ceil(required * self.lot) * sides[0]
        counts = {}
        for bought in told["purchases"]:
            counts[sizes_of(bought)] = counts.get(sizes_of(bought), Fraction(0)) + Fraction(bought["count"])
        same("opened sizes", {s: Fraction(c) for s, c in opened.items()}, counts)
        cost = measured = credit = Fraction(0)
        priced = True
        for sides, count in opened.items():
            # Of the same size from several vendors the cheapest is bought.
            alike = [s for s in item.sizes if tuple(side for side in (s.length, s.width) if side) == sides]
            size, price = min(
                ((size, self.prices.of(item, size)) for size in alike),
                key=lambda pair: (pair[1] is None, pair[1] or 0),
            )
            priced &= price is not None
            by_length = item.form == "roll" and self.book.settings.get("roll_charge") == "length"
            share = taken[sides] / sides[0] if by_length else Fraction(count)
            cost += (price or 0) * share
            measured += size.measure(item) * share
            # What is left of a roll that is charged by length was not paid for.
            value = Fraction(0) if by_length else percent(self.book.settings.get("offcut_value_percent")) or Fraction(0)
            credit += (price or 0) * value * offcuts[sides] / size.measure(item)
        return cost - credit, measured, credit, priced

    def by_yield(self, need):
        """Returns the cost of what is required at the fixed yield, at the least price per measure of the sizes."""
        item = need.item
        rates = [(self.prices.of(item, size), size.measure(item)) for size in item.sizes]
        rate = min((price / measured for price, measured in rates if price is not None), default=Fraction(0))
        required = sum((take.blank * take.loss for take in need.takes), Fraction(0)) * self.lot
        return required * rate / item.fixed_yield

    def conserve(self, need, nest):
        """Checks that the layouts hold every piece and the whole run."""
        is_cut = any(required for (use, _), required in need.required.items() if use != "size")
        same("whether there is a nest", is_cut, nest is not None)
        if nest is None:
            return
        same("unplaced", 0, nest["unplaced"])
        placed, spliced = defaultdict(int), Fraction(0)
        for layout in nest["layouts"]:
            for piece in layout["pieces"]:
                placed[sizes_of(piece)] += layout["repeat"]
            spliced += layout["repeat"] * sum((shown_length(s["length"]) for s in layout["splices"]), Fraction(0))
        wanted = {
            size: math.ceil(required * self.lot)
            for (use, size), required in need.required.items()
            if use == "piece" and required
        }
        same("placed pieces", wanted, dict(placed))
        run = need.required["run", ()] * self.lot
        # Splices have a least length, so there may be more of them than the run.
        shortest = item_measure(need.item, "offcut_min", 12)
        if not run <= spliced < run + shortest + (run > 0):
            raise Difference(f"run: the reference says {run}, splices come to {spliced}")
        if Fraction(nest["cost"]) < Fraction(nest["bound"]):
            raise Difference(f"bound {nest['bound']} above the cost {nest['cost']}")

    def lay_burdens(self):
        """Lays the burdens on in their order; each is rounded once."""
        rows = {}
        for row in self.book.rows("burdens"):
            start = row.get("from_date", "")
            if self.book.day and start > self.book.day:
                continue
            name = key(row["burden"]), key(row.get("applies_to", ""))
            others = {key(plan) for plan in self.book.plans} - {key(self.walk.plan)}
            if key(row.get("applies_to", "")) in others:
                continue
            if name not in rows or start > rows[name].get("from_date", ""):
                rows[name] = row
        unit_money = 10**self.book.digits
        laid, totals = {}, {}
        total = sum(figures["cost"] for figures in self.items.values())
        order = {key(row["burden"]): plain(row["order"]) for row in self.book.rows("burdens")}
        for (name, _), row in sorted(rows.items(), key=lambda pair: plain(pair[1]["order"])):
            # A burden that is not laid on here adds nothing: the running total up to it is that before it.
            for other, place in order.items():
                if place < plain(row["order"]) and other not in {name for name, _ in rows}:
                    totals.setdefault(other, total)
            share, amount = percent(row.get("percent")), plain(row.get("amount"))
            base = self.base(row, totals)
            if share is not None:
                value = Fraction(base) / unit_money * share
            elif row["basis"] in ("labor_money", "material") or key(row["basis"]) in totals:
                value = amount * self.lot
            else:
                value = base * amount
            laid[row["burden"]] = self.money(value)
            total += laid[row["burden"]]
            totals[name] = total
        return laid

    def base(self, row, totals):
        """Returns what a burden is laid on, for the lot: money in units of its last place, hours, pounds or a number."""
        basis, limit = row["basis"], key(row.get("applies_to", ""))

        def sum_of(name, is_chosen=lambda item: True):
            items = [figures for figures in self.items.values() if is_chosen(figures["item"])]
            return sum((figures[name] * self.part(figures, limit, basis) for figures in items), Fraction(0))

        if basis == "labor_money":
            return sum_of("cost", lambda item: item.form == "labor")
        if basis == "labor_hours":
            return sum_of("quantity", lambda item: item.form == "labor") / 60
        if basis == "material":
            return sum_of("cost", lambda item: item.form != "labor")
        if basis == "weight":
            return sum_of("weight") / 10**4
        if basis == "area":
            dimensions = self.book.plans[self.walk.plan]
            return dimensions["length"][0] * dimensions["width"][0] / 144 * self.lot
        if basis == "unit":
            return self.lot
        if basis == "lot":
            return 1
        return totals[key(basis)]

    def part(self, figures, limit, basis):
        """Returns which part of an item a burden limited to a name is for."""
        item = figures["item"]
        if limit in ("", key(self.walk.plan)):
            return 1
        if limit not in {key(row.get("station", "")) for row in self.book.rows("assemblies")}:
            return 1 if limit in (key(item.group), key(item.name)) else 0
        measures = [(take.parent.station, take.rides if basis == "weight" else take.blank) for take in figures["need"].takes]
        whole = sum(measured for _, measured in measures)
        here = sum(measured for station, measured in measures if key(station) == limit)
        return here / whole if whole else 0
