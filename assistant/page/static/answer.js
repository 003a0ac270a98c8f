// An answer under one word, one figure and one shape, as large as there is room for.
const $ = (id) => document.getElementById(id);
const FIGURES = [240, 200, 170, 150, 130, 110, 96, 84, 76, 68, 60, 52], TEXTS = [64, 56, 48, 42, 36, 32, 28, 26, 24, 22, 20];
const BEATS = { cut: [80, 60, 80], fill: [250], grade: [40, 40, 40, 40, 40], ask: [400, 120, 400], miss: [600] };

export function show(answer) {
  $("word").textContent = answer.word;
  $("figure").textContent = answer.figure;
  $("shown").textContent = answer.shown;
  $("shape").firstElementChild.setAttribute("href", `#${answer.shape}`);
  fit();
}

export function fit() {
  const box = $("answer"), figure = $("figure"), shown = $("shown");
  const over = () => box.scrollHeight > box.clientHeight + 1 || figure.scrollWidth > box.clientWidth;
  shown.style.fontSize = figure.style.fontSize = "";
  const text = parseFloat(getComputedStyle(shown).fontSize);
  if (figure.textContent) {
    for (const size of FIGURES) { figure.style.fontSize = `${size}px`; if (!over()) return; }
    for (const size of TEXTS.filter((s) => s < text)) { shown.style.fontSize = `${size}px`; if (!over()) return; }
  } else for (const size of TEXTS) { shown.style.fontSize = `${size}px`; if (!over()) return; }
}

export function shake(answer) { navigator.vibrate?.(BEATS[answer.shape] || [100]); }
