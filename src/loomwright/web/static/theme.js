// Day or night before anything is drawn: the choice kept here, else the system's own.
(() => {
  const root = document.documentElement;
  root.classList.add("js-on");
  let kept = null;
  try { kept = localStorage.getItem("theme"); } catch { /* storage is off: follow the system */ }
  if (kept) root.dataset.theme = kept;
  // A point of a drawing is pressed with the keyboard as any button is.
  addEventListener("keydown", (event) => {
    const point = event.target.closest?.("[data-point]");
    if (!point || !["Enter", " "].includes(event.key)) return;
    event.preventDefault();
    point.dispatchEvent(new MouseEvent("click", { bubbles: true }));
  });
  addEventListener("DOMContentLoaded", () => {
    document.getElementById("print")?.addEventListener("click", () => print());
    const button = document.getElementById("theme");
    const dark = () => root.dataset.theme
      ? root.dataset.theme === "night"
      : matchMedia("(prefers-color-scheme: dark)").matches;
    const name = () => { button.textContent = dark() ? "Day" : "Night"; };
    button.hidden = false;
    name();
    button.addEventListener("click", () => {
      root.dataset.theme = dark() ? "day" : "night";
      try { localStorage.setItem("theme", root.dataset.theme); } catch { /* not kept */ }
      name();
    });
  });
})();
