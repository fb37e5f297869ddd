"""Chromium, headless, for the tests of pages."""

import os
import shutil
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

CONTRAST = (Path(__file__).parent / "contrast.js").read_text("utf-8")
SIZES = {
    "desktop": (1280, 900),
    "phone": (375, 812),
    "zoomed 400 %": (320, 640),
    "paper": (688, 1000),
}
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-extensions",
    "--hide-scrollbars",
]


def opened(profile, *, scripts=True):
    """Return Chromium from Debian's packages, its own profile, nothing fetched."""
    chromium, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if not (chromium and driver):
        message = "no Chromium: apt-get install chromium chromium-driver"
        if os.environ.get("CI") == "true":
            pytest.fail(message)
        pytest.skip(f"{message}; NOTHING IS SAID ABOUT THE PAGES")
    options = Options()
    options.binary_location = chromium
    for flag in (*FLAGS, f"--user-data-dir={profile}"):
        options.add_argument(flag)
    options.set_capability(
        "goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"}
    )
    if not scripts:
        block = {"profile.managed_default_content_settings.javascript": 2}
        options.add_experimental_option("prefs", block)
    return webdriver.Chrome(options=options, service=Service(driver))


@pytest.fixture(scope="session")
def browser():
    """Return what opens a browser of its own."""
    return opened


@pytest.fixture(scope="module")
def driver(tmp_path_factory):
    page = opened(tmp_path_factory.mktemp("profile"))
    yield page
    page.quit()


@pytest.fixture(scope="session")
def show():
    """Return what loads a page in a window of one of the sizes."""
    return shown


def shown(driver, page, size="desktop", media="", scheme="light"):
    """Load a page in a window, as screen or paper, light or dark."""
    width, height = SIZES[size]
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False},
    )
    features = [{"name": "prefers-color-scheme", "value": scheme}]
    driver.execute_cdp_cmd(
        "Emulation.setEmulatedMedia", {"media": media, "features": features}
    )
    driver.get(page.as_uri())


@pytest.fixture(scope="session")
def faint():
    """Return what finds the texts that do not stand out from their ground."""
    return lambda driver: driver.execute_script(CONTRAST)
