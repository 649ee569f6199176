// Renews a page's content when something new came in. Focus, scrolling and what a person is
// typing stay as they are.

const note = document.getElementById("note");
const main = () => document.getElementById("main");
let busy = false;
let again = false;

document.documentElement.classList.add("scripted");

/** The newest journal entry this page shows. */
const shown = () => Number(main().dataset.entry);

/** True while a person has put something into a form that a renewal would wipe out. */
function inUse() {
  for (const field of main().querySelectorAll("input:not([type=hidden])")) {
    if (field.type === "file" ? field.files.length > 0 : field.value !== field.defaultValue) {
      return true;
    }
  }
  return false;
}

function say(text, lost) {
  note.textContent = text;
  note.classList.toggle("lost", Boolean(lost));
}

/** A way to find the focused element again in the new content. */
function focusMark() {
  const at = document.activeElement;
  if (!at || !main().contains(at)) return null;
  if (at.id) return `#${CSS.escape(at.id)}`;
  const href = at.getAttribute("href");
  if (href) return `a[href="${CSS.escape(href)}"]`;
  return at.classList.length ? `${at.localName}.${CSS.escape(at.classList[0])}` : null;
}

async function renew() {
  if (busy) { again = true; return; }
  busy = true;
  try {
    do {
      again = false;
      const answer = await fetch(location.href, { cache: "no-store" });
      if (!answer.ok) throw new Error(String(answer.status));
      const next = new DOMParser().parseFromString(await answer.text(), "text/html");
      swap(next.getElementById("main"));
      const ship = next.querySelector(".ship");
      if (ship) document.querySelector(".ship").textContent = ship.textContent;
    } while (again);
  } catch {
    say("Something new came in, but this page could not be renewed. Reload it.", true);
  } finally {
    busy = false;
  }
}

function swap(next) {
  const mark = focusMark();
  const open = [...main().querySelectorAll("details")].map((d) => d.open);
  const across = [...main().querySelectorAll(".scroll")].map((s) => s.scrollLeft);
  const old = main();
  old.replaceChildren(...document.adoptNode(next).childNodes);
  old.dataset.entry = next.dataset.entry;
  old.querySelectorAll("details").forEach((d, i) => { d.open = Boolean(open[i]); });
  old.querySelectorAll(".scroll").forEach((s, i) => { s.scrollLeft = across[i] || 0; });
  if (mark) old.querySelector(mark)?.focus({ preventScroll: true });
  old.classList.remove("renewed");
  void old.offsetWidth;
  old.classList.add("renewed");
  document.dispatchEvent(new Event("renewed"));
}

function heard(entry) {
  if (entry === shown()) return;
  if (main().dataset.live !== "yes") return;
  if (inUse()) {
    say(`Entry ${entry} came in. This page is renewed when the form is sent or cleared.`);
    return;
  }
  renew().then(() => {
    if (shown() === entry) say(`Renewed: entry ${entry} came in.`);
  });
}

let line = null;
let lostSince = 0;

function listen() {
  if (line) return;
  line = new EventSource("/events");
  line.addEventListener("changed", (event) => {
    if (lostSince) say("");
    lostSince = 0;
    heard(JSON.parse(event.data).entry);
  });
  line.addEventListener("error", () => {
    if (!lostSince) lostSince = Date.now();
    const at = new Date(lostSince).toISOString().slice(11, 16);
    setTimeout(() => {
      if (lostSince && line) {
        say(`The program does not answer since ${at} UTC. What stands here may be old.`, true);
      }
    }, 6000);
    if (line?.readyState === EventSource.CLOSED) {
      hush();
      setTimeout(listen, 5000);
    }
  });
}

function hush() {
  line?.close();
  line = null;
}

/** A browser keeps six lines open to one program: pages out of sight give theirs up after a
 *  minute, and hear what they missed when they are looked at again. */
function listenWhileSeen() {
  let out = 0;
  addEventListener("pageshow", listen);
  addEventListener("pagehide", hush);
  document.addEventListener("visibilitychange", () => {
    clearTimeout(out);
    if (document.hidden) out = setTimeout(hush, 60000);
    else listen();
  });
}

/** Size is checked before a long wait, and the wait is named. */
function guardForms() {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches(".upload") || !form.elements.files) return;
    const limit = Number(form.dataset.limitMb);
    const bytes = [...form.querySelector("[type=file]").files].reduce((n, f) => n + f.size, 0);
    const place = form.querySelector(".form-note");
    if (bytes > limit * 1048576) {
      event.preventDefault();
      const mb = (bytes / 1048576).toFixed(1);
      place.textContent =
        `These files have ${mb} MB; at most ${limit} MB are taken at a time. Choose fewer.`;
      return;
    }
    place.textContent = "Being read. Leave this page open.";
    setTimeout(() => { form.querySelector("button").disabled = true; }, 0);
  });
  // Coming back with the browser's button finds the form ready again.
  addEventListener("pageshow", () => {
    for (const b of document.querySelectorAll(".upload button")) b.disabled = false;
    for (const p of document.querySelectorAll(".form-note")) p.textContent = "";
  });
}

guardForms();
listenWhileSeen();
// Ages are counted by the clock: renewed now and then even when nothing comes in.
setInterval(() => {
  if (main().dataset.live === "yes" && !inUse() && !document.hidden) renew();
}, 300000);
