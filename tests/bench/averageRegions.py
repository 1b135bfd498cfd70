"""The usual script: walk a clip with OpenCV and average the same regions, as the bench's opponent.

    python3 averageRegions.py CLIP RECIPE

Reads every frame as a colour picture, as `VideoCapture.read` gives it, turns each region grey and takes its mean.
Prints the number of frames and the mean of every region, so that the work cannot be left out.
"""

import json
import sys

import cv2

clip, recipe = sys.argv[1:3]
with open(recipe, encoding="utf-8") as file:
    regions = json.load(file)["regions"]
capture = cv2.VideoCapture(clip)
means = {region["name"]: [] for region in regions}
frames = 0
while True:
    ok, picture = capture.read()
    if not ok:
        break
    frames += 1
    for region in regions:
        x, y = region["x"], region["y"]
        patch = picture[y : y + region["height"], x : x + region["width"]]
        means[region["name"]].append(cv2.cvtColor(patch, cv2.COLOR_BGR2GRAY).mean())
print(frames, *(f"{name} {sum(values) / len(values):.3f}" for name, values in means.items()))
