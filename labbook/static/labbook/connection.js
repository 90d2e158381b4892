// Says in words when what was typed has not reached the server, and keeps figures until it has.
import { account, isHeldHere, items, keep, leaveOut, link, send } from "./unsent.js";

const FIGURE = /^\/runs\/\d+\/figures\/[\w-]+\/$/;
const strip = document.getElementById("connection");
let lost = ""; // what else was not saved, and is only on this page
let isOver = false; // the sign-in this page was made for has ended

const signIn = () => {
  const anchor = document.createElement("a");
  const back = encodeURIComponent(location.pathname + location.search);
  anchor.href = `${document.body.dataset.signIn}?next=${back}`;
  anchor.textContent = "Sign in again";
  return anchor;
};
const place = (item) => {
  const anchor = document.createElement("a");
  anchor.href = item.page;
  anchor.textContent = item.words;
  return anchor;
};
const count = (waiting) => waiting.length === 1 ? waiting[0].words : `${waiting.length} entries`;
const asked = (found) => found.filter((item) => item.trouble && item.page !== location.pathname);

const sentence = (found) => {
  const waiting = found.filter((item) => !item.trouble);
  if (waiting.length && link.state === "signed out") {
    return ["Saved on this PC only: you are signed out, or signed in as someone else. ",
      `It will be sent once you are back (${count(waiting)}). `, signIn()];
  }
  if (waiting.length && isHeldHere()) {
    return [`Not saved yet, and this browser keeps nothing for this site (a private window?): leave this page open until it is sent (${count(waiting)}). `, link.why];
  }
  if (waiting.length && link.state === "down") {
    return [`Saved on this PC only; will send: ${count(waiting)}. `, link.why];
  }
  if (asked(found).length) {
    return ["Not saved yet, it needs your answer: ", ...asked(found).flatMap((item) => [place(item), " "])];
  }
  if (isOver) return ["You are signed out. What is on this page stays until you leave it. ", signIn()];
  return lost ? [lost] : [];
};
const show = async () => {
  const words = sentence(await items());
  const text = words.map((piece) => piece.textContent ?? piece).join("");
  strip.hidden = !words.length;
  if (strip.firstElementChild.textContent !== text) strip.firstElementChild.replaceChildren(...words);
};
document.addEventListener("unsent:change", show);
document.addEventListener("unsent:refused", show);
document.addEventListener("signed:out", () => {
  isOver = true;
  show();
});

// --- figures of the sheet --------------------------------------------------------------------------
const rowOf = (url) => document.getElementById(`row-${url.split("/").at(-2)}`);
const onPage = (item) => item.kind === "figure" && item.page === location.pathname && rowOf(item.url);
const mark = (item) => {
  const row = onPage(item);
  if (!row || row.querySelector(".unsent")) return;
  const words = document.createElement("p");
  words.className = "stamp unsent";
  words.textContent = "Saved on this PC only; will send.";
  row.append(words);
  const control = row.querySelector(`[name="${CSS.escape(item.field)}"]`);
  if (control && control !== document.activeElement) control.value = item.fields[item.field];
};
const isFigure = ({ path, verb }) => Boolean(account) && verb === "post" && FIGURE.test(path);

const keepFigure = ({ requestConfig }) => {
  const { path, parameters } = requestConfig;
  const fields = { ...parameters };
  const field = path.split("/").at(-2);
  const label = rowOf(path)?.querySelector("label, legend, .label");
  return keep({
    key: `figure ${account} ${path}`,
    kind: "figure",
    page: location.pathname,
    url: path,
    field,
    fields,
    headers: { "HX-Request": "true" },
    words: label?.firstChild.textContent.trim() || field,
  });
};
const failed = (words) => (event) => {
  if (isFigure(event.detail.requestConfig)) {
    link.state = "down";
    return keepFigure(event.detail);
  }
  lost = `Not saved: ${words}. What you typed is still on this page; try again once the network is back.`;
  return show();
};

document.addEventListener("htmx:beforeSend", ({ detail }) => {
  if (isFigure(detail.requestConfig)) detail.xhr.timeout = 8000;
});
document.addEventListener("htmx:sendError", failed("the server did not answer"));
document.addEventListener("htmx:timeout", failed("the server took too long"));
// What the server says of its own fault goes where messages stand; what it was about stays as it is.
const isSaid = ({ xhr, requestConfig }) =>
  xhr.status >= 500 && requestConfig.verb !== "get" && Boolean(xhr.getResponseHeader("HX-Retarget"));
document.addEventListener("htmx:beforeSwap", ({ detail }) => {
  if (isSaid(detail) && !isFigure(detail.requestConfig)) detail.shouldSwap = true;
});
document.addEventListener("htmx:responseError", (event) => {
  const { status } = event.detail.xhr;
  isOver = Boolean(event.detail.xhr.getResponseHeader("X-Signed-Out"));
  if (status === 403 && isFigure(event.detail.requestConfig)) {
    link.state = "signed out";
    return keepFigure(event.detail);
  }
  if (isSaid(event.detail) && !isFigure(event.detail.requestConfig)) return show();
  if (status >= 500) return failed(`the server answered with error ${status}`)(event);
  if (isOver) return show();
  lost = status === 403
    ? "Not saved: you are signed out, or this is not yours to change. Open the page again to see which."
    : `Not saved: the server answered with error ${status}. What you typed is still on this page; try once more, then tell your TA.`;
  return show();
});
document.addEventListener("htmx:afterRequest", ({ detail }) => {
  if (!detail.successful && ![409, 422].includes(detail.xhr.status)) return;
  lost = "";
  isOver = false;
  if (isFigure(detail.requestConfig)) leaveOut(`figure ${account} ${detail.requestConfig.path}`);
  else show();
});

// A figure that was sent later, or is asked about, takes its place in the sheet like any other.
const swapIn = ({ detail: { item, content } }) => {
  const row = onPage(item);
  if (!row) return;
  const control = document.activeElement;
  const isTypedOn = row.contains(control) && control.name === item.field
    && control.value !== item.fields[item.field];
  if (!isTypedOn) return htmx.swap(row, content.html, { swapStyle: "outerHTML" });
  const seen = `seen_${item.field}`; // what is being typed goes on from the one just sent
  const version = new DOMParser().parseFromString(content.html, "text/html").querySelector(`[name="${seen}"]`);
  if (version && row.querySelector(`[name="${seen}"]`)) row.querySelector(`[name="${seen}"]`).value = version.value;
  row.querySelector(".unsent")?.remove();
};
document.addEventListener("unsent:sent", swapIn);
document.addEventListener("unsent:refused", swapIn);
document.addEventListener("unsent:change", ({ detail }) =>
  detail.items.filter((item) => !item.trouble).forEach(mark));

// What was asked before this page was opened is asked again here.
for (const item of await items()) {
  if (item.trouble && onPage(item)) await keep({ ...item, trouble: null });
}
show();
