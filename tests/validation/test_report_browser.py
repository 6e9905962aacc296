"""The HTML report in a real browser: offline, silent, by keyboard; the numbers shown are the solver's.

Needs a Chromium and playwright; where either is missing the tests say so and are skipped.
"""

from __future__ import annotations

import json
import shutil
import sys
import time
from functools import cache
from pathlib import Path

import numpy as np
import pytest

sys.path.append(str(Path(__file__).parents[1] / "unit"))
from solved import small

from biomech.mechanics.poses import pose_exp
from biomech.report.html import write_report
from biomech.report.html.course import write_course_report
from biomech.scenario import load
from biomech.scenario.course import MONTH
from biomech.studies.course import run_course
from biomech.studies.course_files import measures_before

CHROMIUM = next((p for name in ("chromium", "chromium-browser", "google-chrome") if (p := shutil.which(name))), None)
playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed (the extra 'browser')")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium is installed (Debian: apt-get install chromium)")

FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync",
         "--no-first-run", "--disable-default-apps"]  # fmt: skip


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    solution = small()
    path = tmp_path_factory.mktemp("report") / "report.html"
    return write_report([("first", solution), ("second", solution)], path)


@cache
def course():
    """Eight weeks with one visit, on the six front teeth."""
    lines = {
        "course.duration": "8 weeks", "course.law": "proportional",
        "course.visit": [{"after": "4 weeks", "reactivate": {"overlay": "1 mm"}}],
    }  # fmt: skip
    return run_course(small().scenario.changed({"course": {"duration": "8 weeks"}}).changed(lines))


@pytest.fixture(scope="module")
def course_report(tmp_path_factory):
    return write_course_report(course(), tmp_path_factory.mktemp("course") / "report.html")


@pytest.fixture(scope="module")
def chromium():
    with playwright.sync_playwright() as p:
        launched = [p.chromium.launch(executable_path=CHROMIUM, args=FLAGS + more) for more in ([], ["--disable-3d-apis"])]
        yield dict(zip(("with WebGL", "without WebGL"), launched, strict=True))
        for browser in launched:
            browser.close()


class Watched:
    """A page, offline, with all it says and asks for."""

    def __init__(self, browser, path, **options):
        self.errors, self.requests = [], []
        # online on purpose: a request that would leave the machine must show up, not merely fail
        context = browser.new_context(viewport={"width": 1280, "height": 900}, **options)
        self.page = context.new_page()
        self.page.on("console", lambda m: self.errors.append(m.text) if m.type == "error" else None)
        self.page.on("pageerror", lambda e: self.errors.append(str(e)))
        self.page.on("request", lambda r: self.requests.append(r.url))
        begin = time.perf_counter()
        self.page.goto(path.as_uri())
        self.page.wait_for_function("document.documentElement.classList.contains('scripted')")
        self.seconds = time.perf_counter() - begin

    def settle(self):
        """Wait until a frame has been drawn after the last change."""
        self.page.evaluate("new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))")

    def picture(self):
        self.settle()
        return self.page.locator("#view").screenshot()

    def row(self, number):
        cells = self.page.locator(f"#numbers tbody tr:has(button:text-is('{number}')) td")
        return [text.replace("−", "-") for text in cells.all_inner_texts()]


@pytest.fixture
def shown(chromium, report):
    return Watched(chromium["with WebGL"], report)


def turnable(watched):
    if not watched.page.evaluate("document.documentElement.classList.contains('turnable')"):
        pytest.skip("this Chromium has no WebGL 2, not even in software")


def test_silent_offline_and_quick(shown, report):
    shown.settle()
    assert shown.errors == []
    assert shown.requests == [report.as_uri()]
    assert shown.seconds < 6.0, "about 1.3 s measured; several times that on a loaded machine is still no failure"


