"""Messages to shore, notes and the log: what a person writes down, sends and looks up."""

import gzip
import json
import re
import subprocess
import urllib.request

from conftest import BINARY
from test_pages import first_box_of

WHO = "J. Ruiz, electrician"


def log(ship, *more):
    command = [BINARY, "log", "--json", "--voyage", str(ship.voyage), *more]
    return json.loads(subprocess.run(command, check=True, capture_output=True).stdout)["lines"]


def write_down(page, kind, text, at):
    form = page.locator("details.write-down", has_text="what was seen or done")
    if not form.evaluate("d => d.open"):
        form.locator("summary").click()
    form.locator("select[name=kind]").select_option(kind)
    form.locator("input[name=at]").fill(at)
    form.locator("input[name=text]").fill(text)
    form.locator("input[name=who]").fill(WHO)
    form.locator("button[type=submit]").click()


def test_what_was_seen_and_done_stands_on_the_box_and_in_the_log(working_ship, watched):
    page = watched.open(working_ship.base)
    unit = first_box_of(page, working_ship.base)
    page.goto(working_ship.base + "/box/" + unit)
    write_down(page, "noticed", "ice on the coil <b>", "2026-03-03 08:12")
    notes = page.locator("#written ~ ol.log-lines").first
    assert "ice on the coil <b>" in notes.inner_text()
    assert "late" in notes.inner_text().lower()
    write_down(page, "done", "defrosted by hand", "2026-03-03 08:30")
    page.goto(working_ship.base + "/log?unit=" + unit + "&search=defrosted")
    lines = page.locator("ol.log-lines li")
    assert lines.count() == 1 and WHO in lines.first.inner_text()
    kinds = [l["kind"] for l in log(working_ship, "--unit", unit)]
    assert "noticed" in kinds and "done" in kinds


def test_a_slip_is_refused_and_nothing_is_entered(working_ship, chromium):
    context = chromium.new_context()
    page = context.new_page()
    before = len(log(working_ship))
    page.goto(working_ship.base + "/log")
    write_down(page, "remark", "from the future", "2099-01-01 00:00")
    assert "ahead of this computer" in page.locator("main").inner_text()
    assert len(log(working_ship)) == before
    context.close()


def test_a_missed_round_with_its_weather(working_ship, watched):
    page = watched.open(working_ship.base)
    page.goto(working_ship.base + "/log")
    form = page.locator("details.write-down", has_text="could not be walked")
    form.locator("summary").click()
    for name, text in [
        ("from", "2026-03-03 20:00"),
        ("to", "2026-03-04 04:00"),
        ("why", "deck closed"),
        ("wind", "NW 9"),
        ("sea", "6 m"),
        ("who", WHO),
    ]:
        form.locator(f"input[name={name}]").fill(text)
    form.locator("button[type=submit]").click()
    assert "deck closed; wind NW 9; sea 6 m" in page.locator("ol.log-lines").inner_text()


def test_a_message_is_seen_entered_and_fetched(working_ship, watched):
    page = watched.open(working_ship.base)
    page.goto(working_ship.base + "/report")
    text = page.locator("pre.message").inner_text()
    number = int(re.search(r"REPORT NO (\d+)", text).group(1))
    assert len(text) <= 4000 and text.isascii()
    assert max(len(line) for line in text.splitlines()) <= 76
    page.locator("form[action='/report/send'] input[name=who]").fill(WHO)
    page.locator("form[action='/report/send'] button").click()
    sent = page.locator("#sent ~ ul.kept li").first.inner_text()
    assert f"No. {number}, twice-daily" in sent and WHO in sent
    kept = urllib.request.urlopen(f"{working_ship.base}/report/{number}.txt").read().decode()
    root = re.search(r"ROOT ([0-9a-f]{64})@(\d+)", kept)
    table = urllib.request.urlopen(f"{working_ship.base}/report/{number}.csv.gz").read()
    assert len(table) <= 25_000
    assert gzip.decompress(table).decode().startswith("unit,stow,port,cargo,state,")
    # The root that left the ship is one the voyage file continues.
    held = f"{root.group(1)}@{root.group(2)}"
    command = [BINARY, "verify", str(working_ship.voyage), "--against", held, "--json"]
    told = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
    assert told["intact"] and told["continues"]
    page.goto(working_ship.base + "/report?kind=twice-daily&delta=yes")
    assert f"CHANGES SINCE NO {number}" in page.locator("pre.message").inner_text()


def test_the_log_as_a_file(ship):
    answer = urllib.request.urlopen(ship.base + "/log?as=csv")
    assert answer.headers["content-type"].startswith("text/csv")
    text = answer.read().decode()
    assert text.startswith("entry,happened_utc,entered_utc,late_h,who,kind,words,files,sha256\r\n")
    assert len(text.splitlines()) >= 3
