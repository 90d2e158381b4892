// What was typed and has not reached the server yet: kept in this browser, by account, and sent
// in order. An item leaves only when the server has it, or when somebody says to leave it out.
const NAME = "labbook-unsent";
const STORE = "items";
const SLOWEST_MS = 8000;
const PAUSES_S = [1, 2, 4, 8, 15];

export const account = document.body.dataset.account;

// --- the store: on disk before anything is sent ------------------------------------------------
const inMemory = new Map(); // where the browser keeps nothing for this site
let opened = null;
const open = () => opened ??= new Promise((resolve, reject) => {
  const request = indexedDB.open(NAME, 1);
  request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "key" });
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});
const inStore = async (mode, deed) => {
  const database = await open();
  return new Promise((resolve, reject) => {
    const transaction = database.transaction(STORE, mode, { durability: "strict" });
    const request = deed(transaction.objectStore(STORE));
    transaction.oncomplete = () => resolve(request.result);
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
  });
};

export const items = async () => {
  const found = await inStore("readonly", (store) => store.getAll()).catch(() => []);
  return [...found, ...inMemory.values()]
    .filter((item) => item.account === account)
    .sort((a, b) => a.at - b.at || a.order - b.order);
};
const write = (item) => inStore("readwrite", (store) => store.put(item))
  .catch(() => { inMemory.set(item.key, item); });
// Some of it is held by this page alone, since the browser keeps nothing for this site.
export const isHeldHere = () => inMemory.size > 0;
const erase = (key) => {
  inMemory.delete(key);
  return inStore("readwrite", (store) => store.delete(key)).catch(() => {});
};

// --- telling the page ----------------------------------------------------------------------------
export const link = { state: "up", why: "" }; // up, down, or signed out; what the server said of it
const tell = async (name, detail = {}) =>
  document.dispatchEvent(new CustomEvent(name, { detail: { ...detail, items: await items() } }));

let order = 0;
export const newKey = () => [...crypto.getRandomValues(new Uint8Array(16))]
  .map((byte) => byte.toString(16).padStart(2, "0")).join("");

export const keep = async (item) => {
  await write({ account, at: Date.now(), order: order += 1, trouble: null, ...item });
  await tell("unsent:change");
  return send();
};
export const answer = async (item, fields, rest = {}) => {
  await write({ ...item, ...rest, fields: { ...item.fields, ...fields }, trouble: null });
  return send();
};
export const leaveOut = async (key) => {
  await erase(key);
  await tell("unsent:change");
};

// --- sending -------------------------------------------------------------------------------------
const token = JSON.parse(document.body.getAttribute("hx-headers"))["x-csrftoken"];
const post = (item) => fetch(item.url, {
  method: "POST",
  redirect: "manual",
  signal: AbortSignal.timeout(SLOWEST_MS),
  headers: { "X-CSRFToken": token, "X-Account": account, ...item.headers },
  body: new URLSearchParams({ ...item.fields, waited_s: (Date.now() - item.at) / 1000 }),
});

const isSignedOut = ({ type, status }) =>
  type === "opaqueredirect" || [401, 403, 404].includes(status);
const isBusy = ({ status }) => status >= 500 || status === 429;
const contentOf = (response) =>
  response.headers.get("Content-Type")?.startsWith("application/json")
    ? response.json() : response.text().then((html) => ({ html }));

// The server's own sentence, where it could say one: its disk is full, its record is held.
const sentenceIn = async (response) => {
  const { sentence, html = "" } = await contentOf(response).catch(() => ({}));
  const page = new DOMParser().parseFromString(html, "text/html");
  return sentence ?? page.querySelector(".note p")?.textContent ?? "";
};

let tries = 0;
let again = null;
const waitAndRetry = (state, why = "") => {
  link.state = state;
  link.why = why;
  clearTimeout(again);
  again = setTimeout(send, 1000 * PAUSES_S[Math.min(tries, PAUSES_S.length - 1)]);
  tries += 1;
};

const sendOne = async (item) => {
  const began = performance.now();
  const response = await post(item).catch(() => null);
  if (!response) return waitAndRetry("down");
  if (isBusy(response)) return waitAndRetry("down", await sentenceIn(response));
  if (isSignedOut(response)) return waitAndRetry("signed out");
  tries = 0;
  Object.assign(link, { state: "up", why: "" });
  const content = await contentOf(response).catch(() => ({}));
  if (response.ok) {
    // The page is told first, so that no reading is missing from it in between.
    await tell("unsent:sent", { item, content, tookS: (performance.now() - began) / 1000 });
    await erase(item.key);
  } else {
    await write({ ...item, trouble: { status: response.status, ...content } });
    await tell("unsent:refused", { item, content, status: response.status });
  }
  return true;
};
const sendAll = async () => {
  for (;;) {
    const next = (await items()).find((item) => !item.trouble);
    if (!next || !(await sendOne(next))) return;
  }
};
let sending = null;
let isWanted = false;
const sendWhileWanted = async () => {
  try {
    while (isWanted) {
      isWanted = false;
      await sendAll();
    }
  } finally {
    sending = null;
  }
  await tell("unsent:change");
};
export const send = () => {
  isWanted = true;
  return sending ??= sendWhileWanted();
};

if (account) {
  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", () => document.hidden || send());
  send();
}
