// A room from above with the walls that get sun laid down round it, or the site.

// Which walls are laid down beside the plan: those the sun lies on at some time of this day, and
// those with a flag before them; each only as high as that goes.
function laidWalls(room, setup) {
  const high = new Map();
  const raise = (wall, height) => high.set(wall, Math.max(high.get(wall) || 0, height));
  for (const opening of room.patches) {
    for (const [, shapes] of opening) {
      for (const [surface, ...rings] of shapes) {
        if (surface)
          for (const ring of rings)
            for (let i = 1; i < ring.length; i += 2) raise(surface - 1, ring[i]);
      }
    }
  }
  for (const flag of setup ? setup.flags : []) {
    for (const place of flag.places) {
      for (const [wall, corners] of place.wall || []) for (const at of corners) raise(wall, at[1]);
    }
  }
  for (const opening of room.openings) {
    if (opening.wall !== null && high.has(opening.wall))
      raise(opening.wall, opening.face[1] + opening.face[3]);
  }
  return new Map([...high].map(([wall, top]) => [wall, Math.min(room.height, top + 150)]));
}
// A wall laid down flat, its foot toward the room: along it and up it become plan directions.
function laidDown(wall) {
  const [x, y] = wall.way,
    out = [y, -x];
  return { x, y, out, at: [wall.at[0] + wall.off * out[0], wall.at[1] + wall.off * out[1]] };
}
const onto = (frame, [along, up]) =>
  [0, 1].map((axis) => frame.at[axis] + along * (axis ? frame.y : frame.x) + up * frame.out[axis]);

// Floor and walls, each ready to have sun drawn on it: the floor is surface 0, walls go from 1.
function surfaces(room, laid, frames, geo) {
  geo.append(draw("polygon", { class: "floor", points: points(room.outline) }));
  const onSurface = new Map([[0, geo]]);
  for (const [index, high] of laid) {
    const wall = room.walls[index];
    const f = frames[index];
    for (const along of [0, wall.length]) {
      const [x1, y1] = onto({ ...f, at: wall.at }, [along, 0]);
      const [x2, y2] = onto(f, [along, 0]);
      geo.append(draw("line", { ...still, class: "tie", x1, y1, x2, y2 }));
    }
    const group = draw("g", {
      transform: `matrix(${f.x} ${f.y} ${f.out[0]} ${f.out[1]} ${f.at[0]} ${f.at[1]})`,
    });
    const box = { ...still, x: 0, y: 0, width: wall.length, height: high };
    group.append(draw("rect", { ...box, class: "laid", "data-surface": wall.letter }));
    for (const opening of room.openings.filter((one) => one.wall === index)) {
      const [x, y, wide, tall] = opening.face;
      group.append(draw("rect", { ...still, class: "face", x, y, width: wide, height: tall }));
    }
    onSurface.set(index + 1, group);
    geo.append(group);
  }
  return onSurface;
}

function sunlight(room, step, onSurface) {
  room.patches.forEach((byStep, opening) => {
    const now = byStep.find(([at]) => at === step);
    for (const [surface, ...rings] of now ? now[1] : []) {
      const path = draw("path", {
        ...still,
        class: "patch",
        d: pathOf(rings),
        "data-surface": surface ? room.walls[surface - 1].letter : "floor",
        "data-opening": room.openings[opening].name,
      });
      onSurface.get(surface).append(path);
    }
  });
}

function shell(room, geo) {
  geo.append(draw("polygon", { ...still, class: "solid", points: points(room.outline) }));
  for (const opening of room.openings) {
    if (opening.wall === null) {
      for (const ring of [opening.inner, opening.glass]) {
        geo.append(draw("polygon", { ...still, class: "hole", points: points(ring) }));
      }
    } else {
      const [[a, b], [c, d]] = [opening.inner, opening.glass];
      geo.append(
        draw("polygon", { ...still, class: "reveal", points: points([a, b, d, c]) }),
        draw("polyline", { ...still, class: "pane", points: points([c, d]) }),
      );
    }
  }
}

// Where an opening's number stands: on it where its wall lies flat, else before its glass.
function tagAt(frame, opening, laid, frames, words) {
  if (opening.wall === null) return frame.put(mean(opening.inner));
  if (laid.has(opening.wall)) {
    const [along, sill, wide, high] = opening.face;
    return frame.put(onto(frames[opening.wall], [along + wide / 2, sill + high / 2]));
  }
  const { out } = frames[opening.wall];
  const [x, y] = frame.put(mean(opening.glass.slice(0, 2)));
  return [x + out[0] * (14 + words.length * 4), y - out[1] * 14];
}

