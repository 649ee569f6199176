// Folds an unfolded group of pages on Escape or a tap elsewhere. Without scripts its own button
// does that.

const unfolded = () => document.querySelector("header nav details[open]");

document.addEventListener("keydown", (event) => {
  const group = unfolded();
  if (event.key !== "Escape" || !group) return;
  group.open = false;
  group.querySelector("summary").focus();
});

document.addEventListener("click", (event) => {
  const group = unfolded();
  if (group && !group.contains(event.target)) group.open = false;
});
