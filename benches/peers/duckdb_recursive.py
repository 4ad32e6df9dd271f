"""DuckDB with a recursive query: every path from a plan down to an assembly is a row; items are summed at the end.

    python3 duckdb_recursive.py DOUBLE|DECIMAL BOOK
"""

import sys

import duckdb

from duckdb_book import load, tell

connection = duckdb.connect()
load(connection, sys.argv[1], sys.argv[2])
count = "DECIMAL(18, 0)" if sys.argv[1] == "DECIMAL" else "DOUBLE"
connection.execute(
    f"""
    CREATE TABLE taken AS
    WITH RECURSIVE paths AS (
        SELECT plan, plan AS parent, CAST(1 AS {count}) AS quantity FROM plans
        UNION ALL
        SELECT paths.plan, bill.component, CAST(paths.quantity * bill.quantity AS {count})
        FROM paths JOIN bill USING (parent) WHERE NOT bill.is_item
    ),
    reached AS (SELECT plan, parent, SUM(quantity) AS quantity FROM paths GROUP BY ALL)
    SELECT plan, component AS item, SUM(reached.quantity * bill.quantity) AS quantity
    FROM reached JOIN bill USING (parent) WHERE bill.is_item GROUP BY ALL
    """
)
tell(connection)
