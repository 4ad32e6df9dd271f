"""Explodes a plan as docs/book.md describes it, walking every path of its bill on its own."""

import math
import re
from collections import defaultdict
from fractions import Fraction

from book import key, percent
from formulas import cell
from measures import AREA, LENGTH, NUMBER


class Take:
    """What one line of the bill takes of an item along one path, for one unit of the plan."""

    def __init__(self, item, use, good, required, size, blank, rides, parent, line):
        self.item, self.use, self.size = item, use, size
        # Numbers of pieces or whole sizes, lengths of runs, or amounts in base units of the item.
        self.good, self.required = good, required
        # The good ones in base units of the item, and less cutouts.
        self.blank, self.rides = blank, rides
        self.loss = required / good
        self.parent, self.line = parent, line


def chosen_options(book, plan, asked):
    """Returns the options taken, in lower case: standard ones, those asked for, and what they include."""
    own = [row for row in book.options if key(row.get("plan", "")) in ("", key(plan))]
    by_name = {key(row["option"]): row for row in own}
    taken, open_names = set(), [key(name) for name in asked if key(name) in by_name]
    while open_names:
        name = open_names.pop()
        if name not in taken:
            taken.add(name)
            included = by_name[name].get("includes", "").replace(",", ";").split(";")
            open_names += [key(other) for other in included if key(other)]
    filled = {by_name[name].get("choice") for name in taken} - {"", None}
    for row in own:
        if not row.get("standard", "") == "yes" or row.get("choice") in filled:
            continue
        taken.add(key(row["option"]))
    return taken


def nanometers(length):
    """Rounds a length that is cut to whole nanometers, ties away from zero."""
    scaled = abs(length) * 25400000
    return Fraction(math.floor(scaled + Fraction(1, 2)), 25400000) * (1 if length >= 0 else -1)


def parted(text):
    """Parts the named values of a cell at each `;` that is not within parentheses."""
    parts, depth = [""], 0
    for letter in text:
        depth += (letter == "(") - (letter == ")")
        if letter == ";" and depth == 0:
            parts.append("")
        else:
            parts[-1] += letter
    return [part for part in parts if part.strip()]


def take_away(taken):
    """Takes lines below zero away from those of the same component, use and size, in the order of the bill."""
    for line, sizes, quantity in taken:
        if quantity[0] >= 0:
            continue
        left = -quantity[0]
        for other in taken:
            is_same = key(other[0]["component"]) == key(line["component"]) and other[0].get("use") == line.get("use")
            if is_same and other[2][0] > 0 and other[2][1] == quantity[1] and alike(other[1], sizes):
                part = min(left, other[2][0])
                other[2] = (other[2][0] - part, other[2][1])
                left -= part
        assert left == 0, line
    taken[:] = [entry for entry in taken if entry[2][0] > 0]


def alike(sizes, others):
    return all(sizes.get(side) == others.get(side) for side in ("length", "width", "height"))


class Parent:
    """What lines belong to: a plan or an assembly, with the values it is taken with as far as it asks for them."""

    def __init__(self, station="", values=()):
        self.station, self.values, self.is_plan = station, values, not values


PASSED = {"length", "width", "height", "cutout"}
COLUMNS = ("quantity", "length", "width", "height", "cutout", "when")


