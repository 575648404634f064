#!/usr/bin/env python3
"""Makes the files of every kind that the tests of the strip station open, and files.csv, which says what each holds.

Needs Pillow 13 and imagecodecs from PyPI, and tiffcp from Debian's libtiff-tools. Usage: make.py (writes beside itself).
Every file shows one of the pictures below, 53 x 37 pixels; the tests draw them by the same formulas.
"""
import csv, io, os, struct, subprocess, sys, tempfile, zlib
import imagecodecs
import numpy
from PIL import Image

HERE = os.path.dirname(os.path.abspath(__file__))
WIDTH, HEIGHT = 53, 37
Y, X = numpy.mgrid[0:HEIGHT, 0:WIDTH]
BOX = (X >= 8) & (X < 20) & (Y >= 6) & (Y < 14)

# The pictures.
GREY = numpy.where(BOX, 10, 40 + 3 * X + Y).astype(numpy.uint8)
COLOUR = numpy.stack([GREY, 255 - 2 * X, 5 * Y], axis=2).astype(numpy.uint8)
BILEVEL = numpy.where(BOX | ((7 * X + Y * Y) % 11 < 4), 0, 255).astype(numpy.uint8)
PALETTE = [(value, 255 - value, value * 7 % 256) for value in range(256)]
ALPHA = numpy.where(X < 30, 255, 128).astype(numpy.uint8)
# More than 8 bits: the upper 8 are GREY or COLOUR.
LOW = (31 * X + 17 * Y) % 256
GREY_16 = GREY.astype(numpy.uint16) * 256 + LOW.astype(numpy.uint16)
COLOUR_16 = COLOUR.astype(numpy.uint16) * 256 + LOW[:, :, None].astype(numpy.uint16)
GREY_12 = GREY.astype(numpy.uint16) * 16 + (LOW // 16).astype(numpy.uint16)
CMYK = numpy.stack([255 - GREY, 2 * X, 255 - 5 * Y, 2 * Y], axis=2).astype(numpy.uint8)
# A page as wide as a fax: runs longer than 2,560 pixels.
WIDE = numpy.where((numpy.mgrid[0:24, 0:2700][1] + 100 * numpy.mgrid[0:24, 0:2700][0]) % 2690 < 17, 0, 255)
WIDE = WIDE.astype(numpy.uint8)

listed = []


def keep(name, what, picture, data, tolerance=0):
    """Writes a file and lists it. `tolerance`: mean difference in grey levels that lossy coding may leave."""
    with open(os.path.join(HERE, name), "wb") as file:
        file.write(data)
    listed.append((name, what, picture, tolerance))


def pillow(array, kind, **options):
    image = array if isinstance(array, Image.Image) else Image.fromarray(array)
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


# PNG, by hand, since Pillow writes only some of its kinds.
def packed(samples, bits):
    """Rows of samples, packed into bytes with the first sample in the upper bits."""
    rows = samples.reshape(samples.shape[0], -1)
    if bits == 16:
        return rows.astype(">u2").view(numpy.uint8)
    if bits == 8:
        return rows.astype(numpy.uint8)
    planes = [(rows >> bit) & 1 for bit in range(bits - 1, -1, -1)]
    return numpy.packbits(numpy.stack(planes, axis=2).reshape(rows.shape[0], -1), axis=1)


def png(samples, bits, colour, interlaced=False, more=b""):
    def chunk(name, data):
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    passes = [(0, 0, 1, 1)]
    if interlaced:
        passes = [(0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2)]
    rows = b""
    for left, top, across, down in passes:
        part = samples[top::down, left::across]
        rows += b"".join(b"\0" + row.tobytes() for row in packed(part, bits))
    header = struct.pack(">IIBBBBB", samples.shape[1], samples.shape[0], bits, colour, 0, 0, int(interlaced))
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + more
            + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b""))


def png_palette(colours):
    data = b"PLTE" + bytes(value for colour in colours for value in colour)
    return struct.pack(">I", len(data) - 4) + data + struct.pack(">I", zlib.crc32(data))


