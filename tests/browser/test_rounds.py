"""Rounds: the sheet, and a round keyed in by keyboard alone.

How long it takes is counted in keystrokes, timed with published rates, and the program's own
answering time is measured and added.
"""

import csv
import json
import pathlib
import re
import subprocess
import time
from datetime import datetime, timedelta

import pytest

from conftest import BINARY, SHOTS, Ship
from test_pages import until

# Seconds a key. Card, Moran, Newell, "The keystroke-level model for user performance time with
# interactive systems", Communications of the ACM 23 (1980) 396-410: an average skilled typist
# 0.20, an average non-secretary typist 0.28. Figures copied from paper on the number pad: 8,000
# to 12,000 keys an hour are asked of clerks (recruiters' pages, secondary): 10,000 is 0.36. The
# claim is held to the first two; the third, and the slowest rate that keeps it, are printed.
RATES = [("skilled typist", 0.20), ("average typist", 0.28), ("10,000 keys an hour", 0.36)]
CLAIMED = 2
BOXES = 300
MINUTES = 15.0


@pytest.fixture
def round_ship(tmp_path):
    """A ship of its own, whose last round was not taken in."""
    ship = Ship(tmp_path, 40, 2)
    ship.start()
    yield ship
    ship.stop()


def begin(page, base, at="2026-03-05 20:00"):
    page.goto(base + "/rounds")
    page.fill("#walked_by", "J. Ruiz")
    page.fill("#at", at)
    page.fill("#weather", "NW 5, deck wet")
    page.press("#weather", "Enter")
    page.wait_for_selector("#round-form")


def next_round(ship):
    """Four hours after the latest reading: a round of its own."""
    told = subprocess.run(
        [BINARY, "watch", "--json", "--voyage", str(ship.voyage)], check=True, capture_output=True
    )
    at = datetime.fromisoformat(json.loads(told.stdout)["as_of_at"].replace("Z", "+00:00"))
    return (at + timedelta(hours=4)).strftime("%Y-%m-%d %H:%M")


def figure(page, unit, of):
    return page.locator(f'[name="{unit}.{of}"]')


def settled(page):
    """Whatever was asked of the program is answered."""
    page.wait_for_timeout(120)


def last_values(page):
    """unit -> {supply, return} as shown beside the fields."""
    return page.evaluate(
        """() => Object.fromEntries([...document.querySelectorAll('.key-row')].map((r) =>
          [r.dataset.unit, Object.fromEntries([...r.querySelectorAll('.figure')].map((f) =>
            [f.querySelector('input').dataset.of, f.querySelector('.last').textContent
              .replace('last ', '').replace('never read', '').replace('−', '-')]))]))"""
    )


def first_with(page, test):
    for unit, v in last_values(page).items():
        if v["supply"] and v["return"] and test(float(v["supply"]), float(v["return"])):
            return unit, float(v["supply"]), float(v["return"])
    raise AssertionError("no such box in the demo")


def into(page, unit, of="supply"):
    figure(page, unit, of).focus()
    figure(page, unit, of).select_text()


def question(page, unit):
    return page.locator(f'.key-row[data-unit="{unit}"] .question')


# A whole round ----------------------------------------------------------------------------


class Typist:
    """Presses keys, counts them, and never touches a mouse."""

    def __init__(self, page):
        self.page, self.keys = page, 0

    def press(self, key):
        self.page.keyboard.press(key)
        self.keys += 1

    def type(self, text):
        for c in text:
            self.press(c)


def short(text):
    """A figure with the fewest keys that mean the same; a whole number is ended with Enter."""
    if text.startswith(("0.", "-0.")) and text not in ("0.0", "-0.0"):
        return text.replace("0.", ".", 1)
    return text.removesuffix(".0")


MOVED = """(n) => document.activeElement.name !== n
  && !Number(document.getElementById('round-form').dataset.waiting ?? 0)"""
