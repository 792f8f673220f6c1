#!/usr/bin/env python3
"""Opens delivered reports in headless Chromium and does with them what their readers do.

Per report: no message on the console, no request beside the page itself, every number with a place in plan.json is
that number, the accessibility rules of axe-core (WCAG 2.2 A and AA) hold, and places taken from gis/rates.geojson show the rates of that file:
in the panel, and in the colour of the legend. All maps move together with buttons and keys; layers go off and on; a row leads
to the map; at 390 px nothing is wider than the phone; without scripts maps and tables stay; printed, the sheets begin on pages of their own.

Usage: report.py AXE_MIN_JS FOLDER...
"""

import base64
import io
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pyproj
import shapely
from delivered import Checks, Plan
from PIL import Image
from selenium import webdriver
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.chrome.service import Service

PLACES = 6


def browser():
    options = webdriver.ChromeOptions()
    options.binary_location = "/usr/bin/chromium"
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars", "--force-device-scale-factor=1"):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    return webdriver.Chrome(options=options, service=Service("/usr/bin/chromedriver"))


def opened(driver, page, width=1366, height=900):
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride", {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}
    )
    driver.get(page.as_uri())


def quiet(driver, page, checks):
    """Nothing on the console, nothing asked of the network."""
    said = [entry for entry in driver.get_log("browser")]
    checks.that(not said, f"console: {said[:3]}")
    asked = []
    for entry in driver.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            asked.append(message["params"]["request"]["url"])
    asked = [url for url in asked if url.split("#")[0] != page.as_uri()]
    checks.that(not asked, f"requests: {asked[:3]}")


def numbers(driver, plan, checks):
    """Every number that says where it is from is the one of plan.json, as rounded as it stands there."""
    tags = driver.execute_script(
        "return [...document.querySelectorAll('data[data-from]')].map(d => [d.dataset.from, d.value, d.textContent])"
    )
    checks.that(len(tags) > 20, f"only {len(tags)} numbers")
    for place, value, shown in tags:
        found = plan.json
        for key in place.strip("/").split("/"):
            found = found[int(key)] if isinstance(found, list) else found[key]
        checks.equal(float(value), float(found), place)
        plain = shown.replace("\u00a0", "").replace("\u202f", "").replace("\u2212", "-").replace(",", ".")
        decimals = len(plain.partition(".")[2])
        scaled = float(found) / (1e4 if place.endswith("_m2") else 1)
        # The bounds of a speed window are rounded to its inside.
        most = 1.0001 if place.startswith("/drill/field_speed/") else 0.5001
        checks.near(float(plain), scaled, most * 10**-decimals, f"{place} as shown")


def places(plan, folder, driver):
    """Places well inside zones of gis/rates.geojson, on the first map's drawing plane, with the rates there."""
    collection = json.loads((folder / "gis/rates.geojson").read_text(encoding="utf-8"))
    west, north = map(float, driver.execute_script("return document.querySelector('#views').dataset.corner").split())
    lon, lat = plan.origin
    plane = pyproj.Transformer.from_crs(
        "EPSG:4326", f"+proj=tmerc +lon_0={lon!r} +lat_0={lat!r} +k=1 +datum=WGS84 +units=m +no_defs", always_xy=True
    )
    found = []
    for feature in collection["features"]:
        shape = shapely.transform(
            shapely.geometry.shape(feature["geometry"]), lambda xy: np.column_stack(plane.transform(xy[:, 0], xy[:, 1]))
        )
        biggest = max(getattr(shape, "geoms", [shape]), key=lambda part: part.area)
        inner = shapely.maximum_inscribed_circle(biggest)
        if shapely.length(inner) < 6:
            continue
        x, y = shapely.get_coordinates(inner)[0]
        # Off the middle, where the label stands.
        y -= 0.6 * shapely.length(inner)
        rates = [feature["properties"][f"{product}_kg_ha"] for product in plan.products]
        found.append((biggest.area, [(x - west) * 10, (north - y) * 10], rates))
    found.sort(key=lambda one: -one[0])
    return [(place, rates) for _, place, rates in found[:PLACES]]


ON_SCREEN = """
const svg = document.getElementById(arguments[0] + '-svg');
const p = new DOMPoint(arguments[1][0], arguments[1][1]).matrixTransform(svg.getScreenCTM());
return [p.x, p.y];
"""