def test_step_slider_by_keyboard_changes_picture_and_numbers(shown):
    turnable(shown)
    page = shown.page
    page.focus("#step")
    now = shown.picture()
    assert page.inner_text("#step-label") == "second"
    for n, view in small().teeth.items():
        crown = small().tooth(n)["long_axis_mm"]["crown"]
        force = view.words(view.wrench[:3])["buccal"]
        torque = view.turns(view.moment_at(view.bracket))["torque"]
        row = shown.row(n)
        assert float(row[1]) == pytest.approx(crown, abs=0.5001e-3)
        assert float(row[3]) == pytest.approx(force, abs=0.5001e-2)
        assert float(row[4]) == pytest.approx(torque, abs=0.5001e-1)
    page.keyboard.press("Home")
    start = shown.picture()
    assert page.inner_text("#step-label") == "start" and start != now
    assert shown.row(11) == ["not moved", "–", "–", "–", "–", "–"]
    assert page.get_attribute("#step", "aria-valuetext") == "start"
    page.keyboard.press("ArrowRight")
    assert page.inner_text("#step-label") == "first" and shown.picture() == now
    assert shown.errors == []


def test_a_course_by_keyboard_shows_every_visit_as_the_solver_left_it(chromium, course_report):
    watched = Watched(chromium["with WebGL"], course_report)
    turnable(watched)
    page, legs = watched.page, course().legs
    page.focus("#step")
    assert page.inner_text("#step-label") == "day 56, end"
    stops = [legs[1].readings[-1], legs[1].readings[0], legs[0].readings[-1], legs[0].readings[0]]
    pictures = []
    for reading, label in zip(stops, ("day 56, end", "visit 1, day 28, left", "visit 1, day 28, found", "day 0"), strict=True):
        assert page.inner_text("#step-label") == label
        pictures.append(bytes(watched.picture()))
        for i, n in enumerate(reading.teeth):
            row = watched.row(n)
            shown = [float(cell) for cell in row[1:5]]
            wanted = [reading.crown[i, 1], reading.apex[i, 1], reading.force[i, 1], reading.moment[i, 0]]
            for value, want, digits in zip(shown, wanted, (3, 3, 2, 1), strict=True):
                assert value == pytest.approx(want, abs=0.51 * 10.0**-digits)
        page.keyboard.press("ArrowLeft")
    assert page.inner_text("#step-label") == "start" and watched.row(11)[0] == "not moved"
    assert len(set(pictures)) == len(pictures)
    assert watched.errors == [] and watched.requests == [course_report.as_uri()]


def test_tables_of_a_course_show_what_was_read(chromium, course_report):
    page = Watched(chromium["with WebGL"], course_report).page
    cells = [row.split("\t") for row in page.locator("#short .wide:first-of-type tbody tr").all_inner_texts()]
    before = measures_before(course())
    for row, reading in zip(cells, (course().visits[1].before, course().readings[-1]), strict=True):
        i = reading.of(reading.teeth[0])
        found = [float(cell.replace("−", "-").strip()) for cell in row[1:9]]
        gain = reading.widths[3] - before.widths[3]
        crown, apex = reading.crown[i, 1], reading.apex[i, 1]
        roots = reading.apex_widths[3] - before.apex_widths[3]
        wanted = [reading.day, gain, roots, gain * MONTH / reading.day, crown, apex, apex / crown, -reading.turn[i, 0]]
        assert found == pytest.approx(wanted, abs=0.51e-2)


def test_curves_of_a_tooth_are_chosen_by_keyboard_and_without_script(chromium, course_report):
    watched = Watched(chromium["with WebGL"], course_report)
    page = watched.page
    seen = lambda p, n: p.locator(f"svg:has(title:text-is('Movement of tooth {n}'))").is_visible()  # noqa: E731
    assert seen(page, 13) and not seen(page, 12)
    page.focus("#tooth-over-time-0")
    page.keyboard.press("ArrowRight")
    assert seen(page, 12) and not seen(page, 13)
    assert watched.errors == []
    bare = chromium["with WebGL"].new_context(java_script_enabled=False).new_page()
    bare.goto(course_report.as_uri())
    bare.focus("#tooth-over-time-0")
    bare.keyboard.press("ArrowLeft")
    assert seen(bare, 23) and not seen(bare, 13)


