"""One question, one answer: every face is asked for the same coats, stacks, crossings and blends.

The drawer is one on which short cuts show: measured second and third coats far from what one coat foretells, one
marker measured on another paper, and constants of the ink model that were fitted to the paper.
"""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image
from simulate.desk import DeskClient

from blendkit.advice.order import find_order, predict_layers
from blendkit.advice.pairs import find_pair
from blendkit.art.preview import ramp_labs
from blendkit.art.shading import BASE_TONE
from blendkit.chart.chart import make_chart
from blendkit.colour import lab_to_hex, lab_to_xyz1
from blendkit.ink import InkModel
from blendkit.inked import ink_drawer
from blendkit.palette import read_palette
from blendkit.palette.calibration_file import StoredCalibration, store_calibration
from blendkit.plan.making import make_plan
from blendkit.project.records import Project, ProjectPart
from blendkit.spectrum import reflectance_from_lab, reflectance_to_lab

NEAR = 0.01

ROWS = """\
name,kind,L,a,b,on,coats,coat_limit
Snow Card,paper,95,0,-2,,,6
Oat Card,paper,88,2,12,,,4
Quill Dawn,marker,78,12,30,Snow Card,,
Quill Dawn,marker,58,20,44,Snow Card,2,
Quill Noon,marker,60,16,33,Snow Card,,
Quill Noon,marker,34,20,28,Snow Card,3,
Pond Noon,marker,62,-14,-22,Snow Card,,
Pewter,marker,66,-1,-3,Oat Card,,
"""
FITTED = (InkModel(0.45, 0.0, 0.04, 0.55), InkModel(0.6, 0.7, 0.03, 0.62))


@pytest.fixture(scope="module", params=FITTED, ids=("no surface", "with surface"))
def drawer(request, tmp_path_factory):
    file = tmp_path_factory.mktemp("drawer") / "quills.csv"
    file.write_text(ROWS, encoding="utf-8")
    store_calibration(file, StoredCalibration("Snow Card", request.param, "2031-05-04", 12, 4))
    return read_palette(file)


@pytest.fixture(scope="module")
def layers(drawer):
    """Lab after each coat of a stack, as the command that lays coats tells it."""

    def lay(*names):
        return np.array([coat.lab for coat in predict_layers(drawer, names).coats])

    return lay


@pytest.fixture(scope="module")
def desk(drawer):
    client = DeskClient(drawer.path)
    yield client
    client.close()


STACKS = (
    ("Quill Dawn",) * 4,
    ("Quill Noon",) * 4,
    ("Pond Noon",) * 3,
    ("Pewter",) * 2,
    ("Quill Dawn", "Quill Noon"),
    ("Quill Noon", "Quill Dawn"),
    ("Quill Dawn", "Pond Noon", "Quill Dawn"),
)


@pytest.mark.parametrize("names", STACKS, ids=" ".join)
def test_stacks_are_those_of_the_written_rule(drawer, layers, names):
    """The rule in words, band by band, without a surface: coats add what was measured, or what the last one did.

    What comes first counts in full. A later coat counts by the transfer, or by as much more as it takes that the
    light it loses is no more than that share of the light that what lies there takes.
    """
    inked = ink_drawer(drawer)
    back, transfer = inked.model.internal_reflection, inked.model.transfer
    if inked.model.surface_share:
        measured = [marker.reading(len(names)) for marker in drawer.markers if {marker.name} == set(names)]
        if measured and measured[0] is not None:
            assert layers(*names)[-1] == pytest.approx(measured[0].lab, abs=0.05)
        return

    def density(lab):
        return np.log((1 - back) / reflectance_from_lab(np.array(lab, float)) + back)

    snow, oat = density([95, 0, -2]), density([88, 2, 12])
    dawn, noon = (
        (density([78, 12, 30]), density([58, 20, 44])),
        (density([60, 16, 33]), density([34, 20, 28])),
    )
    pewter = density([66, -1, -3]) - oat

    def luminance(total):
        return lab_to_xyz1(reflectance_to_lab((1 - back) / (np.exp(total) - back)))[1]

    def kept(below, added):
        alone, full = luminance(snow + added), luminance(below + added)
        least = luminance(below + transfer * added)
        wanted = alone ** (1 - transfer) * min(full, alone) ** transfer
        return transfer + (1 - transfer) * np.clip((least - wanted) / (least - full), 0, 1)

    def seen(step, below):
        """Bring a measured step back to a whole coat: the share kept of it is the step again."""
        shares = np.linspace(transfer, 1, 2001)
        off = [abs(kept(below, np.maximum(step, 0) / share) - share) for share in shares]
        return step / shares[int(np.argmin(off))]

    adds = {
        "Quill Dawn": [dawn[0] - snow, seen(dawn[1] - dawn[0], dawn[0])],
        "Quill Noon": [noon[0] - snow, seen((noon[1] - noon[0]) / 2, noon[0])],
        "Pond Noon": [density([62, -14, -22]) - snow] * 2,
        "Pewter": [pewter] * 2,
    }
    total, expected = snow.copy(), []
    for place, name in enumerate(names):
        added = adds[name][min(names[:place].count(name), 1)]
        later = np.maximum(added, 0)
        total = total + (added if place == 0 else kept(total, later) * later)
        expected.append(reflectance_to_lab((1 - back) / (np.exp(total) - back)))
    assert layers(*names) == pytest.approx(np.array(expected), abs=NEAR)


