// The circuit editor's tables over its text. The server reads, checks and draws; this moves between
// cells, keeps what was typed, and can undo it. Without it the text is edited alone.

import { $, store } from "./bench.js";

const all = (selector) => [...document.querySelectorAll(selector)];
const make = (tag, values) => Object.assign(document.createElement(tag), values);
const page = $(".editor");
const text = $("#text");
const KEY = `circuit:${page.dataset.draft}`;
const WIDTH = { wires: 6, parts: 5, states: 4, places: 2, sequences: 2 };
const blank = (name) => Array(WIDTH[name]).fill("");
const cellAt = (name, row, cell) => $(`[data-at="${name}.${row}.${cell}"]`);

// What stands: `tables` is null while only the text is known; `base` is the text that they were
// read from; `guessed` are parts that came by themselves and were not touched since.
let it = { head: {}, tables: null, base: text.value, guessed: [] };
let now = "";
let [past, future] = [[], []];
let active = { name: "wires", row: 0, cell: 1 };
let answer = null;
let [turn, timer, dirty, offline] = [0, 0, false, false];

function commit() {
  const next = JSON.stringify(it);
  if (next === now) return;
  past = [...past.slice(-200), now];
  [now, future] = [next, []];
}

function step(from, to) {
  commit();
  if (from.length) take(from.pop(), to.push(now));
}

function take(snapshot) {
  now = snapshot;
  it = JSON.parse(now);
  if (!it.tables) text.value = it.base;
  touch();
  draw();
}

function touch(wait = 0) {
  dirty = true;
  keep();
  clearTimeout(timer);
  timer = setTimeout(check, wait);
}

function keep(sent = false) {
  if (dirty) store.set(KEY, { it, text: text.value, sent });
  const count = answer?.findings.length;
  $("#status").textContent = [offline ? "Not checked: the workshop computer does not answer."
    : count ? `${count} problem${count > 1 ? "s" : ""}.` : answer ? "No problems." : "",
  dirty && !sent ? "Not saved yet; kept in this browser." : ""].join(" ");
}

function offer(words, button, act) {
  const press = make("button", { type: "button", textContent: button });
  press.addEventListener("click", () => { $("#kept").hidden = true; act(); });
  $("#kept").replaceChildren(`${words} `, press);
  $("#kept").hidden = false;
}

function open() {
  now = JSON.stringify(it);
  const draft = store.get(KEY);
  store.set(KEY, null);
  if (!draft || draft.text === text.value) return check();
  const back = () => { text.value = draft.text; take(JSON.stringify(draft.it)); };
  if (page.dataset.fresh || draft.sent) {
    offer("An earlier circuit is still kept in this browser.", "Bring it back", back);
    return check();
  }
  offer("What you typed before is back; it is not saved yet.", "Throw it away",
    () => { dirty = false; store.set(KEY, null); location.reload(); });
  return back();
}

async function ask(path, body) {
  const response = await fetch(`/api/editor/${path}`, {
    method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body),
  }).catch(() => { throw new Error("network"); });
  const found = await response.json();
  if (!response.ok) throw new Error(`${found.error.message} ${found.error.next_step}`);
  return found;
}

const inTable = () => Boolean(document.activeElement?.dataset.at);

async function check() {
  const mine = ++turn;
  try {
    const { guessed, ...draft } = it;
    const found = await ask("check", { ...draft, state: $("#state").value,
      typing: active.name === "wires" && inTable() ? active.row : -1 });
    offline = false;
    if (mine === turn) show(found);
  } catch (error) {
    offline = error.message === "network";
    if (offline) timer = setTimeout(check, 3000);
    else list([{ what: error.message, fix: "" }]);
    keep();
  }
}

function show(found) {
  answer = found;
  if (it.tables) text.value = found.text;
  else if (found.sheet) {
    it.head = found.sheet.head;
    it.tables = found.sheet.tables;
    if (!dirty) now = JSON.stringify(it);
    draw();
  }
  $('[data-do="tables"]').disabled = !it.tables;
  if (!it.tables) mode("text");
  else addParts(found);
  if (found.drawing) $("#drawing").innerHTML = found.drawing; // made by the server, escaped there
  $("#drawing").classList.toggle("old", !found.drawing);
  $("#drawing-note").textContent = `${found.drawing_note} ${found.no_sheet}`;
  options("state", found.states).value = found.state;
  options("points", found.points);
  options("known-places", it.tables?.places.map(([name]) => name).filter(Boolean) ?? []);
  list(found.findings);
  $("#notes").replaceChildren(...found.notes.map((textContent) => make("li", { textContent })));
  found.hints.forEach((hint, row) => { const cell = cellAt("parts", row, 2); if (cell) cell.placeholder = hint; });
  keep();
}

