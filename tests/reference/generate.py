"""Makes up sound books, each from its own seed, over what docs/book.md allows."""

from random import Random

from phrases import Phrases
from writer import Writer

STATIONS = ["frame", "walls", "roof", "final"]
GROUPS = ["lumber", "sheet goods", "hardware", "finish", ""]
VENDORS = ["Marsh Lumber", "Osier Panels", "Teal Fasteners", ""]
DAYS = ["2027-01-04", "2027-02-15", "2027-03-01", "2027-03-31", "2027-06-30"]
SHEETS = [("96", "48"), ("8 ft", "4 ft"), ("120", "48"), ("10'", "4'"), ("2440 mm", "1220 mm"), ("60", "60")]
STICKS = ["96", "8'", "12 ft", "144", "10' 6\"", "92-5/8", "3 m", "192"]
ROLLS = [("100 ft", "54"), ("50'", "8'"), ("300", "72"), ("30 m", "1.5 m")]
# Units of bulk items, with others that their prices may have.
BULK = {
    "gal": ["gal", "L", "qt"],
    "lb": ["lb", "cwt", "ton", "kg"],
    "ft": ["ft", "100 ft", "m", "in"],
    "ft2": ["ft2", "MSF", "square", "m2"],
    "L": ["L", "gal"],
    "kg": ["kg", "lb"],
}
PRICE_UNITS = {
    "sheet": ["each", "ft2", "MSF", "square", "m2", "yd2", "M", "dozen"],
    "roll": ["each", "ft2", "MSF", "m2"],
    "linear": ["each", "ft", "100 ft", "m", "C"],
    "count": ["each", "C", "M", "dozen"],
    "labor": ["hour", "min"],
}