def test_a_chart_expects_the_colours_of_layers(drawer, layers):
    names = [marker.name for marker in drawer.markers]
    chart = make_chart(drawer, coats=3, blends=[("Quill Dawn", "Quill Noon")], unders=names, overs=names)
    boxes = {
        (box.kind, box.markers, box.kind == "swatch" and box.coats): box
        for page in chart.spec.pages
        for box in page.boxes
    }
    for name in names:
        coats = layers(name, name, name)
        for count in (1, 2, 3):
            assert boxes["swatch", (name,), count].expected_lab == pytest.approx(coats[count - 1], abs=NEAR)
        for over in names:
            crossed = boxes["over", (name, over), False].expected_lab
            assert crossed == pytest.approx(layers(name, over)[-1], abs=NEAR)


def blend_of(drawer):
    """The wet blend of the two quills as the pair shows it, by the dark one's share in percent."""
    pair = find_pair(drawer, "Quill Dawn", count=8, all_ways=True)
    one = next(one for one in pair.shadow if one.name == "Quill Noon" and one.how == "marker")
    return {int(step.name.split()[0]): step.lab for step in one.blend}


def test_a_chart_and_a_pair_blend_alike(drawer):
    blend = blend_of(drawer)
    chart = make_chart(drawer, swatches=False, blends=[("Quill Dawn", "Quill Noon")], steps=9)
    boxes = [box for page in chart.spec.pages for box in page.boxes if box.kind == "blend"]
    inked = ink_drawer(drawer)
    light, dark = (inked.looks[inked.row(name)] for name in ("Quill Dawn", "Quill Noon"))
    fine = np.linspace(0, 1, 4001)
    way = inked.blend_labs(light, dark, fine)
    assert len(boxes) == 9
    for box in boxes:
        assert np.linalg.norm(way - box.expected_lab, axis=-1).min() < NEAR
    for share, lab in blend.items():
        assert lab == pytest.approx(way[share * 40], abs=NEAR)
    if not inked.model.surface_share:
        back = inked.model.internal_reflection
        ends = [
            np.log((1 - back) / inked.reflectance[inked.row(name)] + back)
            for name in ("Quill Dawn", "Quill Noon")
        ]
        half = reflectance_to_lab((1 - back) / (np.exp(np.mean(ends, axis=0)) - back))
        assert blend[50] == pytest.approx(half, abs=NEAR)


def test_a_pair_s_further_coats_and_overlays_are_those_of_layers(drawer, layers):
    found = {"coats": 0, "over": 0, "under": 0}
    for base in ("Quill Dawn", "Quill Noon", "Pond Noon", "Pewter"):
        for one in find_pair(drawer, base, count=20, all_ways=True).shadow:
            stack = {
                "marker": (one.name,),
                "coats": (base,) * one.coats,
                "over": (base, one.name),
                "under": (one.name, base),
            }[one.how]
            assert one.lab == pytest.approx(layers(*stack)[-1], abs=NEAR), (base, one.how, one.name)
            found[one.how] = found.get(one.how, 0) + 1
    assert found["coats"]
    assert found["over"]
    assert found["under"]


