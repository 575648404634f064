"""Writes stdnum_check_digits.csv: what python-stdnum answers for payloads drawn at random.

pip install python-stdnum==2.2, then: python3 stdnum_check_digits.py > stdnum_check_digits.csv
"""
import random
import string

from stdnum import damm, ean, isbn, iso6346, issn, luhn, verhoeff
from stdnum.es import dni
from stdnum.iso7064 import mod_11_2, mod_11_10, mod_37_2, mod_37_36, mod_97_10
from stdnum.us import rtn

DIGITS = string.digits
BOTH = string.digits + string.ascii_uppercase
ROWS = 40

draw = random.Random(20261125)


def drawn(alphabet, least, most):
    return "".join(draw.choice(alphabet) for _ in range(draw.randint(least, most)))


def container():
    return drawn(string.ascii_uppercase, 3, 3) + draw.choice("UJZ") + drawn(DIGITS, 6, 6)


schemes = {
    "iso7064-mod-11-2": (lambda: drawn(DIGITS, 1, 18), mod_11_2.calc_check_digit),
    "iso7064-mod-37-2": (lambda: drawn(BOTH, 1, 18), mod_37_2.calc_check_digit),
    "iso7064-mod-97-10": (lambda: drawn(draw.choice([DIGITS, BOTH]), 1, 30), mod_97_10.calc_check_digits),
    "iso7064-mod-11-10": (lambda: drawn(DIGITS, 1, 18), mod_11_10.calc_check_digit),
    "iso7064-mod-37-36": (lambda: drawn(BOTH, 1, 18), mod_37_36.calc_check_digit),
    "iso6346": (container, iso6346.calc_check_digit),
    "luhn": (lambda: drawn(DIGITS, 1, 18), luhn.calc_check_digit),
    "verhoeff": (lambda: drawn(DIGITS, 1, 18), verhoeff.calc_check_digit),
    "damm": (lambda: drawn(DIGITS, 1, 18), damm.calc_check_digit),
    "isbn10": (lambda: drawn(DIGITS, 9, 9), isbn._calc_isbn10_check_digit),
    "issn": (lambda: drawn(DIGITS, 7, 7), issn.calc_check_digit),
    "ean": (lambda: drawn(DIGITS, 12, 12), ean.calc_check_digit),
    "us.rtn": (lambda: drawn(DIGITS, 8, 8), rtn.calc_check_digit),
    "es.dni": (lambda: drawn(DIGITS, 8, 8), dni.calc_check_digit),
}

print("scheme,payload,check")
for name, (payload, check) in schemes.items():
    for _ in range(ROWS):
        code = payload()
        print(f"{name},{code},{check(code)}")
