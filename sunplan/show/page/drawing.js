// The picture: a room from above with the walls that get sun laid down round it, or the site.

const points = (ring) => ring.map(([x, y]) => `${x},${y}`).join(" ");
function pathOf(rings) {
  return rings.map((flat) => {
    let d = "";
    for (let i = 0; i < flat.length; i += 2) d += `${i ? "L" : "M"}${flat[i]} ${flat[i + 1]}`;
    return d + "Z";
  }).join("");
}
const still = { "vector-effect": "non-scaling-stroke" };
const mean = (ring) => [0, 1].map((axis) => ring.reduce((sum, at) => sum + at[axis], 0) / ring.length);

// Which walls are laid down beside the plan: those the sun lies on at some time of this day, and
// those with a flag before them; each only as high as that goes.
function laidWalls(room, setup) {
  const high = new Map();
  const raise = (wall, height) => high.set(wall, Math.max(high.get(wall) || 0, height));
  for (const opening of room.patches) {
    for (const [, shapes] of opening) {
      for (const [surface, ...rings] of shapes) {
        if (surface) for (const ring of rings) for (let i = 1; i < ring.length; i += 2) raise(surface - 1, ring[i]);
      }
    }
  }
  for (const flag of setup ? setup.flags : []) {
    for (const place of flag.places) {
      for (const [wall, corners] of place.wall || []) for (const at of corners) raise(wall, at[1]);
    }
  }
  for (const opening of room.openings) {
    if (opening.wall !== null && high.has(opening.wall)) raise(opening.wall, opening.face[1] + opening.face[3]);
  }
  return new Map([...high].map(([wall, top]) => [wall, Math.min(room.height, top + 150)]));
}
// A wall laid down flat, its foot toward the room: along it and up it become plan directions.
function laidDown(wall) {
  const [x, y] = wall.way, out = [y, -x];
  return { x, y, out, at: [wall.at[0] + wall.off * out[0], wall.at[1] + wall.off * out[1]] };
}
const onto = (frame, [along, up]) => [0, 1].map((axis) =>
  frame.at[axis] + along * (axis ? frame.y : frame.x) + up * frame.out[axis]);

// A plan's metres to the picture: y goes up the sheet; the widest that fits, not taller than wide.
function framed(spots, width, most, margin, above = 0) {
  const low = [0, 1].map((axis) => Math.min(...spots.map((at) => at[axis])));
  const high = [0, 1].map((axis) => Math.max(...spots.map((at) => at[axis])));
  const room = [width - 2 * margin, most - 2 * margin - above];
  const scale = Math.min(room[0] / (high[0] - low[0]), room[1] / (high[1] - low[1]));
  const height = Math.ceil((high[1] - low[1]) * scale + 2 * margin + above);
  const shift = [(width - (high[0] - low[0]) * scale) / 2 - low[0] * scale, margin + above + high[1] * scale];
  return {
    width, height, scale,
    matrix: `matrix(${scale} 0 0 ${-scale} ${shift[0]} ${shift[1]})`,
    put: ([x, y]) => [shift[0] + x * scale, shift[1] - y * scale],
  };
}

// Words are set where they hide no other, as near to what they name as they can be.
function lettering(frame, taken) {
  const shared = (a, b) =>
    Math.max(0, Math.min(a[2], b[2]) - Math.max(a[0], b[0])) * Math.max(0, Math.min(a[3], b[3]) - Math.max(a[1], b[1]));
  return (layer, words, at, { away = 10, kind = "" } = {}) => {
    const wide = words.length * 7.2 + 4;
    let best = null;
    for (const far of [away, away * 2, away * 3.5]) {
      for (const [dx, dy] of [[0, 1], [0, -1], [1, 0], [-1, 0], [1, 1], [-1, 1], [1, -1], [-1, -1]]) {
        const x = at[0] + dx * far + (dx * wide) / 2, y = at[1] + dy * (far + 5);
        const box = [x - wide / 2, y - 8, x + wide / 2, y + 8];
        let hidden = taken.reduce((sum, other) => sum + shared(box, other), 0);
        hidden += 16 * wide - shared(box, [0, 0, frame.width, frame.height]);
        if (!best || hidden < best.hidden - 1) best = { hidden, x, y, box };
      }
      if (best.hidden < 1) break;
    }
    taken.push(best.box);
    layer.append(draw("text", { x: best.x, y: best.y + 4.5, "text-anchor": "middle", class: kind }, words));
  };
}

function tag(number, at, words, lit) {
  const width = words ? 22 + words.length * 8 : 20;
  return draw("g", { class: lit ? "tag on" : "tag" },
    draw("rect", { x: at[0] - width / 2, y: at[1] - 10, width, height: 20, style: lit ? "fill:var(--sun)" : null }),
    draw("text", { x: at[0], y: at[1] + 4.5, "text-anchor": "middle" }, words ? `${number} ${words}` : String(number)));
}

