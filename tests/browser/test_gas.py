"""The refrigerant account and spare parts, in a real browser."""

from conftest import signed
from test_pages import first_box


def send(page, action, fields, who="A. Person"):
    form = page.locator(f"form[action='{action}']")
    if not form.is_visible():
        page.locator("details.write-down", has=form).locator("summary").click()
    for name, value in fields.items():
        form.locator(f"[name={name}]").first.fill(value)
    form.locator("[name=who]").fill(who)
    return form


def enter(page, action, fields, choose=None):
    form = send(page, action, fields)
    for name, value in (choose or {}).items():
        form.locator(f"select[name={name}]").select_option(value)
    form.locator("button").click()
    page.wait_for_load_state("load")


def test_the_account_is_kept_on_the_page(working_ship, watched):
    page = watched.open(working_ship.base)
    unit = first_box(page)
    page.goto(working_ship.base + "/gas")
    assert "Nothing is entered yet" in page.content()
    enter(page, "/gas/cylinder", {"id": "C12", "gas": "r134a", "volume_l": "12"}, {"source": "virgin"})
    enter(page, "/gas/plate", {"unit": unit, "gas": "R134a", "kg": "5"})
    enter(
        page,
        "/gas/move",
        {"from": "supplier:chandler", "to": "C12", "kg": "9,1"},
        {"reason": "supply"},
    )
    enter(page, "/gas/move", {"from": "C12", "to": unit, "kg": "0.5"}, {"reason": "top-up"})
    assert "8.600 kg" in page.inner_text("main")
    assert "at least 10.0 %" in page.inner_text("main")
    # The record of the unit prints with what was entered.
    page.get_by_role("link", name="its record").click()
    page.wait_for_load_state("load")
    assert "0.500 kg R134a" in page.inner_text("main")
    assert "certificate not entered" in page.inner_text("main")
    signed(page, working_ship.base, f"/paper/refrigerant-{unit}.pdf")
    page.goto(working_ship.base + "/gas/ozone")
    assert "No entry" in page.inner_text("main")
    signed(page, working_ship.base, "/paper/ozone.pdf")
    # More than the cylinder holds: refused in words, nothing stored.
    page.goto(working_ship.base + "/gas")
    enter(page, "/gas/move", {"from": "C12", "to": unit, "kg": "50"}, {"reason": "top-up"})
    assert "by this account it holds 8.600 kg" in page.content()
    assert "Nothing was stored" in page.content()
    watched.troubles[:] = [t for t in watched.troubles if "422" not in t]
    page.goto(working_ship.base + "/log")
    assert "0.500 kg R134a from cylinder C12" in page.content()


def test_spares_on_a_phone(working_ship, watched):
    page = watched.open(working_ship.base, "/spares", width=390, height=844)
    enter(page, "/spares/count", {"part": "fan motor", "count": "1", "least": "2"})
    assert page.locator("tr.act", has_text="fan motor").count() == 1
    enter(page, "/spares/use", {"part": "fan motor", "count": "1", "job": "fan changed"})
    assert "0 on board" in page.inner_text("main")
    for path in ["/spares", "/gas"]:
        page.goto(working_ship.base + path)
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= 390, f"{path} is {wide} wide"