function openingSigns({ room, setup }, step, frame, laid, frames, over, taken) {
  room.openings.forEach((opening, index) => {
    const window = setup && setup.windows.find((one) => one.opening === index);
    const words = window ? stops(window.skies[state.sky].stops[step]) : "";
    const half = words ? 11 + words.length * 4 : 10;
    const [x, y] = tagAt(frame, opening, laid, frames, words);
    const at = [Math.min(frame.width - half - 1, Math.max(half + 1, x)), y];
    over.append(tag(index + 1, at, words, within(room.through[index], moment(step))));
    taken.push([at[0] - half, y - 10, at[0] + half, y + 10]);
  });
}

// A wall's letter inside the room, near its first corner, and again where it lies flat.
function wallLetters(room, frame, laid, frames, over, taken) {
  room.walls.forEach((wall, index) => {
    const f = frames[index];
    const sign = (at, away) => {
      const [u, v] = frame.put(at);
      const [x, y] = [u + away * f.out[0], v - away * f.out[1]];
      over.append(
        draw("text", { x, y: y + 4.5, "text-anchor": "middle", class: "dim strong" }, wall.letter),
      );
      taken.push([x - 8, y - 8, x + 8, y + 8]);
    };
    sign(onto({ ...f, at: wall.at }, [0.12 * wall.length, 0]), -11);
    if (laid.has(index)) sign(onto(f, [wall.length / 2, laid.get(index)]), 13);
  });
}

function markSigns(room, frame, unix, over, taken, letter) {
  room.marks.forEach((mark, index) => {
    const reach = mark.radius * frame.scale;
    const [x, y] = frame.put(mark.at);
    const hit = within(mark.hits, unix);
    taken.push([x - reach, y - reach, x + reach, y + reach]);
    over.append(
      draw(
        "text",
        { x, y: y + 4.5, "text-anchor": "middle", class: hit ? "strong lit" : "strong" },
        markSign(index),
      ),
    );
    if (hit) letter(over, "SUN", [x, y], { away: reach + 3, kind: "strong" });
  });
}

function setupSigns(setup, frame, unix, over, letter, roomy) {
  const dim = { away: 8, kind: "dim" };
  const strong = { away: 8, kind: "strong" };
  letter(over, "camera", frame.put(setup.camera.at), dim);
  if (setup.key && roomy) letter(over, "key", frame.put(setup.key.at), dim);
  for (const flag of setup.flags.filter((one) => within(one.spans, unix))) {
    const place = flag.places.find((one) => one.from <= unix && unix <= one.to);
    if (place) letter(over, "flag", frame.put(mean(place.plan[0])), strong);
  }
  if (setup.panel) letter(over, "negative", frame.put(mean(setup.panel)), strong);
}

function drawRoom(subject, step, width, most) {
  const { room, setup } = subject;
  const unix = moment(step);
  const laid = laidWalls(room, setup);
  const frames = room.walls.map(laidDown);
  const flat = [...laid].map(([index, high]) => {
    const { length } = room.walls[index];
    const corners = [0, high].flatMap((up) => (up ? [length, 0] : [0, length]).map((a) => [a, up]));
    return corners.map((at) => onto(frames[index], at));
  });
  const shapes = [room.outline, ...room.openings.map((opening) => opening.glass), ...flat];
  const [frame, corner] = dialled(shapes, width, most, 26);
  const geo = draw("g", { class: "geo", transform: frame.matrix });
  const over = draw("g");

  const onSurface = surfaces(room, laid, frames, geo);
  if (setup) {
    geo.append(draw("polygon", { ...still, class: "field", points: points(setup.camera.field) }));
  }
  sunlight(room, step, onSurface);
  shell(room, geo);
  if (setup) standing(setup, unix, geo, onSurface);
  for (const mark of room.marks) {
    const [cx, cy] = mark.at;
    const kind = within(mark.hits, unix) ? "spot hit" : "spot";
    geo.append(draw("circle", { ...still, class: kind, cx, cy, r: mark.radius }));
  }

  // Signs and words, in the picture's own size.
  const taken = [scaleBar(frame, over), dial(step, over, corner)];
  const letter = lettering(frame, taken);
  // Where a metre is few pixels the signs must do without their names.
  const roomy = frame.scale > 0.06;
  openingSigns(subject, step, frame, laid, frames, over, taken);
  wallLetters(room, frame, laid, frames, over, taken);
  for (const one of room.practicals) {
    const [x, y] = frame.put(one.at);
    over.append(draw("rect", { class: "lamp", x: x - 4, y: y - 4, width: 8, height: 8 }));
    if (roomy) letter(over, one.name, [x, y], { away: 6, kind: "dim" });
  }
  markSigns(room, frame, unix, over, taken, letter);
  if (setup) setupSigns(setup, frame, unix, over, letter, roomy);
  const label = `${room.name} from above at ${clockAt(unix)}; what it shows is said below`;
  return pictured(frame, geo, over, label);
}

