"""Exchange files are read as other programs write them, and what a form can't hold is said."""

from pathlib import Path

import numpy as np
import pytest

from blendkit.colour import delta_e_2000, hex_to_lab, xyz1_to_lab
from blendkit.errors import PaletteError
from blendkit.exchange import export_palette, palette_colours, read_exchange
from blendkit.exchange.cgats import parse_tables
from blendkit.exchange.cgats_colours import parse_cgats
from blendkit.exchange.columns import parse_headings
from blendkit.exchange.records import read_text
from blendkit.palette import demo_palette_path, read_palette, write_palette
from blendkit.spectrum import WAVELENGTHS_NM, reflectance_to_lab, reflectance_to_xyz1, resample_reflectance

PUBLIC = sorted(Path("/usr/share/color/icc").glob("*.ti3"))
needs_public = pytest.mark.skipif(not PUBLIC, reason="Debian's package icc-profiles-free is not installed")

LANTERN = """\
name,kind,L,a,b,on,coats,family,note
Card,paper,96,0.2,1.5,,,,
Lantern glow,marker,84,8,52,Card,,Glow,
Lantern glow,marker,78,14,66,Card,2,Glow,
Deep moss,marker,38,-22,24,Card,,Moss,shade
Neon kite,marker,78,-95,70,Card,,,
"""


def lantern(tmp_path):
    path = tmp_path / "lantern.csv"
    path.write_text(LANTERN)
    return read_palette(path)


def cgats(fields, rows, *keywords):
    """A file as measuring programs write it."""
    lines = ["CGATS.17", *keywords, f"NUMBER_OF_FIELDS {len(fields.split())}", "BEGIN_DATA_FORMAT", fields]
    lines += ["END_DATA_FORMAT", f"NUMBER_OF_SETS {len(rows)}", "BEGIN_DATA", *rows, "END_DATA", ""]
    return "\r\n".join(lines).encode()


# --- CGATS.17 --------------------------------------------------------------------------------------------


@pytest.mark.gold
@needs_public
@pytest.mark.parametrize("path", PUBLIC, ids=lambda path: path.stem)
def test_public_characterisation_files_are_read_whole(path):
    """Every row is read, and its XYZ gives its own Lab.

    Source: the characterisation data of Fogra and of CGATS/SNAP/SWOP/GRACoL in Debian's icc-profiles-free.
    Their XYZ are rounded to 0.01 of 100, which in the darkest samples moves Lab by up to 0.3.
    """
    text = read_text(path.read_bytes(), path.name)
    _, tables = parse_tables(text, path.name)
    file = parse_cgats(text, path.name)
    declared = int(text.split("NUMBER_OF_SETS")[1].split()[0])
    assert len(file.colours) == declared >= 928
    fields = list(tables[0].fields)
    xyz = np.array([[float(row[fields.index(f"XYZ_{c}")]) for c in "XYZ"] for row in tables[0].rows])
    lab = np.array([colour.lab for colour in file.colours])
    difference = delta_e_2000(lab, xyz1_to_lab(xyz / 100))
    assert np.median(difference) < 0.03
    assert difference.max() < 0.5
    assert any("Device values" in note for note in file.notes)


@needs_public
def test_a_public_file_becomes_a_palette_with_its_paper():
    """The first sample of a public file, bare paper, can be named as the paper under all others."""
    path = next(path for path in PUBLIC if path.stem == "FOGRA39L")
    imported = read_exchange(path, on="1")
    assert len(imported.palette.papers) == 1
    assert imported.palette.paper("1").lab == pytest.approx([95, 0, -2])
    assert len(imported.palette.markers) == 1616
    assert imported.palette.markers[5].on == "1"


