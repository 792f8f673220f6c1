"""Forms of the page of `twinsow edit` for what not every job has, by pointer and keys: two plans for a moist and a dry seedbed, the spreader,
trials, and a mixture of two seeds."""

import json

from edit_page import MAPS, Page, at, key
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

# A field of some 440 m by 330 m on the equator, in two zones; every number invented.
WIDE, HIGH = 0.004, 0.003
JOB = """name = "Machines"
[field]
name = "Machines"
boundary = { file = "boundary.geojson" }
[headland]
bouts = 4
[[layer]]
name = "soil"
source = { file = "soil.geojson" }
class_attribute = "soil"
[drill]
working_width_m = 6
rows = 40
row_spacing_m = 0.15
[[drill.hopper]]
name = "front"
usable_l = 1000
[[drill.hopper]]
name = "rear"
usable_l = 1000
[drive]
heading_deg = 0
[grid]
cell_m = 6
[[product]]
id = "barley"
name = "Spring barley"
kind = "seed"
crop = "spring barley"
hopper = "front"
thousand_grain_weight_g = 48
germination_percent = 96
bulk_density_kg_per_l = 0.65
rate.kg_per_ha = 165
limits = { min_kg_per_ha = 80, max_kg_per_ha = 260, step_kg_per_ha = 1 }
"""
STARTER = """[[product]]
id = "starter"
name = "Starter"
kind = "fertiliser"
hopper = "rear"
bulk_density_kg_per_l = 1.0
grade = { p2o5_percent = 46.0 }
rate = { kg_per_ha = { layer = "soil", by_class = { light = 100.0, heavy = 63.0 } }, placed_percent = 50.0 }
[[own_seed_limit]]
product = "starter"
max_kg_per_ha = 5000.0
crop = "spring barley"
grade = { p2o5_percent = 46.0 }
row_spacing_m = 2.0
because = "invented for this test: no limit"
by = "A. Tester"
on = "2026-01-15"
"""
CLOVER = """[[product]]
id = "clover"
name = "Red clover"
kind = "seed"
crop = "red clover"
hopper = "rear"
bulk_density_kg_per_l = 0.8
rate.kg_per_ha = 12
"""


def square(west, east, properties):
    ring = [[west, 0], [east, 0], [east, HIGH], [west, HIGH], [west, 0]]
    return {"type": "Feature", "properties": properties, "geometry": {"type": "Polygon", "coordinates": [ring]}}


