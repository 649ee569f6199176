// Readings in ice are worked out as they are keyed: the server does it, this shows it.

let asked = 0;
let wait = 0;

async function work(form) {
  const mine = ++asked;
  const query = new URLSearchParams({
    readings: form.elements.readings.value,
    unit: form.elements.unit.value,
  });
  try {
    const answer = await fetch(`/instruments/ice?${query}`, { cache: "no-store" });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const place = document.getElementById("ice-told");
    if (answer.ok && mine === asked && place) place.replaceChildren(...page.body.childNodes);
  } catch {
    // The button beside the field works it out too.
  }
}

function changed(event) {
  const form = event.target.closest?.("form.ice-form");
  if (!form || !["readings", "unit"].includes(event.target.name)) return;
  clearTimeout(wait);
  wait = setTimeout(() => work(form), 150);
}

document.addEventListener("input", changed);
document.addEventListener("change", changed);