def test_xyz_alone_gives_the_lab_of_those_very_colours():
    """Tables of XYZ, of 100 or of 1, come back as the Lab of the spectra behind them."""
    spectra = np.random.default_rng(1).uniform(0.1, 0.9, (6, 1)) * np.linspace(0.4, 1, 36)
    xyz = reflectance_to_xyz1(spectra)
    for scale in (100, 1):
        rows = [f"{i} {x:.6f} {y:.6f} {z:.6f}" for i, (x, y, z) in enumerate(xyz * scale)]
        file = parse_cgats(cgats("SAMPLE_ID XYZ_X XYZ_Y XYZ_Z", rows).decode(), "x")
        assert np.array([c.lab for c in file.colours]) == pytest.approx(reflectance_to_lab(spectra), abs=0.01)


@pytest.mark.parametrize(
    "heading",
    [
        "SPECTRAL_NM{}",
        "SPECTRAL_NM_{}",
        "NM_{}",
        "nm{}",
        "SPECTRAL_{}",
        "SPEC_{}",
        "SPECTRAL_DEC{}",
        "R_{}",
        "{}nm",
    ],
)
@pytest.mark.parametrize("scale", [1, 100])
def test_spectra_are_read_however_they_are_headed(heading, scale):
    """Names of bands vary between programs, and so does the scale; the reflectance is the same."""
    if "DEC" in heading and scale == 100:
        heading = heading.replace("DEC", "PCT")
    nm = np.arange(400, 701, 20)
    values = 0.1 + 0.7 * (nm > 560) + 0.001 * np.arange(len(nm))
    fields = "SAMPLE_ID SAMPLE_NAME " + " ".join(heading.format(wave) for wave in nm)
    row = '1 "Rowan berry" ' + " ".join(f"{value * scale:.5f}" for value in values)
    colour = parse_cgats(cgats(fields, [row]).decode(), "x").colours[0]
    assert colour.name == "Rowan berry"
    assert colour.reflectance == pytest.approx(resample_reflectance(nm, values), abs=1e-4)


@pytest.mark.parametrize(("word", "scale"), [("SPECTRAL_PCT", 100), ("SPECTRAL_DEC", 1)])
def test_spectra_in_pairs_of_wavelength_and_value_are_read(word, scale):
    """CGATS.17 also allows SPECTRAL_NM and a value, again and again; the wavelengths stand in the rows."""
    nm = np.arange(380, 731, 10)
    values = np.linspace(0.005, 0.015, len(nm))
    fields = "SAMPLE_ID " + " ".join(f"SPECTRAL_NM {word}" for _ in nm)
    row = "7 " + " ".join(f"{a} {b * scale:.6f}" for a, b in zip(nm, values, strict=True))
    colour = parse_cgats(cgats(fields, [row]).decode(), "x").colours[0]
    assert colour.reflectance == pytest.approx(values, abs=1e-5)


def test_light_and_observer_are_taken_from_wherever_the_file_names_them():
    """Keywords of several standards and programs, and none, which means D50 and 2 degree with a note."""
    rows = ["1 60 20 -10"]
    for keywords, expected in [
        (['ILLUMINANT "D65"', 'OBSERVER "10"'], ("D65", 10)),
        (['ILLUMINATION_NAME "D65"', 'OBSERVER_ANGLE "10"'], ("D65", 10)),
        (['WEIGHTING_FUNCTION "ILLUMINANT, A"', 'WEIGHTING_FUNCTION "OBSERVER, 2 degree"'], ("A", 2)),
        (['INSTRUMENTATION "D65, 10 degree, geometry 45/0"'], ("D65", 10)),
        (['MEASUREMENT_SOURCE "Illumination=D50 ObserverAngle=2 Filter=no"'], ("D50", 2)),
        (['ILLUMINANT "D50"', 'OBSERVER "CIE 1931 2 degree"'], ("D50", 2)),
        (['INSTRUMENTATION "geometry 0:45"'], ("D50", 2)),
    ]:
        file = parse_cgats(cgats("SAMPLE_ID LAB_L LAB_A LAB_B", rows, *keywords).decode(), "x")
        assert (file.colours[0].light, file.colours[0].observer) == expected, keywords
    assert any("ISO 13655" in note for note in file.notes)


