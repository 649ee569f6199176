"""The gauges page in a real browser: from readings to an answer, refusals, the journal, a phone."""

import re
import tomllib

import pytest

from conftest import REPO, SHOTS

CARD = tomllib.loads(
    (REPO / "data" / "machines" / "generic-40ft-r134a.toml").read_text(encoding="utf-8")
)
FIELDS = [
    "suction_line_c",
    "discharge_line_c",
    "liquid_line_c",
    "condenser_out_c",
    "supply_c",
    "current_a",
]


def example(fault):
    """Readings of the card's [rating].faults: absolute pressures less one standard atmosphere
    (101.325 kPa, 10th CGPM 1954), 38 °C ambient and 8 °C return air as the card's comment says."""
    row = next(f for f in CARD["rating"]["faults"] if f["fault"] == fault)
    out = {key: str(row[key]) for key in FIELDS}
    for key in ["suction", "discharge", "liquid"]:
        out[f"{key}_kpag"] = f"{row[f'{key}_kpa'] - 101.325:.1f}"
    return out | {"return_c": "8", "ambient_c": "38", "barometer_kpa": "101.325"}


def address(fault, **more):
    pairs = {"fluid": CARD["fluid"], "machine": CARD["id"]} | example(fault) | more
    return "/gauges?" + "&".join(f"{k}={v}" for k, v in pairs.items())


def first_fault(page):
    return page.locator("ol.faults .fault-name").first.inner_text()


def test_from_the_form_by_keyboard_to_the_fault(ship, watched):
    """WCAG 2.1, success criterion 2.1.1: everything from the keyboard, Enter sends."""
    page = watched.open(ship.base, "/gauges")
    page.locator("#fluid").select_option(CARD["fluid"])
    page.locator("#machine").select_option(CARD["id"])
    page.locator("main summary").first.focus()
    page.keyboard.press("Enter")
    readings = example("overcharge")
    for key, text in readings.items():
        page.locator(f"#{key}").focus()
        page.keyboard.type(text)
    page.keyboard.press("Enter")
    page.wait_for_url("**/gauges?*suction_kpag=*")
    assert "Too much refrigerant" in first_fault(page)
    # What to measure next stands above the cautions, and these above the faults.
    heads = page.locator("main h2").all_inner_texts()
    order = [heads.index(h) for h in ["Measure next", "Before you go on", "What it can be"]]
    assert order == sorted(order) and order[0] == 0
    # The entries are kept.
    for key, text in readings.items():
        assert page.locator(f"#{key}").input_value() == text
    # One solid and one dashed cycle, told apart without colour.
    svg = page.locator("svg.ph.wide")
    assert svg.locator("g path.ph-cycle").count() == 2
    assert svg.locator("g path.ph-cycle[stroke-dasharray]").count() == 1


@pytest.mark.parametrize(
    "fault,words",
    [
        ("non_condensables", "Air or other gas in the condenser"),
        ("liquid_restriction", "Drier or liquid line blocked"),
        ("compressor_leak", "Compressor leaks inside"),
        ("none", "No fault found"),
    ],
)
def test_faults_of_the_card_are_named(ship, watched, fault, words):
    page = watched.open(ship.base, address(fault))
    assert words in first_fault(page)
    shares = [
        int(re.search(r"(\d+) %", t).group(1))
        for t in page.locator("ol.faults .share").all_inner_texts()
    ]
    assert shares == sorted(shares, reverse=True)


def test_units_as_they_are_written(ship, watched):
    """1 psi is 6.894757 kPa (NIST SP 811, appendix B.8): the same readings, the same answer."""
    page = watched.open(ship.base, address("overcharge"))
    plain = page.locator("ol.faults").inner_text()
    row = example("overcharge")
    psig = float(row["suction_kpag"]) / 6.894757
    barg = float(row["discharge_kpag"]) / 100
    written = {
        "suction_kpag": f"{psig:.5f}psig",
        "discharge_kpag": f"{barg:.3f}barg",
        "ambient_c": "100.4F",
    }
    page.goto(ship.base + address("overcharge", **written))
    assert page.locator("ol.faults").inner_text() == plain


def test_one_measurement_more(ship, watched):
    page = watched.open(
        ship.base,
        f"/gauges?fluid=R134a&machine={CARD['id']}&suction_kpag=147&discharge_kpag=1253"
        "&suction_line_c=3.3&return_c=8&supply_c=3&ambient_c=38",
    )
    form = page.locator(".one-more").first
    field = form.locator("input:not([type=hidden])")
    name = field.get_attribute("name")
    field.fill({"discharge_line_c": "78.3", "liquid_line_c": "47", "current_a": "11.6",
                "condenser_out_c": "51.1", "liquid_kpag": "1241", "compressor_in_c": "4.3"}[name])
    form.locator("button").click()
    page.wait_for_url(f"**{name}=*")
    assert page.locator("#suction_kpag").input_value() == "147"
    assert page.locator(f"#{name}").input_value() != ""
    assert page.locator(f"#add-{name}").count() == 0


