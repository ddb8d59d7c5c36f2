// A reading that the scale handed over itself: it fills the field, and is sent as captured until a hand changes it.

const EVERY_MS = 1000;
let shown = 0;
const written = (figure) => String(figure).replace(".", document.getElementById("page")?.dataset.decimal ?? ".");

async function look() {
  const field = document.querySelector("[data-sends]");
  if (!field || document.hidden) return;
  let last;
  try {
    const answer = await fetch(`/v1/scales/${field.dataset.sends}/readings?limit=1`, { signal: AbortSignal.timeout(4000) });
    if (!answer.ok) return;
    [last] = await answer.json();
    // What came before this page was drawn was of something else.
    if (!last || last.id <= Math.max(shown, Number(field.dataset.after))) return;
  } catch { return; }
  if (field !== document.querySelector("[data-sends]")) return;
  shown = last.id;
  field.value = written(last.reading_g);
  field.form.elements.source.value = "captured";
  field.dispatchEvent(new Event("input", { bubbles: true }));
  document.getElementById("sent-said").textContent = `The scale sent ${written(last.reading_g)} g.`;
}

document.addEventListener("input", (event) => {
  if (!event.isTrusted || !event.target.matches("[data-sends]")) return;
  event.target.form.elements.source.value = "typed";
  document.getElementById("sent-said").textContent = "Typed, not from the scale.";
});
setInterval(look, EVERY_MS);