def test_lab_under_another_light_reaches_the_palette_with_that_light():
    """What was measured under D65 for 10 degrees is kept so, and converted for the interior."""
    data = cgats("SAMPLE_NAME LAB_L LAB_A LAB_B", ["Plum 40 30 -20"], 'ILLUMINANT "D65"', 'OBSERVER "10"')
    reading = read_exchange(data).palette.marker("Plum").reading(1)
    assert (reading.light, reading.observer) == ("D65", 10)
    assert 0.2 < float(delta_e_2000([40, 30, -20], reading.lab)) < 12


def test_a_light_without_a_table_is_refused_by_name():
    """Lab under F2 can't be converted, and the message says which lights can."""
    data = cgats("SAMPLE_ID LAB_L LAB_A LAB_B", ["1 60 20 -10"], 'ILLUMINANT "F2"')
    with pytest.raises(PaletteError, match=r"Lab under F2.*D65"):
        read_exchange(data)


def test_quotes_comments_tabs_and_blank_lines_are_understood():
    """Text in quotes may hold blanks and hash marks; unquoted names may, where tabs part the cells."""
    text = "\n".join(
        [
            "CGATS.17  # a comment",
            'ORIGINATOR "me # not a comment"',
            "",
            "BEGIN_DATA_FORMAT",
            "SAMPLE_ID SAMPLE_NAME",
            "LAB_L LAB_A LAB_B",
            "END_DATA_FORMAT",
            "BEGIN_DATA",
            '1 "Moss # 2" 40 -20 20 # the dark one',
            "# a line of comment",
            "2\tSea holly blue\t60\t-5\t-20",
            "",
            "3 'x' 50,5 1 2",
            "END_DATA",
        ]
    )
    file = parse_cgats(text, "x")
    assert [colour.name for colour in file.colours] == ["Moss # 2", "Sea holly blue", "'x'"]
    assert file.colours[2].lab[0] == 50.5
    assert [colour.line for colour in file.colours] == [9, 11, 13]


def test_rows_broken_over_lines_are_put_together_when_the_counts_allow():
    """A long row may be wrapped; the stated number of sets settles what belongs together."""
    data = cgats("SAMPLE_ID LAB_L LAB_A LAB_B", ["1 50", "10 20", "2 60", "-10 5"])
    text = data.decode().replace("NUMBER_OF_SETS 4", "NUMBER_OF_SETS 2")
    assert [colour.lab[0] for colour in parse_cgats(text, "x").colours] == [50, 60]


def test_tables_of_the_same_samples_are_joined_by_name():
    """Lab in one table and spectra in another are one colour; a third, measured anew, is said."""
    nm = range(380, 731, 10)
    fields = "SAMPLE_ID " + " ".join(f"SPECTRAL_NM{wave}" for wave in nm)
    values = np.full(36, 0.5)
    lab = reflectance_to_lab(values)
    first = cgats("SAMPLE_ID LAB_L LAB_A LAB_B", ["A1 {:.4f} {:.4f} {:.4f}".format(*lab)]).decode()
    second = cgats(fields, ["A1 " + " ".join("0.5" for _ in nm)]).decode()
    third = cgats("SAMPLE_ID LAB_L LAB_A LAB_B", ["A1 1 2 3"]).decode()
    (colour,) = parse_cgats(first + second, "x").colours
    assert colour.lab == pytest.approx(lab, abs=1e-4)
    assert colour.reflectance == pytest.approx(values)
    file = parse_cgats(first + second + third, "x")
    assert file.colours[0].lab == pytest.approx(lab, abs=1e-4)
    assert any("again" in note for note in file.notes)


