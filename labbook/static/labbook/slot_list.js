// The slots on the page, newest first: what was read, where it is saved, which are blank.
import { written } from "./slots.js";

const ROWS = 12;

const stateOf = (reading) => {
  if (!reading) return ["blank", ""];
  if (reading.number) {
    const stamp = reading.at ? `saved ${reading.at}` : "saved";
    return ["saved", reading.isOff ? `${stamp}; far off, look again` : stamp];
  }
  if (reading.trouble) return ["unsent", "asked about"];
  return reading.isStored ? ["unsent", "on this PC only"] : ["typed", "…"];
};
const piece = (name, text) =>
  Object.assign(document.createElement("span"), { className: name, textContent: text });
const row = (slots, time, picked) => {
  const reading = slots.at(time);
  const [name, words] = stateOf(reading);
  const element = Object.assign(document.createElement("li"), { className: name });
  if (time === picked) element.setAttribute("aria-current", "true");
  element.append(
    piece("slot-time", written(time)),
    piece("slot-reading", reading ? `${reading.temperature} °C` : "blank"),
    piece("slot-state", words),
  );
  return element;
};

export const showRows = (slots, asked, picked) => {
  const list = document.getElementById("slots");
  const times = slots.rows(asked).filter((time) => time !== asked).slice(0, ROWS);
  list.hidden = !times.length;
  list.replaceChildren(...times.map((time) => row(slots, time, picked)));
};
