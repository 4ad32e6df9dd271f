"""Compares a cutbill binary with the reference over made-up books.

    python3 run.py BINARY [--books 1000] [--start 0] [--keep FOLDER]

Book number N is made from seed N, so a failing one can be made again: `--start N --books 1`. With `--keep` books that
differ are left in the folder.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import traceback
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from book import Book
from expected import same_demand
from generate import Made
from reference import Difference, compare


def told(binary, arguments):
    """Runs the tool; returns its document and its exit code."""
    done = subprocess.run([binary] + arguments, capture_output=True, text=True, encoding="utf-8", timeout=120)
    if done.returncode not in (0, 1):
        raise Difference(f"`{' '.join(arguments)}` ends with {done.returncode}:\n{done.stderr}")
    return json.loads(done.stdout)


def check(binary, number, folder):
    """Makes book `number` up and compares it."""
    made = Made(number)
    made.write(folder)
    book, cutting = str(folder), ["--effort", "1"]
    asked = list(made.arguments)
    if "--lot" in asked:
        at = asked.index("--lot")
        cutting += asked[at : at + 2]
        del asked[at : at + 2]
    needs = told(binary, ["explode", book, "--flat", "--format", "json"] + asked)
    nest = told(binary, ["nest", book, "--format", "json"] + asked + cutting)
    rollup = ["rollup", book, "--format", "json"] + asked + cutting
    by_group = told(binary, rollup + ["--by", "plan,group"])
    by_station = told(binary, rollup + ["--by", "plan,station,item"])
    sheets = told(binary, ["price", book, "--format", "json"] + asked + cutting)
    if made.is_scheduled:
        orders = told(binary, ["orders", book, "--effort", "1", "--format", "json"])
        same_demand(Book(folder), orders)
    compare(folder, made.asked, made.lot, needs, nest, by_group, by_station, sheets, made.unit)


def attempt(binary, number, folder, keep):
    """Returns what differs in a book, or None; leaves the book in `keep` if something does."""
    try:
        check(binary, number, folder)
        return None
    except Difference as difference:
        found = str(difference)
    except Exception:
        found = "the reference fails:\n" + traceback.format_exc(limit=-3)
    if keep:
        shutil.copytree(folder, keep / folder.name, dirs_exist_ok=True)
    return found


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("binary")
    parser.add_argument("--books", type=int, default=1000)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--keep", type=Path)
    arguments = parser.parse_args()
    failed = 0
    with tempfile.TemporaryDirectory() as scratch:
        numbers = range(arguments.start, arguments.start + arguments.books)
        folders = [Path(scratch) / f"book-{number}" for number in numbers]
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            differences = pool.map(lambda place: attempt(arguments.binary, *place, arguments.keep), zip(numbers, folders))
            for number, difference in zip(numbers, differences):
                if difference is not None:
                    failed += 1
                    print(f"book {number}: {difference}", flush=True)
    print(f"{arguments.books} books compared, {failed} differ")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
