"""Every screen of the phone as Chromium lays it out: axe, what is clipped or covered, what is hit.

Widths are those of small phones, down to 320 px (WCAG 2.2, 1.4.10); text at 200 % (1.4.4). Contrast
is worked out from the style's own colours by the formula of WCAG 2.2 (relative luminance). Sizes
of what is pressed are the design's own: 88 px for a key, 48 for everything else.
"""

from __future__ import annotations

import re
from importlib.resources import files

import pytest
from axe_playwright_python.sync_playwright import Axe

from benchwalk.catalogue import LOCALES
from benchwalk.web import Served, create_app
from tests.capture import on_the_phone as on
from tests.capture.a_greenhouse import AGreenhouse
from tests.web.conftest import listening
from tests.web.test_the_page_in_a_browser import AXE, CLIPPED, COVERED, sideways

pytestmark = pytest.mark.browser
THEMES = ("sun", "dim")
HIGH = 4000  # nothing is left to scroll
CSS = (files("benchwalk.web.capture") / "static" / "phone.css").read_text(encoding="utf-8")
SMALL = """() => [...document.querySelectorAll("button, a, select, textarea, input:not([type=checkbox]), label.check")]
  .filter((e) => e.getClientRects().length && (e.getBoundingClientRect().height < 47.9 || e.getBoundingClientRect().width < 47.9
    || (e.matches(".key") && e.getBoundingClientRect().height < 87.9)))
  .map((e) => `${e.tagName} ${e.textContent.slice(0, 30)} ${e.getBoundingClientRect().height}`)"""  # noqa: E501
UNDER = """() => {  // what a sticky foot covers while the page can no longer scroll
  scrollTo(0, document.documentElement.scrollHeight);
  const foot = document.querySelector(".ph-bar, .ph-end");
  if (!foot) return [];
  const top = foot.getBoundingClientRect().top;
  return [...document.querySelectorAll("main > *:not(.ph-bar):not(.ph-end) *")]
    .filter((e) => e.matches("button, a, select, input, p") && e.getBoundingClientRect().bottom > top + 1 && e.getClientRects().length)
    .map((e) => e.textContent.slice(0, 40));
}"""  # noqa: E501


@pytest.fixture(scope="module")
def paired(chromium, tmp_path_factory, sqlite_template):
    """A page amid a unit, something counted and looks behind it; the unit, a card and a disc."""
    greenhouse = AGreenhouse(tmp_path_factory.mktemp("greenhouse"), sqlite_template)
    with listening(create_app(Served(greenhouse.engine, greenhouse.n))) as url:
        context = chromium.new_context(viewport={"width": 390, "height": 844}, locale="en-US")
        page = context.new_page()
        on.pair(page, url, greenhouse.pairing())
        on.sign_in(page)
        on.begin_walk(page)
        on.enter(page, "Bench 1")
        on.next_plant(page, 2)
        on.key(page, "Western flower thrips, larva").click()
        yield page, greenhouse
        context.close()
    greenhouse.engine.dispose()


@pytest.fixture(scope="module")
def screens(paired):
    _, greenhouse = paired
    card, disc = greenhouse.cards
    plain = ("shift", "walks", "new-walk", "stops", f"skip/{greenhouse.units[1]}", "walk-end")
    of_unit = ("count", "unit-end", "where", "cards", f"card/{card}", f"card/{disc}", "flag")
    return [*plain, *of_unit, "note", "sighting", "phone"]


def shown(page, screen, theme, locale, size, text=100):
    page.set_viewport_size(size)
    script = """([screen, theme, locale, text]) => {
      localStorage.setItem("theme", theme); localStorage.setItem("locale", locale);
      document.documentElement.style.fontSize = `${text}%`;
      location.hash = "#/none"; location.hash = `#/${screen}`;
    }"""
    page.evaluate(script, [screen, theme, locale, text])
    page.wait_for_function(
        "([theme, locale]) => document.body.classList.contains(theme) && document.documentElement.lang === locale",  # noqa: E501
        arg=[theme, locale],
    )


@pytest.mark.parametrize(
    ("theme", "locale", "of"),
    [("sun", "en", "all"), ("dim", "es", "all"), ("sun", "es", "count"), ("dim", "en", "count")],
)
def test_axe_finds_nothing_on_any_screen(paired, screens, theme, locale, of):
    page, _ = paired
    for screen in [s for s in screens if of in ("all", s)]:
        # high enough to scroll nothing: the foot that sticks lies over what is not scrolled yet
        shown(page, screen, theme, locale, {"width": 390, "height": HIGH})
        found = Axe().run(page, options=AXE)
        assert found.violations_count == 0, f"{screen}: {found.generate_report()}"


@pytest.mark.parametrize(("width", "text"), [(390, 100), (360, 100), (320, 100), (320, 200)])
@pytest.mark.parametrize("locale", LOCALES)
def test_nothing_is_cut_covered_or_too_small_to_hit(paired, screens, locale, width, text):
    page, _ = paired
    for theme, screen in [(THEMES[n % 2], screen) for n, screen in enumerate(screens)]:
        size = {"width": width, "height": 640 if width < 390 else 844}
        shown(page, screen, theme, locale, size, text)
        faults = {
            "sideways": sideways(page),
            "clipped": page.evaluate(CLIPPED),
            "small": page.evaluate(SMALL),
            "under the foot": page.evaluate(UNDER),
        }
        page.set_viewport_size(size | {"height": HIGH})
        faults["covered"] = page.evaluate(COVERED)
        assert not any(faults.values()), f"{screen}: {faults}"


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance of #rrggbb."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_gives_black_on_white_21_to_1():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("theme", THEMES)
def test_colours_of_a_theme_can_be_told_apart(theme):
    """Text 4.5 : 1 (WCAG 2.2, 1.4.3), borders and the ring of focus 3 : 1 (1.4.11)."""
    own = re.search(rf"^\.{theme} {{(.*?)}}", CSS, re.MULTILINE)[1]
    held = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", own))
    texts = [("ink", g) for g in ("paper", "band", "key")] + [("ink-2", "paper"), ("ink-2", "band")]
    texts += [
        ("ink-3", "paper"),
        ("ink-3", "key"),
        ("ink-3", "band"),
        ("go-ink", "go"),
        ("rubric", "paper"),
    ]
    lines = [("ink", "paper"), ("ink-3", "paper"), ("focus", "paper"), ("rule", "paper")]
    low = [p for p in texts if contrast(held[p[0]], held[p[1]]) < 4.5]
    low += [p for p in lines if contrast(held[p[0]], held[p[1]]) < 3]
    assert low == []
