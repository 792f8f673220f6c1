#!/usr/bin/env python3
"""The demo in every language, in headless Chromium: its report, and the page of `edit` in every part.

Per language: every check of report.py (numbers, places, phone, print, accessibility) holds on a report in it; the page says its language and
which parts are English; numbers have the language's decimal mark, which Chromium's own Intl knows, and words in their places; no
text of the English report is left but a few words that are the same, and what is marked as English. `edit` opens in the job's language and in that of
the locale; nothing is wider than a screen of 390 or 1280 pixels, and axe-core finds nothing on any part; counted things have
their form by the plural rules of Intl.

Usage: languages.py TWINSOW AXE_MIN_JS DEMO WORK [PICTURES]
"""

import base64
import io
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

from delivered import Checks
from edit_journey import PARTS, clean, quiet, without_policy
from edit_page import ENVIRONMENT, Page, at
from PIL import Image
from report import browser, check, opened
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

LANGUAGES = ["de", "fr", "es", "pl", "uk"]

# What a person reads, without what is marked as another language, names of the user, numbers, code and the texts inside maps.
WORDS = """
const out = [];
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
for (let node = walk.nextNode(); node; node = walk.nextNode()) {
  const of = node.parentElement;
  if (of.closest('script, style, bdi, data, code, svg, time, .id') || (document.documentElement.lang !== 'en' && of.closest('[lang]').lang === 'en')) continue;
  const text = node.textContent.trim();
  if (/\\p{L}{3}/u.test(text)) out.push(text);
}
return out;
"""


def like_english(language):
    """Texts of the report that are the same in English, by the list that tests/languages.rs goes by, and names of no language."""
    root = Path(__file__).parents[2]
    texts = tomllib.loads((root / "src/report/texts/en.toml").read_text(encoding="utf-8"))
    same = tomllib.loads((root / "tests/languages_same.toml").read_text(encoding="utf-8"))
    found = {"SHA-256", "OGC:CRS84 WGS 84 (CRS84)"}
    for key in same["all"] + same.get(language, []):
        if key.startswith("report/"):
            value = texts
            for part in key.removeprefix("report/").split("."):
                value = value[int(part)] if isinstance(value, list) else value[part]
            found.add(value)
    return found


def keep(driver, folder, name):
    """The screen as a picture."""
    if not folder:
        return
    folder.mkdir(parents=True, exist_ok=True)
    shot = driver.execute_cdp_cmd("Page.captureScreenshot", {"format": "png", "captureBeyondViewport": True})
    picture = Image.open(io.BytesIO(base64.b64decode(shot["data"]))).convert("RGB")
    picture.quantize(160).save(folder / f"{name}.png", optimize=True)


def planned(twinsow, demo, folder, language):
    """The demo with its pages in a language."""
    shutil.copytree(demo, folder)
    job = folder / "job.toml"
    job.write_text(job.read_text(encoding="utf-8") + f'\n[report]\nlanguage = "{language}"\n', encoding="utf-8")
    # 1: made, with decisions that are open.
    ran = subprocess.run([twinsow, "plan", str(job)], capture_output=True, text=True, env=ENVIRONMENT)
    if ran.returncode not in (0, 1):
        raise SystemExit(f"languages.py: {language}: twinsow plan: {ran.stderr}")
    return folder / "job-plan"


def report(driver, axe, folder, language, english, checks, pictures):
    """A report in a language; gives the words on it."""
    check(driver, axe, folder, checks)
    page = (folder / "report.html").resolve()
    opened(driver, page)
    checks.equal(driver.execute_script("return document.documentElement.lang"), language, "language of the page")
    words = [word.strip(" \u00b7") for word in driver.execute_script(WORDS)]
    checks.that(len(words) > 100, f"only {len(words)} texts")
    if english is None:
        checks.that(not driver.find_elements(By.CSS_SELECTOR, ".english"), "the English page speaks of English parts")
        return set(words)
    told = driver.execute_script("return document.querySelector('.english')?.textContent ?? ''")
    checks.that(len(told) > 20, "the page does not say what is English")
    left = sorted(set(words) & english - like_english(language))
    # A word of one place may be that of another in English, as French "part".
    checks.that(len(left) <= 3, f"English is left: {left[:20]}")
    mark = driver.execute_script("return new Intl.NumberFormat(arguments[0]).formatToParts(0.5).find(p => p.type === 'decimal').value", language)
    shown = driver.execute_script("return [...document.querySelectorAll('data')].filter(d => !(d.dataset.from ?? '').includes('lon_lat')).map(d => d.textContent)")
    checks.that(any(mark in one for one in shown), f"no number has '{mark}'")
    strange = [one for one in shown if one.strip("\u2212+0123456789\u00a0\u202f" + mark)]
    checks.that(not strange, f"numbers: {strange[:5]}")
    for width, height in ((390, 844), (1366, 900)):
        opened(driver, page, width, height)
        keep(driver, pictures, f"report-{language}-{width}")
    return set(words)


