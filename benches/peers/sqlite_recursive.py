"""SQLite with a recursive query, over an index of the bill: every path from a plan down to an assembly is a row.

    python3 sqlite_recursive.py BOOK

SQLite has no decimals, so prices and weights are doubles. Python's own module is used, with a database in memory.
"""

import csv
import sqlite3
import sys
from pathlib import Path

book = Path(sys.argv[1])
connection = sqlite3.connect(":memory:")
connection.execute("CREATE TABLE plans (plan TEXT)")
connection.execute("CREATE TABLE items (item TEXT PRIMARY KEY, price REAL, weight REAL) WITHOUT ROWID")
connection.execute("CREATE TABLE bill (parent TEXT, component TEXT, quantity INTEGER)")


def load(table, columns):
    with open(book / f"{table}.csv", newline="", encoding="utf-8") as file:
        reader = csv.reader(file)
        header = next(reader)
        places = [header.index(column) for column in columns]
        marks = ", ".join("?" for _ in columns)
        rows = ([row[place] for place in places] for row in reader)
        connection.executemany(f"INSERT INTO {table} VALUES ({marks})", rows)


load("plans", ["plan"])
load("items", ["item", "price", "weight"])
load("bill", ["parent", "component", "quantity"])
connection.execute("CREATE TABLE parts AS SELECT bill.* FROM bill JOIN items ON item = component")
connection.execute("DELETE FROM bill WHERE component IN (SELECT item FROM items)")
connection.execute("CREATE INDEX bill_parent ON bill (parent, component, quantity)")
connection.execute("CREATE INDEX parts_parent ON parts (parent, component, quantity)")
rows = connection.execute(
    """
    WITH RECURSIVE paths (plan, parent, quantity) AS (
        SELECT plan, plan, 1 FROM plans
        UNION ALL
        SELECT plan, component, paths.quantity * bill.quantity FROM paths JOIN bill USING (parent)
    ),
    reached AS (SELECT plan, parent, SUM(quantity) AS quantity FROM paths GROUP BY plan, parent),
    taken AS (
        SELECT plan, component AS item, SUM(reached.quantity * parts.quantity) AS quantity
        FROM reached JOIN parts USING (parent) GROUP BY plan, component
    )
    SELECT plan, SUM(ROUND(quantity * price, 4)), SUM(ROUND(quantity * weight, 4))
    FROM taken JOIN items USING (item) GROUP BY plan ORDER BY plan
    """
)
print("plan,cost,weight")
for plan, cost, weight in rows:
    print(f"{plan},{cost:.4f},{weight:.4f}")
