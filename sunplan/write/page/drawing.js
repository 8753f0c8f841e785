// Puts a drawing on the page, and shows on it what changes with the clock. The drawing itself is
// laid out already, in a small size and a large one; `data-of` tells whose its parts are.

const SMALL = 460;

// Sun patches, in millimetres of the floor or of a wall that is laid down.
function pathOf(rings) {
  return rings
    .map((flat) => {
      let d = "";
      for (let i = 0; i < flat.length; i += 2) d += `${i ? "L" : "M"}${flat[i]} ${flat[i + 1]}`;
      return d + "Z";
    })
    .join("");
}

function sunlight(svg, room, step) {
  room.patches.forEach((byStep, opening) => {
    const now = byStep.find(([at]) => at === step);
    for (const [surface, ...rings] of now ? now[1] : []) {
      const name = surface ? room.walls[surface - 1] : "floor";
      const path = draw("path", {
        class: "patch",
        d: pathOf(rings),
        "vector-effect": "non-scaling-stroke",
        "data-surface": name,
        "data-opening": room.openings[opening],
      });
      svg.querySelector(`g[data-surface="${name}"]`).append(path);
    }
  });
}

function openingTags(of, { room, setup }, step) {
  room.openings.forEach((_, index) => {
    const window = setup && setup.windows.find((one) => one.opening === index);
    const words = window ? ` ${stops(window.skies[state.sky].stops[step])}` : "";
    for (const part of of(`opening ${index + 1}`)) {
      const text = part.querySelector("text");
      if (!text) continue;
      text.textContent = `${index + 1}${words}`;
      part.classList.toggle("on", Boolean(within(room.through[index], moment(step))));
    }
  });
}

function marks(of, room, unix) {
  room.marks.forEach((mark, index) => {
    const hit = Boolean(within(mark.hits, unix));
    for (const part of of(`mark ${index + 1}`)) part.classList.toggle("hit", hit);
    if (!hit) for (const part of of(`sun ${index + 1}`)) part.remove();
  });
}

// A flag is black while it stops sun, dashed while it only hangs, and not there at other times.
function flags(of, setup, unix) {
  setup.flags.forEach((flag, number) => {
    const active = Boolean(within(flag.spans, unix));
    const here = flag.places.findIndex(([first, last]) => first <= unix && unix <= last);
    flag.places.forEach((_, place) => {
      for (const part of of(`flag ${number}.${place}`)) {
        const black = part.matches(".flag-edge, .label, .lead");
        if (place !== here || (black && !active)) part.remove();
        else if (part.matches("polygon.flag")) part.classList.toggle("idle", !active);
      }
    });
  });
}

// Where the sun's light comes from, on the dial that shows true north.
function dial(svg, of, step) {
  const [up, way] = plan.sun[step];
  if (up <= 0) return;
  const [x, y] = svg.dataset.dial.split(" ").map(Number);
  const rim = Number(svg.dataset.rim);
  const turn = ((way - plan.planUp) * Math.PI) / 180;
  const at = (far) => [x + far * Math.sin(turn), y - far * Math.cos(turn)];
  const [[x1, y1], [x2, y2], tip] = [at(rim), at(0), at(8 - rim)];
  const side = [5 * Math.cos(turn), 5 * Math.sin(turn)];
  const points = [tip, [x2 + side[0], y2 + side[1]], [x2 - side[0], y2 - side[1]]];
  svg.append(
    draw("line", { class: "arrow", x1, y1, x2, y2 }),
    draw("polygon", { class: "tip", points: points.join(" ") }),
    draw("circle", { class: "tip", cx: x1, cy: y1, r: 5 }),
  );
}

function picture(subject, step, width) {
  const { setup, out, room } = subject;
  const [small, large] = (out || setup || room).drawings;
  const text = width < SMALL ? small : large;
  const whole = text.replace("<svg", `<svg xmlns="${SVG}"`);
  const read = new DOMParser().parseFromString(whole, "image/svg+xml");
  const svg = document.importNode(read.documentElement, true);
  const of = (name) => svg.querySelectorAll(`[data-of="${name}"]`);
  const what = out ? "the site" : room.name;
  svg.setAttribute("role", "img");
  svg.setAttribute(
    "aria-label",
    `${what} from above at ${clockAt(moment(step))}; what it shows is said below`,
  );
  for (const part of of(state.units === "ft" ? "scale m" : "scale ft")) part.remove();
  dial(svg, of, step);
  if (room) {
    sunlight(svg, room, step);
    openingTags(of, subject, step);
    marks(of, room, moment(step));
  }
  if (setup) flags(of, setup, moment(step));
  return svg;
}
