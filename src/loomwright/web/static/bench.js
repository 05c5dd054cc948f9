// The job's page with less waiting: drawing, keypad, readings that outlive the network.

export const $ = (selector, root = document) => root.querySelector(selector);
const kept = {}; // where the browser's own storage is off
export const store = {
  get: (key) => { try { return JSON.parse(localStorage[key] ?? null); } catch { return kept[key] ?? null; } },
  set: (key, value) => { try { localStorage[key] = JSON.stringify(value); } catch { kept[key] = value; } },
};
let probe = "at";
let sending = false;

export const busy = () => sending;
const bench = () => $(".bench");
const form = () => $("#reading");
const field = (name) => form()?.elements[name];
const base = () => `/jobs/${bench().dataset.job}`;
const draftKey = () => `drafts-${bench().dataset.job}`;
const about = () => ["state", "quantity", "at", "to", "instrument"]
  .map((name) => field(name)?.value ?? "").join("|");

function say(text, bad = false) {
  const box = $("#message");
  if (!box) return;
  box.hidden = !text;
  box.textContent = text;
  box.classList.toggle("bad", bad);
}

const texts = () => [...document.querySelectorAll("main input:not([type=hidden]), main textarea")]
  .filter((one) => one.id === "value" || one.form?.id !== "reading");
export const typed = () => texts().filter((one) => one.value !== one.defaultValue);
// Its form and name, for a value also the reading it is of.
const belongs = (one) => [one.form?.action, one.name, one.id === "value" ? about() : ""].join();

const html = () => ({ accept: "text/html", "x-drawing": $(".canvas > svg")?.dataset.id ?? "" });

export async function swap(address, push = true, given) {
  let text;
  try {
    text = await (given ?? await fetch(address, { headers: html() })).text();
  } catch {
    say("The workshop computer does not answer. Nothing is lost; try again in a moment.", true);
    return false;
  }
  const next = new DOMParser().parseFromString(text, "text/html");
  const fresh = $(".canvas > svg", next)?.dataset;
  if (fresh?.base && fresh.base !== $(".canvas > svg").dataset.id) return swap(address, push);
  const canvas = $(".canvas");
  const place = canvas && [canvas.scrollLeft, canvas.scrollTop];
  const changing = $(".change")?.open;
  const inside = $("main").contains(document.activeElement);
  const held = new Map(typed().map((one) => [belongs(one), one.value]));
  if (fresh?.base) replace(next);
  else $("main").replaceWith($("main", next));
  document.title = next.title;
  if (push) history.pushState(null, "", address);
  ready(place, changing);
  // the keyboard goes on at what is asked
  if (inside && push && document.activeElement.matches("body, [data-point]")) $("#entry-title")?.focus({ preventScroll: true });
  for (const one of texts()) {
    const value = held.get(belongs(one));
    if (value === undefined || one.value !== one.defaultValue) continue;
    one.value = value;
    one.closest("details")?.setAttribute("open", "");
  }
  return true;
}

function replace(next) {
  const [drawing, sent] = [$(".canvas > svg"), $(".canvas > svg", next)];
  for (const at of sent.dataset.at.match(/\d+/g) ?? []) drawing.children[at].replaceWith(sent.firstElementChild);
  drawing.dataset.id = sent.dataset.id;
  drawing.setAttribute("aria-label", sent.getAttribute("aria-label"));
  const [now, then] = [bench(), $(".bench", next)];
  for (const [at, one] of [...then.children].entries()) {
    if (!one.matches(".drawing")) now.children[at].replaceWith(one);
  }
  for (const name of [".tools", ".drawing > .hint"]) $(name, now).replaceWith($(name, then));
  Object.assign(now.dataset, then.dataset);
}

function centre(canvas, place) {
  if (place) [canvas.scrollLeft, canvas.scrollTop] = place;
  const { at } = bench().dataset;
  const found = (kind, name) => $(`[data-${kind}="${CSS.escape(name)}"]`, canvas);
  const point = found("point", at) ?? found("element", at) ?? found("wire", at) ?? found("part", at.split(".")[0]);
  if (!point) return;
  const [a, b] = [point.getBoundingClientRect(), canvas.getBoundingClientRect()];
  const seen = a.left > b.left + 20 && a.right < b.right - 20 && a.top > b.top + 20 && a.bottom < b.bottom - 20;
  if (place && seen) return;
  canvas.scrollLeft += a.left + a.width / 2 - b.left - b.width / 2;
  canvas.scrollTop += a.top + a.height / 2 - b.top - b.height / 2;
}

function choose(point) {
  if (!form()) return;
  const kind = field("quantity").value;
  const quantity = ["resistance", "continuity"].includes(kind) ? kind : "voltage";
  const wanted = new URLSearchParams({ state: field("state").value, quantity, at: point });
  if (probe === "to" && field("at").value && field("at").value !== point) {
    wanted.set("to", point);
    wanted.set("at", field("at").value);
  }
  const show = $('.tools select[name="show"]')?.value;
  if (show) wanted.set("show", show);
  wanted.set("only", field("only").value);
  swap(`${base()}?${wanted}`).then(() => { if (narrow()) $("#enter").scrollIntoView(); });
}

// Form and drawing are not side by side: go to the answer.
const narrow = () => matchMedia("(max-width: 860px)").matches;

function press(key) {
  const value = field("value");
  const text = value.value.replace(/^OL$/i, "");
  const more = !/[.,]/.test(key) ? text + key : /[.,]/.test(text) ? text : `${text || "0"}${key}`;
  value.value = { clear: "", back: text.slice(0, -1), OL: "OL",
    sign: text.startsWith("-") ? text.slice(1) : `-${text}` }[key] ?? more;
  keep();
}

