"""Ways to damage a file: bytes turned, cut, doubled and swapped; words and numbers put in place of others."""

import random
import re

NASTY_WORDS = (
    "", " ", "nan", "inf", "-inf", "1e999", "-1e-999", "0x10", "1_0", "1,5", "1.234,5", "٣", "−5", "100.0001",
    "-0", "=1+1", "''", '"', '"""', "#", "#fff", "#gggggg", "\x00", "\n", "\r\n", "\ud7ff", "é" * 300, "9" * 400,
    "-1", "0", "1", "2", "37", "1e308", "true", "null", "{}", "[]", "[[", "]]", "{", "}", "=", "[" * 300,
    "{a=" * 90,
    "1979-05-27", "07:32:00", "\\u0000", "\\", "../../x", "/dev/null", "<script>", "D65", "A", "SPECTRAL_NM380",
    "BEGIN_DATA", "END_DATA", "END_DATA_FORMAT", "NUMBER_OF_SETS 3", "LAB_L", "rest", "at", "name", "marker",
    "paper",
    "BK1:5490G8:1/1:A4P:24X18:S12-2", "\u202e", "\U0001f994", "1:30", "99:99", "center", "-9223372036854775809",
)  # fmt: skip
DEEP = ("[", "{", '{"a":', "a=[", "[[a.", "a." * 50, "(", "a={b=")

_WORD = re.compile(rb"[^\s,;=\[\]{}\"':]+")


def turned_bytes(data: bytes, chance: random.Random) -> bytes:
    """One to four of the ways in which a disk, a mailer or an editor spoils a file."""
    for _ in range(chance.randint(1, 4)):
        size = len(data)
        first, second = sorted(chance.randrange(size + 1) for _ in range(2))
        way = chance.randrange(8)
        if way == 0:
            data = data[:first] + bytes([chance.randrange(256)]) + data[first + 1 :]
        elif way == 1:
            data = data[:first] + data[min(second, first + chance.randrange(1, 60)) :]
        elif way == 2:
            data = data[:second] + data[first : first + 200] + data[second:]
        elif way == 3:
            data = data[:first]
        elif way == 4:
            data = data[:first] + chance.randbytes(chance.randrange(1, 9)) + data[first:]
        elif way == 5 and size:
            data = data[:first] + bytes([data[first % size] ^ (1 << chance.randrange(8))]) + data[first + 1 :]
        elif way == 6:
            data = data[:first] + bytes(second - first if second - first < 200 else 200) + data[second:]
        else:
            middle = data[first:second]
            data = data[:first] + middle[len(middle) // 2 :] + middle[: len(middle) // 2] + data[second:]
    return data


def turned_words(data: bytes, chance: random.Random) -> bytes:
    """Put nasty words in place of one to four words of a text."""
    for _ in range(chance.randint(1, 4)):
        words = list(_WORD.finditer(data))
        if not words:
            return data
        word = chance.choice(words)
        way = chance.randrange(4)
        if way == 0:
            new = chance.choice(words).group()
        elif way == 1:
            new = str(chance.choice((-1, 1)) * 10 ** chance.uniform(-12, 18)).encode()
        else:
            new = chance.choice(NASTY_WORDS).encode("utf-8", "replace")
        data = data[: word.start()] + new + data[word.end() :]
    return data


def turned_lines(data: bytes, chance: random.Random) -> bytes:
    """Swap, drop, double or move lines."""
    lines = data.splitlines(keepends=True)
    for _ in range(chance.randint(1, 3)):
        if not lines:
            break
        at, to = chance.randrange(len(lines)), chance.randrange(len(lines))
        way = chance.randrange(4)
        if way == 0:
            lines[at], lines[to] = lines[to], lines[at]
        elif way == 1:
            del lines[at]
        elif way == 2:
            lines.insert(to, lines[at])
        else:
            lines.insert(at, lines.pop(to))
    return b"".join(lines)


def turned_text(data: bytes, chance: random.Random) -> bytes:
    """Damage a text in any of the ways, now and then several, rarely by nesting without end."""
    kind = chance.random()
    if kind < 0.01:
        data = data + chance.choice(DEEP).encode() * chance.choice((10, 200, 3000, 60_000))
    if kind < 0.45:
        data = turned_words(data, chance)
    if 0.35 < kind < 0.65:
        data = turned_lines(data, chance)
    if kind > 0.55:
        data = turned_bytes(data, chance)
    if kind > 0.985:
        data = data.decode("utf-8", "replace").encode(chance.choice(("utf-16", "utf-16-be", "utf-8-sig")))
    return data


def cut_down(data: bytes, most: int, chance: random.Random) -> bytes:
    """Keep the first lines and a run of later ones, so that small files are tried as well."""
    if len(data) <= most:
        return data
    lines = data.splitlines(keepends=True)
    head = lines[: chance.randint(1, 14)]
    at = chance.randrange(len(lines))
    return b"".join(head + lines[at : at + chance.randint(1, 14)])[:most]
