"""Texts to draw: half of them look like headers, half like nothing, so that the net reads instead of guessing."""

import random
import string

MARKS = "-,./'&()?:#+*=$%@!\";_<>[]"
LETTERS_WITH_MARKS = "ÁÄÅÆÇÈÉÍÑÓÖØÚÜáäåæçèéíñóöøúü"
OTHERS = "ß£½°§"
# Index 0 of the net's output is CTC's blank; character i of this string is output i + 1.
ALPHABET = " " + string.ascii_uppercase + string.ascii_lowercase + string.digits + MARKS + LETTERS_WITH_MARKS + OTHERS

PLAIN = "AAAACEEINOOOUUaaaaceeinooouu"
ACCENTED = {}
for plain, accented in zip(PLAIN, LETTERS_WITH_MARKS):
    ACCENTED.setdefault(plain, []).append(accented)

# Words of offices, works and archives; any would do.
WORDS = """account agreement annual appeal arrangement assembly assessment balance bearing bill board body boiler bond
branch bridge bureau cable cargo case certificate charge circuit claim class clerk column committee compensation
contract copy correspondence council county court credit crane customs daily deck deed department deposit detail
diagram district dock drainage drawing east elevation employee engine entry estate examination extension file final
floor foundation frame freight fund gear general girder goods grant ground harbour hearing hospital hull index
inspection inquiry insurance interim invoice journal keel land layout lease ledger letter licence line list loan lower
main map mast matter medical meeting memo mill minute monthly motor north note number office order output panel parish
patent payment pension permit petition pier pipe plan plant plot policy port power print probate process program
property pump purchase quarter railway rate receipt record reference refund register release rent repair report
reserve return review revision road roof route sale schedule school section series service sheet shaft shop signal site
south special stage staff station statement steel stock store street summary supply survey tank tax test title tower
track trade transfer trust tunnel turbine union upper valve vessel volume voucher wages wall warehouse water weekly
west wharf widow winch wing works yard year yield zone""".split()
LABELS = "NO. NO NUMBER REF FILE CASE DATE DATED FROM TO NAME PART SHEET FICHE REEL ROLL VOL BOX ITEM PAGE DEPT REV ISSUE".split()
MONTHS = "JANUARY FEBRUARY MARCH APRIL MAY JUNE JULY AUGUST SEPTEMBER OCTOBER NOVEMBER DECEMBER".split()


