// A dark page is drawn light while it is printed: the plots carry the colours they were drawn in.
(() => {
  const root = document.documentElement;
  let before;

  const draw = (theme) => {
    if (theme) root.dataset.theme = theme;
    else delete root.dataset.theme;
    document.dispatchEvent(new CustomEvent("theme:change"));
  };
  addEventListener("beforeprint", () => {
    before = root.dataset.theme ?? "";
    draw("light");
  });
  addEventListener("afterprint", () => draw(before));
})();
