// Words beside the picture: where the sun is, and a card a setup.

function goTo(unix, up) {
  const step = (unix - plan.start) / plan.every;
  const to = Math.min(STEPS - 1, Math.max(0, up ? Math.ceil(step) : Math.floor(step)));
  return make(
    "button",
    { type: "button", class: "go", "data-step": to, "aria-label": `go to ${clockAt(unix)}` },
    clockAt(unix),
  );
}

function spansSaid(spans, onPaper) {
  const out = [];
  spans.forEach(([first, last], index) => {
    const [from, to] = onPaper
      ? [clockAt(first), clockAt(last)]
      : [goTo(first, true), goTo(last, false)];
    out.push(index ? ", " : "", make("span", { class: "span" }, from, " – ", to));
  });
  return out;
}

function lies(subject, step, onPaper) {
  const { room, setup } = subject,
    unix = moment(step),
    rows = [];
  const sign = (text, kind, lit) =>
    make("span", { class: `sign ${kind} ${lit ? "lit" : ""}`, "aria-hidden": "true" }, text);
  const row = (mark, name, ...said) =>
    make(
      "div",
      {},
      make("dt", {}, mark, make("span", {}, name)),
      ...said.filter(Boolean).map((one) => make("dd", {}, ...one)),
    );
  const marks = room.marks.map((mark, index) => ({ mark, index }));
  // The setup's own mark first: it is what one asks about.
  marks.sort((one, other) =>
    setup ? (other.index === setup.mark) - (one.index === setup.mark) : 0,
  );
  for (const { mark, index } of marks) {
    const hit = mark.hits.filter(([first, last]) => first <= unix && unix <= last);
    const names = hit.map((one) => room.openings[one[3]]).join(" and ");
    const said = hit.length ? `DIRECT SUN, through ${names}` : "no direct sun";
    rows.push(
      row(
        sign(markSign(index), "round", hit.length),
        mark.name,
        [make("span", { class: "state" }, said)],
        mark.hits.length ? ["this day ", ...spansSaid(mark.hits, onPaper)] : ["none this day"],
      ),
    );
  }
  room.openings.forEach((opening, index) => {
    const number = room.lands[index][step];
    const said = number < 0 ? "no sun through it" : `sun through it, on ${say(room.said[number])}`;
    const window = setup && setup.windows.find((one) => one.opening === index);
    const level =
      window &&
      `${stops(window.skies[state.sky].stops[step])} mid-grey, ${plan.skies[state.sky]} sky; target ${band(window.wanted)}`;
    const spans = room.through[index];
    rows.push(
      row(
        sign(index + 1, "", number >= 0),
        opening,
        [make("span", { class: "state" }, said)],
        level && [level],
        spans.length ? ["this day ", ...spansSaid(spans, onPaper)] : ["no sun this day"],
      ),
    );
  });
  return rows;
}

// What a change of time comes to, in one breath.
function spoken() {
  const { room, setup, out } = state.subject,
    step = state.at,
    unix = moment(step);
  const said = [`${clockAt(unix)}, ${sunWords(step)}.`];
  if (out) return said.join(" ");
  room.marks.forEach((mark) => {
    if (within(mark.hits, unix)) said.push(`Sun on ${mark.name}.`);
  });
  room.openings.forEach((opening, index) => {
    const number = room.lands[index][step];
    if (number >= 0) said.push(`Through ${opening}: ${say(room.said[number])}.`);
  });
  if (said.length === 1) said.push(`No sun in ${room.name}.`);
  for (const window of setup ? setup.windows : []) {
    said.push(
      `${room.openings[window.opening]} ${stops(window.skies[state.sky].stops[step])} mid-grey.`,
    );
  }
  return said.join(" ");
}

const list = (kind, lines) =>
  lines.length ? make("ul", { class: kind }, ...lines.map((line) => make("li", {}, say(line)))) : null;
const part = (title, ...inside) => {
  const some = inside.flat().filter(Boolean);
  return some.length ? [make("h3", {}, title), ...some] : [];
};
const cared = (lines) =>
  lines.length
    ? [
        make("h3", { class: "care-title" }, "Safety"),
        make("div", { class: "care" }, list("plainly", lines)),
      ]
    : [];

// A cell is words, in both units where they differ, or made already.
function tabled({ head, rows }) {
  const heads = head.map((cell) => make(cell ? "th" : "td", cell ? { scope: "col" } : {}, cell));
  const cells = (row) =>
    row.map((cell) => (cell instanceof Element ? cell : make("td", {}, say(cell))));
  return make(
    "table",
    { class: head.length > 5 ? "many" : null },
    make("thead", {}, make("tr", {}, ...heads)),
    make("tbody", {}, ...rows.map((row) => make("tr", {}, ...cells(row)))),
  );
}

