"""Project files: read with every fault told, written so that comments stay."""

import tomllib
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.art.region_edits import Edits
from blendkit.errors import PaletteError, ProjectError
from blendkit.project import writing as project_file
from blendkit.project.reading import project_from_text, read_project, targets_of
from blendkit.project.records import Cut, Greeting, Project, ProjectPaper, ProjectPart, read_light
from blendkit.project.writing import project_to_table, project_to_text, update_project, write_project

HAND_WRITTEN = """\
# A card for the neighbours
image = "owl.png"   # scanned on Sunday
light = "10:30"

# ---- parts ----
[[parts]]
name = "scarf"  # striped
at = [[1, 2], [3, 4.5]]
base = "moss stone dawn"  # the soft one
shadow = "moss stone noon"

# the hat comes second
[[parts]]
name = "hat"
areas = 3
base = "hazel twig dawn"

[greeting]  # stamped last
words = "Good night"
ink = "Plum greeting"
# the end
"""


def faults(text):
    with pytest.raises(ProjectError) as error:
        project_from_text(text)
    return [str(problem) for problem in error.value.problems]


def test_a_hand_written_file_is_read():
    project = project_from_text(HAND_WRITTEN)
    assert project.image == "owl.png"
    assert project.title == "owl"
    assert project.light_deg == 315
    assert [part.name for part in project.parts] == ["scarf", "hat"]
    assert project.parts[0].at == ((1.0, 2.0), (3.0, 4.5))
    assert project.parts[1].areas == (3,)
    assert project.greeting == Greeting("Good night", "Plum greeting")
    assert project.cut == Cut(2.0, "bridge", 2.0)


def test_image_and_palette_lie_beside_the_project_file(tmp_path):
    file = tmp_path / "card" / "project.toml"
    file.parent.mkdir()
    file.write_text('image = "../owl.png"\npalette = "drawer.csv"\n')
    project = read_project(file)
    assert project.image_path.resolve() == tmp_path / "owl.png"
    assert project.palette_path == file.parent / "drawer.csv"


def test_a_changed_marker_changes_only_its_own_line():
    project = project_from_text(HAND_WRITTEN)
    text = project_to_text(project.with_part("scarf", base="fern dawn"), HAND_WRITTEN)
    assert text == HAND_WRITTEN.replace("moss stone dawn", "fern dawn")


def test_an_unchanged_project_is_written_letter_for_letter():
    assert project_to_text(project_from_text(HAND_WRITTEN), HAND_WRITTEN) == HAND_WRITTEN


def test_every_comment_survives_many_changes():
    project = project_from_text(HAND_WRITTEN)
    scarf, hat = project.parts
    changed = replace(
        project,
        light="2:00",
        notes="one\ntwo",
        parts=(
            ProjectPart("bow", at=((2.0, 3.0),), areas=(1, 7)),
            hat,
            replace(scarf, light="cloud edge", note="x"),
        ),
        papers=(ProjectPaper("mat", "Pine card", 120.0, 90.0),),
        edits=Edits(merges=(((0.1, 0.2), None),)),
        fronts=(("scarf", "hat"),),
        greeting=Greeting("Sleep well", "Plum greeting", 24.0),
    )
    text = project_to_text(changed, HAND_WRITTEN)
    assert project_from_text(text) == changed
    for line in HAND_WRITTEN.splitlines():
        if "#" in line:
            assert line[line.index("#") :] in text
    assert text.index("# the hat comes second") < text.index('name = "hat"') < text.index('name = "scarf"')


def test_a_renamed_part_keeps_its_comments():
    project = project_from_text(HAND_WRITTEN)
    text = project_to_text(project.with_part("hat", name="beret"), HAND_WRITTEN)
    assert text == HAND_WRITTEN.replace('"hat"', '"beret"')


def test_a_part_that_is_taken_out_leaves_the_others_comments():
    project = project_from_text(HAND_WRITTEN)
    text = project_to_text(replace(project, parts=project.parts[1:]), HAND_WRITTEN)
    assert "# the hat comes second" in text
    assert "# stamped last" in text
    assert [part.name for part in project_from_text(text).parts] == ["hat"]


def test_a_line_like_a_heading_within_notes_is_no_heading():
    text = 'image = "a.png"\nnotes = """\n[greeting]\n# not a comment\n"""\n\n[cut]\nrim_mm = 3\n'
    project = project_from_text(text)
    written = project_to_text(replace(project, cut=Cut(4.0)), text)
    assert written == text.replace("rim_mm = 3", "rim_mm = 4")


