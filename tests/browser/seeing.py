"""What is looked for on every page, each as lines of what is amiss: keyboard, motion, paper. No test of its own."""

from typing import Any

from playwright.sync_api import Page

from tests.browser.looking import AXE, OUTSIDE, RULES, violations

WIDTHS = (320, 390, 720, 768, 1440, 2560)
"""320 is what WCAG 2.1, 1.4.10 asks for; 720 is what a window of 1440 has at 200 % zoom."""
PAPER_PX = {"": 718, "landscape": 1047}
"""The width of A4 between margins of 10 mm, upright and as a page asks for it, at 96 px to the inch."""
_ASKS = """() => [...document.styleSheets].flatMap(sheet => [...sheet.cssRules])
  .flatMap(rule => [rule, ...(rule.cssRules ?? [])]).map(each => each.cssText)
  .some(said => said.startsWith('@page') && said.includes('landscape'))"""
LEAST_OUTLINE_PX = 2

ALL = RULES
CONTRAST: dict[str, Any] = {**RULES, "runOnly": ["color-contrast"]}
ALL_BUT_CONTRAST: dict[str, Any] = {**RULES, "rules": {"color-contrast": {"enabled": False}}}

_FOCUSABLE = """outside => [...(document.querySelector('dialog:modal') ?? document).querySelectorAll(
    'a[href], button, input, select, textarea, summary, [tabindex]')].filter(each =>
  each.checkVisibility({visibilityProperty: true}) && !each.disabled && each.tabIndex >= 0
    && !outside.some(other => each.closest(other))
    && !(each.type === 'radio' && each.name && !each.checked
      && [...document.getElementsByName(each.name)].some(other => other.form === each.form && other !== each
        && (other.checked || other.compareDocumentPosition(each) & 4))))"""

_HERE = """([least, outside]) => {
  const each = document.activeElement;
  if (!each || each === document.body || each === document.documentElement) return {name: '', seen: true};
  const style = getComputedStyle(each), box = each.getBoundingClientRect();
  const again = window.walked.has(each) && each !== window.last;
  window.last = each;
  window.walked.add(each);
  const [left, right] = [Math.max(box.left, 0), Math.min(box.right, innerWidth)];
  const [upper, lower] = [Math.max(box.top, 0), Math.min(box.bottom, innerHeight)];
  const covered = [.1, .5, .9].every(part => {
    const top = document.elementFromPoint(left + (right - left) * part, upper + (lower - upper) * part);
    return top && !each.contains(top) && !top.contains(each) && !top.closest('label')?.contains(each);
  });
  if (outside.some(other => each.closest(other))) return {name: 'not ours', again, seen: true};
  return {
    name: `${each.tagName}.${each.className} ${(each.textContent || each.name || '').trim().slice(0, 40)}`,
    again,
    seen: style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= least,
    inside: lower > upper && right > left,
    covered,
  };
}"""


def walked(page: Page) -> list[str]:
    """Tab through the page once: what has no mark of the focus, is out of sight, or is never come to."""
    page.evaluate("window.walked = new Set(); document.activeElement?.blur(); scrollTo(0, 0)")
    many = page.evaluate(f"outside => ({_FOCUSABLE})(outside).length", OUTSIDE)
    found, steps, ends = [], 0, 0
    while steps < many + 60:
        page.keyboard.press("Tab")
        steps += 1
        here: dict[str, Any] = page.evaluate(_HERE, [LEAST_OUTLINE_PX, OUTSIDE])
        ends += not here["name"]
        if ends > 1 or here.get("again"):
            break
        for what, amiss in (
            ("has no mark of the focus", not here["seen"]),
            ("is out of sight", here.get("inside") is False),
            ("is covered", here.get("inside") and here.get("covered")),
        ):
            if amiss:
                found.append(f"{here['name']} {what}")
    missed = page.evaluate(
        f"outside => ({_FOCUSABLE})(outside).filter(each => !window.walked.has(each))"
        ".map(each => `${each.tagName} ${each.id || each.name || each.textContent.trim().slice(0, 40)}`)",
        OUTSIDE,
    )
    return [*found, *(f"{each} is never come to by Tab" for each in missed)]