// Lines with lists under them, and tables; other ways fold away under the one to take.
function nested(blocks, kind = "lines") {
  const flow = [];
  let items = null,
    others = null;
  for (const { head, rows, say: words, under, role } of blocks) {
    if (head) {
      flow.push(tabled({ head, rows }));
      items = null;
      continue;
    }
    if (!items) flow.push((items = make("ul", { class: kind })));
    const item = make("li", {}, role === "take" ? make("b", {}, say(words)) : say(words));
    if (under) item.append(...nested(under, null));
    if (role === "other" && !others) {
      others = make("ul");
      items.append(make("li", {}, make("details", {}, make("summary", {}, "other ways"), others)));
    }
    (role === "other" ? others : items).append(item);
  }
  return flow;
}

function look(setup, step) {
  const room = plan.rooms[setup.room],
    sky = state.sky,
    { key, fill, wall, ratio: ratios } = setup.face[sky],
    wants = setup.wants;
  const row = (name, level, wanted, off, ...todo) => [
    make("th", { scope: "row" }, name),
    make("td", { class: off ? "off" : null }, exact(level)),
    wanted,
    make("td", {}, ...todo),
  ];
  const windows = setup.windows.map((window) => {
    const { stops: levels, lose: losses, do: ways } = window.skies[sky],
      lose = losses[step];
    const over = lose ? `knock down ${(lose / 100).toFixed(1)}: ` : "";
    const name = room.openings[window.opening];
    return row(name, levels[step], band(window.wanted), lose, over, setup.advice[ways[step]]);
  });
  const against = (name, level, ends, over, under, wanted = band(ends)) => {
    const todo = level === null || level < ends[0] ? under : level > ends[1] ? over : "on target";
    return row(name, level, wanted, todo !== "on target", todo);
  };
  const [dim, add] = setup.key ? ["dim the lamp", "more lamp"] : ["less daylight,", "a lamp"];
  const face = [
    against(
      "face, key side",
      key[step],
      [-5, 5],
      `too bright: ${dim} or stop down`,
      `too dark: ${add} or open up`,
      "key",
    ),
    against(
      "face, fill side",
      fill[step],
      wants.fill,
      "too bright: less daylight, or negative fill",
      "darker than its target",
    ),
    against(
      "wall behind",
      wall[step],
      wants.wall,
      "too bright: flag it",
      "darker than its target",
    ),
  ];
  const ratio = ratios[step] === null ? "∞" : (ratios[step] / 100).toFixed(1);
  const wish = wants.ratio === null ? "" : `, target ${wants.ratio / 100}`;
  return [
    tabled({ head: ["what", "stops", "target", "do"], rows: [...windows, ...face] }),
    make(
      "p",
      { class: "soft" },
      `key to fill ${ratio} : 1${wish}. Windows against mid-grey, face and wall against key (${wants.key} lx), ${setup.key ? "lamp at full" : "no lamp"}, before anything hangs.`,
    ),
    list("plainly", setup.look),
  ];
}

function relook(setup, step, into) {
  into.replaceChildren(
    make("h3", {}, `The look at ${clockAt(moment(step))}, ${plan.skies[state.sky]} sky`),
    ...look(setup, step),
  );
}

function card(subject, step, into, id) {
  const { setup, out, room } = subject,
    words = setup || out;
  const title = make("h2", { id }, named(subject));
  if (!words) {
    into.replaceChildren(title, make("p", {}, `No setup in ${room.name}.`));
    return;
  }
  const lines = make(
    "details",
    {},
    make("summary", {}, "camera, exposure, lamp"),
    ...nested(words.lines),
  );
  if (out) {
    into.replaceChildren(
      title,
      make("p", {}, out.line),
      lines,
      ...nested(out.told),
      make("details", {}, make("summary", {}, "legend"), ...nested(out.notes)),
      ...cared(words.care),
    );
    return;
  }
  const shown = make("div", { class: "look" });
  relook(setup, step, shown);
  into.replaceChildren(
    title,
    make("p", {}, setup.line),
    make("ul", { class: "lines turn" }, ...setup.turn.map((line) => make("li", {}, line))),
    lines,
    shown,
    ...part("Rig, in this order", list("plainly", setup.rig)),
    ...part(
      "Flags, from call to wrap",
      setup.hung.length ? nested(setup.hung) : null,
      setup.notes.length
        ? make("details", {}, make("summary", {}, "how sure the times are"), ...nested(setup.notes))
        : null,
    ),
    ...part("Negative fill", setup.negative.length ? nested(setup.negative) : null),
    ...part(
      "Key",
      setup.lamp.length
        ? make(
            "details",
            {},
            make("summary", {}, say(setup.lamp[0].say)),
            ...nested(setup.lamp.slice(1)),
          )
        : null,
    ),
    ...part("Takes", list("plainly", setup.takes)),
    ...cared(words.care),
  );
}