def pointing(driver, plan, folder, checks):
    """A known place shows its rates: in the panel by a click, and as the colour of the legend."""
    found = places(plan, folder, driver)
    checks.that(len(found) > 0, "no place to point at")
    driver.execute_script("document.querySelector('#maps').scrollIntoView({behavior: 'instant'})")
    for layer in ("labels", "zones", "headland", "setbacks"):
        driver.execute_script(
            "const box = document.querySelector(`[data-layer=${arguments[0]}]`); if (box && box.checked) box.click()", layer
        )
    picture = Image.open(io.BytesIO(driver.get_screenshot_as_png())).convert("RGB")
    for place, rates in found:
        for nth, rate in enumerate(rates):
            x, y = driver.execute_script(ON_SCREEN, f"map{nth + 1}", place)
            wanted = driver.execute_script(
                """const lines = [...document.querySelectorAll(`#map${arguments[0]} .legend tbody tr`)];
                const of = lines.find(line => { const n = [...line.querySelector('th').querySelectorAll('data')].map(d => +d.value);
                  return n.length ? arguments[1] >= n[0] - 1e-9 && arguments[1] <= n[n.length - 1] + 1e-9 : arguments[1] === 0; });
                return of ? of.querySelector('rect').getAttribute('fill') : null""",
                nth + 1,
                rate,
            )
            checks.that(wanted is not None, f"rate {rate} is not in the legend")
            if rate > 0 and 0 <= y < picture.height:
                colour = tuple(int(wanted[i : i + 2], 16) for i in (1, 3, 5))
                seen = picture.getpixel((int(x), int(y)))
                checks.that(max(abs(a - b) for a, b in zip(colour, seen)) <= 24, f"map {nth + 1}: colour {seen} at {place}, legend {colour}")
        body = driver.find_element(By.ID, "map1-svg")
        x, y = driver.execute_script(ON_SCREEN, "map1", place)
        box = body.rect
        left, top = driver.execute_script("const b = arguments[0].getBoundingClientRect(); return [b.left, b.top]", body)
        ActionChains(driver).move_to_element_with_offset(
            body, x - left - box["width"] / 2, y - top - box["height"] / 2
        ).click().perform()
        told = driver.execute_script("return [...document.querySelectorAll('#here h4 data')].map(d => +d.value)")
        checks.equal(told[: len(rates)], rates, f"panel at {place}")
        reasons = driver.execute_script("return [...document.querySelectorAll('#here ol')].map(l => l.children.length)")
        checks.that(len(reasons) == len(rates) and all(n > 0 for n in reasons), f"reasons at {place}: {reasons}")
    for box in driver.find_elements(By.CSS_SELECTOR, "[data-layer]"):
        layer = box.get_attribute("data-layer")
        before = box.is_selected()
        driver.execute_script("arguments[0].click()", box)
        off = driver.execute_script("return document.body.classList.contains('no-' + arguments[0])", layer)
        checks.equal(off, before, f"layer {layer}")
        parts = driver.execute_script(
            "return [...document.querySelectorAll('.pair .l-' + arguments[0])].map(p => getComputedStyle(p).display)", layer
        )
        checks.that(all((part == "none") == off for part in parts), f"layer {layer}: {parts}")


def boxes(driver):
    return driver.execute_script("return [...document.querySelectorAll('.view svg')].map(s => s.getAttribute('viewBox'))")


def together(driver, checks):
    """Buttons, keys and a drag move all maps alike."""
    seen = [boxes(driver)]
    whole = seen[0][0]
    view = driver.find_element(By.CSS_SELECTOR, "[data-map=map1]")
    acts = [
        ("zoom in", lambda: driver.find_element(By.CSS_SELECTOR, "[data-zoom=in]").click()),
        ("plus", lambda: view.send_keys("+")),
        ("right", lambda: view.send_keys(Keys.ARROW_RIGHT)),
        ("up", lambda: view.send_keys(Keys.ARROW_UP)),
        ("drag", lambda: ActionChains(driver).drag_and_drop_by_offset(view, 60, 30).perform()),
        ("minus", lambda: view.send_keys("-")),
    ]
    for name, act in acts:
        act()
        now = boxes(driver)
        checks.equal(len(set(now)), 1, f"{name}: maps apart: {now}")
        checks.that(now != seen[-1], f"{name}: nothing moved")
        seen.append(now)
    view.send_keys("0")
    checks.equal(set(boxes(driver)), {whole}, "0 shows the whole field")
    # By keyboard alone: the link of a row leads to the map and tells the reasons.
    link = driver.find_element(By.CSS_SELECTOR, "[data-row-link]")
    row = link.get_attribute("data-row-link")
    link.send_keys(Keys.ENTER)
    checks.equal(driver.execute_script("return document.querySelector('#here').dataset.row"), row, "row by keyboard")
    checks.that(boxes(driver)[0] != whole, "a row moves the map")
    checks.that(driver.execute_script("return document.activeElement.matches('.view')"), "focus goes to the map")
    driver.switch_to.active_element.send_keys(Keys.ESCAPE)
    checks.that(not driver.find_element(By.ID, "here").is_displayed(), "Escape closes the panel")
    driver.switch_to.active_element.send_keys("0", Keys.ENTER)
    checks.that(driver.find_element(By.ID, "here").is_displayed(), "Enter tells about the middle")


