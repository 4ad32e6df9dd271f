"""Asks the questions of group.sql of one engine, and prints each answer as CSV below a line with its name.

    python3 group.py datafusion|duckdb|polars FOLDER [NAME]

FOLDER holds `group/plant=NAME/plan=NAME/part-0.parquet` and `built.csv`; NAME is one question, all of them without it.
DataFusion and DuckDB spill to disk what does not fit, polars streams.
"""

import csv
import os
import re
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent


def statements(file):
    """Returns the statements of a file of SQL, without comments, and their names where they have any."""
    found = []
    for text in (HERE / file).read_text(encoding="utf-8").split(";\n"):
        name = re.search(r"^-- name: (\w+)$", text, re.MULTILINE)
        lines = [line for line in text.splitlines() if line.strip() and not line.startswith("--")]
        if lines:
            found.append((name and name[1], "\n".join(lines)))
    return found


def datafusion():
    from datafusion import SessionContext

    context = SessionContext()
    for _, statement in statements("ledgers-datafusion.sql"):
        context.sql(statement)

    def ask(query):
        answer = context.sql(query)
        names = answer.schema().names
        rows = [row for batch in answer.collect() for row in zip(*(column.to_pylist() for column in batch.columns))]
        return names, rows

    return ask


def duckdb():
    import duckdb

    connection = duckdb.connect()
    for _, statement in statements("ledgers-duckdb.sql"):
        connection.execute(statement)

    def ask(query):
        answer = connection.execute(query)
        return [column[0] for column in answer.description], answer.fetchall()

    return ask


def polars():
    import polars

    text = polars.String
    # Columns of their own that only some plants have are left out; no question is about them.
    ledgers = polars.scan_parquet(
        "group", hive_schema={"plant": text, "plan": text}, extra_columns="ignore", missing_columns="insert"
    )
    built = polars.scan_csv(
        "built.csv", schema={"plant": text, "plan": text, "day": polars.Date, "lots": polars.Int64}
    )
    context = polars.SQLContext(ledgers=ledgers, built=built)

    def ask(query):
        answer = context.execute(query).collect(engine="streaming")
        return answer.columns, answer.rows()

    return ask


def main():
    engine, folder, *names = sys.argv[1:]
    os.chdir(folder)
    ask = {"datafusion": datafusion, "duckdb": duckdb, "polars": polars}[engine]()
    writer = csv.writer(sys.stdout, lineterminator="\n")
    for name, query in statements("group.sql"):
        if not names or name in names:
            columns, rows = ask(query)
            print(f"-- {name}")
            writer.writerow(columns)
            writer.writerows(rows)


if __name__ == "__main__":
    main()
