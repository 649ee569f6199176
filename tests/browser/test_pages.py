"""The pages in a real browser.

Where a check has an outside source it is named beside it; the rest is what the pages promise.
"""

import json
import re
import statistics
import subprocess
import time
import urllib.request
from datetime import datetime, timedelta

import pytest

from conftest import BINARY, SHOTS
from playwright.sync_api import Error

PAGES = ["/", "/plan", "/repairs", "/power", "/rounds", "/treatments", "/vacuum", "/service", "/service/new",
         "/report", "/log", "/files", "/fluid", "/gauges", "/gas", "/spares", "/instruments", "/charts",
         "/handover"]


def holds(page, condition, arg):
    try:
        return page.evaluate(condition, arg)
    except Error:
        # The page is just being left for the next one.
        return False


def until(page, condition, seconds=8.0, arg=None):
    """Waits for a condition. The browser tool's own way of waiting is forbidden by the pages'
    content policy, which allows no code made from text."""
    end = time.monotonic() + seconds
    while not holds(page, condition, arg):
        assert time.monotonic() < end, f"never came true: {condition}"
        page.wait_for_timeout(50)


def first_box(page):
    """Number of the first box on the watch list."""
    return page.locator("table.lines tbody tr th a").first.inner_text()


def any_bay(page):
    """Address of the first bay on the plan."""
    return page.locator(".small-bays a").first.get_attribute("href")


def all_pages(page, base):
    """Addresses of one page of each kind."""
    page.goto(base + "/")
    box = "/box/" + first_box(page)
    page.goto(base + "/plan")
    bay = any_bay(page)
    page.goto(base + "/handover")
    port = page.locator("ul.entries a.button").first.get_attribute("href")
    return PAGES + [bay, box, box + "?range=all", port]


# Loading and what a stranger sees ---------------------------------------------------------


def test_every_page_loads_cleanly(ship, watched):
    page = watched.open(ship.base)
    for path in all_pages(page, ship.base):
        answer = page.goto(ship.base + path)
        assert answer.status == 200, path
        # An open event stream never lets the network fall idle; the load event must suffice.
        page.wait_for_load_state("load")
        assert page.locator("h1").count() == 1, path
        assert page.evaluate("document.documentElement.lang") == "en"


def test_headings_step_down_one_at_a_time(ship, watched):
    """WCAG 2.1, success criterion 1.3.1, technique H42: headings mark the structure."""
    page = watched.open(ship.base)
    for path in all_pages(page, ship.base):
        page.goto(ship.base + path)
        levels = page.eval_on_selector_all(
            "h1,h2,h3,h4,h5,h6", "all => all.map(h => Number(h.tagName[1]))"
        )
        assert levels[0] == 1, path
        for before, after in zip(levels, levels[1:]):
            assert after <= before + 1, (path, levels)


def test_a_page_that_is_not_there_says_what_to_do(ship, chromium):
    context = chromium.new_context()
    page = context.new_page()
    answer = page.goto(ship.base + "/nothing")
    assert answer.status == 404
    assert page.get_by_role("heading", name="No such page").is_visible()
    assert page.locator("main").get_by_role("link", name="Watch list").is_visible()
    answer = page.goto(ship.base + "/box/QQQU0000000")
    assert answer.status == 404
    context.close()


# Watch list -------------------------------------------------------------------------------


def test_watch_list_is_in_order(ship, watched):
    """Boxes that are not ok come first, by hours to the limit (contract §6)."""
    page = watched.open(ship.base)
    states = page.eval_on_selector_all("table.lines tbody tr", "all => all.map(r => r.className)")
    assert len(states) == 100
    is_ok = [s == "ok" for s in states]
    assert is_ok == sorted(is_ok)
    assert "urgent" in states
    # The command line gives the same boxes in the same order.
    command = [BINARY, "watch", "--json", "--voyage", str(ship.voyage)]
    told = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
    shown = page.locator("table.lines tbody tr th a").all_inner_texts()
    assert shown == [b["unit"] for b in told["boxes"][:100]]
    # MSC.302(87), chapter 9 (reference/interchange.md §5.3): at least 20 are listed at once, and
    # that there are more is said unmistakably.
    total = int(page.locator(".counts a.all strong").inner_text())
    assert f"Boxes 1 to 100 of {total}." in page.locator(".pager").inner_text()
    page.get_by_role("link", name="Next 100").click()
    assert "Boxes 101 to 200" in page.locator(".pager").inner_text()
    page.get_by_role("link", name="To the top").click()
    assert "Boxes 1 to 100" in page.locator(".pager").inner_text()