function standing(setup, unix, geo, onSurface) {
  const { camera, key } = setup;
  const aim = mean(setup.camera.field.slice(0, -1));
  const turn = Math.atan2(aim[1] - camera.at[1], aim[0] - camera.at[0]);
  const nose = [0, 2.5, -2.5].map((part) => [
    camera.at[0] + 170 * Math.cos(turn + part),
    camera.at[1] + 170 * Math.sin(turn + part),
  ]);
  geo.append(draw("polygon", { class: "camera", points: points(nose) }));
  if (key) {
    const star = [0, 1, 2, 3, 4, 5].map((part) => [
      key.at[0] + 110 * Math.cos((part * Math.PI) / 3),
      key.at[1] + 110 * Math.sin((part * Math.PI) / 3),
    ]);
    geo.append(draw("polygon", { class: "lamp", points: points(star) }));
    if (key.sheet)
      geo.append(draw("polygon", { ...still, class: "sheeted", points: points(key.sheet) }));
  }
  for (const flag of setup.flags) {
    for (const place of flag.places) {
      if (unix < place.from || unix > place.to) continue;
      const kind = within(flag.spans, unix) ? "flag" : "flag idle";
      // Twice, a broad light line under the black: it shows on light and dark, and edge on.
      for (const piece of place.plan) {
        const at = points(piece);
        if (kind === "flag")
          geo.append(draw("polygon", { ...still, class: "flag-edge", points: at }));
        geo.append(draw("polygon", { ...still, class: kind, points: at }));
      }
      for (const [wall, corners] of place.wall || []) {
        const hung = draw("polygon", { ...still, class: "flag idle", points: points(corners) });
        onSurface.get(wall + 1).append(hung);
      }
      break;
    }
  }
  if (setup.panel) {
    for (const kind of ["flag-edge", "negative"])
      geo.append(draw("polygon", { ...still, class: kind, points: points(setup.panel) }));
  }
}

function drawOutdoors(subject, step, width, most) {
  const { out } = subject,
    { site } = plan;
  const shapes = [
    [out.at],
    ...site.rooms.map(([, ring]) => ring),
    ...site.blocks.map(([, ring]) => ring),
  ];
  const [frame, corner] = dialled(shapes, width, most, 30);
  const geo = draw("g", { class: "geo", transform: frame.matrix }),
    over = draw("g"),
    taken = [];
  for (const [, ring] of site.blocks)
    geo.append(draw("polygon", { ...still, class: "block", points: points(ring) }));
  for (const [, ring] of site.rooms)
    geo.append(draw("polygon", { ...still, class: "house", points: points(ring) }));
  const [x, y] = frame.put(out.at);
  // The camera may stand anywhere: only its way is known, so the field opens behind the subject.
  const far = out.looks.map(([dx, dy]) => [x + 90 * dx, y - 90 * dy]);
  over.append(
    draw("polygon", { class: "field", points: points([[x, y], ...far]) }),
    draw("circle", { class: "spot", cx: x, cy: y, r: 7 }),
  );
  taken.push([x - 9, y - 9, x + 9, y + 9], scaleBar(frame, over), dial(step, over, corner));
  const letter = lettering(frame, taken);
  letter(over, "subject", [x, y], { away: 9, kind: "strong" });
  for (const [name, ring] of [...site.rooms, ...site.blocks])
    letter(over, name, frame.put(mean(ring)), { away: 1, kind: "dim" });
  return pictured(
    frame,
    geo,
    over,
    `the site from above at ${clockAt(moment(step))}; what it shows is said below`,
  );
}

const pictured = (frame, geo, over, label) =>
  draw(
    "svg",
    {
      viewBox: `0 0 ${frame.width} ${frame.height}`,
      width: frame.width,
      height: frame.height,
      role: "img",
      "aria-label": label,
    },
    geo,
    over,
  );

const picture = (subject, step, width, most) =>
  (subject.out ? drawOutdoors : drawRoom)(subject, step, width, most);