names = st.text("abc äß'\"#[]=\\", min_size=1, max_size=8).map(str.strip).filter(bool)
lengths = st.integers(1, 3000).map(lambda n: n / 10)
points = st.tuples(lengths, lengths)
shares = st.tuples(st.integers(0, 100).map(lambda n: n / 100), st.integers(0, 100).map(lambda n: n / 100))
parts = st.builds(
    ProjectPart,
    name=names,
    at=st.lists(points, min_size=1, max_size=4).map(tuple),
    areas=st.lists(st.integers(1, 99), max_size=3).map(tuple),
    around=st.lists(st.lists(points, min_size=3, max_size=5).map(tuple), max_size=2).map(tuple),
    base=names,
    shadow=st.one_of(st.just(""), names),
    shadow_mm=st.one_of(st.none(), lengths.filter(lambda mm: 0.2 <= mm <= 100)),
    order=st.sampled_from(["light-first", "dark-first"]),
    note=st.one_of(st.just(""), names),
)
projects = st.builds(
    Project,
    image=names,
    name=st.one_of(st.just(""), names),
    dpi=st.one_of(st.none(), st.integers(72, 1200).map(float)),
    light=st.sampled_from(["10:30", "2", "45°"]),
    parts=st.lists(parts, max_size=4, unique_by=lambda part: " ".join(part.name.casefold().split())).map(
        tuple
    ),
    papers=st.lists(
        st.builds(ProjectPaper, st.sampled_from(["mat", "card"]), names, lengths.filter(lambda mm: mm >= 1)),
        max_size=2,
    ).map(tuple),
    edits=st.builds(Edits, splits=st.lists(st.tuples(shares, shares), max_size=2).map(tuple)),
    greeting=st.one_of(st.none(), st.builds(Greeting, names, names)),
    notes=st.one_of(st.just(""), names, st.just("two\nlines")),
)


@settings(max_examples=25, deadline=None)
@given(projects, projects)
def test_what_is_written_reads_back_the_same(first, second):
    """project_to_text: "text that project_from_text reads back as the same project", anew and over another."""
    # names that differ only by accents' encoding or hyphens are one name to a palette
    text = project_to_text(first)
    assert project_from_text(text) == first
    over = project_to_text(second, text)
    assert project_from_text(over) == second


@settings(max_examples=10, deadline=None)
@given(projects)
def test_the_standard_librarys_reader_reads_the_same_values(project):
    """Checked with tomllib of Python's standard library, a reader apart from the one that wrote."""
    read = tomllib.loads(project_to_text(project))
    if "notes" in read:
        read["notes"] = read["notes"].rstrip("\n")
    assert read == project_to_table(project)


def test_every_fault_is_told_with_its_place():
    found = faults(
        """
image = 7
light = "25:99"
page = "A3"
dpi = 300
width_mm = 90
shadw_mm = 2
fronts = [["scarf"], ["scarf", "cape"]]
[[parts]]
name = "scarf"
at = [[1, 2, 3]]
shadow_mm = "wide"
highlight = "sparkle"
[[parts]]
name = "Scarf"
areas = 1
[[parts]]
at = [5, 5]
rest = 1
[[papers]]
role = "frame"
name = "Pine card"
[edits]
closure = []
[cut]
spikes = "maybe"
"""
    )
    wanted = [
        "image: found 7",
        "light: found '25:99'; accepted: a clock position",
        "page: found 'A3'; accepted: A4, Letter",
        "both dpi and width_mm",
        "the key “shadw_mm”; accepted: shadow_mm",
        "fronts, entry 1: found ['scarf']",
        "fronts, entry 1: found 'cape'; accepted: one of: scarf",
        "part 1 (scarf), at: found [1, 2, 3]",
        "part 1 (scarf), shadow_mm: found 'wide'",
        "part 1 (scarf), highlight: found 'sparkle'; accepted: paper, light, none",
        "part 2, name: found 'Scarf'",
        "part 3, name: found nothing",
        "rest: found 1; accepted: true or false",
        "role: found 'frame'; accepted: card, mat, accent, ribbon",
        "the key “closure”",
        "spikes: found 'maybe'; accepted: bridge, cut",
    ]
    for words in wanted:
        assert any(words in fault for fault in found), (words, found)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('image = "a.png"\nlight = \n', "line 2"),
        ('image = "a.png"\nimage = "b.png"\n', "image"),
        ('[[parts]]\nname = "x"\n', "image: found nothing"),
        ('image = "a.png"\nparts = 3\n', "parts: found 3;"),
        ('image = "a.png"\n[[parts]]\nname = "x"\n', "at: found nothing"),
        (
            'image = "a.png"\n[[parts]]\nname = "x"\nareas = 1\nleave_white = true\nbase = "y"\n',
            "leave_white",
        ),
        ('image = "a.png"\n[[parts]]\nname = "x"\nareas = 0\n', "areas: found 0"),
        ('image = "a.png"\n[[parts]]\nname = "x"\nat = 4\n', "area numbers go into areas"),
        ('image = "a.png"\n[[parts]]\nname = "x"\naround = [[1, 1], [2, 2]]\n', "around"),
        ('image = "a.png"\nlight = nan\n', "light"),
        ('image = "a.png"\nshadow_mm = -1\n', "shadow_mm: found -1"),
    ],
)
def test_a_fault_is_one_sentence_with_its_place(text, words):
    with pytest.raises(ProjectError) as error:
        project_from_text(text)
    assert words in str(error.value)


