"""pandas level by level: what each plan takes of each assembly is summed before it goes a level further down.

    python3 pandas_levels.py BOOK
"""

import sys
from pathlib import Path

import pandas as pd

book = Path(sys.argv[1])
plans = pd.read_csv(book / "plans.csv", usecols=["plan"])
items = pd.read_csv(book / "items.csv", usecols=["item", "price", "weight"])
bill = pd.read_csv(book / "bill.csv", dtype={"quantity": "float64"})
is_item = bill["component"].isin(items["item"])
below, parts = bill[~is_item], bill[is_item]


def further(level, lines):
    found = level.merge(lines, on="parent")
    found["times"] *= found["quantity"]
    return found.groupby(["plan", "component"], as_index=False, sort=False)["times"].sum()


level = plans.assign(parent=plans["plan"], times=1.0)
taken = []
while len(level) > 0:
    taken.append(further(level, parts))
    level = further(level, below).rename(columns={"component": "parent"})
amounts = pd.concat(taken).groupby(["plan", "component"], as_index=False, sort=False)["times"].sum()
amounts = amounts.merge(items, left_on="component", right_on="item")
amounts["cost"] = (amounts["times"] * amounts["price"]).round(4)
amounts["weight"] = (amounts["times"] * amounts["weight"]).round(4)
totals = amounts.groupby("plan", as_index=False)[["cost", "weight"]].sum()
print(totals.to_csv(index=False, float_format="%.4f", lineterminator="\n"), end="")
