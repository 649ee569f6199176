"""Cold treatments in a real browser: the list, one box's ledger and forecast, and the forms."""

import csv
import re

from conftest import SHOTS


def first_treatment(page, base):
    page.goto(base + "/treatments")
    return page.locator("table.treatments tbody th a").first.get_attribute("href")


def test_every_treatment_has_a_strip_and_a_standing(ship, watched):
    page = watched.open(ship.base)
    page.goto(ship.base + "/treatments")
    rows = page.locator("table.treatments tbody tr")
    assert rows.count() >= 3
    for row in rows.all():
        assert row.locator("svg.treatment-strip").count() == 1
        assert row.locator("td.why strong").inner_text().strip()
    assert "do not unplug" in page.locator(".caution-line").inner_text().lower()


def test_the_ledger_counts_every_reading_time_once(ship, watched):
    """The recorder's rows in the ship's own files, counted by another parser (Python's csv)."""
    page = watched.open(ship.base)
    href = first_treatment(page, ship.base)
    unit = href.rsplit("/", 1)[1]
    hours = set()
    for path in (ship.folder / "loggers").glob("*.csv"):
        with open(path, encoding="utf-8-sig", newline="") as f:
            for row in csv.DictReader(f):
                if row["unit"] == unit and row["probe1_c"]:
                    hours.add(row["time_utc"])
    page.goto(ship.base + href)
    cells = page.locator("#ledger ~ div.scroll table.readings").first.locator("tbody td.n:nth-child(3)")
    counted = sum(int(c) for c in cells.all_inner_texts())
    assert counted == len(hours)


def test_the_chart_shows_limit_probes_and_port(ship, watched):
    page = watched.open(ship.base)
    page.goto(ship.base + first_treatment(page, ship.base))
    chart = page.locator("svg.treatment.wide")
    assert chart.locator(".level.limit").count() >= 1
    assert chart.locator(".line").count() == 3
    texts = " ".join(chart.locator("text").all_text_contents())
    assert "limit" in texts and "now" in texts


def test_order_slurry_and_release_by_form(working_ship, watched):
    base = working_ship.base
    page = watched.open(base)
    page.goto(base + "/")
    unit = page.locator("table.lines tbody tr th a").first.inner_text()
    page.goto(base + "/treatments")
    form = page.locator("form[action='/treatments/order']")
    form.locator("[name=units]").fill(unit)
    form.locator("[name=schedule]").select_option("us-t107-a-1.11")
    form.locator("[name=who]").fill("A. Person, electrician")
    form.locator("button").click()
    page.wait_for_url(base + "/treatments")
    assert page.locator(f"table.treatments a:text-is('{unit}')").count() == 1
    page.goto(base + "/treatment/" + unit)
    page.locator("summary:has-text('ice slurry')").click()
    slurry = page.locator(f"form[action$='{unit}/slurry']")
    slurry.locator("[name=p1-1]").fill("0.1")
    slurry.locator("[name=p1-2]").fill("0,1")
    slurry.locator("[name=at]").fill("2026-03-02 05:00")
    slurry.locator("[name=who]").fill("A. Person")
    slurry.locator("button").click()
    page.wait_for_load_state("load")
    assert "2 readings" in page.content()
    page.goto(base + "/treatment/" + unit)
    page.locator("summary:has-text('Release')").click()
    release = page.locator(f"form[action$='{unit}/release']")
    for name, text in [("official", "B. Official"), ("authority", "XX"), ("document", "XX-1"),
                       ("at", "2026-03-05 06:00"), ("who", "A. Person")]:
        release.locator(f"[name={name}]").fill(text)
    release.locator("button").click()
    page.wait_for_load_state("load")
    assert re.search(r"Released by an authority on\s+5 Mar", page.locator(".headline").inner_text())


def test_words_for_a_temperature_are_refused(working_ship, chromium):
    base = working_ship.base
    context = chromium.new_context()
    page = context.new_page()
    page.goto(base + first_treatment(page, base))
    page.locator("summary:has-text('sampled')").click()
    precool = page.locator("form[action$='/precool']")
    precool.locator("[name=samples]").fill("cold enough")
    precool.locator("[name=at]").fill("2026-03-02 05:00")
    precool.locator("[name=who]").fill("A. Person")
    precool.locator("button").click()
    page.wait_for_load_state("load")
    assert page.locator("h1").inner_text() == "Not entered"
    assert "cold" in page.locator("main").inner_text()
    context.close()


def test_phone_shows_everything_without_sideways_scrolling(ship, watched):
    page = watched.open(ship.base, "/", width=390, height=844)
    for path in ["/treatments", first_treatment(page, ship.base)]:
        page.goto(ship.base + path)
        width = page.evaluate("document.documentElement.scrollWidth")
        assert width <= page.viewport_size["width"], path
    SHOTS.mkdir(exist_ok=True)
    page.screenshot(path=str(SHOTS / "treatment-phone.png"), full_page=True)