def test_counts_filter_the_list(ship, watched):
    page = watched.open(ship.base)
    for state in ["urgent", "act", "watch"]:
        count = int(page.locator(f".counts a.{state} strong").inner_text())
        page.locator(f".counts a.{state}").click()
        rows = page.locator("table.lines tbody tr")
        assert rows.count() == count
        assert page.locator(f"table.lines tbody tr.{state}").count() == count
        page.goto(ship.base)


def test_search_by_number_and_bay_without_script(ship, watched):
    page = watched.open(ship.base, java_script_enabled=False)
    number = first_box(page)
    page.get_by_label("Number holds").fill(number[4:10].lower())
    page.get_by_role("button", name="Find").click()
    assert first_box(page) == number
    page.goto(ship.base)
    page.get_by_label("Bay").fill("30")
    page.get_by_role("button", name="Find").click()
    cells = page.locator("table.lines .cell").all_inner_texts()
    assert cells and all(c.startswith("bay 030 ") for c in cells)
    page.get_by_label("Number holds").fill("no such number")
    page.get_by_role("button", name="Find").click()
    assert page.get_by_text("No box matches.").is_visible()


def test_old_figures_are_called_old(ship, watched):
    """The demo's readings lie in the past of this computer's clock."""
    page = watched.open(ship.base)
    shown = page.locator("#main time").first.get_attribute("datetime")
    as_of = datetime.fromisoformat(shown.replace("Z", "+00:00"))
    age = datetime.now(as_of.tzinfo) - as_of
    if age <= timedelta(hours=12):
        pytest.skip("this computer's clock stands within the demo's voyage")
    assert "Nothing has been read for" in page.get_by_role("alert").inner_text()


# Keyboard ---------------------------------------------------------------------------------


def tab_until(page, wanted, limit=400):
    """Presses Tab until the focused element fits."""
    for _ in range(limit):
        page.keyboard.press("Tab")
        if page.evaluate(f"(() => {{ const e = document.activeElement; return {wanted}; }})()"):
            return
    raise AssertionError(f"Tab never reached {wanted}")


@pytest.mark.parametrize("width", [360, 1280])
def test_a_group_of_pages_unfolds_within_the_screen_and_folds_again(ship, watched, width):
    page = watched.open(ship.base, width=width, height=740)
    for words, target in (("Workshop", "Vacuum"), ("Records", "Files")):
        group = page.locator("header details.group", has_text=words)
        group.locator("summary").click()
        for link in group.locator("a").all():
            box = link.bounding_box()
            assert 0 <= box["x"] and box["x"] + box["width"] <= width, link.inner_text()
            assert box["height"] >= 43.5
        page.keyboard.press("Escape")
        assert not group.locator("a").first.is_visible()
        assert page.evaluate("document.activeElement.localName") == "summary"
        group.locator("summary").click()
        page.mouse.click(3, 735)
        assert not group.locator("a").first.is_visible()
        group.locator("summary").click()
        group.get_by_role("link", name=target).click()
        page.wait_for_url(f"**/{target.lower()}")
        assert page.locator("header summary.inside").inner_text().endswith(f"{words}: {target}")


def test_the_groups_unfold_without_scripts(ship, watched):
    page = watched.open(ship.base, java_script_enabled=False)
    page.locator("header summary", has_text="Workshop").click()
    page.locator("header nav a", has_text="Gauges").click()
    page.wait_for_url("**/gauges")