function arrowed(from, to) {
  const far = Math.hypot(to[0] - from[0], to[1] - from[1]) || 1;
  const [x, y] = [(to[0] - from[0]) / far, (to[1] - from[1]) / far];
  const back = [to[0] - 9 * x, to[1] - 9 * y];
  return [
    draw("line", { class: "arrow", x1: from[0], y1: from[1], x2: back[0], y2: back[1] }),
    draw("polygon", { class: "tip", points: points([to, [back[0] - 5 * y, back[1] + 5 * x], [back[0] + 5 * y, back[1] - 5 * x]]) }),
  ];
}

function scaleBar(frame, layer) {
  const feet = state.units === "ft";
  const length = (feet ? 3 * 304.8 : 1000) * frame.scale;
  const [x, y] = [8, frame.height - 8];
  layer.append(
    draw("path", { class: "plain", d: `M${x} ${y - 5}V${y}H${x + length}V${y - 5}` }),
    draw("text", { x: x + length + 6, y: y + 1, class: "dim" }, feet ? "3 ft" : "1 m"));
  return [x, y - 12, x + length + 44, y + 6];
}

// True north and the way the sun's light goes, from the rim inward.
function dial(step, layer, [x, y]) {
  const rim = 25, [up, way] = plan.sun[step];
  const at = (bearing, far) => {
    const turn = ((bearing - plan.planUp) * Math.PI) / 180;
    return [x + far * Math.sin(turn), y - far * Math.cos(turn)];
  };
  const [tick, letter] = [at(0, rim - 6), at(0, rim + 9)];
  const foot = at(0, rim);
  layer.append(
    draw("circle", { class: "plain", cx: x, cy: y, r: rim }),
    draw("line", { class: "plain", x1: tick[0], y1: tick[1], x2: foot[0], y2: foot[1] }),
    draw("text", { x: letter[0], y: letter[1] + 4.5, "text-anchor": "middle", class: "strong" }, "N"));
  if (up > 0) {
    const sun = at(way, rim);
    layer.append(...arrowed(sun, at(way + 180, rim - 10)), draw("circle", { class: "tip", cx: sun[0], cy: sun[1], r: 5 }));
  }
  return [x - rim - 16, y - rim - 16, x + rim + 16, y + rim + 16];
}

// A frame with a corner left free for the dial: one that is, or a band above.
function dialled(shapes, width, most, margin) {
  const spots = shapes.flatMap((ring) => ring.flatMap((at, index) => {
    const next = ring[(index + 1) % ring.length];
    return [0, 0.25, 0.5, 0.75].map((share) => [0, 1].map((axis) => at[axis] + share * (next[axis] - at[axis])));
  }));
  const frame = framed(spots, width, most, margin);
  const free = (corner) => Math.min(...spots.map((at) => Math.hypot(...[0, 1].map((axis) => frame.put(at)[axis] - corner[axis]))));
  const corner = [[0, 0], [1, 0], [1, 1]].map(([a, b]) => [a ? frame.width - 42 : 42, b ? frame.height - 42 : 42])
    .find((one) => free(one) > 38);
  return corner ? [frame, corner] : [framed(spots, width, most, margin, 62), [42, 42]];
}