FOCUS = """() => { const a = document.activeElement, r = a.closest('.key-row');
  return { unit: r?.dataset.unit ?? '', of: a.dataset.of ?? '', id: a.id, type: a.type ?? '',
    time: a.matches('.time'), question: a.matches('.question') ? a.innerText : '' }; }"""


def test_a_round_of_300_boxes_is_keyed_in_under_15_minutes(tmp_path, watched):
    """The figures of the demo's own last round, keyed in as a person would from the sheet."""
    ship = Ship(tmp_path, 323, 4)  # some boxes of it are dry
    try:
        # The last round is kept back: it is what the sheet in the person's hand says.
        held = sorted((ship.folder / "rounds").glob("*.csv"))[-1]
        sheet = {r["unit"]: r for r in csv.DictReader(held.open(encoding="utf-8"))}
        ship.voyage.unlink()
        load = [str(p) for p in sorted((ship.folder / "lists").glob("*"))]
        take = [str(p) for p in sorted((ship.folder / "rounds").glob("*.csv")) if p != held]
        end = min(r["time_utc"] for r in sheet.values())
        for log in sorted((ship.folder / "loggers").glob("*.csv")):
            rows = log.read_text(encoding="utf-8").splitlines()
            at = rows[0].split(",").index("time_utc")
            kept = [rows[0]] + [r for r in rows[1:] if r.split(",")[at][:16].replace("T", " ") < end]
            log.write_text("\n".join(kept) + "\n", encoding="utf-8")
            if len(kept) > 1:
                take.append(str(log))
        for command, files in (("load", load), ("take", take)):
            subprocess.run([BINARY, command, *files, "--voyage", str(ship.voyage), "--who", "Mate"],
                           check=True, capture_output=True, timeout=120)
        ship.start()
        keyed_round(ship, watched, sheet, end)
    finally:
        watched.close()  # before the program: a page left alone would complain
        watched.contexts = []
        ship.stop()


def keyed_round(ship, watched, sheet, at):
    page = watched.open(ship.base, "/rounds")
    page.evaluate("addEventListener('pointerdown', () => { document.title = 'MOUSE'; }, true)")
    who = Typist(page)
    page.focus("#walked_by")
    who.type("J. Ruiz")
    who.press("Tab")
    page.keyboard.press("Control+a")
    who.type(at)
    who.press("Enter")
    page.wait_for_selector("#round-form")
    page.evaluate("addEventListener('pointerdown', () => { document.title = 'MOUSE'; }, true)")
    total = page.locator(".key-row").count()
    before, answers, asked, read = who.keys, [], [], set()
    began = time.monotonic()
    while True:
        f = page.evaluate(FOCUS)
        if f["id"] == "hand-in":
            break
        if f["question"]:
            # The figure stands on the sheet as it was keyed: the demo's truth.
            asked.append(f["question"].split("\n")[0])
            who.press("k")
            until(page, MOVED, arg="")
            until(page, "() => !document.activeElement.matches('.question')")
        elif f["time"]:
            first = page.evaluate(
                "() => document.activeElement.closest('form').querySelector('.key-row').dataset.unit"
            )
            who.type(sheet.get(first, {"time_utc": "x" * 11})["time_utc"][11:16].replace(":", ""))
            if first not in sheet:
                who.press("Enter")
        elif f["type"] == "checkbox":
            who.press("y")
        else:
            text = short(sheet.get(f["unit"], {}).get(f["of"] + "_c") or "")
            if text and f["of"] in ("supply", "return"):
                read.add(f["unit"])
            else:
                text = ""
            shown = page.evaluate("() => document.activeElement.name")
            who.type(text)
            begun = time.monotonic()
            if not re.search(r"\.\d$", text):
                who.press("Enter")
            until(page, MOVED, arg=shown)
            answers.append(time.monotonic() - begun)
    drill = time.monotonic() - began
    keys = who.keys - before
    who.press("Enter")
    page.wait_for_selector("#walked")
    assert page.title() != "MOUSE"
    per_box = keys / total
    machine = sum(answers)
    report = [f"{total} boxes, {keys} keys, {per_box:.2f} a box; {len(asked)} questions; the script "
              f"took {drill:.0f} s, moving on {1000 * machine / len(answers):.0f} ms a figure"]
    minutes = {}
    for name, seconds in RATES:
        minutes[name] = (BOXES * per_box * seconds + machine * BOXES / total) / 60
        report.append(f"  {name}, {seconds} s a key: {BOXES} boxes in {minutes[name]:.1f} min")
    slowest = (60 * MINUTES - machine * BOXES / total) / (BOXES * per_box)
    report.append(f"  under {MINUTES:.0f} min up to {slowest:.2f} s a key")
    print("\n".join(report))
    (SHOTS.mkdir(exist_ok=True), (SHOTS / "round-keyed.txt").write_text("\n".join(report) + "\n"))
    assert total >= 290 and len(read) >= 0.9 * total
    assert all(minutes[name] < MINUTES for name, _ in RATES[:CLAIMED]), report
    # Of true figures few are asked about.
    assert len(asked) <= 0.05 * 2 * len(read), asked
    # What was keyed is what is held now, figure for figure, with its source and time.
    unit = next(iter(read))
    told = subprocess.run([BINARY, "box", unit, "--json", "--voyage", str(ship.voyage)],
                          check=True, capture_output=True)
    held = [r for r in json.loads(told.stdout)["readings"] if r.get("source") == "round-J. Ruiz"]
    assert len(held) == 1 and held[0]["supply_c"] == float(sheet[unit]["supply_c"])
    assert held[0]["on_power"] is True
    assert f"{len(read)} boxes" in page.locator(".log-lines li").first.inner_text()


