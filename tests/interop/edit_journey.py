#!/usr/bin/env python3
"""Drives the page of `twinsow edit` in headless Chromium, with pointer and keys only, from an open job to the files for the drill.

The journey: the demo's job opens; a rate is changed by keys, and maps, kilograms and job file follow; undo gives the job file back to
the byte; a zone is cut by hand; land left out, a strip, a place, the guide line and the entrance are drawn; a number that is not known ("?") is answered where the list of open matters leads; the decision that comes of
it is signed with name and reason; the plan is written, and its task data are those of `twinsow plan` on the saved job, to the byte. Then the
same from an empty folder: files, questions, signatures, task data. Then from a file of many fields, samples and a raster: the land is on the
map before there is a job and before there is a plan; two fields are begun at once, and on the map of all fields they get the same change,
which is taken back to the byte, and one order. Then what not every job has (`edit_forms.py`): two plans for a moist and a dry seedbed, a spreader, a trial
and a mixture.
On the way: nothing on the console, no request but to this machine, axe-core (WCAG 2.2 A and AA) finds nothing on any part, nothing is wider
than the screen at 390, 1280 and 1920 pixels, and times are printed. With PICTURES the screens are kept there.

Usage: edit_journey.py TWINSOW AXE_MIN_JS WORK [PICTURES]
"""

import filecmp
import io
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import rasterio
from PIL import Image

from delivered import Checks
from edit_drawing import borders, drawn, panels
from edit_forms import forms
from edit_page import ENVIRONMENT, MAPS, Page, at, key
from report import browser
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

PARTS = ["ground", "bags", "rates", "clear", "bouts", "settle", "handover"]
WIDTHS = [(390, 844), (1280, 800), (1920, 1080)]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def kilograms(page):
    """Of the first product, as the page says "On the map"."""
    shown = page.driver.execute_script(
        "return [...document.querySelectorAll('#sums .sum:first-child dl > div')].find(line => line.textContent.startsWith('On the map')).querySelector('dd').textContent"
    )
    return float(re.sub(r"[^0-9.]", "", shown.removesuffix("kg")))


