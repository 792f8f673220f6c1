"""Drawn on the maps of `twinsow edit`, by pointer and by keys alone: each thing comes into the job file with a file of its own, and undo
gives the job back to the byte and takes that file away."""

from edit_page import MAPS, key
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

def point(page, right, down):
    """A press on the first map, pixels from its middle."""
    page.point(MAPS, right, down)


def places(page, count):
    page.wait(lambda: str(count) in page.text("#drawing p:not(.hint)"), f"{count} places are not drawn")


def begun(page, part, kind):
    """Opens the part and begins to draw; the keys then belong to the map."""
    page.part(part)
    page.keys(key(f"draw {kind}"), Keys.ENTER)
    page.wait(lambda: page.there(key("drawing none")), f"{kind}: nothing can be drawn")
    page.wait(lambda: page.driver.switch_to.active_element.get_attribute("data-map"), f"{kind}: the map has no focus")


def by_keys(page, *keys):
    """One key after the other, each place waited for."""
    for number, pressed in enumerate(keys, 1):
        ActionChains(page.driver).send_keys(*pressed, Keys.ENTER).perform()
        places(page, number)


def undone(page, checks, what, before, files):
    """The drawing is in the job; undo takes job and file back."""
    page.wait(lambda: page.job.read_bytes() != before, f"{what}: the job file is as before")
    page.wait(lambda: what in page.text("[data-key='top undo'] span"), f"{what}: undo does not name it")
    page.settled()
    page.click(key("top undo"))
    page.wait(lambda: page.job.read_bytes() == before, f"{what}: undo does not give the job file back to the byte")
    page.wait(lambda: what not in page.text("[data-key='top undo'] span"), f"{what}: undo still names it")
    checks.equal(listed(page), files, f"{what}: files after undo")
    page.settled()


def listed(page):
    return sorted(path.name for path in page.job.parent.iterdir() if not path.name.endswith(".before"))


def drawn(page, checks, pictures):
    """Land left out and a place by pointer; a strip, the guide line and the entrance by keys."""
    driver = page.driver
    page.drawn()
    before, files = page.job.read_bytes(), listed(page)

    begun(page, "clear", "exclusion")
    for number, place in enumerate(((-60, -40), (10, -40), (10, 20), (-60, 20)), 1):
        point(page, *place)
        places(page, number)
    page.keep(pictures, "drawing-1280")
    point(page, -60, -40)
    page.wait(lambda: page.there(key("drawing done")), "the first corner does not close the outline")
    page.click(key("drawing done"))
    page.wait(lambda: "no name" in page.text("#fault"), "land without a name is taken")
    checks.equal(page.job.read_bytes(), before, "the job after a drawing without a name")
    page.keys(key("drawing name"), "Mast")
    page.keys(key("drawing why"), "no way through")
    page.keys(key("drawing done"), Keys.ENTER)
    page.wait(lambda: (page.job.parent / "Mast.geojson").is_file(), "what is drawn has no file")
    undone(page, checks, "Mast", before, files)

    begun(page, "clear", "strip")
    by_keys(page, [Keys.ARROW_UP] * 3, [Keys.SHIFT, Keys.ARROW_RIGHT, Keys.NULL], [Keys.ARROW_DOWN] * 2)
    ActionChains(driver).send_keys(Keys.ESCAPE).perform()
    places(page, 2)
    ActionChains(driver).send_keys(*[Keys.ARROW_LEFT] * 4, Keys.ENTER).perform()
    places(page, 3)
    ActionChains(driver).key_down(Keys.CONTROL).send_keys("z").key_up(Keys.CONTROL).send_keys(*[Keys.ARROW_RIGHT] * 4).perform()
    places(page, 2)
    checks.equal(page.job.read_bytes(), before, "the job after a place was taken back")
    # Enter at the last place again ends the line: the crosshair goes back to it.
    ActionChains(driver).send_keys(*[Keys.ARROW_UP] * 2, Keys.ENTER).perform()
    page.wait(lambda: page.there(key("drawing done")), "Enter at the last place does not end the line")
    page.keys(key("drawing name"), "Ditch")
    page.keys(key("drawing distance"), "0")
    page.keys(key("drawing done"), Keys.ENTER)
    page.wait(lambda: "above 0" in page.text("#fault"), "a strip of 0 m is taken")
    checks.equal((page.job.read_bytes(), listed(page)), (before, files), "job and files after a strip of 0 m")
    page.keep(pictures, "strip-1280")
    page.keys(key("drawing distance"), Keys.BACKSPACE, "6", Keys.TAB, "t")
    page.keys(key("drawing done"), Keys.ENTER)
    page.wait(lambda: b'measured_from = "top_of_bank"' in page.job.read_bytes(), "what the strip is measured from is not in the job")
    undone(page, checks, "Ditch", before, files)

    begun(page, "clear", "place")
    for number, place in enumerate(((40, -60), (90, -60), (60, -20)), 1):
        point(page, *place)
        places(page, number)
    page.click(key("drawing finish"))
    page.wait(lambda: page.there(key("drawing name")), "the button does not close the outline")
    page.keys(key("drawing name"), "Slug edge")
    page.keys(key("drawing percent-barley"), "115", Keys.TAB)
    page.keys(key("drawing done"), Keys.ENTER)
    undone(page, checks, "Slug edge", before, files)

    begun(page, "bouts", "guide")
    by_keys(page, [Keys.ARROW_LEFT] * 4, [Keys.ARROW_UP] * 9)
    ActionChains(driver).send_keys(Keys.ENTER).perform()
    page.wait(lambda: page.there(key("drawing done")), "Enter does not end the guide line")
    page.keys(key("drawing done"), Keys.ENTER)
    page.wait(lambda: b"guide-line.geojson" in page.job.read_bytes(), "the guide line is not in the job")
    undone(page, checks, "Guide line", before, files)

    begun(page, "ground", "entrance")
    ActionChains(driver).send_keys(Keys.ARROW_DOWN, Keys.ENTER).perform()
    undone(page, checks, "Entrance", before, files)