def edited(driver, axe, twinsow, demo, folder, language, checks, pictures):
    """The page of a job in a language: every part on a phone and on a screen, a number with its mark, forms of counted things."""
    shutil.copytree(demo, folder)
    job = folder / "job.toml"
    job.write_text(job.read_text(encoding="utf-8") + f'\n[report]\nlanguage = "{language}"\n', encoding="utf-8")
    for log in ("browser", "performance"):
        driver.get_log(log)  # what the report said
    page = Page(twinsow, job, job, driver)
    try:
        page.drawn()
        checks.equal(driver.execute_script("return document.documentElement.lang"), language, "language of the page of edit")
        checks.that(driver.execute_script("return document.querySelectorAll('#foot p').length") == 2, "the page of edit does not say what is English")

        def all_parts():
            driver.refresh()
            page.wait(lambda: page.there("#parts a"), "no page")
            page.drawn()
            for width, height in ((390, 844), (1280, 800)):
                page.size(width, height)
                for part in (["maps"] if width < 600 else []) + PARTS:
                    page.part(part)
                    driver.execute_script("document.querySelectorAll('#part details').forEach(part => { part.open = true })")
                    clean(page, axe, checks, f"{language} {part}")
                    page.keep(pictures, f"{language}-{part}-{width}")

        without_policy(page, all_parts)
        # A number is typed with the mark of the language, and the job file has a point.
        page.part("bags")
        weight = at("product", 0, "thousand_grain_weight_g")
        page.keys(weight, Keys.CONTROL, "a")
        page.keys(weight, "47,125", Keys.ENTER)
        page.wait(lambda: b"thousand_grain_weight_g = 47.125" in job.read_bytes(), "a number with a comma is not taken")
        page.wait(lambda: driver.execute_script("return document.querySelector(arguments[0]).value", weight) == "47,125", "the number is shown with another mark")
        # Another language is a setting of the job; the page follows at once.
        page.part("ground")
        driver.execute_script("const s = document.querySelector(arguments[0]); s.value = 'en'; s.dispatchEvent(new Event('change'))", at("report", "language"))
        page.wait(lambda: driver.execute_script("return document.documentElement.lang") == "en", "the page stays in its language")
        checks.that("Bouts" in page.text("#parts") or "bouts" in page.text("#parts"), "the words stay in their language")
        quiet(page, checks)
    finally:
        page.close()


def by_locale(driver, twinsow, folder, language, checks):
    """Without a job the page speaks as the machine does."""
    folder.mkdir(parents=True)
    before = ENVIRONMENT.get("LC_ALL")
    ENVIRONMENT["LC_ALL"] = f"{language}_XX.UTF-8"
    try:
        page = Page(twinsow, folder, folder / "job.toml", driver)
        checks.equal(driver.execute_script("return document.documentElement.lang"), language, "language by the locale")
        page.close()
    finally:
        ENVIRONMENT.pop("LC_ALL") if before is None else ENVIRONMENT.update(LC_ALL=before)


def main():
    if len(sys.argv) not in (5, 6):
        sys.exit(__doc__)
    twinsow, axe, demo, work = sys.argv[1], Path(sys.argv[2]).read_text(encoding="utf-8"), Path(sys.argv[3]), Path(sys.argv[4])
    pictures = Path(sys.argv[5]) if len(sys.argv) == 6 else None
    shutil.rmtree(work, ignore_errors=True)
    work.mkdir(parents=True)
    bad, english, driver = False, None, browser()
    try:
        for language in ["en", *LANGUAGES]:
            checks = Checks(work / language)
            try:
                folder = planned(twinsow, demo, work / language, language)
                words = report(driver, axe, folder, language, english, checks, pictures)
                english = english or words
                if language != "en":
                    edited(driver, axe, twinsow, demo, work / f"edit-{language}", language, checks, pictures)
                    by_locale(driver, twinsow, work / f"locale-{language}", language, checks)
            except WebDriverException as error:
                checks.broken.append(f"the browser could not go on: {error.msg}")
            for text in checks.broken[:20]:
                print(f"languages.py: {language}: BROKEN: {text}")
            print(f"languages.py: {language}: {checks.held} checks held, {len(checks.broken)} broken")
            bad |= bool(checks.broken)
    finally:
        driver.quit()
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
