"""Tables of how well coloured charts are read back from simulated photos and scans.

Every picture is of a real chart page (its PDF rendered), coloured with random invented inks. Seeds here are
kept apart from those that blendkit/data/scan_prior.csv and the constants of the reading were tuned on.

Run: python -m tests.derive.evaluate_scan [devices] [colour] [own] [repeat] [geometry] [speed] [--pictures N]
"""

import io
import os
import sys
import time
from dataclasses import replace

import cv2
import numpy as np
from PIL import Image

from blendkit.chart.box_colour import measure_spots
from blendkit.chart.chart import make_chart
from blendkit.chart.correct_colour import Anchors, fit_correction
from blendkit.chart.find_page import find_marks, fit_page
from blendkit.chart.scan import read_scan
from blendkit.chart.target import TargetSpec
from blendkit.colour import delta_e_2000, srgb1_to_linear
from blendkit.errors import SheetError
from blendkit.palette import demo_palette_path, read_palette
from blendkit.picture.encoding import srgb_encoding
from tests.simulate import device, page, picture, spectra, trial

REPORTING_SEED = 20260
KINDS = ("photo", "white", "rgb-led")


def real_chart(anchors=0):
    """A chart page of 90 boxes and more of the demo drawer."""
    palette = read_palette(demo_palette_path())
    names = [marker.name for marker in palette.markers[:32]]
    return make_chart(palette, names=names, coats=3, anchors=names[:anchors])


def card_beside(spec_page, frame="card"):
    """A simulated 24-patch card beside the page and its description."""
    card = picture.target_beside(spec_page.size_mm)
    known = TargetSpec(
        name="24 patches",
        frame=frame,
        patch_mm=(card.size_mm, card.size_mm),
        labels=tuple(str(number) for number in range(1, 25)),
        centres_mm=card.centres_mm if frame == "page" else card.centres_mm - card.centres_mm[0],
        lab=spectra.reflectance_to_lab(card.reflectance),
    )
    return card, known


def compare(record, made, keep=None):
    """CIEDE2000 of every usable coloured box, with its stated uncertainty, and whether it was flagged."""
    rows = []
    for index, reading in enumerate(record.readings):
        if reading.kind == "paper" or not reading.usable or (keep is not None and not keep[index]):
            continue
        error = float(delta_e_2000(made.labs[index], np.array(reading.lab)))
        rows.append((error, reading.uncertainty, reading.within_setup, bool(reading.flags)))
    return np.array(rows, dtype=float).reshape(-1, 4)


def show(name, rows, extra=""):
    """Print one line: median, 95th percentile, share within the stated figure, middle stated figure."""
    error, stated = rows[:, 0], rows[:, 1]
    print(
        f"| {name} | {np.median(error):.1f} / {np.percentile(error, 95):.1f} | "
        f"{np.mean(error <= stated):.0%} | {np.median(stated):.1f} | {len(error)} |{extra}",
        flush=True,
    )


def read_knowing_nothing(made, spec_page):
    """Rows as compare gives them, of the picture's own colours, as a page without bare paper is read; and Lab."""
    grey = cv2.cvtColor(made.picture.pixels, cv2.COLOR_RGB2GRAY)
    fit = fit_page(find_marks(grey), spec_page, (grey.shape[1], grey.shape[0]))
    colours = measure_spots(made.picture, fit, None, spec_page.boxes)
    correction = fit_correction(made.picture.encoding.matrix, paper_lab=None, picture_paper=np.ones(3))
    relative = np.array([colour.relative for colour in colours])[made.filled]
    stated, within = correction.uncertainty(relative, np.full(relative.shape, 0.01))
    lab, true = correction.to_lab(relative), made.labs[made.filled]
    rows = np.stack([delta_e_2000(true, lab), stated, within, np.zeros(len(lab))], axis=1)
    return rows, lab[:, 0], true[:, 0]


def lightness_order(read, true, apart=5.0):
    """Share of pairs at least that far apart in L* that are read in their order, and how many pairs."""
    first, second = np.triu_indices(len(true), 1)
    steps = true[first] - true[second]
    clear = np.abs(steps) >= apart
    return np.sign(steps[clear]) == np.sign(read[first] - read[second])[clear]


