// What is written about props and cues, and the marks drawn round what is meant.
function choose(page, prop, pixel = -1) {
  state.prop = prop;
  state.dirty = true;
  $("card").hidden = prop < 0;
  document.body.classList.toggle("asking", prop >= 0);
  if (prop < 0) return;
  const [name, first, count, tags, shape] = about.props[prop], facts = $("card-facts");
  $("card-name").textContent = name;
  const rows = [["Shape", shape], ["Tags", tags.join(", ") || "none"], ["Pixels", `${count.toLocaleString("en")}, from ${first + 1} to ${first + count}`]];
  if (pixel >= 0) rows.push(["Tapped", `pixel ${pixel - first + 1} of its wire`]);
  const boxes = new Set();
  const runs = about.patch.filter(([own]) => own === prop);
  for (const [, at, pixels, universe, slot, channels, box, output] of runs.slice(0, 8)) {
    const where = universe ? `universe ${universe}, slots ${slot} to ${slot + channels - 1}` : "sent nowhere";
    rows.push([runs.length > 1 ? `${at - first + 1} to ${at - first + pixels}` : "Patch", where]);
    boxes.add(box ? `${box}, output ${output}` : "");
  }
  rows.push(["Wired to", [...boxes].filter(Boolean).join("; ")]);
  if (runs.length > 8) rows.push(["", `and ${runs.length - 8} more runs`]);
  facts.replaceChildren(...rows.filter(([, text]) => text).flatMap(([term, text]) => [element("dt", term), element("dd", text)]));
}

function element(kind, text) {
  const made = document.createElement(kind);
  made.textContent = text;
  return made;
}

function showList(page, on) {
  document.body.classList.toggle("listing", on);
  $("list").setAttribute("aria-pressed", on);
  state.listed = "";
  if (!on) { state.chosen = null; state.dirty = true; }
}

// The cues that are on, topmost first, those that only darken others last; choosing one shows what it lights.
function listCues(page, seconds) {
  const on = about.cues.map((cue, index) => ({ cue, index, span: cue.spans.find(([start, end]) => seconds >= start && seconds < end) }))
    .filter(({ span }) => span).reverse().sort((one, other) => (one.cue.darkens ?? 0) - (other.cue.darkens ?? 0));
  const names = on.map(({ index }) => index).join();
  if (names !== state.listed) {
    state.listed = names;
    $("no-cues").hidden = on.length > 0;
    $("cues").replaceChildren(...on.map(({ cue, index }) => cueRow(page, cue, index)));
    if (state.chosen !== null && !on.some(({ index }) => index === state.chosen)) { state.chosen = null; state.dirty = true; }
  }
  [...$("cues").children].forEach((row, i) => {
    const [start, end] = on[i].span;
    row.firstChild.style.setProperty("--gone", ((seconds - start) / (end - start)).toFixed(2));
  });
}

function cueRow(page, cue, index) {
  const row = document.createElement("li"), button = element("button", cue.name);
  button.type = "button";
  button.setAttribute("aria-pressed", state.chosen === index);
  const props = cue.props.length, pixels = cue.pixels.toLocaleString("en");
  button.append(element("small", props ? `${cue.effect} on ${props} prop${props > 1 ? "s" : ""}, ${pixels} pixels` : `${cue.effect}, lights nothing here`));
  button.addEventListener("click", () => {
    state.chosen = state.chosen === index ? null : index;
    for (const other of $("cues").querySelectorAll("button")) other.setAttribute("aria-pressed", other === button && state.chosen !== null);
    state.dirty = true;
  });
  row.append(button);
  return row;
}

// Marks along the wires of what is chosen.
function mark({ stage }) {
  const nothing = state.chosen === null && state.prop < 0;
  stage.unmark(nothing);
  if (nothing) return;
  if (state.chosen !== null) stage.trace(about.cues[state.chosen].runs, "#f3c98bd0");
  if (state.prop >= 0) {
    const [, first, count] = about.props[state.prop];
    stage.trace([[first, count]], "#ffffffe0");
  }
}
