#!/usr/bin/env python3
"""Times of the page of `twinsow edit` with the drawing, in headless Chromium without a GPU: first picture, from a key to the picture, panning.

Each JOB is copied with its folder first, so that nothing is changed. A release binary, and a machine with nothing else to do, or the times mean nothing.
Inputs: `python ../shared/bench/gen.py OUT M L`, then `python tests/benches/jobs.py OUT`. Needs tests/interop/requirements.txt, and Chromium with its driver.

Usage: edit_browser_times.py TWINSOW JOB.toml...
"""

import shutil
import statistics
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "interop"))

from edit_page import Page, key
from report import browser
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

ROUNDS = 10
PATIENCE_S = 300
ON_MAPS = "return performance.getEntriesByName('on the maps').length > 0"

# Script of each frame in which a map is painted, and of each sharp drawing, ms; when the hand last moved the land.
WATCH = """
const done = arguments[0];
import('/map.js').then(({ RateMap }) => {
  window.times = { frames: [], sharp: [], rest: [] };
  let frame = null;
  const { paint, redraw, moved } = RateMap.prototype;
  let last = 0;
  const timed = (does, onto) => function (...all) { const from = performance.now(); const made = does.apply(this, all); onto(performance.now() - from); return made; };
  RateMap.prototype.paint = timed(paint, (took) => {
    if (!frame) { frame = { took: 0 }; requestAnimationFrame(() => { window.times.frames.push(frame.took); frame = null; }); }
    frame.took += took;
  });
  RateMap.prototype.moved = function () { last = performance.now(); moved.call(this); };
  RateMap.prototype.redraw = function () { const from = performance.now(); redraw.call(this); window.times.sharp.push(performance.now() - from); if (last) window.times.rest.push(performance.now() - last); };
  done(true);
});
"""


def line(name, times, unit="ms"):
    times = sorted(times)
    if not times:
        print(f"  {name}: nothing measured")
        return
    p95 = times[min(len(times) - 1, int(len(times) * 0.95))]
    print(f"  {name}: median {statistics.median(times):.0f} {unit}, p95 {p95:.0f}, longest {times[-1]:.0f}, of {len(times)}")


def first_pictures(page):
    """From the page's request to the first maps on the screen; the program has the land by then, as after its start has been waited for."""
    took = []
    for _ in range(ROUNDS):
        page.driver.refresh()
        page.wait(lambda: page.driver.execute_script(ON_MAPS), "no picture", PATIENCE_S)
        took.append(page.driver.execute_script("return performance.getEntriesByName('on the maps')[0].startTime - performance.getEntriesByType('navigation')[0].requestStart"))
    line("first picture, from the page's request", took)


def keys_to_pictures(page):
    """One key in the first number of the rates, until both maps are on the screen."""
    driver = page.driver
    page.part("rates")
    page.wait(lambda: page.there("#part table.rules input"), "no number to change", PATIENCE_S)
    driver.execute_script("addEventListener('keydown', () => { window.pressed = performance.now(); performance.clearMarks('on the maps'); }, true)")
    took, drawn = [], []
    for _ in range(ROUNDS):
        page.click("#part table.rules input")
        ActionChains(driver).send_keys(Keys.ARROW_DOWN).perform()
        page.wait(lambda: driver.execute_script(ON_MAPS), "a changed rate is not drawn", PATIENCE_S)
        whole, own = driver.execute_script(
            "const drawn = performance.getEntriesByName('on the maps')[0].startTime;"
            "const answered = performance.getEntriesByType('resource').filter(one => one.name.endsWith('/act')).at(-1).responseEnd;"
            "return [drawn - window.pressed, drawn - answered]"
        )
        took.append(whole)
        drawn.append(own)
    line("key to picture", took)
    line("of it from the engine's answer on", drawn)


def panning(page):
    """The land is dragged to and fro: script of a frame, and how long after the hand rests the maps are sharp."""
    driver = page.driver
    page.wait(lambda: not page.there(".working"), "work does not end", PATIENCE_S)
    driver.execute_async_script(WATCH)
    for _ in range(2):
        page.click(key("zoom in"))
    map = driver.find_element(By.CSS_SELECTOR, "#maps canvas[data-map]")
    driver.execute_script("window.times = { frames: [], sharp: [], rest: [] }")
    for way in (1, -1) * 3:
        drag = ActionChains(driver, duration=16).move_to_element(map).click_and_hold()
        for _ in range(25):
            drag = drag.move_by_offset(3 * way, 2 * way)
        drag.release().perform()
        driver.execute_async_script("setTimeout(arguments[0], 400)")
    times = driver.execute_script("return window.times")
    line("script of a frame while the land is dragged", times["frames"])
    line("sharp drawing of one map", times["sharp"])
    line("sharp again after the last move", [rest for rest in times["rest"] if rest > 40])


def main():
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    driver = browser()
    try:
        for job in map(Path, sys.argv[2:]):
            with tempfile.TemporaryDirectory() as folder:
                copy = Path(folder) / "job"
                shutil.copytree(job.resolve().parent, copy)
                print(job)
                page = Page(sys.argv[1], copy / job.name, copy / job.name, driver)
                try:
                    page.wait(lambda: driver.execute_script(ON_MAPS), "no picture", PATIENCE_S)
                    points = driver.execute_async_script(
                        "const done = arguments[0]; import('/state.js').then(async ({ state }) => { const picture = await (await fetch(`/picture/${state().plan.picture}`)).json();"
                        "done(picture.land.flatMap(({ rings }) => rings).reduce((sum, ring) => sum + ring.length / 2, 0)); })"
                    )
                    print(f"  {points} points of outlines")
                    first_pictures(page)
                    keys_to_pictures(page)
                    panning(page)
                finally:
                    page.close()
    finally:
        driver.quit()


if __name__ == "__main__":
    main()