function drawRoom(subject, step, width, most) {
  const { room, setup } = subject, unix = moment(step);
  const laid = laidWalls(room, setup);
  const frames = room.walls.map(laidDown);
  const shapes = [room.outline, ...room.openings.map((opening) => opening.glass)];
  for (const [wall, high] of laid) {
    const { length } = room.walls[wall];
    shapes.push([[0, 0], [length, 0], [length, high], [0, high]].map((at) => onto(frames[wall], at)));
  }
  const [frame, corner] = dialled(shapes, width, most, 26);
  const geo = draw("g", { class: "geo", transform: frame.matrix });
  const over = draw("g");
  const taken = [];

  geo.append(draw("polygon", { class: "floor", "data-surface": "floor", points: points(room.outline) }));
  const wallGroup = new Map();
  for (const [wall, high] of laid) {
    const f = frames[wall], length = room.walls[wall].length;
    const foot = [[0, 0], [length, 0]].map((at) => onto(f, at));
    const own = [[0, 0], [length, 0]].map((at) => onto({ ...f, at: room.walls[wall].at }, at));
    for (const end of [0, 1]) {
      geo.append(draw("line", { ...still, class: "tie", x1: own[end][0], y1: own[end][1], x2: foot[end][0], y2: foot[end][1] }));
    }
    const group = draw("g", { transform: `matrix(${f.x} ${f.y} ${f.out[0]} ${f.out[1]} ${f.at[0]} ${f.at[1]})` });
    group.append(draw("rect", { ...still, class: "laid", "data-surface": room.walls[wall].letter, x: 0, y: 0, width: length, height: high }));
    for (const opening of room.openings) {
      if (opening.wall === wall) {
        const [x, y, w, h] = opening.face;
        group.append(draw("rect", { ...still, class: "face", x, y, width: w, height: h }));
      }
    }
    wallGroup.set(wall, group);
    geo.append(group);
  }
  if (setup) geo.append(draw("polygon", { ...still, class: "field", points: points(setup.camera.field) }));

  room.patches.forEach((byStep, opening) => {
    const now = byStep.find(([at]) => at === step);
    for (const [surface, ...rings] of now ? now[1] : []) {
      const letter = surface ? room.walls[surface - 1].letter : "floor";
      const path = draw("path", {
        ...still, class: "patch", d: pathOf(rings), "data-surface": letter, "data-opening": room.openings[opening].name,
      });
      (surface ? wallGroup.get(surface - 1) : geo).append(path);
    }
  });
  geo.append(draw("polygon", { ...still, class: "solid", points: points(room.outline) }));
  for (const opening of room.openings) {
    if (opening.wall === null) {
      for (const ring of [opening.inner, opening.glass]) geo.append(draw("polygon", { ...still, class: "hole", points: points(ring) }));
    } else {
      const [[a, b], [c, d]] = [opening.inner, opening.glass];
      geo.append(
        draw("polygon", { ...still, class: "reveal", points: points([a, b, d, c]) }),
        draw("polyline", { ...still, class: "pane", points: points([c, d]) }));
    }
  }
  if (setup) standing(setup, unix, geo, wallGroup);
  const hit = room.marks.map((mark) => within(mark.hits, unix));
  room.marks.forEach((mark, index) => {
    geo.append(draw("circle", { ...still, class: hit[index] ? "spot hit" : "spot", cx: mark.at[0], cy: mark.at[1], r: mark.radius }));
  });

  // Signs and words, in the picture's own size.
  const letter = lettering(frame, taken);
  taken.push(scaleBar(frame, over), dial(step, over, corner));
  room.openings.forEach((opening, index) => {
    const window = setup && setup.windows.find((one) => one.opening === index);
    const words = window ? stops(window.skies[state.sky].stops[step]) : "";
    const ring = opening.wall === null ? opening.inner : opening.glass.slice(0, 2);
    const [x, y] = frame.put(mean(ring));
    let at = [x, y];
    if (opening.wall !== null && laid.has(opening.wall)) {
      // On the opening itself, where its wall lies flat.
      const [along, sill, wide, high] = opening.face;
      at = frame.put(onto(frames[opening.wall], [along + wide / 2, sill + high / 2]));
    } else if (opening.wall !== null) {
      const { out } = frames[opening.wall];
      at = [x + out[0] * (14 + words.length * 4), y - out[1] * 14];
    }
    const lit = within(room.through[index], unix);
    const half = words ? 11 + words.length * 4 : 10;
    at[0] = Math.min(frame.width - half - 1, Math.max(half + 1, at[0]));
    over.append(tag(index + 1, at, words, lit));
    taken.push([at[0] - half, at[1] - 10, at[0] + half, at[1] + 10]);
  });
  room.walls.forEach((wall, index) => {
    // Inside, past the middle, so that no opening's sign lies there.
    const f = frames[index];
    const inner = [0, 1].map((axis) => wall.at[axis] + 0.12 * wall.length * wall.way[axis]);
    const [x, y] = frame.put(inner);
    const at = [x - 11 * f.out[0], y + 11 * f.out[1]];
    over.append(draw("text", { x: at[0], y: at[1] + 4.5, "text-anchor": "middle", class: "dim strong" }, wall.letter));
    taken.push([at[0] - 7, at[1] - 8, at[0] + 7, at[1] + 8]);
    if (laid.has(index)) {
      const [u, v] = frame.put(onto(f, [wall.length / 2, laid.get(index)]));
      const named = [u + 13 * f.out[0], v - 13 * f.out[1]];
      over.append(draw("text", { x: named[0], y: named[1] + 4.5, "text-anchor": "middle", class: "dim strong" }, wall.letter));
      taken.push([named[0] - 8, named[1] - 8, named[0] + 8, named[1] + 8]);
    }
  });
  // Where a metre is few pixels the signs must do without their names.
  const roomy = frame.scale > 0.06;
  for (const one of room.practicals) {
    const [x, y] = frame.put(one.at);
    over.append(draw("rect", { class: "lamp", x: x - 4, y: y - 4, width: 8, height: 8 }));
    if (roomy) letter(over, one.name, [x, y], { away: 6, kind: "dim" });
  }
  room.marks.forEach((mark, index) => {
    const reach = mark.radius * frame.scale, [x, y] = frame.put(mark.at);
    taken.push([x - reach, y - reach, x + reach, y + reach]);
    over.append(draw("text", { x, y: y + 4.5, "text-anchor": "middle", class: hit[index] ? "strong lit" : "strong" }, String(room.openings.length + index + 1)));
    if (hit[index]) letter(over, "SUN", [x, y], { away: reach + 3, kind: "strong" });
  });
  if (setup) {
    letter(over, "camera", frame.put(setup.camera.at), { away: 8, kind: "dim" });
    if (setup.key && roomy) letter(over, "key", frame.put(setup.key.at), { away: 8, kind: "dim" });
    for (const flag of setup.flags) {
      const place = within(flag.places.map((one) => [one.from, one.to, one]), unix);
      if (place && within(flag.spans, unix)) letter(over, "flag", frame.put(mean(place[2].plan[0])), { away: 8, kind: "strong" });
    }
    if (setup.panel) letter(over, "negative", frame.put(mean(setup.panel)), { away: 8, kind: "strong" });
  }
  return pictured(frame, geo, over, `${room.name} from above at ${clockAt(unix)}; what it shows is said below`);
}

