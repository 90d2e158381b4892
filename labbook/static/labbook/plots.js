// Draws the figures found on the page. Marks name their role; the colour of a role is the custom
// property --plot-<role>, so a change of theme is a redraw with the other colours.
(() => {
  const CONFIG = {
    displaylogo: false,
    displayModeBar: false,
    showLink: false,
    showSendToCloud: false,
    responsive: true,
    doubleClick: "reset",
    edits: { shapePosition: true }, // only marks above the data can be reached: the bounds
  };
  const PAPER_WIDTH = 680; // px: what A4 leaves between its margins
  let onPaper = false;
  const probe = document.createElement("span");
  probe.hidden = true;
  probe.style.forcedColorAdjust = "none"; // a role asked for, not what text is forced to

  const colour = (role) => {
    probe.style.color = `var(--plot-${role})`;
    return getComputedStyle(probe).color;
  };
  const face = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

  // --- colours -------------------------------------------------------------------------------
  const paintTrace = (trace) => {
    const own = colour(trace.meta?.role ?? "ink");
    trace.line = { ...trace.line, color: own };
    trace.marker = { ...trace.marker, color: own, line: { ...trace.marker?.line, color: own } };
    trace.fillcolor = own;
    if (trace.error_y) trace.error_y = { ...trace.error_y, color: own };
  };
  const paintShape = (shape) => {
    const own = colour((shape.name ?? "ink").split(":")[0]);
    if (shape.type === "rect") shape.fillcolor = own;
    shape.line = { ...shape.line, color: own };
    shape.label = { ...shape.label, font: { ...shape.label?.font, color: own } };
  };
  const paintAnnotation = (annotation) => {
    annotation.font = { ...annotation.font, color: colour(annotation.name ?? "ink") };
  };
  const paintAxis = (axis) => {
    axis.gridcolor = colour("rule");
    axis.linecolor = axis.tickcolor = colour("ink-soft");
  };
  const paint = ({ data, layout }) => {
    data.forEach(paintTrace);
    layout.shapes?.forEach(paintShape);
    layout.annotations?.forEach(paintAnnotation);
    Object.keys(layout).filter((key) => /^[xy]axis/.test(key)).forEach((key) => paintAxis(layout[key]));
    layout.paper_bgcolor = layout.plot_bgcolor = colour("paper");
    if (layout.legend) layout.legend = { ...layout.legend, bgcolor: "transparent" };
    layout.font = { ...layout.font, color: colour("ink"), family: face("--serif") };
    layout.hoverlabel = {
      bgcolor: colour("paper"),
      bordercolor: colour("ink"),
      font: { color: colour("ink"), family: face("--serif") },
    };
    return { data, layout };
  };

  // --- bounds that can be dragged ------------------------------------------------------------
  const movedBound = (plot, change) => {
    for (const key of Object.keys(change)) {
      const found = key.match(/^shapes\[(\d+)\]\.(x0|x1)$/);
      const shape = found && plot.layout.shapes[found[1]];
      if (shape?.name?.startsWith("bound:")) {
        return { index: found[1], input: shape.name.slice(6), x: change[key] };
      }
    }
    return null;
  };
  const onRelayout = (plot, change) => {
    const bound = movedBound(plot, change);
    if (!bound || plot.straightening) return;
    plot.straightening = true; // the next report is our own: the line set upright again
    const shape = `shapes[${bound.index}]`;
    Plotly.relayout(plot, {
      [`${shape}.x0`]: bound.x, [`${shape}.x1`]: bound.x, [`${shape}.y0`]: 0, [`${shape}.y1`]: 1,
    }).then(() => { plot.straightening = false; });
    const input = document.querySelector(`input[name="${CSS.escape(bound.input)}"]`);
    if (!input) return;
    input.value = Number(bound.x).toFixed(1);
    input.dispatchEvent(new Event("change", { bubbles: true }));
  };

  // --- arrow keys go along the points ---------------------------------------------------------
  const STEPS = { ArrowRight: 1, ArrowLeft: -1, PageDown: 10, PageUp: -10, Home: -Infinity, End: Infinity };

  const walkable = (plot) => plot.calcdata.flatMap((points, curve) =>
    plot.data[curve].meta?.walk ? points.map((point, number) => ({ curve, number, ...point })) : [])
    .sort((a, b) => a.x - b.x || b.y - a.y);
  const say = (plot, { curve, number, x, y }) => {
    const { xaxis, yaxis } = plot.layout;
    const words = plot.data[curve].text?.[number] ?? `${xaxis.title.text} ${x}, ${yaxis.title.text} ${y}`;
    document.getElementById(`${plot.id}-point`).textContent = words.replaceAll("<br>", "; ");
  };
  const onKey = (plot, event) => {
    const step = STEPS[event.key];
    if (!step || event.target !== plot) return;
    const points = walkable(plot);
    if (!points.length) return;
    event.preventDefault();
    plot.place = Math.min(points.length - 1, Math.max(0, (plot.place ?? -1) + step));
    const point = points[plot.place];
    Plotly.Fx.hover(plot, [{ curveNumber: point.curve, pointNumber: point.number }]);
    say(plot, point);
  };

  // --- drawing ---------------------------------------------------------------------------------
  const figure = (plot) => {
    const { data, layout } = JSON.parse(document.getElementById(plot.dataset.figure).textContent);
    const size = onPaper ? { width: Math.min(plot.clientWidth, PAPER_WIDTH) } : { autosize: true };
    return paint({ data, layout: { ...layout, ...size } });
  };
  const draw = (plot) => {
    const { data, layout } = figure(plot);
    plot.hidden = false;
    if (layout.height) plot.style.height = `${layout.height}px`;
    const fresh = !plot.on;
    return Plotly.react(plot, data, layout, CONFIG).then(() => {
      if (!fresh) return;
      plot.on("plotly_relayout", (change) => onRelayout(plot, change));
      plot.addEventListener("keydown", (event) => onKey(plot, event));
    });
  };
  const plotsIn = (part) => [
    ...(part.matches?.(".plot[data-figure]") ? [part] : []),
    ...part.querySelectorAll(".plot[data-figure]"),
  ];

  document.addEventListener("DOMContentLoaded", () => {
    document.body.append(probe);
    plotsIn(document).forEach(draw);
    document.addEventListener("htmx:load", ({ target }) =>
      plotsIn(target).filter((plot) => !plot.on).forEach(draw));
  });
  const drawAll = () => plotsIn(document).forEach(draw);
  const drawOn = (paper) => { onPaper = paper; drawAll(); };
  document.addEventListener("theme:change", drawAll);
  addEventListener("beforeprint", () => drawOn(true));
  addEventListener("afterprint", () => drawOn(false));
  document.addEventListener("htmx:beforeCleanupElement", ({ target }) => {
    if (target.matches?.(".plot[data-figure]") && target.on) Plotly.purge(target);
  });
})();
