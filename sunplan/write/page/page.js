// Puts it on the page, and listens.

let toSay = 0;
function show({ quiet = false, anew = false } = {}) {
  const { subject, at } = state;
  by("view-title").textContent = subject.out ? `${subject.out.name}: the site` : subject.room.name;
  const box = by("drawing"),
    width = Math.max(240, box.clientWidth);
  box.replaceChildren(picture(subject, at, width));
  by("signs").textContent = subject.out
    ? "The wedge is what the camera sees past the subject; the arrow in the dial is the sun's light."
    : "Walls that the sun reaches are laid down outward, as if the room were a box unfolded. A number in a frame is an opening, yellow while sun comes in; behind it its stops over or under mid-grey where it is in frame. M and a number in a circle is a mark; a bare letter is a wall; 1st, 2nd are setups in their order. The wedge is what the camera sees. Black is a flag that stops sun now or negative fill; dashed, a flag not needed now. The sun is drawn as it comes in, before any flag. A crossed circle is the key, a small square a practical. The arrow in the dial is the sun's light.";
  const sun = by("sun");
  sun.hidden = Boolean(subject.out);
  by("sun-title").textContent = `Sun at ${clockAt(moment(at))}`;
  // A button that is pressed must still be there afterwards.
  const held =
    document.activeElement && document.activeElement.classList.contains("go")
      ? [...by("lies").querySelectorAll(".go")].indexOf(document.activeElement)
      : -1;
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
  if (!quiet)
    toSay = setTimeout(() => {
      by("said").textContent = spoken();
    }, 500);
}

const turnOf = (subject) =>
  subject.setup && plan.order.find((one) => one.setup === subject.index);
const shotFrom = (turn) => Math.ceil((turn.shoot[0] - plan.start) / plan.every);

function setups() {
  by("setups").replaceChildren(
    ...subjects.map((subject) => {
      const turn = turnOf(subject);
      const small = turn
        ? `${clockAt(turn.shoot[0])}, ${subject.room.name}`
        : subject.setup
          ? `does not fit, ${subject.room.name}`
          : subject.out
            ? "outdoors"
            : "no setup";
      const button = make(
        "button",
        { type: "button", "aria-pressed": String(subject === state.subject) },
        make("b", {}, (turn ? `${inTurn(turn)}: ` : "") + named(subject)),
        make("small", {}, small),
      );
      button.addEventListener("click", () => {
        pick(subject);
      });
      return make("li", {}, button);
    }),
  );
}

// A setup is looked at when it is shot, unless the time stands within its turn already.
function pick(subject) {
  const turn = turnOf(subject);
  const unix = moment(state.at);
  if (turn && !(turn.rig <= unix && unix <= turn.shoot[1])) state.at = shotFrom(turn);
  state.subject = subject;
  [...by("setups").querySelectorAll("button")].forEach((one, index) =>
    one.setAttribute("aria-pressed", String(subjects[index] === subject)),
  );
  show({ anew: true });
}

function choice(id, options, chosen, changed) {
  for (const [value, words] of options) {
    const input = make("input", {
      type: "radio",
      name: id,
      value,
      checked: value === chosen ? "" : null,
    });
    input.addEventListener("change", () => changed(value));
    by(id).append(make("label", {}, input, make("span", {}, words)));
  }
  by(id).hidden = options.length < 2;
}

function whole() {
  const { day } = plan;
  const folded = (title, ...inside) => {
    const some = inside.flat().filter(Boolean);
    return some.length
      ? make("details", {}, make("summary", {}, make("h3", {}, title)), ...some)
      : null;
  };
  by("whole").replaceChildren(
    ...[
      make("p", {}, day.sun),
      folded("Order", nested(day.order)),
      folded("Pack", nested(day.pack)),
      folded("Skies", list("plainly", day.models)),
      folded("Safety", make("div", { class: "care" }, list("plainly", day.care))),
    ].filter(Boolean),
  );
}

function toStep(step) {
  const next = Math.min(STEPS - 1, Math.max(0, step));
  if (next !== state.at) {
    state.at = next;
    show();
  }
}
const nowStep = () => Math.round((Date.now() / 1000 - plan.start) / plan.every);

function onPaper() {
  const main = document.querySelector("main");
  by("whole")
    .querySelectorAll("details")
    .forEach((one) => {
      one.open = true;
    });
  main.querySelectorAll(".sheet").forEach((one) => one.remove());
  subjects.forEach((subject, index) => {
    const turn = turnOf(subject);
    const step = turn
      ? Math.round(((turn.shoot[0] + turn.shoot[1]) / 2 - plan.start) / plan.every)
      : state.at;
    const about = make("div", { class: "words" });
    card(subject, step, about, `sheet-${index}`);
    about.querySelectorAll("details").forEach((one) => {
      one.open = true;
    });
    const title = about.querySelector("h2");
    const rows = subject.out
      ? []
      : [
          make("h3", {}, `Sun at ${clockAt(moment(step))}, ${sunWords(step)}`),
          make("dl", { class: "lies" }, ...lies(subject, step, true)),
        ];
    main.insertBefore(
      make("section", { class: "sheet" }, title, picture(subject, step, 640), ...rows, about),
      by("day"),
    );
  });
}

document.title = `${plan.location}, ${plan.date}: daylight plan`;
by("place").textContent = plan.location;
by("date").textContent = `${plan.dateSaid}, local time (${plan.zone})`;
for (const name of ["units", "theme"]) {
  const old = kept(name);
  if (["m", "ft", "dark", "light"].includes(old)) state[name] = old;
}
document.documentElement.dataset.theme = state.theme;
choice(
  "sky",
  plan.skies.map((name, index) => [index, name]),
  0,
  (value) => {
    state.sky = value;
    show();
  },
);
choice(
  "units",
  [
    ["m", "m"],
    ["ft", "ft"],
  ],
  state.units,
  (value) => {
    state.units = value;
    keep("units", value);
    whole();
    show({ quiet: true, anew: true });
  },
);
choice(
  "theme",
  [
    ["dark", "dark"],
    ["light", "light"],
  ],
  state.theme,
  (value) => {
    state.theme = value;
    keep("theme", value);
    document.documentElement.dataset.theme = value;
  },
);

// On the day the page opens at now, else when the first setup is shot, or at noon.
const first = plan.order.length
  ? Math.round((plan.order[0].shoot[0] - plan.start) / plan.every)
  : Math.round((plan.moments.noon - plan.start) / plan.every);
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
    state.at = shotFrom(turn);
    pick(subjects.find((one) => one.index === turn.setup));
    return;
  }
  by("strip").setPointerCapture(event.pointerId);
  by("scrub").focus();
  drag(event);
  event.preventDefault();
});
by("strip").addEventListener("pointermove", (event) => {
  if (by("strip").hasPointerCapture(event.pointerId)) drag(event);
});
const clocked = () => {
  by("now").hidden = !isNow();
  strip();
};
setInterval(clocked, 30000);
window.addEventListener("resize", () => show({ quiet: true }));
window.addEventListener("beforeprint", onPaper);
new ResizeObserver(() =>
  document.documentElement.style.setProperty("--dock", `${by("dock").offsetHeight}px`),
).observe(by("dock"));

setups();
whole();
show({ quiet: true, anew: true });
clocked();