def evaluate_colour(pictures):
    """Colour against truth, by what the picture holds."""
    chart = real_chart()
    spec = replace(chart.spec, pages=chart.spec.pages[:1])
    spec_page = spec.pages[0]
    card, known = card_beside(spec_page)
    print("| picture, what is known | CIEDE2000 median / 95th | within stated | stated (median) | boxes |")
    print("|---|---|---|---|---|")
    for kind in KINDS:
        rows = {}
        order = []
        refused = []
        for index in range(pictures):
            rng = np.random.default_rng([REPORTING_SEED, KINDS.index(kind), index])
            made = trial.make_trial(rng, spec, kind, sheet=chart.sheet, target=card, picture_px=(1600, 1200))
            try:
                nothing, read, true = read_knowing_nothing(made, spec_page)
                rows.setdefault("(a) nothing known", []).append(nothing)
                order.append(lightness_order(read, true))
            except SheetError as error:
                refused.append(f"{kind} {index} (a): {error.message}")
            for name, options in (
                ("(b) paper known", {"paper_lab": made.paper_lab}),
                ("(b) paper assumed", {}),
                ("(c) card beside, paper known", {"paper_lab": made.paper_lab, "target": known}),
                ("(c) card beside, paper assumed", {"target": known}),
            ):
                try:
                    record = read_scan(made.picture, spec, **options)
                except SheetError as error:
                    refused.append(f"{kind} {index} {name}: {error.message}")
                    continue
                rows.setdefault(name, []).append(compare(record, made))
            anchored, anchor_rows = with_anchors(spec, made, index)
            try:
                record = read_scan(made.picture, anchored, paper_lab=made.paper_lab)
                rows.setdefault("(c) 10 anchor boxes, paper known", []).append(
                    compare(record, made, keep=~anchor_rows)
                )
            except SheetError as error:
                refused.append(f"{kind} {index} anchors: {error.message}")
        for name, parts in rows.items():
            found = np.concatenate(parts)
            show(f"{kind} {name}", found)
            if found[:, 3].any():
                show(f"{kind} {name}, boxes without a remark", found[found[:, 3] == 0])
        print(
            f"  (a): {np.concatenate(order).mean():.1%} of pairs 5 L* and more apart are read in their order"
        )
        for words in refused:
            print("  refused:", words)


def evaluate_devices(_pictures):
    """Many devices without pictures: evenly filled boxes in even light, as (b) and (c) would see them."""
    matrix = srgb_encoding().matrix
    patches = spectra.target_reflectance()
    patch_labs = spectra.reflectance_to_lab(patches)
    print("| devices, what is known | CIEDE2000 median / 95th | within stated | stated (median) | boxes |")
    print("|---|---|---|---|---|")
    for kind, count in (("photo", 150), ("white", 60), ("rgb-led", 60)):
        plain, anchored = [], []
        for index in range(count):
            rng = np.random.default_rng([REPORTING_SEED, 7, len(kind), index])
            seen_by = device.phone(rng) if kind == "photo" else device.scanner(rng, kind)
            paper = spectra.paper_reflectance(rng)
            inks = np.stack(
                [
                    spectra.inked_reflectance(paper, spectra.ink_absorption(rng), np.array(1.0))
                    for _ in range(96)
                ]
            )
            exposure = rng.uniform(0.55, 0.85) if kind == "photo" else rng.uniform(0.82, 0.95)
            everything = np.concatenate([inks, patches, paper[None]])
            exposure = exposure / (seen_by.linear(paper).max() * 1.05)
            linear = srgb1_to_linear(seen_by.finish(seen_by.linear(everything), exposure))
            relative = linear[:-1] / linear[-1] * np.exp(rng.normal(0, 0.004, (len(everything) - 1, 3)))
            labs, paper_lab = spectra.reflectance_to_lab(inks), tuple(spectra.reflectance_to_lab(paper))
            known = Anchors(relative[96:] * np.exp(rng.normal(0, 0.04)), patch_labs, np.ones(24, bool))
            for rows, anchors in ((plain, None), (anchored, known)):
                correction = fit_correction(
                    matrix, paper_lab=paper_lab, anchors=anchors, scanned=kind != "photo"
                )
                stated, within = correction.uncertainty(relative[:96], np.full((96, 3), 0.004))
                error = delta_e_2000(labs, correction.to_lab(relative[:96]))
                rows.append(np.stack([error, stated, within, np.zeros(96)], axis=1))
        show(f"{count} of {kind}, (b) paper known", np.concatenate(plain))
        show(f"{count} of {kind}, (c) card beside, paper known", np.concatenate(anchored))


