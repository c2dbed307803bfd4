// What the buttons below the picture show and ask, the same on every page that plays a show.
const part = (id) => document.getElementById(id);

// Buttons as they are: playing, half speed, repeating, the view.
export function showKeys(clock, view) {
  document.body.classList.toggle("playing", clock.playing);
  part("play").setAttribute("aria-label", clock.playing ? "Pause" : "Play");
  part("play-shape").setAttribute("d", clock.playing ? "M6 4.5h4.5v15H6zM13.5 4.5H18v15h-4.5z" : "M7 4.5v15l12-7.5z");
  part("half").setAttribute("aria-pressed", clock.rate !== 1);
  part("loop").setAttribute("aria-pressed", clock.loop !== null);
  part("loop-bars").hidden = clock.loop === null;
  for (const button of part("views").children) button.setAttribute("aria-pressed", button.dataset.view === view);
  document.body.classList.toggle("turning", view === "orbit");
}

// The loop runs from the first beat of one bar to the end of another.
export function repeatBars(clock, ribbon, on) {
  const { bars, seconds } = ribbon.about, last = bars.length;
  if (!on || !last) { clock.loop = null; return; }
  if (clock.loop === null) {
    const here = Math.max(1, ribbon.bar(clock.position));
    part("loop-from").value = here;
    part("loop-to").value = Math.min(last, here + 3);
  }
  const [from, to] = ["loop-from", "loop-to"].map((id) => Math.min(last, Math.max(1, Math.round(+part(id).value || 1))));
  const end = Math.max(from, to);
  clock.loop = [ribbon.first(bars[from - 1]), end < last ? bars[end] : seconds];
}

// What is told before the lights begin; still: whether this device asks for less motion.
export function warnBefore(text, still, bars) {
  part("warning-text").textContent = (still ? "Your device asks for less motion, and lights in time with music move. " : "") + text;
  part("warning-calm").hidden = !bars.length;
  part("warning").showModal();
}
