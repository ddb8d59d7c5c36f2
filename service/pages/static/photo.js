// A photo of a label: for the page that reads any, and beside each field that waits for a code. It is made small before
// it is sent: what the code needs is there at 2000 pixels.

import { fill } from "./wedge.js";

async function small(file) {
  if (file.size < 400_000) return file;
  try {
    const picture = await createImageBitmap(file), share = Math.min(1, 2000 / Math.max(picture.width, picture.height));
    const canvas = new OffscreenCanvas(Math.round(picture.width * share), Math.round(picture.height * share));
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    return new File([await canvas.convertToBlob({ type: "image/jpeg", quality: 0.85 })], "photo.jpg", { type: "image/jpeg" });
  } catch { return file; /* as it is, then */ }
}

// One tap: what was taken is sent at once.
const whole = document.querySelector("[data-photo] input[type=file]");
whole?.addEventListener("change", async () => {
  if (!whole.files[0]) return;
  const sent = new DataTransfer();
  sent.items.add(await small(whole.files[0]));
  whole.files = sent.files;
  whole.closest("label").classList.add("busy");
  whole.form.requestSubmit();
});

let count = 0;
function beside(field) {
  const who = field.form?.elements._who;
  if (!who || field.closest(".scanned")) return;
  const row = document.createElement("div"), label = document.createElement("label"), input = document.createElement("input");
  const said = document.createElement("p"), word = document.createElement("span");
  count += 1;
  row.className = "scanned";
  label.className = "button";
  word.textContent = "Photo";
  Object.assign(input, { type: "file", accept: "image/*", className: "unseen" });
  input.setAttribute("capture", "environment");
  input.setAttribute("aria-label", `Photo: ${field.labels[0]?.textContent.trim() ?? "the label"}`);
  Object.assign(said, { className: "hint", id: `photo-said-${count}`, hidden: true });
  said.setAttribute("role", "status");
  label.append(word, input);
  field.replaceWith(row);
  row.append(field, label);
  row.after(said);
  input.addEventListener("change", async () => {
    if (!input.files[0]) return;
    const body = new FormData();
    body.append("photo", await small(input.files[0]), "photo.jpg");
    body.append("only", "code");
    body.append("_who", who.value);
    input.value = "";
    label.classList.add("busy");
    let text = "No network: type the code.", read = false;
    try {
      const answer = await fetch("/scan", { method: "POST", body, signal: AbortSignal.timeout(15_000) });
      read = answer.ok;
      text = answer.headers.get("Content-Type")?.startsWith("text/plain") ? await answer.text() : "The photo could not be read: type the code.";
    } catch { /* said so */ }
    label.classList.remove("busy");
    said.hidden = read;
    said.textContent = read ? "" : text;
    if (read) fill(field, text);
  });
}

const everywhere = () => document.querySelectorAll("input[data-scan], input[data-code]").forEach(beside);
document.addEventListener("drawn", everywhere);
everywhere();

// Who scans a can and then, with the phone's own camera, what goes with it, is led back to the pot that was begun.
const here = /^\/I\/(C[^/]+)(\/weigh)?/i.exec(location.pathname), NAME = "potmark weighing", WITHIN_MS = 10 * 60_000;
if (here?.[2]) localStorage.setItem(NAME, JSON.stringify({ code: here[1].toUpperCase(), at: Date.now() }));
const goes = document.querySelector("[data-goes-with]");
if (goes && here && !here[2]) {
  const begun = JSON.parse(localStorage.getItem(NAME) ?? "null");
  const code = document.getElementById("page").dataset.code.toUpperCase();
  if (begun && begun.code !== code && begun.at > Date.now() - WITHIN_MS) {
    const on = goes.cloneNode();
    on.href = `/I/${begun.code}/weigh?` + new URLSearchParams({ with: code });
    on.textContent = `Weigh it with ${begun.code.slice(0, -1)} ${begun.code.slice(-1)}`;
    goes.classList.remove("primary");
    goes.before(on);
  }
}

// A badge that the phone's own camera scanned opens a page of its own: it leads on to where its owner was asked who they are.
const next = document.querySelector(".tag [name=next]"), ASKED = "potmark asked";
if (next?.value) localStorage.setItem(ASKED, JSON.stringify({ next: next.value, at: Date.now() }));
else if (next && new URLSearchParams(location.search).has("badge")) {
  const asked = JSON.parse(localStorage.getItem(ASKED) ?? "null");
  if (asked && asked.at > Date.now() - WITHIN_MS) next.value = asked.next;
}
