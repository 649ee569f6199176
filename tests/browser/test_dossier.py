"""The dossier of a container, made from its page."""

import subprocess

from conftest import BINARY, SHOTS


def first_box(page):
    return page.locator("a[href^='/box/']").first.get_attribute("href").split("?")[0].split("#")[0]


def test_a_dossier_comes_from_the_boxs_page(working_ship, watched, tmp_path):
    """PDF 32000-1:2008 §7.5.2: a file begins with %PDF-; then the program's own check of it."""
    page = watched.open(working_ship.base, "/")
    page.goto(working_ship.base + first_box(page))
    link = page.get_by_role("link", name="Make its dossier")
    with page.expect_download(timeout=60_000) as download:
        link.focus()
        page.keyboard.press("Enter")
    unit = page.locator("h1").first.inner_text()
    assert download.value.suggested_filename == f"dossier-{unit}.pdf"
    path = tmp_path / "d.pdf"
    download.value.save_as(path)
    assert path.read_bytes().startswith(b"%PDF-1.7")
    assert subprocess.run([BINARY, "verify", str(path)], stdout=subprocess.DEVNULL).returncode == 0
    changed = bytearray(path.read_bytes())
    changed[len(changed) // 2] ^= 1
    path.write_bytes(changed)
    assert subprocess.run([BINARY, "verify", str(path)], stdout=subprocess.DEVNULL).returncode == 3


def test_an_unknown_container_is_said_to_be_one(working_ship, watched):
    page = watched.open(working_ship.base, "/")
    answer = page.request.get(working_ship.base + "/dossier/QQQU9999999")
    assert answer.status == 404
    assert "stands on no list and was never read" in answer.text()


def test_the_button_is_big_enough_for_a_glove(working_ship, watched):
    """WCAG 2.2, success criterion 2.5.8 asks for 24 by 24 px; the house for 44."""
    for name, width, height in [("phone", 390, 844), ("desk", 1280, 800)]:
        page = watched.open(working_ship.base, "/", width=width, height=height)
        page.goto(working_ship.base + first_box(page))
        link = page.get_by_role("link", name="Make its dossier")
        link.scroll_into_view_if_needed()
        box = link.bounding_box()
        assert box["height"] >= 44 and box["x"] >= 0 and box["x"] + box["width"] <= width
        SHOTS.mkdir(exist_ok=True)
        page.screenshot(path=SHOTS / f"dossier-{name}.png")
