// A file may be dropped on the form; how much has been sent is shown.
(() => {
  const form = (target) => target.closest?.(".file-drop");

  for (const name of ["dragover", "dragleave", "drop"]) {
    document.addEventListener(name, (event) => {
      const place = form(event.target);
      if (!place) return;
      event.preventDefault();
      place.classList.toggle("over", name === "dragover");
    });
  }
  document.addEventListener("drop", (event) => {
    const input = form(event.target)?.querySelector("input[type=file]");
    if (!input || !event.dataTransfer.files.length) return;
    input.files = event.dataTransfer.files;
    input.dispatchEvent(new Event("change", { bubbles: true }));
  });
  document.addEventListener("htmx:xhr:progress", (event) => {
    const bar = form(event.target)?.querySelector("progress");
    if (!bar || !event.detail.lengthComputable) return;
    bar.hidden = false;
    bar.max = event.detail.total;
    bar.value = event.detail.loaded;
  });
})();
