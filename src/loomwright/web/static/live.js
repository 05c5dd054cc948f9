// Another tablet's readings as they are saved. Nothing being typed is touched: where somebody
// types, a note with a button waits. The stream is closed while the page is hidden, since a
// browser allows six connections to one host and the seventh tab would hang.

import { address, busy, swap, typed } from "./bench.js";

const AGAIN_MS = 30000;
const WORDS = { reading: "New reading", withdraw: "A reading was taken back", begin: "A repair was begun",
  repair: "A repair was done", reopen: "The job was reopened", finish: "The job was finished", unreached: "A point cannot be reached",
  circuit: "The circuit was changed" };
let stream = null;
let pending = null;
let retry = 0;

const bench = () => document.querySelector(".bench");
const seen = () => Number(bench()?.dataset.last ?? 0);
const writing = () => typed().length > 0 || document.activeElement?.matches("main input, main textarea, main select")
  || document.querySelector(".change")?.open;

function note() {
  let box = document.querySelector("#news");
  if (!pending || pending.last <= seen()) { box?.remove(); pending = null; return; }
  if (!box) {
    box = Object.assign(document.createElement("div"), { id: "news", className: "notice toast" });
    box.setAttribute("role", "status");
    document.querySelector("main").after(box);
  }
  const who = pending.by ? ` by ${pending.by}` : "";
  const button = Object.assign(document.createElement("button"), { type: "button", textContent: "Show" });
  button.addEventListener("click", show);
  box.replaceChildren(`${WORDS[pending.kind] ?? "Something new"}${who} `, button);
}

// Take the page as it is now; while something is typed, with the same reading set up.
async function show() {
  await swap(typed().length ? address() : location.href, false);
  note();
}

function told(event) {
  const news = JSON.parse(event.data);
  if (news.last <= seen()) return;
  pending = news;
  if (busy()) setTimeout(settle, 500);
  else settle();
}

function settle() {
  if (!pending || pending.last <= seen()) return note();
  if (busy()) return setTimeout(settle, 500);
  note(); // at once; the page itself takes as long as the diagnosis
  return writing() ? undefined : show();
}

function open() {
  clearTimeout(retry);
  if (stream || !bench() || document.hidden) return;
  stream = new EventSource(`/jobs/${bench().dataset.job}/events?after=${seen()}`);
  stream.addEventListener("change", told);
  stream.addEventListener("error", () => {
    if (stream?.readyState !== EventSource.CLOSED) return;
    close();
    retry = setTimeout(open, AGAIN_MS);
  });
}

function close() {
  clearTimeout(retry);
  stream?.close();
  stream = null;
}

document.addEventListener("visibilitychange", () => (document.hidden ? close() : open()));
addEventListener("pagehide", close);
addEventListener("pageshow", open);
open();
