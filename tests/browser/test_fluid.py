"""The fluids page in a real browser."""

import pytest

from conftest import SHOTS

STATE = "/fluid?name=R452A&p=1.8psig&t=-10C&barometer=101.325"
SATURATION = "/fluid?name=R134a&p=1.8psig"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("place,width,height", [("desk", 1440, 900), ("phone", 360, 780)])
def test_fluid_page(ship, watched, scheme, place, width, height):
    """WCAG 2.1, success criterion 1.4.10: nothing needs sideways scrolling of the page."""
    page = watched.open(ship.base, STATE, width=width, height=height, color_scheme=scheme)
    assert page.get_by_role("heading", name="R452A: superheated vapour").is_visible()
    look, other = ("wide", "narrow") if place == "desk" else ("narrow", "wide")
    assert page.locator(f"svg.ph.{look}").is_visible()
    assert not page.locator(f"svg.ph.{other}").is_visible()
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= width
    table = page.locator(".scroll").first
    assert table.evaluate("e => e.scrollWidth <= e.clientWidth"), "a pressure is out of sight"
    SHOTS.mkdir(exist_ok=True)
    page.screenshot(path=SHOTS / f"fluid-{place}-{scheme}.png", full_page=True)


def test_fluid_form_by_keyboard(ship, watched):
    """WCAG 2.1, success criterion 2.1.1: the form is sent from the keyboard."""
    page = watched.open(ship.base, "/fluid?name=R134a")
    page.get_by_label("Pressure, with its unit").focus()
    page.keyboard.type("1.8psig")
    page.keyboard.press("Enter")
    page.wait_for_url("**/fluid?*p=1.8psig*")
    # Printed pressure-temperature cards: −10.3 °F, −23.5 °C.
    assert page.get_by_text("−23.5").first.is_visible()
    assert page.get_by_label("Pressure, with its unit").input_value() == "1.8psig"


def test_fluid_labels_do_not_lie_on_each_other(ship, watched):
    for name in ["R134a", "R404A", "R744", "R23"]:
        page = watched.open(ship.base, f"/fluid?name={name}")
        boxes = page.eval_on_selector_all(
            "svg.ph.wide text.halo",
            "all => all.map(t => { const b = t.getBBox(); return [b.x, b.y, b.width, b.height] })",
        )
        assert len(boxes) > 12, name
        for i, a in enumerate(boxes):
            for b in boxes[i + 1 :]:
                across = min(a[0] + a[2], b[0] + b[2]) - max(a[0], b[0])
                down = min(a[1] + a[3], b[1] + b[3]) - max(a[1], b[1])
                assert across <= 1 or down <= 3, (name, a, b)