def accessible(driver, axe, checks):
    driver.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})
    driver.refresh()
    driver.execute_script("document.querySelectorAll('details').forEach(d => { d.open = true })")
    driver.execute_script(axe)
    found = driver.execute_async_script(
        "const done = arguments[0]; axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']}).then(r => done([r.passes.length, r.violations.map(v => [v.impact, v.id, v.nodes.length, v.nodes[0].html.slice(0, 160)])]))"
    )
    checks.that(found[0] > 15, f"axe-core passed only {found[0]} rules")
    for impact, rule, count, html in found[1]:
        checks.that(impact not in ("serious", "critical"), f"axe-core: {impact} {rule} x{count}: {html}")
        if impact not in ("serious", "critical"):
            print(f"  axe-core, {impact}: {rule} x{count}: {html}")
    driver.execute_cdp_cmd("Page.setBypassCSP", {"enabled": False})


def phone(driver, page, checks):
    opened(driver, page, 390, 844)
    wide = driver.execute_script("return document.documentElement.scrollWidth")
    checks.that(wide <= 390, f"{wide} px wide on a phone of 390")
    size = driver.execute_script("return document.querySelector('#map1-svg').getBoundingClientRect().width")
    checks.that(size > 300, f"map of {size} px on a phone")


def without_scripts(driver, page, plan, checks):
    driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    opened(driver, page)
    maps = driver.find_elements(By.CSS_SELECTOR, "svg.map")
    checks.equal(len(maps), len(plan.products) + len(plan.tally.get("balances", [])) + bool(plan.json["drive"]), "maps without scripts")
    checks.that(all(one.size["width"] > 100 for one in maps[:2]), "maps are drawn without scripts")
    rows = driver.find_elements(By.CSS_SELECTOR, "table.rates tbody tr")
    checks.equal(len(rows), len(plan.json["rate_table"]), "rows without scripts")
    tools = driver.find_elements(By.CSS_SELECTOR, "[data-needs-script]")
    checks.that(not any(one.is_displayed() for one in tools), "what needs scripts is hidden without them")
    driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})


def printed(driver, page, plan, checks):
    """On A4 and Letter the sheets begin on pages of their own, and the operator's is one page."""
    opened(driver, page)
    # The heads of the sheets as the page has them, in any language.
    maps, *heads = driver.execute_script(
        "return ['maps', 'operator', 'buyer', 'adviser', 'record'].map(id => document.querySelector(`#${id}-title`).textContent)"
    )
    unit = driver.execute_script("return document.querySelector('.unit').textContent")
    for name, wide, high in (("A4", 21.0, 29.7), ("Letter", 21.59, 27.94)):
        answer = driver.execute_cdp_cmd(
            "Page.printToPDF", {"paperWidth": wide / 2.54, "paperHeight": high / 2.54, "printBackground": True, "preferCSSPageSize": True}
        )
        with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
            file.write(base64.b64decode(answer["data"]))
            file.flush()
            text = subprocess.run(["pdftotext", "-layout", file.name, "-"], capture_output=True, text=True, check=True).stdout
        pages = text.split("\f")[:-1]
        starts = [" ".join(page.split())[:400] for page in pages]
        for number, start in enumerate(starts, 1):
            checks.that(len(start) > 120, f"{name}: page {number} holds next to nothing: {start!r}")
        checks.that(plan.id in starts[0] and maps in pages[0], f"{name}: first page: {starts[0]}")
        at = [next((n for n, start in enumerate(starts) if start.startswith(head)), None) for head in heads]
        if checks.that(None not in at and at == sorted(at), f"{name}: pages of the sheets: {at} of {len(pages)}"):
            checks.equal(at[1], at[0] + 1, f"{name}: the operator's sheet is one page")
            checks.that(unit in pages[at[0]] and plan.id in pages[at[0]], f"{name}: operator's sheet")
            checks.equal(at[3], len(pages) - 1, f"{name}: the record sheet is the last page")


def check(driver, axe, folder, checks):
    plan, page = Plan(folder), (folder / "report.html").resolve()
    for log in ("browser", "performance"):
        driver.get_log(log)  # what an earlier page said
    checks.that(page.stat().st_size < 2_000_000, f"{page.stat().st_size} bytes")
    opened(driver, page)
    numbers(driver, plan, checks)
    pointing(driver, plan, folder, checks)
    opened(driver, page)
    together(driver, checks)
    quiet(driver, page, checks)
    phone(driver, page, checks)
    without_scripts(driver, page, plan, checks)
    printed(driver, page, plan, checks)
    accessible(driver, axe, checks)


def main():
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    axe = Path(sys.argv[1]).read_text(encoding="utf-8")
    bad = False
    driver = browser()
    try:
        for folder in map(Path, sys.argv[2:]):
            checks = Checks(folder)
            try:
                check(driver, axe, folder, checks)
            except WebDriverException as error:
                checks.broken.append(f"the browser could not go on: {error.msg}")
            for text in checks.broken[:20]:
                print(f"report.py: {folder}: BROKEN: {text}")
            print(f"report.py: {folder}: {checks.held} checks held, {len(checks.broken)} broken")
            bad |= bool(checks.broken)
    finally:
        driver.quit()
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
