// The book so far: its lines, and the job from the side.
import { whole_figures } from "/answer.js";

const $ = (id) => document.getElementById(id), MOST = 200;
const SVG = "http://www.w3.org/2000/svg";
let lines = new Map(), points = [];

export function whole(book) { lines = new Map(); some(book); }

export function some(book) {
  for (const line of book.lines) lines.set(line.sequence, line);
  while (lines.size > MOST) lines.delete(Math.min(...lines.keys()));
  points = book.profile;
  if (!$("book").hidden) draw();
}

export function kept() { return { sequence: 0, lines: [...lines.values()], profile: points }; }

export function draw() {
  const rows = [...lines.values()].sort((a, b) => b.sequence - a.sequence).map((line) => {
    const row = document.createElement("tr");
    row.className = line.stands ? "" : "gone";
    const mark = [line.stands ? "" : "scratched", line.proven ? "" : "unproven"].filter(Boolean).join(", ");
    if (line.reading) {
      const result = cell(whole_figures(mark ? `${line.result}, ${mark}` : line.result));
      row.append(cell(line.station, "figure"), cell(line.reading, "figure"), result);
    } else {
      const note = cell(mark ? `${line.note} (${mark})` : line.note);
      note.colSpan = 3;
      row.append(note);
    }
    return row;
  });
  $("lines").replaceChildren(...rows);
  $("profile-word").textContent = points.length
    ? "Solid: ground. Broken: grade."
    : "No reading against a grade yet.";
  const last = points.at(-1);
  $("profile").setAttribute("aria-label", last ? `The job from the side, ${points.length} stations. Last ${last.station}, ${last.word} ${last.result}` : "No picture yet");
  profile();
}

function cell(text, kind = "") {
  const made = document.createElement("td");
  made.textContent = text;
  made.className = kind;
  return made;
}

function profile() {
  const box = $("profile"), width = box.clientWidth, height = box.clientHeight;
  box.setAttribute("viewBox", `0 0 ${width} ${height}`);
  box.replaceChildren();
  if (!points.length || !width) return;
  const xs = points.map((p) => p.at), ys = points.flatMap((p) => [p.grade, p.ground]);
  const scale = (low, high, from, to) => (v) => (high > low ? from + ((v - low) / (high - low)) * (to - from) : (from + to) / 2);
  const x = scale(Math.min(...xs), Math.max(...xs), 40, width - 40), y = scale(Math.min(...ys), Math.max(...ys), height - 66, 40);
  line("grade", points.map((p) => [x(p.at), y(p.grade)]));
  line("ground", points.map((p) => [x(p.at), y(p.ground)]));
  const room = Math.max(1, Math.ceil(points.length / Math.max(1, Math.floor(width / 110))));
  points.forEach((point, k) => {
    mark(point, x(point.at), y(point.ground));
    if ((points.length - 1 - k) % room) return;
    text(point.station, x(point.at), height - 30, k);
    text(point.result || point.word, x(point.at), height - 6, k);
  });

  function add(kind, settings) {
    const made = document.createElementNS(SVG, kind);
    for (const [name, value] of Object.entries(settings)) made.setAttribute(name, value);
    box.append(made);
    return made;
  }
  function line(kind, places) { add("polyline", { class: kind, points: places.map((p) => p.join()).join(" ") }); }
  function mark(point, left, top) {
    add("use", { href: `#shape-${point.word === "on grade" ? "grade" : point.word || "written"}`, x: left - 20, y: top - 38, width: 40, height: 24 });
    add("circle", { class: "fill", cx: left, cy: top, r: 7 });
  }
  function text(words, left, top, k) {
    const anchor = points.length > 1 && k === 0 ? "start" : points.length > 1 && k === points.length - 1 ? "end" : "middle";
    const at = anchor === "start" ? 4 : anchor === "end" ? width - 4 : left;
    add("text", { x: at, y: top, "text-anchor": anchor }).textContent = words;
  }
}
