// A hold as it goes on: a reading is sent as it is keyed and the field is ready for the next one;
// a clock counts since the valve was closed; the end of the watch is heard.

const FIELD = "reading";
const hold = () => document.querySelector("[data-hold]");
const drafts = new Map();
let audio = null;
let rung = null;
let sentLast = Promise.resolve();

/** Sound may start only after a person has touched the page. */
function wake() {
  if (!hold()) return;
  audio ??= new AudioContext();
  if (audio.state === "suspended") audio.resume().then(showSound, () => {});
  showSound();
}

function showSound() {
  const on = audio?.state === "running";
  const place = document.getElementById("sound");
  if (!place) return;
  place.dataset.on = on ? "yes" : "no";
  place.textContent = on
    ? "Sound on: a tone is played at the end of the watch."
    : "Sound off: press any key or touch the page, and it is on.";
}

function tone(notes) {
  if (audio?.state !== "running") return;
  let at = audio.currentTime + 0.02;
  for (const [hertz, seconds] of notes) {
    const source = audio.createOscillator();
    const loud = audio.createGain();
    source.frequency.value = hertz;
    // Soft edges: a hard one clicks.
    loud.gain.setValueAtTime(0, at);
    loud.gain.linearRampToValueAtTime(0.4, at + 0.02);
    loud.gain.setValueAtTime(0.4, at + seconds - 0.05);
    loud.gain.linearRampToValueAtTime(0, at + seconds);
    source.connect(loud).connect(audio.destination);
    source.start(at);
    source.stop(at + seconds);
    at += seconds + 0.08;
  }
}

const END = [[880, 0.35], [660, 0.35], [880, 0.35], [660, 0.35], [880, 0.7]];

/** Rings once for each change into an end of the watch. */
function ring() {
  const at = hold();
  if (!at) return;
  const banner = document.getElementById("watch-end");
  const word = banner ? at.dataset.watch : "";
  if (rung !== null && word && word !== rung) {
    tone(END);
    document.documentElement.dataset.rung = word;
  }
  rung = word;
  const plain = document.title.replace(/^● End of the watch: /, "");
  document.title = word ? `● End of the watch: ${plain}` : plain;
}

/** The clock since the valve was closed, by this computer's own time. */
function tick() {
  const place = document.getElementById("hold-clock");
  if (!place) return;
  const text = (s) => {
    const h = Math.floor(s / 3600);
    const m = String(Math.floor(s / 60) % 60).padStart(h ? 2 : 1, "0");
    return `${h ? `${h}:` : ""}${m}:${String(s % 60).padStart(2, "0")}`;
  };
  const now = Date.now();
  const since = Math.max(0, Math.floor((now - Number(place.dataset.begunMs)) / 1000));
  place.querySelector(".since").textContent = text(since);
  const due = Number(place.dataset.lastMs) + 60000 - now;
  const next = place.querySelector(".due-next");
  next.textContent = due > 0
    ? `next reading due in ${text(Math.ceil(due / 1000))}`
    : "next reading is due now";
  next.classList.toggle("due", due <= 0);
}

function complain(text) {
  const place = document.getElementById("reading-error");
  if (place) place.textContent = text;
}

/** Takes over a page's content; what is being typed stays. */
function take(page) {
  const main = document.getElementById("main");
  const next = page.getElementById("main");
  const inField = document.activeElement?.id === FIELD;
  const open = [...main.querySelectorAll("details")].map((d) => d.open);
  main.replaceChildren(...document.adoptNode(next).childNodes);
  main.dataset.entry = next.dataset.entry;
  main.querySelectorAll("details").forEach((d, i) => { d.open = Boolean(open[i]); });
  document.dispatchEvent(new Event("renewed"));
  if (inField) document.getElementById(FIELD)?.focus({ preventScroll: true });
}

async function send(form, body, value) {
  try {
    const answer = await fetch(form.action, { method: "POST", body });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (answer.ok) {
      take(page);
      return;
    }
    giveBack(value, page.querySelector(".trouble")?.textContent ?? "It was not stored.");
  } catch {
    giveBack(value, "The program does not answer, and this reading is not stored. Send it again.");
  }
}

/** A figure that was not stored stands in the field again, unless the next one is there. */
function giveBack(value, why) {
  const field = document.getElementById(FIELD);
  if (field && field.value === "") {
    field.value = value;
    drafts.set(FIELD, value);
    field.select();
    complain(why);
  } else {
    complain(`${value}: ${why}`);
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("#reading-form")) return;
  event.preventDefault();
  const field = document.getElementById(FIELD);
  const value = field.value.trim();
  if (value === "") return;
  const body = new URLSearchParams(new FormData(form));
  for (const input of form.querySelectorAll("input:not([type=hidden])")) {
    input.value = "";
    drafts.delete(input.id);
  }
  complain("");
  field.focus();
  // One after the other, so that readings stand in the order keyed.
  sentLast = sentLast.then(() => send(form, body, value));
});

document.addEventListener("input", (event) => {
  const field = event.target;
  if (!hold() || !field.id || field.type === "file" || field.type === "checkbox") return;
  if (field.value === field.defaultValue) drafts.delete(field.id);
  else drafts.set(field.id, field.value);
});

document.addEventListener("renewed", () => {
  if (!hold()) return;
  for (const [id, value] of drafts) {
    const field = document.getElementById(id);
    if (field && field.value !== value) field.value = value;
  }
  showSound();
  ring();
  tick();
});

document.addEventListener("click", (event) => {
  if (event.target.closest("#try-tone")) { wake(); setTimeout(() => tone([[880, 0.35]]), 100); }
});

for (const kind of ["pointerdown", "keydown"]) document.addEventListener(kind, wake);

if (hold()) {
  showSound();
  ring();
  tick();
  setInterval(tick, 1000);
}
