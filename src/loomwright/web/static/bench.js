// The job's page with less waiting: taps on the drawing, the keypad, and readings that are not
// lost when the network is. Without this file every form still works.

export const $ = (selector, root = document) => root.querySelector(selector);
export const store = {
  get: (key) => { try { return JSON.parse(localStorage.getItem(key)); } catch { return null; } },
  set: (key, value) => { try { localStorage.setItem(key, JSON.stringify(value)); } catch { /* off */ } },
  drop: (key) => { try { localStorage.removeItem(key); } catch { /* off */ } },
};
let probe = "at";
let sending = false;
const RETRY_MS = 3000;

export const busy = () => sending;
const bench = () => $(".bench");
const form = () => $("#reading");
const field = (name) => form()?.elements[name];
const draftKey = () => `draft-${bench().dataset.job}`;
const about = () => ["state", "quantity", "at", "to", "instrument"]
  .map((name) => field(name)?.value ?? "").join("|");

function say(text, bad = false) {
  const box = $("#message");
  if (!box) return;
  box.hidden = !text;
  box.textContent = text;
  box.classList.toggle("bad", bad);
}

// --- one page becomes the next without losing the drawing's place -----------------------------

export async function swap(address, push = true) {
  let text;
  try {
    text = await (await fetch(address, { headers: { accept: "text/html" } })).text();
  } catch {
    say("The workshop computer does not answer. Nothing is lost; try again in a moment.", true);
    return false;
  }
  const next = new DOMParser().parseFromString(text, "text/html");
  const canvas = $(".canvas");
  const place = canvas ? [canvas.scrollLeft, canvas.scrollTop] : null;
  const changing = $(".change")?.open;
  $("main").replaceWith($("main", next));
  document.title = next.title;
  if (push) history.pushState(null, "", address);
  ready(place, changing);
  return true;
}

function centre(canvas, place) {
  if (place) [canvas.scrollLeft, canvas.scrollTop] = place;
  const point = $(`[data-point="${CSS.escape(bench().dataset.at)}"]`, canvas)
    ?? $(`[data-element="${CSS.escape(bench().dataset.at)}"], [data-wire="${CSS.escape(bench().dataset.at)}"]`, canvas)
    ?? $(`[data-part="${CSS.escape(bench().dataset.at.split(".")[0])}"]`, canvas);
  if (!point) return;
  const [a, b] = [point.getBoundingClientRect(), canvas.getBoundingClientRect()];
  const seen = a.left > b.left + 20 && a.right < b.right - 20 && a.top > b.top + 20 && a.bottom < b.bottom - 20;
  if (place && seen) return;
  canvas.scrollLeft += a.left + a.width / 2 - b.left - b.width / 2;
  canvas.scrollTop += a.top + a.height / 2 - b.top - b.height / 2;
}

// --- choosing what to read -----------------------------------------------------------------------

function choose(point) {
  if (!form()) return;
  const wanted = new URLSearchParams({ state: field("state").value, quantity: "voltage", at: point });
  const kind = field("quantity").value;
  if (["voltage", "resistance", "continuity"].includes(kind)) wanted.set("quantity", kind);
  if (probe === "to" && field("at").value && field("at").value !== point) {
    wanted.set("at", field("at").value);
    wanted.set("to", point);
  }
  const show = $('.tools select[name="show"]')?.value;
  if (show) wanted.set("show", show);
  wanted.set("only", field("only").value);
  swap(`/jobs/${bench().dataset.job}?${wanted}`).then(() => narrow(() => $("#enter").scrollIntoView()));
}

// On a narrow screen form and drawing are not side by side: go to where the answer is.
function narrow(go) {
  if (matchMedia("(max-width: 860px)").matches) go();
}

// --- the keypad ----------------------------------------------------------------------------------

function press(key) {
  const value = field("value");
  const text = value.value;
  if (key === "clear") value.value = "";
  else if (key === "back") value.value = /^OL$/i.test(text) ? "" : text.slice(0, -1);
  else if (key === "sign") value.value = text.startsWith("-") ? text.slice(1) : `-${text}`;
  else if (key === "OL") value.value = "OL";
  else if (/[.,]/.test(key)) value.value = /[.,]/.test(text) ? text : `${text || "0"}${key}`;
  else value.value = /^OL$/i.test(text) ? key : text + key;
  keep();
}

function keep() {
  const text = field("value")?.value ?? "";
  if (text && !form().dataset.levels.match(/^[1-9]/)) {
    store.set(draftKey(), { about: about(), value: text, unit: field("unit")?.value, key: field("key").value });
  } else store.drop(draftKey());
}

function restore() {
  const draft = store.get(draftKey());
  if (!draft || !field("value") || draft.about !== about() || field("value").value) return;
  field("key").value = draft.key;
  const level = $(`.level[value="${CSS.escape(draft.value)}"]`, form());
  level?.classList.add("shown");
  if (level) say(`"${draft.value}" is not saved yet. Press it to save it.`, true);
  if (form().dataset.levels !== "0") return;
  field("value").value = draft.value;
  if (draft.unit && field("unit")) field("unit").value = draft.unit;
}

// --- saving ----------------------------------------------------------------------------------------