_MOVING = """() => [
  ...document.getAnimations().filter(each => each.playState === 'running').map(() => 'an animation'),
  ...[...document.querySelectorAll('*')].filter(each => {
    const style = getComputedStyle(each);
    const long = (said) => said.split(',').some(part => parseFloat(part) > 0.02);
    return (style.transitionProperty !== 'none' && long(style.transitionDuration))
      || (style.animationName !== 'none' && long(style.animationDuration))
      || style.scrollBehavior === 'smooth';
  }).map(each => `${each.tagName}.${each.className}`)]"""


def moving(page: Page) -> list[str]:
    """What moves although whoever looks has asked for less motion."""
    page.emulate_media(reduced_motion="reduce")
    found: list[str] = page.evaluate(_MOVING)
    page.emulate_media(reduced_motion="no-preference")
    return found


_PRINTED = """outside => {
  const ground = getComputedStyle(document.body).backgroundColor.match(/[\\d.]+/g).map(Number);
  const dark = (ground[3] ?? 1) > 0 && ground[0] + ground[1] + ground[2] < 3 * 230;
  const shown = [...document.body.querySelectorAll('*')].filter(each => each.checkVisibility({visibilityProperty: true})
    && !outside.some(other => each.closest(other)));
  const cut = shown.filter(each => {
    const style = getComputedStyle(each);
    const clips = (said) => ['hidden', 'auto', 'scroll', 'clip'].includes(said);
    return !each.closest('.only-read, svg, .skip') && !['INPUT', 'TEXTAREA', 'SELECT'].includes(each.tagName)
      && ((clips(style.overflowX) && each.scrollWidth > each.clientWidth + 1)
       || (clips(style.overflowY) && each.scrollHeight > each.clientHeight + 1));
  });
  const sticks = (each) => ['fixed', 'sticky'].includes(getComputedStyle(each).position);
  const stuck = shown.filter(each => sticks(each) && each.tagName !== 'TH');
  const name = (each) => `${each.tagName}#${each.id}.${each.className}`;
  return [...(dark ? [`the ground is dark: ${ground}`] : []), ...cut.map(each => `${name(each)} is cut`),
    ...stuck.map(each => `${name(each)} would stand on every sheet`)];
}"""


def printed(page: Page) -> list[str]:
    """What is amiss on paper: a dark ground, what is cut, what sticks, what is too pale or too wide for A4."""
    size = page.viewport_size
    page.emulate_media(media="print")
    paper = PAPER_PX["landscape" if page.evaluate(_ASKS) else ""]
    page.set_viewport_size({"width": paper, "height": 1000})
    found: list[str] = page.evaluate(_PRINTED, OUTSIDE)
    needs = page.evaluate("document.scrollingElement.scrollWidth")
    if needs > paper:
        found.append(f"it is {needs} px wide, and the sheet {paper}")
    if not page.evaluate("typeof axe === 'object'"):
        page.evaluate(AXE)
    found += [f"too pale: {line}" for line in violations(page, CONTRAST)]
    page.emulate_media(media="screen")
    if size:
        page.set_viewport_size(size)
    return found


def unfolded(page: Page) -> None:
    """Open what is folded: what is hidden is not judged."""
    page.evaluate("for (const each of document.querySelectorAll('details:not(#swagger-ui *)')) each.open = true")


def wide(page: Page) -> list[str]:
    """The widths at which the page scrolls sideways, with what it needs and the first thing that sticks out."""
    found = []
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        needs, what = page.evaluate(
            "() => [document.scrollingElement.scrollWidth, [...document.body.querySelectorAll('*')].find(each =>"
            " each.getBoundingClientRect().right > innerWidth + 1 && each.checkVisibility())?.outerHTML.slice(0, 90)]"
        )
        if needs > width:
            found.append(f"{width} px: it needs {needs}: {what}")
    return found


LOOKED_AT = (
    (1440, "dark", ALL),
    (390, "light", ALL),
    (1440, "light", ALL),
    (390, "dark", ALL),
    (768, "dark", ALL_BUT_CONTRAST),
    (2560, "light", ALL_BUT_CONTRAST),
)
"""Widths, themes and what axe looks for: contrasts, which take half of the time, where they are other ones."""


def read_by_axe(page: Page) -> list[str]:
    """What axe finds, in both themes at every width."""
    page.evaluate(AXE)
    page.evaluate("scrollTo(0, 0)")
    found = []
    for width, theme, rules in LOOKED_AT:
        page.set_viewport_size({"width": width, "height": 900})
        page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
        found += [f"{theme} {width}: {line}" for line in violations(page, rules)]
    page.evaluate("document.documentElement.dataset.theme = 'dark'")
    return found
