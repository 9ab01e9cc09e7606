"""Files in the habits of spreadsheets and instruments, with known colours: each is read right, refused, or named.

The habits are from memory of such files, not from a standard; the colours are invented.
"""

import numpy as np
import pytest

from blendkit.colour import hex_to_lab
from blendkit.errors import PaletteError
from blendkit.exchange import read_exchange
from blendkit.palette.doubts import find_doubts
from blendkit.palette.palette import palette_from_sheet
from blendkit.palette.table import decode_sheet

LAB = [50.5, 10.2, -20.1]
HEAD = "name,kind,L,a,b"


def _cgats(fields, *rows, keywords=""):
    return (
        f"CGATS.17\n{keywords}\nBEGIN_DATA_FORMAT\n{fields}\nEND_DATA_FORMAT\n"
        f"NUMBER_OF_SETS {len(rows)}\nBEGIN_DATA\n" + "\n".join(rows) + "\nEND_DATA\n"
    )


PALETTES = {
    "points": (f"{HEAD}\nmoss,marker,50.5,10.2,-20.1\n", LAB),
    "semicolons and decimal commas": ("name;kind;L;a;b\nmoss;marker;50,5;10,2;-20,1\n", LAB),
    "quoted decimal commas": (f'{HEAD}\nmoss,marker,"50,5","10,2","-20,1"\n', LAB),
    "tabs": ("name\tkind\tL\ta\tb\nmoss\tmarker\t50,5\t10,2\t-20,1\n", LAB),
    "sep line": ("sep=;\nname;kind;L;a;b\nmoss;marker;50,5;10,2;-20,1\n", LAB),
    "true minus": (f"{HEAD}\nmoss,marker,50.5,10.2,\N{MINUS SIGN}20.1\n", LAB),
    "starred headings": ("name,kind,L*,a*,b*\nmoss,marker,50.5,10.2,-20.1\n", LAB),
    "D50 by another heading": ("name,kind,L,a,b,Illuminant\nmoss,marker,50.5,10.2,-20.1,D50\n", LAB),
    "whole numbers": (f"{HEAD},note\nmoss,marker,50,10,-20,bright\n", [50, 10, -20]),
    "hex": ("name,kind,hex\nmoss,marker,#667744\n", hex_to_lab("#667744")),
    "hex of six digits without its mark": ("name,kind,hex\nmoss,marker,667744\n", hex_to_lab("#667744")),
}
REFUSED = {
    "unquoted decimal commas, spare columns": f"{HEAD},family,setup,note\nmoss,marker,50,5,10,2,20,1\n",
    "light and observer in one column": "name,kind,L,a,b,Illuminant/Observer\nmoss,marker,50,1,2,D65/10\n",
    "a light that isn't known": "name,kind,L,a,b,illuminant\nmoss,marker,50,1,2,D93\n",
    "noughts eaten": "name,kind,hex\nmoss,marker,123\n",
    "an exponent": "name,kind,hex\nmoss,marker,1e5\n",
    "an exponent of six": "name,kind,hex\nmoss,marker,1e5000\n",
    "8-bit Lab": f"{HEAD}\nmoss,marker,50,128,130\nfern,marker,60,120,140\nash,marker,70,128,128\n",
    "marker above white": "name,kind,400,420,440,460,480,500,520,540,560,580,600,620,640,660,680,700\n"
    "moss,marker" + ",1.4" * 16 + "\n",
}
SPECTRAL = " ".join(f"NM_{nm}" for nm in range(400, 701, 20))
EXCHANGE = {
    "plain": (_cgats("SAMPLE_NAME LAB_L LAB_A LAB_B", "moss 50.5 10.2 -20.1"), LAB),
    "commas": (_cgats("SAMPLE_NAME LAB_L LAB_A LAB_B", "moss 50,5 10,2 -20,1"), LAB),
    "per cent": (_cgats(f"SAMPLE_NAME {SPECTRAL}", "moss" + " 18.4187" * 16), [50, 0, 0]),
    "fractions": (_cgats(f"SAMPLE_NAME {SPECTRAL}", "moss" + " 0.184187" * 16), [50, 0, 0]),
    "dark, said to be per cent": (
        _cgats(f"SAMPLE_NAME {SPECTRAL.replace('NM_', 'PCT_')}", "moss" + " 1.1260" * 16), [10, 0, 0]),
}  # fmt: skip
LAB_FIELDS = "SAMPLE_NAME LAB_L LAB_A LAB_B"
EXCHANGE_REFUSED = {
    **{light: _cgats(LAB_FIELDS, "moss 50 1 2", keywords=f'ILLUMINANT "{light}"')
       for light in ("D93", "6500K", "D_65", "LED-V1")},
    "dark per cent unsaid": _cgats(f"SAMPLE_NAME {SPECTRAL}", "moss" + " 1.8" * 16),
    "densities": _cgats(f"SAMPLE_NAME {SPECTRAL}", "moss" + " 0.8" * 16, keywords='MEASUREMENT "DENSITY"'),
    "minus one for nothing": _cgats(f"SAMPLE_NAME {SPECTRAL}", "moss -1" + " 40" * 15),
    "two LAB_L": _cgats("SAMPLE_NAME LAB_L LAB_A LAB_B LAB_L", "moss 50 1 2 60"),
    "shares of 1 as red, green, blue": "name,r,g,b\nmoss,1,0,1\nfern,0,1,1\n",
}  # fmt: skip


