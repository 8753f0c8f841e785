// Picks from what was worked out and draws it; nothing physical is worked out here.
// All text goes in as text, never as markup: names in a plan are whatever people wrote.
"use strict";
(() => {
  const plan = JSON.parse(document.getElementById("data").textContent);
  const by = (id) => document.getElementById(id);
  const STEPS = plan.clock.length;
  const END = plan.start + (STEPS - 1) * plan.every;

  // ---- Elements -------------------------------------------------------------------------------

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

  // ---- What is shown --------------------------------------------------------------------------

  // The order of the day first, then what does not fit into it, rooms without a setup, outdoors.
  const turns = plan.order.map((one) => one.setup);
  const left = plan.setups.map((_, index) => index).filter((index) => !turns.includes(index));
  const used = new Set(plan.setups.map((one) => one.room));
  const subjects = [
    ...[...turns, ...left].map((index) => ({ setup: plan.setups[index], index, room: plan.rooms[plan.setups[index].room] })),
    ...plan.rooms.filter((_, index) => !used.has(index)).map((room) => ({ room })),
    ...plan.outdoors.map((out) => ({ out })),
  ];
  const named = (one) => (one.setup || one.out || one.room).name;

  const state = { at: 0, subject: subjects[0], sky: 0, units: plan.units, theme: "dark" };

  // A phone's own memory, where a file may have one: only how the page looks.
  const kept = (name) => { try { return localStorage.getItem("sunplan " + name); } catch { return null; } };
  const keep = (name, value) => { try { localStorage.setItem("sunplan " + name, value); } catch { /* none */ } };

  // ---- Words ----------------------------------------------------------------------------------

  const say = (words) => (Array.isArray(words) ? words[state.units === "ft" ? 1 : 0] : words);
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
    return text === "0.0" ? text : (level > 0 ? "+" : "−") + text;
  };
  const exact = (level) => make("data", { value: level === null ? "" : level / 100 }, stops(level));
  const band = (ends) => `${stops(ends[0])} to ${stops(ends[1])}`;
  const sunWords = (step) => {
    const [up, way] = plan.sun[step];
    const high = Math.round(Math.abs(up));
    return `sun ${high}° ${up < 0 ? "down" : "up"}, ${way}° ${["N", "NE", "E", "SE", "S", "SW", "W", "NW"][Math.round(way / 45) % 8]}`;
  };
  const within = (spans, unix) => spans.find(([first, last]) => first <= unix && unix <= last);

  // ---- The drawing ----------------------------------------------------------------------------

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
    room.marks.forEach((mark, index) => {
      const reach = mark.radius * frame.scale, [x, y] = frame.put(mark.at);
      taken.push([x - reach, y - reach, x + reach, y + reach]);
      over.append(draw("text", { x, y: y + 4.5, "text-anchor": "middle", class: hit[index] ? "strong lit" : "strong" }, String(room.openings.length + index + 1)));
      if (hit[index]) letter(over, "SUN", [x, y], { away: reach + 3, kind: "strong" });
    });
    // Where a metre is few pixels the signs must do without their names.
    const roomy = frame.scale > 0.06;
    if (setup) {
      letter(over, "camera", frame.put(setup.camera.at), { away: 8, kind: "dim" });
      if (setup.key && roomy) letter(over, "key", frame.put(setup.key.at), { away: 8, kind: "dim" });
      for (const flag of setup.flags) {
        const place = within(flag.places.map((one) => [one.from, one.to, one]), unix);
        if (place && within(flag.spans, unix)) letter(over, "flag", frame.put(mean(place[2].plan[0])), { away: 8, kind: "strong" });
      }
      if (setup.panel) letter(over, "negative", frame.put(mean(setup.panel)), { away: 8, kind: "strong" });
    }
    for (const one of room.practicals) {
      const [x, y] = frame.put(one.at);
      over.append(draw("rect", { class: "lamp", x: x - 4, y: y - 4, width: 8, height: 8 }));
      if (roomy) letter(over, one.name, [x, y], { away: 6, kind: "dim" });
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
    for (const [, ring] of site.rooms) geo.append(draw("polygon", { ...still, class: "floor solid", points: points(ring) }));
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

  // ---- Where the sun is, in words -------------------------------------------------------------

  function goTo(unix, up) {
    const step = (unix - plan.start) / plan.every;
    const to = Math.min(STEPS - 1, Math.max(0, up ? Math.ceil(step) : Math.floor(step)));
    return make("button", { type: "button", class: "go", "data-step": to, "aria-label": `go to ${clockAt(unix)}` }, clockAt(unix));
  }

  function spansSaid(spans, onPaper) {
    const out = [];
    spans.forEach(([first, last], index) => {
      const [from, to] = onPaper ? [clockAt(first), clockAt(last)] : [goTo(first, true), goTo(last, false)];
      out.push(index ? ", " : "", make("span", { class: "span" }, from, " – ", to));
    });
    return out;
  }

  function lies(subject, step, onPaper) {
    const { room, setup } = subject, unix = moment(step), rows = [];
    const sign = (text, kind, lit) => make("span", { class: `sign ${kind} ${lit ? "lit" : ""}`, "aria-hidden": "true" }, text);
    const row = (mark, name, ...said) => make("div", {}, make("dt", {}, mark, make("span", {}, name)), ...said.filter(Boolean).map((one) => make("dd", {}, ...one)));
    const marks = room.marks.map((mark, index) => ({ mark, index }));
    // The setup's own mark first: it is what one asks about.
    marks.sort((one, other) => (setup ? (other.index === setup.mark) - (one.index === setup.mark) : 0));
    for (const { mark, index } of marks) {
      const hit = mark.hits.filter(([first, last]) => first <= unix && unix <= last);
      const names = hit.map((one) => room.openings[one[3]].name).join(" and ");
      const said = hit.length ? `SUN ON IT, through ${names}` : "no sun on it";
      rows.push(row(sign(room.openings.length + index + 1, "round", hit.length), mark.name,
        [make("span", { class: "state" }, said)],
        mark.hits.length ? ["this day ", ...spansSaid(mark.hits, onPaper)] : ["none this day"]));
    }
    room.openings.forEach((opening, index) => {
      const number = room.lands[index][step];
      const said = number < 0 ? "no sun through it" : `sun through it, on ${say(room.said[number])}`;
      const window = setup && setup.windows.find((one) => one.opening === index);
      const level = window && `${stops(window.skies[state.sky].stops[step])} stops, ${plan.skies[state.sky]} sky; wanted ${band(window.wanted)}`;
      const spans = room.through[index];
      rows.push(row(sign(index + 1, "", number >= 0), opening.name,
        [make("span", { class: "state" }, said)], level && [level],
        spans.length ? ["this day ", ...spansSaid(spans, onPaper)] : ["no sun this day"]));
    });
    return rows;
  }

  // What a change of time comes to, in one breath.
  function spoken() {
    const { room, setup, out } = state.subject, step = state.at, unix = moment(step);
    const said = [`${clockAt(unix)}, ${sunWords(step)}.`];
    if (out) return said.join(" ");
    room.marks.forEach((mark) => { if (within(mark.hits, unix)) said.push(`Sun on ${mark.name}.`); });
    room.openings.forEach((opening, index) => {
      const number = room.lands[index][step];
      if (number >= 0) said.push(`Through ${opening.name}: ${say(room.said[number])}.`);
    });
    if (said.length === 1) said.push(`No sun in ${room.name}.`);
    for (const window of setup ? setup.windows : []) {
      said.push(`${room.openings[window.opening].name} ${stops(window.skies[state.sky].stops[step])} stops.`);
    }
    return said.join(" ");
  }

  // ---- Cards ----------------------------------------------------------------------------------

  const list = (kind, lines) => (lines.length ? make("ul", { class: kind }, ...lines.map((line) => make("li", {}, line))) : null);
  const part = (title, ...inside) => {
    const some = inside.flat().filter(Boolean);
    return some.length ? [make("h3", {}, title), ...some] : [];
  };
  const cared = (lines) => (lines.length
    ? [make("h3", { class: "care-title" }, "Take care"), make("div", { class: "care" }, list("plainly", lines))] : []);

  function tabled({ head, rows }) {
    return make("table", { class: head.length > 5 ? "many" : null },
      make("thead", {}, make("tr", {}, ...head.map((cell) => make(cell ? "th" : "td", cell ? { scope: "col" } : {}, cell)))),
      make("tbody", {}, ...rows.map((row) => make("tr", {}, ...row.map((cell) => make("td", {}, say(cell) === "[ ]" ? "☐" : say(cell)))))));
  }

  // Lines with their indents become lists in lists; "or" lines fold away under the one to take.
  function nested(lines) {
    const flow = [];
    let open = [], others = null;
    for (const line of lines) {
      if (line.head) {
        flow.push(tabled(line));
        open = [];
        continue;
      }
      if (!open.length) {
        flow.push(make("ul", { class: "lines" }));
        open.push({ deep: -1, list: () => flow[flow.length - 1] });
      }
      while (open.length > 1 && line.in <= open[open.length - 1].deep) open.pop();
      if (others && line.in < others.deep) others = null;
      const words = say(line.say);
      let into = open[open.length - 1].list();
      if (words.startsWith("or: ")) {
        if (!others) {
          const inside = make("ul");
          into.append(make("li", {}, make("details", {}, make("summary", {}, "other ways"), inside)));
          others = { deep: line.in, list: inside };
        }
        into = others.list;
      }
      const item = make("li", {}, words.startsWith("take ") ? make("b", {}, words) : words);
      into.append(item);
      let under = null;
      open.push({
        deep: line.in,
        list: () => {
          if (!under) { under = make("ul"); item.append(under); }
          return under;
        },
      });
    }
    return flow;
  }

  function look(setup, step) {
    const room = plan.rooms[setup.room], sky = state.sky, face = setup.face[sky], wants = setup.wants;
    const rows = setup.windows.map((window) => {
      const one = window.skies[sky], lose = one.lose[step];
      return [room.openings[window.opening].name, one.stops[step], band(window.wanted),
        [lose ? `lose ${(lose / 100).toFixed(1)}: ` : "", setup.advice[one.do[step]]], Boolean(lose)];
    });
    const against = (level, [low, high], over, under) =>
      level === null || level < low ? under : level > high ? over : "there";
    for (const [name, level, ends, wanted, ...ways] of [
      ["face, key side", face.key[step], [-5, 5], "0.0", "too bright: dim the lamp or close the lens", "too dark: more lamp or a wider stop"],
      ["face, fill side", face.fill[step], wants.fill, band(wants.fill), "too bright: less daylight, or negative", "darker than wanted"],
      ["wall behind", face.wall[step], wants.wall, band(wants.wall), "too bright: keep light off it", "darker than wanted"],
    ]) {
      const told = against(level, ends, ...ways);
      rows.push([name, level, wanted, told, told !== "there"]);
    }
    const ratio = face.ratio[step] === null ? "∞" : (face.ratio[step] / 100).toFixed(1);
    const wish = wants.ratio === null ? "" : `, wanted ${wants.ratio / 100}`;
    return [
      make("table", {},
        make("thead", {}, make("tr", {}, ...["what", "stops", "wanted", "do"].map((cell) => make("th", { scope: "col" }, cell)))),
        make("tbody", {}, ...rows.map(([name, level, wanted, todo, off]) => make("tr", {},
          make("th", { scope: "row" }, name), make("td", { class: off ? "off" : null }, exact(level)), make("td", {}, wanted), make("td", {}, ...[todo].flat()))))),
      make("p", { class: "soft" }, `key to fill ${ratio} : 1${wish}. Windows over mid-grey; face and wall from key (${wants.key} lx), lamp at full.`),
      list("plainly", setup.look),
    ];
  }

  function relook(setup, step, into) {
    into.replaceChildren(make("h3", {}, `The look at ${clockAt(moment(step))}, ${plan.skies[state.sky]} sky`), ...look(setup, step));
  }

  function card(subject, step, into, id) {
    const { setup, out, room } = subject, words = setup || out;
    const title = make("h2", { id }, named(subject));
    if (!words) {
      into.replaceChildren(title, make("p", {}, `No setup in ${room.name}.`));
      return;
    }
    const lines = make("details", {}, make("summary", {}, "camera, exposure, lamp"), ...nested(words.lines));
    if (out) {
      into.replaceChildren(title, make("p", {}, out.line), lines, ...nested(out.told),
        make("details", {}, make("summary", {}, "what the words mean"), ...nested(out.notes)), ...cared(words.care));
      return;
    }
    const shown = make("div", { class: "look" });
    relook(setup, step, shown);
    into.replaceChildren(title,
      make("p", {}, setup.line),
      make("ul", { class: "lines turn" }, ...setup.turn.map((line) => make("li", {}, line))),
      lines,
      shown,
      ...part("Rig in its turn", list("plainly", setup.rig)),
      ...part("Flags, from call to wrap", setup.hung.length ? nested(setup.hung) : null,
        setup.notes.length ? make("details", {}, make("summary", {}, "how sure the times are"), ...nested(setup.notes)) : null),
      ...part("Negative", setup.negative.length ? nested(setup.negative) : null),
      ...part("Key", setup.lamp.length ? make("details", {}, make("summary", {}, say(setup.lamp[0].say)), ...nested(setup.lamp.slice(1))) : null),
      ...part("Takes", list("plainly", setup.takes)),
      ...cared(words.care));
  }

  // ---- The strip ------------------------------------------------------------------------------

  function strip() {
    const svg = by("rows"), width = by("strip").clientWidth;
    if (!width) return;
    const { room } = state.subject;
    const wide = width > 640;
    const edge = wide ? 190 : 26;
    const x = (unix) => edge + ((Math.min(END, Math.max(plan.start, unix)) - plan.start) / (END - plan.start)) * (width - edge - 8);
    const rows = [], high = 15;
    const parts = [];
    let y = 0;
    const bar = (spans, kind, at) => spans.forEach(([first, last, sure]) => {
      if (sure) parts.push(draw("line", { class: "maybe", x1: x(sure[0]), x2: x(sure[1]), y1: at + high / 2, y2: at + high / 2 }));
      parts.push(draw("rect", { class: `bar ${kind}`, x: x(first), y: at + 3, width: Math.max(1, x(last) - x(first)), height: high - 6 }));
    });
    // Night, twilight, day; a polar day or night is one of them throughout.
    const m = plan.moments;
    const bands = [[plan.start, END, plan.always === "up" ? "daylit" : "night"]];
    if (plan.always !== "up") {
      const ends = (first, last) => (first === null && last === null ? null : [first === null ? plan.start : first, last === null ? END : last]);
      for (const [pair, kind] of [[ends(m.civil_dawn, m.civil_dusk), "gloam"], [ends(m.rise, m.set), "daylit"]]) {
        if (pair) bands.push([...pair, kind]);
      }
    }
    for (const [first, last, kind] of bands) parts.push(draw("rect", { class: kind, x: x(first), y: 0, width: x(last) - x(first), height: 10 }));
    y = 10;
    // Hours, as many as there is room for.
    const hours = [];
    for (let step = 0; step < STEPS; step += 1) if (plan.clock[step] % 60 === 0) hours.push(step);
    const every = Math.ceil(hours.length / ((width - edge) / 34));
    hours.forEach((step, index) => {
      parts.push(draw("line", { class: "rule", x1: x(moment(step)), x2: x(moment(step)), y1: 0, y2: 400 }));
      if (index % every === 0) {
        const at = Math.min(width - 8, x(moment(step)));
        parts.push(draw("text", { x: at, y: y + 12, "text-anchor": "middle", class: "dim" }, two(Math.floor(plan.clock[step] / 60))));
      }
    });
    y += 16;
    if (room) {
      room.openings.forEach((opening, index) => rows.push([String(index + 1), opening.name, room.through[index], ""]));
      room.marks.forEach((mark, index) => rows.push([String(room.openings.length + index + 1), mark.name, mark.hits, "of-mark"]));
    }
    for (const [number, name, spans, kind] of rows) {
      const words = wide ? `${number} ${shortened(name, 24)}` : number;
      parts.push(draw("text", { x: 2, y: y + 12, class: kind ? "strong" : "" }, words));
      bar(spans, kind, y);
      y += high;
    }
    if (plan.order.length) {
      parts.push(draw("text", { x: 2, y: y + 14 }, wide ? "shot" : ""));
      for (const turn of plan.order) {
        const [first, last] = turn.shoot.map(x), name = plan.setups[turn.setup].name;
        parts.push(
          draw("rect", { class: "rigged", x: x(turn.rig), y: y + 4, width: Math.max(1, first - x(turn.rig)), height: 12 }),
          draw("rect", { class: "shot", x: first, y: y + 1, width: Math.max(2, last - first), height: 18 }));
        const number = String(plan.order.indexOf(turn) + 1), whole = `${number} ${name}`;
        const words = whole.length * 7 < last - first - 6 ? whole : last - first > 9 ? number : "";
        parts.push(draw("text", { x: (first + last) / 2, y: y + 14, "text-anchor": "middle" }, words));
      }
      y += 20;
    }
    const now = Date.now() / 1000;
    if (now >= plan.start && now <= END) {
      const at = x(now);
      parts.push(draw("line", { class: "now", x1: at, x2: at, y1: 0, y2: y }),
        draw("text", { class: "of-now", x: Math.min(at + 3, width - 26), y: 22 }, "now"));
    }
    const at = x(moment(state.at));
    parts.push(draw("line", { class: "cursor", x1: at, x2: at, y1: 0, y2: y }), draw("circle", { cx: at, cy: 5, r: 5, style: "fill:var(--ink);stroke:var(--sheet)" }));
    svg.setAttribute("viewBox", `0 0 ${width} ${y}`);
    svg.setAttribute("height", y);
    svg.replaceChildren(...parts);
    strips = { edge, width, orderFrom: plan.order.length ? y - 20 : Infinity };
  }
  let strips = { edge: 0, width: 1, orderFrom: Infinity };
  const shortened = (name, most) => (name.length <= most ? name : name.slice(0, Math.max(0, most - 1)) + "…");

  // ---- Putting it on the page -----------------------------------------------------------------

  let toSay = 0;
  function show({ quiet = false, anew = false } = {}) {
    const { subject, at } = state;
    by("view-title").textContent = subject.out ? `${subject.out.name}: the site` : subject.room.name;
    const box = by("drawing"), width = Math.max(240, box.clientWidth);
    const most = Math.max(300, Math.min(width * 1.15, window.innerHeight * 0.72));
    box.replaceChildren(picture(subject, at, width, most));
    by("signs").textContent = subject.out
      ? "The wedge is what the camera sees past the subject; the arrow in the dial is the sun's light."
      : "Walls that the sun reaches are laid down outward, as if the room were a box unfolded. A number in a square is an opening, yellow while sun comes in, with its stops if it is in frame; in a circle, a mark. The wedge is what the camera sees. Black is a flag that stops sun now or a negative; dashed, a flag that waits. Orange is lamps. The arrow in the dial is the sun's light.";
    const sun = by("sun");
    sun.hidden = Boolean(subject.out);
    by("sun-title").textContent = `Sun at ${clockAt(moment(at))}`;
    // A button that is pressed must still be there afterwards.
    const held = document.activeElement && document.activeElement.classList.contains("go")
      ? [...by("lies").querySelectorAll(".go")].indexOf(document.activeElement) : -1;
    by("lies").replaceChildren(...(subject.out ? [] : lies(subject, at, false)));
    if (held >= 0) by("lies").querySelectorAll(".go")[held].focus();
    const shown = by("card").querySelector(".look");
    if (anew || !shown) card(subject, at, by("card"), "card-title");
    else relook(subject.setup, at, shown);
    by("time").textContent = clockAt(moment(at));
    by("stands").textContent = sunWords(at);
    const scrub = by("scrub");
    scrub.value = at;
    scrub.setAttribute("aria-valuetext", `${clockAt(moment(at))}, ${sunWords(at)}`);
    strip();
    // Said once the hand rests, not at every step on the way.
    clearTimeout(toSay);
    if (!quiet) toSay = setTimeout(() => { by("said").textContent = spoken(); }, 500);
  }

  function setups() {
    by("setups").replaceChildren(...subjects.map((subject) => {
      const turn = subject.setup && plan.order.find((one) => one.setup === subject.index);
      const small = turn ? `${clockAt(turn.shoot[0])}, ${subject.room.name}`
        : subject.setup ? `does not fit, ${subject.room.name}` : subject.out ? "outdoors" : "no setup";
      const button = make("button", { type: "button", "aria-pressed": String(subject === state.subject) },
        make("b", {}, (turn ? `${plan.order.indexOf(turn) + 1} ` : "") + named(subject)), make("small", {}, small));
      button.addEventListener("click", () => {
        pick(subject);
      });
      return make("li", {}, button);
    }));
  }

  function pick(subject) {
    state.subject = subject;
    [...by("setups").querySelectorAll("button")].forEach((one, index) => one.setAttribute("aria-pressed", String(subjects[index] === subject)));
    show({ anew: true });
  }

  function choice(id, options, chosen, changed) {
    for (const [value, words] of options) {
      const input = make("input", { type: "radio", name: id, value, checked: value === chosen ? "" : null });
      input.addEventListener("change", () => changed(value));
      by(id).append(make("label", {}, input, make("span", {}, words)));
    }
    by(id).hidden = options.length < 2;
  }

  function whole() {
    const { day } = plan;
    const folded = (title, ...inside) => {
      const some = inside.flat().filter(Boolean);
      return some.length ? make("details", {}, make("summary", {}, make("h3", {}, title)), ...some) : null;
    };
    by("whole").replaceChildren(...[
      make("p", {}, day.sun),
      folded("Order", nested(day.order)),
      folded("Pack", nested(day.pack)),
      folded("Skies", list("plainly", day.models)),
      folded("Take care", make("div", { class: "care" }, list("plainly", day.care))),
    ].filter(Boolean));
  }

  function toStep(step) {
    const next = Math.min(STEPS - 1, Math.max(0, step));
    if (next !== state.at) { state.at = next; show(); }
  }
  const nowStep = () => Math.round((Date.now() / 1000 - plan.start) / plan.every);

  function onPaper() {
    const main = document.querySelector("main");
    by("whole").querySelectorAll("details").forEach((one) => { one.open = true; });
    main.querySelectorAll(".sheet").forEach((one) => one.remove());
    subjects.forEach((subject, index) => {
      const turn = subject.setup && plan.order.find((one) => one.setup === subject.index);
      const step = turn ? Math.round(((turn.shoot[0] + turn.shoot[1]) / 2 - plan.start) / plan.every) : state.at;
      const about = make("div", { class: "words" });
      card(subject, step, about, `sheet-${index}`);
      about.querySelectorAll("details").forEach((one) => { one.open = true; });
      const title = about.querySelector("h2");
      const rows = subject.out ? [] : [make("h3", {}, `Sun at ${clockAt(moment(step))}, ${sunWords(step)}`), make("dl", { class: "lies" }, ...lies(subject, step, true))];
      main.insertBefore(make("section", { class: "sheet" }, title, picture(subject, step, 640, 430), ...rows, about), by("day"));
    });
  }

  // ---- Start ----------------------------------------------------------------------------------

  document.title = `${plan.location}, ${plan.date}: daylight plan`;
  by("place").textContent = plan.location;
  by("date").textContent = `${plan.dateSaid}, clock of ${plan.zone}`;
  for (const name of ["units", "theme"]) { const old = kept(name); if (["m", "ft", "dark", "light"].includes(old)) state[name] = old; }
  document.documentElement.dataset.theme = state.theme;
  choice("sky", plan.skies.map((name, index) => [index, name]), 0, (value) => { state.sky = value; show(); });
  choice("units", [["m", "m"], ["ft", "ft"]], state.units, (value) => { state.units = value; keep("units", value); whole(); show({ quiet: true, anew: true }); });
  choice("theme", [["dark", "dark"], ["light", "light"]], state.theme, (value) => {
    state.theme = value; keep("theme", value); document.documentElement.dataset.theme = value;
  });

  // On the day the page opens at now, else when the first setup is shot, or at noon.
  const first = plan.order.length ? Math.round((plan.order[0].shoot[0] - plan.start) / plan.every) : Math.round((plan.moments.noon - plan.start) / plan.every);
  const isNow = () => nowStep() >= 0 && nowStep() < STEPS;
  state.at = Math.min(STEPS - 1, Math.max(0, isNow() ? nowStep() : first));
  by("scrub").max = STEPS - 1;
  by("scrub").addEventListener("input", (event) => toStep(Number(event.target.value)));
  by("back").addEventListener("click", () => toStep(state.at - 1));
  by("on").addEventListener("click", () => toStep(state.at + 1));
  by("now").addEventListener("click", () => toStep(nowStep()));
  document.addEventListener("click", (event) => {
    const go = event.target.closest(".go");
    if (go) toStep(Number(go.dataset.step));
  });
  // A finger may be put down anywhere on the strip; up and down still moves the page.
  const drag = (event) => {
    const box = by("strip").getBoundingClientRect();
    const share = (event.clientX - box.left - strips.edge) / (strips.width - strips.edge - 8);
    toStep(Math.round(share * (STEPS - 1)));
  };
  // On the row of the order a tap picks the setup that is shot then.
  const shotAt = (event) => {
    const box = by("strip").getBoundingClientRect();
    if (event.clientY - box.top < strips.orderFrom) return null;
    const share = (event.clientX - box.left - strips.edge) / (strips.width - strips.edge - 8);
    const unix = plan.start + share * (END - plan.start);
    return plan.order.find((one) => one.rig <= unix && unix <= one.shoot[1]) || null;
  };
  by("strip").addEventListener("pointerdown", (event) => {
    const turn = shotAt(event);
    if (turn) {
      state.at = Math.ceil((turn.shoot[0] - plan.start) / plan.every);
      pick(subjects.find((one) => one.index === turn.setup));
      return;
    }
    by("strip").setPointerCapture(event.pointerId);
    by("scrub").focus();
    drag(event);
    event.preventDefault();
  });
  by("strip").addEventListener("pointermove", (event) => { if (by("strip").hasPointerCapture(event.pointerId)) drag(event); });
  const clocked = () => { by("now").hidden = !isNow(); strip(); };
  setInterval(clocked, 30000);
  window.addEventListener("resize", () => show({ quiet: true }));
  window.addEventListener("beforeprint", onPaper);
  new ResizeObserver(() => document.documentElement.style.setProperty("--dock", `${by("dock").offsetHeight}px`)).observe(by("dock"));

  setups();
  whole();
  show({ quiet: true, anew: true });
  clocked();
})();
