"""The page of HTML in a real browser: Chromium, driven by selenium, and axe-core's rules.

Debian: ``apt-get install chromium chromium-driver``; the rules: ``npm install --prefix
tests/browser``. Without them these tests are skipped; with CI=true their absence is a failure,
unless LINKCALC_NO_BROWSER says that they cannot be had.
"""

import base64
import os
import shutil
from pathlib import Path

import pytest
from selenium.webdriver import ActionChains, Chrome, ChromeOptions
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

import linkcalc
from linkcalc import report

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
RULES = Path(os.environ.get("AXE_CORE", HERE / "node_modules/axe-core/axe.min.js"))
EVIL = "<script>window.run=1</script><img src=x onerror=window.run=1>"
WIDE, NARROW = (1200, 900), (360, 740)


def _needed(condition, what):
    if not condition:
        if os.environ.get("CI") and not os.environ.get("LINKCALC_NO_BROWSER"):
            pytest.fail(f"{what} is missing, and CI is set")
        pytest.skip(f"{what} is missing")


@pytest.fixture(scope="module")
def browser():
    programs = [shutil.which(name) for name in ("chromium", "chromedriver")]
    _needed(all(programs), "chromium or chromedriver")

    options = ChromeOptions()
    options.binary_location = programs[0]
    for switch in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"):
        options.add_argument(switch)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = Chrome(options=options, service=Service(programs[1]))
    yield driver
    driver.quit()


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pages")
    example = (ROOT / "examples/sandpiper.toml").read_text(encoding="utf-8")
    hostile = example
    for name in ("Sandpiper survey glider", "rudder", "survey line"):
        hostile = hostile.replace(f'name = "{name}"', f"name = '{EVIL} {name} {'x' * 20}'")
    made = {}
    for name, words in (("plain", example), ("hostile", hostile)):
        source = folder / f"{name}.toml"
        source.write_text(words, encoding="utf-8")
        made[name] = folder / f"{name}.html"
        report.write_html(made[name], source)
    aircraft = linkcalc.read_aircraft(folder / "plain.toml")
    few = linkcalc.replace(aircraft, runs=(aircraft.runs[0], aircraft.runs[4]))
    made["small"] = folder / "small.html"  # every kind of part, soon looked through
    report.write_html(made["small"], few)
    return made


def opened(browser, path, size=WIDE, *, dark=False):
    browser.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": size[0], "height": size[1], "deviceScaleFactor": 1, "mobile": size == NARROW},
    )
    scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [scheme]})
    browser.get_log("performance")
    browser.get_log("browser")
    browser.get(path.as_uri())


@pytest.mark.parametrize("name", ["plain", "hostile"])
def test_page_opens_without_an_error_and_asks_for_nothing_else(name, browser, pages):
    opened(browser, pages[name])
    assert browser.get_log("browser") == []
    asked = [entry["message"] for entry in browser.get_log("performance")
             if '"Network.requestWillBeSent"' in entry["message"]]  # fmt: skip
    assert len(asked) == 1
    assert pages[name].as_uri() in asked[0]


def test_names_of_a_hostile_file_are_text_and_run_nothing(browser, pages):
    opened(browser, pages["hostile"])
    assert browser.execute_script("return window.run === undefined")
    assert EVIL in browser.execute_script("return document.querySelector('h1').textContent")
    assert browser.execute_script("return document.querySelectorAll('img').length") == 0
    assert browser.execute_script("return document.scripts.length") == 1


@pytest.mark.parametrize("size", [WIDE, NARROW])
@pytest.mark.parametrize("name", ["plain", "hostile"])
def test_every_picture_is_visible_and_nothing_reaches_beyond_the_window(name, size, browser, pages):
    opened(browser, pages[name], size)
    boxes = browser.execute_script(
        "return [...document.querySelectorAll('svg.field')].map(e => {"
        "const b = e.getBoundingClientRect(); return [b.left, b.right, b.height]})"
    )
    assert len(boxes) == 6 * 13
    for left, right, height in boxes:
        assert left >= 0
        assert right <= size[0]
        assert right - left > 250
        assert height > 60
    assert browser.execute_script("return document.documentElement.scrollWidth") <= size[0]


