// An answer under one word, one figure and one shape, as large as there is room for.
const $ = (id) => document.getElementById(id);
const FIGURES = [240, 200, 170, 150, 130, 110, 96, 84, 76, 68, 60, 52], TEXTS = [64, 56, 48, 42, 36, 32, 28, 26, 24, 22, 20];
const BEATS = { cut: [80, 60, 80], fill: [250], grade: [40, 40, 40, 40, 40], ask: [400, 120, 400], miss: [600] };

// An amount stays on one line.
export const whole_figures = (text) => text.replace(/(\d) (?=\d|in\b|ft\b|mm\b|m\b|%)/g, "$1\u00a0");

export function show(answer) {
  $("word").textContent = answer.word;
  $("figure").textContent = answer.figure;
  $("shown").textContent = whole_figures(answer.shown);
  $("shape").firstElementChild.setAttribute("href", `#shape-${answer.shape}`);
  fit();
}

export function fit() {
  const box = $("answer"), figure = $("figure"), shown = $("shown");
  const over = () => box.scrollHeight > box.clientHeight + 1 || figure.scrollWidth > box.clientWidth;
  shown.style.fontSize = figure.style.fontSize = "";
  const word = $("word"), head = word.parentElement;
  word.style.fontSize = "";
  for (let size = parseFloat(getComputedStyle(word).fontSize); head.scrollWidth > head.clientWidth && size > 24; size -= 4) word.style.fontSize = `${size}px`;
  const text = parseFloat(getComputedStyle(shown).fontSize);
  if (figure.textContent) {
    for (const size of FIGURES) {
      figure.style.fontSize = `${size}px`;
      for (const small of [text, TEXTS.at(-1)]) { shown.style.fontSize = `${small}px`; if (!over()) return; }
    }
  } else for (const size of TEXTS) { shown.style.fontSize = `${size}px`; if (!over()) return; }
}

export function shake(answer) { navigator.vibrate?.(BEATS[answer.shape] || [100]); }
