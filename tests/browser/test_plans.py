"""Who first, power and what may lie ahead of a box, in a real browser."""

from test_pages import first_box


def test_a_repair_begins_and_ends(working_ship, watched):
    page = watched.open(working_ship.base)
    page.goto(working_ship.base + "/repairs?people=2&names=Jonah,Mira")
    assert page.locator("svg.lanes.wide").count() == 1
    begin = page.locator("form[action='/repairs/begin'] button").first
    text = begin.inner_text()
    person, unit = text.split(" begins on ")
    begin.click()
    page.wait_for_load_state("load")
    under_way = page.locator("form[action='/repairs/end']")
    assert under_way.count() == 1
    assert unit in under_way.inner_text() and person in under_way.inner_text()
    # The plan goes round it: the one under way comes first, and has no button of its own.
    assert page.get_by_role("button", name=text).count() == 0
    under_way.get_by_role("button", name="Done").click()
    page.wait_for_load_state("load")
    assert page.locator("form[action='/repairs/end']").count() == 0
    page.goto(working_ship.base + "/log")
    assert f"repair of {unit} done" in page.content()


def test_the_plant_gives_a_margin(working_ship, watched):
    page = watched.open(working_ship.base, width=390, height=844)
    page.goto(working_ship.base + "/power")
    assert page.locator("svg.load.narrow").is_visible()
    assert "no margin is worked out" in page.content()
    for i in range(2):
        page.fill(f"input[name=name{i}]", f"DG{i + 1}")
        page.fill(f"input[name=kw{i}]", "1400")
        page.fill(f"input[name=kva{i}]", "1750")
    page.check("input[name=on0]")
    page.fill("input[name=other_kw]", "100")
    form = page.locator("form[action='/power/plant']")
    form.locator("input[name=who]").fill("Jonah")
    form.locator("button").click()
    page.wait_for_load_state("load")
    # 85 % of the one set on the board (by hand).
    assert "1190 kW" in page.content()
    assert "Start DG2" in page.content()
    # A figure that is none is named and nothing is stored.
    page.locator("details#plant summary").first.click()
    page.fill("input[name=kw0]", "many")
    form.locator("input[name=who]").fill("Jonah")
    form.locator("> button").click()
    page.wait_for_load_state("load")
    assert "no figure" in page.content() and "Nothing was stored" in page.content()
    # The browser reports the refusal; nothing else may have gone wrong.
    watched.troubles[:] = [t for t in watched.troubles if "422" not in t]


def test_the_fan_is_drawn_and_asked_anew(ship, watched):
    page = watched.open(ship.base)
    page.goto(ship.base + "/")
    page.goto(ship.base + "/box/" + first_box(page))
    assert page.locator("svg.fan.wide").is_visible()
    page.fill("input[name=repair_in_h]", "12")
    page.locator("form:has(input[name=repair_in_h]) button").click()
    page.wait_for_load_state("load")
    assert page.input_value("input[name=repair_in_h]") == "12"


def test_the_pictures_come_on_paper(working_ship, watched):
    page = watched.open(working_ship.base)
    for path, name in [("/repairs", "repairs"), ("/power", "power"), ("/power", "restart"), ("/", "watch")]:
        page.goto(working_ship.base + path)
        link = page.locator(f"a[href^='/paper/{name}.pdf']")
        assert link.count() == 1 and link.is_visible(), name
        answer = page.request.get(working_ship.base + link.get_attribute("href"))
        assert answer.status == 200 and answer.headers["content-type"] == "application/pdf", name
        assert answer.body().startswith(b"%PDF-"), name
