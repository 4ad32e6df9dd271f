"""Reads the tables of a book as docs/book.md describes them: a folder of CSV files, all cells texts."""

import csv
import re
from datetime import date
from fractions import Fraction
from pathlib import Path

from measures import AREA, LENGTH, NUMBER, TIME, VOLUME, WEIGHT, UNITS, measure, plus, unit

DEFAULT_UNITS = {"sheet": "ft2", "roll": "ft2", "linear": "ft", "count": "each", "labor": "hour"}
# What whole size, weight and price of an item are reckoned by.
DIMENSIONS = {"sheet": AREA, "roll": AREA, "linear": LENGTH, "count": NUMBER, "labor": TIME}
# Dressed sides of softwood lumber, by the nominal side.
DRESSED = {1: "3/4", 2: "1 1/2", 3: "2 1/2", 4: "3 1/2", 6: "5 1/2", 8: "7 1/4"}
WATER = 1000 * UNITS["kg"][0] / UNITS["m3"][0]


DATES = {"effective_from", "effective_to", "from_date", "to_date", "date"}
# Names of more than one word, by what is left of a header.
COLUMNS = {
    squeezed_name.replace("_", ""): squeezed_name
    for squeezed_name in (
        "effective_from effective_to from_date to_date price_unit weight_unit rides_percent dry_gravity scrap_percent "
        "specific_gravity moisture_percent net_width offcut_min yield_percent shrinkage_percent from_quantity take_rate "
        "applies_to wall_height"
    ).split()
}


def key(name):
    """Names are matched without regard to case and surrounding spaces."""
    return name.strip().lower()


def plain(text):
    """A number with thousands separators and currency signs; None if empty."""
    text = re.sub(r"[,$€£¥\s]", "", text or "")
    if not text:
        return None
    if "/" in text:
        return Fraction(text)
    return Fraction(text)


def percent(text):
    value = plain((text or "").replace("%", ""))
    return None if value is None else value / 100


def flag(text):
    return (text or "").strip().lower() in ("yes", "true", "x", "1")


def squeezed(header):
    return re.sub(r"[\s_-]", "", header.lower())


def read(file):
    """Reads a table: parted by commas or semicolons, headers without regard to case, spaces, `_` and `-`."""
    with open(file, newline="", encoding="utf-8") as opened:
        text = opened.read()
    delimiter = ";" if ";" in text.split("\n", 1)[0] else ","
    rows = [row for row in csv.reader(text.splitlines(), delimiter=delimiter)]
    has_comma = delimiter == ";" and any(re.match(r"\d+,\d", cell) for row in rows for cell in row)
    headers = [COLUMNS.get(squeezed(header), squeezed(header)) for header in rows[0]]
    if has_comma:
        rows = [[cell.replace(",", ".") if cell[:1].isdigit() else cell for cell in row] for row in rows]
    return [dict(zip(headers, row)) for row in rows[1:]]


def iso(text):
    """Writes a date as `2027-03-15`, or returns what is none."""
    week = re.fullmatch(r"(\d{4})-W(\d\d)", text)
    if week:
        return date.fromisocalendar(int(week.group(1)), int(week.group(2)), 1).isoformat()
    parts = re.fullmatch(r"(\d+)/(\d+)/(\d{4})", text)
    if parts:
        first, second, year = (int(part) for part in parts.groups())
        month, day = (second, first) if first > 12 else (first, second)
        return date(year, month, day).isoformat()
    return text


