"""Measures how long engines take to sum the ledgers of a group, and holds what they find against cutbill.

    python3 measure.py CUTBILL BOOK PLANTS..

The dataset of one book is written once and stands for as many plants as are asked for, by hard links, so that engines
read all of it each time, from memory. Each question is asked in a process of its own, twice, and the faster one counts:
its wall, and in brackets its processor time, summed over all cores. Sums must be those of cutbill times the number of
plants, to the last digit. The table is Markdown.
"""

import csv
import os
import sys
import tempfile
from decimal import Decimal
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "benches/peers"))

from measure_peers import LIMIT, Run  # noqa: E402

from check import ENGINES, answers, rows, same  # noqa: E402

QUESTIONS = ["plans", "groups", "items"]
LOTS = 250


def spread(dataset, folder, plants, plans):
    """Links the dataset as that of so many plants, each of which built every plan."""
    with open(folder / "built.csv", "w", newline="", encoding="utf-8") as file:
        built = csv.writer(file)
        built.writerow(["plant", "plan", "day", "lots"])
        for plant in range(plants):
            for part in dataset.iterdir():
                place = folder / "group" / f"plant=P{plant:03}" / part.name
                place.mkdir(parents=True)
                os.link(part / "part-0.parquet", place / "part-0.parquet")
            built.writerows([f"P{plant:03}", plan, "2027-01-04", LOTS] for plan in plans)


def main():
    cutbill, book, *counts = sys.argv[1:]
    with tempfile.TemporaryDirectory(dir=os.environ.get("TMPDIR")) as scratch:
        scratch = Path(scratch)
        dataset = scratch / "dataset"
        question = [cutbill, "rollup", book, *LIMIT, "--lot", "1"]
        written = Run([*question, "--dataset", dataset])
        print(f"dataset written in {written.wall:.1f} s ({written.processor:.1f} s), {written.memory / 1e6:,.0f} MB", file=sys.stderr)
        size = sum(file.stat().st_size for file in dataset.glob("*/*"))
        by_plan = rows(Run([*question, "--by", "plan", "--format", "csv"]).text)
        cost = sum(Decimal(row["cost"]) for row in by_plan)
        print("| plants | ledger rows | Parquet | engine | " + " | ".join(QUESTIONS) + " | memory |")
        print("|---|---|---|---|" + "---|" * len(QUESTIONS) + "---|")
        for plants in map(int, counts):
            folder = scratch / f"of_{plants}"
            folder.mkdir()
            spread(dataset, folder, plants, [row["plan"] for row in by_plan])
            for engine in ENGINES:
                times, memory, amounts = [], 0, 0
                for name in QUESTIONS:
                    command = [sys.executable, ROOT / "docs/recipes/group.py", engine, folder, name]
                    done = min((Run(command) for _ in range(2)), key=lambda run: run.wall)
                    times.append(f"{done.wall:.1f} s ({done.processor:.1f} s)")
                    memory = max(memory, done.memory)
                    found = answers(done.text)[name]
                    lots = LOTS if name == "items" else 1
                    same(f"{engine}: {name}", cost * plants * lots, sum(Decimal(row["cost"]) for row in found))
                    if name == "groups":
                        amounts = sum(int(row["amounts"]) for row in found)
                told = [f"{plants}", f"{amounts:,}", f"{size * plants / 1e9:.2f} GB", engine, *times]
                print(f"| {' | '.join(told)} | {memory / 1e6:,.0f} MB |", flush=True)


if __name__ == "__main__":
    main()
