"""polars level by level: what each plan takes of each assembly is summed before it goes a level further down.

    python3 polars_levels.py BOOK
"""

import sys
from pathlib import Path

import polars as pl

book = Path(sys.argv[1])
plans = pl.scan_csv(book / "plans.csv").select("plan").collect()
items = pl.scan_csv(book / "items.csv").select("item", "price", "weight").collect()
bill = pl.read_csv(book / "bill.csv", schema={"parent": pl.String, "component": pl.String, "quantity": pl.Float64})
is_item = bill["component"].is_in(items["item"].implode())
below, parts = bill.filter(~is_item).lazy(), bill.filter(is_item).lazy()

level = plans.select("plan", parent=pl.col("plan"), times=pl.lit(1.0))
taken = []
while level.height > 0:
    times = (pl.col("times") * pl.col("quantity")).sum()
    taken.append(level.lazy().join(parts, on="parent").group_by("plan", item="component").agg(times=times).collect())
    level = level.lazy().join(below, on="parent").group_by("plan", parent="component").agg(times=times).collect()
amounts = (
    pl.concat(taken)
    .lazy()
    .group_by("plan", "item")
    .agg(pl.col("times").sum())
    .join(items.lazy(), on="item")
    .select(
        "plan",
        cost=(pl.col("times") * pl.col("price")).round(4),
        weight=(pl.col("times") * pl.col("weight")).round(4),
    )
    .group_by("plan")
    .agg(pl.col("cost").sum(), pl.col("weight").sum())
    .sort("plan")
    .collect()
)
print(amounts.write_csv(float_precision=4), end="")
