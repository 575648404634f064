"""Plans batches of lines on the CPU: which text in which face, at which size, and where every strike lands."""

import pathlib
import tomllib
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

from net import HEIGHT
from text import ALPHABET, Texts

# Pixels of the atlas: an em, a cell, and the pen's place in it.
EM, CELL = 64, 96
PEN_X, PEN_Y = 12, 66
# Blur of the atlas, in its pixels: what a thinner or fatter strike is cut from.
SOFT = 1.6

INDEX = {c: i for i, c in enumerate(ALPHABET)}


@dataclass
class Face:
    name: str
    advance: np.ndarray  # ems, by character
    cap: float  # height of H, in ems
    has: np.ndarray  # which characters the face has
    peak: float  # the darkest that its blurred strokes get


def faces(fonts, training=True, held_out=False):
    """The atlas [faces, characters, CELL, CELL] as bytes and the faces."""
    listed = tomllib.loads((pathlib.Path(__file__).parent / "fonts.toml").read_text())["face"]
    listed = [f for f in listed if (held_out if f.get("held_out") else training)]
    atlas, found = np.zeros((len(listed), len(ALPHABET), CELL, CELL), np.uint8), []
    for row, entry in enumerate(listed):
        font = ImageFont.truetype(str(fonts / entry["file"]), 2 * EM)
        missing = bytes(font.getmask("\U000e0fff"))
        has, advance = np.zeros(len(ALPHABET), bool), np.zeros(len(ALPHABET))
        for at, c in enumerate(ALPHABET):
            advance[at] = font.getlength(c) / (2 * EM)
            has[at] = c == " " or bytes(font.getmask(c)) not in (missing, b"")
            picture = Image.new("L", (2 * CELL, 2 * CELL))
            ImageDraw.Draw(picture).text((2 * PEN_X, 2 * PEN_Y), c, 255, font, anchor="ls")
            picture = picture.resize((CELL, CELL), Image.BOX).filter(ImageFilter.GaussianBlur(SOFT))
            atlas[row, at] = np.asarray(picture)
        atlas[row, :, [0, -1], :] = 0
        atlas[row, :, :, [0, -1]] = 0
        rows = np.nonzero(atlas[row, INDEX["H"]].max(1) > 100)[0]
        peak = np.percentile(atlas[row, INDEX["H"]].max(0)[atlas[row, INDEX["H"]].max(0) > 60], 50) / 255
        found.append(Face(entry["file"], advance, (rows[-1] - rows[0] + 1) / EM, has, float(peak)))
    return atlas, found


WIDTHS = [256, 448, 704, 1024, 1472, 2048]
WIDTH_ODDS = [0.15, 0.22, 0.25, 0.2, 0.12, 0.06]
# Pixels of one batch.
PIXELS = 256 * 704 * HEIGHT
# Least distance of two strikes, in pixels of the net's picture.
LEAST_PITCH = 7.0
# Lines of a batch that share a resolution of their source.
GROUPS = 4


class Planner:
    def __init__(self, seed, faces, names):
        self.r = np.random.default_rng(seed)
        self.texts = Texts(seed, names)
        self.faces = faces

    def batch(self, pixels=PIXELS):
        r = self.r
        width = int(r.choice(WIDTHS, p=WIDTH_ODDS))
        each = max(pixels // (width * HEIGHT) // GROUPS, 1)
        lines, groups = [], []
        for _ in range(GROUPS):
            # The line's height on its source, in pixels: 150 to 600 dpi, small and large type.
            source = int(round(np.exp(r.uniform(np.log(14), np.log(76)))))
            groups.append(source)
            lines += [self.line(width, source) for _ in range(each)]
        most = max(max(len(l[0]) for l in lines), 1)
        count = len(lines)
        out = {
            "glyph": np.zeros((count, most), np.int64), "pen": np.full((count, most), 1e6, np.float32),
            "advance": np.ones((count, most), np.float32), "strikes": np.array([len(l[0]) for l in lines]),
            "em": np.array([l[3] for l in lines], np.float32), "stretch": np.array([l[4] for l in lines], np.float32),
            "face": np.array([l[5] for l in lines]), "cap": np.array([l[6] for l in lines], np.float32),
            "peak": np.array([l[7] for l in lines], np.float32),
            "text": [l[8] for l in lines], "target": np.array([INDEX[c] + 1 for l in lines for c in l[8]], np.int64),
            "lengths": np.array([len(l[8]) for l in lines]), "width": width, "sources": groups,
        }
        for at, line in enumerate(lines):
            out["glyph"][at, :len(line[0])] = line[0]
            out["pen"][at, :len(line[0])] = line[1]
            out["advance"][at, :len(line[0])] = line[2]
        return out

    def line(self, width, source):
        r = self.r
        at = int(r.integers(len(self.faces)))
        face = self.faces[at]
        # Capitals of 7 pixels on the source are the least that anyone can read.
        least = min(max(0.23, 7 / source), 0.6)
        # Lines cut close are three quarters capital; cut wide, a quarter.
        cap = r.uniform(least, 0.6) if r.random() < 0.55 else r.uniform(max(least, 0.45), 0.88)
        em = cap * HEIGHT / face.cap
        stretch = float(np.clip(np.exp(r.normal(0, 0.14)), 0.66, 1.45))
        spacing = r.choice([-0.1, -0.07, -0.04, -0.02, 0.03, 0.06, 0.15, 0.3]) if r.random() < 0.6 else 0.0
        pitch = (float(np.median(face.advance)) + spacing) * em * stretch
        # CTC needs two columns of four pixels for a doubled letter.
        stretch *= max(LEAST_PITCH / pitch, 1)
        pitch = max(pitch, LEAST_PITCH)
        room = width - r.uniform(1, 12) * 2
        text = "" if r.random() < 0.03 else self.texts.line(max(int(room / pitch), 1))
        codes = np.array([INDEX[c] for c in text], np.int64)
        codes = codes[face.has[codes]] if len(codes) else codes
        step = (face.advance[codes] + spacing) * em * stretch
        ends = np.cumsum(step)
        codes = codes[ends < room]
        while len(codes) and codes[-1] == 0:
            codes = codes[:-1]
        while len(codes) and codes[0] == 0:
            codes = codes[1:]
        step = (face.advance[codes] + spacing) * em * stretch
        total = step.sum()
        # Long blank margins on either side, or none.
        slack = max(width - total, 0)
        left = slack * r.random() if r.random() < 0.5 else min(r.uniform(0.5, 12), slack)
        pens = left + np.cumsum(step) - step
        struck = codes != 0
        text = " ".join("".join(ALPHABET[c] for c in codes).split())
        return codes[struck], pens[struck], step[struck], em, stretch, at, cap * HEIGHT, face.peak, text


def names(folder):
    def words(file):
        return [w.split()[0].upper() for w in (folder / file).read_text().splitlines() if w.strip()]

    return words("surnames.txt"), words("male-forenames.txt") + words("female-forenames.txt")
