// The clock of the readings, by the server's clock, and the countdown to the next reading.
import { written } from "./slots.js";

const SET_BACK_S = 5;
const NOW_S = 2; // so long a due reading is announced in large
const element = (id) => document.getElementById(id);

export class Clock {
  constructor({ now, zero }) {
    this.offset = now - performance.now() / 1000;
    this.zero = zero;
  }

  // An answer of the server is half a round trip old when it arrives. A server whose clock was set
  // back is not followed: the countdown goes on as it was.
  set({ now, zero }, roundTripS = 0) {
    const offset = now + roundTripS / 2 - performance.now() / 1000;
    if (offset < this.offset - SET_BACK_S) return;
    this.offset = offset;
    this.zero = zero ?? this.zero;
  }

  // Until the server says so, the first reading was read at its time just now.
  startAt(time) {
    if (Number.isFinite(time)) this.zero = performance.now() / 1000 + this.offset - time;
  }

  get elapsed() {
    return this.zero === null ? null : performance.now() / 1000 + this.offset - this.zero;
  }
}

// --- the tick: off until somebody asks for it -----------------------------------------------------
let audio = null;
const beep = (pitch, lengthS) => {
  audio ??= new AudioContext();
  const tone = audio.createOscillator();
  const volume = audio.createGain();
  tone.frequency.value = pitch;
  volume.gain.setValueAtTime(0.2, audio.currentTime);
  volume.gain.exponentialRampToValueAtTime(0.001, audio.currentTime + lengthS);
  tone.connect(volume).connect(audio.destination);
  tone.start();
  tone.stop(audio.currentTime + lengthS);
};
const remembered = () => {
  try { return localStorage.getItem("tick") === "on"; } catch { return false; }
};
const remember = (on) => {
  try { localStorage.setItem("tick", on ? "on" : "off"); } catch { /* for this page only */ }
};

export class Pace {
  constructor(clock, interval) {
    Object.assign(this, { clock, interval, shown: null });
    this.box = element("pace-tick");
    this.box.checked = remembered();
    this.box.addEventListener("change", () => {
      remember(this.box.checked);
      if (this.box.checked) beep(880, 0.08);
    });
    element("pace").hidden = false;
    element("pace-bar").max = interval;
  }

  // `slot` is the reading asked for; `still` says that the clock is not followed.
  show(slot, still, isFirst) {
    const { elapsed } = this.clock;
    element("pace").classList.toggle("still", still);
    element("pace-still").hidden = elapsed !== null || !isFirst;
    if (still) return this.write(null, elapsed === null
      ? "The clock has not been started. The next reading starts it at its time."
      : `The clock stands at ${written(Math.floor(elapsed))}. Readings are asked for one after the other.`);
    const into = ((elapsed % this.interval) + this.interval) % this.interval;
    const left = Math.ceil(this.interval - into);
    const isDue = slot <= elapsed && elapsed < slot + Math.min(NOW_S, this.interval / 3);
    const next = slot > elapsed ? slot : slot + this.interval;
    return this.write(
      isDue ? "now" : written(Math.max(1, slot > elapsed ? Math.ceil(slot - elapsed) : left)),
      `${isDue ? "Read" : "Next reading"} at ${written(isDue ? slot : next)}${isDue ? "" : " in"}`, into);
  }

  write(digits, words, into = 0) {
    element("pace-bar").value = into;
    const text = `${digits}|${words}`;
    if (text === this.shown) return;
    this.shown = text;
    element("pace-digits").textContent = digits ?? "–";
    element("pace-words").textContent = words;
    element("pace").classList.toggle("due", digits === "now");
    if (digits === "now" && this.box.checked) beep(1320, 0.15);
    else if (this.box.checked && /^0:0[123]$/.test(digits)) beep(660, 0.05);
  }
}
