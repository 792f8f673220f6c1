#!/usr/bin/env python3
"""Compares what the maps of a delivered report look like in headless Chromium with pictures kept in the project.

The maps are compared, not the text around them: fonts differ from machine to machine. Each is reduced to a quarter; then no
more than SHARE of the pixels may differ by more than STEP in any colour, and the mean difference stays below MEAN.
To see that it can fail, both maps are held against one another, and each with half of its land removed: these must differ.

Usage: report_looks.py FOLDER PICTURES      with TWINSOW_BLESS=1 the pictures are written
"""

import base64
import io
import os
import sys
from pathlib import Path

import numpy as np
from PIL import Image
from report import browser, opened

STEP, SHARE, MEAN = 64, 0.02, 5.0
VIEWS = [("laptop", 1366, ["map1", "map2", "drive", "balance1"]), ("phone", 390, ["map1", "map2"])]


def looks(driver, name):
    """The map as it is on the screen, reduced to a quarter."""
    box = driver.execute_script(
        "const s = document.getElementById(arguments[0] + '-svg'); s.scrollIntoView({behavior: 'instant'});"
        "const b = s.getBoundingClientRect(); return [b.left + scrollX, b.top + scrollY, b.width, b.height]",
        name,
    )
    clip = dict(zip(("x", "y", "width", "height"), box), scale=1)
    shot = driver.execute_cdp_cmd("Page.captureScreenshot", {"clip": clip, "captureBeyondViewport": True})
    picture = Image.open(io.BytesIO(base64.b64decode(shot["data"]))).convert("RGB")
    return picture.resize((picture.width // 4, picture.height // 4), Image.Resampling.BOX)


def differs(one, other):
    """What is different, or nothing."""
    if abs(one.width - other.width) > 2 or abs(one.height - other.height) > 2:
        return f"{one.size} pixels, not {other.size}"
    one = one.resize(other.size, Image.Resampling.BOX)
    off = np.abs(np.asarray(one, dtype=int) - np.asarray(other, dtype=int))
    share, mean = (off.max(axis=2) > STEP).mean(), off.mean()
    if share > SHARE or mean > MEAN:
        return f"{100 * share:.1f} % of the pixels differ, by {mean:.1f} of 255 on average"
    return None


def main():
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    page, kept = (Path(sys.argv[1]) / "report.html").resolve(), Path(sys.argv[2])
    bless = os.environ.get("TWINSOW_BLESS") == "1"
    driver, bad, held = browser(), [], 0
    try:
        for view, width, names in VIEWS:
            opened(driver, page, width)
            seen = {name: looks(driver, name) for name in names}
            for name, picture in seen.items():
                file = kept / f"{view}-{name}.png"
                if bless:
                    picture.quantize(64).save(file, optimize=True)
                said = differs(picture, Image.open(file).convert("RGB"))
                if said:
                    bad.append(f"{file.name}: {said}")
                held += not said
            if not differs(seen["map1"], seen["map2"]):
                bad.append(f"{view}: the two maps pass for one another")
            driver.execute_script("document.querySelectorAll('.fills use:nth-child(odd)').forEach(u => u.remove())")
            for name in ("map1", "map2"):
                if not differs(looks(driver, name), seen[name]):
                    bad.append(f"{view}-{name}: land that is missing passes")
    finally:
        driver.quit()
    for text in bad:
        print(f"report_looks.py: BROKEN: {text}")
    print(f"report_looks.py: {held} maps look as kept")
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
