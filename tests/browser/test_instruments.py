"""The register, ice-point checks worked out as they are keyed, charts, the list for a port."""

import json
import re
import subprocess
import time
import urllib.request

from conftest import BINARY
from test_pages import first_box_of, until
from test_vacuum import begin

WHO = "J. Ruiz, electrician"


def told(ship, *args):
    command = [BINARY, *args, "--json", "--voyage", str(ship.voyage)]
    return json.loads(subprocess.run(command, check=True, capture_output=True).stdout)


def enter_instrument(page, base, ident, kind, **more):
    page.goto(base + "/instruments")
    form = page.locator("#state")
    if not form.evaluate("d => d.open"):
        form.locator("summary").click()
    form.locator("input[name=id]").fill(ident)
    form.locator("select[name=kind]").select_option(kind)
    for name, text in more.items():
        form.locator(f"input[name={name}]").fill(text)
    form.locator("input[name=who]").fill(WHO)
    form.locator("button[type=submit]").click()


def test_readings_in_ice_are_worked_out_as_they_are_keyed(working_ship, watched):
    page = watched.open(working_ship.base)
    enter_instrument(page, working_ship.base, "th-1", "thermometer", serial="5512")
    assert "TH-1" in page.locator("ul.entries").first.inner_text()
    page.locator("#ice-of").select_option("TH-1")
    field = page.locator("#ice-readings")
    field.focus()
    page.keyboard.type("0,1 0.1 0.0 0.1")
    # The correction of contract 3: ice point less mean, here −0.075 K.
    until(page, "() => document.getElementById('ice-told').innerText.includes('4 readings')")
    text = page.locator("#ice-told").inner_text()
    assert "mean 0.075 °C" in text and "−0.0" in text and "90 %" in text
    field.fill("-1.8 -1.8 -1.8 -1.8")
    until(page, "() => document.getElementById('ice-told').innerText.includes('salt')")
    field.fill("0.1 x")
    until(page, "() => document.getElementById('ice-told').innerText.includes('Not a reading')")
    field.fill("0.1 0.1 0.0 0.1")
    page.locator("#ice-who").fill(WHO)
    page.keyboard.press("Enter")
    page.wait_for_url("**/instruments#checked")
    line = page.locator("#i-TH-1").inner_text()
    assert "correction" in line and WHO in line
    held = told(working_ship, "instrument", "list", "TH-1")["instruments"][0]
    assert held["checks"][0]["readings"] == ["0.1", "0.1", "0.0", "0.1"]


def test_worked_out_without_script_and_nothing_stored(working_ship, watched):
    page = watched.open(working_ship.base, java_script_enabled=False)
    page.goto(working_ship.base + "/instruments")
    before = len(told(working_ship, "log")["lines"])
    page.locator("#ice-readings").fill("32.2 32.0")
    page.locator("#ice-unit").select_option("f")
    page.locator("button", has_text="store nothing").click()
    assert "mean 0.056 °C" in page.locator("#ice-told").inner_text()
    assert page.locator("#ice-readings").input_value() == "32.2 32.0"
    assert len(told(working_ship, "log")["lines"]) == before


def test_a_certificate_its_scan_and_what_is_overdue(working_ship, watched, tmp_path):
    page = watched.open(working_ship.base)
    scan = tmp_path / "vg.pdf"
    scan.write_bytes(b"%PDF-1.4 a made-up scan")
    page.goto(working_ship.base + "/instruments")
    page.locator("#in-scan").set_input_files(str(scan))
    form = page.locator("#state")
    form.locator("summary").click()
    form.locator("input[name=id]").fill("VG-1")
    form.locator("select[name=kind]").select_option("vacuum_gauge")
    form.locator("input[name=dated]").fill("2020-01-10")
    form.locator("input[name=every_months]").fill("12")
    form.locator("input[name=who]").fill(WHO)
    form.locator("button[type=submit]").click()
    line = page.locator("#i-VG-1")
    assert "OVERDUE since 2021-01-10" in line.inner_text()
    with page.expect_download() as download:
        line.locator("a", has_text="vg.pdf").click()
    assert download.value.path().read_bytes() == scan.read_bytes()
    line.locator("a.button").click()
    form = page.locator("#state")
    assert form.locator("input[name=every_months]").input_value() == "12"
    form.locator("input[name=dated]").fill("2026-02-01")
    form.locator("input[name=who]").fill(WHO)
    form.locator("button[type=submit]").click()
    assert "2027-02-01" in page.locator("#i-VG-1").inner_text()