# Questions --------------------------------------------------------------------------------


def open_round(ship, watched, **size):
    page = watched.open(ship.base, "/rounds", **size)
    begin(page, ship.base, next_round(ship))
    return page


def test_every_slip_is_questioned_at_once_and_answered_by_one_key(round_ship, watched):
    page = open_round(round_ship, watched)
    fruit, supply, back = first_with(page, lambda s, r: 10 < s < 20 and r - s > 0.6)
    frozen, cold, _ = first_with(page, lambda s, r: s < -14)
    slips = [
        (frozen, f"{-cold:.1f}", "minus missing", f"{cold:.1f}"),
        (fruit, f"{supply * 1.8 + 32:.1f}", "°F", None),
        (fruit, f"{supply:.1f}".replace(".", ""), "point", f"{supply:.1f}"),
    ]
    for unit, text, words, becomes in slips:
        into(page, unit)
        page.keyboard.type(text)
        if "." not in text:
            page.keyboard.press("Enter")
        q = question(page, unit)
        q.wait_for()
        until(page, "() => document.activeElement.matches('.question')")
        assert words in q.inner_text(), q.inner_text()
        page.keyboard.press("c")
        until(page, f"() => !document.querySelector('.key-row[data-unit=\"{unit}\"] .question')")
        now = figure(page, unit, "supply").input_value()
        assert now == becomes if becomes else abs(float(now) - supply) < 0.11
        # On to the next field.
        until(page, "(n) => document.activeElement.name === n", arg=f"{unit}.return")
    # Supply and return in each other's place.
    into(page, fruit)
    page.keyboard.type(f"{back:.1f}")
    settled(page)
    if question(page, fruit).count():
        page.keyboard.press("k")
        until(page, "(n) => document.activeElement.name === n", arg=f"{fruit}.return")
    page.keyboard.type(f"{supply:.1f}")
    question(page, fruit).wait_for()
    assert "exchanged" in question(page, fruit).inner_text()
    page.keyboard.press("c")
    until(page, f"() => !document.querySelector('.key-row[data-unit=\"{fruit}\"] .question')")
    assert figure(page, fruit, "supply").input_value() == f"{supply:.1f}"
    assert figure(page, fruit, "return").input_value() == f"{back:.1f}"
    # Far off and kept: it is taken in with the question beside it.
    into(page, fruit)
    page.keyboard.type("29.9")
    question(page, fruit).wait_for()
    assert "Look at the sheet again" in question(page, fruit).inner_text()
    page.keyboard.press("k")
    until(page, f"() => !document.querySelector('.key-row[data-unit=\"{fruit}\"] .question')")
    page.focus("#hand-in")
    page.keyboard.press("Enter")
    page.wait_for_selector("#walked")
    told = subprocess.run([BINARY, "box", fruit, "--json", "--voyage", str(round_ship.voyage)],
                          check=True, capture_output=True)
    held = [r for r in json.loads(told.stdout)["readings"] if r.get("source") == "round-J. Ruiz"]
    assert held[-1]["supply_c"] == 29.9 and "kept as written" in held[-1]["remark"]