# TIFF, by hand, where tiffcp and Pillow write no such file.
def tiff(tags, chunks, order="<", big=False, tiled=False):
    """A TIFF of one page. `tags`: {number: (type, values)}; types 3 SHORT, 4 LONG, 7 UNDEFINED."""
    head = 16 if big else 8
    data, offsets = b"", []
    for chunk in chunks:
        offsets.append(head + len(data))
        data += chunk + b"\0" * (len(chunk) % 2)
    tags = dict(tags)
    tags[324 if tiled else 273] = (4, offsets)
    tags[325 if tiled else 279] = (4, [len(chunk) for chunk in chunks])
    start = head + len(data)
    size, count, room, place = (20, "Q", 8, "Q") if big else (12, "H", 4, "I")
    later = start + struct.calcsize(order + count) + size * len(tags) + struct.calcsize(order + place)
    entries, values = b"", b""
    for number in sorted(tags):
        kind, content = tags[number]
        if kind == 7:
            raw = bytes(content)
        else:
            raw = struct.pack(order + {3: "H", 4: "I"}[kind] * len(content), *content)
        entries += struct.pack(order + "HH" + place, number, kind, len(content))
        if len(raw) <= room:
            entries += raw.ljust(room, b"\0")
        else:
            entries += struct.pack(order + place, later + len(values))
            values += raw + b"\0" * (len(raw) % 2)
    mark = {"<": b"II", ">": b"MM"}[order]
    header = mark + (struct.pack(order + "HHHQ", 43, 8, 0, start) if big else struct.pack(order + "HI", 42, start))
    return header + data + struct.pack(order + count, len(tags)) + entries + struct.pack(order + place, 0) + values


def base(bits, samples, photometric, width=WIDTH, height=HEIGHT, **more):
    tags = {256: (4, [width]), 257: (4, [height]), 258: (3, [bits] * samples), 259: (3, [1]),
            262: (3, [photometric]), 277: (3, [samples]), 278: (4, [height])}
    tags.update({int(number[1:]): value for number, value in more.items()})
    return tags


def colour_map(colours):
    return (3, [colour[channel] * 257 for channel in range(3) for colour in colours])


def tiffcp(source, *options):
    """The TIFF `source` written again by libtiff's tiffcp."""
    with tempfile.TemporaryDirectory() as folder:
        before, after = os.path.join(folder, "a.tif"), os.path.join(folder, "b.tif")
        with open(before, "wb") as file:
            file.write(source)
        subprocess.run(["tiffcp", *options, before, after], check=True)
        with open(after, "rb") as file:
            return file.read()


