"""What holds of every page, asked of the page as Chromium drew it."""

from playwright.sync_api import Locator, Page

_UNNAMED = """() => [...document.querySelectorAll('input:not([type=hidden]), select, textarea')]
  .filter(e => !(e.labels && e.labels.length) && !e.getAttribute('aria-label') && !e.getAttribute('aria-labelledby'))
  .map(e => e.outerHTML.slice(0, 120))"""
_NAMELESS = """() => [...document.querySelectorAll('a[href], button, summary')]
  .filter(e => !e.textContent.trim() && !e.getAttribute('aria-label')).map(e => e.outerHTML.slice(0, 120))"""
_PICTURES = """() => [...document.querySelectorAll('img:not([alt]), svg:not([aria-hidden]):not([role=img])')]
  .map(e => e.outerHTML.slice(0, 120))"""
_WIDTH = "() => Math.max(document.documentElement.scrollWidth, window.innerWidth)"
_TWICE = """() => { const ids = [...document.querySelectorAll('[id]')].map(e => e.id);
  return ids.filter((id, i) => ids.indexOf(id) !== i) }"""
_DIM = """(least) => {
  const channels = text => (text.match(/[0-9.]+/g) || []).map(Number);
  const light = ([r, g, b]) => { const [x, y, z] = [r, g, b].map(c => c / 255).map(
    c => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4); return 0.2126 * x + 0.7152 * y + 0.0722 * z };
  const ground = e => { for (; e; e = e.parentElement) { const c = channels(getComputedStyle(e).backgroundColor);
    if (c.length < 4 || c[3] > 0) return c } return [255, 255, 255] };
  const found = new Set();
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    const e = node.parentElement;
    if (!node.data.trim() || !e.checkVisibility({visibilityProperty: true}) || e.closest('.hidden, .skip')) continue;
    const style = getComputedStyle(e), ink = channels(e.closest('svg') ? style.fill : style.color);
    const [a, b] = [light(ink), light(ground(e))], ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < least) found.add(`${ratio.toFixed(2)} for ${node.data.trim().slice(0, 40)}`);
  }
  return [...found] }"""
PHONE_WIDTH = 390
LEAST_CONTRAST = 7.0


def faults(page: Page) -> list[str]:
    """All that does not hold of this page, in words; empty when it is sound."""
    found = []
    headings = page.locator("h1").count()
    if headings != 1:
        found.append(f"{headings} first headings")
    found += [f"no label: {one}" for one in page.evaluate(_UNNAMED)]
    found += [f"no name: {one}" for one in page.evaluate(_NAMELESS)]
    found += [f"no text alternative: {one}" for one in page.evaluate(_PICTURES)]
    found += [f"id twice: {one}" for one in page.evaluate(_TWICE)]
    found += [f"contrast {one}" for one in page.evaluate(_DIM, LEAST_CONTRAST)]
    if page.viewport_size and page.viewport_size["width"] == PHONE_WIDTH:
        width = page.evaluate(_WIDTH)
        if width > PHONE_WIDTH:
            found.append(f"{width} pixels wide on a phone of {PHONE_WIDTH}")
    if not page.title().endswith("Ventfolio"):
        found.append(f"title {page.title()!r}")
    return [f"{page.url}: {fault}" for fault in found]


def tabs_to(page: Page, target: Locator, *, most: int = 120) -> int:
    """How often Tab is pressed, from the top of the page, until the target has the focus; fails if it never has."""
    page.evaluate("() => { document.activeElement.blur(); window.scrollTo(0, 0) }")
    for pressed in range(1, most + 1):
        page.keyboard.press("Tab")
        if target.evaluate("e => e === document.activeElement"):
            return pressed
    raise AssertionError(f"{target} is not reached by {most} tabs on {page.url}")
