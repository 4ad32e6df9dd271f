"""What the two DuckDB peers share: reading the book, and pricing what the plans take."""

import csv
import sys


def load(connection, kind, book):
    """Reads the tables, with numbers as DOUBLE or as DECIMAL."""
    count, price = ("DECIMAL(18, 0)", "DECIMAL(18, 6)") if kind == "DECIMAL" else ("DOUBLE", "DOUBLE")
    connection.execute(f"CREATE TABLE plans AS SELECT plan FROM read_csv('{book}/plans.csv', all_varchar = true)")
    connection.execute(
        f"""
        CREATE TABLE items AS SELECT item, CAST(price AS {price}) AS price, CAST(weight AS {price}) AS weight
        FROM read_csv('{book}/items.csv', all_varchar = true)
        """
    )
    connection.execute(
        f"""
        CREATE TABLE bill AS
        SELECT parent, component, CAST(quantity AS {count}) AS quantity, item IS NOT NULL AS is_item
        FROM read_csv('{book}/bill.csv', all_varchar = true) LEFT JOIN items ON item = component
        """
    )


def tell(connection):
    """Prices and weighs table `taken`, rounding once for each plan and item, and prints the sums of each plan."""
    rows = connection.execute(
        """
        SELECT plan,
            CAST(SUM(ROUND(quantity * price, 4)) AS DECIMAL(38, 4)),
            CAST(SUM(ROUND(quantity * weight, 4)) AS DECIMAL(38, 4))
        FROM taken JOIN items USING (item) GROUP BY plan ORDER BY plan
        """
    ).fetchall()
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(["plan", "cost", "weight"])
    writer.writerows(rows)