def rate_by_keys(page, twinsow, checks):
    """A number goes down by one key: maps, kilograms, and the job file; Ctrl+Z gives all of it back."""
    driver, before = page.driver, page.job.read_bytes()
    page.part("rates")
    page.drawn()
    maps, kg = page.maps(), kilograms(page)
    driver.execute_script(
        "addEventListener('keydown', () => { window.pressed = performance.now(); performance.clearMarks('on the maps'); }, true)"
    )
    path = ("product", 0, "rate", "establishment_percent", "by_class", "sand")
    took = []
    for _ in range(8):
        page.click(at(*path))
        ActionChains(driver).send_keys(Keys.ARROW_DOWN).perform()
        page.wait(lambda: driver.execute_script("return performance.getEntriesByName('on the maps').length > 0"), "a changed rate is not drawn")
        took.append(driver.execute_script(
            "const drawn = performance.getEntriesByName('on the maps')[0].startTime;"
            "const answered = performance.getEntriesByType('resource').filter(one => one.name.endsWith('/act')).at(-1).responseEnd;"
            "return [drawn - window.pressed, drawn - answered]"
        ))
    page.settled()
    checks.that(page.maps()[0] != maps[0], "the map of the seed is as before")
    checks.that(kilograms(page) != kg, "the kilograms are as before")
    ran = subprocess.run([twinsow, "plan", "--json", "--out", str(page.job.parent / "told"), str(page.job)], capture_output=True, text=True, env=ENVIRONMENT)
    rows = json.loads(ran.stdout)["rates"]
    checks.near(kilograms(page), sum(row["kg"]["barley"] for row in rows), 0.51, "kilograms on the map, and by twinsow plan --json")
    checks.that(page.job.read_bytes() != before, "the job file is as before")
    checks.that(b'"sand" = 82' in page.job.read_bytes(), "the job file lacks the new number")
    whole, own = ([sorted(times)[len(times) // 2], max(times)] for times in zip(*took))
    print(f"  key to picture, 35 ha: median {whole[0]:.0f} ms, longest {whole[1]:.0f} ms of {len(took)}; from the engine's answer on {own[0]:.0f} and {own[1]:.0f} ms")
    checks.that("82" in page.text("#top .turns"), f"undo names nothing: {page.text('#top .turns')}")
    for _ in range(8):
        name = page.text("[data-key='top undo'] span")
        ActionChains(driver).key_down(Keys.CONTROL).send_keys("z").key_up(Keys.CONTROL).perform()
        page.wait(lambda: page.text("[data-key='top undo'] span") != name, "Ctrl+Z undoes nothing")
    page.settled()
    checks.that(page.job.read_bytes() == before, "undo does not give the job file back to the byte")
    checks.that(page.maps() == maps and kilograms(page) == kg, "undo does not give maps and kilograms back")
    ActionChains(driver).key_down(Keys.CONTROL).key_down(Keys.SHIFT).send_keys("z").key_up(Keys.SHIFT).key_up(Keys.CONTROL).perform()
    page.wait(lambda: page.job.read_bytes() != before, "Ctrl+Shift+Z does nothing again")
    page.wait(lambda: "89" in page.text("[data-key='top undo'] span"), "what was done again has no name")
    page.click(key("top undo"))
    page.wait(lambda: page.job.read_bytes() == before, "the button does not undo")


def refused(page, checks):
    """A value that cannot be is told at its field, in the engine's words, and the job file stays."""
    before = page.job.read_bytes()
    page.part("bags")
    page.click(at("product", 0, "germination_percent"))
    ActionChains(page.driver).key_down(Keys.CONTROL).send_keys("a").key_up(Keys.CONTROL).send_keys("960", Keys.ENTER).perform()
    page.wait(lambda: page.there("#part .refused"), "960 % germination is not refused")
    checks.that("100" in page.text("#part .refused"), f"the refusal does not say what is allowed: {page.text('#part .refused')}")
    if page.job.read_bytes() != before:
        ActionChains(page.driver).send_keys(Keys.ESCAPE).key_down(Keys.CONTROL).send_keys("z").key_up(Keys.CONTROL).perform()
        page.wait(lambda: page.job.read_bytes() == before, "a refused value stays in the job file")
    else:
        ActionChains(page.driver).send_keys(Keys.ESCAPE).perform()


def explained(page, checks):
    """By pointer and by keys alone: a place tells both rates, every reason, and a source."""
    driver = page.driver
    for name, act in (
        ("pointer", lambda: page.point(MAPS, -60, 20)),
        ("keys", lambda: [page.keys(MAPS, one) for one in (Keys.ARROW_RIGHT, Keys.ARROW_DOWN, Keys.ENTER)]),
    ):
        act()
        page.wait(lambda: page.shown("#here"), f"{name}: nothing is told", 10)
        steps = driver.execute_script("return [...document.querySelectorAll('#here ol')].map(list => list.children.length)")
        checks.that(len(steps) == 2 and all(steps), f"{name}: reasons per product: {steps}")
        checks.that("Source" in page.text("#here"), f"{name}: no source")
        page.wait(lambda: "kg/ha" in page.text("#aloud"), f"{name}: nothing is said aloud")
        page.click("#here .close")
        checks.that(not page.shown("#here"), f"{name}: the panel stays")


def zones_by_hand(page, checks, pictures):
    """A zone is pointed at, cut with a line and given another class; undo gives the job file back to the byte."""
    before = page.job.read_bytes()
    page.drawn()
    page.part("ground")
    page.click(key("zones soil"))
    page.wait(lambda: page.there("#zone"), "no zones")
    page.point(MAPS, -20, 0)
    page.wait(lambda: page.there(key("zone begin cut")), "no zone at the middle of the field")
    page.click(key("zone begin cut"))
    page.wait(lambda: page.there(key("zone cut")), "no line can be drawn")
    page.point(MAPS, -10, -130)
    page.point(MAPS, 10, 130)
    page.wait(lambda: "2" in page.text(key("zone cut")), "two places make no line")
    page.keep(pictures, "zones-1280")
    page.click(key("zone cut"))
    page.wait(lambda: page.job.read_bytes() != before, "the cut is not in the job file")
    page.settled()
    checks.that(b"by-hand" in page.job.read_bytes(), "the job does not name the zones cut by hand")
    page.wait(lambda: "cut" in page.text("[data-key='top undo'] span"), "undo does not name the cut")
    page.click(key("top undo"))
    page.wait(lambda: page.job.read_bytes() == before, "undo of a cut does not give the job file back to the byte")
    page.settled()
    page.click(key("zones close"))


def from_nothing(page, checks, pictures, files):
    """An empty folder: files are chosen, a job is begun, every question is answered where it leads, and what is open is signed."""
    driver = page.driver
    page.wait(lambda: page.there("#files"), "no place for files")
    page.keys("#files", "\n".join(map(str, files)))
    page.wait(lambda: page.count(".file canvas") == len(files), "files are not drawn")
    page.keep(pictures, "start-1280")
    page.keys(key("begin name"), "Long Shoal")
    page.click(key("begin"))
    page.wait(lambda: page.job.is_file() and page.there("#parts [aria-current]"), "no job is begun")
    answers = {"working_width_m": "6", "usable_l": "1500"}
    for _ in range(40):
        page.part("settle")
        asked = page.each("#part [data-key^='to at ']", lambda one: one.get_attribute("data-key"))
        if not asked or page.there("details.sign"):
            break
        page.keys(key(asked[0]), Keys.ENTER)
        field = key(asked[0].removeprefix("to "))
        page.wait(lambda: page.there(field), f"{asked[0]} leads to no field")
        before, last = page.job.read_bytes(), asked[0].split(" ")[-1]
        if page.on(field, lambda element: element.tag_name) == "select":
            page.keys(field, "barley", Keys.ENTER)
        else:
            ActionChains(driver).key_down(Keys.CONTROL).send_keys("a").key_up(Keys.CONTROL).send_keys(answers.get(last, "150"), Keys.ENTER).perform()
        page.wait(lambda: page.job.read_bytes() != before, f"the answer to '{asked[0]}' is not in the job file")
    checks.that(not re.search(rb'^[^#\n]*"\?"', page.job.read_bytes(), re.MULTILINE), "questions stay open")
    page.wait(lambda: page.there("#maps canvas[data-map]"), "no maps after all answers")


def signed(page, checks, pictures):
    """Whatever is open is signed with name and reason."""
    page.drawn()
    page.part("settle")
    page.wait(lambda: page.there("details.sign"), "no decision to sign")
    kept = False
    while page.there("details.sign"):
        name = page.on("details.sign", lambda sign: sign.get_attribute("data-key"))
        page.keys(key(f"{name} summary"), Keys.ENTER)
        page.keys(key(f"{name} by"), "A. Tester")
        page.keys(key(f"{name} why"), "weighed twice for this check")
        if not kept:
            page.keep(pictures, "settle-1280")
            page.size(390, 844)
            page.keep(pictures, "settle-390")
            page.size(1280, 800)
            kept = True
        page.keys(key(f"{name} done"), Keys.ENTER)
        page.wait(lambda: not page.there(key(name)), f"{name} stays open")
        page.settled()
    checks.that("A. Tester" in page.text("#part"), "no signature to be seen")
    checks.that(b"weighed twice for this check" in page.job.read_bytes(), "the signature is not in the job file")
    page.wait(lambda: not page.there("#top .pill.open"), f"still open: {page.text('#part')[:200]}")


def lists_by_hand(page, checks):
    """Rotors, lots and limits beside the seed get entries whose numbers are asked for; undo gives the job file back to the byte."""
    before = page.job.read_bytes()
    for part, button, asked in (
        ("bouts", "add drill hopper 0 rotor", at("drill", "hopper", 0, "rotor", 2, "cm3_per_rev")),
        ("bags", "lots begin 0", at("product", 0, "lots", "lot", 0, "lot")),
        ("rates", "add own_seed_limit", at("own_seed_limit", 0, "max_kg_per_ha")),
    ):
        page.part(part)
        page.keys(key(button), Keys.ENTER)
        page.wait(lambda: page.there(f"{asked}"), f"'{button}' gives no field")
        checks.equal(page.on(asked, lambda field: field.get_attribute("value")), "?", f"{button}: what is not known")
        page.wait(lambda: page.there("#top .pill.open"), f"{button}: what is open is not counted")
        page.click(key("top undo"))
        page.wait(lambda: page.job.read_bytes() == before, f"undo of '{button}' does not give the job file back to the byte")
    page.settled()


def answered(page, checks):
    """The list of open matters leads to the field of a "?"."""
    driver = page.driver
    page.part("settle")
    page.keys(key("to at product 0 thousand_grain_weight_g"), Keys.ENTER)
    page.wait(lambda: driver.switch_to.active_element.get_attribute("data-key") == "at product 0 thousand_grain_weight_g", "the way does not lead to the field")
    # 95 g is far above what is published for barley: a person has to answer for it.
    ActionChains(driver).key_down(Keys.CONTROL).send_keys("a").key_up(Keys.CONTROL).send_keys("95", Keys.ENTER).perform()
    page.wait(lambda: b"thousand_grain_weight_g = 95" in page.job.read_bytes(), "the answer is not in the job file")
    page.wait(lambda: driver.execute_script("return document.querySelectorAll('#maps canvas[data-map]').length") == 2, "no maps after the answer")


def handed_over(page, twinsow, out, checks, pictures):
    """Task data of the page and of the command line are the same bytes."""
    page.part("handover")
    page.keys(key("handover write"), Keys.ENTER)
    page.wait(lambda: page.there("[data-key='handed report']"), "the plan is not written")
    own = page.job.parent / f"{page.job.stem}-plan" / "terminal" / "TASKDATA"
    page.keep(pictures, "handover-1280")
    ran = subprocess.run([twinsow, "plan", str(page.job), "--out", str(out)], capture_output=True, text=True, env=ENVIRONMENT)
    checks.equal(ran.returncode, 0, f"twinsow plan: {ran.stderr[:300]}")
    other = next(out.rglob("TASKDATA"), None)
    if checks.that(own.is_dir() and other is not None, f"no task data: {own}, {other}"):
        names = sorted(path.name for path in own.iterdir())
        checks.equal(names, sorted(path.name for path in other.iterdir()), "files of the task data")
        same, differ, _ = filecmp.cmpfiles(own, other, names, shallow=False)
        checks.that(len(same) >= 2 and not differ, f"task data differ: {differ}")


def driven(page, checks, pictures):
    """Bouts and refill stops are listed, and drawn where that is asked for."""
    page.part("bouts")
    page.drawn()
    maps = page.maps()
    page.wait(lambda: page.there(key("bouts on map")), "no bouts")
    page.click(key("bouts on map"))
    page.wait(lambda: page.maps()[0] != maps[0], "bouts are not drawn")
    page.keep(pictures, "bouts-1280")
    page.click(key("bouts on map"))


def clean(page, axe, checks, name):
    """The screen as it is: nothing wider than it, and nothing that axe-core finds."""
    driver = page.driver
    if not driver.execute_script("return Boolean(window.axe)"):
        driver.execute_script(axe)
    wide, width = driver.execute_script("return [document.documentElement.scrollWidth, innerWidth]")
    checks.that(wide <= width, f"{name} is {wide} px wide on {width}")
    found = driver.execute_async_script(
        "const done = arguments[1]; axe.run(document, {runOnly: arguments[0]}).then(r => done([r.passes.length, r.violations.map(v => [v.impact, v.id, v.nodes.length, v.nodes[0].html.slice(0, 160)])]))",
        RULES,
    )
    checks.that(found[0] > 15, f"{name}: axe-core passed only {found[0]} rules")
    for impact, rule, count, html in found[1]:
        checks.that(False, f"{name} at {width}: axe-core, {impact}: {rule} x{count}: {html}")


def without_policy(page, does):
    """Does something while axe-core may run on the page."""
    page.driver.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})
    does()
    page.size(1280, 800)
    page.driver.execute_cdp_cmd("Page.setBypassCSP", {"enabled": False})


def fits(page, axe, checks, pictures):
    """Every part at every width."""
    driver = page.driver

    def all_parts():
        driver.refresh()
        page.wait(lambda: page.there("#parts a"), "no page")
        for width, height in WIDTHS:
            page.size(width, height)
            for part in (["maps"] if width < 600 else []) + PARTS:
                page.part(part)
                driver.execute_script("document.querySelectorAll('#part details').forEach(part => { part.open = true })")
                clean(page, axe, checks, part)
                driver.execute_script("document.querySelectorAll('#part details').forEach(part => { part.open = false })")
                if (width, part) in ((1280, "rates"), (1280, "bags"), (390, "maps"), (1920, "rates")):
                    page.keep(pictures, f"{part}-{width}")
            for state in panels(page):
                clean(page, axe, checks, state)
                page.keep(pictures if width == 390 else None, f"{state.replace(' ', '-')}-{width}")

    without_policy(page, all_parts)


def at_widths(page, axe, checks, pictures, name):
    """What is on the screen, at every width; the page is not loaded again, for what was dropped would be gone."""
    for width, height in WIDTHS:
        page.size(width, height)
        clean(page, axe, checks, name)
        if width < 1900:
            page.keep(pictures, f"{name}-{width}")
    page.size(1280, 800)


def quiet(page, checks):
    """Nothing on the console, nothing asked of another machine."""
    said = [entry for entry in page.driver.get_log("browser") if "the server responded with a status of 400" not in entry["message"]]
    checks.that(not said, f"console: {said[:3]}")
    messages = [json.loads(entry["message"])["message"] for entry in page.driver.get_log("performance")]
    asked = [message["params"]["request"]["url"] for message in messages if message["method"] == "Network.requestWillBeSent"]
    strange = [url for url in asked if not url.startswith((page.address, "about:", "data:"))]
    checks.that(asked and not strange, f"requests: {strange[:3]} of {len(asked)}")


def made_files(folder):
    """Three fields on the equator, samples on the first two, and a raster under all: 222.6 m to 0.002 degrees of longitude."""
    folder.mkdir()
    names = ["Long Acre", "Mill Piece", "Far End"]
    west = [0.0, 0.0026, 0.0052]

    def square(nth):
        left, right = west[nth], west[nth] + 0.002
        return [[[left, 0], [right, 0], [right, 0.002], [left, 0.002], [left, 0]]]

    features = [{"type": "Feature", "properties": {"name": name}, "geometry": {"type": "Polygon", "coordinates": square(nth)}} for nth, name in enumerate(names)]
    (folder / "fields.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8")
    lines = ["sample,lon,lat,P,K"]
    for nth in range(32):
        lon, lat = west[nth // 16] + 0.00025 + 0.0005 * (nth % 4), 0.00025 + 0.0005 * (nth // 4 % 4)
        lines.append(f"{nth + 1},{lon:.6f},{lat:.6f},{5 + nth % 4 * 6},{90 + nth}")
    (folder / "samples.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    values = np.fromfunction(lambda row, column: 10 + 0.2 * column + 0.1 * row, (30, 100), dtype=float).astype("float32")
    with rasterio.open(folder / "conductivity.tif", "w", driver="GTiff", width=100, height=30, count=1, dtype="float32", crs="EPSG:4326", transform=rasterio.Affine(0.0001, 0, -0.0003, 0, -0.0001, 0.0024)) as raster:
        raster.write(values, 1)
    return [folder / name for name in ("fields.geojson", "samples.csv", "conductivity.tif")]


def two_fields(demo, folder, text, nth):
    """The demo's job without its drive, which takes most of the time, some kilometres farther east."""
    folder.mkdir(parents=True)
    for file in demo.glob("*.geojson"):
        layer = json.loads(file.read_text(encoding="utf-8"))
        moved = json.loads(json.dumps(layer), parse_float=float)

        def east(places):
            if isinstance(places[0], (int, float)):
                return [places[0] + 0.02 * nth, *places[1:]]
            return [east(place) for place in places]

        for feature in moved["features"]:
            feature["geometry"]["coordinates"] = east(feature["geometry"]["coordinates"])
        (folder / file.name).write_text(json.dumps(moved), encoding="utf-8")
    before, rest = text.split("[drive]", 1)
    job = folder / "job.toml"
    job.write_text((before + "# ---- the products" + rest.split("# ---- the products", 1)[1]).replace("Long Shoal", folder.name), encoding="utf-8")
    return job


def coloured(page, query):
    """How many colours a canvas shows."""
    shot = page.on(query, lambda canvas: canvas.screenshot_as_png)
    return len(Image.open(io.BytesIO(shot)).convert("RGB").getcolors(1 << 24))


def many_fields(page, axe, checks, pictures, files):
    """A file of fields, samples and a raster are one map; one field is chosen on it by pointer, one by keys, one in the list."""
    driver = page.driver
    page.wait(lambda: page.there("#files"), "no place for files")
    page.keys("#files", "\n".join(map(str, files)))
    page.wait(lambda: page.count(".file") == len(files), "files are not described")
    page.wait(lambda: page.there(".begin-map canvas"), "files are not on one map")
    page.wait(lambda: coloured(page, ".begin-map canvas") > 5, "nothing is drawn")
    checks.that("Values that become zones" in page.text("#part"), "samples and raster are not taken as values")
    column = key("role-samples_csv column")
    checks.equal(page.on(column, lambda one: one.get_attribute("value")), "", "of two columns one is taken without being asked for")
    page.keys(column, "P", Keys.TAB)
    page.wait(lambda: "samples.csv, P" in page.text(".begin-map"), "the legend lacks the column")

    def chosen(name):
        return page.on(key(f"begin field {name}"), lambda one: one.is_selected())

    width = page.on(".begin-map canvas", lambda one: one.size["width"])
    page.on(".begin-map canvas", lambda one: ActionChains(driver).scroll_to_element(one).perform())
    page.point(".begin-map canvas", -int(width * 0.33), -10)
    page.wait(lambda: chosen("Long Acre"), "pointing at a field does not choose it")
    page.keys(".begin-map canvas", Keys.ARROW_RIGHT, Keys.ENTER)
    page.wait(lambda: not chosen("Long Acre"), "Enter on the map does not turn the choice")
    page.keys(".begin-map canvas", Keys.ENTER)
    page.wait(lambda: chosen("Long Acre"), "Enter on the map does not choose")
    page.keys(key("begin field Mill Piece"), Keys.SPACE)
    page.wait(lambda: "2 fields" in page.text(key("begin")), "two chosen fields are not counted")

    def looked_at():
        at_widths(page, axe, checks, pictures, "start-many")

    without_policy(page, looked_at)
    page.keys(key("begin"), Keys.ENTER)
    page.wait(lambda: page.there("#parts [data-key='part farm']"), "no jobs are begun")


def land_first(page, checks, pictures):
    """A job that cannot be planned yet shows its border, zones and samples."""
    driver = page.driver
    page.part("farm")
    page.click(key("open Long Acre/job.toml"))
    page.wait(lambda: "Long Acre" in page.text("#top h1"), "the field does not open")
    # The maps of before are there until it has.
    page.wait(lambda: driver.execute_script("return document.body.dataset.part") != "farm", "the page stays on all fields")
    page.wait(lambda: page.there("#maps canvas[data-map='ground-0']"), "no map before there is a plan")
    page.wait(lambda: "low" in page.text("#maps .legend") and "points" in page.text("#maps .samples-legend"), "no legend of zones and samples")
    checks.that(coloured(page, "#maps canvas[data-map='ground-0']") > 8, "zones and samples are not drawn")
    checks.that(not page.there("#maps canvas[data-map^='product']"), "a rate is drawn that nobody has entered")
    page.part("ground")
    page.keep(pictures, "land-1280")


def farm(page, axe, checks, pictures, jobs):
    """All fields on one map: chosen by pointer and keys, one change in both that goes back to the byte, one order, to a field and back."""
    driver = page.driver
    page.wait(lambda: driver.execute_script("return document.body.dataset.part") == "farm", "a folder of fields does not open on all of them")
    page.wait(lambda: page.there(".farm-map canvas"), "no map of all fields")
    before = {job: job.read_bytes() for job in jobs}
    # Nobody asks for it: the fields are planned in the background.
    page.wait(lambda: "ha" in page.text(".farm-list") and not re.search("not planned|being planned", page.text(".farm-list")), f"no hectares or states: {page.text('.farm-list')}")
    page.wait(lambda: coloured(page, ".farm-map canvas") > 4, "no fields are drawn")
    width = page.on(".farm-map canvas", lambda one: one.size["width"])
    page.point(".farm-map canvas", -int(width * 0.3), -10)
    ticked = "return document.querySelectorAll('[data-key^=\"farm choose\"]:checked').length"
    page.wait(lambda: driver.execute_script(ticked) == 1, "pointing at a field does not choose it")
    page.keys(key("farm all"), Keys.SPACE)
    page.wait(lambda: driver.execute_script(ticked) == len(jobs), "not all are chosen")
    page.keys(key("many kind"), "Lot", Keys.TAB)
    page.wait(lambda: page.there(key("many product")), "no product to choose")
    page.keys(key("many value"), "2027-X", Keys.TAB)
    page.keys(key("many look"), Keys.ENTER)
    page.wait(lambda: page.there(key("many preview")), "no preview")
    checks.equal(page.text(key("many preview")).count("2027-X"), len(jobs) + 1, "new lots in the preview, and in its title")
    checks.that(all(job.read_bytes() == before[job] for job in jobs), "a preview changes a job")

    def looked_at():
        at_widths(page, axe, checks, pictures, "farm")

    without_policy(page, looked_at)
    page.keys(key("many make"), Keys.ENTER)
    page.wait(lambda: all(b"2027-X" in job.read_bytes() for job in jobs), "the change is not in all jobs")
    page.wait(lambda: page.there(key("many undo")), "it cannot be taken back")
    page.keys(key("many undo"), Keys.ENTER)
    page.wait(lambda: all(job.read_bytes() == before[job] for job in jobs), "taking it back does not give the jobs back to the byte")
    # The fields plan themselves in the background, and the part is shown anew as each is known.
    page.wait(lambda: "being planned" not in page.text("main"), "the fields are not planned", 60)
    page.settled()
    page.keys(key("farm order"), Keys.ENTER)
    page.wait(lambda: page.there(key("farm order list")), f"no order: {page.text('#fault')}")
    checks.that("Spring barley" in page.text(key("farm order list")), f"the order lacks the seed: {page.text(key('farm order list'))}")
    page.keys(key(f"open {jobs[1].parent.name}/job.toml"), Keys.ENTER)
    page.wait(lambda: "Far Shoal" in page.text("#top h1"), "the name of a field does not open it")
    page.part("farm")


def first_picture(page):
    """From the page's request to the first maps on the screen."""
    driver = page.driver
    driver.refresh()
    page.wait(lambda: driver.execute_script("return performance.getEntriesByName('on the maps').length > 0"), "no picture")
    took = driver.execute_script("return performance.getEntriesByName('on the maps')[0].startTime - performance.getEntriesByType('navigation')[0].requestStart")
    print(f"  first picture, 35 ha: {took:.0f} ms from the page's request")


def main():
    if len(sys.argv) not in (4, 5):
        sys.exit(__doc__)
    twinsow, axe, work = sys.argv[1], Path(sys.argv[2]).read_text(encoding="utf-8"), Path(sys.argv[3]).resolve()
    pictures = Path(sys.argv[4]) if len(sys.argv) == 5 else None
    shutil.rmtree(work, ignore_errors=True)
    subprocess.run([twinsow, "demo", "--out", str(work)], check=True, capture_output=True, env=ENVIRONMENT)
    job = next(work.rglob("job.toml"))
    shutil.rmtree(job.parent / "job-plan", ignore_errors=True)
    checks, driver = Checks(job.parent), browser()
    programs = []

    def opened(target, file):
        page = Page(twinsow, target, file, driver)
        programs.append(page.program)
        return page

    try:
        page = opened(job, job)
        first_picture(page)
        rate_by_keys(page, twinsow, checks)
        refused(page, checks)
        explained(page, checks)
        zones_by_hand(page, checks, pictures)
        drawn(page, checks, pictures)
        borders(page, checks, pictures)
        driven(page, checks, pictures)
        lists_by_hand(page, checks)
        fits(page, axe, checks, pictures)
        quiet(page, checks)
        page.close()
        # The same job, with one number that is not known.
        text = job.read_text(encoding="utf-8")
        job.write_text(text.replace("thousand_grain_weight_g = 48.0", 'thousand_grain_weight_g = "?"'), encoding="utf-8")
        page = opened(job, job)
        answered(page, checks)
        signed(page, checks, pictures)
        handed_over(page, twinsow, work / "by-command", checks, pictures)
        quiet(page, checks)
        page.close()
        # A folder with nothing in it.
        new = work / "new"
        new.mkdir()
        page = opened(new, new / "job.toml")
        from_nothing(page, checks, pictures, [job.parent / "boundary.geojson", job.parent / "soil.geojson"])
        signed(page, checks, None)
        handed_over(page, twinsow, work / "new-by-command", checks, None)
        quiet(page, checks)
        page.close()
        # A file of many fields, samples, a raster.
        several = work / "several"
        several.mkdir()
        page = opened(several, several / "Long Acre" / "job.toml")
        many_fields(page, axe, checks, pictures, made_files(work / "files"))
        land_first(page, checks, pictures)
        quiet(page, checks)
        page.close()
        # A farm of two fields that can be planned.
        fields = work / "farm"
        jobs = [two_fields(job.parent, fields / name, text, nth) for nth, name in enumerate(("Long Shoal", "Far Shoal"))]
        page = opened(fields, jobs[0])
        farm(page, axe, checks, pictures, jobs)
        quiet(page, checks)
        page.close()
        if os.environ.get("TWINSOW_EDIT_FORMS") == "1":
            forms(twinsow, work, driver, checks, pictures, programs, quiet)
        else:
            print("  NOT RUN: the forms for two seedbeds, a spreader, a trial and a mixture (TWINSOW_EDIT_FORMS=1)")
    except WebDriverException as error:
        checks.broken.append(f"the browser could not go on: {error.msg}")
        driver.save_screenshot(str(work / "stopped.png"))
    finally:
        for program in programs:
            program.kill()
        driver.quit()
    for text in checks.broken[:30]:
        print(f"edit_journey.py: BROKEN: {text}")
    print(f"edit_journey.py: {checks.held} checks held, {len(checks.broken)} broken")
    sys.exit(1 if checks.broken else 0)


if __name__ == "__main__":
    main()
