// While the first pour of a pot waits for the network, the number that follows from it is worked out here: from what the
// server sent for each gram, and from nothing else. It says so, and its reading waits behind the one before.

import { local, numberOf } from "./figures.js";

const onStep = (figure, step, round) => {
  const places = step >= 1 ? 0 : step >= 0.1 ? 1 : step >= 0.01 ? 2 : 3;
  // Without the last bits that a product of two decimals brings along, a limit is not rounded over itself.
  return local((round(Number((figure / step).toFixed(6))) * step).toFixed(places));
};

document.addEventListener("kept", (event) => {
  const drawn = document.getElementById("following"), form = event.target;
  const poured = numberOf(form.elements.reading_g?.value ?? "");
  if (!drawn || !form.hasAttribute("data-followed") || !(poured > 0)) return;
  const next = drawn.content.cloneNode(true), per = drawn.dataset, step = Number(per.step);
  const target = Number(per.target) * poured;
  const figures = {
    target: onStep(target, step, Math.round),
    low: onStep(Number(per.low) * poured, step, Math.ceil),
    high: onStep(Number(per.high) * poured, step, Math.floor),
    standing: onStep(target + poured, step, Math.round),
  };
  for (const place of next.querySelectorAll("[data-figure]")) place.textContent = figures[place.dataset.figure];
  document.getElementById("work").replaceChildren(next);
  scrollTo(0, 0);
});
