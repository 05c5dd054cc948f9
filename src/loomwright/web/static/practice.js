// A tap on the drawing names the point to measure. Without this file the point is typed.

let probe = "at"; // the field last touched gets the point
const field = (name) => document.querySelector(`.ask [name="${name}"]`);

function choose(point) {
  const into = field(probe);
  if (!into) return;
  into.value = point;
  into.scrollIntoView({ block: "nearest" });
  field("predict").focus({ preventScroll: true });
  probe = "at";
}

document.addEventListener("focusin", (event) => {
  if (event.target === field("at") || event.target === field("to")) probe = event.target.name;
});
document.addEventListener("click", (event) => {
  const point = event.target.closest(".plan [data-point]");
  if (point) choose(point.dataset.point);
});
