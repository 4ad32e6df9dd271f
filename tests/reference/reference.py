"""An independent reference for what cutbill computes, written from docs/ alone. Standard library, Python 3.9 or later.

`run.py` makes books up and compares every figure of the tool with it.
"""

from fractions import Fraction

from book import Book
from cost import Costs, Difference, needs, same, sizes_of
from explode import Walk
from measures import digits_text, exact_text
from shares import joined, share
from sheet import same_sheet


def compare(folder, options, lot, told_needs, told_nest, told_rollup, told_stations, told_sheets, unit=None):
    """Compares the documents of the tool with the book in a folder; raises Difference at the first figure."""
    book = Book(folder)
    lot = lot or int(book.settings.get("lot", "1"))
    groups, stations = {}, {}
    told = [document["builds"] for document in (told_needs, told_nest, told_rollup, told_stations)]
    told.append(told_sheets["plans"])
    for builds in told:
        same("plans", list(book.plans), [build["plan"] for build in builds])
    for needed, nested, rolled, _, priced in zip(*told):
        walk = Walk(book, needed["plan"], options, unit)
        same(f"{walk.plan}, options", sorted(walk.options), sorted(name.lower() for name in needed["options"]))
        same_needs(walk, needed)
        costs = Costs(book, walk, lot, nested)
        same_totals(costs, rolled)
        same_sheet(costs, priced)
        add_groups(groups, costs)
        add_stations(stations, costs)
    same_groups(groups, told_rollup["grouping"], book.digits)
    same_stations(stations, told_stations["grouping"], book.digits)


def same_needs(walk, told):
    figures = {}
    for need in told["needs"]:
        place = (need["item"].lower(), need["unit"], sizes_of(need))
        # Pieces of one size that differ in grain or edges stand apart.
        known = figures.get(place, ("0", "0"))
        amounts = (need["good"], need["required"])
        figures[place] = tuple(exact_text(Fraction(a) + Fraction(b)) if a != "0" else b for a, b in zip(known, amounts))
    ours = {}
    for name, need in needs(walk).items():
        for (unit, size), amounts in need.lines().items():
            ours[name, unit, size] = amounts
    for place in sorted(set(ours) | set(figures), key=str):
        same(f"{walk.plan}, need {place}", ours.get(place), figures.get(place))


def add_groups(groups, costs):
    """Adds the rounded amounts of a plan to those of its groups; burdens have none."""
    for item in costs.items.values():
        add_group(groups, (costs.walk.plan, item["item"].group), item["cost"], item["weight"], item["purchased"])
    for cost in costs.burdens.values():
        add_group(groups, (costs.walk.plan, ""), cost, 0, 0)


def add_stations(stations, costs):
    """Adds the shares of the bill lines of a plan to the stations that build their assemblies: the least and the most
    they may be, as ties go by the order of the bill."""
    for item in costs.items.values():
        lines = joined(item["need"].takes)
        blanks, rides = [line.blank for line in lines], [line.rides for line in lines]
        shared = zip(lines, share(item["cost"], blanks), share(item["weight"], rides), share(item["purchased"], blanks))
        for line, *amounts in shared:
            place = (costs.walk.plan, line.station, item["item"].name)
            known = stations.setdefault(place, [[0, 0], [0, 0], [0, 0]])
            for sums, (least, most) in zip(known, amounts):
                sums[0], sums[1] = sums[0] + least, sums[1] + most
    for name, cost in costs.burdens.items():
        stations[costs.walk.plan, "", name] = [[cost, cost], [0, 0], [0, 0]]


def same_stations(stations, told, digits):
    theirs = {tuple(group["values"]): group for group in told["groups"]}
    same("stations", sorted(stations), sorted(theirs))
    for place, amounts in stations.items():
        group = theirs[place]
        for name, (least, most), places in zip(("cost", "weight", "purchased_weight"), amounts, (digits, 4, 4)):
            if not least <= Fraction(group[name]) * 10**places <= most:
                raise Difference(f"{place}: {name} from {least} to {most} in the last place, the tool {group[name]}")


def add_group(groups, place, *amounts):
    groups[place] = tuple(a + b for a, b in zip(groups.get(place, (0, 0, 0)), amounts))


def same_groups(groups, told, digits):
    ours = {
        place: (digits_text(cost, digits), digits_text(weight, 4), digits_text(purchased, 4))
        for place, (cost, weight, purchased) in groups.items()
    }
    theirs = {tuple(g["values"]): (g["cost"], g["weight"], g["purchased_weight"]) for g in told["groups"]}
    for place in sorted(set(ours) | set(theirs)):
        same(f"group {place}", ours.get(place), theirs.get(place))


def same_totals(costs, told):
    digits = costs.book.digits
    ours = {name: digits_text(cost, digits) for name, cost in costs.burdens.items()}
    same(f"{costs.walk.plan}, burdens", ours, {burden["burden"]: burden["cost"] for burden in told["burdens"]})
    total = sum(item["cost"] for item in costs.items.values()) + sum(costs.burdens.values())
    same(f"{costs.walk.plan}, cost", digits_text(total, digits), told["cost"])
    weight = sum(item["weight"] for item in costs.items.values())
    same(f"{costs.walk.plan}, weight", digits_text(weight, 4), told["weight"])