function options(id, values) {
  $(`#${id}`).replaceChildren(...values.map((value) => new Option(value)));
  return $(`#${id}`);
}

// Parts that wires name come by themselves, and go again when the name was a slip.
function addParts({ guesses, named }) {
  const had = JSON.stringify(it.tables.parts);
  const slips = it.guessed.filter((name) => !named.includes(name));
  const known = it.tables.parts.map(([name]) => name);
  const added = guesses.filter(({ name }) => !known.includes(name));
  it.guessed = [...it.guessed.filter((name) => !slips.includes(name)), ...added.map(({ name }) => name)];
  it.tables.parts = [...it.tables.parts.filter((row) => row.join("") && !slips.includes(row[0])),
    ...added.map(({ name, kind, values }) => [name, kind, values, "", ""]), blank("parts")];
  if (JSON.stringify(it.tables.parts) === had) return;
  draw("parts");
  if (added.length || slips.length) touch();
}

function list(findings) {
  for (const cell of all("[aria-invalid]")) cell.removeAttribute("aria-invalid");
  const shown = findings.filter((one) => !(inTable() && one.table === active.name && one.row === active.row));
  $("#problems").replaceChildren(...shown.map((one) => {
    const button = make("button", { type: "button", textContent: `${one.line ? `Line ${one.line}: ` : ""}${one.what} ${one.fix}` });
    const cell = cellAt(one.table, one.row, one.cell);
    cell?.setAttribute("aria-invalid", "true");
    if (cell) cell.title = one.what;
    button.addEventListener("click", () => find(one));
    const item = make("li", {});
    item.append(button);
    return item;
  }));
  $("#no-problems").hidden = findings.length > 0;
  $("#no-problems").textContent = "None.";
}

function find(one) {
  if (one.table && !$(".tables").hidden) return go(one.table, one.row, one.cell);
  mode("text");
  const lines = text.value.split("\n");
  const start = lines.slice(0, one.line - 1).join("\n").length + 1;
  text.focus();
  return text.setSelectionRange(start, start + lines[one.line - 1].length);
}

function mode(which) {
  $(".tables").hidden = which !== "tables";
  $(".astext").hidden = which === "tables";
  for (const name of ["tables", "text"]) $(`[data-do="${name}"]`).setAttribute("aria-pressed", name === which);
}

function draw(only) {
  if (!it.tables) return;
  const held = inTable() && { ...active, caret: document.activeElement.selectionStart };
  for (const table of all("[data-table]")) {
    const name = table.dataset.table;
    const rows = it.tables[name];
    if (!rows || (only && only !== name)) continue;
    if (rows.at(-1)?.join("") !== "") rows.push(blank(name));
    table.tBodies[0].replaceChildren(...rows.map((row, number) => line(table, row, number)));
  }
  for (const field of all("[data-head]")) field.value = it.head[field.dataset.head] ?? "";
  const cell = held ? cellAt(held.name, held.row, held.cell) : null;
  cell?.focus();
  cell?.setSelectionRange(held.caret, held.caret);
}

function line(table, row, number) {
  const made = document.createElement("tr");
  row.forEach((value, at) => {
    const heading = table.tHead.rows[0].cells[at];
    const cell = make("input", { value, autocomplete: "off", spellcheck: false, autocapitalize: "none" });
    cell.dataset.at = `${table.dataset.table}.${number}.${at}`;
    cell.setAttribute("aria-label", `${heading.textContent}, row ${number + 1}`);
    cell.setAttribute("list", heading.dataset.list);
    made.insertCell().append(cell);
  });
  return made;
}

function place(cell) {
  const [name, row, at] = cell.dataset.at.split(".");
  return { name, row: Number(row), cell: Number(at) };
}

function go(...where) {
  const cell = cellAt(...where);
  cell?.focus();
  cell?.select();
}

