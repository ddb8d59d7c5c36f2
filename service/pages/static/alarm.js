// A cup left standing: two tones every three seconds, until somebody says that it was heard. A browser makes no sound
// before it was touched once, so a page that may not says so.

const QUIET_MS = 5 * 60 * 1000, EVERY_MS = 3000;
const heard = new Map();
let context = null;

const alarms = () =>
  [...document.querySelectorAll("[data-alarm]")].filter((one) => !(heard.get(one.dataset.alarm) > Date.now()));

function tone(pitch, from, seconds) {
  const wave = context.createOscillator(), loud = context.createGain();
  wave.frequency.value = pitch;
  loud.gain.setValueAtTime(0.25, context.currentTime + from);
  wave.connect(loud).connect(context.destination);
  wave.start(context.currentTime + from);
  wave.stop(context.currentTime + from + seconds);
}

function sound() {
  const here = alarms();
  document.body.classList.toggle("alarmed", here.length > 0);
  for (const one of document.querySelectorAll("[data-alarm]")) one.classList.toggle("heard", !here.includes(one));
  if (here.length === 0) return;
  context ??= new AudioContext();
  document.body.dataset.sound = context.state === "running" ? "on" : "off";
  if (context.state !== "running") return;
  tone(880, 0, 0.35);
  tone(660, 0.4, 0.35);
}

addEventListener("pointerdown", () => context?.resume());
addEventListener("keydown", () => context?.resume());
document.addEventListener("click", (event) => {
  const mix = event.target.dataset?.heard;
  if (!mix) return;
  heard.set(mix, Date.now() + QUIET_MS);
  sound();
});
document.addEventListener("drawn", sound);
setInterval(sound, EVERY_MS);
sound();
