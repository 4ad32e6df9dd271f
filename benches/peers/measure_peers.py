"""Runs cutbill and its peers over books, each in a process of its own, and prints a table in Markdown.

    python3 measure_peers.py CUTBILL [--runs 5] [--skip NAME].. BOOK..

The wall is what a user waits, from the start of the process to its end; processor time is summed over all cores and says
more where a machine is busy. Both are medians of the runs. Memory is the most that the process held, as the system counts
it (`ru_maxrss`). Totals are held against those of cutbill: exact peers must give
the same texts, peers in doubles may be off in the last digits, and the table says for how many plans they are.
"""

import argparse
import csv
import io
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from decimal import Decimal
from pathlib import Path

HERE = Path(__file__).resolve().parent
# So many rows are read; a book of 10 million lines is within it.
LIMIT = ["--limit", "rows=100000000"]
# A peer in doubles that is off by more than this share has not computed the same thing. Where plans take every item, the
# halves that doubles round to the wrong digit come to a share of 1.2e-9.
TOLERANCE = Decimal("1e-8")

# Name, script, arguments, whether its totals are exact.
PEERS = [
    ("DuckDB, level by level, DOUBLE", "duckdb_levels.py", ["DOUBLE"], False),
    ("DuckDB, level by level, DECIMAL", "duckdb_levels.py", ["DECIMAL"], True),
    ("DuckDB, recursive, DOUBLE", "duckdb_recursive.py", ["DOUBLE"], False),
    ("DuckDB, recursive, DECIMAL", "duckdb_recursive.py", ["DECIMAL"], True),
    ("SQLite, recursive, REAL", "sqlite_recursive.py", [], False),
    ("polars, level by level, Float64", "polars_levels.py", [], False),
    ("pandas, level by level, float64", "pandas_levels.py", [], False),
]


class Run:
    """One process: what it printed, its wall and processor time in seconds, its peak memory in bytes."""

    def __init__(self, command):
        with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
            start = time.perf_counter()
            child = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=out, stderr=err)
            _, status, used = os.wait4(child.pid, 0)
            self.wall = time.perf_counter() - start
            child.returncode = os.waitstatus_to_exitcode(status)
            self.processor = used.ru_utime + used.ru_stime
            self.memory = used.ru_maxrss * (1 if sys.platform == "darwin" else 1024)
            for file in (out, err):
                file.seek(0)
            self.text = out.read().decode()
            if child.returncode != 0:
                lines = err.read().decode().splitlines()
                words = [str(word) for word in command]
                raise SystemExit(f"{' '.join(words)} ended with {child.returncode}:\n" + "\n".join(lines[-20:]))


def totals(text):
    """Returns cost and weight of each plan, as they are printed."""
    rows = csv.DictReader(io.StringIO(text))
    columns = {re.sub(" .*", "", name): name for name in rows.fieldnames}
    return {row["plan"]: (row[columns["cost"]], row[columns["weight"]]) for row in rows}


def verdict(expected, found, is_exact):
    """Returns what the table says of a peer's totals, and whether that is as it must be."""
    if expected.keys() != found.keys():
        return "other plans", False
    differing = sum(expected[plan] != found[plan] for plan in expected)
    if differing == 0:
        return "equal", True
    largest = max(
        abs(Decimal(one) - Decimal(other)) / max(abs(Decimal(one)), 1)
        for plan in expected
        for one, other in zip(expected[plan], found[plan])
    )
    return f"{differing} of {len(expected)} plans differ", not is_exact and largest < TOLERANCE


def count(command):
    """Returns how many rows a command prints below its header.

    What is held here counts as memory of the processes started later, so the rows are not.
    """
    with subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL) as child:
        rows = sum(1 for _ in child.stdout)
    return max(rows - 1, 0)


def measure(cutbill, book, runs, skipped):
    """Prints the table of a book; returns the names of those whose totals are wrong."""
    rollup = [cutbill, "rollup", book, *LIMIT, "--format", "csv", "--by"]
    python = [sys.executable]
    named = [("cutbill", [*rollup, "plan"], True)]
    named += [(name, [*python, HERE / script, *more, book], exact) for name, script, more, exact in PEERS]
    with open(book / "bill.csv", "rb") as bill:
        lines = sum(1 for _ in bill) - 1
    amounts = count([*rollup, "plan,item"])
    expected, wrong, rows = None, [], []
    for name, command, is_exact in named:
        if name in skipped:
            rows.append((name, "not run", "", "", ""))
            continue
        done = [Run(command) for _ in range(runs)]
        found = totals(done[0].text)
        expected = expected or found
        said, is_right = verdict(expected, found, is_exact)
        if not is_right or any(run.text != done[0].text for run in done):
            wrong.append(name)
        walls = [run.wall for run in done]
        spread = f"{statistics.median(walls):.2f} s"
        if runs > 1:
            spread += f" ({min(walls):.2f} to {max(walls):.2f})"
        processor = f"{statistics.median(run.processor for run in done):.2f} s"
        memory = f"{max(run.memory for run in done) / 1e6:,.0f} MB"
        rows.append((name, spread, processor, memory, said))
        print(f"{book}: {name}: {spread}, {processor}, {memory}, {said}", file=sys.stderr)
    print(f"| {lines:,} bill lines, {len(expected):,} plans, {amounts:,} amounts | wall | processor | memory | totals |")
    print("|---|---|---|---|---|")
    for row in rows:
        print(f"| {' | '.join(row)} |")
    print(flush=True)
    return wrong


def main():
    parser = argparse.ArgumentParser(description="Times cutbill beside general-purpose engines.")
    parser.add_argument("cutbill", type=Path)
    parser.add_argument("books", type=Path, nargs="+")
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--skip", action="append", default=[], metavar="NAME", choices=[name for name, *_ in PEERS])
    arguments = parser.parse_args()
    wrong = [
        f"{book}: {name}"
        for book in arguments.books
        for name in measure(arguments.cutbill, book, arguments.runs, arguments.skip)
    ]
    if wrong:
        raise SystemExit("totals are not as they must be: " + ", ".join(wrong))


if __name__ == "__main__":
    main()