def test_a_chart_on_and_off_and_the_list_of_its_port(working_ship, watched, tmp_path):
    page = watched.open(working_ship.base)
    unit = first_box_of(page, working_ship.base)
    page.goto(working_ship.base + "/charts")
    form = page.locator("form[action='/charts/on']")
    form.locator("input[name=box]").fill(unit)
    form.locator("input[name=at]").fill("2026-03-03 08:00")
    form.locator("input[name=days]").fill("31")
    form.locator("input[name=who]").fill(WHO)
    form.locator("button[type=submit]").click()
    assert unit in page.locator("ul.entries").first.inner_text()
    port = told(working_ship, "box", unit)["discharge_port"]
    page.goto(working_ship.base + "/handover/" + port)
    assert f"{unit}: the chart of 2026-03-03 08:00 UTC is still on" in page.locator(
        "ul.tick"
    ).inner_text()
    assert page.locator("p.must").count() >= 10
    page.goto(working_ship.base + "/charts")
    form = page.locator("form[action='/charts/off']")
    form.locator("input[name=box]").fill(unit)
    form.locator("input[name=kept]").fill("folder 2 <b>")
    scan = tmp_path / "chart.png"
    scan.write_bytes(b"a made-up scan")
    form.locator("input[name=scan]").set_input_files(str(scan))
    form.locator("input[name=who]").fill(WHO)
    form.locator("button[type=submit]").click()
    assert "folder 2 <b>" in page.locator("ul.entries").first.inner_text()
    page.goto(working_ship.base + "/handover/" + port)
    assert "still on" not in page.locator("main").inner_text()
    assert "folder 2 <b>" in page.locator("main").inner_text()
    pdf = urllib.request.urlopen(f"{working_ship.base}/handover/{port}/list.pdf").read()
    assert pdf.startswith(b"%PDF-1.7") and re.search(rb"holdfast-seal:[0-9a-f]{256}", pdf)
    out = tmp_path / "list.pdf"
    out.write_bytes(pdf)
    command = [BINARY, "verify", str(out), "--json"]
    answer = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
    assert answer["intact"] is True


def test_a_slip_is_refused_and_said(working_ship, chromium):
    context = chromium.new_context()
    page = context.new_page()
    enter_instrument(page, working_ship.base, "GAUGE", "other")
    assert "cannot be an id" in page.locator("main").inner_text()
    answer = page.goto(working_ship.base + "/handover/XXXXX")
    assert answer.status == 404
    context.close()


def test_what_is_wrong_is_told_where_the_instrument_is_used(working_ship, watched):
    told(working_ship, "instrument", "add", "VG-7", "--kind", "vacuum_gauge", "--dated",
         "2024-01-10", "--due", "2025-01-10", "--who", WHO)
    told(working_ship, "instrument", "add", "TH-7", "--kind", "thermometer", "--who", WHO)
    for at, read in (("2026-01-01T08:00Z", "0.0"), ("2026-03-01T08:00Z", "0.4")):
        told(working_ship, "instrument", "check", "TH-7", "--at", at, *["--reading", read] * 4)
    page = watched.open(working_ship.base, "/gauges")
    # The page takes over what the command wrote within a look.
    for _ in range(40):
        if "TH-7: DRIFTED" in page.locator("#main").inner_text():
            break
        time.sleep(0.25)
        page.goto(working_ship.base + "/gauges")
    text = page.locator(".caution[aria-label=Instruments]").inner_text()
    assert "TH-7: DRIFTED" in text and "0.40 K warmer" in text and "VG-7" not in text
    page.goto(working_ship.base + "/vacuum")
    text = page.locator(".caution[aria-label=Instruments]").inner_text()
    assert "VG-7: certificate OUT OF DATE, due 2025-01-10" in text and "TH-7" not in text
    url = begin(working_ship.base, 5, gauge="electronic gauge VG-7")
    page.goto(url)
    assert "VG-7" in page.locator(".caution[aria-label=Instruments]").inner_text()
    page.goto(begin(working_ship.base, 5, gauge="electronic gauge no. 4"))
    assert page.locator(".caution[aria-label=Instruments]").count() == 0
