#!/usr/bin/env python3
"""What somebody would script in an afternoon, to measure headword against.

For each image of a job: crop the top 16 % of the sheet, hand it to the `tesseract` command, take the fields with
regular expressions, and match the name and number against the roster by a token-sort ratio. One process at a time.

    pip install pillow
    tests/bench/scripted_peer.py JOB [--limit N]

JOB is a folder made by `headword demo JOB --sheets N --seed S` (sheets/, roster.csv, truth.csv). Prints the character
error rate, identifiers right, sheets with every field right, and seconds a sheet, by noise.
"""
import argparse
import csv
import difflib
import io
import os
import re
import subprocess
import time

from PIL import Image, ImageOps

CROP = 0.16
NUMBER = re.compile(r"(\d{6})\s*-\s*([\dX])")
YEARS = re.compile(r"\b(1[89]\d\d|20\d\d)\s*(?:-|TO)\s*(1[89]\d\d|20\d\d)\b")
PART = re.compile(r"\b(\d{1,2})\s*(?:OF|/)\s*(\d{1,2})\b")
INVERTED = re.compile(r"([A-Z][A-Z' -]+),\s*([A-Z][A-Z. ]*)")
DIRECT = re.compile(r"([A-Z][A-Z' .-]+)")


def distance(a, b):
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        before, row[0] = row[0], i
        for j, y in enumerate(b, 1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (x != y))
    return row[-1]


def collapse(text):
    return re.sub(r"\s+", " ", text.upper()).strip()


def token_sort_ratio(a, b):
    a, b = " ".join(sorted(a.split())), " ".join(sorted(b.split()))
    return difflib.SequenceMatcher(None, a, b, autojunk=False).ratio()


def read(path):
    """The text of the strip, as the script sees it."""
    image = Image.open(path).convert("L")
    image = image.crop((0, 0, image.width, int(image.height * CROP)))
    image = ImageOps.autocontrast(image)
    png = io.BytesIO()
    image.save(png, "PNG")
    command = ["tesseract", "stdin", "stdout", "-l", "eng", "--psm", "6"]
    environment = {**os.environ, "OMP_THREAD_LIMIT": "1"}
    done = subprocess.run(command, input=png.getvalue(), capture_output=True, env=environment)
    return collapse(done.stdout.decode("utf-8", "replace"))


def fields(text, roster, by_number):
    """Regular expressions, then the roster row that is most alike."""
    found = dict.fromkeys(["surname", "forenames", "number", "from", "to", "part", "parts"], "")
    if m := NUMBER.search(text):
        found["number"] = f"{m[1]}-{m[2]}"
    if m := YEARS.search(text):
        found["from"], found["to"] = m[1], m[2]
    if m := PART.search(text):
        found["part"], found["parts"] = m[1], m[2]
    before_roster = found["number"]
    if found["number"] in by_number:
        row = by_number[found["number"]]
    else:
        m = INVERTED.search(text) or DIRECT.search(text)
        name = m[0].replace(",", " ") if m else ""
        first = name[:1]
        near = [r for r in roster if r["surname"][:1] == first] or roster
        row = max(near, key=lambda r: token_sort_ratio(name, f"{r['surname']} {r['forenames']}"))
        if token_sort_ratio(name, f"{row['surname']} {row['forenames']}") < 0.8:
            row = None
    if row:
        found["surname"], found["forenames"] = row["surname"], row["forenames"]
        found["number"] = row["number"]
    elif m := INVERTED.search(text):
        found["surname"], found["forenames"] = m[1].strip(), m[2].strip()
    return found, before_roster


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("job")
    arguments.add_argument("--limit", type=int)
    arguments = arguments.parse_args()
    with open(os.path.join(arguments.job, "roster.csv"), newline="", encoding="utf-8") as file:
        roster = list(csv.DictReader(file))
    by_number = {row["number"]: row for row in roster}
    with open(os.path.join(arguments.job, "truth.csv"), newline="", encoding="utf-8") as file:
        truths = [row for row in csv.DictReader(file) if row["kind"] == "record"][: arguments.limit]
    totals = {}
    for truth in truths:
        start = time.perf_counter()
        text = read(os.path.join(arguments.job, "sheets", truth["sheet"]))
        found, number = fields(text, roster, by_number)
        seconds = time.perf_counter() - start
        said = collapse(truth["text"].replace(" / ", " "))
        right = all(collapse(found[field]) == collapse(truth[field]) for field in found)
        for key in (truth["noise"], "all"):
            total = totals.setdefault(key, [0, 0, 0, 0, 0, 0.0])
            total[0] += 1
            total[1] += min(distance(text, said), len(said))
            total[2] += len(said)
            total[3] += number == truth["number"]
            total[4] += right
            total[5] += seconds
    print(f"{'noise':8} {'sheets':>6} {'CER':>6} {'identifier':>10} {'all fields':>10} {'s a sheet':>9}")
    for key, (n, errors, length, number, right, seconds) in sorted(totals.items()):
        print(f"{key:8} {n:6} {errors / length:6.3f} {number / n:10.1%} {right / n:10.1%} {seconds / n:9.3f}")


if __name__ == "__main__":
    main()