def test_plan_to_box_by_keyboard_alone(ship, watched):
    page = watched.open(ship.base)
    tab_until(page, "e.matches('nav a[href=\"/plan\"]')")
    page.keyboard.press("Enter")
    page.wait_for_url("**/plan")
    tab_until(page, "e.closest('svg.profile') !== null && e.matches('a.bay')")
    page.keyboard.press("Enter")
    page.wait_for_url("**/plan?bay=*")
    tab_until(page, "e.matches('svg.section a.cell')")
    # WCAG 2.1, success criterion 2.4.7: the focus is visible.
    field = "document.activeElement.querySelector('.cell-field')"
    assert page.evaluate(f"getComputedStyle({field}).strokeWidth") == "4px"
    page.keyboard.press("Enter")
    page.wait_for_url("**/box/*")
    assert page.locator(".headline .state").is_visible()


def test_skip_link_comes_first(ship, watched):
    page = watched.open(ship.base)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"


# One box ----------------------------------------------------------------------------------


def open_box(ship, watched, **options):
    page = watched.open(ship.base, **options)
    page.goto(f"{ship.base}/box/{first_box(page)}?range=all")
    return page


def test_cautions_stand_before_what_to_do(ship, watched):
    page = open_box(ship, watched)
    text = page.locator(".headline").inner_text()
    assert "Before you touch it" in text and "Do first" in text
    assert text.index("Before you touch it") < text.index("Do first")


def chart_place(page):
    chart = page.locator("svg.chart.wide:not(.fan)")
    chart.evaluate("c => c.scrollIntoView({block: 'center'})")
    return chart.bounding_box()


def test_read_out_by_pointer_and_keys(ship, watched):
    page = open_box(ship, watched)
    box = chart_place(page)
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.3)
    out = page.locator(".read-out")
    until(page, "document.querySelector('.read-out').textContent.includes('UTC')")
    first = out.inner_text()
    assert "°C" in first
    page.locator("figure.history").focus()
    page.keyboard.press("ArrowLeft")
    until(page, "before => document.querySelector('.read-out').textContent !== before", arg=first)
    page.keyboard.press("End")
    page.wait_for_timeout(50)
    last = out.locator("strong").inner_text()
    # The last value read out is the last reading of the table.
    stamps = page.eval_on_selector_all(
        ".readings tbody th time", "all => all.map(t => t.getAttribute('datetime'))"
    )
    assert last == max(stamps).replace("T", " ")[:16] + " UTC"
    assert page.locator("svg.chart.wide:not(.fan) .cursor-line").count() == 1


def test_zoom_by_dragging_by_link_and_by_form(ship, watched):
    page = open_box(ship, watched)
    span = "[...document.querySelectorAll('svg.chart')].map(s => s.dataset.toMs - s.dataset.fromMs)[0]"
    whole = page.evaluate(span)
    box = chart_place(page)
    y = box["y"] + box["height"] * 0.3
    page.mouse.move(box["x"] + box["width"] * 0.3, y)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.4, y, steps=5)
    page.mouse.move(box["x"] + box["width"] * 0.5, y, steps=5)
    page.mouse.up()
    page.wait_for_url("**from=*")
    assert 0 < page.evaluate(span) < whole / 3
    page.get_by_role("link", name="24 hours").click()
    assert page.evaluate(span) == 24 * 3600 * 1000
    start = page.locator("#from").input_value()
    end = datetime.strptime(start, "%Y-%m-%d %H:%M") + timedelta(hours=6)
    page.locator("#to").fill(end.strftime("%Y-%m-%d %H:%M"))
    page.get_by_role("button", name="Show").click()
    page.wait_for_load_state("load")
    assert page.evaluate(span) == 6 * 3600 * 1000


def test_original_is_the_very_file(ship, watched):
    page = open_box(ship, watched)
    link = page.locator(".files-of-box a").first
    name = link.inner_text().split(",")[0]
    with urllib.request.urlopen(ship.base + link.get_attribute("href")) as answer:
        got = answer.read()
        assert answer.headers["Content-Disposition"].startswith("attachment")
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
    on_disk = [p for p in ship.folder.rglob(name) if "truth" not in p.parts]
    assert got in [p.read_bytes() for p in on_disk]


