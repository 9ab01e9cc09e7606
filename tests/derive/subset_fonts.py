"""Cut the two fonts of the printed sheets from Noto Sans, and rename them.

Needs fonttools and Noto Sans Regular and Bold as packed by Debian 12 (fonts-noto-core). Run::

    python tests/derive/subset_fonts.py FOLDER_WITH_NOTO_SANS

Latin, Greek and Cyrillic with their accents, punctuation, sub- and superscripts, currency signs and a few
arrows and signs stay; everything else comes from other fonts (see blendkit/page/typeface.py). The family is
renamed so that the sheet never mixes with another Noto Sans installed on the computer. The licence (SIL Open
Font License 1.1) lies beside the fonts; it reserves no font name.
"""

import sys
from pathlib import Path

from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

FAMILY = "Blendkit Sheet Sans"
RANGES = (
    "0020-007E 00A0-024F 0259-0259 02B0-02FF 0300-036F 0370-03FF 0400-04FF 1E00-1EFF 2000-206F 2070-209F "
    "20A0-20BF 2100-214F 2190-2199 2212-2212 2260-2260 2264-2265 25CF-25CF"
)
FEATURES = ["kern", "mark", "mkmk", "ccmp", "locl", "liga", "lnum", "tnum", "pnum"]
TARGET = Path(__file__).parents[2] / "blendkit" / "page" / "fonts"


def main(folder: Path) -> None:
    wanted = [
        code
        for span in RANGES.split()
        for code in range(int(span.split("-")[0], 16), int(span.split("-")[1], 16) + 1)
    ]
    for style in ("Regular", "Bold"):
        font = TTFont(folder / f"NotoSans-{style}.ttf", recalcTimestamp=False)
        options = Options(hinting=False, layout_features=FEATURES, name_IDs=["*"])
        subsetter = Subsetter(options)
        subsetter.populate(unicodes=wanted)
        subsetter.subset(font)
        names = font["name"]
        for record in list(names.names):
            text = {
                1: FAMILY,
                3: f"{FAMILY} {style}",
                4: f"{FAMILY} {style}",
                6: f"{FAMILY.replace(' ', '')}-{style}",
            }.get(record.nameID)
            if text is not None:
                names.setName(text, record.nameID, record.platformID, record.platEncID, record.langID)
        font.save(TARGET / f"SheetSans-{style}.ttf")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
