#!/usr/bin/env python3
"""Copies test images of Pillow's source distribution here and writes down what Pillow itself reads in them.

Usage: make.py FOLDER, the unpacked source distribution of Pillow 13.0.0 from PyPI, with Pillow 13.0.0 installed.
files.csv: file, width, height, channels, sha256 of the samples (lossless) or a PNG beside it (lossy), and its place.
"""
import csv, hashlib, os, shutil, sys, warnings
import numpy
from PIL import Image, ImageOps

HERE = os.path.dirname(os.path.abspath(__file__))
LOSSLESS = """
g4_orientation_1.tif g4_orientation_2.tif g4_orientation_3.tif g4_orientation_4.tif g4_orientation_5.tif
g4_orientation_6.tif g4_orientation_7.tif g4_orientation_8.tif g4-fillorder-test.tif g4-multi.tiff
12bit.cropped.tif 12in16bit.tif 16bit.cropped.tif 16bit.deflate.tif 16bit.MM.cropped.tif 16bit.MM.deflate.tif
tiff_strip_planar_16bit_RGB.tiff tiff_tiled_planar_16bit_RGB.tiff copyleft.tiff tiff_wrong_bits_per_sample_2.tiff
1_trns.png rgb_trns.png p_16.png bitmap_font_2_basic.png
""".split()
# A part of the picture, left, top, right, bottom, is enough where it is large.
LOSSY = {"tiff_tiled_cmyk_jpeg.tif": None, "tiff_strip_cmyk_jpeg.tif": None, "pil_sample_cmyk.jpg": None,
         "tiff_strip_ycbcr_jpeg_2x2_sampling.tif": (160, 96, 288, 192),
         "tiff_tiled_ycbcr_jpeg_2x2_sampling.tif": (160, 96, 288, 192)}
# Files that Pillow refuses.
BAD = "libtiff_segfault.tif oom-225817ca0f8c663be7ab4b9e717b02c661e66834.tif seek_too_large.tif truncated_jpeg.jpg".split()


def as_pillow_reads(path):
    """The picture as 8-bit grey or RGB: transparency on white, no channels without colour, 16 bits cut to 8."""
    image = Image.open(path)
    image.load()
    image = ImageOps.exif_transpose(image)
    if image.mode.startswith("I"):
        # Our own rule: of 16 bits the upper 8, of 12 bits in 16 the upper 8 of the 12.
        values = numpy.asarray(image).astype(int)
        return (values >> (4 if values.max() < 4096 else 8)).astype(numpy.uint8)
    if image.mode in ("LA", "PA", "RGBA") or "transparency" in image.info:
        white = Image.new("RGBA", image.size, (255, 255, 255, 255))
        image = Image.alpha_composite(white, image.convert("RGBA"))
    colour = numpy.asarray(image.convert("RGB"))
    return colour[:, :, 0] if (colour == colour[:, :, :1]).all() else colour


def main():
    images = os.path.join(sys.argv[1], "Tests", "images")
    shutil.copy(os.path.join(sys.argv[1], "LICENSE"), HERE)
    rows = []
    for name in [*LOSSLESS, *LOSSY, *BAD]:
        shutil.copyfile(os.path.join(images, name), os.path.join(HERE, name))
        if name in BAD:
            rows.append((name, "", "", "", "", ""))
            continue
        pixels = as_pillow_reads(os.path.join(images, name))
        height, width, *channels = pixels.shape
        expected, place = hashlib.sha256(numpy.ascontiguousarray(pixels).tobytes()).hexdigest(), ""
        if name in LOSSY:
            left, top, right, bottom = LOSSY[name] or (0, 0, width, height)
            expected, place = f"{name}.png", f"{left} {top}"
            Image.fromarray(pixels[top:bottom, left:right]).save(os.path.join(HERE, expected), optimize=True)
        rows.append((name, width, height, channels[0] if channels else 1, expected, place))
    with open(os.path.join(HERE, "files.csv"), "w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["file", "width", "height", "channels", "expected", "place"])
        writer.writerows(rows)


warnings.simplefilter("ignore")
main()