@pytest.mark.parametrize("habit", PALETTES)
def test_a_palette_in_this_habit_reads_right(habit):
    text, lab = PALETTES[habit]
    palette = palette_from_sheet(decode_sheet(text.encode(), "drawer.csv"))
    np.testing.assert_allclose(palette.markers[0].lab, lab, atol=0.01)


@pytest.mark.parametrize("habit", REFUSED)
def test_a_palette_in_this_habit_is_refused(habit):
    with pytest.raises(PaletteError) as caught:
        palette_from_sheet(decode_sheet(REFUSED[habit].encode(), "drawer.csv"))
    assert caught.value.problems


@pytest.mark.parametrize("habit", EXCHANGE)
def test_an_exchange_file_in_this_habit_reads_right(habit):
    text, lab = EXCHANGE[habit]
    np.testing.assert_allclose(read_exchange(text.encode()).palette.markers[0].lab, lab, atol=0.02)


@pytest.mark.parametrize("habit", EXCHANGE_REFUSED)
def test_an_exchange_file_in_this_habit_is_refused(habit):
    with pytest.raises(PaletteError) as caught:
        read_exchange(EXCHANGE_REFUSED[habit].encode())
    assert caught.value.problems


def test_letters_beyond_ascii_stay_in_whatever_code_they_come():
    for code in ("utf-8", "utf-16", "cp1252"):
        text = _cgats(LAB_FIELDS, '"Käse „alt“" 50 1 2')
        assert read_exchange(text.encode(code)).palette.markers[0].name == "Käse „alt“"


def test_a_small_xyz_is_named_in_a_note():
    text = _cgats("SAMPLE_NAME XYZ_X XYZ_Y XYZ_Z", "moss 0.9 1.0 0.8")
    assert any("Y = 1 for white" in note for note in read_exchange(text.encode()).notes)


def test_a_swatch_lighter_than_its_paper_is_doubted():
    text = (
        "name,kind,L,a,b,on\nKraft,paper,60,8,20,\nmoss,marker,75,-5,20,Kraft\nfern,marker,55,-5,20,Kraft\n"
    )
    doubts = find_doubts(palette_from_sheet(decode_sheet(text.encode(), "drawer.csv")))
    assert len(doubts) == 1
    assert doubts[0].startswith("moss")
