"""Writes the tables of a made-up book in one of the forms that docs/book.md allows for the same content."""

import csv
from datetime import date

RENAMED = {
    "bill": {"component": "Part No", "quantity": "Qty Per"},
    "items": {"price": "Std Cost", "form": "Stock Form"},
    "sizes": {"length": "Long Side"},
}


class Writer:
    def __init__(self, random, tables):
        self.random = random
        self.tables = {name: [dict(row) for row in rows] for name, rows in tables.items() if rows}

    def chance(self, percent):
        return self.random.randrange(100) < percent

    def write(self, folder):
        folder.mkdir(parents=True)
        if self.chance(20):
            self.vary_names()
        if self.chance(20):
            self.vary_dates()
        if self.chance(20):
            self.indent()
        if self.chance(15):
            self.rename()
        varies_headers = self.chance(15)
        for name, rows in self.tables.items():
            columns = list(dict.fromkeys(column for row in rows for column in row))
            if self.chance(20):
                self.random.shuffle(columns)
            delimiter = ";" if name in ("prices", "sizes", "rates") and self.chance(12) else ","
            comma = delimiter == ";" and self.chance(50)
            with open(folder / f"{name}.csv", "w", newline="", encoding="utf-8") as opened:
                writer = csv.writer(opened, delimiter=delimiter)
                writer.writerow([self.header(column) if varies_headers else column for column in columns])
                for row in rows:
                    writer.writerow([self.cell(row.get(column, ""), delimiter, comma) for column in columns])

    @staticmethod
    def cell(text, delimiter, comma):
        """Writes numbers of a file parted by semicolons without thousands separators, with a point or a comma."""
        if delimiter == ";" and text[:1].isdigit():
            text = text.replace(",", "")
            return text.replace(".", ",") if comma else text
        return text

    def header(self, column):
        words = column.split("_")
        return self.random.choice(
            [column.upper(), " ".join(word.capitalize() for word in words), "".join(words), "-".join(words), column]
        )

    def vary_names(self):
        for row in self.tables["bill"]:
            for column in ("parent", "component"):
                name = row[column]
                row[column] = self.random.choice([name, name.upper(), name.lower(), f" {name} "])
        for row in self.tables.get("sizes", []) + self.tables.get("prices", []):
            row["item"] = row["item"].lower()

    def vary_dates(self):
        for rows in self.tables.values():
            for row in rows:
                for column in ("effective_from", "effective_to", "from_date", "to_date", "date"):
                    if row.get(column, "").startswith("2027"):
                        row[column] = self.date(date.fromisoformat(row[column]))

    def date(self, day):
        forms = [day.isoformat()]
        if day.day > 12:
            forms += [f"{day.month}/{day.day}/{day.year}", f"{day.day}/{day.month}/{day.year}"]
        if day.weekday() == 0:
            forms.append("{}-W{:02}".format(*day.isocalendar()[:2]))
        return self.random.choice(forms)

    def rename(self):
        """Gives some columns the plant's own headers, told by table `columns`."""
        told = []
        for table, names in RENAMED.items():
            for column, header in names.items():
                if table in self.tables and self.chance(60):
                    told.append({"table": table, "header": header, "column": column})
                    self.tables[table] = [
                        {header if name == column else name: text for name, text in row.items()}
                        for row in self.tables[table]
                    ]
        if told:
            self.tables["columns"] = told

    def indent(self):
        """Writes the bill with levels; an assembly stands below its first use, or by itself."""
        lines = {}
        for row in self.tables["bill"]:
            lines.setdefault(row["parent"].strip().lower(), []).append(row)
        written, rows = set(), []

        def below(parent, level):
            written.add(parent)
            for row in lines[parent]:
                own = {name: text for name, text in row.items() if name != "parent"}
                rows.append({"level": "." * self.random.choice([0, 0, level]) + str(level), **own})
                component = row["component"].strip().lower()
                if component in lines and (component not in written or self.chance(10)) and self.chance(60):
                    below(component, level + 1)

        for parent in lines:
            if parent not in written:
                rows.append({"level": "0", "component": lines[parent][0]["parent"]})
                below(parent, 1)
        self.tables["bill"] = rows
