"""Times the commands over books of several sizes, each in a process of its own, and prints tables in Markdown.

    cargo run --release --example generate -- --lines 100000 --items 20000 --weeks 52 BOOK
    python3 benches/sizes.py CUTBILL [--runs 3] [--skip COMMAND].. BOOK..

Wall and processor time are medians of the runs; memory is the most that a process held. Everything is of one unit of each
plan (`--lot 1`). Rows of the ledgers are counted by their lines.
"""

import argparse
import statistics
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent / "peers"))
from measure_peers import LIMIT, Run  # noqa: E402

# Name, arguments before and after the book.
COMMANDS = [
    ("check", ["check"], []),
    ("needs of each plan", ["explode"], ["--flat", "--format", "csv"]),
    ("totals of each plan", ["rollup"], ["--lot", "1", "--by", "plan", "--format", "csv"]),
    ("ledger by plan and item", ["rollup"], ["--lot", "1", "--by", "plan,item", "--format", "csv"]),
    ("full ledger, Parquet", ["rollup"], ["--lot", "1", "--format", "parquet"]),
    ("orders", ["orders"], ["--format", "csv"]),
]


def main():
    parser = argparse.ArgumentParser(description="Times the commands over books of several sizes.")
    parser.add_argument("cutbill", type=Path)
    parser.add_argument("books", type=Path, nargs="+")
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--skip", action="append", default=[], choices=[name for name, *_ in COMMANDS])
    arguments = parser.parse_args()
    for book in arguments.books:
        with open(book / "bill.csv", "rb") as bill:
            lines = sum(1 for _ in bill) - 1
        print(f"| {lines:,} bill lines | wall | processor | memory |")
        print("|---|---|---|---|")
        for name, before, after in COMMANDS:
            if name in arguments.skip:
                continue
            with tempfile.TemporaryDirectory() as folder:
                out = Path(folder) / "out"
                command = [arguments.cutbill, *before, book, *LIMIT, *after, "--output", out]
                if before == ["check"]:
                    command = command[:-2]
                runs = []
                for _ in range(arguments.runs):
                    runs.append(Run(command))
                    size = out.stat().st_size if out.exists() else 0
                    out.unlink(missing_ok=True)
            wall = statistics.median(run.wall for run in runs)
            processor = statistics.median(run.processor for run in runs)
            memory = max(run.memory for run in runs) / 1e6
            written = f", {size / 1e6:,.1f} MB written" if size else ""
            print(f"| {name}{written} | {wall:.2f} s | {processor:.2f} s | {memory:,.0f} MB |", flush=True)
        print(flush=True)


if __name__ == "__main__":
    main()
