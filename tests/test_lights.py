"""A light is told of in one place, and so is every type of file that the page lets one choose."""

import csv
import io
import json
import os
import shutil
import subprocess
import sys

import numpy as np
import pytest
from PIL import Image

from blendkit.desk.app import FACTS
from blendkit.exchange import read_exchange
from blendkit.picture.reading import read_picture
from blendkit.spectrum import LIGHTS, WAVELENGTHS_NM, reflectance_from_lab, reflectance_to_xyz1

NEW = '        "F2": Light("office tube", "under an office tube", "FL2"),\n'

ASK = """
import json, sys
from pathlib import Path
from blendkit.advice.papers import find_matches
from blendkit.desk.app import facts_script
from blendkit.palette import read_palette
from blendkit.plan.papers import find_echoes
from blendkit.inked import ink_drawer
from blendkit.project.part_colours import colour_parts
from blendkit.plan.papers import check_papers
from blendkit.project.records import Project, ProjectPaper, ProjectPart
from blendkit.report.report import write_report

palette = read_palette("drawer.csv")
write_report(find_matches(palette, "ink on it"), Path("match.pdf"))
parts = (ProjectPart("one", at=((1.0, 1.0),), base="ink on it"),)
project = Project(image="a.png", name="a", parts=parts, paper="white", papers=(ProjectPaper("accent", "card"),))
inked = ink_drawer(palette, "white")
findings = check_papers(project, inked, colour_parts(project, inked))
print(json.dumps({"page": facts_script(), "sheet": [one.words for one in findings]}))
"""


@pytest.fixture(scope="module")
def house(root, tmp_path_factory):
    """A copy of the package with one light more: one line of one source file, and the table derived anew."""
    home = tmp_path_factory.mktemp("house")
    shutil.copytree(root / "blendkit", home / "blendkit", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(root / "palettes", home / "palettes")
    (home / "tests" / "derive").mkdir(parents=True)
    shutil.copy(root / "tests" / "derive" / "derive_cie_weights.py", home / "tests" / "derive")
    source = home / "blendkit" / "spectrum.py"
    text = source.read_text(encoding="utf-8")
    last = '        "F11": '
    assert text.count(last) == 1
    source.write_text(text.replace(last, NEW + last), encoding="utf-8")
    run(home, "tests/derive/derive_cie_weights.py")
    (home / "drawer.csv").write_text(metamers(), encoding="utf-8")
    return home


def run(home, *arguments):
    environment = {**os.environ, "PYTHONPATH": str(home), "COLUMNS": "200"}
    answer = subprocess.run(
        [sys.executable, "-W", "ignore", *arguments],
        cwd=home,
        env=environment,
        capture_output=True,
        text=True,
    )
    assert answer.returncode == 0, answer.stderr
    return answer.stdout


def metamers():
    """A card and an ink that look alike under D50 and nowhere else: their spectra differ by a metameric black."""
    base = reflectance_from_lab([60.0, 5.0, 10.0])
    basis = np.stack([reflectance_to_xyz1(row) for row in np.eye(36)], axis=1)
    wave = np.cos(np.arange(36) * 1.1)
    black = wave - np.linalg.pinv(basis) @ (basis @ wave)
    other = base + black * 0.9 * min(base.min(), 1 - base.max()) / np.abs(black).max()
    out = io.StringIO()
    table = csv.writer(out)
    table.writerow(["name", "kind", "on", *WAVELENGTHS_NM])
    table.writerow(["card", "paper", "", *np.round(other, 6)])
    table.writerow(["white", "paper", "", *np.full(36, 0.9)])
    table.writerow(["ink on it", "marker", "white", *np.round(base, 6)])
    return out.getvalue()


def test_a_light_that_is_added_in_one_source_file_is_offered_everywhere(house):
    import pypdfium2

    assert "F2" not in LIGHTS
    command = ("-m", "blendkit", "match", "ink on it", "--palette", "drawer.csv")
    assert "office tube" in run(house, *command)
    record = json.loads(run(house, *command, "--json"))
    card = next(one for one in record["matches"] if one["name"] == "card")
    assert "F2" in card["by_light"]
    assert "F2" in card["parts_under"]
    asked = json.loads(run(house, "-c", ASK))
    assert '["F2", "Office tube"]' in asked["page"]
    assert any("under an office tube" in words for words in asked["sheet"])
    with pypdfium2.PdfDocument(house / "match.pdf") as pdf:
        text = " ".join(page.get_textpage().get_text_range() for page in pdf)
    assert "office tube" in " ".join(text.split())
    palette = "name,kind,L,a,b,light\nFern,marker,50,-20,20,F2\n"
    (house / "typed.csv").write_text(palette, encoding="utf-8")
    assert "Fern" in run(house, "-m", "blendkit", "pair", "Fern", "--palette", "typed.csv", "--json")


@pytest.mark.parametrize("ending", FACTS["PICTURES"].split(","))
def test_every_picture_that_the_page_lets_one_choose_is_read(ending, tmp_path):
    Image.new("RGB", (40, 30), "#c8553d").save(tmp_path / f"patch{ending}")
    assert read_picture(tmp_path / f"patch{ending}").width_px == 40


SAMPLES = {
    ".csv": "name,hex\nFern,#667744\n",
    ".tsv": "name\thex\nFern\t#667744\n",
    ".gpl": "GIMP Palette\nName: a\n#\n102 119 68\tFern\n",
}
CGATS = (
    "CGATS.17\nNUMBER_OF_FIELDS 4\nBEGIN_DATA_FORMAT\nSAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
    "NUMBER_OF_SETS 1\nBEGIN_DATA\nFern 48 -12 24\nEND_DATA\n"
)


@pytest.mark.parametrize("ending", FACTS["PALETTES"].split(","))
def test_every_palette_that_the_page_lets_one_choose_is_read(ending, tmp_path):
    (tmp_path / f"a{ending}").write_text(SAMPLES.get(ending, CGATS), encoding="utf-8")
    assert [marker.name for marker in read_exchange(tmp_path / f"a{ending}").palette.markers] == ["Fern"]


def test_the_page_names_no_type_of_file_but_those(root):
    """Only the description of a chart, which its own reader reads, stands in a script."""
    for script in (root / "blendkit" / "desk" / "assets").rglob("*.js"):
        text = script.read_text(encoding="utf-8")
        for ending in (".csv", ".gpl", ".cgats", ".cxf", ".jpg", ".png,", ".webp"):
            assert f'"{ending}' not in text, script.name
            assert f",{ending}" not in text, script.name