def refused(chromium, base, path):
    """Answers other than 2xx are logged by the browser, so the console is not watched here."""
    context = chromium.new_context()
    page = context.new_page()
    answer = page.goto(base + path)
    assert answer.status == 422
    return page


def test_fahrenheit_in_a_celsius_field_is_refused(ship, chromium):
    page = refused(chromium, ship.base, address("overcharge", ambient_c="100.4"))
    error = page.locator("#ambient_c-error").inner_text()
    assert "°F" in error
    assert page.locator("#ambient_c").input_value() == "100.4"
    assert page.locator("#ambient_c").get_attribute("aria-invalid") == "true"
    assert page.locator("#suction_kpag").input_value() == example("overcharge")["suction_kpag"]
    # The summary leads to the field.
    assert page.locator(".trouble a[href='#ambient_c']").inner_text() == "Ambient air"
    page.context.close()


def test_nothing_is_guessed(ship, chromium):
    for text, says in [("18psi", "psig (gauge) or psia (absolute)"), ("12C", "no unit that is known")]:
        page = refused(chromium, ship.base, f"/gauges?fluid=R134a&suction_kpag={text}")
        assert says in page.locator("#suction_kpag-error").inner_text()
        assert page.locator("#suction_kpag").input_value() == text
        page.context.close()
    page = refused(chromium, ship.base, "/gauges?suction_kpag=126")
    assert "plate" in page.locator(".trouble").inner_text()
    page.context.close()


def test_kept_in_the_journal_and_opened_again(working_ship, watched):
    base = working_ship.base
    page = watched.open(base)
    unit = page.locator("table.lines tbody tr th a").first.inner_text()
    page.goto(base + address("non_condensables", unit=unit, suction_kpag="18.755psig"))
    told = first_fault(page)
    page.locator("#keep-who").fill("Second engineer")
    page.locator("#keep-note").fill("after the port")
    page.locator(".keep-form button").click()
    page.locator(".kept-note").wait_for()
    assert "Second engineer" in page.locator(".kept-note").inner_text()
    assert page.locator(".keep-form").count() == 0, "the same readings are not kept twice"
    # On the page of the box, with the answer as told; the link opens the form filled.
    page.goto(f"{base}/box/{unit}#gauges")
    line = page.locator("ul.kept li").first
    share, words = told.split(" % ", 1)
    assert f"{share} %" in line.inner_text()
    assert words.rstrip(".").lower() in line.inner_text()
    assert "after the port" in line.inner_text()
    line.locator("a.button").click()
    page.wait_for_url("**/gauges?*")
    assert page.locator("#suction_kpag").input_value() == "18.755psig"
    assert page.locator("#unit").input_value() == unit
    # Bare address of the box: the form and the list.
    page.goto(f"{base}/gauges?unit={unit}")
    assert page.locator("ul.kept li").count() == 1
    assert page.locator("#suction_kpag").input_value() == ""
    page.goto(base + "/files")
    assert f"gauges of {unit} read: " in page.locator("main").inner_text()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("place,width,height", [("desk", 1440, 900), ("phone", 390, 844)])
def test_no_sideways_scroll(ship, watched, scheme, place, width, height):
    """WCAG 2.1, success criterion 1.4.10."""
    page = watched.open(
        ship.base, address("hot_gas_leak"), width=width, height=height, color_scheme=scheme
    )
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert page.evaluate("document.scrollingElement.scrollWidth") <= width
    look = "wide" if place == "desk" else "narrow"
    assert page.locator(f"svg.ph.{look}").is_visible()
    small = page.evaluate(
        """() => [...document.querySelectorAll("button,input:not([type=hidden]),select,summary,.button")]
           .map(e => [e, e.getBoundingClientRect()])
           .filter(([e, r]) => r.width > 0 && (r.height < 43.5 || r.width < 43.5))
           .map(([e, r]) => `${e.outerHTML.slice(0, 80)} ${r.width}x${r.height}`)"""
    )
    assert small == []
    SHOTS.mkdir(exist_ok=True)
    page.screenshot(path=SHOTS / f"gauges-{place}-{scheme}.png", full_page=True)


def test_what_is_not_kept_is_shown_again(working_ship, watched):
    page = watched.open(working_ship.base)
    page.goto(working_ship.base + address("overcharge"))
    page.fill("#keep-unit", "no box")
    page.fill("#keep-who", "Jonah")
    page.fill("#keep-note", "after 20 min of running")
    page.locator(".keep-form button").click()
    page.wait_for_load_state("load")
    assert "no container number" in page.locator(".keep-form .trouble").inner_text()
    assert page.input_value("#keep-unit") == "no box"
    assert page.input_value("#keep-note") == "after 20 min of running"
    assert page.locator("#suction_kpag").input_value() == example("overcharge")["suction_kpag"]
    watched.troubles[:] = [t for t in watched.troubles if "422" not in t]
