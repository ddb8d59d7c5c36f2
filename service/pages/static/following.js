// While the first pour of a pot waits for the network, the number that follows from it is worked out here: from what the
// server sent, as the server does it (operations/pots/next_number.py, formulas/weighing.py), in whole milligrams. A test
// puts the same readings to both. It says so, and its reading waits behind the one before.

import { local, numberOf } from "./figures.js";

// A half goes to the even neighbour, as the service rounds.
const nearest = (figure) => {
  const below = Math.floor(figure);
  return figure - below === 0.5 ? below + below % 2 : Math.round(figure);
};

function shown(mg, step) {
  const [whole, rest] = (mg / 1000).toFixed(step >= 1000 ? 0 : step >= 100 ? 1 : step >= 10 ? 2 : 3).split(".");
  const grouped = whole.replace(/\B(?=(\d{3})+$)/g, "\u202f");
  return local(rest ? `${grouped}.${rest}` : grouped);
}

// The first and the last of some readings, from the limits inward; none if the scale has no reading between them.
const inward = (low, high, step) => {
  const ends = [Math.ceil(low / step) * step, Math.floor(high / step) * step];
  return ends[0] <= ends[1] ? ends : null;
};

function figuresOf(resin, sent) {
  const step = Number(sent.step), ratio = Number(sent.ratio), tolerance = Number(sent.tolerance);
  const exact = resin * ratio, target = Math.max(1, nearest(nearest(exact) / step)) * step;
  const low = exact * (1 - tolerance / 100), high = exact * (1 + tolerance / 100);

  function accepted(zeroed) {
    const a = resin / 1000, uA = Number(sent.resinUG), uB = Number(sent.hardenerUG);
    const within = (mg) => {
      const b = mg / 1000;
      const known = zeroed ? Math.SQRT2 * Math.hypot(uA / a, uB / b) : uB * Math.hypot(1 / a, 1 / a + 1 / b, 1 / b);
      return Math.abs((b / a / ratio - 1) * 100) + 200 * known <= tolerance;
    };
    let first = Math.max(1, Math.floor(low / step)) * step, last = Math.ceil(high / step) * step;
    while (first <= last && !within(first)) first += step;
    while (first <= last && !within(last)) last -= step;
    return first <= last ? [first, last] : null;
  }

  // Without the last bits that a product of two decimals brings along, a limit is not rounded over itself.
  const tolerated = [Math.ceil(low - 1e-6), Math.floor(high + 1e-6)];
  const good = accepted(sent.zeroed === "true"), running = accepted(false);
  const stood = running && inward(running[0] + resin, running[1] + resin, step);
  const said = (limits, on = step) => limits && limits.map((mg) => shown(mg, on));
  return {
    target: shown(target, step),
    standing: shown(target + resin, step),
    good: said(good),
    stood: said(stood),
    inTolerance: good ? null : said(inward(...tolerated, step)) ?? said(tolerated, 1),
  };
}

document.addEventListener("kept", (event) => {
  const drawn = document.getElementById("following"), form = event.target;
  const resin = Math.round(1000 * numberOf(form.elements.reading_g?.value ?? ""));
  if (!drawn || !form.hasAttribute("data-followed") || !(resin > 0)) return;
  const next = drawn.content.cloneNode(true), figures = figuresOf(resin, drawn.dataset);
  for (const line of next.querySelectorAll("[data-where]")) if (!figures[line.dataset.where]) line.remove();
  for (const place of next.querySelectorAll("[data-figure]")) {
    const [name, end] = place.dataset.figure.split(".");
    place.textContent = end ? figures[name][end] : figures[name];
  }
  document.getElementById("work").replaceChildren(next);
  scrollTo(0, 0);
});