class Made:
    """A book with the question asked of it."""

    def __init__(self, seed):
        self.random = Random(seed)
        self.tables = {name: [] for name in ("settings", "plans", "assemblies", "bill", "items", "sizes", "prices")}
        for name in ("options", "burdens", "rates", "schedule"):
            self.tables[name] = []
        self.arguments, self.asked, self.unit = [], [], None
        self.phrases = Phrases(self.random)
        self.make_settings()
        self.make_options()
        self.make_plans()
        self.make_items()
        self.make_bill()
        self.make_prices()
        self.make_burdens()
        self.make_schedule()

    def chance(self, percent):
        return self.random.randrange(100) < percent

    def pick(self, values):
        return self.random.choice(list(values))

    def add(self, table, **cells):
        self.tables[table].append({name: str(text) for name, text in cells.items() if text not in (None, "")})

    def price(self, most=60):
        cents = self.random.randrange(5, most * 100)
        plain, whole = f"{cents / 100:.2f}", str(cents // 100 + 1)
        return self.pick([plain, plain, f"{cents / 100:,.2f}", whole, f"{cents}.{cents % 7}"])

    def make_settings(self):
        settings = {"revision": "made up"}
        self.day = self.pick(DAYS[1:4]) if self.chance(80) else None
        if self.day:
            settings["as_of"] = self.day
        self.currency = self.pick(["USD", "USD", "EUR", "JPY", "CAD"])
        settings["currency"] = self.currency
        choices = {
            "rounding": ["half_even", "half_up"],
            "cost_digits": ["0", "2", "3", "4", "6", "8"],
            "lot": ["1", "2", "3", "5"],
            "length_unit": ["in", "in", "mm", "ft", "cm"],
            "weight_unit": ["lb", "lb", "kg"],
            "roll_charge": ["roll", "length"],
            "offcut_value_percent": ["0", "20", "33.3", "12.5 %"],
            "ignore_scrap": ["yes", "no"],
            "cutting": ["guillotine", "free"],
        }
        for name, values in choices.items():
            if self.chance(45):
                settings[name] = self.pick(values)
        self.bare = settings.get("length_unit", "in")
        for name, value in settings.items():
            self.add("settings", key=name, value=value)
        if self.chance(30):
            self.lot = self.random.randrange(1, 5)
            self.arguments += ["--lot", str(self.lot)]
        else:
            self.lot = int(settings.get("lot", "1"))

    def make_options(self):
        self.options = [f"option_{number}" for number in range(self.random.randrange(0, 5))]
        has_choice = len(self.options) > 1 and self.chance(60)
        for index, name in enumerate(self.options):
            cells = {"option": name, "description": f"Option {index}"}
            if has_choice and index < 2:
                cells["choice"] = "finish"
                cells["standard"] = "yes" if index == 0 else ""
            elif self.chance(30):
                cells["standard"] = "yes"
            elif index > 2 and self.chance(40):
                cells["includes"] = self.options[2]
            if self.chance(50):
                cells["take_rate"] = self.random.randrange(0, 51 if "choice" in cells else 101)
            self.add("options", **cells)
        for name in self.options[1:]:
            if self.chance(35):
                self.asked.append(name)
                self.arguments += ["--option", name]

    def make_plans(self):
        self.plans = [f"Plan {letter}" for letter in "ABC"[: self.random.randrange(1, 4)]]
        for plan in self.plans:
            self.add(
                "plans",
                plan=plan,
                description="made up",
                length=self.pick(["18'", "24 ft", "20' 6\"", "6 m", "240 in", "22'-6 1/2\""]),
                width=self.pick(["7' 6\"", "8'", "2.4 m", "96 in"]),
                wall_height=self.pick(["6' 6 in", "78-1/2 in", "2 m", "6.5 ft"]),
                windows=self.random.randrange(1, 6),
                depth=self.pick(["32 in", "0.8 m", "2' 8\""]),
                series=self.pick(["meadow", "estuary"]),
            )
        self.names = {"number": ["windows"], "length": ["length", "width", "wall_height", "depth"], "truth": self.options}

    def make_items(self):
        self.items = []
        forms = ["sheet", "roll", "linear", "count", "count", "bulk", "bulk", "labor"]
        for index in range(self.random.randrange(4, 11)):
            form = self.pick(forms)
            item = {"item": f"{form.upper()}-{index}", "description": f"Item {index}", "form": form}
            item["group"], item["vendor"] = self.pick(GROUPS), self.pick(VENDORS)
            getattr(self, f"make_{form}")(item)
            if form != "labor" and self.chance(30):
                item["shrinkage_percent"] = self.pick(["2", "4.5", "10 %", "12.5"])
            if form != "labor" and self.chance(15):
                item["rides_percent"] = self.pick(["0", "40", "62.5"])
            self.items.append(item)
            self.add("items", **item)

    def priced(self, item, sizes=1):
        """Gives the row a price, unless its sizes or `prices` give it."""
        units = PRICE_UNITS.get(item["form"]) or BULK[item["unit"]]
        if item.get("pack"):
            units = units + [item["pack"].split("/")[1]]
        if item.get("nominal"):
            units = units + ["BF", "MBF"]
        if self.chance(8):
            return
        item["price"] = self.price()
        if sizes > 1 or self.chance(80):
            item["price_unit"] = self.pick(units)

    def make_sizes(self, item, sizes):
        count = 1 if self.chance(60) else 2
        chosen = self.random.sample(sizes, count)
        if count == 2 and self.same(chosen):
            chosen = chosen[:1]
        rows = len(chosen)
        for size in chosen:
            length, width = size if isinstance(size, tuple) else (size, "")
            row = {"item": item["item"], "length": self.in_inches(length), "width": self.in_inches(width)}
            if self.chance(30):
                units = PRICE_UNITS[item["form"]] + (["ft", "m"] if item["form"] == "roll" else [])
                row["price"], row["price_unit"] = self.price(90), self.pick(units)
            self.add("sizes", **row)
            if "price" in row and self.chance(25):
                self.add("sizes", **dict(row, price=self.price(90), vendor="Tarn Metals"))
                rows += 1
        self.priced(item, rows)
        item["size_count"] = rows

    @staticmethod
    def same(chosen):
        same = [{"96", "8 ft", "8'"}, {"120", "10'"}, {"144", "12 ft"}]
        lengths = {size[0] if isinstance(size, tuple) else size for size in chosen}
        return any(lengths <= alike for alike in same)

    def in_inches(self, text):
        """Gives a bare length its unit where the book's is another one."""
        is_bare = text and text.replace("-", "").replace("/", "").isdigit()
        return f"{text} in" if is_bare and self.bare != "in" else text

    def make_sheet(self, item):
        item["pack"] = "50/bunk" if self.chance(30) else ""
        self.make_sizes(item, SHEETS)
        self.weigh(item, ["lb/ft2", "kg/m2", "lb", "lb/each" if item["size_count"] == 1 else "lb"], "1/2")
        item["grain"] = self.pick(["", "none", "length", "length"])
        item["kerf"] = self.pick(["", "1/8 in", "3 mm"])
        item["trim"] = self.pick(["", "", "1/4 in"])
        item["offcut_min"] = self.pick(["", "6 in", "12 in"])
        self.make_rows(item)
        self.finish_cut(item)

    def make_roll(self, item):
        self.make_sizes(item, ROLLS)
        self.weigh(item, ["lb/ft2", "kg/m2"], "0.06 in")
        item["kerf"] = self.pick(["", "", "1/8 in"])
        item["offcut_min"] = self.pick(["", "24 in"])
        self.make_rows(item)
        self.finish_cut(item)

    def make_rows(self, item):
        if self.chance(20):
            item["overlap"] = self.pick(["2 in", "40 mm"])
        elif item["form"] == "sheet" and self.chance(15):
            item["net_width"] = "45 in"
        if self.chance(20):
            item["stagger"] = self.pick(["24 in", "48 in"])

    def make_linear(self, item):
        item["nominal"] = self.pick(["", "2x3", "2x4", "1x2", "2x2"])
        self.make_sizes(item, STICKS)
        self.weigh(item, ["lb/ft", "kg/m", "lb"], None)
        item["kerf"] = self.pick(["", "1/8 in", "3 mm"])
        item["offcut_min"] = self.pick(["", "8 in"])
        self.finish_cut(item)

    def finish_cut(self, item):
        item.pop("size_count")
        if self.chance(8):
            item["yield_percent"] = self.pick(["80", "92.5"])

    def make_count(self, item):
        item["pack"] = self.pick(["", "", "5000/box", "12/carton"])
        if self.chance(20):
            item["coverage"] = self.pick(["32 ft2", "1.5 m2", "8 ft"])
        self.priced(item)
        if self.chance(85):
            item["weight"], item["weight_unit"] = self.price(30), self.pick(["", "lb", "kg", "lb/M", "lb/dozen"])

    def make_bulk(self, item):
        item["unit"] = self.pick(BULK)
        if self.chance(40):
            item["pack"] = f"{self.pick([5, 50, 500])} {item['unit']}/{self.pick(['reel', 'pail'])}"
        if item["unit"] in ("gal", "L", "lb") and self.chance(50):
            item["coverage"] = self.pick(["60 ft2", "5.5 m2", "30 ft"])
        self.priced(item)
        if self.chance(25) and item["unit"] in ("gal", "L"):
            item["density"] = self.pick(["62 lb/ft3", "0.9 g/cm3"])
        elif self.chance(85):
            item["weight"] = self.price(4)
            item["weight_unit"] = self.pick(["", "lb", "kg", f"lb/{item['unit']}"])

    def make_labor(self, item):
        item["unit"] = self.pick(["", "", "min"])
        item["price"], item["price_unit"] = self.price(), self.pick(["", "hour", "min"])

    def weigh(self, item, units, thickness):
        kind = self.random.randrange(10)
        if thickness and kind < 3:
            item["density"], item["thickness"] = self.pick(["34 lb/ft3", "2.72 g/cm3", "600 kg/m3"]), thickness
            if self.bare != "in" and not thickness.endswith("in"):
                item["thickness"] += " in"
        elif item.get("nominal") and kind < 5:
            if self.chance(50):
                item["specific_gravity"], item["moisture_percent"] = "0.42", self.pick(["12", "19 %"])
            else:
                item["dry_gravity"], item["moisture_percent"] = "0.5", self.pick(["12", "15.5"])
        elif kind < 9:
            item["weight"], item["weight_unit"] = self.price(3), self.pick(units)

    def make_bill(self):
        self.assemblies = [f"assembly_{number}" for number in range(self.random.randrange(1, 7))]
        for index, name in enumerate(self.assemblies):
            if self.chance(60):
                self.add("assemblies", assembly=name, description="made up", station=self.pick(STATIONS))
            for _ in range(self.random.randrange(1, 5)):
                self.make_line(name, self.assemblies[index + 1 :], False)
            if self.chance(20):
                self.make_wall(name, self.names)
        for plan in self.plans:
            for _ in range(self.random.randrange(2, 7)):
                self.make_line(plan, self.assemblies, True)
            self.make_line(plan, [], True)
        for option in self.options:
            for _ in range(self.random.randrange(1, 3)):
                self.make_line(option, self.assemblies[2:], True)
            if self.chance(25):
                self.make_taking_away(option)
        # An assembly that nothing uses would tell nothing, and nobody would pass it what its lines name.
        used = {line["component"] for line in self.tables["bill"]}
        for name in self.assemblies:
            if name not in used:
                self.make_line(self.pick(self.plans), [name], True, True)
        self.random.shuffle(self.tables["assemblies"])

    def make_wall(self, parent, named):
        """Openings with an area, and what fills the rest of the wall."""
        fills = [item for item in self.items if self.fills(item)]
        counts = [item for item in self.items if item["form"] == "count"]
        # The openings may be larger than other areas to be filled here.
        has_others = any(row["parent"] == parent and row.get("use") == "fill" for row in self.tables["bill"])
        if not fills or has_others:
            return
        for _ in range(self.random.randrange(0, 3)):
            if counts:
                side = self.pick(["width", "height"])
                sizes = {"length": f"{self.random.randrange(8, 20)} in", side: f"{self.random.randrange(200, 400)} mm"}
                item = self.pick(counts)["item"]
                self.add("bill", parent=parent, component=item, quantity=1, use="opening", **sizes)
        line = {"parent": parent, "component": self.pick(fills)["item"], "use": "fill"}
        line["length"], line[self.pick(["width", "height"])] = f"MAX({self.pick(named['length'])}; 12 ft)", "8' 1\""
        if self.chance(40):
            line["quantity"] = self.random.randrange(1, 4)
        if self.chance(30):
            line["cutout"] = "1.5 ft2"
        if self.chance(20):
            line["scrap_percent"] = "4"
        self.add("bill", **line)

    @staticmethod
    def fills(item):
        is_of_area = item.get("coverage", "").endswith("2") or item.get("unit") == "ft2"
        return item["form"] == "roll" or (item["form"] in ("bulk", "count") and is_of_area)

    def make_taking_away(self, option):
        """A line of an option that takes away from a line of every plan."""
        counted = [item for item in self.items if item["form"] in ("count", "linear", "sheet")]
        if not counted:
            return
        item = self.pick(counted)
        line = {"component": item["item"]}
        if item["form"] == "linear":
            line["length"] = "31-1/4 in"
        elif item["form"] == "sheet":
            line["length"], line["width"] = "21 in", "14-1/2 in"
        for plan in self.plans:
            self.add("bill", parent=plan, quantity=self.random.randrange(3, 9), **line)
        self.add("bill", parent=option, quantity=-self.random.randrange(1, 4), **line)

    def make_line(self, parent, below, is_top, is_plain=False):
        line = {"parent": parent}
        named = {kind: list(names) for kind, names in self.names.items()}
        if not is_top:
            # What the lines that use this assembly pass down.
            named["number"] += ["doors"]
            named["length"] += ["spacing", "height"]
        phrases = self.phrases
        if below and (is_plain or self.chance(45)):
            self.make_assembly_line(line, below, named)
        else:
            self.make_item_line(line, self.pick(self.items), named)
        if is_plain:
            self.add("bill", **line)
            return
        if self.chance(15):
            line["when"] = phrases.condition(named)
        if self.chance(20) and "quantity" in line:
            line["scrap_percent"] = self.pick(["5", "12.5", "3", "20 %"])
        self.make_effective(line)
        self.add("bill", **line)

    def make_effective(self, line):
        """Sometimes the line is one of a running change: it begins or ends on a day or with a unit."""
        if not self.chance(12):
            return
        if self.chance(60):
            line[self.pick(["effective_from", "effective_to"])] = self.pick(DAYS)
        else:
            line[self.pick(["effective_from", "effective_to"])] = f"#{self.random.randrange(400, 420)}"
            if self.unit is None and self.chance(60):
                self.unit = self.random.randrange(400, 420)
                self.arguments += ["--unit", str(self.unit)]

    def make_assembly_line(self, line, below, named):
        phrases = self.phrases
        line["component"] = self.pick(below)
        line["quantity"] = phrases.small_number(named)
        for side in ("length", "width"):
            if self.chance(50):
                line[side] = phrases.length(named, self.bare)
        line["height"] = phrases.length(named, self.bare)
        line["with"] = f"doors = {phrases.small_number(named)}; spacing = {phrases.length(named, None)}"

    def make_item_line(self, line, item, named):
        phrases, form = self.phrases, item["form"]
        line["component"] = item["item"]
        sizes = [row for row in self.tables["sizes"] if row["item"] == item["item"]]
        if form in ("sheet", "roll"):
            kind = self.random.randrange(10)
            if kind < 2 and len(sizes) == 1:
                self.make_cover(line, item)
            elif kind < 7:
                line["quantity"] = phrases.small_number(named)
                line["length"], line["width"] = phrases.piece(named, self.bare, 36), phrases.piece(named, self.bare, 36)
                line["use"] = self.pick(["", "piece"])
                if self.chance(20):
                    line["cutout"] = self.pick(["12 in2", "0.1 ft2", "=4 in * 2 in"])
            elif kind < 9 and len(sizes) == 1:
                line["quantity"] = phrases.small_number(named)
            elif form == "roll":
                self.make_run(line, named)
            else:
                line["length"], line["width"] = phrases.piece(named, self.bare, 36), phrases.piece(named, self.bare, 36)
        elif form == "linear":
            if self.chance(70):
                line["quantity"] = phrases.small_number(named)
                line["length"] = phrases.piece(named, self.bare, 80)
            elif self.chance(70) or len(sizes) != 1:
                self.make_run(line, named)
            else:
                line["quantity"] = phrases.small_number(named)
        elif form == "labor":
            times = ["45 min", "1 hr 30 min", "0.75 hour", "=12 min * windows"]
            line["quantity"] = self.pick([phrases.small_number(named)] + times)
        elif item.get("coverage") and self.chance(70):
            self.make_covered(line, item, named)
        elif form == "bulk" and item["unit"] in ("ft", "ft2") and self.chance(50):
            if item["unit"] == "ft":
                self.run(line, named)
            else:
                line["use"] = "fill"
                line["length"], line["width"] = phrases.length(named, self.bare), phrases.length(named, self.bare)
        elif form == "bulk" and self.chance(40):
            units = BULK[item["unit"]]
            line["quantity"] = f"{self.random.randrange(1, 40)} {self.pick(units[:1] + units[2:3])}"
        else:
            line["quantity"] = phrases.number(named)

    def make_cover(self, line, item):
        line["use"], line["rows"] = "cover", self.pick(["length", "width"])
        line["length"], line["width"] = f"{self.random.randrange(30, 250)} in", f"{self.random.randrange(1000, 5000)} mm"
        if self.chance(30):
            line["quantity"] = "2"
        if not item.get("stagger") and self.chance(40):
            line["gap"] = self.pick(["1/2 in", "6 mm"])
        if self.chance(20):
            line["cutout"] = "1 ft2"

    def make_run(self, line, named):
        if self.chance(50):
            self.run(line, named)
        else:
            line["quantity"] = self.phrases.piece(named, None, 400)

    def run(self, line, named):
        line["use"], line["quantity"] = "run", self.phrases.small_number(named)
        line["length"] = self.phrases.length(named, self.bare)

    def make_covered(self, line, item, named):
        if item["coverage"].endswith("2"):
            line["use"] = self.pick(["cover", "fill"])
            line["length"], line["width"] = self.phrases.length(named, self.bare), self.phrases.length(named, self.bare)
            if self.chance(30):
                line["cutout"] = self.pick(["10 in2", "0.1 ft2"] if item["form"] == "sheet" else ["2 in2", "0.01 ft2"])
            if line["use"] == "cover":
                line["quantity"] = self.phrases.small_number(named)
        else:
            self.run(line, named)

    def make_prices(self):
        foreign = self.pick([code for code in ("USD", "CAD", "EUR") if code != self.currency])
        if self.chance(60):
            for day in self.random.sample(DAYS, 2):
                self.add("rates", currency=foreign, date=day, rate=f"{self.random.randrange(600, 1500) / 1000}")
        for item in self.items:
            if item["form"] == "labor" or not self.chance(45):
                continue
            sizes = [row for row in self.tables["sizes"] if row["item"] == item["item"]]
            for _ in range(self.random.randrange(1, 5)):
                row = {"item": item["item"], "vendor": self.pick(VENDORS)}
                if sizes and self.chance(60):
                    size = self.pick(sizes)
                    row["length"], row["width"] = size["length"], size.get("width", "")
                if self.chance(70):
                    row["from_date"] = self.pick(DAYS)
                if self.chance(30):
                    row["to_date"] = max(self.pick(DAYS), row.get("from_date", ""))
                if self.chance(15):
                    row["from_quantity"] = "20"
                if self.tables["rates"] and self.chance(25):
                    row["currency"] = foreign
                units = PRICE_UNITS.get(item["form"]) or BULK[item["unit"]]
                row["price"], row["price_unit"] = self.price(), self.pick(units)
                self.add("prices", **row)

    def make_burdens(self):
        labor = [item["item"] for item in self.items if item["form"] == "labor"]
        stations = sorted({row["station"] for row in self.tables["assemblies"]})
        groups = sorted({item["group"] for item in self.items if item["group"]})
        names = []
        for order in range(self.random.randrange(0, 6)):
            name = f"burden {order}"
            basis = self.pick(["labor_money", "labor_hours", "material", "weight", "area", "unit", "lot"] + names)
            row = {"burden": name, "order": order + 1, "basis": basis}
            if basis in ("labor_money", "material") or basis in names:
                row["percent"] = self.pick(["3.5", "28.5 %", "12", "0.33"])
                if self.chance(20):
                    row["amount"] = row.pop("percent") and self.price(20)
            else:
                row["amount"] = self.price(20)
            if basis in ("labor_money", "labor_hours", "material", "weight") and stations and self.chance(20):
                row["applies_to"] = self.pick(stations)
            elif basis == "material" and groups and self.chance(40):
                row["applies_to"] = self.pick(groups)
            elif basis in ("labor_money", "labor_hours") and labor and self.chance(30):
                row["applies_to"] = self.pick(labor)
            elif basis in ("unit", "lot", "area") and self.chance(30):
                row["applies_to"] = self.pick(self.plans)
            if self.chance(50):
                row["from_date"] = DAYS[0]
                if self.chance(40):
                    self.add("burdens", **dict(row, from_date=self.pick(DAYS[1:])))
            self.add("burdens", **row)
            names.append(name)

    def make_schedule(self):
        """Builds whose options are not known, due on the day of the book."""
        self.is_scheduled = self.day is not None and self.chance(30)
        if self.is_scheduled:
            for plan in self.plans:
                self.add("schedule", plan=plan, date=self.day, units=self.random.randrange(1, 9))

    def write(self, folder):
        """Writes the tables that hold something, with the columns that are used."""
        Writer(self.random, self.tables).write(folder)
