"""Read mutated palette files by the thousand: each is read or refused in a sentence, quickly.

Seeds are rows of the demo palettes in each encoding and delimiter. A mutation flips bytes, cuts, doubles or
swaps slices, or puts a nasty cell into the table. What is read is also written and read again.

Run: python tests/benchmarks/fuzz_palette.py [INPUTS] [SEED]
"""

import codecs
import random
import sys
import time
import traceback
from dataclasses import replace
from pathlib import Path

from blendkit.errors import BlendkitError
from blendkit.palette import demo_palette_path
from blendkit.palette.palette import palette_from_sheet
from blendkit.palette.table import Sheet, decode_sheet, encode_sheet

NASTY = (
    "", " ", "nan", "inf", "-inf", "1e999", "-1e-999", "0x10", "1_0", "1,5", "1.5", "1.234,5", "٣", "−5", "100",
    "100.0001", "-0", "=1+1", "'=1", "''", '"', "#", "#fff", "#gggggg", "\x00", "\n", "\r", "\ud7ff", "é" * 300,
    "marker", "PAPER", "ink", "ribbon", "D65", "10", "2", "3", "4", "50%", "1", "0.5", "foil", "Snow Gate smooth",
    "kin one", "picnic check rose", "٪", "9" * 400,
)  # fmt: skip


def seeds() -> list[bytes]:
    """Give small palettes in every way of writing."""
    lane = decode_sheet(Path(demo_palette_path()).read_bytes(), "lane")
    rows = [*lane.rows[:3], *lane.rows[36:48], *lane.rows[60:75]]
    sheet = replace(lane, rows=tuple(rows))
    made = []
    for delimiter, encoding, newline in (
        (",", "utf-8", "\n"), (";", "utf-8-sig", "\r\n"), ("\t", "utf-16-le", "\r\n"), (";", "utf-16-be", "\n"),
    ):  # fmt: skip
        bom = encoding.startswith("utf-16")
        made.append(
            encode_sheet(replace(sheet, delimiter=delimiter, encoding=encoding, newline=newline, bom=bom))
        )
    return made


def with_nasty_cells(data: bytes, chance: random.Random) -> bytes:
    """Put nasty cells into the table."""
    sheet = decode_sheet(data, "seed")
    rows = [list(row) for row in sheet.rows]
    header = list(sheet.header)
    for _ in range(chance.randint(1, 4)):
        row = header if chance.random() < 0.1 else chance.choice(rows)
        row[chance.randrange(len(row))] = chance.choice(NASTY)
    changed = Sheet(**{**vars(sheet), "header": tuple(header), "rows": tuple(map(tuple, rows))})
    return encode_sheet(changed)


def mutated(data: bytes, chance: random.Random) -> bytes:
    """Give the bytes with one to three mutations."""
    if chance.random() < 0.5:
        data = with_nasty_cells(data, chance)
    for _ in range(chance.randint(0, 3)):
        first, second = sorted(chance.randrange(len(data) + 1) for _ in range(2))
        way = chance.randrange(5)
        if way == 0:
            data = data[:first] + bytes([chance.randrange(256)]) + data[first + 1 :]
        elif way == 1:
            data = data[:first] + data[min(second, first + chance.randrange(40)) :]
        elif way == 2:
            data = data[:second] + data[first : first + 200] + data[second:]
        elif way == 3:
            data = (
                chance.choice((codecs.BOM_UTF8, codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE, b"sep=;\n")) + data
            )
        else:
            data = data[:first] + bytes(chance.choice(b',;\t"\r\n\0=') for _ in range(5)) + data[first:]
    return data


def main() -> None:
    """Read the inputs and print the counts."""
    inputs = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    chance = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 1)
    start = seeds()
    read = refused = failed = 0
    slowest = 0.0
    for _ in range(inputs):
        data = mutated(chance.choice(start), chance)
        began = time.perf_counter()
        try:
            palette = palette_from_sheet(decode_sheet(data, "fuzz.csv"))
            again = palette_from_sheet(decode_sheet(encode_sheet(palette.sheet), "fuzz.csv"))
            if again.items != palette.items:
                raise AssertionError("written and read again, it is another palette")
            read += 1
        except BlendkitError as error:
            refused += 1
            if not error.problems:
                failed += 1
                print("no problem named:", data)
        except Exception:
            failed += 1
            print(data)
            traceback.print_exc()
        slowest = max(slowest, time.perf_counter() - began)
    print(
        f"{inputs} inputs: {read} read, {refused} refused in a sentence, {failed} failed; slowest {slowest:.3f} s"
    )


if __name__ == "__main__":
    main()