def test_lab_that_disagrees_with_its_own_spectra_is_said():
    """A file whose Lab and spectra tell different colours says by how much."""
    fields = "SAMPLE_ID LAB_L LAB_A LAB_B " + " ".join(f"NM_{wave}" for wave in WAVELENGTHS_NM)
    file = parse_cgats(cgats(fields, ["1 50 40 0 " + " ".join("0.5" for _ in range(36))]).decode(), "x")
    assert any("differ by up to" in note for note in file.notes)


def test_every_fault_of_a_cgats_file_is_told_with_its_line():
    """Too few values, a word for a number, a count that is wrong and Lab out of range, all in one message."""
    data = cgats("SAMPLE_ID LAB_L LAB_A LAB_B", ["1 50 1 2", "2 50 1", "3 50 1 2 9"])
    with pytest.raises(PaletteError) as caught:
        read_exchange(data, name="a.txt")
    places = [problem.where for problem in caught.value.problems]
    assert places == ["a.txt, line 9", "a.txt, line 10"]
    data = cgats("SAMPLE_ID LAB_L LAB_A LAB_B", ["1 fifty 1 2", "2 150 1 2", "3 50 999 nan"])
    with pytest.raises(PaletteError) as caught:
        read_exchange(data, name="a.txt")
    text = str(caught.value)
    for part in ("line 8, LAB_L", "'fifty'", "line 9", "150", "line 10", "999", "'nan'"):
        assert part in text


def test_a_cgats_file_cut_short_says_so():
    """Half a file ends within its data, or has fewer rows than it says."""
    data = cgats("SAMPLE_ID LAB_L LAB_A LAB_B", [f"{i} 50 1 2" for i in range(9)])
    with pytest.raises(PaletteError, match="cut short"):
        read_exchange(data[: data.rindex(b"6 50")])
    with pytest.raises(PaletteError, match="NUMBER_OF_SETS 9"):
        read_exchange(data.replace(b"8 50 1 2\r\n", b""))
    with pytest.raises(PaletteError, match="cut short"):
        read_exchange(data[: data.index(b"END_DATA_FORMAT")], form="cgats")


def test_a_cgats_file_without_colours_says_which_fields_it_has():
    """Device values alone are no colours."""
    with pytest.raises(PaletteError, match="CMYK_C"):
        read_exchange(cgats("SAMPLE_ID CMYK_C CMYK_M CMYK_Y CMYK_K", ["1 0 0 0 0"]))


def test_samples_of_the_same_name_get_numbers():
    """Names are one of a kind in a palette; the note says how many were numbered."""
    data = cgats("SAMPLE_NAME LAB_L LAB_A LAB_B", ["Moss 40 -20 20", "Moss 41 -20 20", "moss 42 -20 20"])
    imported = read_exchange(data)
    assert sorted(imported.palette.names) == ["Moss", "Moss (2)", "moss (3)"]
    assert any("number was added" in note for note in imported.notes)


# --- GIMP palettes ---------------------------------------------------------------------------------------


def test_a_gimp_palette_is_read_as_its_format_is_described():
    """Header lines, comments, blank lines, names with blanks, and colours without a name.

    Source: GIMP developer documentation, "GIMP Palette Format Version 2 (.gpl)".
    """
    text = "GIMP Palette\nName: Harvest\nColumns: 4\n#\n200  85 61\tRust leaf\n\n 12 34 56\n0 0 0 Untitled\n"
    imported = read_exchange(text.encode())
    assert imported.form == "gpl"
    assert imported.title == "Harvest"
    assert imported.palette.names == ("Rust leaf", "colour 2", "colour 3")
    assert imported.palette.marker("Rust leaf").lab == pytest.approx(hex_to_lab("#c8553d"))
    assert any("no measurement" in note for note in imported.notes)
    old = read_exchange(b"GIMP Palette\n1 2 3 Night\n")
    assert old.palette.names == ("Night",)


