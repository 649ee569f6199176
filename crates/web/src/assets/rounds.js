// Keying a round in: Enter and a finished figure move on, each figure is questioned at once by the
// program, an answer is one key, and lines are stored as they are left.

const form = document.getElementById("round-form");
const status = document.getElementById("round-status");
const DONE = /^[-+\u2212\u2013]?\d*[.,]\d$/;
const TIME = /^(\d{4}|\d{1,2}:\d{2})$/;
const SAVE_AFTER_MS = 4000;
const WAIT_AT_MOST_MS = 2000;

let waiting = 0;
let typedAhead = [];
let resume = null;
let dirty = new Set();
let timer = 0;
let saving = Promise.resolve();
const checked = new Map();

const fields = () => [...document.querySelectorAll("#round-form .k")];
const rowOf = (el) => el.closest(".key-row");
const partOf = (el) => el.closest(".round-part");
const inRow = (row, of) => row.querySelector(`[data-of="${of}"]:not(.question)`);

function wait(by) {
  waiting += by;
  form.dataset.waiting = waiting;
}

function neighbour(el, by) {
  const all = fields();
  const at = all.indexOf(el);
  return at < 0 ? null : all[at + by] ?? null;
}

function go(el) {
  if (!el) return;
  el.focus();
  if (el.select && el.type !== "checkbox") el.select();
}

/** Leaves a field for the next one; its figure is looked at meanwhile. */
function onward(el) {
  const next = neighbour(el, 1);
  if (!next) { flush(); go(document.getElementById("hand-in")); return; }
  go(next);
  const row = rowOf(el);
  if (row && el.matches(".figure-in")) check(row, next);
  else if (partOf(next) !== partOf(el)) flush();
}

function pairsOf(el) {
  const out = new URLSearchParams();
  for (const f of el.querySelectorAll("input, select")) {
    if (f.type === "checkbox" && !f.checked) continue;
    if (f.name) out.append(f.name, f.value);
  }
  return out;
}

async function send(what, body) {
  const headers = { Accept: "application/json" };
  const answer = await fetch(`${form.dataset.round}/${what}`, { method: "POST", body, headers });
  if (!answer.ok) throw new Error(await answer.text());
  return answer.json();
}

/** Asks the program about a line. Keys typed before it answers are kept for the next field. */
async function check(row, next) {
  const body = pairsOf(row);
  const text = body.toString();
  if (checked.get(row.dataset.unit) === text) return;
  checked.set(row.dataset.unit, text);
  mark(row);
  wait(1);
  const late = new Promise((done) => { setTimeout(done, WAIT_AT_MOST_MS, null); });
  const asked = send("check", body).catch(() => null);
  const told = await Promise.race([asked, late]);
  wait(-1);
  if (told) show(told.rows, next);
  else asked.then((t) => { if (t) show(t.rows, next); });
  if (!waiting) replay();
}

function show(rows, next) {
  for (const told of rows) {
    const row = form.querySelector(`.key-row[data-unit="${CSS.escape(told.unit)}"]`);
    if (!row) continue;
    for (const place of row.querySelectorAll("[data-error]")) {
      const why = told.refused.find((r) => r.of === place.dataset.error)?.why ?? "";
      place.textContent = why;
      const field = inRow(row, place.dataset.error);
      if (why) field.setAttribute("aria-invalid", "true");
      else field.removeAttribute("aria-invalid");
    }
    const place = row.querySelector(".questions");
    place.innerHTML = told.questions.map((q) => q.html).join("");
    if (told.refused.length && next) {
      typedAhead = [];
      go(inRow(row, told.refused[0].of));
    } else if (told.questions.length) {
      typedAhead = [];
      resume = next ?? resume;
      place.querySelector(".question").focus();
    }
  }
}

function replay() {
  const keys = typedAhead;
  typedAhead = [];
  for (const key of keys) {
    const at = document.activeElement;
    if (!at?.matches?.(".k")) return;
    if (key === "Enter") onward(at);
    else if (at.type !== "checkbox") {
      at.setRangeText(key, at.selectionStart, at.selectionEnd, "end");
      at.dispatchEvent(new Event("input", { bubbles: true }));
    }
  }
}

// Storing -----------------------------------------------------------------------------------

function mark(el) {
  dirty.add(el);
  clearTimeout(timer);
  timer = setTimeout(flush, SAVE_AFTER_MS);
  if (dirty.size > 5) flush();
}

/** Stores what was keyed since the last time, part by part. */
function flush(leaving) {
  clearTimeout(timer);
  const all = [...dirty];
  dirty = new Set();
  for (const part of new Set(all.map(partOf))) {
    const body = new URLSearchParams();
    for (const [name, value] of pairsOf(part)) if (!name.includes(".")) body.append(name, value);
    for (const el of all.filter((e) => partOf(e) === part && e.matches(".key-row"))) {
      for (const [name, value] of pairsOf(el)) body.append(name, value);
    }
    if (leaving) {
      navigator.sendBeacon(`${form.dataset.round}/save`, body);
      continue;
    }
    saving = saving.then(() => store(part, body, all));
  }
  return saving;
}