def test_an_order_s_steps_are_those_of_layers(drawer, layers):
    steps = find_order(drawer, "Quill Dawn", ["Quill Noon"]).steps
    coats = [step.lab for step in steps if step.coat]
    assert np.array(coats[:2]) == pytest.approx(layers("Quill Dawn", "Quill Noon"), abs=NEAR)
    steps = find_order(drawer, "Quill Dawn", ["Quill Noon"], style="dark-first").steps
    coats = [step.lab for step in steps if step.coat]
    assert np.array(coats[:2]) == pytest.approx(layers("Quill Noon", "Quill Dawn"), abs=NEAR)


@pytest.fixture(scope="module")
def picture(tmp_path_factory):
    """Two squares of 10 mm."""
    ground = np.full((200, 360), 255, np.uint8)
    for left in (20, 200):
        cv2.rectangle(ground, (left, 40), (left + 120, 160), 0, 4)
    file = tmp_path_factory.mktemp("picture") / "squares.png"
    Image.fromarray(ground).save(file)
    return file


def test_a_plan_s_steps_are_those_of_layers(drawer, layers, picture):
    parts = (
        ProjectPart("one", at=((5.0, 6.0),), base="Quill Dawn", shadow="Quill Noon"),
        ProjectPart("two", at=((21.7, 8.3),), base="Quill Dawn", shadow="Pond Noon", order="dark-first"),
    )
    project = Project(
        image=str(picture), path=picture.with_suffix(".toml"), name="Squares", dpi=304.8, parts=parts
    )
    plan = make_plan(replace(project, paper="Snow Card"), drawer)
    stacks = (("Quill Dawn", "Quill Noon"), ("Pond Noon", "Quill Dawn"))
    for part, stack in zip(plan.parts, stacks, strict=True):
        assert np.array([step.lab for step in part.steps[:2]]) == pytest.approx(layers(*stack), abs=NEAR)


@pytest.mark.parametrize(
    "stack",
    [("Quill Dawn", "Quill Noon"), ("Pond Noon", "Quill Dawn"), ("Quill Dawn",) * 3, ("Quill Noon",) * 2],
    ids=" ".join,
)
def test_a_preview_runs_from_paper_over_the_base_to_the_stack(drawer, layers, stack):
    inked = ink_drawer(drawer)
    base = "Quill Noon" if "Quill Dawn" not in stack else "Quill Dawn"
    asked = [inked.asked(inked.row(name)) for name in stack]
    ramp = ramp_labs(inked, asked, inked.asked(inked.row(base)))
    assert ramp[0] == pytest.approx([95, 0, -2], abs=NEAR)
    assert ramp[round((len(ramp) - 1) * BASE_TONE)] == pytest.approx(layers(base)[0], abs=NEAR)
    assert ramp[-1] == pytest.approx(layers(*stack)[-1], abs=NEAR)


def test_the_desk_shows_the_colours_of_layers(drawer, layers, desk):
    for shown in desk.get("/drawer")["markers"]:
        coats = layers(*[shown["name"]] * 3)
        assert shown["lab"] == pytest.approx(coats[0], abs=NEAR)
        assert [coat["hex"] for coat in shown["coats"]] == [lab_to_hex(lab) for lab in coats]
        looks = desk.get("/looks", names=[shown["name"]], light="D50")["colours"][shown["name"]]
        assert (looks["hex"], looks["deeper"]) == (lab_to_hex(coats[0]), lab_to_hex(coats[1]))
    laid = desk.get("/layer", markers=["Quill Dawn"] * 3)
    assert np.array([coat["lab"] for coat in laid["coats"]]) == pytest.approx(
        layers(*["Quill Dawn"] * 3), abs=NEAR
    )
    pair = desk.get("/pair", colour="Quill Dawn", count=8, all_ways=True)
    one = next(one for one in pair["shadow"] if one["name"] == "Quill Noon" and one["how"] == "marker")
    assert [step["lab"] for step in one["blend"]] == [
        pytest.approx(lab, abs=NEAR) for lab in blend_of(drawer).values()
    ]