def test_a_file_that_is_no_text_is_refused(tmp_path):
    file = tmp_path / "project.toml"
    file.write_bytes(b"image = \xff\xfe")
    with pytest.raises(ProjectError, match="no text in UTF-8"):
        read_project(file)
    with pytest.raises(ProjectError, match="no such file"):
        read_project(tmp_path / "none.toml")
    with pytest.raises(ProjectError, match="folder"):
        read_project(tmp_path)


@pytest.mark.parametrize(
    ("light", "degrees"), [("10:30", 315), ("12", 0), ("3", 90), ("315°", 315), ("-45 deg", 315), ("10°", 10)]
)
def test_light_is_a_clock_position_or_degrees(light, degrees):
    assert read_light(light) == degrees


def test_a_bare_number_is_a_clock_position_up_to_twelve_and_degrees_beyond():
    assert project_from_text('image = "a"\nlight = 3\n').light_deg == 90
    assert project_from_text('image = "a"\nlight = 315\n').light_deg == 315
    assert project_from_text('image = "a"\nlight = 3.5\n').light_deg == 3.5


def test_a_part_that_is_not_there_is_named_with_those_that_are():
    with pytest.raises(ProjectError, match="one of: scarf; hat"):
        project_from_text(HAND_WRITTEN).with_part("cape", base="x")


def test_writing_keeps_the_file_when_nothing_changed(tmp_path):
    file = tmp_path / "project.toml"
    file.write_text(HAND_WRITTEN)
    before = file.stat().st_mtime_ns
    update_project(file, lambda project: project)
    assert file.read_text() == HAND_WRITTEN
    assert file.stat().st_mtime_ns == before


def test_a_change_is_made_to_what_stands_in_the_file_now(tmp_path):
    file = tmp_path / "project.toml"
    file.write_text(HAND_WRITTEN)
    update_project(file, lambda project: replace(project, light="1:00"))
    update_project(file, lambda project: project.with_part("hat", base="fern dusk"))
    project = read_project(file)
    assert (project.light, project.part("hat").base) == ("1:00", "fern dusk")


def test_a_refused_write_leaves_the_old_file(tmp_path, monkeypatch):
    file = tmp_path / "project.toml"
    file.write_text(HAND_WRITTEN)

    def full(path, data, raises=None):
        raise PaletteError("the disk is full")

    monkeypatch.setattr(project_file, "replace_keeping", full)
    with pytest.raises(ProjectError, match="disk is full"):
        update_project(file, lambda project: replace(project, light="1:00"))
    assert file.read_text() == HAND_WRITTEN


def test_a_broken_file_is_not_changed_by_an_update(tmp_path):
    file = tmp_path / "project.toml"
    file.write_text("image = 3\n")
    with pytest.raises(ProjectError):
        update_project(file, lambda project: project)
    assert file.read_text() == "image = 3\n"


def test_a_new_file_is_written_with_a_heading(tmp_path):
    file = tmp_path / "new.toml"
    written = write_project(file, Project(image="a.png", parts=(ProjectPart("hat", at=((1.0, 2.0),)),)))
    assert written == read_project(file)
    assert file.read_text().startswith("# A blendkit project.")


def test_targets_are_base_shadow_and_light_with_their_roles(demo):
    project = Project(
        image="a.png",
        parts=(
            ProjectPart("scarf", areas=(1,), base="rosehip dawn", shadow="rosehip noon", light="cloud edge"),
            ProjectPart("sky", areas=(2,), leave_white=True),
            ProjectPart("hat", areas=(3,), base="acorn cup dawn", shadow="none"),
        ),
    )
    found = [(target.colour, target.tolerance, target.role) for target in targets_of(project, 4.0)]
    assert found == [
        ("rosehip dawn", 4.0, "scarf, base"),
        ("rosehip noon", 4.0, "scarf, shadow"),
        ("cloud edge", 4.0, "scarf, light"),
        ("acorn cup dawn", 4.0, "hat, base"),
    ]


def test_a_shadow_that_the_drawer_chooses_is_a_target_too(demo):
    project = Project(image="a.png", parts=(ProjectPart("scarf", areas=(1,), base="rosehip dawn"),))
    assert [target.role for target in targets_of(project)] == ["scarf, base"]
    chosen = targets_of(project, palette=demo)
    assert [target.role for target in chosen] == ["scarf, base", "scarf, shadow"]
    assert demo.marker(chosen[1].colour).lab[0] < demo.marker("rosehip dawn").lab[0]


@pytest.mark.parametrize("name", ["hedgehog_lantern", "harvest_gift", "harvest_tags", "harvest_family"])
def test_the_examples_are_read_and_name_what_is_there(root, name):
    project = read_project(root / "examples" / name / "project.toml")
    assert project.image_path.is_file()
    assert project.palette_path is not None
    assert project.palette_path.is_file()
    assert len(project.parts) >= 15
