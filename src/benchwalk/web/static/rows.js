// Keys for the rows of the week: j and k (or the arrows, on a row) go down and up, / to the filters.
// Without this file every row is reached by Tab.

// asked for at each key: filters put other rows in place
const all = () => [...document.querySelectorAll(".row-link")];

function step(by) {
  const rows = all();
  const at = rows.indexOf(document.activeElement);
  const next = at < 0 ? (by > 0 ? 0 : rows.length - 1) : at + by;
  rows[Math.min(rows.length - 1, Math.max(0, next))]?.focus();
}

document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, select, textarea");
  if (typing || event.ctrlKey || event.metaKey || event.altKey) return;
  const onRow = document.activeElement.matches(".row-link");
  if (event.key === "j" || (onRow && event.key === "ArrowDown")) step(1);
  else if (event.key === "k" || (onRow && event.key === "ArrowUp")) step(-1);
  else if (event.key === "/") document.querySelector(".filters select")?.focus();
  else return;
  event.preventDefault();
});