def test_the_card_of_a_course_is_one_page(chromium, course_report):
    watched = Watched(chromium["with WebGL"], course_report)
    mm = 96 / 25.4
    watched.page.set_viewport_size({"width": int((210 - 28) * mm), "height": int((297 - 28) * mm)})
    watched.page.emulate_media(media="print")
    assert watched.page.locator("#card").bounding_box()["height"] < (297 - 28) * mm
    assert watched.page.evaluate("document.documentElement.scrollWidth") <= int((210 - 28) * mm)


def test_the_card_of_a_course_that_passes_every_limit_is_still_one_page(chromium, tmp_path):
    """A whole arch, overlays far too wide that yield, and torque at six teeth: much to tell of every tooth and wire."""
    scenario = load(Path(__file__).parents[2] / "scenarios" / "upper-overlay.toml").changed({
        "wire.overlay.widen": {"left": "16 mm", "right": "16 mm"}, "wire.overlay.alloy": "stainless as drawn, yielding",
        "course": {
            "most": "0.3 mm/month", "duration": "8 weeks",
            "visit": [{"after": "4 weeks", "remove": ["overlay"],
                       "torque": {"main": {str(n): "28 deg buccal root" for n in (13, 14, 15, 23, 24, 25)}}}],
        },
    })  # fmt: skip
    run = run_course(scenario)
    assert {"pressure", "wire", "contact"} <= {flag.kind for flag in run.flags}
    watched = Watched(chromium["with WebGL"], write_course_report(run, tmp_path / "report.html"))
    mm = 96 / 25.4
    watched.page.set_viewport_size({"width": int((210 - 28) * mm), "height": int((297 - 28) * mm)})
    watched.page.emulate_media(media="print")
    assert watched.page.locator("#card .first li").count() >= 3
    assert watched.page.locator("#card").bounding_box()["height"] < (297 - 28) * mm


def test_a_course_fits_a_phone(chromium, course_report):
    watched = Watched(chromium["with WebGL"], course_report)
    watched.page.set_viewport_size({"width": 400, "height": 800})
    watched.settle()
    assert watched.page.evaluate("document.documentElement.scrollWidth") <= 400
    box = watched.page.locator("#visit-list tbody tr").nth(1).bounding_box()
    assert box["width"] <= 400 and box["height"] < 400  # a visit reads as a block of text, not as a column one word wide


def test_magnification_is_said_in_words(shown):
    turnable(shown)
    page = shown.page
    before = shown.picture()
    page.focus("#magnify")
    page.keyboard.press("Home")
    assert page.inner_text("#magnify-words") == "Movements are drawn true to scale."
    assert shown.picture() != before
    page.keyboard.press("ArrowRight")
    assert page.inner_text("#magnify-words") == "Movements are drawn 2 times as large as computed."


def test_teeth_are_drawn_where_the_solver_puts_them(shown):
    """Tooth numbers stand amid the crowns: seen from below, their places are those of an independent projection."""
    turnable(shown)
    page = shown.page
    page.click("#from-4")
    page.focus("#magnify")
    page.keyboard.press("End")
    shown.settle()
    data = json.loads(page.inner_text("#viewer-data"))
    factor, centre, distance = data["factors"][-1], np.array(data["centre"]), data["distance"]
    size = page.evaluate("[document.getElementById('view').clientWidth, document.getElementById('view').clientHeight]")
    half = np.tan(np.radians(12)) * max(1.0, 1.35 * size[1] / size[0])
    assert page.inner_text("#magnify-words") == f"Movements are drawn {factor} times as large as computed."
    places = page.evaluate("[...document.querySelectorAll('#labels span')].map(s => [s.style.left, s.style.top])")
    for view, place in zip(small().teeth.values(), places, strict=True):
        tooth = view.part.tooth
        amid = np.array([0.0, 0.0, -0.55 * tooth.jaw_sign * tooth.crown_length])
        p = (view.part.pose @ pose_exp(factor * view.motion)).point(amid) * [1, -1, 1] - centre
        depth = (distance + p[2]) * half  # the eye is below the arch and looks up; incisors are on top
        expected = 0.5 * np.array(size) + 0.5 * size[1] * np.array([p[0], p[1]]) / depth
        assert [float(text.removesuffix("px")) for text in place] == pytest.approx(expected, abs=0.1)


