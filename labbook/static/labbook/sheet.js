// Enter on a sheet saves the field and goes on to the next, as a hand goes down the paper one.
(() => {
  const CONTROLS = "input:not([type=hidden], [type=file], [type=submit]), select, textarea";

  document.addEventListener("keydown", (event) => {
    const control = event.target;
    const sheet = control.closest?.(".sheet");
    if (event.key !== "Enter" || event.isComposing || !sheet) return;
    if (!control.matches("input:not([type=file], [type=submit]), select")) return;
    event.preventDefault();
    const all = [...sheet.querySelectorAll(CONTROLS)].filter((other) => !other.disabled);
    const next = all[all.indexOf(control) + 1];
    if (!next) return control.blur(); // leaving the field is what saves it
    next.focus();
    next.select?.();
  });

  // What was refused is selected, so that typing again replaces it.
  document.addEventListener("htmx:load", ({ target }) => {
    target.querySelector?.("[aria-invalid][autofocus]")?.select();
  });
})();
