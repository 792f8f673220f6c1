"""The page of `twinsow edit` in a browser: what its checks do with it, by pointer and keys only."""

import base64
import io
import os
import re
import subprocess
import time

from PIL import Image
from selenium.common.exceptions import StaleElementReferenceException, WebDriverException
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait

# The same time stands in the files of the page and of the command line.
ENVIRONMENT = {**os.environ, "SOURCE_DATE_EPOCH": "1900000000"}
PATIENCE_S = 60
MAPS = "#maps canvas[data-map]"


def at(*path):
    """The field of a setting, by its path in the job file."""
    return f"[data-key='at {' '.join(map(str, path))}']"


def key(name):
    return f"[data-key='{name}']"


class Page:
    """The page of one job, and the program behind it."""

    def __init__(self, twinsow, target, job, driver):
        """Opens `target`, a job file or a folder; `job` is the file that changes are looked for in."""
        self.driver, self.job = driver, job
        self.program = subprocess.Popen(
            [twinsow, "edit", str(target), "--no-open"], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=ENVIRONMENT
        )
        for line in self.program.stdout:
            found = re.search(r"http://127\.0\.0\.1:\d+/\?token=\w+", line)
            if found:
                break
        else:
            raise SystemExit(f"edit_page.py: 'twinsow edit {target}' printed no address")
        self.address = found[0].split("?")[0]
        self.size(1280, 800)
        driver.get(found[0])
        self.wait(lambda: self.there("#part-title"), "no page")

    def close(self):
        self.driver.get("about:blank")
        self.program.terminate()
        self.program.wait(10)

    def size(self, width, height):
        self.driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride", {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}
        )

    def wait(self, until, without, seconds=PATIENCE_S):
        WebDriverWait(self.driver, seconds, poll_frequency=0.02).until(lambda _: until(), without)

    def again(self, query, does):
        """Does something; again where a new state of the page came between looking and doing."""
        for _ in range(40):
            try:
                return does()
            except StaleElementReferenceException:
                time.sleep(0.05)
        raise WebDriverException(f"'{query}' changes all the time")

    def on(self, query, does):
        """Does something with an element."""
        return self.again(query, lambda: does(self.driver.find_element(By.CSS_SELECTOR, query)))

    def each(self, query, does):
        """Does something with every such element."""
        return self.again(query, lambda: [does(one) for one in self.driver.find_elements(By.CSS_SELECTOR, query)])

    def count(self, query):
        return len(self.driver.find_elements(By.CSS_SELECTOR, query))

    def shown(self, query):
        return self.on(query, lambda element: element.is_displayed())

    def point(self, query, right, down):
        """A press so many pixels from the middle of an element."""
        self.on(query, lambda element: ActionChains(self.driver).move_to_element_with_offset(element, right, down).click().perform())

    def click(self, query):
        self.on(query, lambda element: element.click())

    def keys(self, query, *keys):
        self.on(query, lambda element: element.send_keys(*keys))

    def part(self, name):
        self.click(key(f"part {name}"))
        self.wait(lambda: self.driver.execute_script("return document.body.dataset.part") == name, f"part {name} does not open")

    def there(self, query):
        return bool(self.driver.find_elements(By.CSS_SELECTOR, query))

    def text(self, query):
        return self.driver.execute_script("return document.querySelector(arguments[0])?.textContent ?? ''", query)

    def settled(self):
        """Waits until nothing is being worked out any more."""
        self.wait(lambda: not self.there(".working"), "work does not end")

    def drawn(self):
        """Waits until the maps are there and nothing is being worked out."""
        self.wait(lambda: self.there(MAPS), "no maps")
        self.settled()

    def maps(self):
        """Both maps as they are on the screen."""
        shots = self.each(MAPS, lambda map: map.screenshot_as_png)
        return [Image.open(io.BytesIO(shot)).convert("RGB").tobytes() for shot in shots]

    def keep(self, folder, name):
        """The screen as a picture of modest size."""
        if folder:
            folder.mkdir(parents=True, exist_ok=True)
            shot = self.driver.execute_cdp_cmd("Page.captureScreenshot", {"format": "png"})
            picture = Image.open(io.BytesIO(base64.b64decode(shot["data"]))).convert("RGB")
            picture.quantize(160).save(folder / f"edit-{name}.png", optimize=True)
