"""Draws planned lines on the GPU: strikes through a ribbon, then what film, scanner and files do to them."""

import math

import torch
import torch.nn.functional as F

from net import HEIGHT
from plan import CELL, EM, PEN_X, PEN_Y

# Lines are struck at twice the height that the net sees.
SCALE = 2


class Drawer:
    def __init__(self, atlas, device, seed, held_out_damage=False):
        faces, characters = atlas.shape[:2]
        self.characters, self.device = characters, device
        # All glyphs in one picture, so that one call samples any of them.
        self.across = math.ceil(math.sqrt(faces * characters))
        down = math.ceil(faces * characters / self.across)
        picture = torch.zeros(down * self.across, CELL, CELL)
        picture[: faces * characters] = torch.from_numpy(atlas).reshape(-1, CELL, CELL) / 255
        picture = picture.view(down, self.across, CELL, CELL).permute(0, 2, 1, 3)
        self.atlas = picture.reshape(1, 1, down * CELL, self.across * CELL).contiguous().to(device)
        self.g = torch.Generator(device).manual_seed(seed)
        self.held_out_damage = held_out_damage

    def uniform(self, *shape, low=0.0, high=1.0):
        return torch.rand(*shape, generator=self.g, device=self.device) * (high - low) + low

    def normal(self, *shape):
        return torch.randn(*shape, generator=self.g, device=self.device)

    def chance(self, probability, count):
        """Ones for the lines that have something, [count, 1, 1]."""
        return (self.uniform(count, 1, 1) < probability).float()

    def field(self, count, height, width, cells_y, cells_x):
        """Smooth noise of about unit spread, [count, height, width]."""
        coarse = self.normal(count, 1, cells_y, cells_x)
        return F.interpolate(coarse, (height, width), mode="bicubic", align_corners=False)[:, 0]

    def __call__(self, plan):
        """Lines as the net sees them, [lines, 1, HEIGHT, width], normalised."""
        ink = self.strike(plan)
        each = len(ink) // len(plan["sources"])
        pictures = [self.scan(ink[i * each:(i + 1) * each], source) for i, source in enumerate(plan["sources"])]
        return normalise(torch.cat(pictures))[:, None]

    def strike(self, plan):
        """Ink of 0 to 1, [lines, SCALE * HEIGHT, SCALE * width]."""
        device = self.device
        move = lambda key: torch.from_numpy(plan[key]).to(device, non_blocking=True)
        glyph, pen, advance = move("glyph"), move("pen"), move("advance")
        em, stretch, cap, peak = (move(k)[:, None] for k in ("em", "stretch", "cap", "peak"))
        count, most = glyph.shape
        height, width = SCALE * HEIGHT, SCALE * plan["width"]
        cell = move("face")[:, None] * self.characters + glyph
        # Each strike's own slips: sideways, up, weight, lean, and lighter on one side.
        worn = self.uniform(count, 1) ** 2
        off = (lambda spread: self.normal(count, most) * spread)
        pen_x = pen + off(0.03) * em * worn
        pen_y = off(0.045) * em * worn
        base = 0.52 + 0.10 * self.normal(count, 1).clamp(-1.6, 1.3)
        cut = (base + off(0.06) * worn) * peak
        lean = off(0.02) * worn + self.normal(count, 1) * 0.03 + 0.2 * (self.uniform(count, 1) < 0.06).float()
        # Some strikes hit with one edge only.
        hard = 1 + 3 * (self.uniform(count, most) < 0.08)
        side_x, side_y = off(0.2) * worn * hard, off(0.3) * worn * hard
        density = (1 - self.uniform(count, most) ** 2 * 0.55 * worn) * self.uniform(count, 1, low=0.75, high=1.0)

        # The course of the line: a lean within 1.5 degrees and a bow, as far as the picture's height allows.
        xs = (torch.arange(width, device=device) + 0.5) / SCALE
        along = xs / plan["width"] - 0.5
        free = (HEIGHT - cap).clamp(min=2.0)
        climb = (self.normal(count, 1) * 0.006).clamp(-0.026, 0.026) * plan["width"]
        climb = torch.minimum(torch.maximum(climb, -0.7 * free), 0.7 * free)
        bow = self.normal(count, 1) * 0.12 * free * (self.uniform(count, 1) < 0.3)
        # Cut off by up to a tenth of a capital at the top or bottom.
        spare = free - climb.abs() + 0.14 * cap
        middle = (self.uniform(count, 1) - 0.5) * spare.clamp(min=0.0)
        baseline = HEIGHT / 2 + cap / 2 + middle + climb * along + bow * (4 * along * along - 0.33)

        dots = (self.uniform(count, 1) < 0.12).float()[:, :, None]
        pitch = (EM / self.uniform(count, 1, low=9.5, high=15))[:, :, None]
        radius = self.uniform(count, 1, low=0.42, high=0.75)[:, :, None]
        ink = torch.zeros(count, height, width, device=device)
        ys = ((torch.arange(height, device=device) + 0.5) / SCALE)[None, :, None]
        for parity in (0, 1):
            pick = lambda t: t[:, parity::2]
            if pick(glyph).shape[1] == 0:
                continue
            centre = pick(pen + advance / 2)
            bounds = (centre[:, 1:] + centre[:, :-1]) / 2
            at = torch.searchsorted(bounds.contiguous(), xs.expand(count, -1).contiguous())
            take = lambda t: pick(t).gather(1, at)
            u = (xs - take(pen_x)) / (em * stretch) * EM
            v = (ys - (baseline + take(pen_y))[:, None]) / em[:, :, None] * EM
            u = u[:, None] - v * take(lean)[:, None]
            # A dot-matrix head or a film's spot strikes on a grid.
            grid = lambda t: (torch.floor(t / pitch) + 0.5) * pitch
            gu, gv = grid(u), grid(v)
            dot = ((u - gu) ** 2 + (v - gv) ** 2).sqrt() / pitch
            u2, v2 = u + dots * (gu - u) + PEN_X, v + dots * (gv - v) + PEN_Y
            inside = (u2 > 0.5) & (u2 < CELL - 0.5) & (v2 > 0.5) & (v2 < CELL - 0.5)
            index = take(cell)
            tall, wide = self.atlas.shape[2:]
            gx = u2 + ((index % self.across) * CELL)[:, None]
            gy = v2 + ((index // self.across) * CELL)[:, None]
            where = torch.stack((gx / wide * 2 - 1, gy / tall * 2 - 1), -1).view(1, count * height, width, 2)
            cover = F.grid_sample(self.atlas, where, align_corners=False).view(count, height, width)
            slope = take(side_x)[:, None] * (u - 16) / EM + take(side_y)[:, None] * (v + 20) / EM
            threshold = (take(cut)[:, None] * (1 + slope)).clamp(min=0.1)
            cover = ((cover - threshold) / 0.16 + 0.5).clamp(0, 1) * take(density)[:, None] * inside
            cover = cover * (1 + dots * (((radius - dot) * 6).clamp(0, 1) - 1))
            if self.held_out_damage:
                # Stencils leave bridges.
                bridged = self.chance(0.25, count)
                cover = cover * (1 - bridged * ((u - 18).abs() < 2.2).float())
            ink = torch.maximum(ink, cover)
        return self.dirty(ink, baseline, cap, plan, xs, ys)

    def dirty(self, ink, baseline, cap, plan, xs, ys):
        """Ribbon, neighbouring lines, rules, blotches, scratches, holes."""
        count, height, width = ink.shape
        base, cap3 = baseline[:, None], cap[:, :, None]
        ribbon = self.field(count, height, width, 6, max(width // 24, 2))
        ink = ink * (1 - self.chance(0.35, count) * self.uniform(count, 1, 1, high=0.5) * ribbon.clamp(0, 2)).clamp(0, 1)
        # Ink that did not take, in patches the size of a stroke.
        patches = self.field(count, height, width, 14, max(width // 6, 2))
        ink = ink * (1 - self.chance(0.3, count) * self.uniform(count, 1, 1, high=0.8) * (patches - 0.3).clamp(0, 1.2)).clamp(0, 1)
        threads = (torch.sin(ys * self.uniform(count, 1, 1, low=1.5, high=5)) + 1) / 2
        ink = ink * (1 - self.chance(0.06, count) * 0.4 * threads)

        # The feet of the line above and the heads of the line below, beyond this line's own type.
        top, bottom = base - 1.18 * cap3, base + 0.42 * cap3
        for above in (True, False):
            share = self.uniform(count, 1, 1, low=0.0, high=0.5) * cap3
            other, line = ink.roll(1 if above else 2, 0), baseline.roll(1 if above else 2, 0)[:, None]
            middle = line.mean(2, keepdim=True)
            # Rows of the other line that come to lie here.
            foot = cap3.roll(1 if above else 2, 0)
            shift = middle - share if above else HEIGHT - share - (middle - foot)
            rows = (ys + shift if above else ys - shift) * SCALE
            rows = rows.round().long().expand(count, height, 1)
            valid = (rows >= 0) & (rows < height)
            moved = other.gather(1, rows.clamp(0, height - 1).expand(-1, -1, width)) * valid
            free = (ys < top) if above else (ys > bottom)
            ink = torch.maximum(ink, moved * free * self.chance(0.2, count))

        # Rules: underlines, frames, struck through lightly, upright edges beside the type.
        def span():
            a, b = self.uniform(count, 1, 1) * plan["width"], self.uniform(count, 1, 1) * plan["width"]
            return (xs >= torch.minimum(a, b)) & (xs <= torch.maximum(a, b))

        def rule(y, thick, dark, where, has):
            return ((thick / 2 - (ys - y).abs()) * SCALE + 0.5).clamp(0, 1) * dark * where * has

        thick = lambda: cap3 * self.uniform(count, 1, 1, low=0.04, high=0.16)
        dark = lambda: self.uniform(count, 1, 1, low=0.4, high=1.0)
        everywhere = torch.ones(1, 1, width, device=self.device)
        marks = [
            rule(base + cap3 * self.uniform(count, 1, 1, low=0.14, high=0.4), thick(), dark(), span(), self.chance(0.12, count)),
            rule(base - cap3 * self.uniform(count, 1, 1, low=0.35, high=0.65), thick() * 0.7, dark(), span(), self.chance(0.04, count)),
            rule(base - cap3 * self.uniform(count, 1, 1, low=1.2, high=1.5), thick(), dark(), everywhere, self.chance(0.06, count)),
            rule(base + cap3 * self.uniform(count, 1, 1, low=0.25, high=0.6), thick(), dark(), everywhere, self.chance(0.06, count)),
        ]
        starts = torch.from_numpy(plan["pen"][:, 0].clip(0, plan["width"])).to(self.device)[:, None, None]
        last = (plan["strikes"] - 1).clip(0)
        rows = range(count)
        ends = torch.from_numpy((plan["pen"][rows, last] + plan["advance"][rows, last]).clip(0, plan["width"])).to(self.device)
        for edge in (starts - cap3 * self.uniform(count, 1, 1, low=0.4, high=2), ends[:, None, None] + cap3 * self.uniform(count, 1, 1, low=0.4, high=2)):
            upright = ((thick() / 2 - (xs - edge + (ys - 20) * self.normal(count, 1, 1) * 0.01).abs()) * SCALE + 0.5).clamp(0, 1)
            marks.append(upright * dark() * self.chance(0.06, count))
        for mark in marks:
            ink = torch.maximum(ink, mark)
        # Scratches, dark and light, and hairs.
        for light, probability in ((False, 0.07), (True, 0.07)):
            y = self.uniform(count, 1, 1, high=HEIGHT) + (xs - plan["width"] * self.uniform(count, 1, 1)) * self.normal(count, 1, 1) * 0.3
            scratch = ((self.uniform(count, 1, 1, low=0.3, high=1.2) / 2 - (ys - y).abs()) * SCALE + 0.5).clamp(0, 1) * self.chance(probability, count)
            ink = ink * (1 - scratch) if light else torch.maximum(ink, scratch * dark())
        # Blotches and holes.
        for light, size, probability in ((False, 0.25, 0.25), (False, 0.1, 0.35), (True, 0.2, 0.2), (True, 0.12, 0.2), (False, 0.7, 0.04)):
            radius = cap3 * size * self.uniform(count, 1, 1, low=0.3, high=1.0)
            far = ((xs - self.uniform(count, 1, 1) * plan["width"]) ** 2 + ((ys - self.uniform(count, 1, 1) * HEIGHT) * self.uniform(count, 1, 1, low=0.6, high=1.6)) ** 2).sqrt()
            spot = ((radius - far) / self.uniform(count, 1, 1, low=0.5, high=2.0) + 0.5).clamp(0, 1) * self.chance(probability, count)
            ink = ink * (1 - spot) if light else torch.maximum(ink, spot * dark())
        # What shows through from the back, or a stamp's or a neighbour's ghost.
        ghost = ink.flip(2).roll(3, 0)
        ink = torch.maximum(ink, F.avg_pool2d(ghost[:, None], 5, 1, 2)[:, 0] * self.chance(0.08, count) * self.uniform(count, 1, 1, low=0.1, high=0.35))
        if self.held_out_damage:
            stamp = ink.roll(5, 0).roll(17, 2)
            ink = torch.maximum(ink, stamp * self.chance(0.15, count) * self.uniform(count, 1, 1, low=0.2, high=0.45))
        return ink

    def scan(self, ink, source):
        """Grey of 0 to 255, HEIGHT high, of lines that were `source` pixels high on the film's scan."""
        count, _, width = ink.shape
        across = max(round(width * source / (SCALE * HEIGHT)), 8)
        ink = F.interpolate(ink[:, None], (source, across), mode="bilinear", antialias=True, align_corners=False)[:, 0]
        # Out of focus, in pixels of the source.
        sigma = self.uniform(count, 1, 1) ** 2 * min(0.035 * source, 1.8)
        ink = blur(ink, sigma)
        clog = self.chance(0.15, count)
        ink = ink * (1 - clog) + clog * (blur(ink, sigma + 0.03 * source) * 1.7).clamp(0, 1)
        # Burnt-out or faint: hardly any contrast.
        contrast = self.uniform(count, 1, 1, low=0.25, high=1.0) ** 0.7 * 215
        paper = self.uniform(count, 1, 1, low=150, high=255)
        contrast = torch.minimum(contrast, paper - 5)
        shade = self.field(count, source, across, 2, 4) * self.uniform(count, 1, 1) ** 2 * 0.12 * contrast
        picture = paper + shade - contrast * ink
        grain = self.uniform(count, 1, 1) ** 2 * 0.26 * contrast
        coarse = self.field(count, source, across, max(source // 2, 2), max(across // 2, 2))
        coarser = self.field(count, source, across, max(source // 5, 2), max(across // 5, 2))
        mix = self.uniform(count, 1, 1)
        noise = self.normal(count, source, across) * mix + coarse * (1 - mix) * self.chance(0.6, count) + coarser * 0.5 * self.chance(0.3, count)
        # Grain is stronger in the dark for half of the films.
        picture = picture + noise * grain * (1 - self.chance(0.5, count) * (1 - ink) * 0.6)
        speck = (self.uniform(count, source, across) < self.uniform(count, 1, 1) ** 3 * 0.02).float() * self.chance(0.2, count)
        picture = picture + speck * contrast * (self.uniform(count, source, across) - 0.5) * 2
        if self.held_out_damage:
            pepper = (self.uniform(count, source, across) < 0.03).float() * self.chance(0.25, count)
            picture = picture * (1 - pepper) + pepper * 255 * (self.uniform(count, source, across) > 0.5)
        # One bit.
        bit = self.chance(0.13, count)
        level = paper - contrast * self.uniform(count, 1, 1, low=0.25, high=0.58)
        picture = picture * (1 - bit) + bit * 255 * (picture > level)
        picture = picture.clamp(0, 255)
        jpeg = self.chance(0.3, count)
        picture = picture * (1 - jpeg) + jpeg * self.jpeg(picture)
        picture = picture.clamp(0, 255).round()
        return F.interpolate(picture[:, None], (HEIGHT, width // SCALE), mode="bilinear", antialias=True, align_corners=False)[:, 0]

    def jpeg(self, picture):
        """Loses what JPEG loses at qualities of 12 to 80."""
        count, height, width = picture.shape
        down, right = -height % 8, -width % 8
        padded = F.pad(picture[:, None], (0, right, 0, down), mode="replicate")[:, 0] - 128
        n = torch.arange(8, device=self.device, dtype=torch.float32)
        d = torch.cos((2 * n[None] + 1) * n[:, None] * math.pi / 16) / 2
        d[0] /= math.sqrt(2)
        blocks = padded.view(count, (height + down) // 8, 8, (width + right) // 8, 8).permute(0, 1, 3, 2, 4)
        quality = self.uniform(count, 1, 1, 1, 1, low=12, high=80)
        scale = torch.where(quality < 50, 50 / quality, 2 - quality / 50)
        # Near the luminance table of ITU-T T.81, annex K: about 10 at the lowest frequencies, about 100 at the highest.
        table = (10 + 6.5 * (n[:, None] + n[None])).clamp(max=110) * scale
        lost = torch.round((d @ blocks @ d.T) / table) * table
        out = (d.T @ lost @ d).permute(0, 1, 3, 2, 4).reshape(padded.shape) + 128
        return out[:, :height, :width]


def blur(picture, sigma):
    """Gaussian blur by a sigma of each line's own, [lines, 1, 1], in pixels."""
    reach = 5
    at = torch.arange(-reach, reach + 1, device=picture.device).float()
    kernel = torch.exp(-0.5 * (at / sigma[:, :, 0].clamp(min=0.05)) ** 2)
    kernel = (kernel / kernel.sum(1, keepdim=True))[:, None]
    count = len(picture)
    x = F.conv2d(F.pad(picture[None], (reach, reach, 0, 0), mode="replicate"), kernel[:, :, None], groups=count)
    x = F.conv2d(F.pad(x, (0, 0, reach, reach), mode="replicate"), kernel[:, :, :, None], groups=count)
    return x[0]


# Share of a line's pixels that are darker than its black and than its paper, and the least range between them in grey
# levels: dirt on an empty line is not blown up.
BLACK, PAPER, LEAST_RANGE = 0.02, 0.9, 40.0


def normalise(picture):
    """Black about 0, paper about 1, as `net/prepare.rs` does it."""
    flat = picture.flatten(1).float()
    count = flat.shape[1]
    ranked = flat.sort(1).values
    black = ranked[:, int(BLACK * (count - 1))][:, None, None]
    paper = ranked[:, int(PAPER * (count - 1))][:, None, None]
    black = torch.minimum(black, paper - LEAST_RANGE)
    return ((picture - black) / (paper - black)).clamp(-0.5, 1.5)