# Files ------------------------------------------------------------------------------------


def send(page, base, form, name, data, who="Second engineer"):
    page.goto(base + "/files")
    upload = page.locator(f"form[action='/files/{form}']")
    upload.locator("[type=file]").set_input_files(
        {"name": name, "mimeType": "text/csv", "buffer": data}
    )
    upload.get_by_label("Entered by").fill(who)
    upload.locator("button").click()
    page.wait_for_load_state("load")


def test_a_round_reaches_an_open_page_without_reloading(working_ship, watched):
    base = working_ship.base
    looking = watched.open(base, "/?state=ok")
    number = first_box(looking)
    as_of = looking.locator("#main time").first.get_attribute("datetime")
    later = datetime.fromisoformat(as_of.replace("Z", "+00:00")) + timedelta(hours=1)
    looking.goto(f"{base}/?unit={number}")
    looking.evaluate("window.notReloaded = true")
    looking.locator(f"#b-{number}").focus()
    assert "ok" in looking.locator("table.lines tbody tr").first.get_attribute("class")

    row = f"{later:%Y-%m-%d %H:%M},{number},25.0,0,round\n"
    sending = watched.open(base, "/files")
    header = "time_utc,unit,supply_c,on_power,source\n"
    send(sending, base, "take", "late-round.csv", (header + row).encode())
    assert sending.get_by_role("heading", name="Readings taken in").is_visible()

    until(looking, "!document.querySelector('table.lines tbody tr').className.includes('ok')")
    assert looking.evaluate("window.notReloaded") is True
    # Focus stays on the same box.
    assert looking.evaluate("document.activeElement.id") == f"b-{number}"
    assert "came in" in looking.locator("#note").inner_text()


def test_a_form_in_use_is_not_wiped(working_ship, watched):
    base = working_ship.base
    typing = watched.open(base, "/files")
    typing.locator("#lists-who").fill("Chief engi")
    sending = watched.open(base, "/files")
    number = first_box_of(sending, base)
    data = f"time_utc,unit,remark,return_c\n2026-03-04 03:33,{number},by hand,1.5\n"
    send(sending, base, "take", "one.csv", data.encode())
    until(typing, "document.getElementById('note').textContent.includes('came in')")
    assert typing.locator("#lists-who").input_value() == "Chief engi"


def first_box_of(page, base):
    page.goto(base + "/")
    return first_box(page)


def test_refused_rows_are_named_by_line(working_ship, watched):
    base = working_ship.base
    page = watched.open(base, "/files")
    number = first_box_of(page, base)
    data = (
        "time_utc,unit,supply_c,colour\n"
        f"2026-03-04 08:00,{number},-18.0,red\n"
        f"2026-02-30 08:00,{number},-18.0,red\n"
        f"2026-03-04 09:00,{number},-18C,red\n"
    )
    send(page, base, "take", "slips.csv", data.encode())
    text = page.locator("main").inner_text()
    assert "slips.csv line 3" in text and "slips.csv line 4" in text
    assert "colour" in text


def test_uploads_that_are_refused(working_ship, chromium):
    """Answers other than 2xx are logged by the browser, so the console is not watched here."""
    context = chromium.new_context()
    page = context.new_page()
    base = working_ship.base
    send(page, base, "load", "photo.jpg", bytes(range(256)) * 4)
    assert page.get_by_role("heading", name="Not taken").is_visible()
    assert "photo.jpg" in page.locator("main").inner_text()
    assert page.get_by_text("Nothing was stored.").first.is_visible()
    # The browser itself asks for the name.
    page.goto(base + "/files")
    upload = page.locator("form[action='/files/take']")
    upload.locator("[type=file]").set_input_files(
        {"name": "r.csv", "mimeType": "text/csv", "buffer": b"time_utc,unit\n"}
    )
    upload.locator("button").click()
    assert page.url == base + "/files"
    context.close()


