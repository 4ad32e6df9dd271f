"""Cost sheets, as docs/pricing.md describes them: every line rounded to the currency's smallest unit on its own."""

from fractions import Fraction

from cost import same
from measures import digits_text, rounded
from shares import joined, share

SMALLEST = {"JPY": 0}


class Sheet:
    """What the lines of one plan's cost sheet come to, for the lot and for one unit."""

    def __init__(self, costs):
        self.costs, self.book = costs, costs.book
        self.places = SMALLEST.get(self.book.settings.get("currency", "USD"), 2)
        self.lines, self.labor = {}, {}
        for figures in costs.items.values():
            item, cost = figures["item"], self.money(figures["cost"])
            if item.form == "labor":
                self.add_labor(figures)
            else:
                part = figures["yield"]
                self.add(("group", item.group), cost * part)
                self.add(("waste", ""), cost * (1 - part))
        for name, cost in costs.burdens.items():
            self.add(("burden", name), self.money(cost))

    def money(self, amount):
        return Fraction(amount, 10**self.book.digits)

    def add(self, line, money):
        self.lines[line] = self.lines.get(line, Fraction(0)) + money

    def add_labor(self, figures):
        """Adds the ledger's shares of labor by station: the least and the most, as ties go by the order of the bill."""
        lines = joined(figures["need"].takes)
        for line, (least, most) in zip(lines, share(figures["cost"], [line.blank for line in lines])):
            known = self.labor.setdefault(("labor", figures["item"].name, line.station), [Fraction(0), Fraction(0)])
            known[0] += self.money(least)
            known[1] += self.money(most)

    def figures(self, money):
        """Returns money of the lot as the sheet states it, for the lot and for one unit."""
        return [rounded(part, self.places, self.book.half_even) for part in (money, money / self.costs.lot)]


def same_sheet(costs, told):
    """Compares the cost sheet of a plan, line by line."""
    sheet = Sheet(costs)
    plan = costs.walk.plan
    ours = {line: sheet.figures(money) for line, money in sheet.lines.items() if money or line[0] != "waste"}
    theirs, sums = {}, [0, 0]
    for section in told["sections"]:
        for line in section["lines"]:
            name = (line["kind"], line["name"]) + ((line["labor"]["station"],) if line["kind"] == "labor" else ())
            theirs[name] = [line["lot"], line["unit"]]
    for line, (least, most) in sheet.labor.items():
        # Which of these the ledger holds shows in the sheet itself.
        step = sheet.money(1)
        choices = [sheet.figures(least + step * index) for index in range(int((most - least) / step) + 1)]
        held = [figures for figures in choices if [digits_text(part, sheet.places) for part in figures] == theirs.get(line)]
        ours[line] = (held or choices)[0]
    for line in sorted(set(ours) | set(theirs)):
        shown = [digits_text(figure, sheet.places) for figure in ours[line]] if line in ours else None
        same(f"{plan}, sheet, {line}", shown, theirs.get(line))
        sums = [sum(pair) for pair in zip(sums, ours[line])]
    labor = sum(figures["cost"] for figures in costs.items.values() if figures["item"].form == "labor")
    total = sum(sheet.lines.values()) + sheet.money(labor)
    factory = sheet.figures(total)
    for index, name in enumerate(("lot", "unit")):
        same(f"{plan}, factory cost", digits_text(factory[index], sheet.places), told["factory_cost"][name])
        same(f"{plan}, rounding", digits_text(factory[index] - sums[index], sheet.places), told["rounding"][name])
    same(f"{plan}, ledger", digits_text(int(total * 10**costs.book.digits), costs.book.digits), told["ledger"])
