"""Holds the sums that engines make of a group's ledgers against those of cutbill.

    python3 check.py CUTBILL

Three plants are written as datasets: two of the samples, and a made-up one in another currency and unit whose plans have
names that no folder can have. Each engine answers group.sql; all must say the same, and what each plan, group and year
comes to must be what cutbill says, digit by digit.
"""

import csv
import io
import subprocess
import sys
import tempfile
from decimal import Decimal
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
ENGINES = ["datafusion", "duckdb", "polars"]
ODD_PLANS = ["24/7 = \"100%\"", "007", "2027-03-01", "Größe 1.", "a:b*c?<d>|e\\f", "null"]
# Lots of each plan that were built, counted up from plan to plan.
FIRST_LOTS = 3


def odd_book(folder):
    """Makes the book up."""
    folder.mkdir()
    tables = {
        "plans": [["plan"], *([plan] for plan in ODD_PLANS)],
        "bill": [["parent", "component", "quantity"], *([plan, "BOLT", 7 + i] for i, plan in enumerate(ODD_PLANS))],
        "items": [["item", "form", "price", "weight", "group"], ["BOLT", "count", "0.12345", "0.0567 kg", "bolts"]],
        "settings": [["key", "value"], ["currency", "EUR"], ["weight_unit", "kg"], ["as_of", "2027-03-01"]],
    }
    for name, rows in tables.items():
        with open(folder / f"{name}.csv", "w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(rows)


def output(command):
    """Runs a program, which must succeed, and returns what it prints."""
    done = subprocess.run([str(word) for word in command], capture_output=True, text=True, encoding="utf-8")
    if done.returncode != 0:
        raise SystemExit(f"{command} ends with {done.returncode}:\n{done.stderr}")
    return done.stdout


def rows(text):
    """Returns rows of CSV, with columns by their first word: cost, not `cost USD`."""
    found = csv.reader(io.StringIO(text))
    names = [name.split(" ")[0] for name in next(found)]
    return [dict(zip(names, row)) for row in found]


def answers(text):
    """Returns the rows of each question."""
    parts = [part.split("\n", 1) for part in text.split("-- ")[1:]]
    return {name: rows(table) for name, table in parts}


def same(what, expected, found):
    if expected != found:
        raise SystemExit(f"{what}: cutbill has\n{expected}\nand the engine\n{found}")


def check(cutbill, folder):
    odd_book(folder / "odd")
    books = {"Fen & Mark": ROOT / "samples/fenmark", "Odd": folder / "odd", "Starter": ROOT / "samples/starter"}
    by_plan, by_group, built, lots = [], {}, [], FIRST_LOTS
    (folder / "group").mkdir()
    with open(folder / "built.csv", "w", newline="", encoding="utf-8") as file:
        year = csv.writer(file)
        year.writerow(["plant", "plan", "day", "lots"])
        for plant, book in books.items():
            question = [cutbill, "rollup", book, "--lot", "1", "--effort", "1"]
            output([*question, "--dataset", folder / "group" / f"plant={plant}"])
            currency, unit = ("EUR", "kg") if plant == "Odd" else ("USD", "lb")
            cost = weight = Decimal(0)
            for row in rows(output([*question, "--by", "plan", "--format", "csv"])):
                by_plan.append((plant, row["plan"], currency, unit, row["cost"], row["weight"]))
                year.writerow([plant, row["plan"], "2027-01-04", lots])
                year.writerow([plant, row["plan"], "2027-06-07", 2 * lots])
                cost += 3 * lots * Decimal(row["cost"])
                weight += 3 * lots * Decimal(row["weight"])
                lots += 1
            built.append((plant, currency, unit, str(cost), str(weight)))
            for row in rows(output([*question, "--by", "kind,group", "--format", "csv"])):
                # CSV has a dash where there is nothing.
                key = (currency, row["kind"], row["group"].removeprefix("-"))
                by_group[key] = by_group.get(key, 0) + Decimal(row["cost"])
    printed = {engine: output([sys.executable, ROOT / "docs/recipes/group.py", engine, folder]) for engine in ENGINES}
    for engine, text in printed.items():
        same(f"{engine} beside {ENGINES[0]}", printed[ENGINES[0]], text)
        found = answers(text)

        def values(question, *names):
            return [tuple(row[name] for name in names) for row in found[question]]

        names = ["book_currency", "book_weight_unit", "cost", "weight"]
        kinds = [("EUR", "1", "1"), ("USD", "1", "2")]
        same(f"{engine}: kinds", kinds, values("kinds", "book_currency", "book_lot", "plants"))
        same(f"{engine}: plans", sorted(by_plan), sorted(values("plans", "plant", "plan", *names)))
        same(f"{engine}: built", built, values("built", "plant", *names))
        expected = sorted((*key, str(cost)) for key, cost in by_group.items())
        same(f"{engine}: groups", expected, sorted(values("groups", "book_currency", "kind", "group", "cost")))
        items = sum(Decimal(row["cost"]) for row in found["items"])
        same(f"{engine}: items", sum(Decimal(row[3]) for row in built), items)
    amounts = sum(int(row["amounts"]) for row in found["kinds"])
    print(f"{', '.join(ENGINES)}: {amounts:,} amounts of {len(by_plan)} plans sum to what cutbill says, to the last digit")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        check(Path(sys.argv[1]).resolve(), Path(scratch))
