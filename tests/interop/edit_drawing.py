"""Drawn on the maps of `twinsow edit`, by pointer and by keys alone: each thing comes into the job file with a file of its own, and undo
gives the job back to the byte and takes that file away."""

from edit_page import key
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

MAP = "#maps canvas[data-map]"


def point(page, right, down):
    """A press on the first map, pixels from its middle."""
    map = page.driver.find_element(By.CSS_SELECTOR, MAP)
    ActionChains(page.driver).move_to_element_with_offset(map, right, down).click().perform()


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
    told = [row.text.split() for row in page.driver.find_elements(By.CSS_SELECTOR, "#part table tbody tr")]
    checks.that(any(row[-4:-2] != row[-2:] for row in told), f"smoothing moves no land: {told}")
    page.keep(pictures, "borders-1280")
    undone(page, checks, "smoothed", before, files)
    page.wait(lambda: page.there(key("zones move")), "the zones have gone")
    around_and_narrow(page, checks, before, files)
    between_two_places(page, checks, before, files)
    page.click(key("zones move"))
    page.wait(lambda: page.there(key("drawing none")), "no border can be moved")
    # Two places of which the first is none on a border: refused, and nothing is changed.
    point(page, -20, 0)
    places_are = "#drawing .hint"
    page.wait(lambda: page.there(places_are), "the drawing has ended")
    page.click(key("drawing none"))
    checks.equal((page.job.read_bytes(), listed(page)), (before, files), "job and files after nothing was moved")
    page.click(key("zones close"))


def around_and_narrow(page, checks, before, files):
    """A strip of some 3 m is drawn around and gets another class; the drill of 7.2 m cannot follow it, and it is joined again."""
    for _ in range(6):
        page.click(key("zoom in"))
    page.click(key("zones around"))
    page.wait(lambda: page.there(key("drawing none")), "nothing can be drawn around")
    if page.on(key("drawing catch"), lambda one: one.is_selected()):
        page.click(key("drawing catch"))
    for number, place in enumerate(((-90, -11), (90, -11), (90, 11), (-90, 11)), 1):
        point(page, *place)
        places(page, number)
    page.click(key("drawing finish"))
    page.wait(lambda: page.there(key("drawing class")), "no class is asked for")
    now = told_class(page)
    other = next(name for name in ("clay", "sand") if name != now)
    page.keys(key("drawing class"), other, Keys.TAB)
    page.keys(key("drawing done"), Keys.ENTER)
    page.wait(lambda: page.job.read_bytes() != before, "what is drawn around is not in the job")
    page.wait(lambda: "around" in page.text("[data-key='top undo'] span"), "undo does not name what was drawn around")
    page.settled()
    drawn_around = page.job.read_bytes()
    page.wait(lambda: page.there(key("zones narrow")), "the zones have gone")
    page.keys(key("zones narrow"), Keys.ENTER)
    page.wait(lambda: page.job.read_bytes() != drawn_around, f"nothing narrow is joined: {page.text('#fault')}")
    page.wait(lambda: "too narrow" in page.text("[data-key='top undo'] span"), "undo does not name what was joined")
    page.settled()
    page.click(key("top undo"))
    page.wait(lambda: page.job.read_bytes() == drawn_around, "undo of what was joined does not give the job file back to the byte")
    page.settled()
    undone(page, checks, "around", before, files)
    page.wait(lambda: page.there(key("zones run")), "the zones have gone")
    page.click(key("zoom whole"))


def told_class(page):
    """Class of the zone in the middle of the map."""
    return page.driver.execute_async_script(
        "const done = arguments[0]; Promise.all([import('/maps.js'), import('/state.js')]).then(async ([{ view }, { state }]) => {"
        "const told = await (await fetch(`/explain?x=${Math.round(view.x)}&y=${Math.round(-view.y)}`)).json(); done(told.classes.find(one => one.layer === 'soil').class); });"
    )


def between_two_places(page, checks, before, files):
    """A border goes along between two places on it: places of the longest piece of border inside the field, found by the engine's own outlines."""
    ends = page.driver.execute_async_script(
        "const done = arguments[0]; import('/maps.js').then(async ({ view }) => {"
        "const { zones } = await (await fetch('/layer?name=soil')).json(); const all = new Map();"
        "for (const { rings } of zones) for (const ring of rings) { let [x, y] = ring; const first = [x, y]; const places = [first];"
        "for (let at = 2; at + 1 < ring.length; at += 2) { x += ring[at]; y += ring[at + 1]; places.push([x, y]); }"
        "places.forEach((a, nth) => { const b = places[(nth + 1) % places.length]; all.set(`${a} ${b}`, [a, b]); }); }"
        "const inner = [...all.values()].filter(([a, b]) => all.has(`${b} ${a}`));"
        "const far = ([[ax, ay], [bx, by]]) => Math.hypot(bx - ax, by - ay); const [a, b] = inner.sort((one, other) => far(other) - far(one))[0];"
        "done([0.35, 0.65].map(part => view.toScreen(a[0] + (b[0] - a[0]) * part, -(a[1] + (b[1] - a[1]) * part)))); });"
    )
    map = page.driver.find_element(By.CSS_SELECTOR, MAP)
    middle = [map.size["width"] / 2, map.size["height"] / 2]
    first, last = [[round(at - half) for at, half in zip(place, middle)] for place in ends]
    page.click(key("zones run"))
    page.wait(lambda: page.there(key("drawing none")), "no border can be moved along")
    if not page.on(key("drawing catch"), lambda one: one.is_selected()):
        page.click(key("drawing catch"))
    for place in (first, last):
        point(page, *place)
        page.wait(lambda: "edge" in page.text("#aloud") or "corner" in page.text("#aloud"), f"no border is caught at {place}")
    along = [last[0] - first[0], last[1] - first[1]]
    long = max(1, (along[0] ** 2 + along[1] ** 2) ** 0.5)
    # Aside by some pixels, where nothing is near.
    page.click(key("drawing catch"))
    point(page, first[0] + round(-along[1] / long * 6), first[1] + round(along[0] / long * 6))
    undone(page, checks, "between two places", before, files)
    page.wait(lambda: page.there(key("zones move")), "the zones have gone")
    page.wait(lambda: not page.there(key("drawing none")), "the drawing does not end")


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
