// A tap that the network did not take waits here and is sent once: its form carries an idempotency key of its own.
// Plain http is enough (IndexedDB). What it cannot do without TLS: open a page anew while the network is away.

const opened = new Promise((done, failed) => {
  const ask = indexedDB.open("potmark", 1);
  ask.onupgradeneeded = () => ask.result.createObjectStore("waiting", { keyPath: "key" });
  ask.onsuccess = () => done(ask.result);
  ask.onerror = () => failed(ask.error);
});

async function store(work) {
  const move = (await opened).transaction("waiting", "readwrite", { durability: "strict" });
  const ask = work(move.objectStore("waiting"));
  return new Promise((done, failed) => {
    move.oncomplete = () => done(ask.result);
    move.onerror = () => failed(move.error);
  });
}

const keep = (tap) => store((rows) => rows.put(tap));
const drop = (key) => store((rows) => rows.delete(key));
const all = () => store((rows) => rows.getAll());
const failed = (key) => store((rows) => {
  const ask = rows.get(key);
  ask.onsuccess = () => ask.result && rows.put({ ...ask.result, failed: true });
  return ask;
});

// What a page was sending when somebody left it is cut off by that, and tells nothing of the network.
let leaving = false;
addEventListener("beforeunload", () => {
  leaving = true;
  setTimeout(() => { leaving = false; }, 4000); // it may have been a file, and the page is still here
});

// A refusal is an answer; a server that is starting or busy is not.
const settled = (status) => status < 500 && status !== 429 && status !== 408;
const isPage = (answer) => answer.headers.get("Content-Type")?.startsWith("text/html");
const send = (tap) => {
  const body = new URLSearchParams(tap.body), waited = (Date.now() - tap.at) / 1000;
  if (waited > 2) body.set("_age_s", waited.toFixed(1));
  return fetch(tap.action, { method: "POST", body, signal: AbortSignal.timeout(8000) });
};

// The page in the place of the one that is shown, without a load of its own: what it counts and sounds goes on.
export function swap(page) {
  const next = new DOMParser().parseFromString(page, "text/html"), fresh = next.getElementById("page");
  if (!fresh) return false;
  document.title = next.title;
  document.getElementById("page").replaceWith(document.importNode(fresh, true));
  document.dispatchEvent(new Event("drawn"));
  return true;
}

function show(page, address) {
  swap(page);
  if (new URL(address).pathname !== location.pathname) history.pushState(null, "", address);
  const said = document.querySelector("#page [role=alert]");
  if (said) said.focus();
  else scrollTo(0, 0);
}

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (form.method !== "post" || !form.elements._key) return;
  event.preventDefault();
  const body = new URLSearchParams(new FormData(form, event.submitter));
  const tap = {
    key: body.get("_key"), action: form.action, body: body.toString(), at: Date.now(), page: location.pathname,
    said: inWords(form, event.submitter),
  };
  const buttons = [...form.querySelectorAll("button")];
  for (const button of buttons) button.disabled = true;
  // What is signed never waits: no secret lies on a tablet, and nobody signs later than they tapped.
  if (form.elements._secret || form.querySelector(".signing")) {
    try {
      await answered(await send(tap));
    } catch {
      for (const button of buttons) button.disabled = false;
      if (!leaving) unsigned(form);
    }
    return;
  }
  // Kept before it is sent, so that a flat battery between the two loses nothing.
  await keep(tap);
  try {
    await answered(await send(tap), () => drop(tap.key));
  } catch {
    // Not sent, cut off, or too slow: nobody knows whether it arrived, and nobody has to.
    if (leaving) return;
    await failed(tap.key);
    say();
    form.dispatchEvent(new Event("kept", { bubbles: true }));
  }
});

