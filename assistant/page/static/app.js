// The page: presses in, answers out.
import { fit, shake, show } from "/answer.js";
import * as book from "/book.js";
import { Link } from "/link.js";
import { Microphone } from "/microphone.js";
import { Voice } from "/voice.js";

const $ = (id) => document.getElementById(id);
const TAP = 350, LONGEST = 10000;
const context = new AudioContext();
const voice = new Voice(context), microphone = new Microphone(context, () => state());
const kept = JSON.parse(localStorage.getItem("last") || "null");
let rights = kept?.rights, last = kept?.answer, talking = null, stranger = false;

if (last) show(last);
if (kept) book.whole(kept.book);

const link = new Link({
  state,
  hello(message) {
    rights = message.rights;
    stranger = false;
    book.whole(message.book);
    if (!link.waiting.length) fresh(message.last, false);
  },
  met(paired) { stranger = !paired; state(); },
  answer(answer) { fresh(answer, true); },
  said(message) { if (!talking) fresh(message.answer, true, message.by); },
  book(news) { book.some(news); keep(); },
  sound(data) { voice.take(data); },
  partial(message) { if (talking?.one.number === message.number) $("heard").textContent = `Hearing: ${message.words}`; },
  pause(message) { if (talking?.tap && talking.one.number === message.number) stop(); },
});

function fresh(answer, now, by = "") {
  last = answer;
  $("heard").textContent = answer.heard ? `${by || "Heard"}: ${answer.heard}` : "";
  show(answer);
  if (now) shake(answer);
  keep();
}

// An old figure must not be taken for the answer to what was just said.
function pending() {
  $("heard").textContent = "";
  show({ word: "waiting", figure: "", shape: "tell", shown: "No answer yet." });
}

function type(text) {
  context.resume();
  voice.stop();
  const taken = link.type(text);
  if (taken) pending();
  return taken;
}

function keep() { localStorage.setItem("last", JSON.stringify({ rights, answer: last, book: book.kept() })); }

function state() {
  const count = link.waiting.filter((one) => one.done).length, seconds = Math.round((Date.now() - link.since) / 1000);
  const queue = count ? ` ${count} ${count === 1 ? "sentence waits" : "sentences wait"}.` : "";
  const off = link.busy ? "The machine is busy. Trying again." : seconds >= 30 ? `Not connected for ${seconds} s.` : "Not connected.";
  const connection = stranger ? "Not paired with this machine." : link.connected ? "Connected." : off + queue;
  const log = !rights || rights === "log";
  const words = log ? `${connection} ${talking ? "Listening." : microphone.word}` : `${connection} You may ${rights === "view" ? "look" : "look and listen"}.`;
  for (const id of ["state", "book-state"]) {
    if ($(id).textContent !== words) $(id).textContent = words;
    $(id).classList.toggle("trouble", !link.connected);
  }
  document.body.dataset.connected = link.connected;
  document.body.dataset.waiting = link.waiting.length;
  for (const id of ["button", "scratch", "type"]) $(id).disabled = !log && !(stranger && id === "button");
  $("again").disabled = link.waiting.length > 0;
  const button = $("button");
  button.classList.toggle("on", Boolean(talking));
  button.setAttribute("aria-pressed", Boolean(talking));
  const word = stranger ? "Pair this phone" : !log ? "Only looking" : talking ? (talking.tap ? "Listening. Tap to end" : "Listening. Let go to end")
    : link.waiting.length && link.connected ? "Working…" : "Hold, or tap, and talk";
  if ($("button-word").textContent !== word) $("button-word").textContent = word;
}

async function start() {
  if (stranger) { location.assign("/pair"); return; }
  if (talking) { stop(); return; }
  context.resume();
  const fresh = voice.speaking || performance.now() - voice.quietSince < 400;
  voice.stop();
  stayAwake();
  if (!microphone.ready) { await microphone.open(); return; }
  const one = link.begin();
  if (!one) return;
  pending();
  talking = { one, at: performance.now(), tap: false, timer: setTimeout(stop, LONGEST) };
  microphone.start((samples) => link.add(one, samples), () => { link.end(one); state(); }, fresh);
  state();
}

