// What a hand, an eye or a screen reader would stumble over on the page as it stands.
window.measure = (() => {
  const TARGETS = "a[href], button, input:not([type=hidden]), select, textarea, summary, [role=button]";
  const words = (element) => {
    const name = element.getAttribute("aria-label") || element.textContent.trim() || element.id
      || element.name || "";
    return `${element.localName} "${name.replace(/\s+/g, " ").slice(0, 40)}"`;
  };
  const isSeen = (element) =>
    element.checkVisibility({ visibilityProperty: true }) && !element.closest(".sr-only, .plot svg");
  const seen = (selector, part = document) => [...part.querySelectorAll(selector)].filter(isSeen);

  // --- all that a page can unfold ----------------------------------------------------------
  const unfold = () => document.querySelectorAll("details").forEach((part) => { part.open = true; });

  // --- wider than the window: only a named region may be, and the keyboard must reach it ------
  const NAMED = "[tabindex='0'][role]:is([aria-label], [aria-labelledby])";
  const edge = () => document.documentElement.clientWidth;
  const sideways = () => {
    const over = document.scrollingElement.scrollWidth - edge();
    const wide = seen("body *").filter((element) => !element.closest(NAMED)
      && element.getBoundingClientRect().right > edge() + 0.5);
    return over > 0 ? [`${over} px too wide: ${wide.slice(-3).map(words).join("; ")}`] : [];
  };
  const unnamed = () => seen("body *").filter((element) => !element.matches(NAMED)
    && /auto|scroll/.test(getComputedStyle(element).overflowX)
    && element.scrollWidth > element.clientWidth + 1
    && !element.matches("input, select, textarea")).map(words);

  // --- text that its own box cuts off -----------------------------------------------------------
  const OWN_SCROLL = "select, textarea, input, option, svg, svg *, math, math *";
  const isCut = (element) => {
    const { overflowX, overflowY } = getComputedStyle(element);
    const across = /hidden|clip/.test(overflowX) && element.scrollWidth > element.clientWidth + 1;
    const down = /hidden|clip/.test(overflowY) && element.scrollHeight > element.clientHeight + 1;
    return (across || down) && element.textContent.trim();
  };
  const cut = () => seen("body *").filter((element) => !element.matches(OWN_SCROLL) && isCut(element))
    .map(words);

  // --- targets --------------------------------------------------------------------------------
  const isInSentence = (link) => {
    if (link.localName !== "a" || getComputedStyle(link).display !== "inline") return false;
    const around = link.closest("p, li, dd, td, th, legend, figcaption, caption, span, div");
    return around && around.textContent.trim().length > link.textContent.trim().length;
  };
  const whole = (element) => {
    const label = element.matches("[type=checkbox], [type=radio]") && element.closest("label");
    return (label || element).getBoundingClientRect();
  };
  const least = (element) => (element.closest(".bench-screen") ? 60 : 24);
  const small = () => seen(TARGETS).filter((element) => !element.matches(".skip") && !isInSentence(element))
    .filter((element) => {
      const { width, height } = whole(element);
      return Math.min(width, height) < least(element) - 0.5;
    })
    .map((element) => {
      const { width, height } = whole(element);
      return `${words(element)} ${width.toFixed(0)} × ${height.toFixed(0)}, least ${least(element)}`;
    });

  // --- focus that cannot be seen -----------------------------------------------------------------
  const covered = () => seen(TARGETS).filter((element) => !element.disabled).filter((element) => {
    element.focus();
    const box = element.getBoundingClientRect();
    if (document.activeElement !== element || !box.width) return false;
    const x = Math.min(Math.max(box.x + box.width / 2, 1), innerWidth - 2);
    const places = [box.top + 2, box.top + box.height / 2, box.bottom - 2];
    return places.every((y) => {
      const found = document.elementFromPoint(x, y);
      const label = element.closest("label");
      return !found || !(element.contains(found) || found.contains(element) || label?.contains(found));
    });
  }).map(words);

  // --- headings go down one step at a time ----------------------------------------------------------
  const headings = () => {
    const found = seen("h1, h2, h3, h4, h5, h6").map((element) => [+element.localName[1], words(element)]);
    const first = found.filter(([level]) => level === 1).length;
    const jumps = found.filter(([level], at) => at && level > found[at - 1][0] + 1).map(([, name]) => name);
    return [...(first === 1 ? [] : [`${first} headings of the first level`]), ...jumps];
  };

  return { unfold, sideways, unnamed, cut, small, covered, headings };
})();
