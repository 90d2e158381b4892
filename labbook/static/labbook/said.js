// What the typing panel says: the slot asked for, what cannot be read, what looks mistyped.
const QUIET_S = 10; // a slot is read aloud at most this often
const element = (id) => document.getElementById(id);

export class Said {
  constructor() {
    this.field = element("reading-temperature");
    this.noted = null; // the reading the note on the page is about
    this.aloudAt = -Infinity;
  }

  slot(words) {
    const label = element("typing-slot");
    if (label.textContent === words) return;
    const now = performance.now() / 1000;
    const isAloud = now - this.aloudAt >= QUIET_S;
    label.setAttribute("aria-live", isAloud ? "polite" : "off");
    if (isAloud) this.aloudAt = now;
    label.textContent = words;
  }

  note(noted) {
    this.noted = noted;
    const shown = element("typing-note");
    shown.hidden = !noted;
    shown.textContent = noted ? `${noted.words} Enter: keep it. ↑: correct it.` : "";
  }

  error(sentence) {
    const shown = element("typing-error") ?? this.paragraph();
    shown.textContent = sentence;
    shown.hidden = !sentence;
    if (sentence) this.field.setAttribute("aria-invalid", "true");
    else this.field.removeAttribute("aria-invalid");
  }

  paragraph() {
    const made = document.createElement("p");
    Object.assign(made, { id: "typing-error", className: "error", role: "alert" });
    element("typing").append(made);
    this.field.setAttribute("aria-describedby", "typing-error");
    return made;
  }
}
