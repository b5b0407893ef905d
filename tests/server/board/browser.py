"""Debian's Chromium, without a window, as the tests look through it."""

import json
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from io import BytesIO
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import urlencode

from PIL import Image
from selenium import webdriver
from selenium.webdriver.chrome.service import Service

T = TypeVar("T")
SIZES = {"phone": (360, 740), "tablet": (1024, 768), "wall": (1920, 1080)}
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--hide-scrollbars",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PATIENCE_S = 30.0
LOOK_S = 0.02


def find_chromium() -> tuple[str, str]:
    """Find the browser and its driver.

    Raises:
        RuntimeError: They are not there: the board is not to pass untested.
    """
    found = shutil.which("chromium"), shutil.which("chromedriver")
    if found[0] is None or found[1] is None:
        raise RuntimeError(
            "no chromium and chromedriver on the path: run tools/setup.sh, which asks apt"
        )
    return found[0], found[1]


def axe_source() -> str:
    """Read axe-core, as the package of its Python wrapper ships it.

    Raises:
        RuntimeError: The package is not there.
    """
    spec = find_spec("axe_playwright_python")  # not imported: it would ask for a browser of its own
    if spec is None or not spec.submodule_search_locations:
        raise RuntimeError("no axe-core here: run tools/setup.sh")
    return (Path(spec.submodule_search_locations[0]) / "axe.min.js").read_text(encoding="utf-8")


class Browser:
    """One browser for a whole session of tests.

    Args:
        profile: Where it keeps its profile.
    """

    def __init__(self, profile: Path) -> None:
        chromium, driver = find_chromium()
        options = webdriver.ChromeOptions()
        options.binary_location = chromium
        for flag in (*FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
        self.driver = webdriver.Chrome(options=options, service=Service(driver))
        self.driver.set_script_timeout(30)

    def close(self) -> None:
        """End it."""
        self.driver.quit()

    def size(self, name: str) -> None:
        """Be a phone, a tablet or a wall."""
        width, height = SIZES[name]
        self.driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {"width": width, "height": height, "screenWidth": width, "screenHeight": height}
            | {"deviceScaleFactor": 1, "mobile": name == "phone"},
        )

    def prefer(self, **features: str) -> None:
        """Have the system's preferences; `reduced_motion="reduce"` and the like."""
        asked = [
            {"name": f"prefers-{name.replace('_', '-')}", "value": value}
            for name, value in features.items()
        ]
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": asked})

    def open(self, url: str, **query: str) -> None:
        """Open a page."""
        self.driver.get(f"{url}?{urlencode(query)}" if query else url)

    def forget(self, origin: str) -> None:
        """Forget what an origin has kept."""
        asked = {"origin": origin, "storageTypes": "local_storage"}
        self.driver.execute_cdp_cmd("Storage.clearDataForOrigin", asked)

    def run(self, script: str, *args: Any) -> Any:
        """Run a script in the page and return what it returns."""
        return self.driver.execute_script(script, *args)

    def text(self, selector: str) -> str:
        """Return the text of the first match, as it is shown."""
        return str(
            self.run("return document.querySelector(arguments[0])?.innerText ?? ''", selector)
        )

    def has(self, selector: str) -> bool:
        """Tell whether a match is shown."""
        return bool(
            self.run(
                "return [...document.querySelectorAll(arguments[0])]"
                ".some((node) => node.checkVisibility())",
                selector,
            )
        )

    def box(self, selector: str) -> dict[str, float]:
        """Return where the first match is, px."""
        found: dict[str, float] = self.run(
            "return document.querySelector(arguments[0]).getBoundingClientRect().toJSON()", selector
        )
        return found

    def click(self, selector: str) -> None:
        """Touch the first match."""
        self.run("document.querySelector(arguments[0]).click()", selector)

    def type(self, field: str, text: str) -> None:
        """Type into a field, by its id."""
        self.run("document.getElementById(arguments[0]).value = arguments[1]", field, text)

    def until(self, look: Callable[[], T], wanted: str) -> T:
        """Look until it is true.

        Raises:
            AssertionError: It was not within the patience.
        """
        end_s = time.monotonic() + PATIENCE_S
        while not (seen := look()):
            assert time.monotonic() < end_s, f"{wanted}; shown: {self.text('#now')!r}"
            time.sleep(LOOK_S)
        return seen

    def until_text(self, selector: str, wanted: str) -> None:
        """Wait until a text is shown."""
        self.until(lambda: wanted in self.text(selector), f"{selector} says {wanted!r}")

    def until_moment(self, t: float) -> None:
        """Wait until a board shows the recorded service at ``t``: its page says which moment."""
        said = f"return Math.abs((document.body.dataset.t ?? -9) - {t}) < 6.0"
        self.until(lambda: bool(self.run(said)), f"the moment {t}")

    def picture(self) -> Image.Image:
        """Take what is on the screen."""
        return Image.open(BytesIO(self.driver.get_screenshot_as_png())).convert("RGB")

    def requests(self) -> list[str]:
        """List the addresses that were asked since the last call."""
        told = [json.loads(entry["message"])["message"] for entry in self._log("performance")]
        sent = [one["params"] for one in told if one["method"] == "Network.requestWillBeSent"]
        return [str(one["request"]["url"]) for one in sent]

    def complaints(self) -> list[str]:
        """List what the pages complained of since the last call: errors, breaches of the policy."""
        return [str(entry["message"]) for entry in self._log("browser")]

    def _log(self, kind: str) -> list[dict[str, Any]]:
        return list(self.driver.get_log(kind))  # type: ignore[no-untyped-call]  # selenium's own


@contextmanager
def opened() -> Iterator[Browser]:
    """Open a browser with a profile of its own, which goes with it."""
    profile = Path(tempfile.mkdtemp(prefix="board-"))
    browser = Browser(profile)
    try:
        yield browser
    finally:
        browser.close()
        shutil.rmtree(profile, ignore_errors=True)
