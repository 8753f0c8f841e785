// The day as a strip: light, sun by opening and mark, the order, now.

function strip() {
  const svg = by("rows"),
    width = by("strip").clientWidth;
  if (!width) return;
  const { room } = state.subject;
  const wide = width > 640;
  const edge = wide ? 190 : 26;
  const x = (unix) =>
    edge +
    ((Math.min(END, Math.max(plan.start, unix)) - plan.start) / (END - plan.start)) *
      (width - edge - 8);
  const rows = [],
    high = 15;
  const parts = [];
  let y = 0;
  const bar = (spans, kind, at) =>
    spans.forEach(([first, last, sure]) => {
      if (sure)
        parts.push(
          draw("line", {
            class: "maybe",
            x1: x(sure[0]),
            x2: x(sure[1]),
            y1: at + high / 2,
            y2: at + high / 2,
          }),
        );
      parts.push(
        draw("rect", {
          class: `bar ${kind}`,
          x: x(first),
          y: at + 3,
          width: Math.max(1, x(last) - x(first)),
          height: high - 6,
        }),
      );
    });
  // Night, twilight, day; a polar day or night is one of them throughout.
  const m = plan.moments;
  const bands = [[plan.start, END, plan.always === "up" ? "daylit" : "night"]];
  if (plan.always !== "up") {
    const ends = (first, last) =>
      first === null && last === null
        ? null
        : [first === null ? plan.start : first, last === null ? END : last];
    for (const [pair, kind] of [
      [ends(m.civil_dawn, m.civil_dusk), "gloam"],
      [ends(m.rise, m.set), "daylit"],
    ]) {
      if (pair) bands.push([...pair, kind]);
    }
  }
  for (const [first, last, kind] of bands)
    parts.push(
      draw("rect", { class: kind, x: x(first), y: 0, width: x(last) - x(first), height: 10 }),
    );
  y = 10;
  // Hours, as many as there is room for.
  const hours = [];
  for (let step = 0; step < STEPS; step += 1) if (plan.clock[step] % 60 === 0) hours.push(step);
  const every = Math.ceil(hours.length / ((width - edge) / 34));
  hours.forEach((step, index) => {
    parts.push(
      draw("line", { class: "rule", x1: x(moment(step)), x2: x(moment(step)), y1: 0, y2: 400 }),
    );
    if (index % every === 0) {
      const at = Math.min(width - 8, x(moment(step)));
      parts.push(
        draw(
          "text",
          { x: at, y: y + 12, "text-anchor": "middle", class: "dim" },
          two(Math.floor(plan.clock[step] / 60)),
        ),
      );
    }
  });
  y += 16;
  if (room) {
    room.openings.forEach((opening, index) =>
      rows.push([String(index + 1), opening, room.through[index], ""]),
    );
    room.marks.forEach((mark, index) =>
      rows.push([markSign(index), mark.name, mark.hits, "of-mark"]),
    );
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
      const [first, last] = turn.shoot.map(x),
        name = plan.setups[turn.setup].name;
      parts.push(
        draw("rect", {
          class: "rigged",
          x: x(turn.rig),
          y: y + 4,
          width: Math.max(1, first - x(turn.rig)),
          height: 12,
        }),
        draw("rect", {
          class: "shot",
          x: first,
          y: y + 1,
          width: Math.max(2, last - first),
          height: 18,
        }),
      );
      const number = inTurn(turn),
        whole = `${number}: ${name}`;
      const words = whole.length * 7 < last - first - 6 ? whole : last - first > 22 ? number : "";
      parts.push(
        draw("text", { x: (first + last) / 2, y: y + 14, "text-anchor": "middle" }, words),
      );
    }
    y += 20;
  }
  const now = Date.now() / 1000;
  if (now >= plan.start && now <= END) {
    const at = x(now);
    parts.push(
      draw("line", { class: "now", x1: at, x2: at, y1: 0, y2: y }),
      draw("text", { class: "of-now", x: Math.min(at + 3, width - 26), y: 22 }, "now"),
    );
  }
  const at = x(moment(state.at));
  parts.push(
    draw("line", { class: "cursor", x1: at, x2: at, y1: 0, y2: y }),
    draw("circle", { cx: at, cy: 5, r: 5, style: "fill:var(--ink);stroke:var(--paper)" }),
  );
  svg.setAttribute("viewBox", `0 0 ${width} ${y}`);
  svg.setAttribute("height", y);
  svg.replaceChildren(...parts);
  strips = { edge, width, orderFrom: plan.order.length ? y - 20 : Infinity };
}
let strips = { edge: 0, width: 1, orderFrom: Infinity };
const shortened = (name, most) =>
  name.length <= most ? name : name.slice(0, Math.max(0, most - 1)) + "…";