def test_text_can_be_read_on_a_narrow_screen(browser, pages):
    opened(browser, pages["plain"], NARROW)
    sizes = browser.execute_script(
        "return [...document.querySelectorAll('svg.field text')].map(e => "
        "parseFloat(getComputedStyle(e).fontSize) * e.ownerSVGElement.getBoundingClientRect().width"
        " / e.ownerSVGElement.viewBox.baseVal.width)"
    )
    assert min(sizes) > 8
    words = browser.execute_script(
        "return [...document.querySelectorAll('td, th, p, li')].filter(e => e.offsetHeight)"
        ".map(e => parseFloat(getComputedStyle(e).fontSize))"
    )
    assert min(words) >= 12.5


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_page_follows_the_scheme_of_the_reader(dark, browser, pages):
    opened(browser, pages["plain"], dark=dark)
    colour = browser.execute_script("return getComputedStyle(document.body).backgroundColor")
    levels = [int(level) for level in colour.strip("rgb()").split(",")]
    assert max(levels) < 60 if dark else min(levels) > 220


def test_keyboard_reaches_links_and_the_choice_of_a_case(browser, pages):

    opened(browser, pages["plain"])
    seen = []
    for _ in range(60):
        browser.switch_to.active_element.send_keys(Keys.TAB)
        seen.append(browser.switch_to.active_element.tag_name)
        if seen[-1] == "select":
            break
    assert seen[0] == "a"
    assert seen[-1] == "select"
    outline = browser.execute_script("return getComputedStyle(document.activeElement).outlineWidth")
    assert outline == "3px"
    Select(browser.switch_to.active_element).select_by_visible_text("survey line")
    shown = "return [...document.querySelectorAll('.case')].filter(e => e.offsetHeight).length"
    assert browser.execute_script(shown) == 6


def test_pointer_over_a_picture_tells_values(browser, pages):

    opened(browser, pages["plain"])
    field = browser.find_element("css selector", "#run-0-case-0-0 svg.field")
    browser.execute_script("arguments[0].scrollIntoView({block: 'center'})", field)
    ActionChains(browser).move_to_element(field).perform()
    told = browser.find_element("css selector", "#run-0-case-0-0 .readout").text
    assert told.startswith("at ")
    assert "with every factor, worst air load" in told


def test_page_is_whole_without_its_script(browser, pages, tmp_path):
    words = pages["plain"].read_text(encoding="utf-8")
    bare = tmp_path / "bare.html"
    bare.write_text(words.partition("<script>")[0] + "</body></html>", encoding="utf-8")
    opened(browser, bare)
    shown = "return [...document.querySelectorAll('.case')].filter(e => e.offsetHeight).length"
    assert browser.execute_script(shown) == 18


def test_page_prints_on_a4_without_an_empty_page(browser, pages):
    opened(browser, pages["small"])
    asked = {"preferCSSPageSize": True, "printBackground": False}
    printed = base64.b64decode(browser.execute_cdp_cmd("Page.printToPDF", asked)["data"])
    assert printed.startswith(b"%PDF")
    count = printed.count(b"/Type /Page\n") or printed.count(b"/Type/Page/")
    assert 4 <= count <= 30
    boxes = {
        line.partition(b"/MediaBox")[2][:40]
        for line in printed.split(b"\n")
        if b"/MediaBox" in line
    }
    assert boxes
    for box in boxes:  # A4, 210 mm x 297 mm in points
        numbers = [float(number) for number in box.split(b"[")[1].split(b"]")[0].split()]
        assert numbers == pytest.approx([0, 0, 595.3, 841.9], abs=1)


@pytest.mark.parametrize(
    ("size", "dark"), [(WIDE, False), (NARROW, True)], ids=["wide and light", "narrow and dark"]
)
def test_rules_of_accessibility_find_nothing_serious(size, dark, browser, pages):
    _needed(RULES.is_file(), "axe-core")
    opened(browser, pages["small"], size, dark=dark)
    browser.set_script_timeout(60)
    browser.execute_script(RULES.read_text(encoding="utf-8"))
    found = browser.execute_async_script(
        "axe.run(document, {resultTypes: ['violations']}).then(arguments[0])"
    )
    assert found["testEngine"]["version"] == "4.14.1"
    serious = [(rule["id"], rule["nodes"][0]["html"][:200]) for rule in found["violations"]
               if rule["impact"] in {"serious", "critical"}]  # fmt: skip
    assert serious == []
    assert len(found["passes"]) > 15
