"""How well the main colours of simulated photos are found, and what else was tried.

Run it from the top of the project: python tests/derive/evaluate_photo.py
Seeds from 0 chose the constants of blendkit/art/photo.py; seeds from 1000 are reported.
"""

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from simulate.photo import known_photo

from blendkit.art.photo import find_main_colours, view_photo
from blendkit.colour import delta_e_2000, lab_to_oklch, xyz1_to_lab
from blendkit.picture import read_picture

TUNING, REPORTED = range(40), range(1000, 1060)
MISSED = 6.0
"""A known colour further than this from every colour found counts as missed."""
WRONG = 6.0
"""A found colour further than this from every known one counts as wrong."""


def measure(known, labs, is_accent):
    """Differences of one photo: each known colour to the nearest found, each found to the nearest known."""
    table = delta_e_2000(np.asarray(known.labs)[:, None], np.asarray(labs)[None])
    large = np.arange(len(known.labs)) < len(known.labs) - known.accents
    return {
        "mains": table[large].min(axis=1),
        "accents": table[~large].min(axis=1),
        "found": table.min(axis=0),
        "found mains": table.min(axis=0)[~np.asarray(is_accent, bool)],
    }


def summarise(results):
    """One row of the table."""
    joined = {key: np.concatenate([result[key] for result in results]) for key in results[0]}
    return {
        "median": np.median(joined["found mains"]),
        "p90": np.quantile(joined["found mains"], 0.9),
        "known": np.median(joined["mains"]),
        "missed": np.mean(joined["mains"] > MISSED),
        "accents missed": np.mean(joined["accents"] > MISSED) if len(joined["accents"]) else np.nan,
        "wrong": np.mean(joined["found"] > WRONG),
    }


def ours(picture, known):
    """What blendkit does; it is not told how many colours there are."""
    found = find_main_colours(picture, count=8)
    return [colour.lab for colour in found.colours], [colour.is_accent for colour in found.colours]


def _pixels(picture):
    linear = view_photo(picture).linear
    return np.asarray(xyz1_to_lab(linear @ picture.encoding.matrix.T)).reshape(-1, 3)


def kmeans_lab(picture, known):
    """OpenCV's k-means in CIELAB, told the true number of colours."""
    import cv2

    points = _pixels(picture).astype(np.float32)
    cv2.setRNGSeed(1)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.1)
    _, _, centres = cv2.kmeans(points, len(known.labs), None, stop, 3, cv2.KMEANS_PP_CENTERS)
    return list(centres.astype(float)), [False] * len(centres)


def kmeans_oklab(picture, known):
    """OpenCV's k-means in OKLab, told the true number of colours; the median Lab of each group."""
    import cv2

    lab = _pixels(picture)
    lch = lab_to_oklch(lab)
    hue = np.deg2rad(np.nan_to_num(lch[:, 2]))
    points = np.stack([lch[:, 0], lch[:, 1] * np.cos(hue), lch[:, 1] * np.sin(hue)], 1).astype(np.float32)
    cv2.setRNGSeed(1)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.001)
    _, labels, _ = cv2.kmeans(points, len(known.labs), None, stop, 3, cv2.KMEANS_PP_CENTERS)
    return [np.median(lab[labels.ravel() == i], axis=0) for i in range(len(known.labs))], [False] * len(
        known.labs
    )


def superpixels(picture, known):
    """scikit-image's SLIC superpixels, joined by SciPy's average linkage to the true number of colours."""
    from scipy.cluster.hierarchy import fcluster, linkage
    from skimage.segmentation import slic

    linear = view_photo(picture).linear
    lab = np.asarray(xyz1_to_lab(linear @ picture.encoding.matrix.T))
    parts = slic(lab, n_segments=400, compactness=8, convert2lab=False, channel_axis=-1, start_label=0)
    count = parts.max() + 1
    means = np.stack([np.bincount(parts.ravel(), lab[..., i].ravel(), count) for i in range(3)], 1)
    means /= np.bincount(parts.ravel(), minlength=count)[:, None]
    groups = fcluster(linkage(means, "average"), len(known.labs), "maxclust")
    return [np.median(means[groups == g], axis=0) for g in np.unique(groups)], [False] * len(
        np.unique(groups)
    )


ROWS = {
    "blendkit (number not told)": (ours, {}),
    "k-means, CIELAB (number told)": (kmeans_lab, {}),
    "k-means, OKLab (number told)": (kmeans_oklab, {}),
    "SLIC + linkage (number told)": (superpixels, {}),
    "blendkit, even light": (ours, {"light": 0.0}),
    "blendkit, very uneven light (1 to 3)": (ours, {"light": 0.5}),
    "blendkit, JPEG quality 40": (ours, {"quality": 40}),
}


def evaluate(method, seeds, **scene):
    """Rows of all photos of *seeds*, drawn with *scene*, and seconds for each photo."""
    results, spent = [], 0.0
    for seed in seeds:
        known = known_photo(seed, **scene)
        picture = read_picture(known.jpeg)
        start = time.perf_counter()
        labs, is_accent = method(picture, known)
        spent += time.perf_counter() - start
        results.append(measure(known, labs, is_accent))
    return results, spent / len(seeds)


def main(seeds=REPORTED):
    """Print the table."""
    print("| method | median ΔE | 90 % | known: median | missed | accents missed | wrong | s a photo |")
    print("|---|---|---|---|---|---|---|---|")
    for name, (method, scene) in ROWS.items():
        results, seconds = evaluate(method, seeds, **scene)
        row = summarise(results)
        print(
            f"| {name} | {row['median']:.2f} | {row['p90']:.2f} | {row['known']:.2f} | {row['missed']:.1%} "
            f"| {row['accents missed']:.0%} | {row['wrong']:.1%} | {seconds:.2f} |",
            flush=True,
        )


if __name__ == "__main__":
    main(TUNING if "tuning" in sys.argv else REPORTED)
