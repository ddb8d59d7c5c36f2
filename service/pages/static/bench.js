// What the pages do beyond plain forms: clocks that tick, the bar that fills, a scale that is remembered. All of it is
// drawn by the server as well, so that a page without script is slower, not wrong.

import "./wedge.js";
import "./photo.js";
import { rightCode } from "./codes.js";
import { local, numberOf } from "./figures.js";
import "./following.js";
import { swap } from "./waiting.js";
import "./alarm.js";
import "./scale.js";

const text = (seconds) => {
  const whole = Math.floor(Math.abs(seconds));
  const hours = Math.floor(whole / 3600), minutes = Math.floor((whole % 3600) / 60);
  const clock = hours ? `${hours} h ${String(minutes).padStart(2, "0")}` : `${minutes}:${String(whole % 60).padStart(2, "0")}`;
  return seconds < 0 ? `${clock} over` : clock;
};

// The server's time, carried on by this tablet's own count: its clock may be wrong, its seconds are not.
let drawn = performance.now();
document.addEventListener("drawn", () => { drawn = performance.now(); });
function tick() {
  for (const place of document.querySelectorAll("[data-until]")) {
    const now = Date.parse(place.dataset.now) + performance.now() - drawn;
    const left = (Date.parse(place.dataset.until) - now) / 1000;
    (place.querySelector("span") ?? place).textContent = text(left);
    const box = place.closest(".clock, .line"), was = box?.classList.contains("over");
    box?.classList.toggle("over", left < 0);
    if (left < 0 && !was) renewed();
  }
}

// A board on a wall, and a pot that runs, are read anew by themselves; what is typed meanwhile is left alone.
const renew = Number(document.body.dataset.renew);
async function renewed() {
  const typed = [...document.querySelectorAll("#page input:not([type=hidden])")].some((field) => field.value !== field.defaultValue);
  if (!renew || typed) return;
  const asOf = document.querySelector("[data-as-of]");
  try {
    const answer = await fetch(location.href, { headers: { "Potmark-By-Itself": "1" }, signal: AbortSignal.timeout(8000) });
    if (!answer.ok || answer.redirected || !swap(await answer.text())) throw new Error("no page of ours");
  } catch {
    // The old one stays, and says of when it is.
    asOf?.classList.add("stale");
  }
}
if (renew) setInterval(renewed, renew * 1000);
setInterval(tick, 1000);
tick();

// The bar fills as the reading is typed.
document.addEventListener("input", (event) => {
  const form = event.target.closest("form");
  if (!form || !(event.target.id === "reading" || event.target.name === "zeroed")) return;
  const bar = document.querySelector(".bar"), said = document.querySelector(".togo");
  const reading = numberOf(form.querySelector("#reading")?.value ?? "");
  if (!bar || !said) return;
  const before = Number(form.querySelector("[name=zeroed]:checked")?.dataset.before ?? 0);
  const net = reading === null ? 0 : Math.max(0, reading - before);
  bar.querySelector(".fill").setAttribute("width", Math.min(100, net * Number(bar.dataset.perG)));
  const left = Number(said.dataset.target) - net;
  const figure = Math.abs(left).toFixed(1);
  said.textContent = reading === null ? "" : Number(figure) === 0 ? "that is it" : left > 0 ? `${local(figure)} g to go` : `${local(figure)} g too much`;
});

// What a page gets beyond its form: after a refusal it is drawn anew in the place of the old one, and gets it again.
function furnish() {
  for (const row of document.querySelectorAll("[data-amounts]")) row.hidden = false;
  for (const kept of document.querySelectorAll("[data-kept]")) keep(kept);
  const watch = document.querySelector(".stopwatch");
  if (watch) count(watch);
}

// Amounts to tap.
document.addEventListener("click", (event) => {
  const row = event.target.closest("[data-amounts]");
  if (row && event.target.value) document.getElementById(row.dataset.amounts).value = event.target.value;
});

// This tablet stands at one scale.
function keep(kept) {
  const name = `potmark ${kept.dataset.kept}`, before = localStorage.getItem(name);
  if (before && [...kept.options].some((option) => option.value === before)) kept.value = before;
  kept.addEventListener("change", () => localStorage.setItem(name, kept.value));
}

// Stirring with a clock: what it counted goes into the field, as minutes.
function count(watch) {
  watch.hidden = false;
  const shown = watch.querySelector("[data-elapsed]"), button = watch.querySelector("[data-start]");
  const name = `potmark stirring ${location.pathname}`;
  const field = document.getElementById("minutes");
  const begun = () => Number(sessionStorage.getItem(name)) || null;
  button.addEventListener("click", () => sessionStorage.setItem(name, Date.now()));
  const counting = setInterval(() => {
    if (!watch.isConnected) return clearInterval(counting);
    if (!begun()) return;
    const seconds = (Date.now() - begun()) / 1000;
    button.textContent = "Start again";
    shown.textContent = text(seconds);
    if (document.activeElement !== field) field.value = local((Math.max(6, Math.floor(seconds / 6) * 6) / 60).toFixed(1));
  }, 250);
  field.form.addEventListener("submit", () => sessionStorage.removeItem(name));
}
furnish();
document.addEventListener("drawn", furnish);

// A code typed by hand is checked by its check character as it is typed.
document.addEventListener("input", (event) => {
  if (!event.target.matches("[data-check]")) return;
  const said = document.getElementById(`${event.target.id}-said`), right = rightCode(event.target.value);
  const long = event.target.value.replace(/[\s-]/g, "").length > 6;
  // What begins as a code of ours and is none has too many characters, or one that no code has.
  const wrong = right === false || (right === null && /^[A-Z]\s?\d/i.test(event.target.value));
  said.textContent = right === true ? "The code is right." : wrong && long ? "The code is not right yet; look at each character." : "";
});
