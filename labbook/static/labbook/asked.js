// Readings and marks the server did not take: each with what was typed, the sentence, the ways on.
import { secondsOf } from "./slots.js";
import { answer, leaveOut } from "./unsent.js";

const made = (name, attributes = {}, ...inside) => {
  const element = Object.assign(document.createElement(name), attributes);
  element.append(...inside);
  return element;
};

export class Asked {
  constructor() {
    this.list = document.getElementById("typing-asked");
    this.shown = "";
  }

  // Go to the first thing asked; false where there is none.
  focus() {
    const first = this.list.querySelector("input, button");
    first?.focus();
    first?.select?.();
    return Boolean(first);
  }

  show(items) {
    const now = JSON.stringify(items.map(({ key, trouble }) => [key, trouble]));
    if (now === this.shown) return;
    this.shown = now;
    this.list.replaceChildren(...items.map((item) => this.row(item)));
  }

  row(item) {
    const ways = item.kind === "firing" ? this.tryAgain(item)
      : item.trouble.standing ? this.oneOfTwo(item) : this.typeAgain(item);
    const sentence = item.trouble.sentence ?? `The server answered with error ${item.trouble.status}.`;
    return made("li", { className: "conflict" },
      made("p", {}, item.kind === "reading" && !item.trouble.standing
        ? `Not saved, ${item.words}: ${sentence}` : sentence),
      ways);
  }

  button(words, onclick, className = "button") {
    const deed = async () => {
      await onclick();
      document.getElementById("reading-temperature").focus();
    };
    return made("button", { type: "button", className, onclick: deed }, words);
  }

  leave(item, words) {
    return this.button(words, () => leaveOut(item.key), "button grave");
  }

  oneOfTwo(item) {
    const { number, temperature } = item.trouble.standing;
    return made("div", { className: "actions" },
      this.button("Keep both", () => answer(item, { beside: "on" })),
      this.button(`Strike ${temperature} out; mine is right`, () => answer(item, { instead_of: number })),
      this.leave(item, "Leave mine out"));
  }

  typeAgain(item) {
    const id = `again-${item.key}`;
    const time = made("input", { id: `${id}-time`, type: "text", value: item.fields.time, autocomplete: "off" });
    const input = made("input", {
      id, type: "text", inputMode: "decimal", value: item.fields.temperature, autocomplete: "off",
    });
    const save = () => answer(item, { time: time.value, temperature: input.value },
      { time_s: secondsOf(time.value), words: `reading ${input.value} at ${time.value}` });
    input.onkeydown = (event) => {
      if (event.key === "Escape") document.getElementById("reading-temperature").focus();
    };
    const form = made("form", { className: "form" },
      made("label", { htmlFor: id }, "What was read (°C)"), input,
      made("label", { htmlFor: time.id }, "Time (s or min:s)"), time,
      made("div", { className: "actions" },
        made("button", { className: "button primary" }, "Save"), this.leave(item, "Leave it out")));
    form.onsubmit = async (event) => {
      event.preventDefault();
      document.getElementById("reading-temperature").focus();
      await save();
    };
    return form;
  }

  tryAgain(item) {
    return made("div", { className: "actions" },
      this.button("Mark it again", () => answer(item, {})), this.leave(item, "Leave it out"));
  }
}
