// What the page says: cues that are lit, faults over the picture, findings and code in the margin.
import { chooseCue } from "./hands.js";

export const $ = (id) => document.getElementById(id);

export function put(id, text) { if ($(id).textContent !== text) $(id).textContent = text; }

export function element(kind, text = "", className = "") {
  const made = document.createElement(kind);
  made.textContent = text;
  if (className) made.className = className;
  return made;
}

let hinted = 0;
export function hint(text, lasts = 2600) {
  put("hint", text);
  $("hint").hidden = false;
  clearTimeout(hinted);
  if (lasts < 1e6) hinted = setTimeout(() => { $("hint").hidden = true; }, lasts);
}

// A fault: file and place, what was found there, what to write instead.
export function showFaults({ parts }) {
  const faults = parts.faults ?? [];
  $("faults").hidden = !faults.length;
  document.body.classList.toggle("faulty", faults.length > 0);
  put("faults-title", faults.length === 1 ? "One thing to mend" : `${faults.length} things to mend`);
  $("faults-list").replaceChildren(...faults.slice(0, 8).map((fault) => said(fault, [fault.file, fault.place].filter(Boolean).join(", "))));
}

export function showFindings({ parts }) {
  const found = [...(parts.limits ?? []), ...(parts.findings ?? [])];
  $("findings").hidden = !found.length;
  put("findings-title", `Worth a look: ${found.length}`);
  put("found", `${found.length} worth a look`);
  $("found").hidden = !found.length;
  $("findings-list").replaceChildren(...found.map((finding) => said(finding, finding.place)));
}

function said({ found, instead }, where) {
  const row = element("li");
  if (where) row.append(element("small", where));
  row.append(element("p", `${found}.`));
  if (instead) row.append(element("p", instead, "instead"));
  return row;
}

// The code of an effect by itself, each line with when it is worked out and its share of the loop.
export function showCode({ parts }) {
  const { code } = parts;
  $("code").hidden = !code;
  if (!code) return;
  put("code-sum", `${code.loop} operations for every pixel of every frame. The bar behind a line is its share of their cost.`);
  $("code-lines").replaceChildren(...code.lines.map(({ text, when, share }) => {
    const row = element("li"), cost = element("span", share ? `${Math.round(share * 100)} %` : when.startsWith("for") ? "" : when, "cost");
    row.style.setProperty("--share", share);
    if (when) row.title = when;
    row.append(element("code", text || " "), cost);
    return row;
  }));
}

// The cues that are on, topmost first; where a prop is chosen, those that light it at any time.
export function listCues(page, seconds) {
  const { state, parts } = page, all = page.cues(), prop = parts.house?.props[state.prop];
  const lit = all.map((cue, index) => ({ cue, index, span: cue?.spans.find(([start, end]) => seconds >= start && seconds < end) }));
  const listed = lit.filter(({ cue, span }) => cue && (prop ? cue.props.includes(state.prop) : span)).reverse();
  const names = JSON.stringify([state.prop, ...listed.map(({ cue, index }) => [index, cue.name, cue.effect, cue.props.length, cue.pixels])]);
  if (names !== state.listed) {
    state.listed = names;
    put("now-title", prop ? `What lights ${prop[0]}` : "Lit now");
    put("no-cues", prop ? "No cue lights it." : "No cue is on.");
    $("no-cues").hidden = listed.length > 0;
    $("cues").replaceChildren(...listed.map(({ cue, index }) => cueRow(page, cue, index)));
  }
  [...$("cues").children].forEach((row, i) => {
    const { span } = listed[i];
    row.firstChild.style.setProperty("--gone", span ? ((seconds - span[0]) / (span[1] - span[0])).toFixed(2) : 0);
  });
}

function cueRow(page, cue, index) {
  const row = element("li"), button = element("button", cue.name), props = cue.props.length, pixels = cue.pixels.toLocaleString("en");
  button.type = "button";
  button.append(element("small", props ? `${cue.effect} on ${props} prop${props > 1 ? "s" : ""}, ${pixels} pixels` : `${cue.effect}, lights nothing here`));
  button.addEventListener("click", () => chooseCue(page, index));
  row.append(button);
  return row;
}
