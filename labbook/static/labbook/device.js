// Lets the curve grow while readings come in, from a device or typed on another PC; and says so
// when they stop. Asks the server every two seconds, but not while the page cannot be seen.
(() => {
  const EVERY_MS = 2000;
  const WHOLE_MS = 15000; // the lines of the periods follow the readings at this pace
  let asking = false;
  let wholeAt = performance.now();
  let isStale = false; // there are readings or strikes that only a whole new curve shows
  const moments = {}; // when a reading came and the device was heard, by this page's clock

  const part = (id) => document.getElementById(id);
  const show = (id, shown) => { const found = part(id); if (found) found.hidden = !shown; };
  // The last reading drawn: the one the curve came with, or the one it has grown to since.
  const newest = () => part("thermogram")?.grownTo ?? Number(part("curve").dataset.newest);

  // --- ages ------------------------------------------------------------------------------------
  const age = (name) => (performance.now() - moments[name]) / 1000;
  const since = (name, seconds) => {
    if (Number.isFinite(seconds)) moments[name] = performance.now() - seconds * 1000;
  };
  const words = (seconds) => {
    const whole = Math.floor(seconds);
    return whole < 60 ? `${whole} s` : `${Math.floor(whole / 60)} min ${whole % 60} s`;
  };
  const opened = performance.now();
  const tellAges = () => {
    const device = part("device");
    if (!device?.dataset.gapAfter) return;
    const silent = "read" in moments ? age("read") : (performance.now() - opened) / 1000;
    device.querySelectorAll("[data-age]").forEach((element) => {
      element.textContent = words(element.dataset.age === "read" ? silent : age("heard"));
    });
    device.querySelector('[data-when="heard"]').hidden = !("heard" in moments);
    device.querySelector('[data-when="never"]').hidden = "heard" in moments;
    show("device-gap", silent > Number(device.dataset.gapAfter));
    if ("heard" in moments) {
      part("device-heard").textContent = `Last reading ${words(silent)} ago; last heard ${words(age("heard"))} ago.`;
    }
  };

  // --- the curve -------------------------------------------------------------------------------
  const isBusy = (curve) => curve.matches(":hover") || curve.contains(document.activeElement);
  const drawWhole = async () => {
    const curve = part("curve");
    if (isBusy(curve)) return;
    const response = await fetch(part("live").dataset.whole, {
      headers: { "HX-Request": "true", "X-By-Itself": "1" },
    });
    if (!response.ok || response.redirected || part("curve") !== curve) return;
    htmx.swap(curve, await response.text(), { swapStyle: "outerHTML" });
    wholeAt = performance.now();
    isStale = false;
  };
  const extend = ({ times_s: times, temperatures_c: temperatures, last }) => {
    const plot = part("thermogram");
    const place = plot?.data?.findIndex((trace) => trace.meta?.role === "readings") ?? -1;
    const drawn = plot?.calcdata?.[place];
    const isLater = drawn && times.every((time, i) => time >= (i ? times[i - 1] : drawn.at(-1).x));
    if (!isLater) {
      isStale = true;
      return false;
    }
    Plotly.restyle(plot, {
      x: [[...drawn.map(({ x }) => x), ...times]],
      y: [[...drawn.map(({ y }) => y), ...temperatures]],
    }, [place]);
    plot.grownTo = last;
    return true;
  };

  // --- asking ----------------------------------------------------------------------------------
  const take = async (answer, asked) => {
    const live = part("live");
    document.dispatchEvent(new CustomEvent("readings:newer", { detail: answer }));
    since("read", answer.reading_s ?? NaN);
    since("heard", answer.heard_s ?? NaN);
    if (answer.newest && part("device-value")) part("device-value").textContent = answer.newest;
    const changed = answer.state !== live.dataset.state || answer.struck !== Number(live.dataset.struck);
    live.dataset.state = answer.state;
    live.dataset.struck = answer.struck;
    let grew = false;
    if (answer.times_s.length && newest() === asked) grew = extend(answer);
    if (grew) live.dataset.grew = "yes";
    isStale ||= changed;
    if (isStale || (live.dataset.grew && performance.now() - wholeAt > WHOLE_MS)) {
      delete live.dataset.grew;
      await drawWhole();
    }
    if (!["open", "fired"].includes(answer.state)) {
      show("live-changed", true);
      clearInterval(timer);
    }
  };
  const ask = async () => {
    if (document.hidden || asking || !part("curve")) return;
    asking = true;
    const asked = newest();
    try {
      const address = part("live").dataset.newer.replace(/0\/$/, `${asked}/`);
      const response = await fetch(address, {
        headers: { Accept: "application/json", "X-By-Itself": "1" },
      });
      if (!response.ok || response.redirected) throw new Error(`answer ${response.status}`);
      show("device-away", false);
      await take(await response.json(), asked);
    } catch {
      show("device-away", true);
    } finally {
      asking = false;
    }
  };

  since("read", Number(part("device")?.dataset.read ?? NaN));
  since("heard", Number(part("device")?.dataset.heard ?? NaN));
  const timer = setInterval(ask, EVERY_MS);
  setInterval(tellAges, 1000);
  document.addEventListener("visibilitychange", ask);
  document.addEventListener("theme:change", () => { // drawn anew as it came
    if (part("thermogram")) delete part("thermogram").grownTo;
  });
})();
