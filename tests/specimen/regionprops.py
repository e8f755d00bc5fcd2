"""Grains of rendered pictures measured by gradus and by scikit-image's regionprops on a mask of the same picture.

regionprops counts the pixels of a mask, here cut half-way between the ground around a grain and its inside: areas of 1000
pixels and more agree to about 1 %, most of it the half level's s^2/(2R), which gradus takes out. Its perimeter (Crofton) and
largest Feret diameter know the pixel raster only; the limits are those of that method, as gradus's own are held by
`bodies`.
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
        for body in bodies:
            if body["at_border"] or body["area_um2"]["value"] < 1000:
                continue
            reach = int(body["feret_max_um"] / 2) + 12
            x, y = round(body["x_px"]), round(body["y_px"])
            if min(x, y) < reach or x + reach >= picture.shape[1] or y + reach >= picture.shape[0]:
                continue
            part = picture[y - reach:y + reach + 1, x - reach:x + reach + 1]
            ground = np.median(np.concatenate([part[0], part[-1], part[:, 0], part[:, -1]]))
            inside = np.median(part[reach - 4:reach + 5, reach - 4:reach + 5])
            regions = measure.regionprops(measure.label(part < 0.5 * (ground + inside)))
            region = max(regions, key=lambda r: r.area)
            hold("area", body["area_um2"]["value"], region.area_filled, 0.012)
            hold("equivalent diameter", body["equivalent_diameter_um"], np.sqrt(4 * region.area_filled / np.pi), 0.006)
            hold("largest Feret diameter", body["feret_max_um"], region.feret_diameter_max, 0.035)
            hold("perimeter", body["perimeter_um"], region.perimeter_crofton, 0.04)
            hold("solidity", body["shape"]["solidity"], region.solidity, 0.04)
            compared += 1
    if compared < 20:
        sys.exit(f"only {compared} grains were compared")
print(compared, "grains; worst differences:", ", ".join(f"{k} {100 * v:.2f} %" for k, v in worst.items()))
