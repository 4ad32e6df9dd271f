"""DuckDB level by level: a table of what each plan takes of each assembly, summed before it goes a level further down.

    python3 duckdb_levels.py DOUBLE|DECIMAL BOOK
"""

import sys

import duckdb

from duckdb_book import load, tell

connection = duckdb.connect()
load(connection, sys.argv[1], sys.argv[2])
count = "DECIMAL(18, 0)" if sys.argv[1] == "DECIMAL" else "DOUBLE"
connection.execute(f"CREATE TABLE level AS SELECT plan, plan AS parent, CAST(1 AS {count}) AS quantity FROM plans")
connection.execute(f"CREATE TABLE parts (plan VARCHAR, item VARCHAR, quantity {count})")
while connection.execute("SELECT count(*) FROM level").fetchone()[0] > 0:
    connection.execute(
        f"""
        CREATE TABLE below AS
        SELECT plan, component, is_item, CAST(SUM(level.quantity * bill.quantity) AS {count}) AS quantity
        FROM level JOIN bill USING (parent) GROUP BY ALL
        """
    )
    connection.execute("INSERT INTO parts SELECT plan, component, quantity FROM below WHERE is_item")
    connection.execute(
        "CREATE OR REPLACE TABLE level AS SELECT plan, component AS parent, quantity FROM below WHERE NOT is_item"
    )
    connection.execute("DROP TABLE below")
connection.execute("CREATE TABLE taken AS SELECT plan, item, SUM(quantity) AS quantity FROM parts GROUP BY ALL")
tell(connection)