def tiles(array, across, down):
    """Tiles of an array, padded by repeating the last pixels."""
    high, wide = -(-array.shape[0] // down) * down, -(-array.shape[1] // across) * across
    full = numpy.pad(array, [(0, high - array.shape[0]), (0, wide - array.shape[1])] + [(0, 0)] * (array.ndim - 2),
                     mode="edge")
    return [full[top:top + down, left:left + across] for top in range(0, high, down) for left in range(0, wide, across)]


def exif(orientation):
    data = Image.Exif()
    data[274] = orientation
    return data


def turned(array, orientation):
    """What a file with this orientation tag has to hold, so that it shows `array` (TIFF 6.0, Orientation)."""
    undo = {1: lambda a: a, 2: lambda a: a[:, ::-1], 3: lambda a: a[::-1, ::-1], 4: lambda a: a[::-1],
            5: lambda a: a.swapaxes(0, 1), 6: lambda a: numpy.rot90(a, 1), 7: lambda a: numpy.rot90(a.swapaxes(0, 1), 2),
            8: lambda a: numpy.rot90(a, -1)}
    return numpy.ascontiguousarray(undo[orientation](array))


def make_png():
    keep("grey-1.png", "PNG, 1 bit grey", "bilevel", png(BILEVEL // 255, 1, 0))
    keep("grey-2.png", "PNG, 2 bit grey", "grey-2", png(GREY // 64, 2, 0))
    keep("grey-4.png", "PNG, 4 bit grey", "grey-4", png(GREY // 16, 4, 0))
    keep("grey-8.png", "PNG, 8 bit grey", "grey", png(GREY, 8, 0))
    keep("grey-8-interlaced.png", "PNG, 8 bit grey, interlaced", "grey", png(GREY, 8, 0, interlaced=True))
    keep("grey-16.png", "PNG, 16 bit grey", "grey", png(GREY_16, 16, 0))
    keep("grey-12-in-16.png", "PNG, 12 bits in 16, grey", "grey", png(GREY_12, 16, 0))
    keep("palette-1.png", "PNG, palette of 2", "palette-1", png(BILEVEL // 255, 1, 3, more=png_palette(PALETTE[:2])))
    keep("palette-4.png", "PNG, palette of 16", "palette-4", png(GREY // 16, 4, 3, more=png_palette(PALETTE[:16])))
    keep("palette-8.png", "PNG, palette of 256", "palette-8", png(GREY, 8, 3, more=png_palette(PALETTE)))
    keep("rgb-8.png", "PNG, 8 bit RGB", "colour", png(COLOUR, 8, 2))
    keep("rgb-16.png", "PNG, 16 bit RGB", "colour", png(COLOUR_16, 16, 2))
    keep("grey-alpha-8.png", "PNG, 8 bit grey with transparency", "grey-alpha", png(numpy.dstack([GREY, ALPHA]), 8, 4))
    keep("rgba-8.png", "PNG, 8 bit RGB with transparency", "colour-alpha", png(numpy.dstack([COLOUR, ALPHA]), 8, 6))


def make_jpeg():
    keep("grey.jpg", "JPEG, grey", "grey", pillow(GREY, "JPEG", quality=95), 1.5)
    keep("colour-444.jpg", "JPEG, colour, 4:4:4", "colour", pillow(COLOUR, "JPEG", quality=95, subsampling=0), 2)
    keep("colour-420.jpg", "JPEG, colour, 4:2:0", "colour", pillow(COLOUR, "JPEG", quality=95, subsampling=2), 3)
    keep("progressive.jpg", "JPEG, colour, progressive", "colour",
         pillow(COLOUR, "JPEG", quality=95, progressive=True, subsampling=0), 2)
    keep("restart.jpg", "JPEG, grey, restart markers", "grey", pillow(GREY, "JPEG", quality=95, restart_marker_rows=1), 1.5)
    keep("rgb.jpg", "JPEG, colour kept as RGB", "colour", pillow(COLOUR, "JPEG", quality=95, keep_rgb=True), 2)
    inverted = pillow(Image.frombytes("CMYK", (WIDTH, HEIGHT), CMYK.tobytes()), "JPEG", quality=95)
    keep("cmyk-adobe.jpg", "JPEG, CMYK, inverted as Adobe writes it", "cmyk", inverted, 4)
    keep("turned-6.jpg", "JPEG, grey, orientation 6", "grey",
         pillow(turned(GREY, 6), "JPEG", quality=95, exif=exif(6)), 1.5)
    keep("turned-2.jpg", "JPEG, grey, orientation 2", "grey",
         pillow(turned(GREY, 2), "JPEG", quality=95, exif=exif(2)), 1.5)
    keep("grey-12.jpg", "JPEG, 12 bits a sample", "refused", imagecodecs.jpeg_encode(GREY_12, bitspersample=12))
    keep("lossless.jpg", "JPEG, lossless", "refused", imagecodecs.ljpeg_encode(GREY))
    two = pillow(GREY, "JPEG", quality=95)
    keep("two-pictures.jpg", "JPEG, a second picture after it", "grey", two + two[:-300], 1.5)


def make_tiff():
    grey = tiff(base(8, 1, 1), [GREY.tobytes()])
    colour = tiff(base(8, 3, 2), [COLOUR.tobytes()])
    lines = BILEVEL // 255
    black_is_0 = tiff(base(1, 1, 1), [packed(lines, 1).tobytes()])
    white_is_0 = tiff(base(1, 1, 0), [packed(1 - lines, 1).tobytes()])

    # Byte by byte: compression, byte order, layout.
    for name, options in [("none", ["-c", "none"]), ("lzw", ["-c", "lzw"]), ("lzw-predictor", ["-c", "lzw:2"]),
                          ("deflate", ["-c", "zip"]), ("packbits", ["-c", "packbits"])]:
        keep(f"grey-8-{name}.tif", f"TIFF, 8 bit grey, {name}", "grey", tiffcp(grey, "-r", "10", *options))
        keep(f"rgb-8-{name}.tif", f"TIFF, 8 bit RGB, {name}", "colour", tiffcp(colour, "-r", "10", *options))
        if name != "lzw-predictor":
            keep(f"bilevel-{name}.tif", f"TIFF, 1 bit, {name}", "bilevel",
                 tiffcp(white_is_0, "-r", "10", *options))
    keep("grey-8-old-deflate.tif", "TIFF, 8 bit grey, deflate under its old number 32946", "grey",
         tiff(base(8, 1, 1, t259=(3, [32946])), [zlib.compress(GREY.tobytes())]))
    keep("grey-8-big-endian.tif", "TIFF, 8 bit grey, big-endian", "grey", tiffcp(grey, "-B"))
    keep("grey-8-bigtiff.tif", "BigTIFF, 8 bit grey, LZW", "grey", tiffcp(grey, "-8", "-c", "lzw"))
    keep("g4-bigtiff.tif", "BigTIFF, G4", "bilevel", tiffcp(white_is_0, "-8", "-c", "g4"))
    keep("g3-bigtiff.tif", "BigTIFF, G3, big-endian", "bilevel", tiffcp(white_is_0, "-8", "-B", "-c", "g3"))
    keep("grey-8-white-is-0.tif", "TIFF, 8 bit grey, white is 0", "grey", tiff(base(8, 1, 0), [(255 - GREY).tobytes()]))
    keep("grey-8-fill-order-2.tif", "TIFF, 8 bit grey, LZW, fill order 2", "grey", tiffcp(grey, "-f", "lsb2msb", "-c", "lzw"))
    keep("grey-8-tiled.tif", "TIFF, 8 bit grey, tiled, LZW", "grey",
         tiffcp(grey, "-t", "-w", "16", "-l", "16", "-c", "lzw:2"))
    keep("rgb-8-tiled.tif", "TIFF, 8 bit RGB, tiled, deflate", "colour",
         tiffcp(colour, "-t", "-w", "32", "-l", "16", "-c", "zip:2"))
    keep("rgb-8-planar.tif", "TIFF, 8 bit RGB, planes apart, LZW", "colour",
         tiffcp(colour, "-p", "separate", "-r", "10", "-c", "lzw:2"))
    keep("rgb-8-planar-tiled.tif", "TIFF, 8 bit RGB, planes apart, tiled", "colour",
         tiff(base(8, 3, 2, t284=(3, [2]), t322=(4, [32]), t323=(4, [16])),
              [tile.tobytes() for plane in range(3) for tile in tiles(COLOUR[:, :, plane], 32, 16)], tiled=True))

    # Depths.
    for order, name in [("<", "little"), (">", "big")]:
        keep(f"grey-16-{name}-endian.tif", f"TIFF, 16 bit grey, {name}-endian", "grey",
             tiff(base(16, 1, 1), [GREY_16.astype(order + "u2").tobytes()], order))
        keep(f"grey-12-in-16-{name}-endian.tif", f"TIFF, 12 bits in 16, {name}-endian", "grey",
             tiff(base(16, 1, 1), [GREY_12.astype(order + "u2").tobytes()], order))
        keep(f"grey-12-packed-{name}-endian.tif", f"TIFF, 12 bits packed, {name}-endian", "grey",
             tiff(base(12, 1, 1), [packed(GREY_12, 12).tobytes()], order))
        keep(f"rgb-16-{name}-endian.tif", f"TIFF, 16 bit RGB, {name}-endian", "colour",
             tiff(base(16, 3, 2), [COLOUR_16.astype(order + "u2").tobytes()], order))
    keep("grey-16-white-is-0.tif", "TIFF, 16 bit grey, white is 0", "grey",
         tiff(base(16, 1, 0), [(65535 - GREY_16).astype("<u2").tobytes()]))
    keep("grey-12-packed-lzw.tif", "TIFF, 12 bits packed, LZW, white is 0", "grey",
         tiffcp(tiff(base(12, 1, 0), [packed(4095 - GREY_12, 12).tobytes()]), "-c", "lzw"))
    keep("grey-2.tif", "TIFF, 2 bit grey", "grey-2", tiff(base(2, 1, 1), [packed(GREY // 64, 2).tobytes()]))
    keep("grey-4.tif", "TIFF, 4 bit grey", "grey-4", tiff(base(4, 1, 1), [packed(GREY // 16, 4).tobytes()]))
    keep("grey-4-white-is-0.tif", "TIFF, 4 bit grey, white is 0, packbits", "grey-4",
         tiffcp(tiff(base(4, 1, 0), [packed(15 - GREY // 16, 4).tobytes()]), "-c", "packbits"))
    keep("grey-4-tiled.tif", "TIFF, 4 bit grey, tiled", "grey-4",
         tiff(base(4, 1, 1, t322=(4, [16]), t323=(4, [16])),
              [packed(tile // 16, 4).tobytes() for tile in tiles(GREY, 16, 16)], tiled=True))
    keep("rgb-4.tif", "TIFF, 4 bit RGB", "colour-4", tiff(base(4, 3, 2), [packed(COLOUR // 16, 4).tobytes()]))

    # Colours.
    keep("palette-1.tif", "TIFF, palette of 2", "palette-1",
         tiff(base(1, 1, 3, t320=colour_map(PALETTE[:2])), [packed(lines, 1).tobytes()]))
    keep("palette-4.tif", "TIFF, palette of 16", "palette-4",
         tiff(base(4, 1, 3, t320=colour_map(PALETTE[:16])), [packed(GREY // 16, 4).tobytes()]))
    keep("palette-8.tif", "TIFF, palette of 256, LZW", "palette-8",
         tiffcp(tiff(base(8, 1, 3, t320=colour_map(PALETTE)), [GREY.tobytes()]), "-c", "lzw:2", "-r", "10"))
    keep("palette-8-tiled.tif", "TIFF, palette of 256, tiled", "palette-8",
         tiff(base(8, 1, 3, t320=colour_map(PALETTE), t322=(4, [16]), t323=(4, [16])),
              [tile.tobytes() for tile in tiles(GREY, 16, 16)], ">", tiled=True))
    keep("cmyk-8.tif", "TIFF, 8 bit CMYK", "cmyk", tiff(base(8, 4, 5), [CMYK.tobytes()]))
    keep("cmyk-8-planar.tif", "TIFF, 8 bit CMYK, planes apart", "cmyk",
         tiff(base(8, 4, 5, t284=(3, [2])), [CMYK[:, :, plane].tobytes() for plane in range(4)]))
    keep("rgba-8.tif", "TIFF, 8 bit RGB with transparency", "colour-alpha",
         tiff(base(8, 4, 2, t338=(3, [2])), [numpy.dstack([COLOUR, ALPHA]).tobytes()]))
    keep("grey-alpha-8.tif", "TIFF, 8 bit grey with transparency", "grey-alpha",
         tiff(base(8, 2, 1, t338=(3, [2])), [numpy.dstack([GREY, ALPHA]).tobytes()]))
    keep("lab-8.tif", "TIFF, CIE L*a*b*", "refused", tiff(base(8, 3, 8), [COLOUR.tobytes()]))
    keep("float-32.tif", "TIFF, 32 bit floating point", "refused",
         tiff(base(32, 1, 1, t339=(3, [3])), [GREY.astype("<f4").tobytes()]))

    # Colour at half the resolution, in blocks of 2 x 2 pixels and their colour.
    ycbcr = numpy.asarray(Image.fromarray(numpy.pad(COLOUR, [(0, 1), (0, 1), (0, 0)], mode="edge")).convert("YCbCr"))
    blocks = ycbcr.reshape(19, 2, 27, 2, 3).transpose(0, 2, 1, 3, 4)
    light = blocks[..., 0].reshape(19, 27, 4)
    mean = blocks[..., 1:].astype(float).mean(axis=(2, 3)).round().astype(numpy.uint8)
    halved = numpy.concatenate([light, mean], axis=2).astype(numpy.uint8).tobytes()
    keep("ycbcr-420.tif", "TIFF, YCbCr 4:2:0 without JPEG", "colour", tiff(base(8, 3, 6, t530=(3, [2, 2])), [halved]), 3)
    keep("ycbcr-420-turned.tif", "TIFF, YCbCr 4:2:0 without JPEG, orientation 3", "colour-turned",
         tiff(base(8, 3, 6, t274=(3, [3]), t530=(3, [2, 2])), [halved], ">"), 3)

    # JPEG in TIFF.
    keep("jpeg-grey.tif", "TIFF, JPEG, grey", "grey", tiffcp(grey, "-r", "16", "-c", "jpeg:95"), 1.5)
    keep("jpeg-ycbcr.tif", "TIFF, JPEG, YCbCr 4:2:0", "colour", tiffcp(colour, "-r", "16", "-c", "jpeg:95"), 3)
    keep("jpeg-rgb.tif", "TIFF, JPEG, RGB", "colour", tiffcp(colour, "-r", "16", "-c", "jpeg:r:95"), 2)
    keep("jpeg-ycbcr-tiled.tif", "TIFF, JPEG, YCbCr, tiled", "colour",
         tiffcp(colour, "-t", "-w", "32", "-l", "32", "-c", "jpeg:95"), 3)
    cmyk = tiff(base(8, 4, 5), [CMYK.tobytes()])
    keep("jpeg-cmyk.tif", "TIFF, JPEG, CMYK", "cmyk", tiffcp(cmyk, "-r", "16", "-c", "jpeg:95"), 4)
    keep("jpeg-grey-turned.tif", "TIFF, JPEG, grey, orientation 3", "grey",
         tiffcp(tiff(base(8, 1, 1, t274=(3, [3])), [turned(GREY, 3).tobytes()]), "-r", "16", "-c", "jpeg:95"), 1.5)

    stream = pillow(GREY, "JPEG", quality=95)
    keep("jpeg-old.tif", "TIFF, JPEG of the old kind, one stream", "grey",
         tiff(base(8, 1, 1, t259=(3, [6]), t513=(4, [8]), t514=(4, [len(stream)])), [stream]), 1.5)

    # CCITT. tiffcp writes white as 0; Pillow writes the run-length kind.
    for name, options in [("g3", ["g3:1d"]), ("g3-2d", ["g3:2d"]), ("g3-aligned", ["g3:1d:fill"]),
                          ("g3-2d-aligned", ["g3:2d:fill"]), ("g4", ["g4"])]:
        for source, white in [(white_is_0, ""), (black_is_0, "-black-is-0")]:
            for order, fill in [("msb2lsb", ""), ("lsb2msb", "-fill-order-2")]:
                keep(f"{name}{white}{fill}.tif",
                     f"TIFF, {name.upper().replace('-2D', ' 2-D').replace('-ALIGNED', ', byte-aligned')}"
                     f"{', black is 0' if white else ''}{', fill order 2' if fill else ''}",
                     "bilevel", tiffcp(source, "-r", "10", "-f", order, "-c", options[0]))
    whole = tiffcp(white_is_0, "-c", "g4")
    start, length = (int(Image.open(io.BytesIO(whole)).tag_v2[tag][0]) for tag in (273, 279))
    coded = "".join(f"{byte:08b}" for byte in whole[start:start + length])
    coded = coded[:coded.rindex("000000000001" * 2)]
    coded += "0" * (-len(coded) % 8)
    keep("g4-no-end.tif", "TIFF, G4 without its end-of-block code", "bilevel",
         tiff(base(1, 1, 0, t259=(3, [4])), [int(coded, 2).to_bytes(len(coded) // 8, "big")]))
    rle = pillow(Image.fromarray(BILEVEL).convert("1", dither=0), "TIFF", compression="tiff_ccitt")
    keep("rle.tif", "TIFF, CCITT run lengths", "bilevel", rle)
    keep("g4-tiled.tif", "TIFF, G4, tiled", "bilevel", tiffcp(white_is_0, "-t", "-w", "16", "-l", "16", "-c", "g4"))
    keep("g3-tiled.tif", "TIFF, G3, tiled", "bilevel", tiffcp(white_is_0, "-t", "-w", "32", "-l", "16", "-c", "g3"))
    keep("bilevel-tiled.tif", "TIFF, 1 bit, tiled", "bilevel", tiffcp(white_is_0, "-t", "-w", "16", "-l", "16"))
    wide = tiff(base(1, 1, 0, 2700, 24), [packed(1 - WIDE // 255, 1).tobytes()])
    for name in ["g3:1d", "g3:2d", "g4"]:
        plain = name.replace(":1d", "").replace(":", "-")
        keep(f"{plain}-wide.tif", f"TIFF, {plain.upper()}, 2,700 pixels wide", "wide", tiffcp(wide, "-c", name))

    # Orientation, by every path: 8-bit, bits, G4, G3.
    for orientation in range(2, 9):
        part = turned(lines, orientation)
        source = tiff(base(1, 1, 0, part.shape[1], part.shape[0], t274=(3, [orientation])), [packed(1 - part, 1).tobytes()])
        keep(f"g4-turned-{orientation}.tif", f"TIFF, G4, orientation {orientation}", "bilevel", tiffcp(source, "-c", "g4"))
        keep(f"g3-turned-{orientation}.tif", f"TIFF, G3, orientation {orientation}", "bilevel", tiffcp(source, "-c", "g3"))
    part = turned(GREY, 8)
    keep("grey-8-turned-8.tif", "TIFF, 8 bit grey, orientation 8", "grey",
         tiff(base(8, 1, 1, part.shape[1], part.shape[0], t274=(3, [8])), [part.tobytes()]))
    part = turned(GREY, 6)
    keep("grey-4-turned-6.tif", "TIFF, 4 bit grey, orientation 6", "grey-4",
         tiff(base(4, 1, 1, part.shape[1], part.shape[0], t274=(3, [6])), [packed(part // 16, 4).tobytes()]))

    # Several pages.
    pages = [Image.fromarray(GREY), Image.fromarray(255 - GREY), Image.fromarray(255 - GREY)]
    keep("pages-3.tif", "TIFF, 3 pages", "grey", pillow(pages[0], "TIFF", save_all=True, append_images=pages[1:]))
    bits = [page.convert("1") for page in (Image.fromarray(BILEVEL), *pages[1:])]
    keep("g3-pages-3.tif", "TIFF, G3, 3 pages", "bilevel",
         pillow(bits[0], "TIFF", save_all=True, append_images=bits[1:], compression="group3"))


make_png()
make_jpeg()
make_tiff()
with open(os.path.join(HERE, "files.csv"), "w", newline="") as file:
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(["file", "what", "picture", "tolerance"])
    writer.writerows(listed)
print(f"{len(listed)} files, {sum(os.path.getsize(os.path.join(HERE, name)) for name, *_ in listed)} bytes")