def made(folder, text):
    """The job with its files, in a folder of its own."""
    folder.mkdir(parents=True)
    files = {
        "boundary.geojson": [square(0, WIDE, {})],
        "soil.geojson": [square(-0.001, WIDE / 2, {"soil": "light"}), square(WIDE / 2, WIDE + 0.001, {"soil": "heavy"})],
        "fields.geojson": [square(0, WIDE, {"block": "North"}), square(0.01, 0.01 + WIDE, {"block": "South"})],
    }
    for name, features in files.items():
        (folder / name).write_text(json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8")
    job = folder / "job.toml"
    job.write_text(text, encoding="utf-8")
    return job


def typed(page, path, text):
    """A field gets a value by keys, and it comes into the job file."""
    before = page.job.read_bytes()
    page.wait(lambda: page.there(at(*path)), f"no field for {path}")
    page.click(at(*path))
    ActionChains(page.driver).key_down(Keys.CONTROL).send_keys("a").key_up(Keys.CONTROL).send_keys(text, Keys.ENTER).perform()
    page.wait(lambda: page.job.read_bytes() != before, f"{path}: '{text}' is not in the job file")


def chosen(page, path, words):
    before = page.job.read_bytes()
    page.wait(lambda: page.there(at(*path)), f"no field for {path}")
    page.keys(at(*path), words, Keys.ENTER)
    page.wait(lambda: page.job.read_bytes() != before, f"{path}: '{words}' is not chosen")


def pressed(page, name):
    """A button that changes the job."""
    before = page.job.read_bytes()
    page.wait(lambda: page.there(key(name)), f"there is no '{name}'")
    page.keys(key(name), Keys.ENTER)
    page.wait(lambda: page.job.read_bytes() != before, f"'{name}' changes nothing")


def undone(page, before, checks, what):
    while page.job.read_bytes() != before:
        name = page.text("[data-key='top undo'] span")
        page.click(key("top undo"))
        page.wait(lambda: page.text("[data-key='top undo'] span") != name or page.job.read_bytes() == before, f"{what}: undo does nothing")
    checks.equal(page.job.read_bytes(), before, f"{what}: the job after undo")
    page.settled()


def told(page, right=0, down=0):
    """What the middle of the first map, or a place pixels from it, is told."""
    page.point(MAPS, right, down)
    page.wait(lambda: page.shown("#here"), "a place tells nothing", 20)
    return page.text("#here")


def keep(page, pictures, name):
    """The screen, wide and narrow."""
    for width, height in ((1280, 900), (390, 844)):
        page.size(width, height)
        page.keep(pictures, f"{name}-{width}")
    page.size(1280, 800)


def machines(page, checks, pictures):
    """A spreader and a trial are set up, drawn, told at a place and taken back."""
    before = page.job.read_bytes()
    page.part("bouts")
    page.drawn()
    pressed(page, "add spreader")
    page.wait(lambda: page.there(at("spreader", "working_width_m")), "the spreader has no form")
    checks.equal(page.on(at("spreader", "working_width_m"), lambda one: one.get_attribute("value")), "?", "the spreader's width")
    page.wait(lambda: page.there("#top .pill.open"), "what is not known of the spreader is not counted")
    typed(page, ("spreader", "working_width_m"), "24")
    typed(page, ("spreader", "limits", "step_kg_per_ha"), "10")
    page.wait(lambda: page.there(key("spreader on map")), "the spreader has no map")
    page.drawn()
    page.keys(key("spreader on map"), Keys.ENTER)
    page.wait(lambda: page.there("#maps canvas[data-map='spread-starter']"), "the spreader's map is not drawn")
    page.wait(lambda: "50" in page.text("figure:has([data-map='spread-starter']) .legend"), "the spreader's map has no steps of its own")
    page.drawn()
    keep(page, pictures, "spreader")
    words = told(page, -40, 0)
    checks.that("by the spreader" in words, f"the place does not tell the spreader's rate: {words[:200]}")
    page.keys(key("spreader on map"), Keys.ENTER)
    undone(page, before, checks, "spreader")

    page.part("bouts")
    pressed(page, "add trial")
    typed(page, ("trial", 0, "header_width_m"), "9")
    chosen(page, ("trial", 0, "product"), "Spring")
    typed(page, ("trial", 0, "flat_kg_per_ha"), "150")
    page.wait(lambda: page.there(key("trial 0 on map")), f"no trial is laid out: {page.text('#notices')}")
    page.drawn()
    plots = page.count("[data-key^='plot 0 ']")
    checks.that(plots >= 8, f"{plots} plots are listed")
    checks.that("kg/ha" in page.text("#trial-0 ~ dl"), "what the trial sees is not told")
    with_plots = page.maps()
    keep(page, pictures, "trial")
    page.keys(key("trial 0 on map"), Keys.ENTER)
    page.wait(lambda: page.maps() != with_plots, "plots are not drawn")
    page.keys(key("trial 0 on map"), Keys.ENTER)
    # Somewhere across the middle lies a plot.
    found = any("Trial" in told(page, right, 0) for right in range(-60, 61, 20))
    checks.that(found, "no place tells the plot of a trial")
    pressed(page, "remove trial 0")
    undone(page, before, checks, "trial")


def mixture(page, checks, pictures):
    """Two seeds are tied, one share for each class of the soil, and let go again."""
    before = page.job.read_bytes()
    page.part("bags")
    page.drawn()
    pressed(page, "add mixture")
    typed(page, ("mixture", "companion_percent"), "60")
    page.drawn()
    pressed(page, "by class mixture companion_percent soil")
    typed(page, ("mixture", "companion_percent", "by_class", "light"), "80")
    page.drawn()
    keep(page, pictures, "mixture")
    checks.that(page.driver.execute_script("return document.querySelectorAll('#sums .sum').length") == 2, "two seeds are not summed")
    pressed(page, "remove mixture")
    undone(page, before, checks, "mixture")


def seedbeds(page, checks, pictures):
    """The moist and the dry plan are looked at in turn: rates, kilograms, places; each is open for itself."""
    page.drawn()
    page.part("rates")
    page.wait(lambda: page.there(key("seedbed maps moist")), "no choice of the two plans")
    pressed_is = lambda which: page.on(key(f"seedbed maps {which}"), lambda one: one.get_attribute("aria-pressed"))
    checks.equal((pressed_is("dry"), pressed_is("moist")), ("true", "false"), "the dry plan is looked at first")
    job, maps, sums = page.job.read_bytes(), page.maps(), page.text("#sums")
    dry = told(page)
    page.keys(key("seedbed maps moist"), Keys.ENTER)
    page.wait(lambda: pressed_is("moist") == "true", "the moist plan is not looked at")
    page.wait(lambda: page.text("#sums") != sums and page.text("#here") != dry, "kilograms and the place are as for the dry plan")
    page.wait(lambda: page.maps() != maps, "the maps are as for the dry plan")
    checks.equal(page.job.read_bytes(), job, "the job after another plan was looked at")
    keep(page, pictures, "seedbeds")
    page.part("settle")
    page.wait(lambda: page.there(key("seedbed settle dry")), "the open part does not say which plan it is about")


def forms(twinsow, work, driver, checks, pictures, programs, quiet):
    """All of them, each on a page of its own."""
    phosphate = STARTER.split("[[own_seed_limit]]")[0].replace("grade = { p2o5_percent = 46.0 }", 'form = "monoammonium_phosphate"\ngrade = { n_percent = 12.0, p2o5_percent = 52.0 }')
    table = '[[seed_safe]]\ntable = "manitoba_phosphate"\ncrop = "barley"\nspread_m = 0.03\ntexture = "medium"\n'
    without_drive = JOB.replace("[drive]\nheading_deg = 0\n", "")
    for name, text, does in (
        ("machines", JOB + STARTER, machines),
        ("mixture", without_drive + CLOVER, mixture),
        ("seedbeds", 'seedbed = "not_known"\n' + without_drive + phosphate.replace("light = 100.0, heavy = 63.0", "light = 600.0, heavy = 500.0") + table, seedbeds),
    ):
        job = made(work / "forms" / name, text)
        # What the page before asked for on its way out.
        driver.get_log("performance")
        page = Page(twinsow, job, job, driver)
        programs.append(page.program)
        does(page, checks, pictures)
        quiet(page, checks)
        page.close()
