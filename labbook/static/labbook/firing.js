// One key marks the firing, once it is confirmed; the typing goes on meanwhile.
import { keep } from "./unsent.js";
import { written } from "./slots.js";

const KEY = "F8";
const element = (id) => document.getElementById(id);

export class Firing {
  constructor(state, clock, goBack) {
    Object.assign(this, { state, clock, goBack, moment: null });
    if (!state.is_open) return;
    element("firing").hidden = false;
    element("firing-key").addEventListener("click", () => this.ask());
    element("firing-yes").addEventListener("click", () => this.mark());
    element("firing-no").addEventListener("click", () => this.letGo());
    document.addEventListener("keydown", (event) => this.onKey(event));
  }

  onKey(event) {
    if (event.key === KEY && !event.repeat) {
      event.preventDefault();
      this.ask();
    } else if (event.key === "Escape" && this.moment !== null) {
      this.letGo();
    }
  }

  ask() {
    if (this.moment !== null || element("firing").hidden) return;
    const { elapsed } = this.clock;
    if (elapsed === null) {
      this.say("The clock has not been started yet, so the moment cannot be told. Type a reading first, or mark the firing below.");
      return;
    }
    this.moment = Math.round(elapsed * 10) / 10;
    element("firing-words").textContent = `Fired at ${written(this.moment)} on the clock of the readings?`;
    element("firing-asked").hidden = false;
    element("firing-yes").focus();
  }

  close() {
    this.moment = null;
    element("firing-asked").hidden = true;
    this.goBack();
  }

  letGo() {
    this.close();
    this.say("The firing was not marked.");
  }

  mark() {
    const moment = this.moment;
    if (moment === null) return;
    this.close();
    this.say(`Marking the firing at ${written(moment)} …`);
    keep({
      key: `firing ${this.state.run}`,
      kind: "firing",
      run: this.state.run,
      page: location.pathname,
      url: this.state.fired,
      fields: { moment: String(moment) },
      headers: { Accept: "application/json" },
      words: `firing at ${written(moment)}, its limits not checked yet`,
    });
  }

  onMarked(item) {
    element("firing").hidden = true;
    this.state.is_open = false;
    this.say(`Firing marked at ${written(Number(item.fields.moment))}. Stand clear for at least 20 s.`);
    for (const [part, target] of [["next", "#around-next"], ["head", "#run-head"]]) {
      htmx.ajax("GET", `${location.pathname}?part=${part}`, { target, swap: "outerHTML" });
    }
  }

  say(words) {
    element("firing-said").textContent = words;
  }
}