async function store(part, body, rows) {
  try {
    const told = await send("save", body);
    status.textContent =
      `${told.read} of ${told.of} boxes keyed in, stored ${told.saved_at} UTC`;
    status.classList.remove("lost");
    const place = part.querySelector(".time-error");
    place.textContent = told.wrong_time ?? "";
    return told;
  } catch (e) {
    for (const el of rows) dirty.add(el);
    clearTimeout(timer);
    timer = setTimeout(flush, SAVE_AFTER_MS);
    status.textContent = `Not stored: ${e.message || "the program does not answer"}. It is tried again.`;
    status.classList.add("lost");
    return null;
  }
}

/** Answers a question: the line is stored with the answer, and comes back as it stands now. */
async function answer(box, button) {
  const row = rowOf(box);
  const part = partOf(row);
  const body = pairsOf(row);
  body.append(button.name, button.value);
  const to = resume;
  wait(1);
  saving = saving.then(() => store(part, body, [row]));
  const told = await saving;
  wait(-1);
  if (told) {
    for (const r of told.rows) {
      for (const [of, text] of Object.entries(r.values)) inRow(row, of).value = text;
    }
    checked.set(row.dataset.unit, pairsOf(row).toString());
    row.querySelector(".questions").replaceChildren();
    show(told.rows, to);
    if (!told.rows.some((r) => r.questions.length)) go(to ?? neighbour(inRow(row, "return"), 1));
  }
  if (!waiting) replay();
}

// Keys --------------------------------------------------------------------------------------

function inQuestion(event, box) {
  const key = event.key.toLowerCase();
  const button = { k: ".keep", c: ".change" }[key];
  if (button) {
    event.preventDefault();
    const found = box.querySelector(button);
    if (found) answer(box, found);
  } else if (/^[-+.,\d\u2212]$/.test(event.key) || ["backspace", "escape"].includes(key)
    || (key === "enter" && event.target === box)) {
    // Back to the figure; a digit begins it anew.
    event.preventDefault();
    const field = inRow(rowOf(box), box.dataset.of);
    checked.delete(rowOf(box).dataset.unit);
    go(field);
    if (event.key.length === 1) {
      field.value = event.key;
      field.setSelectionRange(1, 1);
    }
  }
}

const LETTERS = { a: "alarm", s: "set_point", m: "remark" };

function letter(event, el) {
  const key = event.key.toLowerCase();
  const row = rowOf(el);
  if (!row) return;
  if (key === "o" || key === "d" || LETTERS[key]) {
    row.querySelector("details.more").open = true;
    mark(row);
  }
  if (key === "o") {
    const power = inRow(row, "power");
    power.value = power.value === "off" ? "" : "off";
  } else if (key === "d") {
    const defrost = inRow(row, "defrost");
    defrost.checked = !defrost.checked;
  } else if (LETTERS[key]) {
    resume = el;
    go(inRow(row, LETTERS[key]));
  }
}

function inField(event, el) {
  if (event.key === "Enter") {
    event.preventDefault();
    onward(el);
  } else if (event.key === "Tab" && !event.shiftKey && el.matches(".figure-in")) {
    event.preventDefault();
    onward(el);
  } else if (el.type === "checkbox" && /^[yn]$/i.test(event.key)) {
    event.preventDefault();
    el.checked = event.key.toLowerCase() === "y";
    mark(partOf(el));
    onward(el);
  } else if (event.key === "Backspace" && el.value === "" && el.type !== "checkbox") {
    event.preventDefault();
    go(neighbour(el, -1));
  } else if (/^[a-z]$/i.test(event.key) && !event.ctrlKey && !event.metaKey && !event.altKey) {
    event.preventDefault();
    if (el.matches(".figure-in")) letter(event, el);
  }
}

function onKey(event) {
  const box = event.target.closest?.(".question");
  const el = event.target;
  if (waiting && (event.key.length === 1 || event.key === "Enter") && !event.ctrlKey) {
    event.preventDefault();
    typedAhead.push(event.key);
  } else if (box) inQuestion(event, box);
  else if (el.matches(".k")) inField(event, el);
  else if (event.key === "Enter" && el.matches(".more input, .more select")) {
    event.preventDefault();
    mark(rowOf(el));
    go(resume && rowOf(resume) === rowOf(el) ? resume : neighbour(inRow(rowOf(el), "return"), 1));
  }
}

function onInput(event) {
  const el = event.target;
  const row = rowOf(el);
  mark(row ?? partOf(el));
  if (!el.matches(".k") || el.selectionStart !== el.value.length) return;
  if (el.matches(".time") ? TIME.test(el.value) : DONE.test(el.value)) onward(el);
}

if (form) {
  for (const el of form.querySelectorAll("details.more summary, button.save")) el.tabIndex = -1;
  form.addEventListener("keydown", onKey);
  form.addEventListener("input", onInput);
  form.addEventListener("click", (event) => {
    const button = event.target.closest(".question button");
    if (!button) return;
    event.preventDefault();
    answer(button.closest(".question"), button);
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    mark(event.target);
    flush();
  });
  document.getElementById("finish").addEventListener("submit", (event) => {
    if (!dirty.size) return;
    event.preventDefault();
    flush().then(() => event.target.submit());
  });
  addEventListener("pagehide", () => flush(true));
  document.addEventListener("visibilitychange", () => { if (document.hidden) flush(true); });
  const question = form.querySelector(".question");
  const blank = fields().find((f) => f.type !== "checkbox" && f.value === "" && !f.matches(".time"));
  const first = fields().find((f) => f.type !== "checkbox" && f.value === "");
  const untouched = fields().every((f) => f.type === "checkbox" || f.value === "");
  if (question) question.focus();
  else go(untouched ? first : blank ?? first);
}
