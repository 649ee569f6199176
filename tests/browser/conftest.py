"""A demo ship behind the built program, and a browser that may talk to nothing else.

    cargo build --release
    python3 -m venv .venv && .venv/bin/pip install -r tests/browser/requirements.txt
    .venv/bin/pytest tests/browser

Set HOLDFAST_BIN to try another binary, CHROMIUM to name another browser.
"""

import os
import pathlib
import re
import subprocess

import pytest
from playwright.sync_api import sync_playwright

HERE = pathlib.Path(__file__).resolve().parent
REPO = HERE.parent.parent
BINARY = os.environ.get("HOLDFAST_BIN", str(REPO / "target" / "release" / "holdfast"))
CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
SHOTS = HERE / "shots"
ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


def signed(page, base, href):
    """A link on the page to a signed PDF, which comes when it is followed."""
    link = page.locator(f"a[href='{href}']")
    assert link.count() == 1 and link.is_visible(), href
    answer = page.request.get(base + href)
    assert answer.status == 200 and answer.headers["content-type"] == "application/pdf", href
    assert answer.body().startswith(b"%PDF-"), href


class Ship:
    """A demo voyage and the program serving it."""

    def __init__(self, folder, boxes, days):
        self.folder = pathlib.Path(folder)
        demo = [BINARY, "demo", "--dir", str(folder), "--boxes", str(boxes), "--days", str(days)]
        subprocess.run(demo + ["--no-serve"], check=True, stdout=subprocess.DEVNULL, timeout=300)
        self.voyage = self.folder / "demo.holdfast"
        self.process = None

    def start(self):
        command = [BINARY, "serve", "--voyage", str(self.voyage), "--listen", "127.0.0.1:0"]
        # Its signing key lies with it, not in the home of whoever runs the tests.
        env = os.environ | {"HOLDFAST_KEY": str(self.folder / "signing-key")}
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=env)
        line = self.process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:\d+", line)
        assert found, f"no address on the first line: {line!r}"
        self.base = found.group(0)

    def stop(self):
        if self.process:
            self.process.terminate()
            self.process.wait(timeout=10)
            self.process = None


def serving(folder, boxes, days):
    ship = Ship(folder, boxes, days)
    ship.start()
    try:
        yield ship
    finally:
        ship.stop()


@pytest.fixture(scope="session")
def ship(tmp_path_factory):
    """300 boxes, a week: nothing in it is changed by a test."""
    yield from serving(tmp_path_factory.mktemp("ship"), 300, 7)


@pytest.fixture(scope="session")
def working_ship(tmp_path_factory):
    """A small ship whose voyage the tests write into."""
    yield from serving(tmp_path_factory.mktemp("working"), 40, 2)


@pytest.fixture(scope="session")
def large_ship(tmp_path_factory):
    """2,000 boxes, three days."""
    yield from serving(tmp_path_factory.mktemp("large"), 2000, 3)


@pytest.fixture(scope="session")
def chromium():
    with sync_playwright() as p:
        browser = p.chromium.launch(executable_path=CHROMIUM, args=ARGS)
        yield browser
        browser.close()


class Watched:
    """Opens pages and keeps what went wrong in them."""

    def __init__(self, chromium):
        self.chromium = chromium
        self.contexts = []
        self.troubles = []

    def open(self, base, path="/", width=1440, height=900, **options):
        """A page of its own context. `base` is the only place it may talk to."""
        context = self.chromium.new_context(
            viewport={"width": width, "height": height}, **options
        )
        self.contexts.append(context)

        def gate(route):
            if route.request.url.startswith(base + "/"):
                route.continue_()
            else:
                self.troubles.append(f"request to {route.request.url}")
                route.abort()

        context.route("**/*", gate)
        page = context.new_page()
        self.watch(page)
        page.goto(base + path)
        return page

    def watch(self, page):
        def note(message):
            if message.type in ("error", "warning"):
                self.troubles.append(f"{page.url}: {message.type}: {message.text}")

        page.on("console", note)
        page.on("pageerror", lambda e: self.troubles.append(f"{page.url}: {e}"))

    def close(self):
        for context in self.contexts:
            context.close()


@pytest.fixture
def watched(chromium):
    """A browser in which any console error, policy violation or foreign request fails the test."""
    w = Watched(chromium)
    yield w
    w.close()
    assert w.troubles == []
