// Chooses paper or slate before the page is drawn. Without scripts the system's preference holds.
(() => {
  const root = document.documentElement;
  const dark = matchMedia("(prefers-color-scheme: dark)");

  const kept = () => {
    try {
      return localStorage.getItem("theme");
    } catch {
      return null; // storage may be forbidden on a shared computer
    }
  };
  const keep = (theme) => {
    try {
      localStorage.setItem("theme", theme);
    } catch {
      /* the choice then lasts for this page only */
    }
  };
  const current = () => root.dataset.theme || (dark.matches ? "dark" : "light");
  const announce = () => document.dispatchEvent(new CustomEvent("theme:change"));
  const label = () => {
    for (const button of document.querySelectorAll("[data-theme-switch]")) {
      button.hidden = false;
      button.textContent = current() === "dark" ? "Light page" : "Dark page";
    }
  };
  const choose = (theme) => {
    root.dataset.theme = theme;
    keep(theme);
    label();
    announce();
  };

  if (["light", "dark"].includes(kept())) root.dataset.theme = kept();
  dark.addEventListener("change", () => {
    label();
    announce();
  });
  document.addEventListener("DOMContentLoaded", label);
  document.addEventListener("click", (event) => {
    if (!event.target.closest("[data-theme-switch]")) return;
    choose(current() === "dark" ? "light" : "dark");
  });
})();
