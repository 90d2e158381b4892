// The slots readings are due in, which of them are filled, and which one is asked for.
const SAME_S = 1e-6;
const LONG_SILENCE_S = 1800; // after this the clock is no longer followed
const MOST_SLOTS = 200; // before the newest and after the last reading

// 345 is 5:45, −90 is −1:30, as on a data sheet.
export const written = (seconds) => {
  const thousandths = Math.round(Math.abs(seconds) * 1000);
  const rest = (thousandths % 60000) / 1000;
  const whole = String(Math.trunc(rest)).padStart(2, "0");
  const fraction = rest % 1 ? `.${String(Math.round((rest % 1) * 1000)).padStart(3, "0").replace(/0+$/, "")}` : "";
  return `${seconds < 0 ? "-" : ""}${Math.trunc(thousandths / 60000)}:${whole}${fraction}`;
};
// The seconds a typed time means; NaN where the server must say what is wrong with it.
export const secondsOf = (text) => {
  const found = text.trim().replace(/[−–]/, "-").replace(",", ".")
    .match(/^(-?)(?:(?:(\d+):)?(\d+):)?(\d+(?:\.\d*)?)$/);
  if (!found) return NaN;
  const seconds = Number(found[2] ?? 0) * 3600 + Number(found[3] ?? 0) * 60 + Number(found[4]);
  return found[1] ? -seconds : seconds;
};

export class Slots {
  constructor({ interval_s, readings }) {
    this.interval = interval_s;
    this.standing = new Map(); // by number
    this.unsent = []; // readings on their way
    readings.forEach((reading) => this.stands(reading));
  }

  stands(reading) {
    this.standing.set(reading.number, { ...this.standing.get(reading.number), ...reading });
  }

  struck(number) {
    this.standing.delete(number);
  }

  // What the store holds; what was typed just now may not have reached it yet.
  waiting(stored) {
    const keys = new Set(stored.map(({ key }) => key));
    this.unsent = [...stored, ...this.unsent.filter(({ key, isStored }) => !isStored && !keys.has(key))];
  }

  arrived(key) {
    this.unsent = this.unsent.filter((reading) => reading.key !== key);
  }

  get known() {
    return Math.max(0, ...this.standing.keys());
  }

  get all() {
    return [...this.unsent, ...this.standing.values()];
  }

  // The newest reading at a time, or within half an interval of it where any will do.
  at(time, within = SAME_S) {
    return this.all.findLast((reading) =>
      reading.time_s > time - within && (reading.time_s < time + within || reading.time_s === time));
  }

  isFilled(slot) {
    return Boolean(this.at(slot, this.interval / 2));
  }

  get last() {
    return this.all.reduce((latest, { time_s }) => Math.max(latest, time_s), -Infinity);
  }

  get first() {
    return this.all.reduce((earliest, { time_s }) => Math.min(earliest, time_s), Infinity);
  }

  isLeft(elapsed) {
    return elapsed === null || (this.all.length > 0 && elapsed - this.last > LONG_SILENCE_S);
  }

  // The newest slot that is due and blank, else the next; one after the other without a clock.
  asked(elapsed) {
    if (this.isLeft(elapsed)) return this.all.length ? this.last + this.interval : 0;
    let slot = Math.floor(elapsed / this.interval + SAME_S) * this.interval;
    while (this.isFilled(slot)) slot += this.interval;
    return slot;
  }

  // Times of all rows, newest first: the slots from the first reading on, and readings between.
  rows(asked) {
    if (!this.all.length) return [];
    const times = new Set(this.all.map(({ time_s }) => time_s));
    const end = Math.min(asked, this.last + MOST_SLOTS * this.interval);
    const first = Math.max(this.first, end - 2 * MOST_SLOTS * this.interval);
    const begin = Math.ceil(first / this.interval - SAME_S) * this.interval;
    for (let slot = begin; slot < end - SAME_S; slot += this.interval) {
      if (!this.isFilled(slot)) times.add(slot);
    }
    return [...times].sort((a, b) => b - a);
  }
}