def test_every_bad_line_of_a_gimp_palette_is_told():
    """Values out of range and lines that are no colour come together, with their lines."""
    with pytest.raises(PaletteError) as caught:
        read_exchange(b"GIMP Palette\nName: x\n1 2 300 a\n5 5 5 fine\nfoo\n-1 0 0 b\n", name="x.gpl")
    assert [problem.where for problem in caught.value.problems] == [f"x.gpl, line {n}" for n in (3, 5, 6)]


def test_a_gimp_palette_written_says_what_it_leaves_out(tmp_path):
    """Kinds, papers and coats are lost, and a colour beyond sRGB is mapped; both are said."""
    exported = export_palette(lantern(tmp_path), "gpl", title="Lantern")
    text = exported.data.decode()
    assert text.startswith("GIMP Palette\nName: Lantern\n")
    assert "Lantern glow, 2 coats" in text
    assert exported.notes[0].startswith("A GIMP palette holds only names and screen colours")
    assert "1 of 5 colours lies outside" in exported.notes[1]
    again = read_exchange(exported.data).palette
    assert float(delta_e_2000(again.marker("Deep moss").lab, [38, -22, 24])) < 0.5


@pytest.mark.gold
def test_a_gimp_palette_written_is_read_alike_by_pillow(tmp_path):
    """Pillow's own reader of GIMP palettes finds the same numbers."""
    import io

    from PIL.GimpPaletteFile import GimpPaletteFile

    exported = export_palette(lantern(tmp_path), "gpl")
    palette, mode = GimpPaletteFile(io.BytesIO(exported.data)).getpalette()
    assert mode == "RGB"
    rows = [line.split()[:3] for line in exported.data.decode().splitlines()[4:]]
    assert list(palette[: 3 * len(rows)]) == [int(value) for row in rows for value in row]


def test_hex_colours_come_through_a_gimp_palette_to_the_digit():
    """What was a hex stays that hex."""
    colours = ["#c8553d", "#010203", "#fefdfc"]
    rows = "\n".join(
        f"{int(c[1:3], 16)} {int(c[3:5], 16)} {int(c[5:], 16)} n{i}" for i, c in enumerate(colours)
    )
    palette = read_exchange(f"GIMP Palette\nName: x\n{rows}\n".encode()).palette
    written = export_palette(palette, "gpl").data
    assert [m.reading(1).typed for m in read_exchange(written).palette.markers] == colours


# --- CSV -------------------------------------------------------------------------------------------------


def test_csv_with_other_headings_is_mapped_by_option():
    """Headings that the user names become the columns of a palette file; the notes say which."""
    data = "Farbe;Hell;Rot-Grün;Gelb-Blau;Regal\nMoos;40,5;-20;20;3\n".encode()
    mapping = parse_headings(["name=Farbe", "L=Hell", "a=rot-grün", "b=Gelb-Blau"])
    imported = read_exchange(data, headings=mapping)
    assert imported.palette.marker("Moos").lab == pytest.approx([40.5, -20, 20])
    assert any("'Hell' was read as L" in note for note in imported.notes)
    assert any("a marker" in note for note in imported.notes)
    assert "Regal" in imported.palette.sheet.header


def test_csv_with_plain_headings_needs_no_option():
    """Usual headings for name, Lab and hex are understood, and R, G, B of 0 to 255 become hex."""
    data = b"Colour name,CIE L*,CIE a*,CIE b*\nMoss,40,-20,20\n"
    assert read_exchange(data).palette.marker("Moss").lab == pytest.approx([40, -20, 20])
    data = b"Title,R,G,B\nRust,200,85,61\n"
    assert read_exchange(data, kind="ink").palette.inks[0].lab == pytest.approx(hex_to_lab("#c8553d"))
    data = b"name,HTML\nRust,#c8553d\n"
    assert read_exchange(data).palette.marker("Rust").reading(1).typed == "#c8553d"


def test_a_palette_file_itself_is_read_without_change(tmp_path):
    """blendkit's own CSV passes through untouched."""
    path = tmp_path / "lantern.csv"
    path.write_text(LANTERN)
    assert read_exchange(path).palette.items == read_palette(path).items
    assert export_palette(read_palette(path), "csv").data == LANTERN.encode()


