// Typing readings at pace: digits and Enter, and the next slot is asked for. Every reading goes
// through unsent.js, so that nothing typed waits for the network and nothing typed is lost.
import { keep, items, newKey } from "./unsent.js";
import { Asked } from "./asked.js";
import { Firing } from "./firing.js";
import { Clock, Pace } from "./pace.js";
import { Said } from "./said.js";
import { showRows } from "./slot_list.js";
import { Slots, secondsOf, written } from "./slots.js";

const TABLE_AFTER_MS = 5000;
const element = (id) => document.getElementById(id);
const plain = (text) => text.trim().replace(",", ".").replace(/^[−–]/, "-");

class Typing {
  constructor(state) {
    this.state = state;
    this.clock = new Clock(state);
    this.pace = new Pace(this.clock, state.interval_s);
    this.slots = new Slots(state);
    this.time = element("reading-time");
    this.temperature = element("reading-temperature");
    this.picked = null; // a slot gone to with the arrow keys, or a time typed
    this.said = new Said();
    this.asked = new Asked();
    this.firing = new Firing(state, this.clock, () => this.back());
    this.listen();
  }

  listen() {
    const form = element("typing");
    form.noValidate = true;
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.save();
    });
    this.temperature.addEventListener("keydown", (event) => this.onKey(event));
    this.temperature.addEventListener("input", () => this.onInput());
    this.time.addEventListener("input", () => { this.picked = { own: true }; });
    element("start-clock").addEventListener("click", () => this.start());
    document.addEventListener("keydown", (event) => this.onAnyKey(event));
    document.addEventListener("readings:newer", ({ detail }) => this.onNewer(detail));
    document.addEventListener("unsent:sent", ({ detail }) => this.onSent(detail));
    document.addEventListener("unsent:change", ({ detail }) => this.onChange(detail.items));
    document.addEventListener("unsent:refused", ({ detail }) => this.onChange(detail.items));
  }

  // --- keys --------------------------------------------------------------------------------------
  onKey(event) {
    const step = { ArrowUp: -1, ArrowDown: 1 }[event.key];
    if (step) {
      event.preventDefault();
      if (step < 0 && !this.temperature.value && this.asked.focus()) return;
      this.move(step);
    } else if (event.key === "Escape") {
      this.letGo();
    }
  }

  // Digits typed anywhere but in a field are meant for the reading.
  onAnyKey(event) {
    const isPlain = !event.ctrlKey && !event.altKey && !event.metaKey;
    if (isPlain && event.target === document.body && /^[\d.,−-]$/.test(event.key)) this.back();
  }

  onInput() {
    this.said.error("");
    if (this.temperature.value && !this.picked) {
      this.picked = { time: this.askedFor, held: true };
      this.time.value = written(this.picked.time);
    }
    if (!this.temperature.value && this.picked?.held) this.picked = null;
    this.render();
  }

  move(step) {
    if (step < 0 && this.said.noted && !this.picked) return this.pick(this.said.noted.time_s);
    const times = this.slots.rows(this.askedFor).filter((time) => time !== this.askedFor);
    const here = this.picked?.time ?? this.askedFor;
    const next = step < 0 ? times.find((time) => time < here) : times.findLast((time) => time > here);
    if (next !== undefined) this.pick(next);
    else if (step > 0) this.letGo();
  }

  pick(time) {
    const found = this.slots.at(time);
    this.picked = { time, replaces: found ?? null };
    this.time.value = written(time);
    this.temperature.value = found?.temperature ?? "";
    this.temperature.select();
    this.render();
  }

  letGo() {
    this.picked = null;
    this.temperature.value = "";
    this.said.error("");
    this.render();
  }

  back() {
    this.temperature.focus();
  }

  // --- saving --------------------------------------------------------------------------------------
  get askedFor() {
    return this.slots.asked(this.clock.elapsed);
  }

  save() {
    const text = this.temperature.value.trim();
    if (!text) return this.said.note(null);
    if (!/^[−–+-]?(\d+([.,]\d*)?|[.,]\d+)$/.test(text)) {
      return this.said.error(`“${text}” is not a number. Expected digits with one decimal mark, such as 23.169.`);
    }
    const time_s = secondsOf(this.time.value);
    const replaced = this.picked?.replaces;
    if (replaced && plain(replaced.temperature) === plain(text)) return this.letGo();
    const wasBlank = this.picked && !this.picked.held && !this.picked.own && !replaced;
    this.send(this.time.value, time_s, text, replaced);
    this.said.note(null);
    this.letGo();
    if (wasBlank) this.pickNextBlank(time_s);
    return this.back();
  }

  send(time, time_s, text, replaced) {
    const key = newKey();
    const fields = { time, temperature: text, page_key: key, known: this.slots.known };
    if (replaced?.number) fields.instead_of = replaced.number;
    else if (replaced?.key) fields.instead_of_key = replaced.key;
    if (this.clock.zero === null) this.clock.startAt(time_s);
    this.slots.unsent.push({ key, time_s, temperature: text });
    keep({
      key, fields, time_s,
      kind: "reading",
      run: this.state.run,
      page: location.pathname,
      url: this.state.save,
      headers: { Accept: "application/json" },
      words: `reading ${text} at ${time}`,
      replaces: replaced ?? null,
    });
  }

  // Somebody who fills in what was missed goes on to the next blank slot.
  pickNextBlank(time_s) {
    const rows = this.slots.rows(this.askedFor);
    const blank = rows.findLast((time) => time > time_s && !this.slots.isFilled(time));
    if (blank !== undefined && blank < this.askedFor) this.pick(blank);
  }

  async start() {
    const began = performance.now();
    const response = await fetch(this.state.start, {
      method: "POST", headers: { "X-CSRFToken": this.token, Accept: "application/json" },
    }).catch(() => null);
    if (response?.ok) this.clock.set(await response.json(), (performance.now() - began) / 1000);
    else this.said.error("The clock could not be started on the server. Type the first reading; it starts the clock.");
    this.back();
    this.render();
  }

  get token() {
    return element("typing").elements.csrfmiddlewaretoken.value;
  }

  // --- what came back --------------------------------------------------------------------------------
  onSent({ item, content, tookS }) {
    if (item.run !== this.state.run) return;
    this.clock.set(content, tookS);
    if (item.kind === "firing") return this.firing.onMarked(item);
    if (item.kind !== "reading") return;
    const replaced = item.fields.instead_of ?? item.replaces?.number;
    if (replaced) this.slots.struck(Number(replaced));
    this.slots.arrived(item.key);
    content.others.forEach((reading) => this.slots.stands(reading));
    this.slots.stands({
      number: content.number, time_s: item.time_s, temperature: item.fields.temperature,
      at: content.at, isOff: Boolean(content.note),
    });
    if (content.note) this.said.note({ time_s: item.time_s, words: content.note });
    this.tableSoon();
  }

  onChange(found) {
    const own = found.filter((item) => item.run === this.state.run);
    const readings = own.filter((item) => item.kind === "reading");
    this.slots.waiting(readings.map(({ key, time_s, fields, trouble }) =>
      ({ key, time_s, temperature: fields.temperature, trouble, isStored: true })));
    this.asked.show(own.filter((item) => item.trouble));
    if (own.some((item) => item.kind === "firing" && item.trouble)) this.firing.say("");
    this.render(true);
  }

  // Readings of a device, or typed by a colleague on another PC.
  onNewer({ times_s: times, written, last }) {
    times.forEach((time_s, place) => {
      const number = last - times.length + 1 + place;
      if (!this.slots.standing.has(number)) this.slots.stands({ number, time_s, temperature: written[place] });
    });
    if (times.length) this.render(true);
  }

  tableSoon() {
    this.waiting ??= setTimeout(() => {
      this.waiting = null;
      if (element("readings-table").contains(document.activeElement)) return this.tableSoon();
      return htmx.ajax("GET", `${location.pathname}?part=table`, { target: "#readings-table", swap: "outerHTML" });
    }, TABLE_AFTER_MS);
  }

  // --- what is shown -----------------------------------------------------------------------------------
  words() {
    const { picked } = this;
    if (picked?.replaces) {
      return `Correct the reading at ${written(picked.time)}: the old one stays, struck out`;
    }
    if (picked?.own) return "Reading at the time typed";
    return `Reading at ${written(picked?.time ?? this.askedFor)}`;
  }

  render(isChanged = false) {
    const { elapsed } = this.clock;
    const slot = this.askedFor;
    this.pace.show(slot, this.slots.isLeft(elapsed), !this.slots.all.length);
    if (!this.picked && document.activeElement !== this.time) this.time.value = written(slot);
    this.said.slot(this.words());
    if (isChanged || slot !== this.shownSlot || this.picked?.time !== this.shownPick) showRows(this.slots, slot, this.picked?.time);
    this.shownSlot = slot;
    this.shownPick = this.picked?.time;
  }
}

const data = element("typing-data");
if (data) {
  const typing = new Typing(JSON.parse(data.textContent));
  element("typing-keys").hidden = false;
  typing.onChange(await items());
  typing.back();
  setInterval(() => typing.render(), 200);
}