def test_an_upload_over_the_limit_is_refused_before_it_is_sent(working_ship, watched, tmp_path):
    big = tmp_path / "big.csv"
    with big.open("wb") as f:
        f.truncate(65 * 1024 * 1024)
    page = watched.open(working_ship.base, "/files")
    form = page.locator("form[action='/files/take']")
    form.locator("[type=file]").set_input_files(big)
    form.get_by_label("Entered by").fill("Second engineer")
    form.locator("button").click()
    assert "at most 64 MB" in form.locator(".form-note").inner_text()
    assert page.url == working_ship.base + "/files"


def test_an_upload_over_the_limit_is_answered_without_script(working_ship, chromium, tmp_path):
    big = tmp_path / "big.csv"
    with big.open("wb") as f:
        f.truncate(65 * 1024 * 1024)
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(working_ship.base + "/files")
    form = page.locator("form[action='/files/take']")
    form.locator("[type=file]").set_input_files(big)
    form.get_by_label("Entered by").fill("Second engineer")
    form.locator("button").click()
    page.get_by_role("heading", name="Too much at once").wait_for(timeout=20000)
    context.close()


def test_a_silent_program_is_said_to_be_silent(tmp_path_factory, chromium):
    from conftest import Ship

    ship = Ship(tmp_path_factory.mktemp("silent"), 5, 1)
    ship.start()
    context = chromium.new_context()
    page = context.new_page()
    page.goto(ship.base)
    page.wait_for_timeout(500)
    ship.stop()
    until(page, "document.getElementById('note').textContent.includes('does not answer')", 20)
    context.close()


# Day, night, telephone, paper -------------------------------------------------------------


def test_day_and_night_by_keyboard(ship, watched):
    page = watched.open(ship.base, "/plan", color_scheme="light")
    paper = "getComputedStyle(document.body).backgroundColor"
    assert page.evaluate(paper) == "rgb(255, 255, 255)"
    tab_until(page, "e.value === 'night'")
    page.keyboard.press("Enter")
    until(page, "document.documentElement.dataset.theme === 'night'")
    page.wait_for_load_state("load")
    assert page.url == ship.base + "/plan"
    night = page.evaluate(paper)
    assert night != "rgb(255, 255, 255)"
    # It is kept from page to page, and goes before what the computer is set to.
    page.goto(ship.base + "/")
    assert page.evaluate(paper) == night
    page.get_by_role("button", name="Day").click()
    until(page, "document.documentElement.dataset.theme === 'day'")
    page.wait_for_load_state("load")
    page.emulate_media(color_scheme="dark")
    assert page.evaluate(paper) == "rgb(255, 255, 255)"
    page.get_by_role("button", name="Auto").click()
    until(page, "!document.documentElement.dataset.theme")
    page.wait_for_load_state("load")
    assert page.evaluate(paper) == night