def test_digits_return_to_the_field_and_words_are_refused(round_ship, watched):
    page = open_round(round_ship, watched)
    unit, cold, _ = first_with(page, lambda s, r: s < -14)
    into(page, unit)
    page.keyboard.type(f"{-cold:.1f}")
    question(page, unit).wait_for()
    until(page, "() => document.activeElement.matches('.question')")
    page.keyboard.type(f"{cold:.1f}")
    until(page, f"() => !document.querySelector('.key-row[data-unit=\"{unit}\"] .question')")
    assert figure(page, unit, "supply").input_value() == f"{cold:.1f}"
    # A text that is no figure is refused beside its field and stays to be seen.
    field = figure(page, unit, "return")
    field.fill("--18")
    field.press("Enter")
    row = page.locator(f'.key-row[data-unit="{unit}"]')
    until(page, "() => document.querySelector('.key-row [aria-invalid]')")
    assert "is not a plain decimal number" in row.inner_text()
    assert field.input_value() == "--18"
    # The minus of a printed page and a decimal comma are read.
    field.fill(f"\u2212{abs(cold):.1f}".replace(".", ","))
    field.press("Enter")
    until(page, "() => !document.querySelector('.key-row [aria-invalid]')")


def test_no_last_value_can_be_taken_over(ship, watched):
    page = watched.open(ship.base, "/rounds")
    begin_free = page.locator("form#begin")
    assert begin_free.count() == 1
    assert "as last" not in page.content().lower()


def test_a_half_keyed_round_survives_browser_and_computer(round_ship, watched):
    page = open_round(round_ship, watched)
    unit, supply, back = first_with(page, lambda s, r: 10 < s < 20)
    into(page, unit)
    page.keyboard.type(f"{supply:.1f}")
    page.keyboard.type(f"{back:.1f}")
    address = page.url
    page.close(run_before_unload=True)  # the browser is closed in the middle of a bay
    time.sleep(1.0)
    round_ship.process.kill()  # and the computer with it
    round_ship.process.wait()
    round_ship.start()
    page = watched.open(round_ship.base, "/rounds")
    assert "Half keyed in" in page.locator("main").inner_text()
    page.get_by_role("link", name="Go on keying in").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("#round-form")
    assert page.url.endswith(address.split("/")[-1])
    assert figure(page, unit, "supply").input_value() == f"{supply:.1f}"
    assert figure(page, unit, "return").input_value() == f"{back:.1f}"


def test_marks_by_one_letter(round_ship, watched):
    page = open_round(round_ship, watched)
    unit, _, _ = first_with(page, lambda s, r: True)
    into(page, unit)
    page.keyboard.press("o")
    assert figure(page, unit, "power").input_value() == "off"
    page.keyboard.press("d")
    assert figure(page, unit, "defrost").is_checked()
    page.keyboard.press("a")
    page.keyboard.type("return sensor")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.name") == f"{unit}.supply"
    assert figure(page, unit, "supply").input_value() == ""
    page.focus("#hand-in")
    page.keyboard.press("Enter")
    page.wait_for_selector("#walked")
    told = subprocess.run([BINARY, "box", unit, "--json", "--voyage", str(round_ship.voyage)],
                          check=True, capture_output=True)
    held = json.loads(told.stdout)["readings"][-1]
    assert (held["on_power"], held["alarm"], held["mode"]) == (False, "return sensor", "defrost")
    assert held["supply_c"] is None