def with_anchors(spec, made, seed):
    """The chart with ten of its boxes declared as anchors whose Lab an instrument gave."""
    spec_page = spec.pages[0]
    coloured = np.flatnonzero(made.filled)
    chosen = np.random.default_rng([REPORTING_SEED, 9, seed]).choice(coloured, 10, replace=False)
    boxes = list(spec_page.boxes)
    for index in chosen:
        boxes[index] = replace(boxes[index], kind="anchor", expected_lab=tuple(made.labs[index]))
    is_anchor = np.zeros(len(boxes), bool)
    is_anchor[chosen] = True
    return replace(spec, pages=(replace(spec_page, boxes=tuple(boxes)),)), is_anchor


def evaluate_own(pictures):
    """The tool's own share: a device that sees as the eye does, the paper known."""
    chart = real_chart()
    spec = replace(chart.spec, pages=chart.spec.pages[:1])
    print("| ideal device | CIEDE2000 median / 95th | within stated | stated (median) | boxes |")
    print("|---|---|---|---|---|")
    for kind, noise in (("photo", 0.006), ("white", 0.002)):
        parts = []
        for index in range(pictures):
            rng = np.random.default_rng([REPORTING_SEED, 4, kind == "photo", index])
            made = trial.make_trial(rng, spec, kind, sheet=chart.sheet, seen_by=device.ideal(noise))
            record = read_scan(made.picture, spec, paper_lab=made.paper_lab)
            parts.append(compare(record, made))
        rows = np.concatenate(parts)
        show({"photo": "photo", "white": "scan"}[kind], rows)
        show({"photo": "photo", "white": "scan"}[kind] + ", boxes without a remark", rows[rows[:, 3] == 0])


def evaluate_repeat(pictures):
    """The same sheet twice: same device, new pose and shadow; and the same scanner twice."""
    chart = real_chart()
    spec = replace(chart.spec, pages=chart.spec.pages[:1])
    print(
        "| the same sheet twice | CIEDE2000 median / 95th | boxes without a remark | within the smaller figure | "
        "that figure |"
    )
    print("|---|---|---|---|---|")
    for kind in ("photo", "white", "two phones"):
        steps, within, plain = [], [], []
        for index in range(pictures):
            rng = np.random.default_rng([REPORTING_SEED, 5, len(kind), index])
            picture_kind = "white" if kind == "white" else "photo"
            coloured = trial.coloured_sheet(rng, spec, px_per_mm=7.0, sheet=chart.sheet)
            seen_by = device.scanner(rng, "white") if kind == "white" else device.phone(rng)
            pair = []
            # a camera that measures the light itself exposes the same page nearly alike again
            exposure = rng.uniform(0.55, 0.85) if picture_kind == "photo" else None
            for turn in range(2):
                if turn == 1 and kind == "two phones":
                    seen_by = device.phone(rng)
                again = None if exposure is None else float(exposure * np.exp(rng.normal(0, 0.08)))
                made = trial.make_trial(
                    rng, spec, picture_kind, coloured=coloured, seen_by=seen_by, exposure=again
                )
                pair.append(read_scan(made.picture, spec, paper_lab=made.paper_lab))
            for first, second in zip(*(record.readings for record in pair), strict=True):
                if first.kind != "paper" and first.usable and second.usable:
                    steps.append(float(delta_e_2000(np.array(first.lab), np.array(second.lab))))
                    within.append(float(np.hypot(first.within_setup, second.within_setup)))
                    plain.append(not first.flags and not second.flags)
        steps, within, plain = np.array(steps), np.array(within), np.array(plain)
        name = {"photo": "same phone and lamp, new pose and shadow", "white": "same scanner"}.get(kind, kind)
        print(
            f"| {name} | {np.median(steps):.1f} / {np.percentile(steps, 95):.1f} | "
            f"{np.median(steps[plain]):.1f} / {np.percentile(steps[plain], 95):.1f} ({np.mean(plain):.0%}) | "
            f"{np.mean(steps <= within):.0%} | {np.median(within):.1f} |",
            flush=True,
        )


