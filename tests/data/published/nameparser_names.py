"""Writes nameparser_names.csv: how nameparser takes names apart that are made up of the parts below.

pip install nameparser==2.6.0, then: python3 nameparser_names.py > nameparser_names.csv
"""
import csv
import random
import sys

from nameparser import HumanName

TITLES = ["Dr.", "Mr.", "Mrs", "Miss", "Capt.", "Rev.", "Prof.", "Lt. Col.", "Sir", "Maj."]
FORENAMES = ["John", "Mary", "José", "Anna Maria", "J.", "J.R.", "J R", "Jean-Luc", "W. Henry", "Øystein", "Van"]
SURNAMES = ["Smith", "O'Neill", "McKay", "Müller", "Harlow-Pike", "D'Amico", "Núñez", "Ng"]
PARTICLES = ["de la", "van der", "von", "di", "du", "bin", "St.", "Le", "da", "Mc", "van den", "ibn", "del"]
SUFFIXES = ["Jr.", "Sr", "II", "III", "IV", "2nd", "Esq.", "MD", "M.D.", "Ph.D.", "V"]
NICKNAMES = ['"Red"', "(Bud)", "'Tex'", '("Long Jim")']
ROWS = 300

draw = random.Random(20261125)


def sometimes(share, values):
    return draw.choice(values) if draw.random() < share else ""


def joined(*words):
    return " ".join(word for word in words if word)


def name():
    title = sometimes(0.2, TITLES)
    forenames = draw.choice(FORENAMES)
    nickname = sometimes(0.12, NICKNAMES)
    surname = joined(sometimes(0.35, PARTICLES), draw.choice(SURNAMES))
    suffix = sometimes(0.3, SUFFIXES)
    match draw.randrange(5):
        case 0:
            written = joined(title, forenames, nickname, surname, suffix)
        case 1:
            written = joined(title, forenames, nickname, surname + ("," if suffix else ""), suffix)
        case 2:
            written = joined(surname + ",", title, forenames, nickname, suffix)
        case 3:
            written = joined(surname + ",", title, forenames, nickname) + (f", {suffix}" if suffix else "")
        case _:
            written = joined(surname, suffix + ",", forenames, nickname) if suffix else f"{surname}, {forenames}"
    return written.upper() if draw.random() < 0.5 else written


rows = csv.writer(sys.stdout, lineterminator="\n")
rows.writerow(["name", "title", "forenames", "nickname", "surname", "suffix"])
seen = set()
while len(seen) < ROWS:
    written = name()
    if written in seen:
        continue
    seen.add(written)
    parts = HumanName(written)
    forenames = joined(parts.first, parts.middle)
    rows.writerow([written, parts.title, forenames, parts.nickname, parts.last, parts.suffix])
