"""Expected demand at take rates, as docs/orders.md and docs/book.md describe it: every set of options, weighed."""

from fractions import Fraction

from book import key, percent
from cost import same
from explode import Walk
from measures import exact_text


def own_options(book, plan):
    return [row for row in book.options if key(row.get("plan", "")) in ("", key(plan))]


def brought(rows, names):
    """Returns names with all that they include."""
    by_name = {key(row["option"]): row for row in rows}
    found, left = set(), list(names)
    while left:
        name = left.pop()
        if name not in found:
            found.add(name)
            included = by_name[name].get("includes", "").replace(",", ";").split(";")
            left += [key(other) for other in included if key(other)]
    return found


def outcomes(book, plan):
    """Returns sets of options with their chances. Options that bring others are decided before those."""
    rows = own_options(book, plan)
    decided = [(frozenset(), Fraction(1))]
    choices = {}
    for row in rows:
        choices.setdefault(row.get("choice") or row["option"], []).append(row)
    brings = lambda group: sum(bool(row.get("includes")) for row in group)
    for group in sorted(choices.values(), key=brings, reverse=True):
        decided = list(decide(rows, group, decided))
    return decided


def decide(rows, group, decided):
    """Decides which option of a choice, or whether one option, is taken beside what is decided."""
    rates = {key(row["option"]): percent(row.get("take_rate")) for row in group}
    standard = [key(row["option"]) for row in group if row.get("standard") == "yes"]
    if group[0].get("choice"):
        rest = 1 - sum(rate for rate in rates.values() if rate is not None)
        taken = {name: rate or Fraction(0) for name, rate in rates.items()}
        taken[standard[0]] += rest
        for options, chance in decided:
            for name, rate in taken.items():
                if rate:
                    yield options | brought(rows, [name]), chance * rate
        return
    name, rate = next(iter(rates.items()))
    if rate is None:
        rate = Fraction(1 if standard else 0)
    there = sum(chance for options, chance in decided if name in options)
    rest = max(rate - there, Fraction(0)) / (1 - there) if there < 1 else Fraction(0)
    for options, chance in decided:
        if name in options:
            yield options, chance
            continue
        if rest:
            yield options | brought(rows, [name]), chance * rest
        if rest < 1:
            yield options, chance * (1 - rest)


def same_demand(book, told):
    """Compares what the schedule needs of bulk items, over all weeks; counted items are rounded across the weeks."""
    needed = {}
    for row in book.rows("schedule"):
        plan = next(plan for plan in book.plans if key(plan) == key(row["plan"]))
        for options, chance in outcomes(book, plan):
            for take in Walk(book, plan, day=row["date"], taken=options).takes:
                if take.item.form == "bulk":
                    amount = take.required * chance * int(row["units"])
                    needed[key(take.item.name)] = needed.get(key(take.item.name), 0) + amount
    stock = {key(row["item"]): row for row in told["stock"]}
    for name, amount in needed.items():
        item, row = book.items[name], stock[name]
        unit = item.pack[1] if item.pack and row["unit"] == item.pack[0] else item.unit_factor
        theirs = exact_text(sum((Fraction(figure) for figure in row["needed"]), Fraction(0)))
        same(f"expected demand of {name}", exact_text(amount / unit), theirs)
