// What is usually pointed at: the points of each thing, where they lie, and which of them are level or upright.
const FOUR = ["bottom left", "bottom right", "top right", "top left"];
const UPRIGHTS = [[0, 3], [1, 2]];
const THINGS = [
  { name: "door", points: FOUR, on: ["front"], ground: [0, 1], level: [[3, 2]], upright: UPRIGHTS, ring: true },
  { name: "window", points: FOUR, on: ["front"], level: [[0, 1], [3, 2]], upright: UPRIGHTS, ring: true },
  { name: "wall", points: ["bottom left", "bottom right"], on: ["front"], ground: [0, 1] },
  { name: "eaves", points: ["left", "right"], on: ["front"], level: [[0, 1]] },
  { name: "gable", points: ["left", "top", "right"], on: ["front"], level: [[0, 2]] },
  { name: "garage", points: FOUR, on: ["garage"], ground: [0, 1], level: [[3, 2]], upright: UPRIGHTS, ring: true },
  { name: "ridge", points: ["left", "right"], on: ["roof"], level: [[0, 1]] },
  { name: "arch", points: ["left foot", "right foot"], on: ["ground"] },
  { name: "tree", points: ["foot", "top"], on: [], ground: [0], upright: [[0, 1]] },
  { name: "path", points: ["left", "right"], on: ["ground"] },
];
const PLANES = {
  front: "the front", "front and ground": "foot of the front", ground: "the ground",
  garage: "a wall parallel to the front", "garage and ground": "foot of that wall", roof: "the roof over the front", "": "none of these",
};
const PLANE_LINES = {
  garage: ['name = "garage"', 'parallel = "front"        # how far it stands back or forward is found'],
  roof: ['name = "roof"', 'roof_over = "front"       # its slope is found'],
};
const planesOf = (text) => (text ? text.split(" and ") : []);

// The points of one thing, named and placed; the second window is called "window 2".
function pointsOf(thing, number) {
  const own = number > 1 ? `${thing.name} ${number}` : thing.name;
  return thing.points.map((point, index) => ({
    name: `${own} ${point}`, thing: own, kind: thing.name, index,
    on: [...thing.on, ...((thing.ground || []).includes(index) ? ["ground"] : [])].join(" and "),
  }));
}