function put({ name, row, cell }, value) {
  const rows = it.tables[name];
  while (rows.length <= row) rows.push(blank(name));
  if (name === "parts") it.guessed = it.guessed.filter((one) => one !== rows[row][0]);
  if (name === "wires" && cell && !rows[row][0] && value) {
    const last = rows.map(([id]) => id).filter(Boolean).at(-1) ?? "W0";
    rows[row][0] = last.replace(/\d+$|$/, (digits) => Number(digits) + 1);
  }
  rows[row][cell] = value;
}

function typed(cell) {
  const at = place(cell);
  const rows = it.tables[at.name];
  put(at, cell.value);
  if (at.cell) cellAt(at.name, at.row, 0).value = rows[at.row][0];
  if (at.row === rows.length - 1 && cell.value) {
    rows.push(blank(at.name));
    cell.closest("tbody").append(line(cell.closest("table"), rows.at(-1), at.row + 1));
  }
  touch(250);
}

function edited() {
  draw();
  commit();
  touch();
  go(active.name, active.row, active.cell);
}

const acts = {
  undo: () => step(past, future),
  redo: () => step(future, past),
  tables: () => mode("tables"),
  text: () => mode("text"),
  insert() { it.tables?.[active.name].splice(active.row, 0, blank(active.name)); edited(); },
  remove() { it.tables?.[active.name].splice(active.row, 1); edited(); },
};

function keys(event) {
  const cell = event.target;
  const { name, row, cell: at } = place(cell);
  const [start, end] = [cell.selectionStart, cell.selectionEnd];
  const down = it.tables[name][row + 1]?.join("") ? at : Number(name === "wires"); // a new wire has its name
  const moves = { ArrowUp: [row - 1, at], ArrowDown: [row + 1, at],
    ArrowLeft: start + end === 0 && [row, at - 1], ArrowRight: start === cell.value.length && [row, at + 1],
    Enter: event.shiftKey ? [row - 1, at] : [row + 1, down] };
  const turned = (event.ctrlKey || event.metaKey) && { z: event.shiftKey ? "redo" : "undo", y: "redo" }[event.key.toLowerCase()];
  if (turned) acts[turned]();
  else if (moves[event.key] && !event.ctrlKey && !event.altKey && (!event.shiftKey || event.key === "Enter")) go(name, ...moves[event.key]);
  else return;
  event.preventDefault();
}

async function paste(event) {
  const pasted = event.clipboardData.getData("text");
  if (!/[\t\n]/.test(pasted.trim())) return;
  event.preventDefault();
  let at = place(event.target);
  let rows = null;
  if (at.name === "wires") ({ rows } = await ask("paste", { text: pasted }).catch(() => ({ rows })));
  if (rows) { // a whole list with its header goes below the wires there are
    it.tables.wires = it.tables.wires.filter((row) => row.join(""));
    at = { name: "wires", row: it.tables.wires.length, cell: 0 };
  }
  rows ??= pasted.trim().split(/\r?\n/).map((one) => one.split("\t"));
  rows.forEach((cells, down) => cells.slice(0, WIDTH[at.name] - at.cell).forEach((value, along) => {
    put({ ...at, row: at.row + down, cell: at.cell + along }, value.trim());
  }));
  edited();
}

const on = (kind, act) => page.addEventListener(kind, act);
on("input", ({ target }) => {
  if (target.dataset.at) typed(target);
  else if (target.dataset.head) { it.head[target.dataset.head] = target.value; touch(250); }
  else if (target === text) {
    if (it.tables) commit();
    Object.assign(it, { base: text.value, tables: null });
    touch(250);
  }
});
on("change", ({ target }) => {
  if (target.id === "state") check();
  else if (target.dataset.at || target.dataset.head) { commit(); touch(); }
});
on("focusin", ({ target }) => {
  if (target.dataset.at) active = place(target);
  for (const row of all("tr.on")) row.classList.remove("on");
  target.closest("tr")?.classList.add("on");
});
on("focusout", () => answer && setTimeout(() => list(answer.findings)));
on("keydown", (event) => event.target.dataset.at && keys(event));
on("paste", (event) => event.target.dataset.at && paste(event));
on("click", ({ target }) => {
  const point = target.closest("#drawing [data-point]");
  if (point && it.tables && active.name === "wires" && [1, 2].includes(active.cell)) {
    put(active, point.dataset.point);
    edited();
  } else acts[target.closest("[data-do]")?.dataset.do]?.();
});
$("#circuit").addEventListener("submit", (event) => keep(event.submitter?.matches("[data-sends]")));

mode("tables");
open();
