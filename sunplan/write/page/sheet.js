// What pictures are made of: a frame in pixels, signs, words that hide none, a dial.

const points = (ring) => ring.map(([x, y]) => `${x},${y}`).join(" ");
function pathOf(rings) {
  return rings
    .map((flat) => {
      let d = "";
      for (let i = 0; i < flat.length; i += 2) d += `${i ? "L" : "M"}${flat[i]} ${flat[i + 1]}`;
      return d + "Z";
    })
    .join("");
}
const still = { "vector-effect": "non-scaling-stroke" };
const mean = (ring) =>
  [0, 1].map((axis) => ring.reduce((sum, at) => sum + at[axis], 0) / ring.length);

// A plan's metres to the picture: y goes up the sheet; the widest that fits, not taller than wide.
function framed(spots, width, most, margin, above = 0) {
  const low = [0, 1].map((axis) => Math.min(...spots.map((at) => at[axis])));
  const high = [0, 1].map((axis) => Math.max(...spots.map((at) => at[axis])));
  const room = [width - 2 * margin, most - 2 * margin - above];
  const scale = Math.min(room[0] / (high[0] - low[0]), room[1] / (high[1] - low[1]));
  const height = Math.ceil((high[1] - low[1]) * scale + 2 * margin + above);
  const shift = [
    (width - (high[0] - low[0]) * scale) / 2 - low[0] * scale,
    margin + above + high[1] * scale,
  ];
  return {
    width,
    height,
    scale,
    matrix: `matrix(${scale} 0 0 ${-scale} ${shift[0]} ${shift[1]})`,
    put: ([x, y]) => [shift[0] + x * scale, shift[1] - y * scale],
  };
}

// Words are set where they hide no other, as near to what they name as they can be.
function lettering(frame, taken) {
  const shared = (a, b) =>
    Math.max(0, Math.min(a[2], b[2]) - Math.max(a[0], b[0])) *
    Math.max(0, Math.min(a[3], b[3]) - Math.max(a[1], b[1]));
  return (layer, words, at, { away = 10, kind = "" } = {}) => {
    const wide = words.length * 7.2 + 4;
    let best = null;
    for (const far of [away, away * 2, away * 3.5]) {
      for (const [dx, dy] of [
        [0, 1],
        [0, -1],
        [1, 0],
        [-1, 0],
        [1, 1],
        [-1, 1],
        [1, -1],
        [-1, -1],
      ]) {
        const x = at[0] + dx * far + (dx * wide) / 2,
          y = at[1] + dy * (far + 5);
        const box = [x - wide / 2, y - 8, x + wide / 2, y + 8];
        let hidden = taken.reduce((sum, other) => sum + shared(box, other), 0);
        hidden += 16 * wide - shared(box, [0, 0, frame.width, frame.height]);
        if (!best || hidden < best.hidden - 1) best = { hidden, x, y, box };
      }
      if (best.hidden < 1) break;
    }
    taken.push(best.box);
    layer.append(
      draw("text", { x: best.x, y: best.y + 4.5, "text-anchor": "middle", class: kind }, words),
    );
  };
}

function tag(number, at, words, lit) {
  const width = words ? 22 + words.length * 8 : 20;
  return draw(
    "g",
    { class: lit ? "tag on" : "tag" },
    draw("rect", {
      x: at[0] - width / 2,
      y: at[1] - 10,
      width,
      height: 20,
      style: lit ? "fill:var(--sun)" : null,
    }),
    draw(
      "text",
      { x: at[0], y: at[1] + 4.5, "text-anchor": "middle" },
      words ? `${number} ${words}` : String(number),
    ),
  );
}

function arrowed(from, to) {
  const far = Math.hypot(to[0] - from[0], to[1] - from[1]) || 1;
  const [x, y] = [(to[0] - from[0]) / far, (to[1] - from[1]) / far];
  const back = [to[0] - 9 * x, to[1] - 9 * y];
  return [
    draw("line", { class: "arrow", x1: from[0], y1: from[1], x2: back[0], y2: back[1] }),
    draw("polygon", {
      class: "tip",
      points: points([to, [back[0] - 5 * y, back[1] + 5 * x], [back[0] + 5 * y, back[1] - 5 * x]]),
    }),
  ];
}

function scaleBar(frame, layer) {
  const feet = state.units === "ft";
  const length = (feet ? 3 * 304.8 : 1000) * frame.scale;
  const [x, y] = [8, frame.height - 8];
  layer.append(
    draw("path", { class: "plain", d: `M${x} ${y - 5}V${y}H${x + length}V${y - 5}` }),
    draw("text", { x: x + length + 6, y: y + 1, class: "dim" }, feet ? "3 ft" : "1 m"),
  );
  return [x, y - 12, x + length + 44, y + 6];
}

// True north and the way the sun's light goes, from the rim inward.
function dial(step, layer, [x, y]) {
  const rim = 25,
    [up, way] = plan.sun[step];
  const at = (bearing, far) => {
    const turn = ((bearing - plan.planUp) * Math.PI) / 180;
    return [x + far * Math.sin(turn), y - far * Math.cos(turn)];
  };
  const [tick, letter] = [at(0, rim - 6), at(0, rim + 9)];
  const foot = at(0, rim);
  layer.append(
    draw("circle", { class: "plain", cx: x, cy: y, r: rim }),
    draw("line", { class: "plain", x1: tick[0], y1: tick[1], x2: foot[0], y2: foot[1] }),
    draw(
      "text",
      { x: letter[0], y: letter[1] + 4.5, "text-anchor": "middle", class: "strong" },
      "N",
    ),
  );
  if (up > 0) {
    const sun = at(way, rim);
    layer.append(
      ...arrowed(sun, at(way + 180, rim - 10)),
      draw("circle", { class: "tip", cx: sun[0], cy: sun[1], r: 5 }),
    );
  }
  return [x - rim - 16, y - rim - 16, x + rim + 16, y + rim + 16];
}

// A frame with a corner left free for the dial: one that is, or a band above.
function dialled(shapes, width, most, margin) {
  const spots = shapes.flatMap((ring) =>
    ring.flatMap((at, index) => {
      const next = ring[(index + 1) % ring.length];
      return [0, 0.25, 0.5, 0.75].map((share) =>
        [0, 1].map((axis) => at[axis] + share * (next[axis] - at[axis])),
      );
    }),
  );
  const frame = framed(spots, width, most, margin);
  const free = (corner) =>
    Math.min(
      ...spots.map((at) => Math.hypot(...[0, 1].map((axis) => frame.put(at)[axis] - corner[axis]))),
    );
  const corner = [
    [0, 0],
    [1, 0],
    [1, 1],
  ]
    .map(([a, b]) => [a ? frame.width - 42 : 42, b ? frame.height - 42 : 42])
    .find((one) => free(one) > 38);
  return corner ? [frame, corner] : [framed(spots, width, most, margin, 62), [42, 42]];
}