def test_a_heading_that_is_not_there_is_answered_with_those_that_are():
    """A wrong heading, an unknown column and a text without = are told with what would be accepted."""
    data = b"Colour name,L,a,b\nMoss,40,-20,20\n"
    with pytest.raises(PaletteError, match="Colour name"):
        read_exchange(data, headings={"name": "Color nam"})
    with pytest.raises(PaletteError, match="'shade'"):
        read_exchange(data, headings=["shade=L", "plain"])
    with pytest.raises(PaletteError, match="line 3"):
        read_exchange(b"name,R,G,B\na,1,2,3\nb,1,2,x\n")


def test_csv_is_written_with_the_headings_asked_for(tmp_path):
    """The same table under other headings comes back with the same mapping."""
    palette = lantern(tmp_path)
    exported = export_palette(palette, "csv", headings={"name": "Colour", "L": "Light"})
    assert exported.data.startswith(b"Colour,kind,Light,a,b")
    assert read_exchange(exported.data, headings={"L": "Light"}).palette.items == palette.items
    with pytest.raises(PaletteError, match="isn't there"):
        export_palette(palette, "csv", headings={"hex": "Web"})


# --- there and back --------------------------------------------------------------------------------------


def test_cgats_there_and_back_keeps_lab_and_spectra(tmp_path):
    """What is written as CGATS.17 text and read again differs by no more than its printed decimals."""
    nm = ",".join(str(wave) for wave in WAVELENGTHS_NM)
    values = np.random.default_rng(0).uniform(0.05, 0.9, 36)
    spectrum = ",".join(f"{value:.6f}" for value in values)
    path = tmp_path / "measured.csv"
    blanks = "," * 36
    path.write_text(
        f'name,kind,L,a,b,{nm}\n"Moss ""4""",marker,,,,{spectrum}\nPlum,marker,35,25,-20{blanks}\n'
    )
    palette = read_palette(path)
    exported = export_palette(palette, "cgats")
    assert any("1 of 2 colours have no measured spectrum" in note for note in exported.notes)
    again = read_exchange(exported.data, form="cgats").palette
    assert again.marker("Moss '4'").reading(1).reflectance == pytest.approx(values, abs=2e-6)
    assert again.marker("Plum").lab == pytest.approx([35, 25, -20], abs=1e-4)
    assert export_palette(again, "cgats").data.count(b"SPECTRAL_NM") == 36


def test_the_demo_palette_goes_through_every_form(tmp_path):
    """Every reading of the demo palette comes back from GIMP and CGATS files within their resolution."""
    try:
        palette = read_palette(demo_palette_path())
    except PaletteError:
        pytest.skip("there is no demo palette yet")
    colours = palette_colours(palette)
    for form, within in (("cgats", 0.01), ("gpl", 0.8)):
        exported = export_palette(palette, form)
        assert exported.colours == len(colours)
        again = palette_colours(read_exchange(exported.data).palette)
        assert len(again) == len(colours)
        from blendkit.colour import is_in_srgb

        inside = np.array([bool(is_in_srgb(colour.lab)) for colour in colours])
        difference = delta_e_2000([colour.lab for colour in colours], [colour.lab for colour in again])
        assert difference[inside if form == "gpl" else slice(None)].max() < within


def test_an_imported_palette_can_be_written_and_read_as_a_palette_file(tmp_path):
    """Import, write, read: the same drawer."""
    data = cgats("SAMPLE_NAME LAB_L LAB_A LAB_B", ["Card 95 0 1", "Moss 40 -20 20", "Plum 35 25 -20"])
    imported = read_exchange(data, on="card")
    written = write_palette(tmp_path / "new.csv", imported.palette)
    assert read_palette(tmp_path / "new.csv").items == written.items
    assert [marker.on for marker in written.markers] == ["Card", "Card"]