class Item:
    """A row of `items` with its sizes."""

    def __init__(self, row, settings):
        self.name, self.row, self.form = row["item"].strip(), row, row["form"]
        self.unit = row.get("unit") or DEFAULT_UNITS.get(self.form)
        self.unit_factor, self.dimension = unit(self.unit)
        self.is_cut = self.form in ("sheet", "roll", "linear")
        self.vendor, self.group = row.get("vendor", ""), row.get("group", "")
        self.price, self.price_unit = plain(row.get("price")), row.get("price_unit", "")
        self.shrinkage = percent(row.get("shrinkage_percent")) or Fraction(0)
        rides = percent(row.get("rides_percent"))
        self.rides = Fraction(1) if rides is None else rides
        self.fixed_yield = percent(row.get("yield_percent"))
        self.sizes = []
        length_unit = settings.get("length_unit", "in")
        self.measures = {
            name: (measure(row[name], length_unit) or (None,))[0]
            for name in ("net_width", "overlap", "kerf", "trim", "stagger", "thickness", "repeat", "offcut_min")
            if row.get(name)
        }
        self.grain = row.get("grain") or "none"
        self.coverage = measure(row["coverage"], None) if row.get("coverage") else None
        self.nominal = [int(side) for side in row["nominal"].split("x")] if row.get("nominal") else None
        self.pack = self.read_pack(row.get("pack") or "")
        self.weight = None
        self.settings = settings

    def read_pack(self, text):
        """Returns the pack's name and what it holds, in base units of the item, or in whole sizes where it is cut."""
        if not text:
            return None
        amount, name = text.rsplit("/", 1)
        value, dimension = measure(amount, None)
        if dimension == NUMBER and not self.is_cut:
            value *= self.unit_factor
        return name, value, self.is_cut and dimension == NUMBER

    def weigh(self):
        """Finds the weight of one base unit (square inch, inch, each, ...) in pounds; None where the row does not say."""
        row = self.row
        if row.get("weight"):
            self.weight = self.per_base(row["weight"], row.get("weight_unit") or self.settings.get("weight_unit", "lb"))
        elif self.density() is not None:
            density = self.density()
            if self.form in ("sheet", "roll"):
                self.weight = density * self.measures["thickness"]
            elif self.form == "linear":
                self.weight = density * self.section()
            else:
                self.weight = density
        elif self.dimension == WEIGHT:
            self.weight = Fraction(1)

    def per_base(self, text, bare):
        value = plain(text)
        factor, dimension = unit(bare.split("/")[0])
        assert dimension == WEIGHT
        if "/" not in bare:
            return value * factor / self.unit_factor
        below = bare.split("/", 1)[1]
        if self.is_cut and below == "each":
            return value * factor / self.sizes[0].measure(self)
        if self.pack and below == self.pack[0]:
            return value * factor / self.pack[1]
        per, dimension = unit(below)
        assert dimension == self.dimension, (self.name, bare)
        return value * factor / per

    def density(self):
        row = self.row
        if row.get("density"):
            value, per = row["density"].rsplit(" ", 1)
            factor, dimension = unit(per)
            assert dimension == plus(WEIGHT, VOLUME, -1)
            return plain(value) * factor
        moisture = percent(row.get("moisture_percent"))
        moisture = Fraction(12, 100) if moisture is None else moisture
        if row.get("specific_gravity"):
            return WATER * plain(row["specific_gravity"]) * (1 + moisture)
        if row.get("dry_gravity"):
            gravity = plain(row["dry_gravity"])
            return WATER * gravity * (1 + moisture) / (1 + Fraction(9, 10) * gravity * moisture)
        return None

    def section(self):
        if self.row.get("section"):
            return measure(self.row["section"])[0]
        sides = [measure(DRESSED[side])[0] for side in self.nominal]
        return sides[0] * sides[1]


class Size:
    """A row of `sizes`."""

    def __init__(self, row, settings):
        bare = settings.get("length_unit", "in")
        self.length = measure(row["length"], bare)[0] if row.get("length") else None
        self.width = measure(row["width"], bare)[0] if row.get("width") else None
        self.price, self.price_unit, self.vendor = plain(row.get("price")), row.get("price_unit", ""), row.get("vendor", "")

    def measure(self, item):
        return self.length if item.form == "linear" else self.length * self.width


class Book:
    """All tables of a folder, names resolved."""

    def __init__(self, folder):
        self.tables = {file.stem.lower(): read(file) for file in sorted(Path(folder).glob("*.csv"))}
        for row in self.tables.pop("columns", []):
            for other in self.tables[row["table"]]:
                other[row["column"]] = other.pop(squeezed(row["header"]))
        for rows in self.tables.values():
            for row in rows:
                for column in DATES & set(row):
                    row[column] = iso(row[column])
        self.settings = {row["key"]: row["value"] for row in self.rows("settings") if row["value"]}
        self.day = self.settings.get("as_of", "")
        self.items, self.plans = {}, {}
        for row in self.rows("items"):
            self.items[key(row["item"])] = Item(row, self.settings)
        for row in self.rows("sizes"):
            self.items[key(row["item"])].sizes.append(Size(row, self.settings))
        for item in self.items.values():
            item.weigh()
        for row in self.rows("plans"):
            self.plans[row["plan"].strip()] = self.dimensions(row)
        self.lines = {}
        for number, row in enumerate(self.bill()):
            row["number"] = number
            self.lines.setdefault(key(row["parent"]), []).append(row)
        self.options = self.rows("options")
        self.assemblies = {key(row["assembly"]): row for row in self.rows("assemblies")}
        self.half_even = self.settings.get("rounding", "half_even") == "half_even"
        self.digits = int(self.settings.get("cost_digits", "4"))

    def bill(self):
        """Returns the lines of the bill, each with its parent; of an assembly that is indented again only the first."""
        rows = self.rows("bill")
        if not rows or "level" not in rows[0]:
            return rows
        lines, above, known = [], [], set()
        for row in rows:
            level = int(row["level"].lstrip("."))
            del above[level:]
            if level:
                parent, is_first = above[-1]
                if is_first:
                    lines.append(dict(row, parent=parent))
            name = key(row["component"])
            above.append((name, name not in known))
            # Known once a line stands below it.
            known |= {parent for parent, _ in above[:-1]}
        return lines

    def rows(self, name):
        return self.tables.get(name, [])

    def dimensions(self, row):
        """Every other column of `plans` that reads as a measure is a named dimension; lengths among the known ones are
        in the book's unit."""
        known = ("length", "width", "wall_height", "tongue")
        bare = self.settings.get("length_unit", "in")
        found = {}
        for name, text in row.items():
            if name in ("plan", "description") or not text:
                continue
            value = measure(text, bare if name in known else None)
            if value is not None:
                found[name] = value
        return found