// What a tap was, for whoever looks at what waits: its figure or its button, on which page, whose.
function inWords(form, button) {
  const field = [...form.querySelectorAll("input:not([type=hidden]):not([type=radio]):not([type=checkbox])")].find((one) => one.value);
  const label = field?.labels?.[0]?.textContent.trim(), who = document.querySelector("#page > .top nav a:last-of-type");
  const what = field ? `${label}: ${field.value}` : (button?.getAttribute("aria-label") ?? button?.textContent ?? "").trim();
  return [what, document.getElementById("page").dataset.code, who?.textContent.trim()].filter(Boolean).join(" · ");
}

const age = (at) => {
  const minutes = Math.floor((Date.now() - at) / 60000);
  return minutes < 1 ? "just now" : minutes < 60 ? `${minutes} min ago` : `${Math.floor(minutes / 60)} h ago`;
};

async function answered(answer, done = () => {}) {
  const page = await answer.text();
  if (!settled(answer.status) || !isPage(answer)) throw new Error("no page of ours");
  await done();
  // Done leads to a page of its own, which is fetched whole so that its scripts begin anew; refused stays here.
  if (answer.redirected) location.assign(answer.url);
  else show(page, location.href);
}

function unsigned(form) {
  const said = form.querySelector(".unsigned") ?? document.createElement("p");
  said.className = "notice leave unsigned";
  said.setAttribute("role", "alert");
  said.textContent = "No network: it is not known whether this was signed. Tap again when it is back; it is done once.";
  form.append(said);
}

async function say() {
  const taps = await all(), box = document.getElementById("waiting");
  const refused = taps.filter((tap) => tap.refused), waiting = taps.length - refused.length;
  box.hidden = taps.length === 0;
  box.replaceChildren();
  if (waiting > 0) {
    const what = waiting === 1 ? "Your last entry is" : `${waiting} entries are`;
    const how = taps.some((tap) => tap.failed)
      ? `No network. ${what} kept on this tablet and sent when it is back.`
      : `${what} still being sent.`;
    box.append(`${how} Do not enter it again.`);
    const list = document.createElement("ul");
    for (const tap of taps.filter((one) => !one.refused)) {
      const line = document.createElement("li");
      line.textContent = [tap.said, age(tap.at)].filter(Boolean).join(", ");
      list.append(line);
    }
    box.append(list);
  }
  for (const tap of refused) {
    const line = document.createElement("p"), link = document.createElement("a"), done = document.createElement("button");
    link.href = tap.page;
    link.textContent = "Look at it";
    done.textContent = "I have seen it";
    done.className = "button";
    done.addEventListener("click", () => drop(tap.key).then(say));
    line.append(`An entry that waited was not recorded: ${tap.refused} `, link, done);
    box.append(line);
  }
}

let sending = false;
async function flush() {
  if (sending) return;
  sending = true;
  try {
    for (const tap of (await all()).sort((a, b) => a.at - b.at)) {
      if (tap.refused) continue;
      if (Date.now() - tap.at < 2500) continue; // its own request is still under way
      let answer;
      try {
        answer = await send(tap);
      } catch {
        if (!leaving) await failed(tap.key);
        break; // in order, or not at all
      }
      if (!settled(answer.status)) {
        await failed(tap.key);
        break;
      }
      if (answer.redirected || answer.ok) {
        await drop(tap.key);
        if (tap.page === location.pathname) location.assign(answer.url);
        continue;
      }
      // Nobody may be looking: what was refused stays here until somebody has read why.
      const said = isPage(answer) ? new DOMParser().parseFromString(await answer.text(), "text/html") : null;
      const why = said?.querySelector("[role=alert] strong, h1")?.textContent ?? `the service answered ${answer.status}.`;
      await keep({ ...tap, refused: why });
    }
  } finally {
    sending = false;
    say();
  }
}

// Whoever leaves takes what waits along, as long as it can be sent in their name.
document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!form.action.endsWith("/leave") || (await all()).length === 0) return;
  event.preventDefault();
  await flush();
  form.submit();
});

addEventListener("online", flush);
setInterval(flush, 3000);
flush();

// From the back button comes the page as it was, with keys that were used.
addEventListener("pageshow", (event) => {
  if (event.persisted) location.reload();
});