class Texts:
    def __init__(self, seed, names):
        """`names`: lists of surnames and of forenames."""
        self.r = random.Random(seed)
        self.surnames, self.forenames = names

    def digits(self, low, high):
        return "".join(self.r.choices(string.digits, k=self.r.randint(low, high)))

    def letters(self, low, high):
        return "".join(self.r.choices(string.ascii_uppercase, k=self.r.randint(low, high)))

    def name(self):
        r = self.r
        last, first = r.choice(self.surnames), r.choice(self.forenames)
        if r.random() < 0.06:
            last = r.choice(["O'", "MC", "MAC", "D'", "DE ", "VAN DER ", "ST. "]) + last
        if r.random() < 0.06:
            last += "-" + r.choice(self.surnames)
        initial = r.choice(string.ascii_uppercase)
        first = r.choice([first, first, initial, initial + ".", f"{first} {initial}", f"{first} {initial}.",
                          f"{initial} {r.choice(string.ascii_uppercase)}", f"{first} {r.choice(self.forenames)}"])
        last += r.choice([""] * 12 + [" JR", " SR", " III", ", JR."])
        return r.choice([f"{last}, {first}", f"{last},{first}", f"{last} {first}", f"{first} {last}", last, f"{last} ({first})"])

    def code(self):
        """Groups of digits or letters with marks between them."""
        r = self.r
        groups = [self.digits(1, 7) if r.random() < 0.72 else self.letters(1, 3) for _ in range(r.randint(1, 4))]
        mark = r.choice(["-", "-", "/", ".", " ", "", "-"])
        code = mark.join(groups)
        if r.random() < 0.2:
            code += r.choice("-/ ") + r.choice(string.ascii_uppercase + "X")
        if r.random() < 0.12:
            code = r.choice(["#", "NO. ", "NO ", "*", "(", "REF: "]) + code
        return code + (")" if code.startswith("(") else "")

    def date(self):
        r = self.r
        year = r.randint(1850, 1999)
        short = f"{year % 100:02}"
        day, month = r.randint(1, 28), r.randint(1, 12)
        word = MONTHS[month - 1]
        mark = r.choice("-/. ")
        return r.choice([
            f"{year}", f"{day}{mark}{month}{mark}{short}", f"{day:02}{mark}{month:02}{mark}{year}", f"{word} {year}",
            f"{day} {word[:3]} {year}", f"{word[:3]} {day}, {year}", f"{day} {word} {year}", f"{year}-{month:02}-{day:02}",
            f"{year} - {year + r.randint(0, 40)}", f"{year}-{short}", f"{year} TO {year + 3}", f"{word[:3]}. {year}",
            f"'{short}", f"{year}/{short}", f"{year} THRU {year + 1}", f"C. {year}", f"{year}?",
        ])

    def part(self):
        r = self.r
        of, at = r.randint(1, 40), r.randint(1, 40)
        return r.choice([f"{at} OF {of}", f"{at}/{of}", f"{at} of {of}", f"PT {at}", f"PART {at}", f"SHEET {at} OF {of}",
                         f"VOL. {at}", f"FICHE {at}", f"{at}", f"({at})", f"PT. {self.letters(1, 1)}", "CONT'D", f"{at} & {of}"])

    def title(self):
        r = self.r
        words = r.choices(WORDS, k=r.randint(1, 5))
        if r.random() < 0.3:
            words.insert(r.randrange(len(words) + 1), r.choice([self.digits(1, 2), "AND", "&", "OF", "FOR", "IN", self.letters(1, 1)]))
        return " ".join(words).upper()

    def word(self):
        """A word of no language, or of any characters."""
        r = self.r
        kind = r.random()
        if kind < 0.3:
            return "".join(r.choices(string.ascii_uppercase, k=r.randint(1, 9)))
        if kind < 0.5:
            return "".join(r.choices(string.ascii_uppercase + string.digits, k=r.randint(1, 9)))
        if kind < 0.65:
            return "".join(r.choices(string.ascii_lowercase, k=r.randint(1, 9)))
        if kind < 0.8:
            return "".join(r.choices(string.digits + "-./,:O", k=r.randint(1, 9)))
        if kind < 0.9:
            return "".join(r.choices(string.ascii_letters + string.digits, k=r.randint(1, 8)))
        return "".join(r.choices(ALPHABET[1:], k=r.randint(1, 7)))

    def field(self):
        r = self.r
        kind = r.random()
        if kind < 0.2:
            return self.name()
        if kind < 0.38:
            return self.code()
        if kind < 0.48:
            return self.date()
        if kind < 0.58:
            return self.part()
        if kind < 0.67:
            return self.title()
        if kind < 0.72:
            return r.choice(LABELS) + r.choice([":", ".", " ", ": "]) + r.choice([self.code, self.date, self.part, self.word])()
        return self.word()

    def cased(self, field, case):
        if case == "title":
            return field.title()
        if case == "lower":
            return field.lower()
        return field

    def line(self, most):
        """A line of at most `most` characters, runs of blanks included as they are typed."""
        r = self.r
        # Short lines are as common as long ones.
        most = r.randint(1, most) if r.random() < 0.5 else most
        case = r.choices(["upper", "title", "lower"], [0.72, 0.18, 0.1])[0]
        gap, text = r.choice([1, 1, 2, 3, 4, 6]), ""
        while len(text) < most:
            blanks = gap if r.random() < 0.8 else r.randint(1, 9)
            mark = r.choice([" "] * 10 + [" / ", " - ", ", ", " : ", "; "])
            field = self.cased(self.field(), case)
            text += (mark * blanks if mark == " " else mark) * bool(text) + field
        text = text[:most].strip()
        if r.random() < 0.12:
            text = "".join(r.choice(ACCENTED[c]) if c in ACCENTED and r.random() < 0.3 else c for c in text)
        return text
