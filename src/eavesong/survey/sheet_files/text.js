// The survey as text.
const quoted = (text) => JSON.stringify(text).replace(/\u007f/g, "\\u007f");

function surveyText(points, about) {
  const lines = [`title = ${quoted(about.title)}`, "", "[[photo]]", `file = ${quoted(about.file)}`];
  for (const plane of Object.keys(PLANE_LINES)) {
    if (points.some((point) => planesOf(point.on).includes(plane))) lines.push("", "[[plane]]", ...PLANE_LINES[plane]);
  }
  for (const point of points) {
    const planes = planesOf(point.on);
    lines.push("", "[[point]]", `name = ${quoted(point.name)}`,
      `at = [${(point.x * about.scale).toFixed(1)}, ${(point.y * about.scale).toFixed(1)}]`);
    if (planes.length) lines.push(`on = ${planes.length > 1 ? `[${planes.map(quoted).join(", ")}]` : quoted(planes[0])}`);
  }
  for (const { runs, ends } of knownLines(points)) {
    lines.push("", "[[line]]", `points = [${ends.map((point) => quoted(point.name)).join(", ")}]`, `runs = "${runs}"`);
  }
  lines.push("", "# Measure at least three lengths at hand height, better six: a width and a height of the front, and two on the",
    "# ground towards the street, which check each other. Write them without the # in front, as \"2.4 m\" or \"7 ft 10 in\".");
  for (const [one, other] of worthMeasuring(points)) {
    lines.push("# [[measure]]", `# from = ${quoted(one.name)}`, `# to = ${quoted(other.name)}`, '# length = "… m"');
  }
  const edge = knownLines(points).find(({ runs }) => runs === "level");
  if (edge) {
    lines.push("", "# What hangs where, for the layout; docs/survey.md lists the shapes.", "# [[prop]]", '# name = "lights"',
      '# shape = "line"', `# from = ${quoted(edge.ends[0].name)}`, `# to = ${quoted(edge.ends[1].name)}`, '# spacing = "5 cm"');
  }
  return `${lines.join("\n")}\n`;
}

// Pairs of points that are known to be level or upright, of things whose points keep the names they were given.
function knownLines(points) {
  const found = [];
  for (const thing of THINGS) {
    for (const own of new Set(points.filter((point) => point.kind === thing.name).map((point) => point.thing))) {
      const mine = thing.points.map((_, index) => points.find((point) => point.thing === own && point.index === index));
      for (const runs of ["level", "upright"]) {
        for (const [a, b] of thing[runs] || []) if (mine[a] && mine[b]) found.push({ runs, ends: [mine[a], mine[b]] });
      }
    }
  }
  return found;
}

// Pairs of points that a tape can be laid between: sides of a thing, then from the house to what stands before it.
function worthMeasuring(points) {
  const pairs = [];
  for (const [one, other] of [["bottom left", "bottom right"], ["bottom left", "top left"], ["left foot", "right foot"]]) {
    const first = points.find((point) => point.name.endsWith(one));
    const second = first && points.find((point) => point.name === first.name.slice(0, -one.length) + other);
    if (second) pairs.push([first, second]);
  }
  const house = points.filter((point) => point.on === "front and ground"), garden = points.filter((point) => point.on === "ground");
  for (const end of [0, -1]) if (house.length && garden.length > -end) pairs.push([house.at(end), garden.at(end)]);
  return pairs;
}