async function save(body) {
  if (sending) return;
  sending = true;
  const job = bench().dataset.job;
  for (let attempt = 0; ; attempt += 1) {
    let response = null;
    try {
      response = await fetch(`/api/jobs/${job}/readings`, { method: "POST", body });
    } catch { /* no network: told below */ }
    if (response && response.status < 500) {
      sending = false;
      return finish(response, job);
    }
    if (attempt === 0) store.set(draftKey(), { about: about(), value: body.get("value"), unit: body.get("unit"), key: body.get("key") });
    say("Not saved yet: the workshop computer does not answer. Trying again; leave this page open.", true);
    await new Promise((done) => { setTimeout(done, RETRY_MS); });
  }
}

async function finish(response, job) {
  if (response.ok) {
    store.drop(draftKey());
    while (!(await swap(`/jobs/${job}?only=${field("only").value}`))) {
      say("Saved. The workshop computer does not answer now; this page follows when it does.", true);
      await new Promise((done) => { setTimeout(done, RETRY_MS); });
    }
    narrow(() => scrollTo(0, 0));
    say("Saved.");
    setTimeout(() => say(""), 2500);
    return;
  }
  const { error } = await response.json();
  say(`Not saved. ${error.message} ${error.next_step}`, true);
}

async function readDemo() {
  const asked = new URLSearchParams(new FormData(form()));
  for (const name of ["key", "value", "unit"]) asked.delete(name);
  const response = await fetch(`/api/jobs/${bench().dataset.job}/demo?${asked}`);
  const answer = await response.json();
  if (!response.ok) return say(`${answer.error.message} ${answer.error.next_step}`, true);
  if (form().dataset.levels === "0") {
    const found = answer.value.match(/^(-?[\d.,]+|OL)(?: (.+))?$/);
    const unit = field("unit");
    field("value").value = found && unit && [...unit.options].some((one) => one.value === found[2]) ? found[1] : answer.value;
    if (found?.[2] && unit) unit.value = found[2];
    keep();
    return say(`The demo vehicle shows ${answer.value}. Save it.`);
  }
  for (const one of form().querySelectorAll(".level")) one.classList.toggle("shown", one.value === answer.value);
  return say(`The demo vehicle shows: ${answer.value}. Press it to save.`);
}

// --- wiring ----------------------------------------------------------------------------------------

function ready(place = null, changing = false) {
  if (!bench()) return;
  const canvas = $(".canvas");
  if (canvas) centre(canvas, place);
  if (!form()) return;
  if (changing) $(".change").open = true;
  for (const one of document.querySelectorAll("[data-probe]")) {
    one.setAttribute("aria-pressed", String(one.dataset.probe === probe));
  }
  if (field("value")?.id && matchMedia("(pointer: coarse)").matches) field("value").inputMode = "none";
  restore();
}

document.addEventListener("click", (event) => {
  const key = event.target.closest("[data-key]");
  if (key) return press(key.dataset.key);
  const chosen = event.target.closest("[data-probe]");
  if (chosen) { probe = chosen.dataset.probe; return ready([$(".canvas").scrollLeft, $(".canvas").scrollTop], true); }
  const point = event.target.closest(".drawing [data-point]");
  if (point) return choose(point.dataset.point);
  const link = event.target.closest("a[data-go]");
  if (link && !event.ctrlKey && !event.metaKey) {
    event.preventDefault();
    return swap(link.href).then(() => $("#enter")?.scrollIntoView({ block: "nearest" }));
  }
  if (event.target.closest("#print")) print();
  return undefined;
});

document.addEventListener("keydown", (event) => {
  const point = event.target.closest?.(".drawing [data-point]");
  if (point && (event.key === "Enter" || event.key === " ")) {
    event.preventDefault();
    choose(point.dataset.point);
  }
});

document.addEventListener("input", (event) => { if (event.target.id === "value") keep(); });

document.addEventListener("change", (event) => {
  if (event.target.name === "unit") keep();
  const asked = event.target.closest("form[data-go]");
  if (asked) swap(`${asked.getAttribute("action")}?${new URLSearchParams(new FormData(asked))}`);
});

// The address of this page with the same reading set up.
export function address() {
  if (!form() || !field("at").value) return location.href;
  const asked = new URLSearchParams(new FormData(form()));
  for (const name of ["key", "value", "unit"]) asked.delete(name);
  return `/jobs/${bench().dataset.job}?${asked}`;
}

function look() {
  if (field("at").value) swap(address());
}

document.addEventListener("submit", (event) => {
  const sent = event.target;
  const by = event.submitter;
  if (by?.matches("[data-plain]")) return;
  if (sent.matches("form[data-go]")) {
    event.preventDefault();
    swap(`${sent.getAttribute("action")}?${new URLSearchParams(new FormData(sent))}`);
  } else if (sent.id === "reading") {
    event.preventDefault();
    if (by?.matches(".demo")) readDemo();
    else if (by?.matches("[data-look]")) look();
    else {
      const body = new URLSearchParams(new FormData(sent));
      if (by?.name) body.set(by.name, by.value);
      save(body);
    }
  }
});

addEventListener("popstate", () => { if (bench()) swap(location.href, false); });
ready();
if (bench()) import("./live.js");