# --- bad input -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "is empty"),
        (b" \n\n", "is empty"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\0", "picture"),
        (b"GIMP Palette\nName: x\n", "holds no colour"),
        (b"CGATS.17\nBEGIN_DATA_FORMAT\nEND_DATA_FORMAT\nBEGIN_DATA\n1 2\nEND_DATA\n", "without field names"),
        (b"x" * 21_000_000, "too large"),
    ],
)
def test_what_is_no_exchange_file_is_refused_in_a_sentence(data, sentence):
    """Each refusal says what was found and what would be accepted."""
    with pytest.raises(PaletteError, match=sentence) as caught:
        read_exchange(data)
    assert caught.value.problems


def test_missing_files_and_folders_are_refused_in_a_sentence(tmp_path):
    """A path that leads to no file says so, and so do unknown forms, kinds and papers."""
    with pytest.raises(PaletteError, match="folder"):
        read_exchange(tmp_path)
    with pytest.raises(PaletteError, match="no such file"):
        read_exchange(tmp_path / "none.gpl")
    with pytest.raises(PaletteError, match="form"):
        read_exchange(b"x", form="ase")
    with pytest.raises(PaletteError, match="kind"):
        read_exchange(b"x", kind="brush")
    with pytest.raises(PaletteError, match="Plum"):
        read_exchange(cgats("SAMPLE_NAME LAB_L LAB_A LAB_B", ["Plum 35 25 -20"]), on="Plam")


@pytest.mark.parametrize("seed", range(4))
def test_random_damage_never_fails_in_any_other_way(seed):
    """Whatever bytes are changed, added or cut, a file is read or a PaletteError is raised."""
    rng = np.random.default_rng(seed)
    nm = " ".join(f"SPECTRAL_NM{wave}" for wave in WAVELENGTHS_NM)
    wholes = [
        cgats(
            "SAMPLE_ID SAMPLE_NAME LAB_L LAB_A LAB_B", ['1 "a b" 50 1 2', "2 c 60 3 4"], 'ILLUMINANT "D65"'
        ),
        cgats("SAMPLE_ID XYZ_X XYZ_Y XYZ_Z", ["1 50 51 52", "2 10 11 12"]),
        cgats("SAMPLE_ID " + nm, ["1 " + "0.5 " * 36, "2 " + "0.25 " * 36]),
        b"GIMP Palette\nName: x\nColumns: 3\n1 2 3 a\n4 5 6 b\n",
        b"Colour name;R;G;B\na;1;2;3\nb;4;5;6\n",
        LANTERN.encode(),
    ]
    outcomes = set()
    for whole in wholes:
        for _ in range(120):
            data = bytearray(whole)
            for _ in range(rng.integers(1, 6)):
                place = int(rng.integers(0, len(data)))
                match int(rng.integers(0, 4)):
                    case 0:
                        data[place] = int(rng.integers(0, 256))
                    case 1:
                        del data[place : place + int(rng.integers(1, 9))]
                    case 2:
                        data[place:place] = data[: int(rng.integers(0, 60))]
                    case _:
                        data[place] = b'0123456789 \n\t",;-.eE#'[int(rng.integers(0, 21))]
                data = data or bytearray(b"x")
            for form in (None, "cgats", "gpl"):
                try:
                    read_exchange(bytes(data), form=form)
                    outcomes.add("read")
                except PaletteError:
                    outcomes.add("refused")
    assert outcomes == {"read", "refused"}


def test_random_bytes_are_refused_in_a_sentence():
    """Noise is no exchange file, in any form."""
    rng = np.random.default_rng(5)
    for size in (1, 10, 1000, 20_000):
        data = rng.integers(0, 256, size, dtype=np.uint8).tobytes()
        for form in (None, "cgats", "gpl", "csv"):
            with pytest.raises(PaletteError):
                read_exchange(data, form=form)
