"""Count how often the adviser names a family's own members, on simulated families of dyes.

Run ``python tests/derive/evaluate_families.py`` from the project's root; it prints the table of
tests/derive/README.md. The files say what they are: tests/data/README.md.
"""

import csv
import io
import sys
from pathlib import Path
from typing import NamedTuple

from blendkit.advice.pairs import find_companions
from blendkit.inked import ink_drawer
from blendkit.palette import Palette, read_palette

DATA = Path(__file__).parents[1] / "data"
FILES = ("dye_families.csv", "dye_families_seen.csv", "dye_families_unseen.csv")
LEAST_STEP = 5.5
"""L* below which a fellow is no shadow: bases whose own fellows are all nearer don't count."""


class Count(NamedTuple):
    """Bases that have a fellow on that side; own fellow first, among two; a grey first; greys at most."""

    bases: int
    first: int
    among_two: int
    grey_first: int
    most_greys: int


def family_of(name: str) -> str:
    """Family = the name without its number."""
    return name.rpartition(" ")[0]


def read_families(file: Path, named: bool, into: Path) -> Palette:
    """Read a file of families, with a family column where *named*."""
    rows = list(csv.DictReader(io.StringIO(file.read_text(encoding="utf-8"))))
    if named:
        rows = [{**row, "family": family_of(row["name"]) if row["kind"] == "marker" else ""} for row in rows]
    with (into / file.name).open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return read_palette(into / file.name)


def count_fellows(palette: Palette, *, lighter: bool = False, missed: list[str] | None = None) -> Count:
    """Ask for the companions of every marker that isn't a grey."""
    inked = ink_drawer(palette)
    lightness = {marker.name: inked.lab[row, 0] for row, marker in enumerate(inked.markers)}
    answers = []
    for name, base in lightness.items():
        others = [other for other in lightness if other != name and family_of(other) == family_of(name)]
        steps = [(lightness[other] - base) * (1 if lighter else -1) for other in others]
        if "grey" in name or max(steps) < LEAST_STEP:
            continue
        found = find_companions(inked, inked.asked(inked.row(name)), lighter=lighter, count=5)
        names = [one.name if one.how == "marker" else one.how for one in found] or ["nothing"]
        answers.append([family_of(one) if "grey" not in one else "grey" for one in names])
        own = [one == family_of(name) for one in answers[-1]]
        answers[-1] = ["own" if mine else one for mine, one in zip(own, answers[-1], strict=True)]
        if missed is not None and not own[0]:
            missed.append(f"{name}: {', '.join(f'{one.name} {one.score:.0f}' for one in found[:3])}")
    return Count(
        len(answers),
        sum(one[0] == "own" for one in answers),
        sum("own" in one[:2] for one in answers),
        sum(one[0] == "grey" for one in answers),
        max(one.count("grey") for one in answers),
    )


def main() -> None:
    """Print the table."""
    import tempfile

    for file in FILES if len(sys.argv) == 1 else sys.argv[1:]:
        for named in (False, True):
            with tempfile.TemporaryDirectory() as into:
                palette = read_families(DATA / file, named, Path(into))
            for lighter in (False, True):
                missed: list[str] = []
                count = count_fellows(palette, lighter=lighter, missed=missed)
                side = "lights" if lighter else "shadows"
                print(
                    f"| {file} | {'read' if named else 'not read'} | {side} | " + " | ".join(map(str, count))
                )
                if len(sys.argv) > 1:
                    print("    " + "\n    ".join(missed))


if __name__ == "__main__":
    main()