def borders(page, checks, pictures):
    """A border is dragged and borders are smoothed; the land of each class is told before and after."""
    page.part("ground")
    before, files = page.job.read_bytes(), listed(page)
    page.click(key("zones soil"))
    page.wait(lambda: page.there(key("zones smooth")), "no borders")
    page.keys(key("zones within"), "6")
    page.keys(key("zones smooth"), Keys.ENTER)
    page.wait(lambda: "by-hand" in page.job.read_text(encoding="utf-8"), "smoothed borders are not in the job")
    page.wait(lambda: page.there("#part table td + td") and "worked out" not in page.text("#part table"), "the land of each class is not told")
    told = page.each("#part table tbody tr", lambda row: row.text.split())
    checks.that(any(row[-4:-2] != row[-2:] for row in told), f"smoothing moves no land: {told}")
    page.keep(pictures, "borders-1280")
    undone(page, checks, "smoothed", before, files)
    page.wait(lambda: page.there(key("zones move")), "the zones have gone")
    page.click(key("zones move"))
    page.wait(lambda: page.there(key("drawing none")), "no border can be moved")
    # Two places of which the first is none on a border: refused, and nothing is changed.
    point(page, -20, 0)
    places_are = "#drawing .hint"
    page.wait(lambda: page.there(places_are), "the drawing has ended")
    page.click(key("drawing none"))
    checks.equal((page.job.read_bytes(), listed(page)), (before, files), "job and files after nothing was moved")
    page.click(key("zones close"))


def panels(page):
    """Each state of the panel above the maps, one after the other, for whoever looks at it."""
    wide = page.driver.execute_script("return innerWidth > 820")
    for part, kind in (("clear", "strip"), ("clear", "place")):
        begun(page, part, kind)
        yield f"drawing a {kind}"
        by_keys(page, [Keys.ARROW_UP], [Keys.ARROW_RIGHT] * 5, [Keys.ARROW_DOWN] * 5)
        ActionChains(page.driver).send_keys(Keys.ENTER).perform()
        page.wait(lambda: page.there(key("drawing done")), f"{kind}: not drawn")
        yield f"a {kind} that is drawn"
        page.click(key("drawing none"))
        page.wait(lambda: not page.there(key("drawing none")), f"{kind}: the panel stays")
    if wide:
        page.part("clear")