def test_picture_turns_by_keyboard_and_pointer(shown):
    turnable(shown)
    page = shown.page
    pictures = [shown.picture()]
    page.focus("#view")
    for key in ("ArrowLeft", "ArrowUp", "+"):
        page.keyboard.press(key)
        pictures.append(shown.picture())
    box = page.locator("#view").bounding_box()
    page.mouse.move(box["x"] + 100, box["y"] + 100)
    page.mouse.down()
    page.mouse.move(box["x"] + 180, box["y"] + 130)
    page.mouse.up()
    pictures.append(shown.picture())
    page.keyboard.press("Tab")
    page.uncheck("#tick-forces")
    pictures.append(shown.picture())
    assert len({bytes(p) for p in pictures}) == len(pictures)
    assert shown.errors == []


def test_a_tooth_is_chosen_in_the_picture_and_in_the_table(shown):
    turnable(shown)
    page = shown.page
    page.click("#from-1")
    plain = shown.picture()
    page.click("#numbers button:text-is('11')")
    assert page.get_attribute("#numbers button:text-is('11')", "aria-pressed") == "true"
    assert shown.picture() != plain
    box = page.locator("#view").bounding_box()
    # from the front, the patient's left is on the right of the picture
    page.mouse.click(box["x"] + 0.53 * box["width"], box["y"] + 0.5 * box["height"])
    assert page.locator("#numbers tr.chosen").inner_text().split()[0] == "21"


def test_without_webgl_the_flat_drawing_stands_in(chromium, report):
    watched = Watched(chromium["without WebGL"], report)
    page = watched.page
    assert page.is_visible("#no-webgl") and page.is_visible("figure.flat svg") and not page.is_visible("#view")
    page.focus("#step")
    page.keyboard.press("Home")
    assert watched.row(11)[0] == "not moved"
    assert watched.errors == [] and watched.requests == [report.as_uri()]


def test_without_script_the_page_reads(chromium, report):
    context = chromium["with WebGL"].new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(report.as_uri())
    assert page.is_visible("figure.flat svg") and page.is_visible("#card") and page.is_visible("#numbers")
    assert not page.is_visible("#step")


def test_content_policy_is_in_force(shown):
    """Against the page itself: what its policy forbids does not run and does not leave."""
    page = shown.page
    page.evaluate(
        "() => { const s = document.createElement('script'); s.textContent = 'window.ran = true';"
        " document.body.append(s); const i = new Image(); i.src = 'http://127.0.0.1:9/x.png'; document.body.append(i); }"
    )
    shown.settle()
    assert page.evaluate("window.ran") is None
    assert sum("Content Security Policy" in text for text in shown.errors) >= 2


def test_phone_and_paper(chromium, report):
    """Nothing sticks out of a narrow window; the force card fits on one page of A4 with margins of 14 mm."""
    watched = Watched(chromium["with WebGL"], report)
    page = watched.page
    page.set_viewport_size({"width": 390, "height": 800})
    watched.settle()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    mm = 96 / 25.4
    page.set_viewport_size({"width": int((210 - 28) * mm), "height": int((297 - 28) * mm)})
    page.emulate_media(media="print")
    assert page.locator("#card").bounding_box()["height"] < (297 - 28) * mm
    assert page.is_visible("figure.flat svg") and not page.is_visible("#view")


def test_dark(chromium, report):
    watched = Watched(chromium["with WebGL"], report, color_scheme="dark")
    light = "rgb(253, 253, 251)"
    assert watched.page.evaluate("getComputedStyle(document.body).backgroundColor") != light
    assert watched.errors == []