class Walk:
    """The needs of one plan in one configuration."""

    def __init__(self, book, plan, asked=(), unit=None, day=None, taken=None):
        self.book, self.plan, self.unit, self.day = book, plan, unit, day or book.day
        self.options = chosen_options(book, plan, asked) if taken is None else taken
        self.all_options = {key(row["option"]) for row in book.options}
        self.bare = book.settings.get("length_unit", "in")
        self.takes = []
        lines = list(book.lines.get(key(plan), []))
        for row in book.options:
            name = key(row["option"])
            if name in self.options and key(row.get("plan", "")) in ("", key(plan)):
                lines += book.lines.get(name, [])
        lines.sort(key=lambda line: line["number"])
        self.asked_for = {}
        self.descend(lines, {}, {}, Fraction(1), Fraction(1), Parent())

    def scope(self, passed, values, openings):
        dimensions = self.book.plans[self.plan]

        def lookup(name):
            if name in passed:
                return passed[name]
            if name in values:
                return values[name]
            if name == "openings":
                return openings
            if name in self.all_options:
                return name in self.options
            return dimensions[name]

        return lookup

    def descend(self, lines, passed, values, good, required, parent):
        outer = self.scope(passed, values, (Fraction(0), AREA))
        lines = [line for line in lines if self.is_effective(line)]
        lines = [line for line in lines if not line.get("when") or cell(line["when"], outer)]
        total = Fraction(0)
        for line in lines:
            if line.get("use") == "opening":
                sizes = self.sizes(line, outer)
                total += self.area(sizes) * self.quantity(line, outer)[0]
        lookup = self.scope(passed, values, (total, AREA))
        taken = [[line, self.sizes(line, lookup), self.quantity(line, lookup)] for line in lines]
        take_away(taken)
        for line, sizes, quantity in taken:
            if parent.is_plan:
                self.section = line["number"]
            if quantity[0]:
                self.take(line, sizes, quantity, lookup, values, good, required, parent)

    def is_effective(self, line):
        first, last = line.get("effective_from", ""), line.get("effective_to", "")
        for text, is_end in ((first, False), (last, True)):
            if not text:
                continue
            if text.startswith("#"):
                at, limit = self.unit, int(text[1:])
            else:
                at, limit = self.day or None, text
            if at is None:
                # The latest state of a running change holds.
                if is_end:
                    return False
            elif (at > limit) if is_end else (at < limit):
                return False
        return True

    def sizes(self, line, lookup):
        return {
            name: cell(line[name], lookup, self.bare)
            for name in ("length", "width", "height", "cutout")
            if line.get(name)
        }

    @staticmethod
    def area(sizes):
        second = sizes["width"] if "width" in sizes else sizes["height"]
        return sizes["length"][0] * second[0]

    def quantity(self, line, lookup):
        return cell(line["quantity"], lookup) if line.get("quantity") else (Fraction(1), NUMBER)

    def take(self, line, sizes, quantity, lookup, values, good, required, parent):
        scrap = percent(line.get("scrap_percent")) or Fraction(0)
        name = key(line["component"])
        if name in self.book.items:
            item = self.book.items[name]
            if self.book.settings.get("ignore_scrap") == "yes" and item.is_cut:
                scrap = Fraction(0)
            lost = 1 / (1 - scrap) / (1 - item.shrinkage)
            self.take_item(item, line, sizes, quantity, lookup, good, required * lost, parent)
            return
        handed = dict(values)
        for part in parted(line.get("with") or ""):
            named, formula = part.split("=", 1)
            handed[named.strip().lower()] = cell(formula, lookup)
        row = self.book.assemblies.get(name, {})
        count = quantity[0]
        known = {**handed, **sizes}
        asked_for = tuple((each, known[each]) for each in sorted(self.names(name)) if each in known)
        parent = Parent(row.get("station") or "", (name, asked_for))
        # Scrap is of items.
        self.descend(self.book.lines.get(name, []), sizes, handed, good * count, required * count, parent)

    def names(self, assembly):
        """Returns the names that the value of an assembly depends on, beside those of the plan."""
        if assembly not in self.asked_for:
            found = set()
            for line in self.book.lines.get(assembly, []):
                handed = [part.split("=", 1) for part in parted(line.get("with") or "")]
                texts = [line.get(column) or "" for column in COLUMNS] + [formula for _, formula in handed]
                for text in texts:
                    found |= {name.lower() for name in re.findall(r"[A-Za-z_][A-Za-z0-9_.]*", text)}
                below = key(line["component"])
                if below not in self.book.items:
                    found |= self.names(below) - {name.strip().lower() for name, _ in handed} - PASSED
            self.asked_for[assembly] = found
        return self.asked_for[assembly]

    def take_item(self, item, line, sizes, quantity, lookup, good, required, parent):
        use = line.get("use") or ""
        value, dimension = quantity
        cutout = sizes.get("cutout", (Fraction(0), AREA))[0]

        def add(kind, amount, size=(), measured=None, ridden=None):
            if amount:
                measured = amount if measured is None else measured
                ridden = measured if ridden is None else ridden
                blank, rides = good * measured, good * ridden
                self.takes.append(Take(item, kind, good * amount, required * amount, size, blank, rides, parent, line))
                self.takes[-1].section = self.section

        if use == "opening":
            use = ""
        if use == "" and item.is_cut:
            use = "piece" if "length" in sizes else "run" if dimension == LENGTH else "size"
        if use == "piece":
            length = sizes["length"][0]
            length = nanometers(length)
            if item.form == "linear":
                add("piece", value, (length,), value * length)
            else:
                width = nanometers(sizes["width"][0])
                blank = length * width
                add("piece", value, (length, width), value * blank, value * (blank - cutout))
        elif use == "size":
            size = item.sizes[0]
            add("size", value, tuple(side for side in (size.length, size.width) if side), value * size.measure(item))
        elif use == "run":
            length, times = (value, 1) if dimension == LENGTH else (sizes["length"][0], value)
            self.take_run(item, length, times, add)
        elif use == "cover":
            self.take_cover(item, line, sizes, value, cutout, add)
        elif use == "fill":
            openings = lookup("openings")[0]
            area = value * (self.area(sizes) - cutout) - openings
            if item.form == "roll":
                width = min(size.width for size in item.sizes)
                run = nanometers(area / width)
                add("run", run, (), run * width, area)
            else:
                add("amount", self.covered(item, area, AREA))
        elif dimension == NUMBER:
            add("amount", value * item.unit_factor)
        else:
            add("amount", value)

    def take_run(self, item, length, times, add):
        if item.form == "linear":
            length = times * nanometers(length)
            add("run", length, (), length)
        elif item.form == "roll":
            length = times * nanometers(length)
            add("run", length, (), length * min(size.width for size in item.sizes))
        else:
            add("amount", self.covered(item, times * length, LENGTH))

    @staticmethod
    def covered(item, amount, dimension):
        """How much of an item an area or a length takes, in base units."""
        if item.coverage and item.coverage[1] == dimension:
            return amount / item.coverage[0] * item.unit_factor
        assert item.dimension == dimension, item.name
        return amount

    def take_cover(self, item, line, sizes, value, cutout, add):
        if not item.is_cut:
            # The cutout is of one component.
            add("amount", value * self.covered(item, self.area(sizes) - cutout, AREA))
            return
        length = nanometers(sizes["length"][0])
        width = nanometers((sizes["width"] if "width" in sizes else sizes["height"])[0])
        gap = cell(line["gap"], lambda name: None, self.bare)[0] if line.get("gap") else Fraction(0)
        along, across = (width, length) if line["rows"] == "width" else (length, width)
        size, known = item.sizes[0], item.measures
        zero = Fraction(0)
        # Of a sheet all edges are trimmed, unless its long edges lock; of a roll the ends.
        trim = known.get("trim", zero)
        locks = "net_width" in known
        long = size.length - 2 * trim
        wide = size.width if locks or item.form == "roll" else size.width - 2 * trim
        pitch = (known["net_width"] if locks else wide - known.get("overlap", zero)) + gap
        counts = defaultdict(int)
        row = 0
        # Locked edges need their tongue beyond what is covered; an overlap is covered already.
        spare = wide - known["net_width"] if locks else zero
        # What a row laps over the next is covered by it.
        lapped = zero if locks else max(known.get("overlap", zero) - gap, zero)
        while across - row * pitch > (lapped if row else zero):
            broad = min(wide, across - row * pitch + spare) if row or across > pitch else across
            for piece in pieces_of_row(along, long, gap, known.get("stagger", zero) if row % 2 else zero):
                counts[piece, min(broad, wide)] += 1
            row += 1
        total = sum(count * one * other for (one, other), count in counts.items())
        for (one, other), count in counts.items():
            share = value * count * one * other
            add("piece", value * count, (one, other), share, share - value * cutout * count * one * other / total)


def pieces_of_row(along, long, gap, shift):
    """Returns the lengths of the pieces of a row whose joints lie `shift` further along."""
    pieces, at = [], Fraction(0)
    first = shift % (long + gap)
    while at < along:
        piece = min(first or long, along - at)
        pieces.append(piece)
        at += piece + gap
        first = None
    return pieces