# Contrast ratio after WCAG 2.1, definitions of "relative luminance" and "contrast ratio";
# 4.5:1 is success criterion 1.4.3.
CONTRAST = """() => {
  const parse = (c) => c.match(/[\\d.]+/g).map(Number);
  const lum = ([r, g, b]) => {
    const part = (v) => (v /= 255) <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
    return 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
  };
  const ground = (e) => {
    for (; e; e = e.parentElement) {
      const c = parse(getComputedStyle(e).backgroundColor);
      if (c.length < 4 || c[3] > 0) return c;
    }
    return [255, 255, 255];
  };
  const bad = [];
  let seen = 0;
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n = walker.nextNode(); n; n = walker.nextNode()) {
    const e = n.parentElement;
    if (!n.textContent.trim() || e.closest("script,noscript,title,.skip,option")) continue;
    const style = getComputedStyle(e);
    const ink = parse(e.closest("svg") ? style.fill : style.color);
    const [a, b] = [lum(ink), lum(ground(e))].sort((x, y) => y - x);
    const ratio = (a + 0.05) / (b + 0.05);
    seen += 1;
    if (ratio < 4.5) bad.push(`${ratio.toFixed(2)} ${e.className.baseVal ?? e.className} ${n.textContent.slice(0, 30)}`);
  }
  return { seen, bad: [...new Set(bad)] };
}"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out(ship, watched, scheme):
    page = watched.open(ship.base, color_scheme=scheme)
    for path in all_pages(page, ship.base):
        page.goto(ship.base + path)
        result = page.evaluate(CONTRAST)
        assert result["seen"] > 20, path
        assert result["bad"] == [], path


@pytest.mark.parametrize("size", [(360, 740), (768, 1024), (1440, 900)])
def test_no_page_scrolls_sideways(ship, watched, size):
    page = watched.open(ship.base, width=size[0], height=size[1])
    for path in all_pages(page, ship.base):
        page.goto(ship.base + path)
        width = page.evaluate("document.scrollingElement.scrollWidth")
        assert width <= size[0], f"{path} is {width} wide"


def test_targets_are_large_enough_for_gloves(ship, watched):
    """44 px: WCAG 2.1, success criterion 2.5.5 (its exception: links within a sentence)."""
    page = watched.open(ship.base, width=360, height=740)
    for path in all_pages(page, ship.base):
        page.goto(ship.base + path)
        small = page.evaluate(
            """() => [...document.querySelectorAll("button,input:not([type=hidden]),summary,.button,"
                 + "header nav a,.counts a,table.lines th a,.small-bays a,.bay-list a")]
               .map(e => [e, e.getBoundingClientRect()])
               .filter(([e, r]) => r.width > 0 && (r.height < 43.5 || r.width < 43.5))
               .map(([e, r]) => `${e.outerHTML.slice(0, 80)} ${r.width}x${r.height}`)"""
        )
        assert small == [], path


def test_paper_is_black_on_white(ship, watched):
    page = watched.open(ship.base, color_scheme="dark")
    for path in all_pages(page, ship.base):
        page.goto(ship.base + path)
        page.emulate_media(media="print")
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
        colours = page.evaluate(
            """() => [...new Set([...document.querySelectorAll("main *")]
                 .filter(e => e.getBoundingClientRect().width > 0)
                 .map(e => getComputedStyle(e).color))]"""
        )
        for c in colours:
            parts = [int(v) for v in re.findall(r"\d+", c)[:3]]
            assert max(parts) - min(parts) <= 2, (path, c)
        page.emulate_media(media="screen")


# Weight and speed -------------------------------------------------------------------------


def test_light_and_quick_with_two_thousand_boxes(large_ship, watched):
    base = large_ship.base
    page = watched.open(base)
    report = []
    for path in all_pages(page, base) + ["/?page=7", "/?state=ok"]:
        times, size = [], 0
        for _ in range(7):
            begun = time.perf_counter()
            with urllib.request.urlopen(base + path) as answer:
                size = len(answer.read())
            times.append((time.perf_counter() - begun) * 1000)
        report.append((path, size, statistics.median(times)))
    for path, size, ms in report:
        print(f"{path:40} {size / 1000:7.1f} kB {ms:6.1f} ms")
    # The log and the rounds read the journal through each time, a port's list the readings of
    # every box that goes ashore there; every other page is at hand.
    limit = {"/log": 400, "/rounds": 400}
    for path, size, ms in report:
        port = path.startswith("/handover/")
        assert size < (500_000 if port else 250_000), (path, size)
        assert ms < (2000 if port else limit.get(path, 100)), (path, ms)


# Pictures to look at ----------------------------------------------------------------------


@pytest.mark.parametrize("size", [("desk", 1440, 900), ("phone", 360, 740)])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pictures_for_the_eye(ship, watched, size, scheme):
    """Keeps a picture of each page in shots/; it fails only when a page does."""
    SHOTS.mkdir(exist_ok=True)
    name, width, height = size
    page = watched.open(ship.base, width=width, height=height, color_scheme=scheme)
    kinds = [path.strip("/").replace("/", "-") or "watch" for path in PAGES] + ["bay", "box", "box-all", "port"]
    for kind, path in zip(kinds, all_pages(page, ship.base)):
        page.goto(ship.base + path)
        page.screenshot(path=SHOTS / f"{kind}-{name}-{scheme}.png", full_page=True)