# Without script, and on a phone ------------------------------------------------------------


def test_it_works_without_script_a_bay_at_a_time(round_ship, watched):
    page = watched.open(round_ship.base, "/rounds", java_script_enabled=False)
    page.fill("#walked_by", "A. Silva")
    page.fill("#at", next_round(round_ship))
    page.get_by_role("button", name="Begin").click()
    form = page.locator(".round-part").first
    rows = form.locator(".key-row")
    unit = rows.first.get_attribute("data-unit")
    figure(page, unit, "supply").fill("181")
    form.locator("[name=time]").fill("2500")
    form.locator("button.save").click()
    # The form comes back with what is wrong and the question beside its line.
    assert "is no time of day" in page.locator(".time-error").first.inner_text()
    assert figure(page, unit, "supply").input_value() == "181"
    q = question(page, unit)
    assert q.count() == 1
    page.locator(".round-part").first.locator("[name=time]").fill("")
    q.locator("button").last.click()
    assert question(page, unit).count() == 0
    page.locator("#hand-in").click()
    assert page.locator("#walked").count() == 1
    assert "1 box read by A. Silva" in page.locator(".log-lines").inner_text()


def test_open_questions_stop_the_hand_in(round_ship, watched):
    page = watched.open(round_ship.base, "/rounds", java_script_enabled=False)
    page.fill("#walked_by", "A. Silva")
    page.fill("#at", next_round(round_ship))
    page.get_by_role("button", name="Begin").click()
    page.locator("#hand-in").click()
    assert "nothing is keyed in yet" in page.locator("main").inner_text()
    page.go_back()
    unit = page.locator(".key-row").first.get_attribute("data-unit")
    figure(page, unit, "supply").fill("181")
    page.locator("button.save").first.click()
    page.locator("#hand-in").click()
    assert f"questions are still open about {unit}" in page.locator("main").inner_text()
    # Both refusals are answered with 422, which the browser notes, once it has shown the page.
    page.wait_for_load_state("load")
    watched.troubles = [t for t in watched.troubles if "422" not in t]


@pytest.mark.parametrize("size", [("desk", 1280, 800), ("phone", 390, 844)])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pictures_and_fit(round_ship, watched, size, scheme):
    name, width, height = size
    page = open_round(round_ship, watched, width=width, height=height, color_scheme=scheme)
    unit, cold, _ = first_with(page, lambda s, r: s < -14)
    into(page, unit)
    page.keyboard.type(f"{-cold:.1f}")
    question(page, unit).wait_for()
    until(page, "() => document.activeElement.matches('.question')")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    small = page.evaluate(
        "() => [...document.querySelectorAll('.figure-in, button.save')].filter((e) =>"
        " e.getBoundingClientRect().height < 44).length"
    )
    assert small == 0
    SHOTS.mkdir(exist_ok=True)
    page.screenshot(path=SHOTS / f"round-key-{name}-{scheme}.png")
    page.goto(round_ship.base + "/rounds")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.screenshot(path=SHOTS / f"rounds-{name}-{scheme}.png", full_page=True)


# The sheet ---------------------------------------------------------------------------------


def test_the_sheet_comes_as_a_pdf(round_ship, watched):
    page = watched.open(round_ship.base, "/rounds")
    page.focus("#bays")
    with page.expect_download() as download:
        page.keyboard.press("Enter")
    data = pathlib.Path(download.value.path()).read_bytes()
    assert data.startswith(b"%PDF-1.7")