function stop() {
  if (!talking) return;
  clearTimeout(talking.timer);
  talking = null;
  microphone.stop();
  state();
}

function release() {
  if (!talking || talking.tap) return;
  if (performance.now() - talking.at < TAP) { talking.tap = true; state(); } else stop();
}

const button = $("button");
button.addEventListener("pointerdown", (event) => { if (event.button === 0 && !button.disabled) { button.setPointerCapture(event.pointerId); start(); } });
button.addEventListener("pointerup", release);
button.addEventListener("pointercancel", release);
button.addEventListener("contextmenu", (event) => event.preventDefault());
button.addEventListener("keydown", (event) => { if ((event.key === " " || event.key === "Enter") && !event.repeat) { event.preventDefault(); start(); } });
button.addEventListener("keyup", (event) => { if (event.key === " " || event.key === "Enter") { event.preventDefault(); release(); } });
button.addEventListener("click", (event) => { if (event.detail === 0 && !event.pointerType) { start().then(() => { if (talking) { talking.tap = true; state(); } }); } });
for (const action of ["play", "pause"]) navigator.mediaSession?.setActionHandler(action, () => start().then(() => { if (talking) { talking.tap = true; state(); } }));

$("again").addEventListener("click", () => { context.resume(); voice.again(); if (last) shake(last); });
$("scratch").addEventListener("click", () => type("scratch that"));
$("type").addEventListener("click", () => screen("typing"));
$("open-choices").addEventListener("click", () => screen("choices"));
$("open-book").addEventListener("click", () => screen("book"));
for (const back of document.querySelectorAll(".back")) back.addEventListener("click", () => screen("talk"));
$("typing").addEventListener("submit", (event) => {
  event.preventDefault();
  const text = $("text").value.trim();
  if (text && type(text)) { $("text").value = ""; screen("talk"); }
});
new ResizeObserver(() => fit()).observe($("answer"));
addEventListener("resize", () => { if (!$("book").hidden) book.draw(); });
addEventListener("beforeunload", (event) => { if (link.waiting.length) event.preventDefault(); });

function screen(name) {
  for (const id of ["talk", "typing", "book", "choices"]) $(id).hidden = id !== name;
  if (name === "book") book.draw();
  if (name === "typing") $("text").focus();
  if (name === "talk") { fit(); $("button").focus({ focusVisible: false }); }
}

const chosen = JSON.parse(localStorage.getItem("chosen") || "{}");
if (chosen.night === undefined) chosen.night = matchMedia("(prefers-color-scheme: dark)").matches;
function dress() {
  document.documentElement.classList.toggle("night", chosen.night);
  $("talk").classList.toggle("other", Boolean(chosen.other));
  voice.on = !chosen.quiet;
  $("night").textContent = chosen.night ? "Day" : "Night";
  $("sound").textContent = chosen.quiet ? "Sound on" : "Sound off";
}
for (const [id, name] of [["night", "night"], ["sound", "quiet"], ["hand", "other"]]) {
  $(id).addEventListener("click", () => { chosen[name] = !chosen[name]; localStorage.setItem("chosen", JSON.stringify(chosen)); dress(); });
}
dress();

let lock = null;
async function stayAwake() {
  if (lock || !navigator.wakeLock) return;
  lock = await navigator.wakeLock.request("screen").catch(() => null);
  lock?.addEventListener("release", () => { lock = null; });
}
document.addEventListener("visibilitychange", () => { if (!document.hidden) stayAwake(); });
stayAwake();
document.fonts.ready.then(fit);
state();
if ("serviceWorker" in navigator) navigator.serviceWorker.register("/sw.js").catch(() => {});