def evaluate_geometry(pictures):
    """Boxes within 1 mm, by size of the picture and curl of the page."""
    chart = real_chart()
    spec = replace(chart.spec, pages=chart.spec.pages[:1])
    spec_page = spec.pages[0]
    print("| photo | boxes within 1 mm | off, median / 95th / worst mm | pictures refused |")
    print("|---|---|---|---|")
    for width in (600, 800, 1200, 1600, 2400):
        for curl in (0.0, 0.3):
            off, refused = [], 0
            for index in range(pictures):
                rng = np.random.default_rng([REPORTING_SEED, 6, width, index])
                made = trial.make_trial(
                    rng, spec, "photo", picture_px=(width, width * 3 // 4), curl_rad=curl, coloured=None
                )
                grey = cv2.cvtColor(made.picture.pixels, cv2.COLOR_RGB2GRAY)
                try:
                    fit = fit_page(find_marks(grey), spec_page, (grey.shape[1], grey.shape[0]))
                except SheetError:
                    refused += 1
                    continue
                off.append(made.boxes_off_mm(fit))
            off = np.concatenate(off) if off else np.array([np.nan])
            print(
                f"| {width} px, {'curled page' if curl else 'flat page'} | {np.mean(off <= 1.0):.1%} | "
                f"{np.median(off):.2f} / {np.percentile(off, 95):.2f} / {off.max():.2f} | "
                f"{refused} of {pictures} |",
                flush=True,
            )


def evaluate_speed(_pictures):
    """Reading a 12-megapixel JPEG of 96 boxes against Pillow's decoding of it alone, by turns.

    Simulated photos are smooth; with grain as a real sensor leaves it the file weighs some 4 MB.
    """
    spec = page.plain_chart()
    rng = np.random.default_rng([REPORTING_SEED, 8])
    made = trial.make_trial(rng, spec, "photo", picture_px=(4000, 3000))
    load = ", ".join(f"{value:.0f}" for value in os.getloadavg())
    print(f"| picture | decoding | reading | times, processor | times, wall | (load {load}) |")
    print("|---|---|---|---|---|---|")
    for quality, grain in ((80, 0.0), (90, 0.0), (92, 8.0)):
        grainy = made.picture.pixels + rng.normal(0, max(grain, 1e-6), made.picture.pixels.shape)
        held = io.BytesIO()
        Image.fromarray(np.clip(np.rint(grainy), 0, 255).astype(np.uint8)).save(held, "JPEG", quality=quality)
        data = held.getvalue()
        times = []
        for _ in range(7):
            moments = [(time.process_time(), time.perf_counter())]
            np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))
            moments.append((time.process_time(), time.perf_counter()))
            read_scan(data, spec, paper_lab=(94.0, 0.0, -1.0))
            moments.append((time.process_time(), time.perf_counter()))
            times.append(np.diff(np.array(moments), axis=0))
        spent = np.array(times)  # turn, decoding or reading, processor or wall
        ratio = np.median(spent[:, 1] / spent[:, 0], axis=0)
        least = spent[..., 0].min(axis=0)
        print(
            f"| JPEG {quality}, {len(data) / 1e6:.1f} MB | {least[0]:.2f} s | {least[1]:.2f} s | "
            f"{ratio[0]:.1f} | {ratio[1]:.1f} | |",
            flush=True,
        )


PARTS = {
    "devices": evaluate_devices,
    "colour": evaluate_colour,
    "own": evaluate_own,
    "repeat": evaluate_repeat,
    "geometry": evaluate_geometry,
    "speed": evaluate_speed,
}


def main():
    """Print the tables asked for, all when none is named."""
    words = sys.argv[1:]
    pictures = int(words[words.index("--pictures") + 1]) if "--pictures" in words else 20
    for name in [word for word in words if word in PARTS] or list(PARTS):
        print(f"\n### {name}\n")
        PARTS[name](pictures)


if __name__ == "__main__":
    main()