function standing(setup, unix, geo, wallGroup) {
  const { camera, key } = setup;
  const aim = mean(setup.camera.field.slice(0, -1));
  const turn = Math.atan2(aim[1] - camera.at[1], aim[0] - camera.at[0]);
  const nose = [0, 2.5, -2.5].map((part) => [camera.at[0] + 170 * Math.cos(turn + part), camera.at[1] + 170 * Math.sin(turn + part)]);
  geo.append(draw("polygon", { class: "camera", points: points(nose) }));
  if (key) {
    const star = [0, 1, 2, 3, 4, 5].map((part) => [key.at[0] + 110 * Math.cos(part * Math.PI / 3), key.at[1] + 110 * Math.sin(part * Math.PI / 3)]);
    geo.append(draw("polygon", { class: "lamp", points: points(star) }));
    if (key.sheet) geo.append(draw("polygon", { ...still, class: "sheeted", points: points(key.sheet) }));
  }
  for (const flag of setup.flags) {
    for (const place of flag.places) {
      if (unix < place.from || unix > place.to) continue;
      const kind = within(flag.spans, unix) ? "flag" : "flag idle";
      // Twice, a broad light line under the black: it shows on light and dark, and edge on.
      for (const piece of place.plan) {
        const at = points(piece);
        if (kind === "flag") geo.append(draw("polygon", { ...still, class: "flag-edge", points: at }));
        geo.append(draw("polygon", { ...still, class: kind, points: at }));
      }
      for (const [wall, corners] of place.wall || []) {
        wallGroup.get(wall).append(draw("polygon", { ...still, class: "flag idle", points: points(corners) }));
      }
      break;
    }
  }
  if (setup.panel) {
    for (const kind of ["flag-edge", "negative"]) geo.append(draw("polygon", { ...still, class: kind, points: points(setup.panel) }));
  }
}

function drawOutdoors(subject, step, width, most) {
  const { out } = subject, { site } = plan;
  const shapes = [[out.at], ...site.rooms.map(([, ring]) => ring), ...site.blocks.map(([, ring]) => ring)];
  const [frame, corner] = dialled(shapes, width, most, 30);
  const geo = draw("g", { class: "geo", transform: frame.matrix }), over = draw("g"), taken = [];
  for (const [, ring] of site.blocks) geo.append(draw("polygon", { ...still, class: "block", points: points(ring) }));
  for (const [, ring] of site.rooms) geo.append(draw("polygon", { ...still, class: "house", points: points(ring) }));
  const [x, y] = frame.put(out.at);
  // The camera may stand anywhere: only its way is known, so the field opens behind the subject.
  const far = out.looks.map(([dx, dy]) => [x + 90 * dx, y - 90 * dy]);
  over.append(draw("polygon", { class: "field", points: points([[x, y], ...far]) }), draw("circle", { class: "spot", cx: x, cy: y, r: 7 }));
  taken.push([x - 9, y - 9, x + 9, y + 9], scaleBar(frame, over), dial(step, over, corner));
  const letter = lettering(frame, taken);
  letter(over, "subject", [x, y], { away: 9, kind: "strong" });
  for (const [name, ring] of [...site.rooms, ...site.blocks]) letter(over, name, frame.put(mean(ring)), { away: 1, kind: "dim" });
  return pictured(frame, geo, over, `the site from above at ${clockAt(moment(step))}; what it shows is said below`);
}

const pictured = (frame, geo, over, label) =>
  draw("svg", { viewBox: `0 0 ${frame.width} ${frame.height}`, width: frame.width, height: frame.height, role: "img", "aria-label": label }, geo, over);

const picture = (subject, step, width, most) =>
  (subject.out ? drawOutdoors : drawRoom)(subject, step, width, most);
