"""Grains of rendered pictures measured by gradus and by scikit-image's regionprops on a mask of the same picture.

regionprops counts pixels of the mask cut at half of the step, so it knows the outline to about half a pixel: area agrees
to 0.3 % for grains of this size. Its perimeter (4-connected chain, Benkrid) and largest Feret diameter run through pixel
centres or corners; their limits below are those of that method, not of gradus, whose own are held by `bodies`.
"""
import json
import subprocess
import sys
import tempfile

import numpy as np
from skimage import io, measure

MICROGRAPH, GRADUS = sys.argv[1:3]
worst = {}


def hold(name, ours, theirs, limit):
    off = abs(ours / theirs - 1)
    worst[name] = max(worst.get(name, 0), off)
    if off > limit:
        sys.exit(f"{name}: gradus {ours}, regionprops {theirs}, off by {off:.4f}, limit {limit}")


with tempfile.TemporaryDirectory() as folder:
    subprocess.run([MICROGRAPH, "--specimen", "grains", "--seed", "7", "--count", "3", "--out", folder], check=True)
    compared = 0
    for seed in (7, 8, 9):
        path = f"{folder}/grains_{seed}.png"
        run = subprocess.run([GRADUS, "measure", path, "--um-per-pixel", "1", "--json", "-", "--quiet"],
                             check=True, capture_output=True)
        bodies = json.loads(run.stdout)["results"][0]["bodies"]
        picture = io.imread(path).astype(float)
        ground = np.median(picture)
        inside = np.median(picture[picture < 0.75 * ground])
        regions = measure.regionprops(measure.label(picture < 0.5 * (ground + inside)))
        for body in bodies:
            near = [r for r in regions if r.area > 200 and
                    np.hypot(r.centroid[1] - body["x_px"], r.centroid[0] - body["y_px"]) < 2]
            if len(near) != 1 or body["at_border"]:
                sys.exit(f"{path}: body {body['object']} is no single region of regionprops")
            region = near[0]
            hold("area", body["area_um2"]["value"], region.area_filled, 0.012)
            hold("equivalent diameter", body["equivalent_diameter_um"], np.sqrt(4 * region.area_filled / np.pi), 0.006)
            hold("largest Feret diameter", body["feret_max_um"], region.feret_diameter_max, 0.035)
            hold("perimeter", body["perimeter_um"], region.perimeter_crofton, 0.04)
            hold("solidity", body["shape"]["solidity"], region.solidity, 0.04)
            compared += 1
    if compared < 40:
        sys.exit(f"only {compared} grains were compared")
print(compared, "grains; worst differences:", ", ".join(f"{k} {100 * v:.2f} %" for k, v in worst.items()))