// Typed and not saved, by the reading it is of: { about: { value, unit, key } }.
const drafts = () => store.get(draftKey()) ?? {};
const draft = (value, unit, key, reading = about()) => store.set(draftKey(), { ...drafts(), [reading]: { value, unit, key } });

function undraft(one) {
  const { [one]: _, ...others } = drafts();
  store.set(draftKey(), others);
  waiting();
}

function keep() {
  const text = field("value")?.value ?? "";
  if (text && !form().dataset.levels.match(/^[1-9]/)) draft(text, field("unit")?.value, field("key").value);
  else undraft(about());
}

function restore() {
  waiting();
  const { value, unit, key } = drafts()[about()] ?? {};
  if (!value || !field("value") || field("value").value) return;
  field("key").value = key;
  const level = $(`.level[value="${CSS.escape(value)}"]`, form());
  level?.classList.add("shown");
  if (level) say(`"${value}" is not saved yet. Press it to save it.`, true);
  if (form().dataset.levels !== "0") return;
  field("value").value = value;
  if (unit && field("unit")) field("unit").value = unit;
}

// Typed for another reading than the one asked for now.
function waiting() {
  const box = $("#drafts");
  if (!box) return;
  const others = Object.entries(drafts()).filter(([one]) => one !== about());
  box.hidden = !others.length;
  box.replaceChildren("Typed, but not saved:", ...others.map(([one, { value, unit }]) => {
    const [state, quantity, at, to, instrument] = one.split("|");
    const line = $("template", box.parentNode).content.cloneNode(true);
    $("b", line).textContent = `${value} ${unit ?? ""} ${at}${to && ` against ${to}`} (${state})`;
    $("a", line).href = `${base()}?${new URLSearchParams({ state, quantity, at, to, instrument })}#enter`;
    $("button", line).dataset.drop = one;
    return line;
  }));
}

const again = () => new Promise((done) => setTimeout(done, 3000));

async function save(body) {
  if (sending) return;
  sending = true;
  const [job, reading] = [bench().dataset.job, about()];
  for (;;) {
    const response = await fetch(`/api/jobs/${job}/readings`, { method: "POST", body, headers: html() }).catch(() => null);
    if (response?.status < 500) {
      await finish(response, reading);
      return sending = false; // now: our own is no news
    }
    draft(body.get("value"), body.get("unit"), body.get("key"), reading);
    say("Not saved yet: the workshop computer does not answer. Trying again; leave this page open.", true);
    await again();
  }
}

async function finish(response, reading) {
  if (response.ok) {
    undraft(reading);
    if ($("#value") && about() === reading) $("#value").value = "";
    const next = `${base()}?only=${field("only").value}`;
    let page = response; // head: saved; body: the page after it
    while (!(await swap(next, true, page))) {
      page = null;
      say("Saved. The workshop computer does not answer now; this page follows when it does.", true);
      await again();
    }
    if (narrow()) scrollTo(0, 0);
    say("Saved.");
    setTimeout(say, 2500, "");
    return;
  }
  const { error } = await response.json();
  say(`Not saved. ${error.message} ${error.next_step}`, true);
}

const sent = (some) => new URLSearchParams(new FormData(some));
const ask = (some) => swap(`${some.getAttribute("action")}?${sent(some)}`);

// The reading set up, without its value.
function asked() {
  const found = sent(form());
  for (const name of ["key", "value", "unit"]) found.delete(name);
  return found;
}

async function readDemo() {
  const response = await fetch(`/api${base()}/demo?${asked()}`);
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

function pressed() {
  for (const one of document.querySelectorAll("[data-probe]")) one.setAttribute("aria-pressed", one.dataset.probe === probe);
}

function ready(place = null, changing = false) {
  if (!bench()) return;
  if ($(".canvas")) centre($(".canvas"), place);
  if (!form()) return;
  if (changing) $(".change").open = true;
  pressed();
  if (field("value")?.id && matchMedia("(pointer: coarse)").matches) field("value").inputMode = "none";
  restore();
}

document.addEventListener("click", (event) => {
  const near = (what) => event.target.closest(what);
  const key = near("[data-key]");
  if (key) return press(key.dataset.key);
  const dropped = near("[data-drop]");
  if (dropped) return undraft(dropped.dataset.drop);
  const chosen = near("[data-probe]");
  if (chosen) return pressed(probe = chosen.dataset.probe);
  const point = near(".drawing [data-point]");
  if (point) return choose(point.dataset.point);
  const link = near("a[data-go]");
  if (link && !event.ctrlKey && !event.metaKey) {
    event.preventDefault();
    return swap(link.href).then(() => $("#enter")?.scrollIntoView({ block: "nearest" }));
  }
});

document.addEventListener("input", (event) => { if (event.target.id === "value") keep(); });

document.addEventListener("change", (event) => {
  if (event.target.name === "unit") keep();
  const go = event.target.closest("form[data-go]");
  if (go) ask(go);
});

// This page with the same reading set up.
export function address() {
  if (!form() || !field("at").value) return location.href;
  return `${base()}?${asked()}`;
}

document.addEventListener("submit", (event) => {
  const { target, submitter: by } = event;
  if (by?.matches("[data-plain]")) return;
  if (target.matches("form[data-go]")) {
    event.preventDefault();
    ask(target);
  } else if (target.id === "reading") {
    event.preventDefault();
    if (by?.matches(".demo")) readDemo();
    else if (by?.matches("[data-look]")) { if (field("at").value) swap(address()); } else {
      const body = sent(target);
      if (by?.name) body.set(by.name, by.value);
      save(body);
    }
  }
});

addEventListener("popstate", () => { if (bench()) swap(location.href, false); });
ready();
if (bench()) import("./live.js");
