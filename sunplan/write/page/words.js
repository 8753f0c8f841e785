// What is shown, and how it is said; no more is worked out here than which line to pick.
// All text goes in as text, never as markup: names in a plan are whatever people wrote.

const plan = JSON.parse(document.getElementById("data").textContent);
const by = (id) => document.getElementById(id);
const STEPS = plan.clock.length;
const END = plan.start + (STEPS - 1) * plan.every;

const SVG = "http://www.w3.org/2000/svg";
function filled(one, attributes, inside) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined && value !== false) one.setAttribute(name, value);
  }
  one.append(...inside.filter((part) => part !== null && part !== undefined));
  return one;
}
const make = (name, attributes = {}, ...inside) =>
  filled(document.createElement(name), attributes, inside);
const draw = (name, attributes = {}, ...inside) =>
  filled(document.createElementNS(SVG, name), attributes, inside);

// The order of the day first, then what does not fit into it, rooms without a setup, outdoors.
const turns = plan.order.map((one) => one.setup);
const left = plan.setups.map((_, index) => index).filter((index) => !turns.includes(index));
const used = new Set(plan.setups.map((one) => one.room));
const subjects = [
  ...[...turns, ...left].map((index) => ({
    setup: plan.setups[index],
    index,
    room: plan.rooms[plan.setups[index].room],
  })),
  ...plan.rooms.filter((_, index) => !used.has(index)).map((room) => ({ room })),
  ...plan.outdoors.map((out) => ({ out })),
];
const named = (one) => (one.setup || one.out || one.room).name;

const state = { at: 0, subject: subjects[0], sky: 0, units: plan.units, theme: "dark" };

// A phone's own memory, where a file may have one: only how the page looks.
const kept = (name) => {
  try {
    return localStorage.getItem("sunplan " + name);
  } catch {
    return null;
  }
};
const keep = (name, value) => {
  try {
    localStorage.setItem("sunplan " + name, value);
  } catch {
    /* none */
  }
};

const say = (words) => (Array.isArray(words) ? words[state.units === "ft" ? 1 : 0] : words);
// Openings have plain numbers, as on the sheet; marks and setups must not be taken for them.
const markSign = (index) => `M${index + 1}`;
function inTurn(turn) {
  const number = plan.order.indexOf(turn) + 1,
    last = number % 10;
  const teen = number % 100 === last + 10;
  return number + ((!teen && ["th", "st", "nd", "rd"][last]) || "th");
}
const two = (number) => String(number).padStart(2, "0");
const moment = (step) => plan.start + step * plan.every;

// The place's clock, from the step before: the reader's own clock and zone are not asked.
function clockAt(unix) {
  const step = Math.min(STEPS - 1, Math.max(0, Math.floor((unix - plan.start) / plan.every)));
  const minutes = plan.clock[step] + Math.round((unix - moment(step)) / 60);
  const ahead = plan.ahead[step] + Math.floor(minutes / 1440);
  const of = ((minutes % 1440) + 1440) % 1440;
  const date = ahead ? ` ${ahead > 0 ? "+" : "−"}${Math.abs(ahead)} d` : "";
  const offset = plan.offset ? ` (${plan.offset[step]})` : "";
  return `${two(Math.floor(of / 60))}:${two(of % 60)}${date}${offset}`;
}
const stops = (level) => {
  if (level === null) return "no light";
  const text = (Math.abs(level) / 100).toFixed(1);
  return text === "0.0" ? "even" : `${text} ${level > 0 ? "over" : "under"}`;
};
const exact = (level) => make("data", { value: level === null ? "" : level / 100 }, stops(level));
function band([low, high]) {
  const [first, last] = [low, high].map((end) => (Math.abs(end) / 100).toFixed(1));
  if (low < 0 && high > 0) return `${first} under to ${last} over`;
  return low < 0 ? `${last} to ${first} under` : `${first} to ${last} over`;
}
const sunWords = (step) => {
  const [up, way] = plan.sun[step];
  const high = Math.round(Math.abs(up));
  return `sun ${high}° ${up < 0 ? "down" : "up"}, ${way}° ${["N", "NE", "E", "SE", "S", "SW", "W", "NW"][Math.round(way / 45) % 8]}`;
};
const within = (spans, unix) => spans.find(([first, last]) => first <= unix && unix <= last);
