// What the page knows. Places are those of the picture in the page; about.scale makes them the photo's.
const byId = (id) => document.getElementById(id);
const about = JSON.parse(byId("about").textContent);
const canvas = byId("photo"), pen = canvas.getContext("2d"), photo = byId("picture"), loupe = byId("loupe");
const state = { points: [], chosen: -1, aim: null, hand: false, past: [], queue: [] };
