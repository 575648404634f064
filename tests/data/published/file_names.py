"""Which file names PyPI pathvalidate and npm sanitize-filename leave as they are: `python3 file_names.py > file_names.csv`.

Names are those of the two packages' own tests and of Microsoft's list of devices. Needs pathvalidate, and node with
sanitize-filename in the current folder's node_modules or NODE_PATH.
"""

import csv
import json
import subprocess
import sys

from pathvalidate import is_valid_filename

DEVICES = ["CON", "PRN", "AUX", "NUL"] + [f"{port}{n}" for port in ("COM", "LPT") for n in range(1, 10)]
NAMES = (
    ["the quick brown fox jumped over the lazy dog.mp3", "résumé", "valid name.mp3", "hello\0world", "hello\nworld"]
    + ["h?w", "h/w", "h*w", "mr.", "mr..", "mr ", "mr  ", ".", "..", "./", "../", "/..", "/../", "*.|."]
    + ["con", "COM1", "PRN.", "aux.txt", "LPT9.asdfasdf", "LPT10.txt", "foo?.txt", "a" * 255, "a" * 256, "a" * 300]
    + ["新しいテキスト ドキュメント.txt", "新規 Microsoft Excel Worksheet.xlsx", "abc", "a.b", "a..b", "-a", "_a", ".a"]
    + [f"a{c}b" for c in ':*?"<>|/\\\0!#$&\'_=~^@`[]+-;{},.()% ']
    + [f"a{chr(c)}b" for c in range(1, 32)]
    + [name for device in DEVICES for name in (device, device.lower(), f"{device}.txt", f"{device}.tar.gz", f"{device}X")]
)
PROGRAM = """
const sanitize = require("sanitize-filename");
const names = JSON.parse(require("fs").readFileSync(0, "utf8"));
console.log(JSON.stringify(names.map((name) => sanitize(name) === name)));
"""


def main():
    done = subprocess.run(["node", "-e", PROGRAM], input=json.dumps(NAMES), capture_output=True, text=True, check=True)
    kept = json.loads(done.stdout)
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(["name_as_json", "pathvalidate", "sanitize_filename"])
    for name, is_kept in zip(NAMES, kept):
        is_valid = is_valid_filename(name, platform="universal")
        writer.writerow([json.dumps(name), "yes" if is_valid else "no", "yes" if is_kept else "no"])


main()
