// Knobs of one cue: sliders, numbers and swatches. A turn is told at once and written nowhere until it is kept.
import { $, element, put } from "./words.js";

const waiting = new Map(), STEPS = 200;
let sending = 0;

// A turn is told at once; several more of one knob within a picture are told as one.
function say(page, cue, knob, value) {
  const message = { do: "turn", cue, knob, value };
  if (!sending) page.link.say(message); else waiting.set(`${cue} ${knob}`, message);
  sending ||= requestAnimationFrame(() => {
    sending = 0;
    const told = [...waiting.values()];
    waiting.clear();
    for (const each of told) page.link.say(each);
  });
}

export function showKnobs(page) {
  const { state, parts } = page, cue = parts[`cue/${state.cue}`], alone = parts.show?.effect;
  if (!cue && state.cue >= 0 && !alone) state.cue = -1;
  $("knobs").hidden = !cue;
  $("list-of-cues").hidden = Boolean(cue);
  $("knobs-back").hidden = alone;
  if (!cue) return;
  put("knobs-title", alone ? cue.effect : cue.name);
  put("knobs-about", alone ? cue.about : `${cue.effect} on ${cue.on}. ${cue.about}`);
  const shape = JSON.stringify([state.cue, state.edit, cue.knobs.map(({ knob, min, max }) => [knob, min, max]), cue.palette.colours.length]);
  if (shape !== state.shape) {
    state.shape = shape;
    $("knobs-list").replaceChildren(...cue.knobs.map((knob) => knobRow(page, knob)));
    $("swatches").replaceChildren(...cue.palette.colours.map((_, at) => swatch(page, at)));
    $("palette").hidden = alone || !cue.palette.colours.length;
  }
  showNames(page, cue.palette.name);
  cue.knobs.forEach((knob, at) => setKnob($("knobs-list").children[at], knob));
  cue.palette.colours.forEach((colour, at) => setValue($("swatches").children[at], colour));
  markTurned(page);
}

// The palettes that have a name; one of a cue's own has none.
function showNames(page, name) {
  const list = $("palette-name"), known = page.parts.palettes ?? [], names = known.includes(name) ? known : [name, ...known], told = names.join("\n");
  if (list.dataset.told !== told) {
    list.dataset.told = told;
    list.replaceChildren(...names.map((each) => Object.assign(element("option", each || "colours of its own"), { value: each })));
    list.onchange = () => { if (list.value) say(page, page.state.cue, "palette", list.value); };
  }
  list.disabled = !page.state.edit;
  if (list.value !== name) list.value = name;
}

function knobRow(page, { knob, name, kind, min, max, unit, about }) {
  const row = element("label", "", "knob"), input = element("input"), head = element("span", "", "head");
  row.dataset.knob = knob;
  head.append(element("span", words(name)), element("output"));
  if (kind === "colour") input.type = "color";
  else Object.assign(input, { type: "range", min: 0, max: STEPS, step: 1 });
  input.disabled = !page.state.edit;
  const cue = () => (page.parts.show.effect ? -1 : page.state.cue);
  input.addEventListener("input", () => { write(row, input, unit); say(page, cue(), knob, kind === "colour" ? input.value : valueAt(row, +input.value)); });
  row.append(head, input);
  if (about) row.append(element("small", about));
  Object.assign(row.dataset, { min, max, unit: unit ?? "" });
  return row;
}

const words = (name) => name.replaceAll("_", " ");

// Where a slider stands, of STEPS, for a value and back. What reaches over two powers of ten goes by ratios, so that small
// values have room too.
const byRatio = ({ min, max }) => +min > 0 && max / min >= 40;

function stepAt({ dataset }, value) {
  const { min, max } = dataset, share = byRatio(dataset) ? Math.log(value / min) / Math.log(max / min) : (value - min) / (max - min);
  return Math.round(STEPS * Math.min(1, Math.max(0, share)));
}

function valueAt({ dataset }, step) {
  const min = +dataset.min, max = +dataset.max, share = step / STEPS;
  if (step <= 0 || step >= STEPS) return step <= 0 ? min : max;
  const value = byRatio(dataset) ? min * (max / min) ** share : min + (max - min) * share;
  const fine = 10 ** Math.floor(Math.log10((byRatio(dataset) ? value : max - min) / 99.9));
  return Number((Math.round(value / fine) * fine).toPrecision(6));
}

function setKnob(row, { value, kind, unit }) {
  const input = row.querySelector("input"), output = row.querySelector("output");
  setValue(input, kind === "number" ? stepAt(row, value) : value);
  if (input.matches(":active")) return;
  output.textContent = kind === "number" ? shown(value, unit) : String(value);
  if (kind === "number") input.setAttribute("aria-valuetext", output.textContent);
}

// A slider that is being dragged stays under the finger, whatever the studio says meanwhile.
function setValue(input, value) {
  if (input.dataset.at === String(value) || input.matches(":active")) return;
  input.dataset.at = value;
  input.value = value;
}

function write(row, input, unit) {
  const text = input.type === "color" ? input.value : shown(valueAt(row, +input.value), unit);
  row.querySelector("output").textContent = text;
  if (input.type === "range") input.setAttribute("aria-valuetext", text);
}

function shown(value, unit) { return `${Number(Number(value).toPrecision(4))}${unit ? ` ${unit}` : ""}`; }

function swatch(page, at) {
  const input = element("input");
  input.type = "color";
  input.disabled = !page.state.edit;
  input.setAttribute("aria-label", `Colour ${at + 1} of the palette`);
  input.addEventListener("input", () => say(page, page.state.cue, `palette.${at}`, input.value));
  return input;
}

// What is turned and not yet kept.
export function showTurned(page) {
  const { edits } = page.parts;
  $("turned").hidden = !edits?.count;
  if (edits?.count) {
    put("turned-text", `${edits.turned.length} knob${edits.turned.length > 1 ? "s" : ""} turned`);
    put("turned-where", `, not in ${edits.file} yet`);
  }
  for (const id of ["undo", "letgo", "keep"]) $(id).disabled = !page.state.edit;
  markTurned(page);
}

function markTurned({ parts, state }) {
  const cue = parts.show?.effect ? -1 : state.cue, turned = new Set((parts.edits?.turned ?? []).filter(([of]) => of === cue).map(([, knob]) => knob));
  for (const row of $("knobs-list").children) row.classList.toggle("turned", turned.has(row.dataset.knob));
}
